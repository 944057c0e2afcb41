"""The check at the tool as text: rejects, what slips through, and what is accepted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from preloadmc.estimates.probability import Probability
from preloadmc.joint import MONITORED, Acceptance
from preloadmc.judgement.acceptance import Screening
from preloadmc.judgement.verdicts import LABELS
from preloadmc.judgement.wording import probability_words
from preloadmc.report.text.blocks import Block, Paragraph, Section, Table
from preloadmc.report.text.preloads import preload_table
from preloadmc.units import TORQUE, format_quantity

HEADING = "The check at the tool"
_EXPLAINED = (
    "What is rejected is tightened again, with a new draw of all that scatters, until it passes. "
    "Plain samples with exact binomial intervals. Every verdict of this report holds for fasteners "
    "as tightened, before the check."
)
_ELASTIC = (
    "The angle of a fastener past yield is taken as elastic, so that the check finds more of them "
    "than is counted here."
)


def window_words(acceptance: Acceptance, system: str = "metric") -> str:
    """Return what is accepted: "angle from 20 deg to 45 deg, counted from 10 N·m"."""
    dimension = MONITORED[acceptance.monitored]
    low, high = (
        format_quantity(value, dimension, system) for value in (acceptance.low, acceptance.high)
    )
    words = f"{acceptance.monitored} from {low} to {high}"
    if acceptance.threshold > 0.0:
        words += f", counted from {format_quantity(acceptance.threshold, TORQUE, system)}"
    return words


def acceptance_sections(found: Screening | None, system: str = "metric") -> Iterator[Section]:
    """Yield what the check at the tool makes of a case; nothing where there is none."""
    if found is None:
        return
    rows = [
        ("rejected, of all tightenings", _words(found.rejected)),
        ("good ones rejected, of those inside the window", _words(found.good_rejected)),
        ("bad ones passed, of those outside the window", _words(found.bad_passed)),
        *(
            (f"{LABELS[name]}, of those accepted", _words(probability))
            for name, probability in found.misses.items()
        ),
    ]
    table = Table(("check at the tool", "share (95 % interval)"), tuple(rows))
    words = f"Accepted: {window_words(found.acceptance, system)}. "
    if not found.misses:
        words += "No sample is accepted. "
    elif found.rejected.value > 0.0:
        words += f"{found.tightenings:.3g} tightenings for each fastener accepted, on the average. "
    words += _EXPLAINED
    if found.acceptance.monitored == "angle":
        words += f" {_ELASTIC}"
    blocks: list[Block] = [table, Paragraph(words)]
    if found.preload:
        stages = [
            (name, stage.mean, stage.sd, stage.quantiles) for name, stage in found.preload.items()
        ]
        blocks.insert(1, preload_table("preload of those accepted", stages, system))
    yield Section(HEADING, tuple(blocks))


def compared_section(found: Mapping[str, Screening | None]) -> Iterator[Section]:
    """Yield the check of each alternative by its name; nothing where none has one."""
    if all(each is None for each in found.values()):
        return
    rows = tuple(
        (name, "none", "-", "-")
        if each is None
        else (
            name,
            _words(each.rejected),
            _words(each.bad_passed),
            _words(each.misses.get("outside_window")),
        )
        for name, each in found.items()
    )
    header = ("alternative", "rejected", "bad ones passed", "outside, of those accepted")
    yield Section(HEADING, (Table(header, rows), Paragraph(_EXPLAINED)))


def acceptance_words(found: Screening, system: str = "metric") -> str:
    """Return the check and what it makes of a case, as a sentence."""
    words = (
        f"At the tool, {window_words(found.acceptance, system)} is accepted; rejected: "
        f"{_words(found.rejected)} of tightenings"
    )
    if found.misses:
        words += f"; outside the window: {_words(found.misses['outside_window'])} of those accepted"
    return f"{words}. The verdicts hold for fasteners as tightened, before this check."


def _words(probability: Probability | None) -> str:
    return "-" if probability is None else probability_words(probability)
