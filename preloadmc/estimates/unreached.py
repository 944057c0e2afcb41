"""Misses that importance sampling hardly draws, and the design points that they lead to."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from preloadmc.estimates.curvature import Curvature
from preloadmc.estimates.design_point import DesignPoint, distinct, search_from
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.margins import Margins
from preloadmc.estimates.mixture import Mixture, around
from preloadmc.units import Array

# Weight over the probability: in the few hundred draws that the benchmarks need for a tenth, one
# such miss carries a tenth of the sum.
_HEAVY = 30.0
_SHARE = 0.01  # of the misses, below which the rest moves no estimate beyond its interval
_TOO_MANY = 0.35  # of the misses: a mixture that hardly draws a third of them comes out low
_STARTS = 16  # searches begun together: each round asks anew what is still not reached
_ROUNDS = 8
_STALLED = 2  # rounds that gain less than a tenth, before the search is given up


def unreached(mixture: Mixture, sample: FailureSample, value: float) -> Array:
    """Weights of the misses that a mixture hardly draws, zero for all others, shape (k,).

    `value` is the probability.
    """
    heavy = mixture.weights(sample.z) > _HEAVY * value
    weights: Array = np.where(heavy, sample.weights, 0.0)
    return weights


def hardly_drawn(mixture: Mixture, samples: Sequence[FailureSample], value: float) -> str:
    """Return that a mixture draws too few of the misses seen, in words; empty where it does not.

    `value` is the probability.
    """
    shares = [float(unreached(mixture, each, value).sum()) for each in samples if len(each.z)]
    worst = max(shares, default=0.0)
    if worst < _TOO_MANY:
        return ""
    return f"{100.0 * worst:.0f} % of the misses of another estimator are hardly drawn"


def points_from_misses(
    margins: Margins,
    points: Sequence[DesignPoint],
    bends: Sequence[Curvature | None],
    sample: FailureSample,
    *,
    value: float,
    rng: np.random.Generator,
) -> list[DesignPoint]:
    """Further design points, sought from misses that the known ones do not explain.

    Parameters
    ----------
    margins : callable
        From z, shape (n, d), to margins, shape (n, m).
    points, bends : sequences
        What the mixture is around: known design points with their curvatures.
    sample : FailureSample
        Misses of another estimator.
    value : float
        The probability, as well as it is known.
    rng : numpy.random.Generator
        Picks the misses to start from.

    Returns
    -------
    list of DesignPoint
        Those not yet known; a miss from which no search leads to one stands in for itself. Empty
        where nearly all misses are reached.
    """
    known, more, stalled, before = list(points), list[DesignPoint](), 0, math.inf
    for _ in range(_ROUNDS if len(sample.z) else 0):
        mixture = around([*known, *more], [*bends, *[None] * len(more)])
        lost = unreached(mixture, sample, value)
        share = float(lost.sum())
        stalled += share > 0.9 * before
        if share < _SHARE or stalled == _STALLED:
            break
        before = share
        size = min(_STARTS, int(np.count_nonzero(lost)))
        starts = sample.z[rng.choice(len(lost), size, replace=False, p=lost / share)]
        reached = [*more, *search_from(margins, starts, rng=rng)]
        found = [point for point in distinct([*known, *reached]) if point not in known]
        if len(found) == len(more):
            found += [DesignPoint.standing_in(row) for row in starts[:3]]
        more = found
    return more
