"""A group of fasteners by drawing all of them: the check of an estimate that draws none.

Where a fastener drawn near its design points misses, the others of its joint are drawn plainly. A
joint in which S fasteners miss is found by each of them, so each counts for 1/S.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit

from preloadmc.estimates.importance import BATCHES, UNSTEADY, weighted_probability
from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.estimates.mixture import Mixture, NormalAround, around
from preloadmc.estimates.probability import Probability, multiplied_interval
from preloadmc.estimates.shared_draws import SharedMixture, Way
from preloadmc.units import Array

_CALLS = 2**17  # about as many as the estimate that is checked takes
_FEWEST, _MOST = 2**11, 2**14  # draws of a kind
LARGER = 4
"""Times the draws of a check that does not confirm: a doubt deserves a better one."""
_AT_EVENT = 0.5  # share of draws about the place of the event; the others find single misses
_NUMBERS = 2**20  # in one block
_SIGMAS = 3.3  # estimates farther apart than this disagree: sound ones in one case of a thousand


def joint_estimate(
    kinds: Sequence[tuple[int, Margins]],
    ways: Sequence[Way],
    shared: SharedMixture,
    d: int,
    k: int,
    *,
    confidence: float,
    rng: np.random.Generator,
    larger: int = 1,
) -> Probability:
    """Probability that at least k of a group miss, by drawing all fasteners.

    Parameters
    ----------
    kinds : sequence of (int, callable)
        Count of each kind, and its margins from z (m, s + d), shared numbers first.
    ways : sequence of Way
        Design points of a fastener of each kind; a kind without any is taken never to miss.
    shared : SharedMixture
        Where the event comes about.
    d : int
        Columns of a fastener's own.
    k : int
        At least one.
    confidence : float
        Of the interval.
    rng : numpy.random.Generator
        For the draws.
    larger : int
        Times the usual draws.
    """
    s, n = ways[0].shared, sum(count for count, _ in kinds)
    counted = [CountedMargins(margins) for _, margins in kinds]
    each = min(max(_CALLS // (n * len(kinds)), _FEWEST), _MOST) * larger // BATCHES
    means = np.zeros(BATCHES)
    found: list[Array] = []
    for i, (count, _) in enumerate(kinds):
        mine = [way for way in ways if way.kind == i]
        if not mine:
            continue
        mixture = _mixture(mine, shared, s + d)
        for batch in range(BATCHES):
            z = mixture.sample(each, rng)
            missed = z[counted[i].worst(z) < 0.0]
            others = [other - (j == i) for j, (other, _) in enumerate(kinds)]
            total = 1 + _others(counted, others, missed[:, :s], d, rng)
            parts = np.where(total >= k, count * mixture.weights(missed) / total, 0.0)
            means[batch] += parts.sum() / each
            found.append(parts[parts > 0.0] / (each * BATCHES))
    weights = np.concatenate(found)
    value = min(float(means.mean()), 1.0)
    calls = sum(margins.calls for margins in counted)
    if value == 0.0:
        cov, effective, largest = math.inf, 0.0, 1.0
    else:
        cov = float(means.std(ddof=1)) / math.sqrt(BATCHES) / value
        effective = float(weights.sum() ** 2 / np.sum(weights**2))
        largest = float(weights.max() / weights.sum())
    low, high = multiplied_interval(value, cov, BATCHES - 1, confidence)
    return weighted_probability(
        value,
        low,
        high,
        confidence=confidence,
        samples=each * BATCHES * len(kinds),
        model_calls=calls,
        effective=effective,
        largest=largest,
        unsteady=cov > UNSTEADY,
    )


def disagreement(estimate: Probability, check: Probability) -> str:
    """What the check says against an estimate, in words; empty where nothing.

    A check in doubt cannot contradict an estimate by seeing less, only leave it unconfirmed by
    seeing more, or nothing.
    """
    if not check.reliable:
        if check.value > 0.0 and check.low <= estimate.high:
            return ""
        return f"not confirmed by importance sampling of single fasteners: {check.note}"
    words = f"importance sampling of single fasteners disagrees: {check.value:.3g}"
    if estimate.value == 0.0:
        return words
    apart = abs(math.log(estimate.value / check.value))
    return words if apart > _SIGMAS * math.hypot(_cov(estimate, 7), _cov(check, 15)) else ""


def _cov(p: Probability, freedom: int) -> float:
    """Standard error of the logarithm that an interval was made of."""
    return math.log(p.value / p.low) / float(stdtrit(freedom, 0.5 + p.confidence / 2.0))


def _mixture(ways: Sequence[Way], shared: SharedMixture, d: int) -> Mixture:
    """Around the design points of a fastener, and where several miss."""
    points = [way.point for way in ways]
    base = around(points, [None] * len(points))
    centres = shared.centres[:, None] * shared.axes
    components, shares = list(base.components), list((1.0 - _AT_EVENT) * base.shares)
    rest = _AT_EVENT * float(base.shares.sum())
    for centre, share in zip(centres, shared.shares / shared.shares.sum(), strict=True):
        own = [way.own_point(centre[None])[0] for way in ways]
        nearest = min(own, key=lambda v: float(v @ v))
        # Where a miss is likelier than not, own numbers stay about their median.
        away = max(way.point.beta - float(way.steepness @ centre) for way in ways) > 0.0
        place = np.concatenate([centre, nearest if away else np.zeros_like(nearest)])
        components.append(NormalAround(place, np.empty((0, d)), np.empty(0)))
        shares.append(rest * float(share))
    return Mixture(d, tuple(components), np.array(shares))


def _others(
    counted: Sequence[CountedMargins],
    counts: Sequence[int],
    u: Array,
    d: int,
    rng: np.random.Generator,
) -> Array:
    """How many of the other fasteners of joints of shared numbers (m, s) miss, shape (m,)."""
    total = np.zeros(len(u))
    for margins, count in zip(counted, counts, strict=True):
        block = max(_NUMBERS // max(count * (u.shape[1] + d), 1), 1)
        for first in range(0, len(u) if count else 0, block):
            here = np.repeat(u[first : first + block], count, axis=0)
            z = np.concatenate([here, rng.standard_normal((len(here), d))], axis=1)
            missed = margins.worst(z) < 0.0
            total[first : first + block] += missed.reshape(-1, count).sum(axis=1)
    return total
