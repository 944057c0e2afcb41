"""Fatigue by preload as text: how likely a loose fastener tires, and how likely a tight one."""

from __future__ import annotations

import math
from collections.abc import Iterator

from preloadmc.estimates.probability import Probability
from preloadmc.judgement.wording import probability_words
from preloadmc.questions.run import FatigueByPreload
from preloadmc.report.text.blocks import Paragraph, Section, Table
from preloadmc.units import format_number

HEADING = "Fatigue by preload"
_MOST_TIMES = 1000
_EXPLAINED = (
    "Too little preload lets the parts open under the load, and an open joint leaves the whole "
    "load range to the fastener. Fasteners with too little are those that miss the least preload "
    "in any state; those that broke during tightening are left out."
)


def fatigue_sections(found: FatigueByPreload | None) -> Iterator[Section]:
    """Yield the probability of fatigue by preload; nothing where fatigue is not judged."""
    if found is None:
        return
    table = Table(
        ("preload", "share of fasteners", "probability of fatigue (95 %)"),
        (
            ("too little", _words(found.share), _words(found.loose)),
            ("enough", "all others", _words(found.tight)),
        ),
    )
    yield Section(HEADING, (table, Paragraph(f"{ratio_words(found)} {_EXPLAINED}")))


def ratio_words(found: FatigueByPreload) -> str:
    """Return how many times as likely fatigue is with too little preload, as a sentence."""
    ratio = found.ratio
    if all(each is not None and each.value == 0.0 for each in (found.loose, found.tight)):
        return "No fatigue was found with either."
    if ratio is None:
        return "Whether preload makes a difference to fatigue is not resolved."
    low, high = ratio
    if high < 1.0:
        # From the largest share of the one to the smallest of the other.
        most = math.inf if low == 0.0 else 1.0 / low
        return (
            f"Fatigue is {_times(1.0 / high, most)} as likely with enough preload as with too "
            "little: here the mean stress decides."
        )
    return f"Fatigue is {_times(low, high)} as likely with too little preload as with enough."


def fatigue_line(found: FatigueByPreload) -> str:
    """Return the probabilities of fatigue by preload in one line."""
    return (
        f"Fatigue with too little preload: {_words(found.loose)}; with enough: "
        f"{_words(found.tight)}."
    )


def _times(low: float, high: float) -> str:
    """Return a ratio in words: beyond a thousand its figures mean nothing."""
    if low > _MOST_TIMES:
        return f"more than {_MOST_TIMES:,} times"
    if high > _MOST_TIMES:
        return f"at least {format_number(low, 2)} times"
    return f"{format_number(low, 2)} to {format_number(high, 2)} times"


def _words(probability: Probability | None) -> str:
    """Return a probability, with its doubt; what nothing tells is not resolved."""
    if probability is None:
        return "not resolved"
    return probability_words(probability) + ("" if probability.reliable else " ?")
