"""Limits that hold a share of all values, known from n tests, and how many tests a claim takes.

"Content" is the share of all values that a limit must leave on its good side, "confidence" the
share of test series in which the limit found does so.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy

from preloadmc.chance.law import require
from preloadmc.units import Array

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(80)
_REACH = 8.5
"""Beyond this many s.d. of the mean lies less than 2e-17."""

_MOST_TESTS = 10**6
"""Nobody makes more tests to show a claim by a law."""


@dataclass(frozen=True, slots=True)
class ToleranceLimits:
    """Limits that hold the share `content` of all values, in the unit of the values.

    `lower` and `upper` hold it each on its own, `two_sided` as a pair.
    """

    n: int
    content: float
    confidence: float
    lower: float
    upper: float
    two_sided: tuple[float, float]


@dataclass(frozen=True, slots=True)
class DistributionFreeLimits:
    """Tolerance limits that are values of the sample; None where the sample is too small.

    `tests_one_sided` and `tests_two_sided` are the fewest tests that give such limits.
    """

    n: int
    content: float
    confidence: float
    lower: float | None
    upper: float | None
    two_sided: tuple[float, float] | None
    tests_one_sided: int
    tests_two_sided: int


def one_sided_factor(n: int, content: float, confidence: float) -> float:
    """Return k so that mean - k s is a lower limit (mean + k s an upper one).

    For `n` values of a normal law with mean and s.d. (divisor n - 1) of the sample. Exact:
    k √n is the quantile `confidence` of the non-central t law with n - 1 degrees and
    non-centrality √n Φ⁻¹(content).

    Source: G. J. Hahn, W. Q. Meeker, Statistical Intervals, Wiley 1991, section 4.6 (from memory);
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3.

    >>> round(one_sided_factor(43, 0.90, 0.99), 5)
    1.87395
    """
    _check(n, content, confidence)
    root = math.sqrt(n)
    return (
        float(scipy.special.nctdtrit(n - 1, root * float(scipy.special.ndtri(content)), confidence))
        / root
    )


def two_sided_factor(n: int, content: float, confidence: float) -> float:
    """Return k so that mean - k s to mean + k s holds `content` of a normal law.

    With the mean of the sample z/√n s.d. from that of the law, the interval must reach r(z) s.d.
    to each side, Φ(z/√n + r) - Φ(z/√n - r) = content; s is large enough for it with the probability
    P(χ² >= (n - 1) r²/k²). The mean of that over the normal number z is the confidence; exact
    by quadrature.

    Source: A. Wald, J. Wolfowitz, Annals of Mathematical Statistics 17 (1946) 208 (from memory).

    >>> round(two_sided_factor(43, 0.90, 0.99), 5)
    2.22283
    """
    _check(n, content, confidence)
    z = 0.5 * _REACH * (_NODES + 1.0)
    weights = _WEIGHTS * 0.5 * _REACH * math.sqrt(2.0 / math.pi) * np.exp(-0.5 * z * z)
    reach = _half_widths(z / math.sqrt(n), content)

    # As if the mean were known: too small for the middle offset, too large for the farthest.
    sd = math.sqrt(float(scipy.special.chdtri(n - 1, confidence)) / (n - 1))
    low, high = 0.9 * float(reach[0]) / sd, 1.1 * float(reach[-1]) / sd
    for _ in range(60):
        k = math.sqrt(low * high)
        if weights @ scipy.special.chdtrc(n - 1, (n - 1) * np.square(reach / k)) < confidence:
            low = k
        else:
            high = k
    return k


def _half_widths(offset: Array, content: float) -> Array:
    """Half-widths of intervals about each offset that hold `content` of the standard normal law.

    Newton's steps in the logarithm of what lies outside, which falls ever faster with the
    half-width: from below they never overshoot more than once.
    """
    outside = math.log1p(-content)
    half = offset + scipy.special.ndtri(content)
    for _ in range(20):
        below, above = scipy.special.ndtr(offset - half), scipy.special.ndtr(-offset - half)
        density = np.exp(-0.5 * np.square(offset - half)) + np.exp(-0.5 * np.square(offset + half))
        slope = density / math.sqrt(2.0 * math.pi) / (below + above)
        half = half + (np.log(below + above) - outside) / slope
    result: Array = half
    return result


def normal_limits(values: Array, content: float, confidence: float) -> ToleranceLimits:
    """Return the limits of values, shape (n,), from a normal law; of a lognormal one, pass logs.

    >>> limits = normal_limits(np.array([9.0, 10.0, 11.0, 10.0, 10.0]), 0.90, 0.95)
    >>> round(limits.lower, 3), round(limits.upper, 3)
    (7.591, 12.409)
    """
    n = len(values)
    one, two = one_sided_factor(n, content, confidence), two_sided_factor(n, content, confidence)
    mean, sd = float(np.mean(values)), float(np.std(values, ddof=1))
    return ToleranceLimits(
        n,
        content,
        confidence,
        mean - one * sd,
        mean + one * sd,
        (mean - two * sd, mean + two * sd),
    )


def distribution_free(values: Array, content: float, confidence: float) -> DistributionFreeLimits:
    """Return the narrowest limits that hold for any continuous law.

    m values dropped, counted over both ends, leave `content` between with the confidence
    P(binomial(n, 1 - content) >= m), m the rank of the first value kept of a single end and the
    sum of both such ranks for a pair; a pair drops as many at each end.

    Source: H. A. David, H. N. Nagaraja, Order Statistics, 3rd ed., 2003, section 7.2; S. S. Wilks,
    Annals of Mathematical Statistics 12 (1941) 91 (from memory).

    >>> limits = distribution_free(np.arange(1.0, 60.0), 0.95, 0.95)
    >>> limits.lower, limits.two_sided, limits.tests_two_sided
    (1.0, None, 93)
    """
    ordered = np.sort(values)
    n = len(ordered)
    one_sided = required_tests(content, confidence)
    two_sided = required_tests(content, confidence, misses=1)
    rank = _spare_values(n, content, confidence)
    each = rank // 2
    return DistributionFreeLimits(
        n,
        content,
        confidence,
        float(ordered[rank - 1]) if rank else None,
        float(ordered[n - rank]) if rank else None,
        (float(ordered[each - 1]), float(ordered[n - each])) if each else None,
        one_sided,
        two_sided,
    )


def _spare_values(n: int, content: float, confidence: float) -> int:
    """Largest m with P(binomial(n, 1 - content) >= m) at or above the confidence."""
    return _first(lambda m: not _shows(n, content, confidence, m), 0)


def required_tests(content: float, confidence: float, misses: int = 0) -> int:
    """Return how many tests, with at most `misses` misses, show that `content` of all hold.

    Without a miss (a "success run") the smallest n with content^n <= 1 - confidence, otherwise
    with P(binomial(n, 1 - content) <= misses) <= 1 - confidence. The number of misses must be
    fixed before the tests.

    Source: C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404.

    >>> required_tests(0.95, 0.95), required_tests(0.99, 0.95), required_tests(0.90, 0.90)
    (59, 299, 22)
    >>> required_tests(0.95, 0.95, misses=1)
    93
    """
    _check_shares(content, confidence)
    require(misses >= 0, "misses", misses, "zero or above")
    return _first(lambda n: _shows(n, content, confidence, misses), misses + 1)


def _shows(n: int, content: float, confidence: float, misses: int) -> bool:
    """Whether `misses` in `n` tests show the content; a tie but for rounding is enough."""
    chance = (
        float(scipy.special.betaincc(misses + 1, n - misses, 1.0 - content)) if misses < n else 1.0
    )
    return chance <= (1.0 - confidence) * (1.0 + 1e-9)


def required_tests_by_law(distance: float, content: float, confidence: float) -> int | None:
    """Return how many tests show a claim if the values follow a normal law.

    Parameters
    ----------
    distance : float
        Distance of the limit from the mean over the s.d., positive on the good side.
    content : float
        Share of all values that the limit must leave on its good side.
    confidence : float
        Confidence of the claim.

    Returns
    -------
    int or None
        Smallest n whose one-sided factor is at or below `distance`, for tests that turn out with
        this mean and s.d.: an even chance, since later tests scatter too. None where no number of
        tests does, `distance` at or below Φ⁻¹(content), or more than a million.

    Three s.d. show 99 % at 95 % with the first n of which the factor is 3 or less:

    >>> required_tests_by_law(3.0, 0.99, 0.95)
    35
    >>> one_sided_factor(34, 0.99, 0.95) > 3.0 >= one_sided_factor(35, 0.99, 0.95)
    True
    """
    _check_shares(content, confidence)

    def shows(n: int) -> bool:
        return one_sided_factor(n, content, confidence) <= distance

    if distance <= scipy.special.ndtri(content) or not shows(_MOST_TESTS):
        return None
    return _first(shows, 2)


def _first(holds: Callable[[int], bool], start: int) -> int:
    """Smallest number from `start` up for which a condition holds that stays true once it is."""
    beyond = max(start, 1)
    while not holds(beyond):
        beyond *= 2
    no = start - 1
    while beyond - no > 1:
        middle = (no + beyond) // 2
        if holds(middle):
            beyond = middle
        else:
            no = middle
    return beyond


def _check(n: int, content: float, confidence: float) -> None:
    require(n >= 2, "n", n, "2 tests or more")
    _check_shares(content, confidence)


def _check_shares(content: float, confidence: float) -> None:
    require(0.5 <= content < 1.0, "content", content, "from 0.5 to below 1")
    require(0.5 <= confidence < 1.0, "confidence", confidence, "from 0.5 to below 1")
