"""The three outcomes of a case, each judged against what is allowed."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.estimates.probability import Probability

LABELS = {
    "under_preload": "under-preload",
    "over_preload": "over-preload",
    "outside_window": "outside the window",
}


@dataclass(frozen=True, slots=True)
class Outcome:
    """One of the three outcomes: how likely, what is allowed, and whether that is met.

    ``verdict`` is "meets" (upper limit within what is allowed), "misses" (lower limit above it),
    "not resolved" or "no target".
    """

    name: str
    probability: Probability
    allowed: float | None

    @property
    def label(self) -> str:
        """Return the words of the trade for the outcome."""
        return LABELS[self.name]

    @property
    def verdict(self) -> str:
        """Return whether what is allowed is met."""
        if self.allowed is None:
            return "no target"
        if self.probability.high <= self.allowed:
            return "meets"
        return "misses" if self.probability.low > self.allowed else "not resolved"

    @property
    def verdict_words(self) -> str:
        """Return the verdict with what is allowed: "meets 0.001"."""
        return self.verdict if self.allowed is None else f"{self.verdict} {self.allowed:g}"


def allowed(case: Case, name: str) -> float | None:
    """Return the probability that the case allows for an outcome; None where none is stated.

    Parameters
    ----------
    case : Case
        The case.
    name : str
        One of `engine.OUTCOMES`.

    Returns
    -------
    float or None
        Allowed share of joints.
    """
    return {
        "under_preload": case.requirement.allowed_under,
        "over_preload": case.requirement.allowed_over,
        "outside_window": None,
    }[name]
