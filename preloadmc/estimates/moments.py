"""Moments that can be merged over chunks, and quantiles with their interval."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtr

from preloadmc.errors import NotFiniteError
from preloadmc.units import Array


@dataclass(frozen=True, slots=True)
class RunningMoments:
    """Count, mean, sum of squared deviations and extremes of one quantity.

    Chunks are merged pairwise (T. F. Chan, G. H. Golub, R. J. LeVeque, The American
    Statistician 37 (1983) 242, eq. 2.1), which loses no digits. Merging in chunk order
    makes the result independent of the number of threads.
    """

    n: int
    mean: float
    m2: float
    minimum: float
    maximum: float

    @classmethod
    def of(cls, values: Array) -> RunningMoments:
        """Moments of one non-empty chunk; a value that is not finite raises."""
        if values.size == 0:
            raise ValueError("moments need at least one value")
        mean = float(values.mean())
        if not math.isfinite(mean):
            raise NotFiniteError("a quantity came out NaN or infinite")
        # No dot product: the order of its sums may hang on the threads of the linear algebra.
        deviation = values - mean
        np.square(deviation, out=deviation)
        return cls(
            values.size,
            mean,
            float(deviation.sum()),
            float(values.min()),
            float(values.max()),
        )

    def merge(self, other: RunningMoments) -> RunningMoments:
        """Moments of both sets together."""
        n = self.n + other.n
        gap = other.mean - self.mean
        return RunningMoments(
            n,
            self.mean + gap * (other.n / n),
            self.m2 + other.m2 + gap * gap * (self.n * other.n / n),
            min(self.minimum, other.minimum),
            max(self.maximum, other.maximum),
        )

    @property
    def variance(self) -> float:
        """Sample variance, divisor n - 1; zero for a single value."""
        return self.m2 / (self.n - 1) if self.n > 1 else 0.0

    @property
    def sd(self) -> float:
        """Sample standard deviation, divisor n - 1."""
        return math.sqrt(self.variance)


@dataclass(frozen=True, slots=True)
class Quantile:
    """A quantile with its distribution-free interval; an infinite end says "no bound"."""

    p: float
    value: float
    low: float
    high: float
    confidence: float


def quantile_with_interval(ordered: Array, p: float, confidence: float = 0.95) -> Quantile:
    """Quantile of an ascending sample, and its interval from two order statistics.

    The ranks are those of the binomial law with n and p: at most (1-confidence)/2 lies
    outside at each end (H. A. David, H. N. Nagaraja, Order Statistics, 3rd ed., 2003,
    section 7.1). Where the sample is too small for an end, that end is infinite. The value
    itself is interpolated linearly between ranks.

    >>> q = quantile_with_interval(np.arange(1.0, 101.0), 0.5)
    >>> q.value, q.low, q.high
    (50.5, 40.0, 61.0)
    """
    if not 0.0 < p < 1.0:
        raise ValueError(f"a quantile needs 0 < p < 1, given {p}")
    n = ordered.size
    if n == 0:
        raise ValueError("a quantile needs at least one value")
    tail = (1.0 - confidence) / 2.0
    below = _largest_count(n, p, tail)
    above = n - 1 - _largest_count(n, 1.0 - p, tail)
    return Quantile(
        p,
        float(np.quantile(ordered, p)),
        float(ordered[below]) if below >= 0 else -math.inf,
        float(ordered[above]) if above < n else math.inf,
        confidence,
    )


def _largest_count(n: int, p: float, tail: float) -> int:
    """Largest k with P(binomial(n, p) <= k) <= tail; -1 where there is none."""
    no, beyond = -1, n
    while beyond - no > 1:
        middle = (no + beyond) // 2
        if bdtr(middle, n, p) <= tail:
            no = middle
        else:
            beyond = middle
    return no
