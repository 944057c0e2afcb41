"""Laws and moments of measured values: which law, how well it fits, how sure its moments are.

Each law offered belongs to a location and a scale, of the values or of their logarithms:

=========== ====================== ==================================
law         scale it is fitted on  there it is
=========== ====================== ==================================
normal      x                      normal
lognormal   ln x                   normal
weibull     ln x                   the law of smallest values
gumbel      -x                     the law of smallest values
=========== ====================== ==================================

So the law of a goodness-of-fit statistic under a refitted law does not depend on the parameters.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.random import Generator

from preloadmc.chance.law import Law, require
from preloadmc.chance.laws import Gumbel, LogNormal, Normal, Weibull
from preloadmc.units import Array

FITTED_KINDS = ("normal", "lognormal", "weibull", "gumbel")
"""Laws that can be fitted, by their word in a case file."""

OF_LOGARITHMS = ("lognormal", "weibull")
OF_SMALLEST = ("weibull", "gumbel")
"""Laws that are fitted on logarithms, and those that there are the law of smallest values."""

_LARGEST_LOG_SD = 20.0
"""Beyond it the s.d. of a lognormal law has no meaning left, and soon no number."""

_BLOCK = 2**18
"""Values of bootstrap samples at once: a few MB."""

_MOST_VALUES = 1000
"""Largest bootstrap sample: the law of A² differs from that of larger ones by about 1/n."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A law fitted to `n` values.

    `log_likelihood` is the largest of this kind of law; `aicc` is Akaike's criterion with the
    correction for small samples, infinite for three values or fewer.
    """

    kind: str
    law: Law
    log_likelihood: float
    aicc: float
    n: int


def fitted(kind: str, values: Array) -> Fit:
    """Return the law of one kind that fits the values best, by maximum likelihood.

    Parameters
    ----------
    kind : str
        One of `FITTED_KINDS`. The location of a Weibull law is zero.
    values : ndarray (n,)
        Two or more, in any unit.

    Returns
    -------
    Fit
        The s.d. of a normal law, and of the logarithm of a lognormal one, has divisor n - 1;
        `log_likelihood` is that of divisor n, the largest.

    Raises
    ------
    ValueError
        If the values are too few, all equal, or not above zero where the law asks for it.

    Notes
    -----
    N. L. Johnson, S. Kotz, N. Balakrishnan, Continuous Univariate Distributions, 2nd ed., Wiley,
    vol. 1 (1994), sections 13.7, 14.4 and 21.4, vol. 2 (1995), section 22.9 (from memory).
    AICc: C. M. Hurvich, C.-L. Tsai, Biometrika 76 (1989) 297.

    >>> fitted("normal", np.array([9.0, 10.0, 11.0])).law
    Normal(mean=10.0, sd=1.0)
    """
    y = fitted_scale(kind, values)
    n = y.size
    location, scale = (float(each[0]) for each in located(kind, y[np.newaxis]))
    if kind in OF_SMALLEST:
        w = (y - location) / scale
        log_likelihood = float(np.sum(w - np.exp(w))) - n * math.log(scale)
    else:
        variance = scale**2 * (n - 1) / n
        log_likelihood = -0.5 * n * (math.log(2.0 * math.pi * variance) + 1.0)
    if kind in OF_LOGARITHMS:
        log_likelihood -= float(np.sum(y))
    k = 2  # parameters of each law
    correction = 2.0 * k * (k + 1) / (n - k - 1) if n > k + 1 else math.inf
    aicc = 2.0 * k - 2.0 * log_likelihood + correction
    return Fit(kind, _law(kind, location, scale), log_likelihood, aicc, n)


def fitted_scale(kind: str, values: Array) -> Array:
    """Return values on the scale on which the law has a location and a scale.

    Raises
    ------
    ValueError
        As `fitted`.
    """
    if kind not in FITTED_KINDS:
        raise ValueError(f'law is "{kind}": it must be one of {", ".join(FITTED_KINDS)}')
    values = np.asarray(values, dtype=np.float64)
    if values.size < 2:
        raise ValueError(f"a law is fitted to two values or more, not {values.size}")
    if not np.all(np.isfinite(values)):
        raise ValueError("a law is fitted to finite values only")
    smallest = float(values.min())
    if kind in OF_LOGARITHMS:
        if smallest <= 0.0:
            raise ValueError(
                f"a {kind} law needs values above zero, and the smallest is {smallest:g}"
            )
        y = np.log(values)
    else:
        y = -values if kind == "gumbel" else values
    if y.min() == y.max():  # so may be the logarithms of values that barely differ
        raise ValueError(f"all {values.size} values are {smallest:g}: no law fits")
    return y


def _law(kind: str, location: float, scale: float) -> Law:
    """The law of the values themselves."""
    if kind == "normal":
        return Normal(location, scale)
    if kind == "lognormal":
        require(
            scale <= _LARGEST_LOG_SD, "s.d. of the logarithm", scale, f"{_LARGEST_LOG_SD:g} or less"
        )
        mean = math.exp(location + 0.5 * scale**2)
        return LogNormal(mean, mean * math.sqrt(math.expm1(scale**2)))
    if kind == "weibull":
        return Weibull(1.0 / scale, math.exp(location))
    return Gumbel(float(np.euler_gamma) * scale - location, math.pi * scale / math.sqrt(6.0))


def located(kind: str, y: Array) -> tuple[Array, Array]:
    """Return location and scale of each row, shapes (m, n) to (m,), by maximum likelihood.

    The values ``y`` are on the scale on which the law is fitted; the s.d. of a normal law has the
    divisor n - 1.
    """
    if kind in OF_SMALLEST:
        return _located_smallest(y)
    return np.mean(y, axis=1), np.std(y, axis=1, ddof=1)


def _located_smallest(y: Array) -> tuple[Array, Array]:
    """Maximum-likelihood location and scale b of laws P(Y > y) = exp(-exp((y - location)/b)).

    With weights exp(y/b) the weighted mean less the plain one must be b. The logarithm of their
    ratio rises with ln(1/b), for usual samples nearly in a straight line: Newton's steps take
    about six. With one value far above all others they may go to and fro: then by halving.
    """
    top, sd = y.max(axis=1), y.std(axis=1)
    v = (y - top[:, np.newaxis]) / sd[:, np.newaxis]
    mean = v.mean(axis=1)
    log_k = np.full(len(y), math.log(math.pi / math.sqrt(6.0)))
    # Far beyond the root: it is where k times the lead is 1, and the lead grows up to -mean, which
    # is at most the root of n.
    low, high = log_k - 10.0, np.log(1.0 - 1.0 / mean) + 40.0
    step, steps = np.full(len(y), math.inf), 0
    while np.any(np.abs(step) > 1e-12):
        k = np.exp(log_k)
        weights = np.exp(v * k[:, np.newaxis])
        total = weights.sum(axis=1)
        weights *= v
        first = weights.sum(axis=1) / total
        weights *= v
        variance = weights.sum(axis=1) / total - first * first
        lead = first - mean
        excess = log_k + np.log(lead)
        high, low = np.where(excess > 0.0, log_k, high), np.where(excess > 0.0, low, log_k)
        newton = log_k - excess / (1.0 + k * variance / lead)
        inside = (low <= newton) & (newton <= high) & (steps < 12)
        step = np.where(inside, newton, 0.5 * (low + high)) - log_k
        log_k = log_k + step
        steps += 1
    k = np.exp(log_k)
    location = np.log(np.mean(np.exp(v * k[:, np.newaxis]), axis=1)) / k
    return top + sd * location, sd / k


def anderson_darling(values: Array, law: Law) -> float:
    """Return Anderson and Darling's distance A² between values, shape (n,), and a law.

    A² = -n - Σ (2 i - 1) (ln F(x_i) + ln(1 - F(x_(n+1-i))))/n, the values in ascending order;
    infinite where the law leaves no probability beyond a value.

    Source: T. W. Anderson, D. A. Darling, Journal of the American Statistical Association 49
    (1954) 765.

    The median alone: A² = -1 - 2 ln(1/2).

    >>> round(anderson_darling(np.array([5.0]), Normal(5.0, 1.0)), 4)
    0.3863
    """
    ordered = np.sort(values)
    with np.errstate(divide="ignore"):
        below, above = np.log(law.cdf(ordered)), np.log(law.sf(ordered))
    return float(_distances(below[np.newaxis], above[np.newaxis])[0])


def _distances(log_below: Array, log_above: Array) -> Array:
    """A² of each row, shapes (m, n) to (m,), from the logarithms of both shares."""
    n = log_below.shape[1]
    weights = 2.0 * np.arange(n) + 1.0
    distances: Array = -n - np.sum(weights * (log_below + log_above[:, ::-1]), axis=1) / n
    return distances


def _refitted_distances(kind: str, y: Array) -> Array:
    """A² of each row from the law refitted to it, shapes (m, n) to (m,)."""
    location, scale = located(kind, y)
    w = np.sort((y - location[:, np.newaxis]) / scale[:, np.newaxis], axis=1)
    if kind in OF_SMALLEST:
        hazard = np.exp(w)
        return _distances(np.log(-np.expm1(-hazard)), -hazard)
    return _distances(scipy.special.log_ndtr(w), scipy.special.log_ndtr(-w))


def fit_p_value(kind: str, values: Array, rng: Generator, draws: int = 999) -> float:
    """Return how often values of this kind of law fit it no better than the given ones.

    By drawn samples, each refitted (a parametric bootstrap) and compared by A². Exact but for the
    number of draws, since the law of A² does not depend on the parameters.

    Parameters
    ----------
    kind : str
        One of `FITTED_KINDS`.
    values : ndarray (n,)
        Measured values.
    rng : numpy.random.Generator
        For the samples.
    draws : int
        How many samples; the smallest p-value is 1/(draws + 1).

    Returns
    -------
    float
        P-value; small where the law does not fit.

    Raises
    ------
    ValueError
        As `fitted`.

    Notes
    -----
    W. Stute, W. González Manteiga, M. Presedo Quindimil, Metrika 40 (1993) 243 (from memory).
    """
    y = fitted_scale(kind, values)
    # Rounding moves A² of two or three values, which is nearly the same in all samples.
    given = float(_refitted_distances(kind, y[np.newaxis])[0]) * (1.0 - 1e-9)
    n = min(y.size, _MOST_VALUES)
    at_once = max(1, _BLOCK // n)
    worse = 0
    for start in range(0, draws, at_once):
        shape = min(at_once, draws - start), n
        if kind in OF_SMALLEST:
            sample = np.log(rng.standard_exponential(shape))
        else:
            sample = rng.standard_normal(shape)
        worse += int(np.count_nonzero(_refitted_distances(kind, sample) >= given))
    return (1 + worse) / (1 + draws)


@dataclass(frozen=True, slots=True)
class MeasuredMoments:
    """Moments of `n` values with intervals, in the unit of the values; `cov` is s.d. over mean."""

    n: int
    mean: float
    mean_low: float
    mean_high: float
    sd: float
    sd_low: float
    sd_high: float
    cov: float
    confidence: float


def moments_with_intervals(values: Array, confidence: float = 0.95) -> MeasuredMoments:
    """Return mean and s.d. (divisor n - 1) with the intervals of a normal law.

    Student's t for the mean, chi-square for the s.d. (JCGM 100:2008, G.3, for the mean; G. J. Hahn,
    W. Q. Meeker, Statistical Intervals, Wiley 1991, sections 4.2 and 4.4, from memory).

    >>> moments = moments_with_intervals(np.array([9.0, 10.0, 11.0]))
    >>> round(moments.mean_low, 3), round(moments.sd_high, 3)
    (7.516, 6.285)
    """
    n = len(values)
    if n < 2:
        raise ValueError(f"an interval takes two values or more, not {n}")
    mean, sd = float(np.mean(values)), float(np.std(values, ddof=1))
    tail = 0.5 * (1.0 - confidence)
    half = float(scipy.special.stdtrit(n - 1, 1.0 - tail)) * sd / math.sqrt(n)
    return MeasuredMoments(
        n,
        mean,
        mean - half,
        mean + half,
        sd,
        sd * math.sqrt((n - 1) / float(scipy.special.chdtri(n - 1, tail))),
        sd * math.sqrt((n - 1) / float(scipy.special.chdtri(n - 1, 1.0 - tail))),
        sd / abs(mean) if mean != 0.0 else math.inf,
        confidence,
    )
