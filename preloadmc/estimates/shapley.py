"""Shapley shares of a variance: one share for each input, dependent or not, that sum to one.

Where inputs depend on each other, a part of the variance belongs to several of them in any
order; the Shapley share is the mean over all orders of what an input adds to those before it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from preloadmc.errors import EstimateError, NotFiniteError
from preloadmc.estimates.order import Order
from preloadmc.estimates.sobol_points import sobol_points
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
        return Order(self.share, self.covariance, float(ndtri(0.5 + self.confidence / 2.0)))


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
        A power of two: random orders, each also walked backwards; one calls the model
        2 k + 1 times for k inputs or groups.
    groups : sequence of sequences of int, optional
        Column numbers of each group: every column in exactly one.

    Notes
    -----
    An input's worth to those before it in an order is what redrawing it too, given those not
    redrawn, adds to E[Var(Y | not redrawn)]: E. Song, B. L. Nelson, J. Staum, SIAM/ASA J.
    Uncertainty Quantification 4 (2016) 1060, eq. 8 and theorem 1. With Y of a sample and Y_j
    after j of the order were redrawn, that is the mean of
    (Y - (Y_j + Y_(j-1))/2)(Y_(j-1) - Y_j): T. Goda, Reliab. Eng. Syst. Saf. 213 (2021)
    107702, algorithm 1, here with the redrawn numbers conditional on the others. Numbers are
    points of a scrambled Sobol' sequence. Intervals: the share is a ratio of means; normal,
    from the covariance of its linear part. They read the sequence as independent samples,
    hence are on the wide side.
    """
    d = len(correlation)
    members = [[i] for i in range(d)] if groups is None else [list(group) for group in groups]
    redraw = _Redraw(correlation)
    points = sobol_points(samples, 2 * d, rng)
    worth = np.concatenate(
        [
            _added(model, members, redraw, points[start : start + _BLOCK], rng)
            for start in range(0, samples, _BLOCK)
        ]
    )
    if not np.isfinite(worth).all():
        raise NotFiniteError("a quantity to be ranked came out NaN or infinite")
    mean = worth.mean(axis=0)
    variance = float(mean.sum())
    if variance <= 0.0:
        raise EstimateError("the quantity does not vary, so its inputs cannot be ranked")
    share = mean / variance
    linear = (worth - np.outer(worth.sum(axis=1), share)) / variance
    covariance = np.atleast_2d(np.cov(linear, rowvar=False)) / len(worth)
    half = float(ndtri(0.5 + confidence / 2.0)) * np.sqrt(np.diag(covariance))
    return ShapleyShares(
        tuple(names),
        share,
        share - half,
        share + half,
        covariance,
        variance,
        confidence,
        len(worth),
        len(worth) * (2 * len(members) + 1),
    )


def _added(
    model: Callable[[Array], Array],
    members: list[list[int]],
    redraw: _Redraw,
    points: Array,
    rng: np.random.Generator,
) -> Array:
    """What each input or group adds, shape (n, k), mean of an order and its reverse."""
    n, d, k = len(points), redraw.d, len(members)
    owner = np.empty(d, dtype=np.intp)
    for i, member in enumerate(members):
        owner[member] = i
    z, fresh = points[:, :d], points[:, d:]
    own, whole = redraw.own_normals(z), model(z)
    order = rng.permuted(np.tile(np.arange(k), (n, 1)), axis=1)
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
    return worth


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
