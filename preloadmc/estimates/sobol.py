"""Sobol' indices: which input's scatter makes the scatter of a quantity.

The only file that knows SALib, which supplies the estimators; its import takes about a second
and happens inside the function.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from preloadmc.errors import EstimateError, NotFiniteError, UsageError
from preloadmc.estimates.margins import BLOCK
from preloadmc.estimates.order import Order
from preloadmc.estimates.sobol_points import (
    REPLICATES,
    ratios_of_replicates,
    sobol_sequence,
    student_quantile,
)
from preloadmc.units import Array

Model = Callable[[Array], Array]


@dataclass(frozen=True, slots=True)
class Pair:
    """Second-order index of two inputs or groups, with its interval."""

    names: tuple[str, str]
    second: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class SobolIndices:
    """First and total indices of each input or group, shape (k,), with their intervals.

    A first index is the share of the variance that goes if this input were known; a total
    index the share that stays if all others were. Intervals hold sampling error only and
    are not clipped to [0, 1]: an end below zero says how well zero is resolved.
    `base_samples` are those of each of the `replicates`. `looks` says how often the order may have
    been looked at before it was taken as settled.
    """

    names: tuple[str, ...]
    first: Array
    first_low: Array
    first_high: Array
    total: Array
    total_low: Array
    total_high: Array
    total_covariance: Array
    pairs: tuple[Pair, ...]
    variance: float
    confidence: float
    base_samples: int
    replicates: int
    model_calls: int
    looks: int

    @property
    def ordering(self) -> Order:
        """Order by total index, each look at it as sure as all together are to be."""
        unsure = (1.0 - self.confidence) / self.looks
        quantile = student_quantile(self.replicates, 1.0 - unsure)
        return Order(self.total, self.total_covariance, quantile)

    @property
    def order(self) -> tuple[str, ...]:
        """Names by falling total index."""
        return tuple(self.names[i] for i in self.ordering.places)


def sobol_indices(
    model: Model,
    names: Sequence[str],
    *,
    seed: int,
    base_samples: int = 512,
    groups: Sequence[Sequence[int]] | None = None,
    confidence: float = 0.95,
    second_order: bool = False,
    replicates: int = REPLICATES,
    most_samples: int | None = None,
    leading: int = 3,
) -> SobolIndices:
    """First and total Sobol' indices of a model of independent standard normals.

    Parameters
    ----------
    model : callable
        From z, shape (n, d), to values, shape (n,); called with blocks.
    names : sequence of str
        One per column of z, or one per group where `groups` is given.
    seed : int
        Same seed, same result.
    base_samples : int
        Power of two; a replicate calls the model base_samples·(k + 2) times, or (2 k + 2)
        times for second order, k the number of inputs or groups.
    groups : sequence of sequences of int, optional
        Column numbers of each group: every column in exactly one. Inputs made dependent
        form one group, whose index is exact.
    replicates : int
        Independently scrambled designs, at least 2, whose scatter makes the intervals.
    most_samples : int, optional
        The base samples are doubled, up to so many, until the order of the `leading` largest
        total indices is settled; not unless given.

    Notes
    -----
    Design: A. Saltelli, Comput. Phys. Commun. 145 (2002) 280, on scrambled Sobol' sequences.
    Estimators: first order of A. Saltelli et al., Comput. Phys. Commun. 181 (2010) 259,
    Table 2 (b); total of M. J. W. Jansen, ibid. 117 (1999) 35. Intervals: Student's, from the
    scatter between the replicates.
    """
    members = _checked(names, groups, base_samples)
    designs = _designs(model, members, seed, replicates, second_order)
    sizes = _sizes(base_samples, most_samples or base_samples)
    for n in sizes:
        for design in designs:
            design.grow(n)
        found = _pooled([design.part() for design in designs], names, confidence, len(sizes))
        if not found.ordering.unsettled(leading=leading):
            break
    return found


def sobol_convergence(
    model: Model,
    names: Sequence[str],
    *,
    seed: int,
    base_samples: int,
    groups: Sequence[Sequence[int]] | None = None,
    confidence: float = 0.95,
    replicates: int = REPLICATES,
    least: int = 64,
) -> tuple[SobolIndices, ...]:
    """First and total indices from growing parts of the designs: `least`, twice that, ..., all.

    The first 2^m points of a scrambled Sobol' sequence are such a sequence themselves, so
    all sizes come from the model calls of the largest.
    """
    members = _checked(names, groups, base_samples)
    designs = _designs(model, members, seed, replicates, second_order=False)
    for design in designs:
        design.grow(base_samples)
    return tuple(
        _pooled([design.part(n) for design in designs], names, confidence)
        for n in _sizes(min(least, base_samples), base_samples)
    )


def _sizes(least: int, most: int) -> list[int]:
    """Return `least`, twice that, and so on up to `most`."""
    return [least << k for k in range(max(most // least, 1).bit_length())]


class _Design:
    """One scramble, and the model values at its points so far.

    They are those at A, shape (n,), at B, at A with group i from B, (k, n), and for second order
    at B with group i from A.
    """

    def __init__(
        self,
        model: Model,
        members: Sequence[Sequence[int]],
        rng: np.random.Generator,
        second_order: bool,
    ) -> None:
        self.model, self.members, self.second_order = model, members, second_order
        self.following = sobol_sequence(2 * sum(len(member) for member in members), rng)
        k = len(members)
        self.values = np.empty((2 + k + (k if second_order else 0), 0))

    def grow(self, n: int) -> None:
        """Evaluate further points, up to n in all."""
        z = self.following(n - self.values.shape[1])
        # An index takes one column of each. Between neighbours the scatter of scrambles was closer
        # to the normal one that Student's intervals rest on than between columns far apart.
        z_a, z_b = z[:, 0::2], z[:, 1::2]
        added = [_evaluate(self.model, z_a), _evaluate(self.model, z_b)]
        orders = [(z_a, z_b), (z_b, z_a)] if self.second_order else [(z_a, z_b)]
        for base, other in orders:
            for member in self.members:
                mixed = base.copy()
                mixed[:, member] = other[:, member]
                added.append(_evaluate(self.model, mixed))
        self.values = np.concatenate([self.values, added], axis=1)

    def part(self, n: int | None = None) -> _Part:
        """What the first n points say of the indices; all of them unless given."""
        from SALib.analyze import sobol as analysis

        values, k = self.values[:, :n], len(self.members)
        if not np.isfinite(values).all():
            raise NotFiniteError("a quantity to be ranked came out NaN or infinite")
        if float(np.abs(values - values[0, 0]).max()) == 0.0:
            raise EstimateError("the quantity does not vary, so its inputs cannot be ranked")
        a, b, *rest = values - values.mean()
        ab, ba = rest[:k], rest[k:]
        # SALib divides by this variance; ratios are formed of all replicates together.
        variance = float(np.var(np.concatenate([a, b])))
        first = [analysis.first_order(a, each, b) for each in ab]
        total = [analysis.total_order(a, each, b) for each in ab]
        pairs = [
            analysis.second_order(a, ab[i], ab[j], ba[i], b)
            for i, j in (combinations(range(k), 2) if ba else ())
        ]
        indices = variance * np.array([*first, *total, *pairs])
        return _Part(indices, variance, float(np.abs(values).max()), values.shape[1], values.size)


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Of one design: numerators of the first, total and second indices, and their denominator.

    `largest` is the size of the largest value, which says how far they are rounded.
    """

    numerators: Array
    variance: float
    largest: float
    base_samples: int
    model_calls: int


def _designs(
    model: Model,
    members: Sequence[Sequence[int]],
    seed: int,
    replicates: int,
    second_order: bool,
) -> list[_Design]:
    if replicates < 2:
        raise UsageError(f"an interval takes at least two replicates, given {replicates}")
    return [
        _Design(model, members, np.random.default_rng([seed, r]), second_order)
        for r in range(replicates)
    ]


def _pooled(
    parts: Sequence[_Part], names: Sequence[str], confidence: float, looks: int = 1
) -> SobolIndices:
    """Indices of all designs together, with the intervals that their scatter makes."""
    k = len(names)
    variances = np.array([part.variance for part in parts])
    variance = float(variances.mean())
    if variance == 0.0:
        raise EstimateError("the quantity does not vary, so its inputs cannot be ranked")
    magnitude = max(part.largest for part in parts) / math.sqrt(variance)
    numerators = np.array([part.numerators for part in parts])
    values, covariance = ratios_of_replicates(numerators, variances, magnitude)
    half = student_quantile(len(parts), confidence) * np.sqrt(np.diag(covariance))
    low, high = values - half, values + half
    first, total, second = slice(0, k), slice(k, 2 * k), slice(2 * k, None)
    return SobolIndices(
        tuple(names),
        values[first],
        low[first],
        high[first],
        values[total],
        low[total],
        high[total],
        covariance[total, total],
        tuple(
            Pair(pair, *map(float, ends))
            for pair, *ends in zip(
                combinations(names, 2), values[second], low[second], high[second], strict=False
            )
        ),
        variance,
        confidence,
        parts[0].base_samples,
        len(parts),
        sum(part.model_calls for part in parts),
        looks,
    )


def _checked(
    names: Sequence[str], groups: Sequence[Sequence[int]] | None, base_samples: int
) -> list[list[int]]:
    if base_samples < 2 or base_samples & (base_samples - 1):
        raise UsageError(f"base samples must be a power of two, given {base_samples}")
    return _members(names, groups)


def _members(names: Sequence[str], groups: Sequence[Sequence[int]] | None) -> list[list[int]]:
    members = (
        [[column] for column in range(len(names))]
        if groups is None
        else [list(group) for group in groups]
    )
    if len(members) != len(names) or len(set(names)) != len(names):
        raise ValueError("names must be distinct, one for each input or group")
    flat = sorted(column for member in members for column in member)
    if len(flat) < 1 or flat != list(range(len(flat))):
        raise ValueError("groups must hold every column exactly once")
    return members


def _evaluate(model: Model, z: Array) -> Array:
    blocks = range(0, len(z), BLOCK)
    return np.concatenate([model(z[start : start + BLOCK]) for start in blocks])
