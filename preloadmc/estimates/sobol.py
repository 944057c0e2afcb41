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
from scipy.special import ndtri

from preloadmc.errors import EstimateError, NotFiniteError, UsageError
from preloadmc.estimates.margins import BLOCK
from preloadmc.estimates.order import Order
from preloadmc.estimates.sobol_points import sobol_points
from preloadmc.units import Array

Model = Callable[[Array], Array]


@dataclass(frozen=True, slots=True)
class Pair:
    """Second-order index of two inputs or groups, with its interval."""

    names: tuple[str, str]
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class SobolIndices:
    """First and total indices of each input or group, shape (k,), with their intervals.

    A first index is the share of the variance that goes if this input were known; a total
    index the share that stays if all others were. Intervals hold sampling error only and
    are not clipped to [0, 1]: an end below zero says how well zero is resolved.
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

    @property
    def ordering(self) -> Order:
        """Order by total index."""
        return Order(self.total, self.total_covariance, float(ndtri(0.5 + self.confidence / 2.0)))

    @property
    def order(self) -> tuple[str, ...]:
        """Names by falling total index."""
        return tuple(self.names[i] for i in self.ordering.places)


def sobol_indices(
    model: Model,
    names: Sequence[str],
    *,
    seed: int,
    base_samples: int = 4096,
    groups: Sequence[Sequence[int]] | None = None,
    confidence: float = 0.95,
    second_order: bool = False,
    replicates: int = 1,
    most_replicates: int | None = None,
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
        Independently scrambled designs whose indices are averaged.
    most_replicates : int, optional
        Further designs are added, up to so many in all, until the order of the `leading`
        largest total indices is settled; none unless given.

    Notes
    -----
    Design: A. Saltelli, Comput. Phys. Commun. 145 (2002) 280, on a scrambled Sobol'
    sequence. Estimators: first order of A. Saltelli et al., Comput. Phys. Commun. 181
    (2010) 259, Table 2 (b); total of M. J. W. Jansen, ibid. 117 (1999) 35.
    Intervals: each index is a ratio of two means over the base samples; the variance of
    its linear part gives the normal interval, from the values the index itself uses. They
    read the sequence as independent samples, hence are on the wide side.
    """
    members = _checked(names, groups, base_samples)
    parts: list[_Part] = []
    most = replicates if most_replicates is None else max(replicates, most_replicates)
    for replicate in range(most):
        values = _values(model, members, base_samples, (seed, replicate), second_order)
        parts.append(_analysed(*values))
        found = _pooled(parts, names, base_samples, confidence)
        if len(parts) >= replicates and not found.ordering.unsettled(leading=leading):
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
    least: int = 64,
) -> tuple[SobolIndices, ...]:
    """First and total indices from growing parts of one design: `least`, twice that, ..., all.

    The first 2^m points of a scrambled Sobol' sequence are such a sequence themselves, so
    all sizes come from the model calls of the largest.
    """
    members = _checked(names, groups, base_samples)
    a, b, ab, ba = _values(model, members, base_samples, (seed, 0), False)
    sizes = [least << k for k in range((base_samples // least).bit_length())]
    return tuple(
        _pooled([_analysed(a[:n], b[:n], ab[:, :n], ba)], names, n, confidence)
        for n in sizes or [base_samples]
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Indices of one design, each with the variance or covariance of its linear part."""

    first: Array
    first_variance: Array
    total: Array
    total_covariance: Array
    pairs: Array
    pairs_variance: Array
    variance: float
    model_calls: int


def _analysed(a: Array, b: Array, ab: Array, ba: Array) -> _Part:
    """Indices from the model values of one design."""
    from SALib.analyze import sobol as analysis

    n, k = len(a), len(ab)
    blocks = (a, b, ab, ba)
    size = sum(block.size for block in blocks)
    if not all(np.isfinite(block).all() for block in blocks):
        raise NotFiniteError("a quantity to be ranked came out NaN or infinite")
    mean = sum(float(block.sum()) for block in blocks) / size
    variance = sum(float(np.square(block - mean).sum()) for block in blocks) / size
    if max(float(np.abs(block - a[0]).max(initial=0.0)) for block in blocks) == 0.0:
        raise EstimateError("the quantity does not vary, so its inputs cannot be ranked")
    a, b, ab, ba = ((block - mean) / math.sqrt(variance) for block in blocks)
    middle = 0.5 * float(a.mean() + b.mean())
    square = 0.5 * ((a - middle) ** 2 + (b - middle) ** 2)

    first, first_variance, total = (np.empty(k) for _ in range(3))
    linear = np.empty((k, n))
    for i in range(k):
        step = ab[i] - a
        first[i] = analysis.first_order(a, ab[i], b)
        total[i] = analysis.total_order(a, ab[i], b)
        first_variance[i] = np.var(_linear(b * step, first[i], square)) / n
        linear[i] = _linear(0.5 * step * step, total[i], square)
    chosen = list(combinations(range(k), 2)) if len(ba) else []
    pairs, pairs_variance = np.empty(len(chosen)), np.empty(len(chosen))
    for row, (i, j) in enumerate(chosen):
        pairs[row] = analysis.second_order(a, ab[i], ab[j], ba[i], b)
        joint = ba[i] * ab[j] - a * b - b * (ab[i] + ab[j] - 2.0 * a)
        pairs_variance[row] = np.var(_linear(joint, pairs[row], square)) / n
    covariance = np.atleast_2d(np.cov(linear, bias=True)) / n
    return _Part(first, first_variance, total, covariance, pairs, pairs_variance, variance, size)


def _linear(numerator: Array, ratio: float, denominator: Array) -> Array:
    """Linear part of mean(numerator)/mean(denominator), for each base sample."""
    linear: Array = (numerator - ratio * denominator) / denominator.mean()
    return linear


def _pooled(
    parts: Sequence[_Part], names: Sequence[str], base_samples: int, confidence: float
) -> SobolIndices:
    """Mean over designs, with the normal interval of that mean."""
    r = len(parts)
    quantile = float(ndtri(0.5 + confidence / 2.0))
    first, total, pairs = (
        np.mean([getattr(part, key) for part in parts], axis=0)
        for key in ("first", "total", "pairs")
    )
    first_variance, total_covariance, pairs_variance = (
        np.mean([getattr(part, key) for part in parts], axis=0) / r
        for key in ("first_variance", "total_covariance", "pairs_variance")
    )
    first_half = quantile * np.sqrt(first_variance)
    total_half = quantile * np.sqrt(np.diag(total_covariance))
    pairs_half = quantile * np.sqrt(pairs_variance)
    return SobolIndices(
        tuple(names),
        first,
        first - first_half,
        first + first_half,
        total,
        total - total_half,
        total + total_half,
        total_covariance,
        tuple(
            Pair(pair, float(value), float(value - half), float(value + half))
            for pair, value, half in zip(combinations(names, 2), pairs, pairs_half, strict=False)
        ),
        float(np.mean([part.variance for part in parts])),
        confidence,
        base_samples,
        r,
        sum(part.model_calls for part in parts),
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


def _values(
    model: Model, members: list[list[int]], n: int, key: tuple[int, int], second_order: bool
) -> tuple[Array, Array, Array, Array]:
    """Model values at A (n,), B (n,), A with group i from B (k, n), and B with i from A.

    The points are those of SALib's own design, which fills its table row by row in Python.
    """
    columns = sum(len(member) for member in members)
    seed, replicate = key
    # the first design is the one that SALib makes of the seed
    rng = np.random.default_rng([seed, replicate] if replicate else seed)
    z = sobol_points(n, 2 * columns, rng)
    z_a, z_b = z[:, :columns], z[:, columns:]
    ab = np.empty((len(members), n))
    ba = np.empty((len(members) if second_order else 0, n))
    for i, member in enumerate(members):
        mixed = z_a.copy()
        mixed[:, member] = z_b[:, member]
        ab[i] = _evaluate(model, mixed)
        if second_order:
            mixed = z_b.copy()
            mixed[:, member] = z_a[:, member]
            ba[i] = _evaluate(model, mixed)
    return _evaluate(model, z_a), _evaluate(model, z_b), ab, ba


def _evaluate(model: Model, z: Array) -> Array:
    blocks = range(0, len(z), BLOCK)
    return np.concatenate([model(z[start : start + BLOCK]) for start in blocks])
