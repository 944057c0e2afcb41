"""Shapley shares of a variance: one share for each input, dependent or not, that sum to one.

Where inputs depend on each other, a part of the variance belongs to several of them in any
order; the Shapley share is the mean over all orders of what an input adds to those before it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.errors import EstimateError, NotFiniteError, UsageError
from preloadmc.estimates.order import Order
from preloadmc.estimates.sobol_points import (
    REPLICATES,
    ratios_of_replicates,
    sobol_sequence,
    student_quantile,
)
from preloadmc.units import Array

# Points redrawn at once: their intermediate arrays fit a processor's cache.
_BLOCK = 2**14


@dataclass(frozen=True, slots=True, eq=False)
class ShapleyShares:
    """Share of each input or group in the variance, shape (k,); they sum to one."""

    names: tuple[str, ...]
    share: Array
    low: Array
    high: Array
    covariance: Array
    variance: float
    confidence: float
    samples: int
    model_calls: int

    @property
    def ordering(self) -> Order:
        """Order by share."""
        quantile = student_quantile(REPLICATES, self.confidence)
        return Order(self.share, self.covariance, quantile)


def shapley_shares(
    model: Callable[[Array], Array],
    names: Sequence[str],
    correlation: Array,
    *,
    rng: np.random.Generator,
    samples: int = 2**15,
    groups: Sequence[Sequence[int]] | None = None,
    confidence: float = 0.95,
) -> ShapleyShares:
    """Shapley shares of a model of normals that a Gaussian copula makes dependent.

    Parameters
    ----------
    model : callable
        From independent standard normals z, shape (n, d), to values, shape (n,). The inputs'
        own normals are ``L z``, L the Cholesky factor of `correlation`.
    names : sequence of str
        One per column, or one per group where `groups` is given.
    correlation : ndarray (d, d)
        Of the own normals.
    samples : int
        A power of two, at least 16: random orders, each also walked backwards; one calls the
        model 2 k + 1 times for k inputs or groups.
    groups : sequence of sequences of int, optional
        Column numbers of each group: every column in exactly one.

    Notes
    -----
    An input's worth to those before it in an order is what redrawing it too, given those not
    redrawn, adds to E[Var(Y | not redrawn)]: E. Song, B. L. Nelson, J. Staum, SIAM/ASA J.
    Uncertainty Quantification 4 (2016) 1060, eq. 8 and theorem 1. With Y of a sample and Y_j
    after j of the order were redrawn, that is the mean of
    (Y - (Y_j + Y_(j-1))/2)(Y_(j-1) - Y_j): T. Goda, Reliab. Eng. Syst. Saf. 213 (2021)
    107702, algorithm 1, here with the redrawn numbers conditional on the others. Numbers and
    orders are points of scrambled Sobol' sequences. Intervals: the share is a ratio of means;
    Student's, from its scatter between independent scrambles.
    """
    d = len(correlation)
    members = [[i] for i in range(d)] if groups is None else [list(group) for group in groups]
    each = samples // REPLICATES
    if each < 2 or samples & (samples - 1):
        raise UsageError(f"samples must be a power of two from 16 on, given {samples}")
    redraw = _Redraw(correlation)
    worth = np.empty((REPLICATES, len(members)))
    size = 0.0
    for row in worth:
        following = sobol_sequence(2 * d + len(members), rng)
        blocks = range(0, each, _BLOCK)
        added = [_added(model, members, redraw, following(min(_BLOCK, each))) for _ in blocks]
        row[:] = np.mean([block.mean(axis=0) for block, _ in added], axis=0)
        size = max(size, *(largest for _, largest in added))
    if not np.isfinite(worth).all():
        raise NotFiniteError("a quantity to be ranked came out NaN or infinite")
    variance = float(worth.mean(axis=0).sum())
    if variance <= 0.0:
        raise EstimateError("the quantity does not vary, so its inputs cannot be ranked")
    magnitude = size / math.sqrt(variance)
    share, covariance = ratios_of_replicates(worth, worth.sum(axis=1), magnitude)
    half = student_quantile(REPLICATES, confidence) * np.sqrt(np.diag(covariance))
    return ShapleyShares(
        tuple(names),
        share,
        share - half,
        share + half,
        covariance,
        variance,
        confidence,
        samples,
        samples * (2 * len(members) + 1),
    )


def _added(
    model: Callable[[Array], Array],
    members: list[list[int]],
    redraw: _Redraw,
    points: Array,
) -> tuple[Array, float]:
    """What each input or group adds, shape (n, k), mean of an order and its reverse.

    Also the size of the largest value, which says how far they are rounded.
    """
    n, d, k = len(points), redraw.d, len(members)
    owner = np.empty(d, dtype=np.intp)
    for i, member in enumerate(members):
        owner[member] = i
    z, fresh = points[:, 0 : 2 * d : 2], points[:, 1 : 2 * d : 2]
    own, whole = redraw.own_normals(z), model(z)
    # Independent numbers are in any order with the same probability.
    order = np.argsort(points[:, 2 * d :], axis=1)
    worth = np.zeros((n, k))
    rows = np.arange(n)
    for direction in (order, order[:, ::-1]):
        redrawn = np.zeros((n, k), dtype=bool)
        before = whole
        for j in range(k):
            redrawn[rows, direction[:, j]] = True
            after = model(redraw(own, fresh, redrawn[:, owner]))
            gain = (whole - 0.5 * (after + before)) * (before - after)
            worth[rows, direction[:, j]] += 0.5 * gain
            before = after
    return worth, float(np.abs(whole).max())


class _Redraw:
    """Normals of a Gaussian copula, some of them drawn again given the others."""

    def __init__(self, correlation: Array) -> None:
        self.d = len(correlation)
        self.correlation = correlation
        self.factor = np.linalg.cholesky(correlation)
        self.tied = np.flatnonzero(np.count_nonzero(correlation, axis=1) > 1)

    def own_normals(self, z: Array) -> Array:
        """Own normals, shape (n, d), of independent ones."""
        own: Array = z @ self.factor.T
        return own

    def __call__(self, own: Array, fresh: Array, redrawn: Array) -> Array:
        """Independent normals, shape (n, d), of the own ones after redrawing.

        Parameters
        ----------
        own : ndarray (n, d)
            Own normals.
        fresh : ndarray (n, d)
            New independent numbers to draw with.
        redrawn : ndarray (n, d) of bool
            Which are drawn again.
        """
        changed = np.where(redrawn, fresh, own)
        tied = self.tied
        if not tied.size:
            return changed
        # Rows that redraw the same members share a conditional law: a pattern is a number in bits.
        patterns = redrawn[:, tied] @ (1 << np.arange(tied.size))
        for pattern in np.unique(patterns):
            rows = np.flatnonzero(patterns == pattern)
            again = redrawn[rows[0], tied]
            new, kept = tied[again], tied[~again]
            slope, spread = self._conditional(new, kept)
            changed[np.ix_(rows, new)] = (
                own[np.ix_(rows, kept)] @ slope.T + fresh[np.ix_(rows, new)] @ spread.T
            )
        block = self.factor[np.ix_(tied, tied)]
        changed[:, tied] = np.linalg.solve(block, changed[:, tied].T).T
        return changed

    def _conditional(self, new: Array, kept: Array) -> tuple[Array, Array]:
        """Slope on the kept and Cholesky factor of the new, given the kept."""
        across = self.correlation[np.ix_(new, kept)]
        slope = np.linalg.solve(self.correlation[np.ix_(kept, kept)], across.T).T
        left = self.correlation[np.ix_(new, new)] - slope @ across.T
        return slope, np.linalg.cholesky(left)
