"""The likeliest way to miss an outcome, in a sentence."""

from __future__ import annotations

from preloadmc.inputs import input_label
from preloadmc.judgement.estimate import LikeliestMiss
from preloadmc.judgement.verdicts import LABELS
from preloadmc.report.text.laws import value_words

WORTH_NAMING = 0.2
"""An input that a miss moves by less, in its s.d., is not named: a reader would not notice."""


def likeliest_words(miss: LikeliestMiss, system: str, where: str = "") -> str:
    """Return the likeliest miss in physical terms; ``where`` tells at which setting, if not now."""
    inputs = ", ".join(
        f"{input_label(item.name)} {value_words(item.name, item.value, system)} "
        f"({item.z:+.1f} s.d.)"
        for item in miss.inputs
        if abs(item.z) >= WORTH_NAMING
    )
    to_miss = f"{LABELS[miss.outcome]} {where}".strip()
    return (
        f"The likeliest way to {to_miss} ({miss.limit}, {miss.state}; beta {miss.beta:.2f}): "
        f"{inputs}."
    )
