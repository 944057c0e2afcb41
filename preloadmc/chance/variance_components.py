"""How much of the scatter is between lots and how much within them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.units import Array


@dataclass(frozen=True, slots=True)
class VarianceComponents:
    """One-way table of values by lot, with both variances by the method of moments.

    `variance_between` is that of the lots' own means, without what the tests within them scatter;
    zero where the lot means scatter less than that alone explains. `mean` is the mean of the lot
    means, `harmonic_size` the harmonic mean of the tests of a lot. `f` is the classical ratio of
    the mean squares (weighted by the tests of each lot). Variances in the squared unit of the
    values.
    """

    lots: tuple[str, ...]
    sizes: tuple[int, ...]
    means: tuple[float, ...]
    mean: float
    harmonic_size: float
    variance_between: float
    variance_within: float
    df_between: int
    df_within: int
    f: float

    @property
    def sd_between(self) -> float:
        """Standard deviation between lots."""
        return math.sqrt(self.variance_between)

    @property
    def sd_within(self) -> float:
        """Standard deviation within a lot."""
        return math.sqrt(self.variance_within)


def variance_components(values: Array, lots: Sequence[str]) -> VarianceComponents:
    """Return the one-way table of values by lot.

    Parameters
    ----------
    values : ndarray (n,)
        Measured values; of a lognormal quantity, their logarithms.
    lots : sequence of str (n,)
        Lot of each value; lots come out in the order in which they first appear.

    Returns
    -------
    VarianceComponents
        The variance between lots is that of their means less the variance within over the
        harmonic mean size: without bias for lots of any sizes, and the usual one for equal sizes.

    Raises
    ------
    ValueError
        With fewer than two lots, no lot of two tests, or no scatter within any lot.

    Notes
    -----
    S. R. Searle, G. Casella, C. E. McCulloch, Variance Components, Wiley 1992, chapters 3 and 5
    (unweighted means; from memory).

    >>> table = variance_components(np.array([1.0, 3.0, 5.0, 7.0]), ["a", "a", "b", "b"])
    >>> table.variance_between, table.variance_within, table.f
    (7.0, 2.0, 8.0)
    """
    values = np.asarray(values, dtype=np.float64)
    names = tuple(dict.fromkeys(lots))
    if len(names) < 2:
        raise ValueError(f"scatter between lots takes two lots or more, not {len(names)}")
    place = {name: i for i, name in enumerate(names)}
    which = np.array([place[lot] for lot in lots])
    sizes = np.bincount(which)
    df_between, df_within = len(names) - 1, len(values) - len(names)
    if df_within == 0:
        raise ValueError("scatter within lots takes a lot of two tests or more; each has one")
    firsts = values[np.unique(which, return_index=True)[1]]
    if np.array_equal(values, firsts[which]):
        raise ValueError("no lot shows any scatter: its values are all equal")
    means = np.bincount(which, weights=values) / sizes
    within = float(np.sum(np.square(values - means[which]))) / df_within
    harmonic_size = len(names) / float(np.sum(1.0 / sizes))
    grand = float(np.mean(values))
    between = float(np.sum(sizes * np.square(means - grand))) / df_between
    return VarianceComponents(
        names,
        tuple(int(size) for size in sizes),
        tuple(float(mean) for mean in means),
        float(np.mean(means)),
        harmonic_size,
        max(0.0, float(np.var(means, ddof=1)) - within / harmonic_size),
        within,
        df_between,
        df_within,
        between / within,
    )
