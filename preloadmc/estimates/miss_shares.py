"""What makes the misses: how far a miss carries each input away from its own law.

The divergence of an input's distribution given a miss from its own law is a property of the
input alone, whatever the order of the columns; it holds for one way to a miss as for several,
and for rare misses as for frequent ones. A share of the variance says none of this.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from preloadmc.errors import EstimateError
from preloadmc.estimates.order import Order
from preloadmc.units import Array

LEAST_EFFECTIVE = 50.0
"""Misses worth fewer equal ones leave shares with intervals as wide as the shares."""
BLOCKS = 20
"""Behind an interval: 19 degrees of freedom, each block still of many misses."""

# Chosen on closed forms of one- and two-sided misses: more knots follow the law closer, and
# overrate its divergence more.
_KNOTS = 8
_OUTER = 0.02  # share of the misses beyond the outermost knots, where the spline is straight
_GRID = 801  # points of the integral of the fitted law
_BEYOND = 2.5  # the grid reaches this far past the misses
_STEPS = 60  # far more than Newton's method takes
_LEAST_DISTINCT = 20  # values, or a law with steps leaves nothing to fit
_TOO_LITTLE = 3.0  # standard errors of the whole divergence


@dataclass(frozen=True, slots=True, eq=False)
class MissShares:
    """What a miss says of each input or group, shape (k,), with intervals.

    `divergence` is that of the distribution given a miss from the own law [nat], `share` its
    part in the sum of all. `mean` and `sd` are those of the input's own normal given a miss,
    0 and 1 where a miss says nothing; NaN for a group of several inputs. Intervals hold
    sampling error only.
    """

    names: tuple[str, ...]
    divergence: Array
    share: Array
    share_low: Array
    share_high: Array
    share_covariance: Array
    mean: Array
    mean_low: Array
    mean_high: Array
    sd: Array
    sd_low: Array
    sd_high: Array
    effective_size: float
    confidence: float
    quantile: float

    @property
    def ordering(self) -> Order:
        """Order by share."""
        return Order(self.share, self.share_covariance, self.quantile)


def miss_shares(
    z: Array,
    weights: Array,
    names: Sequence[str],
    *,
    groups: Sequence[Sequence[int]] | None = None,
    correlation: Array | None = None,
    confidence: float = 0.95,
    blocks: int = BLOCKS,
) -> MissShares:
    """Divergence of each input's distribution given a miss, and its share in their sum.

    Parameters
    ----------
    z : ndarray (n, d)
        Misses, each input by its own standard normal (correlated ones after mixing), in an
        order in which blocks of successive rows are independent of each other.
    weights : ndarray (n,)
        Their weights, which sum to one.
    names : sequence of str
        One per column, or one per group where `groups` is given.
    groups : sequence of sequences of int, optional
        Column numbers of each group, whose joint divergence is taken.
    correlation : ndarray (d, d), optional
        Of the own normals; needed where members of a group are correlated.
    blocks : int
        How many blocks the intervals rest on.

    Raises
    ------
    EstimateError
        There are too few misses to tell, or a miss tells nothing of any input.

    Notes
    -----
    KL(f | φ) = E_f[ln(f/φ)], f the density given a miss, φ the standard normal one (S.
    Kullback, R. A. Leibler, Ann. Math. Statist. 22 (1951) 79). ln(f/φ) is a natural cubic
    spline with knots at quantiles of the misses, fitted by maximum likelihood (C. J. Stone,
    Ann. Statist. 18 (1990) 717). The maximum overrates the divergence by half the trace of
    the inverse information times the covariance of the score (K. Takeuchi, Suri-Kagaku 153
    (1976) 12), which is taken off. Intervals: Student's t on the linear parts of the
    estimates, summed by blocks.

    A group's normals are made independent and turned to the principal axes of their second
    moment; its divergence is the sum over these axes and what correlation of the axes given
    a miss adds. That is exact where the group acts through one linear combination.
    """
    members = [[i] for i in range(len(names))] if groups is None else [list(g) for g in groups]
    effective = float(1.0 / np.sum(weights * weights)) if len(weights) else 0.0
    if effective < LEAST_EFFECTIVE:
        raise EstimateError(
            f"only {effective:.0f} effective misses, where {LEAST_EFFECTIVE:.0f} are needed to say "
            "what dominates them"
        )
    sums = _BlockSums(weights, blocks)
    fits = [
        _group_fit(z[:, member], weights, sums, _within(correlation, member)) for member in members
    ]
    divergence = np.array([max(fit.divergence, 0.0) for fit in fits])
    linear = np.stack([fit.linear for fit in fits])
    variance = np.array([fit.second_order for fit in fits])
    whole = float(divergence.sum())
    errors = sums.covariance(linear) + np.diag(variance)
    if whole <= _TOO_LITTLE * math.sqrt(errors.sum()):
        raise EstimateError("a miss says nothing of any input: its law is the same without one")
    t = float(stdtrit(blocks - 1, 0.5 + confidence / 2.0))
    share = divergence / whole
    # Of a share in the sum: its own divergence raises it, every divergence in the sum lowers it.
    gradient = (np.eye(len(names)) - share[:, None]) / whole
    covariance = gradient @ errors @ gradient.T
    share_half = t * np.sqrt(np.diag(covariance))
    mean, sd, mean_half, sd_half = (np.full(len(names), np.nan) for _ in range(4))
    for i, member in enumerate(members):
        if len(member) == 1:
            column = z[:, member[0]]
            mean[i] = weights @ column
            away = column - mean[i]
            sd[i] = math.sqrt(weights @ (away * away))
            mean_half[i] = t * math.sqrt(sums.variance(away))
            sd_half[i] = t * math.sqrt(sums.variance(away * away - sd[i] ** 2)) / (2.0 * sd[i])
    return MissShares(
        tuple(names),
        divergence,
        share,
        np.maximum(share - share_half, 0.0),
        np.minimum(share + share_half, 1.0),
        covariance,
        mean,
        mean - mean_half,
        mean + mean_half,
        sd,
        np.maximum(sd - sd_half, 0.0),
        sd + sd_half,
        effective,
        confidence,
        t,
    )


class _BlockSums:
    """Variance of weighted sums, from sums over blocks of successive rows."""

    def __init__(self, weights: Array, blocks: int) -> None:
        self.weights = weights
        self.starts = np.arange(blocks) * len(weights) // blocks

    def __call__(self, values: Array) -> Array:
        """Weighted sums of each block, shape (..., blocks), of values, shape (..., n)."""
        sums: Array = np.add.reduceat(values * self.weights, self.starts, axis=-1)
        return sums

    def covariance(self, values: Array) -> Array:
        """Covariance, shape (k, k), of weighted means of values, shape (k, n), of mean zero."""
        sums = self(values)
        covariance: Array = np.atleast_2d(np.cov(sums)) * sums.shape[-1]
        return covariance

    def variance(self, values: Array) -> Array:
        """Variance, shape (...), of weighted means of values, shape (..., n), of mean zero."""
        sums = self(values)
        variance: Array = sums.var(axis=-1, ddof=1) * sums.shape[-1]
        return variance


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """A divergence, its linear part at each miss, and the variance beyond the linear part."""

    divergence: float
    linear: Array
    second_order: float


def _within(correlation: Array | None, member: list[int]) -> Array:
    return np.eye(len(member)) if correlation is None else correlation[np.ix_(member, member)]


def _group_fit(z: Array, weights: Array, sums: _BlockSums, correlation: Array) -> _Fit:
    """Fit one input, or a group along the principal axes of its second moment."""
    m = z.shape[1]
    if m == 1:
        return _spline_fit(z[:, 0], weights, sums)
    free = np.linalg.solve(np.linalg.cholesky(correlation), z.T)
    _, axes = np.linalg.eigh((free * weights) @ free.T)
    turned = axes.T @ free
    fits = [_spline_fit(row, weights, sums) for row in turned]
    away = turned - (turned @ weights)[:, None]
    covariance = (away * weights) @ away.T
    variances = np.diag(covariance)
    together = 0.5 * float(np.log(variances).sum() - np.linalg.slogdet(covariance)[1])
    # a sample of n sees this much more of each pair of axes than there is
    chance = 0.25 * m * (m - 1) * float(np.sum(weights * weights))
    of_pairs = 0.5 * (
        (away * away / variances[:, None]).sum(axis=0)
        - (away * np.linalg.solve(covariance, away)).sum(axis=0)
    )
    return _Fit(
        sum(fit.divergence for fit in fits) + together - chance,
        sum((fit.linear for fit in fits), of_pairs),
        sum(fit.second_order for fit in fits),
    )


def _spline_fit(z: Array, weights: Array, sums: _BlockSums) -> _Fit:
    """Fit ln(f/φ) to the misses of one normal; its maximum likelihood is the divergence."""
    knots = _knots(z, weights)
    at_misses = _natural_spline(z, knots)
    mean = (at_misses @ weights)[:, None]
    at_misses -= mean
    # in a basis of mean zero and covariance one over the misses
    whiten = np.linalg.inv(np.linalg.cholesky((at_misses * weights) @ at_misses.T))
    at_misses = whiten @ at_misses
    points = np.linspace(z.min() - _BEYOND, z.max() + _BEYOND, _GRID)
    on_grid = whiten @ (_natural_spline(points, knots) - mean)
    log_normal = -0.5 * points * points - 0.5 * math.log(2.0 * math.pi)
    log_normal += math.log(points[1] - points[0])

    def density(theta: Array) -> tuple[float, Array]:
        log = log_normal + theta @ on_grid
        top = float(log.max())
        shares = np.exp(log - top)
        whole = float(shares.sum())
        return top + math.log(whole), shares / whole

    theta = _normal_start(z, weights, at_misses)
    log_norm, shares = density(theta)
    for _ in range(_STEPS):
        gradient = on_grid @ shares
        away = on_grid - gradient[:, None]
        information = (away * shares) @ away.T
        step = np.linalg.solve(information, gradient)
        gain = float(gradient @ step)
        if gain < 1e-10:
            break
        length = 1.0
        trial, trial_shares = density(theta - step)
        while trial > log_norm - 0.25 * length * gain:
            length *= 0.5
            trial, trial_shares = density(theta - length * step)
        theta = theta - length * step
        log_norm, shares = trial, trial_shares
    else:
        raise EstimateError("the law of an input given a miss could not be fitted")
    excess = np.linalg.solve(information, sums.covariance(at_misses))
    return _Fit(
        -log_norm - 0.5 * float(np.trace(excess)),
        theta @ at_misses,
        0.5 * float(np.trace(excess @ excess)),
    )


def _normal_start(z: Array, weights: Array, basis: Array) -> Array:
    """Coefficients, shape (k,), of the spline nearest to ln(f/φ) of a normal f."""
    mean = float(weights @ z)
    variance = float(weights @ (z - mean) ** 2)
    log_ratio = 0.5 * z * z - 0.5 * (z - mean) ** 2 / variance
    start: Array = basis @ (weights * log_ratio)
    return start


def _knots(z: Array, weights: Array) -> Array:
    """Knots at quantiles of the misses; those that nearly coincide count once."""
    order = np.argsort(z, kind="stable")
    if np.count_nonzero(np.diff(z[order])) < _LEAST_DISTINCT:
        raise EstimateError("the misses hardly differ, so what dominates them cannot be told")
    below = np.cumsum(weights[order]) - 0.5 * weights[order]
    knots = np.interp(np.linspace(_OUTER, 1.0 - _OUTER, _KNOTS), below, z[order])
    apart = np.diff(knots, prepend=-np.inf) > 0.01 * (knots[-1] - knots[0])
    distinct: Array = knots[apart]
    return distinct


def _natural_spline(z: Array, knots: Array) -> Array:
    """Natural cubic splines without the constant, shape (knots - 1, n)."""
    span = knots[-1] - knots[0]
    past = np.maximum((z - knots[:, None]) / span, 0.0)
    cubes = past * past * past
    scaled = cubes[:-1] - cubes[-1]
    scaled *= (span / (knots[-1] - knots[:-1]))[:, None]
    spline = np.empty((len(knots) - 1, len(z)))
    spline[0] = (z - knots[0]) / span
    np.subtract(scaled[:-1], scaled[-1], out=spline[1:])
    return spline
