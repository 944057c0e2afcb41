"""Probabilities of many rows at once by importance sampling around their design points.

Draws follow the tangent planes of a row's design points: standard normal along the plane, two-sided
exponential across it (`mixture.AlongSurface` without curvature), and a share of them the inputs' own
law. All events of a row are judged on the same draws.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import ndtr

from preloadmc.estimates.importance import BATCHES
from preloadmc.estimates.row_search import RowFunction, RowPoints, Rows
from preloadmc.units import Array

# Share of the inputs' own law, of draws short of the surface; as in `mixture`.
_STANDARD, _SHORT = 0.15, 0.4
_ROOT_2PI = math.sqrt(2.0 * math.pi)
# A design point nearer than this is where the inputs' own law draws enough itself.
_NEAREST = 1.0
# Points so much rarer than the nearest of their event add nothing that is resolved.
_NEGLIGIBLE = 1e-3


@dataclass(frozen=True, slots=True)
class RowMixture:
    """Tangent planes of each row, padded: ``direction`` (r, c, d), ``beta`` and ``share`` (r, c).

    What the shares leave to one is the inputs' own law.
    """

    direction: Array
    beta: Array
    share: Array

    def sample(self, row: Rows, rng: Generator) -> Array:
        """Draw z (n, d) for the rows (n,)."""
        n, d = len(row), self.direction.shape[2]
        z = rng.standard_normal((n, d))
        u = rng.random(n)
        which = (np.cumsum(self.share, axis=1)[row] <= u[:, None]).sum(axis=1)
        drawn = np.flatnonzero(which < self.share.shape[1])
        own, place = row[drawn], which[drawn]
        direction, beta = self.direction[own, place], self.beta[own, place]
        beyond = rng.exponential(1.0, len(drawn)) / beta
        beyond *= np.where(rng.random(len(drawn)) < _SHORT, -1.0, 1.0)
        along = np.einsum("nd,nd->n", z[drawn], direction)
        z[drawn] += (beta + beyond - along)[:, None] * direction
        return z

    def weights(self, z: Array, row: Rows) -> Array:
        """Return the density of the inputs' own law over that of the mixture (n,)."""
        density = (1.0 - self.share.sum(axis=1))[row]
        for place in range(self.share.shape[1]):
            share, beta = self.share[row, place], self.beta[row, place]
            along = np.einsum("nd,nd->n", z, self.direction[row, place])
            beyond = along - beta
            log = 0.5 * along * along - beta * np.abs(beyond)
            side = np.where(beyond < 0.0, _SHORT, 1.0 - _SHORT)
            density += share * side * beta * _ROOT_2PI * np.exp(np.minimum(log, 700.0))
        return 1.0 / density


def row_mixture(
    points: RowPoints, rows: int, d: int, events: Sequence[Sequence[int]]
) -> RowMixture:
    """Return what to draw from: each event of a row has the same share, however rare."""
    useful = (points.beta > _NEAREST) & (points.beta < np.inf)
    row, column, beta = points.row[useful], points.column[useful], points.beta[useful]
    direction = points.direction[useful]
    chance = ndtr(-beta)
    share = np.zeros(len(row))
    for columns in events:
        of_event = np.isin(column, columns)
        most = np.zeros(rows)
        np.maximum.at(most, row[of_event], chance[of_event])
        counted = of_event & (chance > _NEGLIGIBLE * most[row])
        total = np.zeros(rows)
        np.add.at(total, row[counted], np.sqrt(chance[counted]))
        share[counted] += np.sqrt(chance[counted]) / total[row[counted]]
    kept = share > 0.0
    row, beta, direction, share = row[kept], beta[kept], direction[kept], share[kept]
    total = np.zeros(rows)
    np.add.at(total, row, share)
    share = (1.0 - _STANDARD) * share / total[row]
    order = np.argsort(row, kind="stable")
    row, beta, direction, share = row[order], beta[order], direction[order], share[order]
    first = np.searchsorted(row, np.arange(rows))
    place = np.arange(len(row)) - first[row]
    most_places = int(place.max(initial=-1)) + 1
    padded = RowMixture(
        np.zeros((rows, most_places, d)),
        np.ones((rows, most_places)),
        np.zeros((rows, most_places)),
    )
    padded.direction[row, place] = direction
    padded.beta[row, place] = beta
    padded.share[row, place] = share
    return padded


@dataclass(frozen=True, slots=True)
class RowCounts:
    """Weighted misses by row, event and batch: means (r, e, b), and of each draw.

    ``square`` and ``most`` (r, e) are the sum of squared weights and the largest weight,
    ``total`` their sum; ``draws`` how many a row has.
    """

    means: Array
    total: Array
    square: Array
    most: Array
    draws: int

    @property
    def value(self) -> Array:
        """Return the probabilities (r, e)."""
        value: Array = self.means.mean(axis=2)
        return value

    @property
    def cov(self) -> Array:
        """Return coefficients of variation (r, e): the larger of that by batches and by draws."""
        value, n = self.value, self.draws
        with np.errstate(divide="ignore", invalid="ignore"):
            by_batch = self.means.std(axis=2, ddof=1) / math.sqrt(self.means.shape[2]) / value
            mean_square = self.square / n
            by_draw = np.sqrt(np.maximum(mean_square - value**2, 0.0) / n) / value
        return np.where(value > 0.0, np.maximum(by_batch, by_draw), np.inf)

    @property
    def effective(self) -> Array:
        """Return the effective sample size of the misses (r, e)."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.square > 0.0, self.total**2 / self.square, 0.0)

    @property
    def largest(self) -> Array:
        """Return the share of the heaviest miss (r, e)."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.total > 0.0, self.most / self.total, 1.0)


def row_counts(
    margins: RowFunction,
    mixture: RowMixture,
    events: Sequence[Sequence[int]],
    *,
    per_batch: int,
    rng: Generator,
) -> RowCounts:
    """Draw for every row, and count each event's weighted misses.

    The draws of all rows come from one stream: which rows are taken together changes them, not
    what they are draws of.
    """
    rows = len(mixture.share)
    n = BATCHES * per_batch
    row = np.repeat(np.arange(rows), n)
    z = mixture.sample(row, rng)
    weights = mixture.weights(z, row)
    missed = margins(z, row) < 0.0
    shape = rows, BATCHES, per_batch
    parts = []
    for columns in events:
        part = np.where(missed[:, columns].any(axis=1), weights, 0.0).reshape(shape)
        parts.append(part)
    stacked = np.stack(parts, axis=1)  # rows, events, batches, draws
    return RowCounts(
        stacked.mean(axis=3),
        stacked.sum(axis=(2, 3)),
        (stacked**2).sum(axis=(2, 3)),
        stacked.max(axis=(2, 3)),
        n,
    )


def resolved(counts: RowCounts, precision: float) -> NDArray[np.bool_]:
    """Return which probabilities (r, e) have an interval so narrow, and weights to trust."""
    return (counts.cov * 2.13 < precision) & (counts.effective >= 20.0) & (counts.largest < 0.1)
