"""What the check at the tool makes of a case: rejects, what slips through, what is accepted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.engine import OUTCOMES, OUTSIDE
from preloadmc.estimates.moments import Quantile, quantile_with_interval
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.joint import Acceptance
from preloadmc.judgement.wording import estimate_words, probability_words
from preloadmc.samples import Samples

# What is shown of the preload of accepted fasteners.
QUANTILES = (0.01, 0.5, 0.99)
# Rejects that an answer speaks of, and such as make a check useless: one in a hundred is usual in
# practice, one in ten stops a line (engineering judgement).
WORTH_SAYING, TOO_MANY = 0.01, 0.1


@dataclass(frozen=True, slots=True)
class Stage:
    """Preload at a stage of life [N]: mean, standard deviation, and `QUANTILES`."""

    mean: float
    sd: float
    quantiles: tuple[Quantile, ...]


@dataclass(frozen=True, slots=True)
class Screening:
    """The check at the tool, by plain samples with exact binomial intervals.

    ``rejected`` is the share of tightenings that are rejected; ``good_rejected`` that share of
    those inside the preload window, ``bad_passed`` the share accepted of those outside, None where
    there are none. ``misses`` are the outcomes of what is accepted, by name, and ``preload`` its
    assembled and residual preload; empty where nothing is accepted.
    """

    acceptance: Acceptance
    rejected: Probability
    good_rejected: Probability | None
    bad_passed: Probability | None
    misses: dict[str, Probability]
    preload: dict[str, Stage]

    @property
    def tightenings(self) -> float:
        """Return how many tightenings an accepted fastener takes on the average.

        A rejected fastener is tightened anew, with a new draw of all that scatters.
        """
        passed = 1.0 - self.rejected.value
        return 1.0 / passed if passed > 0.0 else float("inf")


def rejects_words(found: Screening | None) -> str:
    """Return how much the check at the tool rejects, to be added to a sentence; maybe nothing."""
    if found is None or found.rejected.value < WORTH_SAYING:
        return ""
    return f"; the check at the tool rejects {estimate_words(found.rejected)} of tightenings"


def screening_warnings(found: Screening | None, of: str = "") -> tuple[str, ...]:
    """Return a warning where the check rejects much of what is good; maybe none."""
    if found is None or found.rejected.low < TOO_MANY:
        return ()
    return (
        f"The check at the tool{of} rejects {probability_words(found.rejected)} of tightenings: "
        "its window does not suit the joint, or the joint not the window.",
    )


def screening(acceptance: Acceptance | None, drawn: Samples) -> Screening | None:
    """Return what the check makes of plain samples; None where the tool checks nothing."""
    accepted = drawn.accepted
    if acceptance is None or accepted is None:
        return None
    bad, bad_passed = drawn.misses[OUTSIDE], accepted.misses[OUTSIDE]
    good = drawn.n - bad
    return Screening(
        acceptance,
        from_counts(drawn.n - accepted.n, drawn.n),
        from_counts(good - (accepted.n - bad_passed), good) if good else None,
        from_counts(bad_passed, bad) if bad else None,
        {name: from_counts(accepted.misses[name], accepted.n) for name in OUTCOMES}
        if accepted.n
        else {},
        _preload(drawn),
    )


def _preload(drawn: Samples) -> dict[str, Stage]:
    passes = drawn.kept.accepted
    if passes is None or not passes.any():
        return {}
    found = {}
    for name in ("assembled", "residual"):
        held = np.sort(drawn.kept.path[name][passes])
        quantiles = tuple(quantile_with_interval(held, p) for p in QUANTILES)
        found[name] = Stage(float(held.mean()), float(held.std()), quantiles)
    return found
