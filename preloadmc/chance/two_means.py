"""Two means compared: their difference with its interval, and the tests that would separate them.

Variances of the two need not be equal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import nctdtr, stdtrit

from preloadmc.chance.law import require
from preloadmc.units import Array

POWER = 0.8
"""How often the tests planned shall separate two means; common practice, no published source."""

_MOST_TESTS = 10**6


@dataclass(frozen=True, slots=True)
class MeanDifference:
    """Difference of the mean of a second series from that of a first, in the unit of the values.

    ``tests_to_separate`` of each would separate them in `POWER` of all series, were mean and s.d.
    to stay; None where no number does that anybody makes.
    """

    value: float
    low: float
    high: float
    confidence: float
    degrees: float
    tests_to_separate: int | None

    @property
    def is_resolved(self) -> bool:
        """Return whether the interval leaves out zero."""
        return self.low > 0.0 or self.high < 0.0


def mean_difference(first: Array, second: Array, confidence: float) -> MeanDifference:
    """Return mean of the second less mean of the first, with the interval by Welch.

    ``difference ± t √(s₁²/n₁ + s₂²/n₂)``, t of Student's law with Satterthwaite's degrees.

    Parameters
    ----------
    first, second : ndarray (n₁,), (n₂,)
        Values of independent tests, two or more of each.
    confidence : float
        Of the interval, both sides together.

    Notes
    -----
    B. L. Welch, Biometrika 34 (1947) 28; F. E. Satterthwaite, Biometrics 2 (1946) 110 (from
    memory).

    >>> found = mean_difference(np.array([1.0, 2.0, 3.0]), np.array([5.0, 6.0, 7.0]), 0.95)
    >>> found.value, round(found.low, 3), round(found.high, 3), round(found.degrees, 3)
    (4.0, 1.733, 6.267, 4.0)
    """
    require(len(first) >= 2, "tests of the first", len(first), "2 or more")
    require(len(second) >= 2, "tests of the second", len(second), "2 or more")
    require(0.5 <= confidence < 1.0, "confidence", confidence, "from 0.5 to below 1")
    difference = float(np.mean(second) - np.mean(first))
    sds = float(np.std(first, ddof=1)), float(np.std(second, ddof=1))
    error, degrees = _error(sds, (len(first), len(second)))
    half = float(stdtrit(degrees, 0.5 + 0.5 * confidence)) * error if error > 0.0 else 0.0
    return MeanDifference(
        difference,
        difference - half,
        difference + half,
        confidence,
        degrees,
        separating_tests(difference, sds, confidence),
    )


def separating_tests(
    difference: float, sds: tuple[float, float], confidence: float, power: float = POWER
) -> int | None:
    """Return how many tests of each separate two means in a share of all series.

    Smallest n with ``P(|T| > t) >= power``, T of the non-central law of Student with Welch's
    degrees and the non-centrality ``|difference| / √((s₁² + s₂²)/n)``.

    Parameters
    ----------
    difference : float
        Of the means.
    sds : tuple of float
        Standard deviations of both, in the same unit.
    confidence, power : float
        Of the interval that shall leave out zero; share of series in which it does.

    Returns
    -------
    int or None
        At least 2; None for no difference, or beyond a million.

    Half an s.d. apart, 64 of each at 95 % and 80 %, the figure of J. Cohen, Statistical Power
    Analysis, 2nd ed., 1988 (from memory):

    >>> separating_tests(0.5, (1.0, 1.0), 0.95)
    64
    """
    if difference == 0.0:
        return None

    def separates(n: int) -> bool:
        error, degrees = _error(sds, (n, n))
        if error == 0.0:
            return True
        t = float(stdtrit(degrees, 0.5 + 0.5 * confidence))
        apart = abs(difference) / error
        # Far out, beyond what the non-central law is computed for, every series separates.
        return apart > 30.0 + t or 1.0 - float(nctdtr(degrees, apart, t)) >= power

    low, high = 1, 2
    while not separates(high):
        low, high = high, 2 * high
        if high > _MOST_TESTS:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if separates(middle) else (middle, high)
    return high


def _error(sds: tuple[float, float], sizes: tuple[int, int]) -> tuple[float, float]:
    """Return the standard error of a difference and its degrees of freedom."""
    a, b = (sd * sd / n for sd, n in zip(sds, sizes, strict=True))
    if a + b == 0.0:
        return 0.0, float(sum(sizes) - 2)
    degrees = (a + b) ** 2 / (a * a / (sizes[0] - 1) + b * b / (sizes[1] - 1))
    return math.sqrt(a + b), degrees
