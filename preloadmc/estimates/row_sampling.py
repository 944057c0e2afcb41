"""Probabilities of many rows at once by importance sampling around their design points.

Draws follow the tangent planes of a row's design points: standard normal along the plane, two-sided
exponential across it (`mixture.AlongSurface` without curvature), and a share of them the inputs'
own law. All events of a row are judged on the same draws, which come from a stream of the row's
own: which rows are taken together changes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import ndtr, stdtrit

from preloadmc.estimates.importance import BATCHES
from preloadmc.estimates.row_search import Events, RowFunction, RowPoints, Rows
from preloadmc.units import Array

CONFIDENCE = 0.95
QUANTILE = float(stdtrit(BATCHES - 1, 0.5 + CONFIDENCE / 2.0))
# As for one case, in `importance`.
LEAST_EFFECTIVE, LARGEST_SHARE = 20.0, 0.1
# Share of the inputs' own law, of draws short of the surface, and how much slower those thin out:
# they reach misses where the surface bends towards the median.
_STANDARD, _SHORT, _SLOWER = 0.15, 0.4, 0.5
_ROOT_2PI = math.sqrt(2.0 * math.pi)
# A design point nearer than this is where the inputs' own law draws enough itself.
_NEAREST = 1.0
# Points so much rarer than the nearest of their event add nothing that is resolved.
_NEGLIGIBLE = 1e-3
# Points are rounded to this step: what differs in the last digits between one row alone and the
# same among others does not reach the draws.
_STEP = 2.0**-20
# Draws that plan the others, then the fewest and the most of a row that its probabilities rest on:
# with fewer the scatter of their weights is hardly known, with more the estimator of one case is as
# quick.
PILOT, FEWEST, MOST = 128, 512, 16_384
# Draws of all rows that are evaluated at a time.
_AT_A_TIME = 2**16
# From here on misses are common.
_COMMON = 0.1
# Draws in reserve, since the scatter of the pilot's is hardly known.
_RESERVE = 1.3


@dataclass(frozen=True, slots=True)
class RowMixture:
    """Tangent planes of each row, padded: ``direction`` (r, c, d), ``beta`` and ``share`` (r, c).

    What the shares leave to one is the inputs' own law.
    """

    direction: Array
    beta: Array
    share: Array

    @property
    def shares(self) -> Array:
        """Return the sums of shares up to each place (r, c)."""
        shares: Array = np.cumsum(self.share, axis=1)
        return shares

    def sample(self, row: Rows, z: Array, u: Array) -> Array:
        """Return draws (n, d) of the rows (n,) from normal (n, d) and uniform (n, 3) numbers."""
        which = (self.shares[row] <= u[:, :1]).sum(axis=1)
        drawn = np.flatnonzero(which < self.share.shape[1])
        own, place = row[drawn], which[drawn]
        direction, beta = self.direction[own, place], self.beta[own, place]
        beyond = -np.log1p(-u[drawn, 1]) / beta
        beyond *= np.where(u[drawn, 2] < _SHORT, -1.0 / _SLOWER, 1.0)
        along = np.einsum("nd,nd->n", z[drawn], direction)
        z[drawn] += (beta + beyond - along)[:, None] * direction
        return z

    def weights(self, z: Array, row: Rows) -> Array:
        """Return the density of the inputs' own law over that of the mixture (n,)."""
        # Summed in order: places that pad a row change no digit.
        density = (1.0 - self.shares[:, -1])[row] if self.shares.shape[1] else np.ones(len(z))
        for place in range(self.share.shape[1]):
            share, beta = self.share[row, place], self.beta[row, place]
            along = np.einsum("nd,nd->n", z, self.direction[row, place])
            beyond = along - beta
            rate = np.where(beyond < 0.0, -_SLOWER * beta, beta)
            side = np.where(beyond < 0.0, _SHORT * _SLOWER, 1.0 - _SHORT)
            log = 0.5 * along * along - rate * beyond
            density += share * side * beta * _ROOT_2PI * np.exp(np.minimum(log, 700.0))
        return 1.0 / density


def row_mixture(points: RowPoints, rows: int, d: int, events: Events) -> RowMixture:
    """Return what to draw from: each event of a row has the same share, however rare."""
    row, column, beta = points.row, points.column, np.round(points.beta / _STEP) * _STEP
    direction = np.round(points.direction / _STEP) * _STEP
    direction = direction / np.linalg.norm(direction, axis=1, keepdims=True)
    useful = beta > _NEAREST
    chance = ndtr(-beta)
    share, common = np.zeros(len(row)), np.zeros(rows)
    for columns in events:
        of_event = np.isin(column, columns)
        most = np.zeros(rows)
        np.maximum.at(most, row[of_event], chance[of_event])
        counted = of_event & useful & (chance > _NEGLIGIBLE * most[row])
        total = np.zeros(rows)
        np.add.at(total, row[counted], np.sqrt(chance[counted]))
        share[counted] += np.sqrt(chance[counted]) / total[row[counted]]
        # An event without such a point that is missed often: its draws are the inputs' own.
        common += (most > 0.0) & (total == 0.0)
    kept = share > 0.0
    row, beta, direction, share = row[kept], beta[kept], direction[kept], share[kept]
    total = common.copy()
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


class RowCounts:
    """Weighted misses by row and event, of as many draws as each row has.

    ``by_batch`` (r, e, b) are sums of weights, ``square`` and ``most`` (r, e) the sum of their
    squares and the largest; ``first`` and ``second`` (r, k, d) the weighted sums of the draws and
    of their squares, of the events that are ``followed`` (k,); ``draws`` (r,). ``finite`` (r,) says
    whether all margins were.
    """

    def __init__(self, rows: int, events: int, d: int, followed: Sequence[int] = ()) -> None:
        self.by_batch = np.zeros((rows, events, BATCHES))
        self.square = np.zeros((rows, events))
        self.most = np.zeros((rows, events))
        self.followed = tuple(followed)
        self.first = np.zeros((rows, len(self.followed), d))
        self.second = np.zeros((rows, len(self.followed), d))
        self.d = d
        self.draws = np.zeros(rows, dtype=np.intp)
        self.finite = np.ones(rows, dtype=bool)

    @property
    def total(self) -> Array:
        """Return the sums of weights (r, e)."""
        total: Array = self.by_batch.sum(axis=2)
        return total

    @property
    def value(self) -> Array:
        """Return the probabilities (r, e)."""
        value: Array = self.total / np.maximum(self.draws, 1)[:, None]
        return value

    @property
    def cov(self) -> Array:
        """Return coefficients of variation (r, e): the larger of that by batches and by draws."""
        value, n = self.value, np.maximum(self.draws, 1)[:, None]
        means = self.by_batch * (BATCHES / n[:, :, None])
        with np.errstate(divide="ignore", invalid="ignore"):
            by_batch = means.std(axis=2, ddof=1) / math.sqrt(BATCHES) / value
            by_draw = np.sqrt(np.maximum(self.square / n - value**2, 0.0) / n) / value
        return np.where(value > 0.0, np.maximum(by_batch, by_draw), np.inf)

    @property
    def trusted(self) -> NDArray[np.bool_]:
        """Return where the weights of the misses are to be trusted (r, e)."""
        total = self.total
        with np.errstate(divide="ignore", invalid="ignore"):
            effective = np.where(total > 0.0, total**2 / self.square, 0.0)
            largest = np.where(total > 0.0, self.most / total, 1.0)
        return (effective >= LEAST_EFFECTIVE) & (largest <= LARGEST_SHARE)

    def add(self, rows: Rows, draws: Rows, hit: Rows, z: Array, weighted: Array) -> None:
        """Add the misses among draws of rows, one row after the other.

        Sums run in the order of a row's draws, whichever rows are beside it.

        Parameters
        ----------
        rows, draws : ndarray of int (k,)
            The rows, each once, and how many draws each has.
        hit : ndarray of int (n,)
            Which of all draws miss anything.
        z, weighted : ndarray (n, d), (n, e)
            Those draws, and the weight of each event that they miss, else zero.
        """
        batch = np.repeat(np.arange(len(rows) * BATCHES), np.repeat(draws // BATCHES, BATCHES))[hit]
        row = batch // BATCHES
        for event, weight in enumerate(weighted.T):
            own = np.flatnonzero(weight)
            w, of_row = weight[own], row[own]
            by_batch = np.bincount(batch[own], w, len(rows) * BATCHES)
            self.by_batch[rows, event] += by_batch.reshape(-1, BATCHES)
            self.square[rows, event] += np.bincount(of_row, w * w, len(rows))
            most = np.zeros(len(rows))
            np.maximum.at(most, of_row, w)
            self.most[rows, event] = np.maximum(self.most[rows, event], most)
            if event not in self.followed:
                continue
            place = self.followed.index(event)
            for column, values in enumerate(z[own].T):
                carried = w * values
                self.first[rows, place, column] += np.bincount(of_row, carried, len(rows))
                carried *= values
                self.second[rows, place, column] += np.bincount(of_row, carried, len(rows))
        self.draws[rows] += draws


class RowSampling:
    """Weighted misses of rows, by draws of their mixtures.

    Parameters
    ----------
    margins : callable
        From z (n, d) and the rows (n,), in order, to margins (n, m).
    mixture : RowMixture
        What to draw from.
    events : sequence of ndarray of int
        The columns of each event.
    generators : sequence of numpy.random.Generator
        The stream of each row.
    own_normals : callable
        From z (n, d) to the inputs' own normal numbers (n, d), whose sums are counted.
    followed : sequence of int
        Events whose sums of draws are counted: they tell what dominates them.
    """

    def __init__(
        self,
        margins: RowFunction,
        mixture: RowMixture,
        events: Events,
        generators: Sequence[Generator],
        own_normals: Callable[[Array], Array],
        followed: Sequence[int] = (),
    ) -> None:
        self._margins, self._mixture, self._events = margins, mixture, events
        self._generators, self._own_normals = generators, own_normals
        self._followed = followed
        self.counts = self._none()

    def _none(self) -> RowCounts:
        rows, _, d = self._mixture.direction.shape
        return RowCounts(rows, len(self._events), d, self._followed)

    def draw(self, rows: Rows, draws: Rows) -> None:
        """Draw so often for each of some rows (k,), whole numbers for each batch; add to counts."""
        for part in _parts(draws):
            own, many = rows[part], draws[part]
            row = np.repeat(own, many)
            each = [(self._generators[r], n) for r, n in zip(own, many, strict=True)]
            z = np.concatenate([rng.standard_normal((n, self.counts.d)) for rng, n in each])
            u = np.concatenate([rng.random((n, 3)) for rng, n in each])
            z = self._mixture.sample(row, z, u)
            block = self._margins(z, row)
            self.counts.finite[row[~np.isfinite(block).all(axis=1)]] = False
            below = block < 0.0
            missed = np.stack([below[:, columns].any(axis=1) for columns in self._events], axis=1)
            hit = np.flatnonzero(missed.any(axis=1))
            z, missed = z[hit], missed[hit]
            weights = self._mixture.weights(z, row[hit])
            weighted = np.where(missed, weights[:, None], 0.0)
            self.counts.add(own, many, hit, self._own_normals(z), weighted)

    def plan(self, precision: float, allowed: Array) -> Rows:
        """Return how many draws each row needs (r,), from a few that are then left.

        An estimate that stopped where it came out well would be too low in the mean.

        Parameters
        ----------
        precision : float
            Wanted half width of an interval over its value.
        allowed : ndarray (r, k)
            Probabilities that an interval is to tell from, of the first events, which alone say how
            many draws there are; not a number where there is none.
        """
        rows = len(self._mixture.share)
        self.draw(np.arange(rows), np.full(rows, PILOT))
        pilot = self.counts
        self.counts = self._none()
        return _wanted(pilot, precision, allowed)


def _wanted(pilot: RowCounts, precision: float, allowed: Array) -> Rows:
    """Return how many draws each row needs (r,), a whole number for each batch."""
    few = allowed.shape[1]
    cov, value = pilot.cov[:, :few], pilot.value[:, :few]
    with np.errstate(divide="ignore", invalid="ignore"):
        # To tell a probability from what is allowed of it, but no finer than a case alone does.
        apart = np.abs(np.log(value / allowed))
    asked = np.where(np.isfinite(apart), np.clip(apart, 0.25 * precision, precision), precision)
    # Misses that are common make most of what is expected of many rows.
    asked = np.where(value > _COMMON, np.minimum(asked, 0.5 * precision), asked)
    # Far below what is allowed an estimate is not sharpened.
    asked = np.where(np.isfinite(apart) & (value < 0.1 * allowed), 5.0 * precision, asked)
    cov = np.where(np.isfinite(cov), np.minimum(cov, 2.0), 0.0)
    needed = _RESERVE * PILOT * ((QUANTILE * cov / asked) ** 2).max(axis=1, initial=0.0)
    per_batch = np.ceil(np.clip(needed, FEWEST, MOST) / BATCHES)
    draws: Rows = (BATCHES * per_batch).astype(np.intp)
    return draws


def _parts(draws: Rows) -> list[slice]:
    """Return rows one after the other, cut so that few draws are evaluated at a time."""
    ends = np.cumsum(draws)
    cuts = np.unique(np.searchsorted(ends, np.arange(_AT_A_TIME, ends[-1], _AT_A_TIME)))
    edges = np.unique(np.concatenate([[0], cuts, [len(draws)]]))
    return [slice(int(a), int(b)) for a, b in pairwise(edges)]
