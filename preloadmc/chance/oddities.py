"""What is odd about a series of tests: lots that differ, drift, single values that decide."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations

import numpy as np
import scipy
from numpy.typing import NDArray

from preloadmc.chance.fitting import fitted
from preloadmc.chance.variance_components import VarianceComponents, variance_components
from preloadmc.units import Array

_ENUMERATED = 8
"""Tests up to which all orders are gone through; 8! = 40,320."""

FAR_SHARES = (0.001, 0.999)
"""Quantiles that a single value may decide."""


@dataclass(frozen=True, slots=True)
class LotDifference:
    """How far lots differ: p-value of the F test, s.d. between and within lots."""

    p_value: float
    sd_between: float
    sd_within: float

    @classmethod
    def of(cls, table: VarianceComponents) -> LotDifference:
        """Return how far the lots of a one-way table differ; see `lot_difference`."""
        p_value = float(scipy.special.fdtrc(table.df_between, table.df_within, table.f))
        return cls(p_value, table.sd_between, table.sd_within)


def lot_difference(values: Array, lots: Sequence[str]) -> LotDifference:
    """Return how far lots differ, and how often equal lots would differ as much.

    One-way F test, exact for a normal law of the same s.d. in each lot; of a lognormal quantity
    pass logarithms.

    Parameters
    ----------
    values : ndarray (n,)
        Measured values.
    lots : sequence of str (n,)
        Lot of each value.

    Raises
    ------
    ValueError
        As `variance_components`.

    Notes
    -----
    D. C. Montgomery, Design and Analysis of Experiments, Wiley, chapter 3 (from memory).

    F = 8 with 1 and 2 degrees is t = √8 with 2 degrees:

    >>> found = lot_difference(np.array([1.0, 3.0, 5.0, 7.0]), ["a", "a", "b", "b"])
    >>> round(found.p_value, 4), round(found.sd_between, 4)
    (0.1056, 2.6458)
    """
    return LotDifference.of(variance_components(values, lots))


@dataclass(frozen=True, slots=True)
class Drift:
    """Rank correlation of the values with their order, and its two-sided p-value."""

    rank_correlation: float
    p_value: float


def drift(values: Array) -> Drift:
    """Return whether values, shape (n,), rise or fall over the order of the tests.

    Spearman's rank correlation; equal values share their mean rank. The p-value is exact, over all
    orders, for eight values or fewer; for more it is by Student's t with n - 2 degrees, which is
    somewhat small: 0.036 instead of 0.043 for r = 0.7 of nine values.

    Source: M. G. Kendall, J. D. Gibbons, Rank Correlation Methods, 5th ed., Arnold 1990, chapter 4
    (from memory).

    Four values in order, one of 24 orders each way:

    >>> drift(np.array([1.0, 2.0, 3.0, 4.0]))
    Drift(rank_correlation=1.0, p_value=0.08333333333333333)
    """
    n = len(values)
    if n < 3:
        raise ValueError(f"drift takes three values or more, not {n}")
    if np.min(values) == np.max(values):
        raise ValueError(f"all {n} values are {float(values[0]):g}: none is out of line")
    ranks = _standard(_mean_ranks(values))
    order = _standard(np.arange(float(n)))
    r = float(np.clip(ranks @ order, -1.0, 1.0))
    if n <= _ENUMERATED:
        p_value = float(np.mean(np.abs(order[_orders(n)] @ ranks) >= abs(r) - 1e-9))
    elif abs(r) > 1.0 - 1e-12:
        p_value = 2.0 / math.factorial(n)
    else:
        p_value = 2.0 * float(
            scipy.special.stdtr(n - 2, -abs(r) * math.sqrt((n - 2) / (1.0 - r * r)))
        )
    return Drift(r, p_value)


@lru_cache(maxsize=_ENUMERATED)
def _orders(n: int) -> NDArray[np.intp]:
    """All orders of n places, shape (n!, n)."""
    return np.array(list(permutations(range(n))), dtype=np.intp)


def _standard(values: Array) -> Array:
    """Values less their mean, over the root of their sum of squares."""
    centred = values - np.mean(values)
    standard: Array = centred / math.sqrt(float(centred @ centred))
    return standard


def _mean_ranks(values: Array) -> Array:
    """Rank of each value from 1; equal ones share the mean of their ranks."""
    _, which, counts = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    ranks: Array = (last - 0.5 * (counts - 1.0))[which]
    return ranks


@dataclass(frozen=True, slots=True)
class FarthestValue:
    """The value farthest from the middle of the fitted law, and what it decides.

    `index` counts from zero. `p_value` says how often the farthest of n values of this law lies
    out as far or farther. `quantiles` are those of the law at `FAR_SHARES`, `quantiles_without`
    those of the law fitted to the other values.
    """

    index: int
    value: float
    p_value: float
    quantiles: tuple[float, float]
    quantiles_without: tuple[float, float]


def farthest_value(kind: str, values: Array) -> FarthestValue:
    """Return the value farthest from the middle of the law fitted to all, and what it decides.

    Grubbs' test on the normal numbers of the values under that law, two-sided. Its p-value is
    exact for a normal or lognormal law as long as only one value can lie out as far, and never
    too small for them; it is approximate for other laws.

    Parameters
    ----------
    kind : str
        Law, one of `fitting.FITTED_KINDS`.
    values : ndarray (n,)
        Three or more.

    Raises
    ------
    ValueError
        With fewer than three values, and as `fitting.fitted`.

    Notes
    -----
    F. E. Grubbs, Annals of Mathematical Statistics 21 (1950) 27; NIST/SEMATECH e-Handbook of
    Statistical Methods, 1.3.5.17.1 (from memory).

    >>> found = farthest_value("normal", np.array([8.0, 9.0, 10.0, 9.0, 20.0, 10.0]))
    >>> found.index, round(found.p_value, 4)
    (4, 0.0018)
    """
    n = len(values)
    if n < 3:
        raise ValueError(f"a value out of line takes three values or more, not {n}")
    law = fitted(kind, values).law
    numbers = np.asarray(law.to_normal(np.asarray(values, dtype=np.float64)))
    deviations = np.abs(numbers - np.mean(numbers)) / np.std(numbers, ddof=1)
    index = int(np.argmax(deviations))
    rest = np.delete(values, index)
    if rest.min() == rest.max():
        low = high = float(rest[0])
    else:
        without = fitted(kind, rest).law
        low, high = (without.quantile(p) for p in FAR_SHARES)
    return FarthestValue(
        index,
        float(values[index]),
        _grubbs_p_value(float(deviations[index]), n),
        (law.quantile(FAR_SHARES[0]), law.quantile(FAR_SHARES[1])),
        (low, high),
    )


def _grubbs_p_value(g: float, n: int) -> float:
    """Bound, n P(|t| > ...), of the chance that one of n values lies `g` s.d. out or farther.

    g can be (n - 1)/√n at most.
    """
    room = (n - 1.0) ** 2 - n * g * g
    if room <= 1e-12 * n * n:
        return 0.0
    t = g * math.sqrt(n * (n - 2.0) / room)
    return min(1.0, 2.0 * n * float(scipy.special.stdtr(n - 2, -t)))
