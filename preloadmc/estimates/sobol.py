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
from preloadmc.units import Array

Model = Callable[[Array], Array]

_BLOCK = 2**16
_EDGE = 2.0**-53


@dataclass(frozen=True, slots=True)
class Pair:
    """Second-order index of two inputs or groups, with its interval."""

    names: tuple[str, str]
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
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
    pairs: tuple[Pair, ...]
    variance: float
    confidence: float
    base_samples: int
    model_calls: int

    @property
    def order(self) -> tuple[str, ...]:
        """Names by falling total index."""
        return tuple(self.names[i] for i in np.argsort(-self.total, kind="stable"))


def sobol_indices(
    model: Model,
    names: Sequence[str],
    *,
    seed: int,
    base_samples: int = 4096,
    groups: Sequence[Sequence[int]] | None = None,
    confidence: float = 0.95,
    second_order: bool = False,
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
        Power of two; the model is called base_samples·(k + 2) times, or (2 k + 2) times
        for second order, k the number of inputs or groups.
    groups : sequence of sequences of int, optional
        Column numbers of each group: every column in exactly one. Inputs made dependent
        form one group, whose index is exact.

    Notes
    -----
    Design: A. Saltelli, Comput. Phys. Commun. 145 (2002) 280, on a scrambled Sobol'
    sequence. Estimators: first order of A. Saltelli et al., Comput. Phys. Commun. 181
    (2010) 259, Table 2 (b); total of M. J. W. Jansen, ibid. 117 (1999) 35.
    Intervals: each index is a ratio of two means over the base samples; the variance of
    its linear part gives the normal interval, from the values the index itself uses. They
    read the sequence as independent samples, hence are on the wide side.
    """
    members = _members(names, groups)
    if base_samples < 2 or base_samples & (base_samples - 1):
        raise UsageError(f"base samples must be a power of two, given {base_samples}")
    from SALib.analyze import sobol as analysis

    a, b, ab, ba = _values(model, members, base_samples, seed, second_order)
    everything = np.concatenate([a, b, ab.ravel(), ba.ravel()])
    if not np.isfinite(everything).all():
        raise NotFiniteError("a quantity to be ranked came out NaN or infinite")
    if np.ptp(everything) == 0.0:
        raise EstimateError("the quantity does not vary, so its inputs cannot be ranked")
    mean, variance = float(everything.mean()), float(everything.var())
    a, b, ab, ba = ((part - mean) / math.sqrt(variance) for part in (a, b, ab, ba))
    half = float(ndtri(0.5 + confidence / 2.0)) / math.sqrt(base_samples)
    middle = 0.5 * float(a.mean() + b.mean())
    square = 0.5 * ((a - middle) ** 2 + (b - middle) ** 2)

    first, total, first_half, total_half = (np.empty(len(names)) for _ in range(4))
    for i in range(len(names)):
        step = ab[i] - a
        first[i] = analysis.first_order(a, ab[i], b)
        total[i] = analysis.total_order(a, ab[i], b)
        first_half[i] = half * _ratio_sd(b * step, first[i], square)
        total_half[i] = half * _ratio_sd(0.5 * step * step, total[i], square)
    pairs = []
    for i, k in combinations(range(len(names)), 2) if second_order else ():
        value = float(analysis.second_order(a, ab[i], ab[k], ba[i], b))
        joint = ba[i] * ab[k] - a * b - b * (ab[i] + ab[k] - 2.0 * a)
        reach = half * _ratio_sd(joint, value, square)
        pairs.append(Pair((names[i], names[k]), value, value - reach, value + reach))
    return SobolIndices(
        tuple(names),
        first,
        first - first_half,
        first + first_half,
        total,
        total - total_half,
        total + total_half,
        tuple(pairs),
        variance,
        confidence,
        base_samples,
        everything.size,
    )


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
    model: Model, members: list[list[int]], n: int, seed: int, second_order: bool
) -> tuple[Array, Array, Array, Array]:
    """Model values at A (n,), B (n,), A with group i from B (k, n), and B with i from A.

    The points are those of SALib's own design, which fills its table row by row in Python.
    """
    from scipy.stats import qmc

    columns = sum(len(member) for member in members)
    unit = qmc.Sobol(2 * columns, scramble=True, seed=np.random.default_rng(seed)).random(n)
    z = ndtri(np.clip(unit, _EDGE, 1.0 - _EDGE))
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
    blocks = range(0, len(z), _BLOCK)
    return np.concatenate([model(z[start : start + _BLOCK]) for start in blocks])


def _ratio_sd(numerator: Array, ratio: float, denominator: Array) -> float:
    """Standard deviation of the linear part of mean(numerator)/mean(denominator)."""
    return float(np.std(numerator - ratio * denominator) / denominator.mean())
