"""The share of samples that a level does not suit, for every level from one sample.

Each sample has a lowest and a highest level that suits it. All levels share the samples, so that
differences along the curve are not noise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv, stdtrit

from preloadmc.estimates.importance import UNSTEADY, weighted_probability
from preloadmc.estimates.probability import Probability
from preloadmc.units import Array

# Quantiles of the ends at which a curve is worked out besides, so that its intervals can only grow
# outwards from a level that samples speak of.
_ANCHORS = 64
_NONE_SEEN = 3.69  # upper end of the mean count where none was seen, two-sided 95 %
LEAST_SHARE = 1e-16
"""Shares below are taken for none: they are of the size of rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class ShareCurve:
    """Shares at `levels`, shape (k,), with the ends of their intervals."""

    levels: Array
    value: Array
    low: Array
    high: Array


@dataclass(frozen=True, slots=True, eq=False)
class OutsideShares:
    """Samples in independent batches, with the levels that suit each.

    `lower`, `upper` and `weights` have shape (batches, n): a level below `lower` or above `upper`
    does not suit. Ends may be infinite. Without weights the samples are plain ones and intervals
    exact.
    """

    lower: Array
    upper: Array
    weights: Array | None
    confidence: float

    @classmethod
    def of(
        cls, lower: Array, upper: Array, weights: Array | None, *, confidence: float = 0.95
    ) -> OutsideShares:
        """From arrays of one shape; where no level suits, every level is below `lower`."""
        never = lower > upper
        return cls(
            np.where(never, np.inf, lower), np.where(never, np.inf, upper), weights, confidence
        )

    def curve(self, levels: Array) -> ShareCurve:
        """Shares at ascending levels, with intervals of sampling error.

        A weighted share is a ratio estimate; its interval comes from draws or from batches, the
        wider. Shares below and above are disjoint, and their intervals are squared and added (G.
        Y. Zou, A. Donner, Statistics in Medicine 27 (2008) 1693). Beyond the last level that
        a sample tells anything of, the share is at most what it was there.
        """
        if self.weights is None:
            suits = np.searchsorted(np.sort(self.lower, axis=None), levels, side="right")
            suits -= np.searchsorted(np.sort(self.upper, axis=None), levels, side="left")
            misses = (self.lower.size - suits).astype(float)
            return ShareCurve(levels, *_counted(misses, self.lower.size, self.confidence))
        below_value, below_low, below_high = self._falling(self.lower, levels)
        above_value, above_low, above_high = (
            part[::-1] for part in self._falling(-self.upper, -levels[::-1])
        )
        value = below_value + above_value
        low = value - np.hypot(below_value - below_low, above_value - above_low)
        high = value + np.hypot(below_high - below_value, above_high - above_value)
        # Shares near one are known from what the draws are worth as plain ones alone.
        worth = float(self.weights.sum() ** 2 / np.sum(self.weights**2))
        low = np.clip(low, 0.0, max(1.0 - _NONE_SEEN / worth, 0.0))
        value = np.minimum(value, 1.0)
        known = value >= LEAST_SHARE
        return ShareCurve(
            levels,
            np.where(known, value, 0.0),
            np.where(known, low, 0.0),
            np.where(known, np.minimum(high, 1.0), np.clip(high, LEAST_SHARE, 1.0)),
        )

    def probability(self, level: float, *, model_calls: int) -> Probability:
        """Share at one level; not reliable where the weights say so."""
        curve = self.curve(np.array([level]))
        value, low, high = (float(part[0]) for part in (curve.value, curve.low, curve.high))
        n = self.lower.size
        outside = (self.lower > level) | (self.upper < level)
        if self.weights is None:
            misses = int(np.count_nonzero(outside))
            bound = None if misses else "upper"
            return Probability(
                value, low, high, self.confidence, "plain", n, model_calls, misses, bound
            )
        weights = self.weights[outside]
        if value == 0.0:  # a bound from no miss is doubted for no weights
            return Probability(
                value, low, high, self.confidence, "importance", n, model_calls, bound="upper"
            )
        return weighted_probability(
            value,
            low,
            high,
            confidence=self.confidence,
            samples=n,
            model_calls=model_calls,
            effective=float(weights.sum() ** 2 / np.sum(weights**2)),
            largest=float(weights.max() / weights.sum()),
            unsteady=high > value * math.exp(2.0 * UNSTEADY),
        )

    def _falling(self, ends: Array, levels: Array) -> tuple[Array, Array, Array]:
        """Shares with an end above each of the levels, and their intervals, shape (k,) each."""
        assert self.weights is not None
        finite = ends[np.isfinite(ends)]
        if finite.size == 0 or (finite.size == ends.size and np.ptp(finite) == 0.0):
            certain = np.where(ends.max() > levels, 1.0, 0.0)
            return certain, certain, certain
        anchors = np.quantile(finite, np.linspace(0.0, 1.0, _ANCHORS)) if finite.size else finite
        every, place = np.unique(np.concatenate([levels, anchors]), return_inverse=True)
        batches = len(ends)
        sums, squares = np.empty((batches, len(every))), np.empty((batches, len(every)))
        for i in range(batches):
            order = np.argsort(-ends[i], kind="stable")
            first = np.searchsorted(-ends[i][order], -every, side="left")
            weights = self.weights[i][order]
            sums[i] = np.concatenate([[0.0], np.cumsum(weights)])[first]
            squares[i] = np.concatenate([[0.0], np.cumsum(weights * weights)])[first]
        whole = self.weights.sum()
        value = np.minimum(sums.sum(axis=0) / whole, 1.0)
        # Variance of the sum of w (inside - value), over draws and over the sums of batches.
        by_draw = squares.sum(axis=0) * (1.0 - 2.0 * value)
        by_draw += value * value * float(np.sum(self.weights**2))
        gaps = sums - value * self.weights.sum(axis=1)[:, None]
        by_batch = batches * gaps.var(axis=0, ddof=1)
        sd = np.sqrt(np.maximum(np.maximum(by_draw, by_batch), 0.0)) / whole
        quantile = float(stdtrit(batches - 1, 0.5 + self.confidence / 2.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            factor = np.exp(np.minimum(quantile * sd / value, 700.0))
        some = value > 0.0
        low = np.where(some, value / np.where(some, factor, 1.0), 0.0)
        high = np.where(some, np.minimum(value * np.where(some, factor, 1.0), 1.0), 1.0)
        high = np.minimum.accumulate(high)
        high = np.maximum(high, value)
        mine = place[: len(levels)]
        return value[mine], low[mine], high[mine]


def upper_quantile(ends: Array, weights: Array, share: float) -> float:
    """Level that the given share of the weighted samples lies above, between neighbours.

    The weights are divided by their number, not by their sum: in a far tail that is as exact.
    """
    order = np.argsort(-ends, axis=None, kind="stable")
    above = np.cumsum(weights.ravel()[order]) / weights.size
    place = int(np.searchsorted(above, share))
    ordered = ends.ravel()[order]
    if place == 0:
        return float(ordered[0])
    if place == ordered.size:
        return float(ordered[-1])
    part = (share - above[place - 1]) / (above[place] - above[place - 1])
    near, far = float(ordered[place - 1]), float(ordered[place])
    return near if near == far else float(near + part * (far - near))


def _counted(misses: Array, n: int, confidence: float) -> tuple[Array, Array, Array]:
    """Shares and exact intervals (Clopper-Pearson) from counts."""
    tail = (1.0 - confidence) / 2.0
    k = misses
    low = np.where(k > 0, betaincinv(np.maximum(k, 1.0), n - k + 1.0, tail), 0.0)
    high = np.where(k < n, betaincinv(k + 1.0, np.maximum(n - k, 1.0), 1.0 - tail), 1.0)
    return k / n, low, high
