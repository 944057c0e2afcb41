"""Tolerance limits of any fitted law, and the share that tests show to be on one side of a limit.

Each law has a location and a scale, of the values or of their logarithms (`fitting`). How far their
estimates are off, counted in the scale found, has a law that depends on the number of tests alone:
for the normal law it is known, for the law of smallest values it is simulated.
"""

from __future__ import annotations

import math

import numpy as np
import scipy
from numpy.random import Generator

from preloadmc.chance.fitting import OF_LOGARITHMS, OF_SMALLEST, fitted_scale, located
from preloadmc.chance.tolerance_limits import ToleranceLimits, normal_limits
from preloadmc.units import Array

_DRAWS = 20_000
"""Simulated test series: a confidence of 95 % is then good to 0.15 points."""

_LARGEST_LOG = 700.0
"""Beyond it e to this power is no number any more."""

_MOST_VALUES = 500
"""Tests of a simulated series; larger ones are off by less, as one over the root of n."""


def limits_by_law(
    kind: str, values: Array, content: float, confidence: float, rng: Generator
) -> ToleranceLimits:
    """Return tolerance limits if values, shape (n,), follow a law of one kind.

    Parameters
    ----------
    kind : str
        One of `fitting.FITTED_KINDS`.
    values : ndarray (n,)
        Measured values.
    content, confidence : float
        As in `tolerance_limits.one_sided_factor`.
    rng : numpy.random.Generator
        For the laws whose limits are simulated.

    Raises
    ------
    ValueError
        As `fitting.fitted`.

    Notes
    -----
    Pivots of the law of smallest values: D. R. Thoman, L. J. Bain, C. E. Antle, Technometrics 11
    (1969) 445 (from memory). The pair of limits are two quantiles of the law found that leave the
    same share on either side.

    >>> rng = np.random.default_rng(1)
    >>> limits = limits_by_law("lognormal", np.array([0.11, 0.12, 0.13, 0.14]), 0.99, 0.95, rng)
    >>> round(limits.lower, 4)
    0.0599
    """
    y = fitted_scale(kind, values)
    if kind not in OF_SMALLEST:
        found = normal_limits(y, content, confidence)
        if kind not in OF_LOGARITHMS:
            return found
        ends = (found.lower, found.upper, *found.two_sided)
        lower, upper, low, high = (
            math.exp(end) if end < _LARGEST_LOG else math.inf for end in ends
        )
        return ToleranceLimits(found.n, content, confidence, lower, upper, (low, high))
    location, scale = (float(each[0]) for each in located(kind, y[np.newaxis]))
    off, ratio = _pivots(kind, len(y), rng)
    k_low = np.quantile((_quantile(1.0 - content) - off) / ratio, 1.0 - confidence)
    k_high = np.quantile((_upper_quantile(1.0 - content) - off) / ratio, confidence)
    outside = _outside(off, ratio, content, confidence)
    k = np.array([k_low, k_high, _quantile(outside), _upper_quantile(outside)])
    with np.errstate(over="ignore"):
        lower, upper, low, high = (float(each) for each in _of_values(kind, location + scale * k))
    if kind == "gumbel":  # fitted on values with their sign changed
        lower, upper, low, high = upper, lower, high, low
    return ToleranceLimits(len(y), content, confidence, lower, upper, (low, high))


def share_shown(
    kind: str, values: Array, limit: float, is_least: bool, confidence: float, rng: Generator
) -> float:
    """Return the share that values show to be on the good side of a limit, if a law holds.

    Parameters
    ----------
    kind, values, confidence, rng
        As in `limits_by_law`.
    limit : float
        In the unit of the values.
    is_least : bool
        Whether the good side is above the limit.

    Returns
    -------
    float
        The largest content of which the limit is a tolerance limit.

    Raises
    ------
    ValueError
        As `fitting.fitted`.

    Notes
    -----
    Normal law: the inverse of `tolerance_limits.one_sided_factor` in its content.

    A limit 3 s.d. below the mean of 35 tests shows 99 %, as their factor is 2.99:

    >>> values = np.repeat([9.0, 10.0, 11.0], [10, 15, 10])
    >>> sd = float(np.std(values, ddof=1))
    >>> round(share_shown("normal", values, 10 - 3 * sd, True, 0.95, np.random.default_rng(1)), 4)
    0.9901
    """
    y = fitted_scale(kind, values)
    if kind in OF_LOGARITHMS:
        if limit <= 0.0:
            return 1.0 if is_least else 0.0
        limit = math.log(limit)
    location, scale = (float(each[0]) for each in located(kind, y[np.newaxis]))
    if kind not in OF_SMALLEST:
        distance = (location - limit) / scale * (1.0 if is_least else -1.0)
        root = math.sqrt(len(y))
        return float(
            scipy.special.ndtr(
                scipy.special.nctdtrinc(len(y) - 1.0, confidence, root * distance) / root
            )
        )
    is_below = is_least
    if kind == "gumbel":
        limit, is_below = -limit, not is_least
    off, ratio = _pivots(kind, len(y), rng)
    with np.errstate(over="ignore"):
        hazard = np.exp(off + ratio * (limit - location) / scale)
    shares = np.exp(-hazard) if is_below else -np.expm1(-hazard)
    return float(np.quantile(shares, 1.0 - confidence))


def _pivots(kind: str, n: int, rng: Generator) -> tuple[Array, Array]:
    """Return location and scale found in simulated series of n values of the law of 0 and 1."""
    size = min(n, _MOST_VALUES)
    at_once = 2_000
    parts = [
        located(kind, np.log(rng.standard_exponential((at_once, size))))
        for _ in range(_DRAWS // at_once)
    ]
    off = np.concatenate([part[0] for part in parts])
    ratio = np.concatenate([part[1] for part in parts])
    narrower = math.sqrt(size / n)
    return narrower * off, 1.0 + narrower * (ratio - 1.0)


def _outside(off: Array, ratio: Array, content: float, confidence: float) -> float:
    """Return the share beyond either of two quantiles that hold the content with the confidence."""
    low, high = 1e-300, 0.5 * (1.0 - content)
    for _ in range(60):
        outside = math.sqrt(low) * math.sqrt(high)
        with np.errstate(over="ignore"):
            bottom = np.exp(off + ratio * _quantile(outside))
            top = np.exp(off + ratio * _upper_quantile(outside))
        holds = np.mean(np.exp(-bottom) - np.exp(-top) >= content) >= confidence
        low, high = (outside, high) if holds else (low, outside)
    return low


def _quantile(p: float) -> float:
    """Return the quantile of the law of smallest values of location 0 and scale 1."""
    return math.log(-math.log1p(-p))


def _upper_quantile(p: float) -> float:
    """Return what the share p of that law lies above."""
    return math.log(-math.log(p))


def _of_values(kind: str, y: Array) -> Array:
    return np.exp(y) if kind in OF_LOGARITHMS else -y
