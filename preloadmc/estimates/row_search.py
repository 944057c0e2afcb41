"""Design points of many rows at once: one search a row and margin, all in step.

The search is that of `design_point` (improved HL-RF), leaner: it starts from the median alone, or
from where it is told, and leaves what it does not resolve to the estimator of one case.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from preloadmc.estimates.design_point import FAR, GRADIENT_STEP, inside_reach
from preloadmc.units import Array

Rows = NDArray[np.intp]
RowFunction = Callable[[Array, Rows], Array]
"""Margins (n, m) at z (n, d) of the rows (n,), which stand in order."""
Events = Sequence[Rows]
"""The columns of margins whose miss is an event, for each."""

# As in `design_point`; fewer steps, since a search that goes on is left to another estimator.
_OFF_SURFACE, _OFF_RAY = 0.02, 0.05
_ITERATIONS = 12
_SHORTER = np.array([0.5, 0.25, 0.1])
_LONGEST_MOVE = 5.0
# A margin is searched where, straight on from the median, it lies no farther than this, and no
# farther than that behind the nearest of an event: what lies behind adds less than is resolved.
_WORTH_A_SEARCH = FAR + 4.0
_BEHIND = 3.0
# Spreads of the draws that look for misses elsewhere, in s.d.; a miss is explained by a point from
# so far before its plane on.
_SPREADS = np.repeat([2.0, 3.0], 32)
_SLACK = 1.0
# Steps of steepest descent on a sphere, and shares of its radius that are looked at.
_ON_SPHERE = 3
_SHARES = (1.0, 0.75, 0.5, 0.25)


@dataclass(frozen=True, slots=True)
class RowPoints:
    """Points (k, d) of the rows and margin columns (k,), at distance ``beta`` along ``direction``.

    ``converged`` tells a design point from where a search stalled on the limit surface.
    """

    row: Rows
    column: Rows
    direction: Array
    beta: Array
    converged: NDArray[np.bool_]

    def joined(self, other: RowPoints) -> RowPoints:
        """Return both together."""
        return RowPoints(
            np.concatenate([self.row, other.row]),
            np.concatenate([self.column, other.column]),
            np.concatenate([self.direction, other.direction]),
            np.concatenate([self.beta, other.beta]),
            np.concatenate([self.converged, other.converged]),
        )

    def nearest(self, rows: int, columns: Rows) -> Array:
        """Return the distance of the nearest point of an event in each row (r,); else infinite."""
        beta = np.full(rows, np.inf)
        mine = np.isin(self.column, columns)
        np.minimum.at(beta, self.row[mine], self.beta[mine])
        return beta


@dataclass(frozen=True, slots=True)
class Explored:
    """Design points of rows, and what was seen where an event has none near.

    ``radius`` (r,) is that of the sphere searched, ``none_within`` (r, e) whether no miss was found
    within it; ``finite`` (r,) whether all margins were finite.
    """

    points: RowPoints
    radius: Array
    none_within: NDArray[np.bool_]
    finite: NDArray[np.bool_]


def explored(
    margins: RowFunction,
    rows: int,
    d: int,
    events: Events,
    *,
    radius: Array,
    generators: Sequence[Generator],
) -> Explored:
    """Search design points of all rows, from their medians and from misses not explained by them.

    Parameters
    ----------
    margins : callable
        From z (n, d) and the rows (n,) to margins (n, m).
    rows, d : int
        How many rows, and columns of z.
    events : sequence of ndarray of int
        The columns of each event.
    radius : ndarray (r,)
        Of the sphere that is searched for misses of events without a point.
    generators : sequence of numpy.random.Generator
        The stream of each row.
    """
    row, column, beta, finite = _straight_on(margins, rows, d, events)
    points = row_points(margins, row, column, np.zeros((len(row), d)))
    # Draws wider than the inputs' own law: a miss among them that lies before all points found
    # belongs to another one.
    look = np.stack([each.standard_normal((len(_SPREADS), d)) for each in generators])
    look *= _SPREADS[:, None]
    of_row = np.repeat(np.arange(rows), len(_SPREADS))
    z = look.reshape(-1, d)
    seen = margins(z, of_row)
    finite[of_row[~np.isfinite(seen).all(axis=1)]] = False
    starts = [_unexplained(points, columns, z, of_row, seen, rows) for columns in events]
    empty = [_worst_on_sphere(margins, points, beta, columns, radius, d) for columns in events]
    for found_row, found_column, start in (*starts, *(each[0] for each in empty)):
        if len(found_row):
            points = points.joined(row_points(margins, found_row, found_column, start))
    outside = [points.nearest(rows, columns) > radius for columns in events]
    none_within = np.stack([each[1] for each in empty], axis=1) | np.stack(outside, axis=1)
    return Explored(points, radius, none_within, finite)


def _unexplained(
    points: RowPoints, columns: Rows, z: Array, of_row: Rows, seen: Array, rows: int
) -> tuple[Rows, Rows, Array]:
    """Return row, column and place of the nearest miss of each row that no point explains."""
    if not columns.size:
        return columns, columns, z[:0]
    own = seen[:, columns]
    missed = np.flatnonzero((own < 0.0).any(axis=1))
    norm = np.linalg.norm(z[missed], axis=1)
    nearest = np.minimum(points.nearest(rows, columns), FAR)
    missed = missed[norm < nearest[of_row[missed]] + _BEHIND]
    mine = np.flatnonzero(np.isin(points.column, columns))
    mine = mine[np.argsort(points.row[mine], kind="stable")]
    first = np.searchsorted(points.row[mine], np.arange(rows))
    count = np.append(first[1:], len(mine)) - first
    before = np.ones(len(missed), dtype=bool)
    for place in range(int(count.max(initial=0))):
        has = np.flatnonzero(count[of_row[missed]] > place)
        point = mine[first[of_row[missed[has]]] + place]
        along = np.sum(points.direction[point] * z[missed[has]], axis=1)
        before[has] &= along < points.beta[point] - _SLACK
    missed = missed[before]
    order = missed[np.lexsort((np.linalg.norm(z[missed], axis=1), of_row[missed]))]
    _, once = np.unique(of_row[order], return_index=True)
    chosen = order[once]
    return of_row[chosen], columns[own[chosen].argmin(axis=1)], z[chosen]


def _worst_on_sphere(
    margins: RowFunction, points: RowPoints, beta: Array, columns: Rows, radius: Array, d: int
) -> tuple[tuple[Rows, Rows, Array], NDArray[np.bool_]]:
    """Follow the steepest descent on a sphere, in rows where an event has no point.

    Return row, column and place of misses found, and in which rows (r,) there was none.
    """
    rows = len(beta)
    if not columns.size:
        return (columns, columns, np.empty((0, d))), np.ones(rows, dtype=bool)
    row = np.flatnonzero(np.isinf(points.nearest(rows, columns)))
    none = np.zeros(rows, dtype=bool)
    column = columns[beta[row][:, columns].argmin(axis=1)]
    z, kept = np.zeros((len(row), d)), np.zeros(len(row), dtype=bool)
    where = np.zeros((len(row), d))
    for _ in range(_ON_SPHERE):
        g = _pick(margins, z, row, column)
        shifted = (z[:, None, :] + GRADIENT_STEP * np.eye(d)).reshape(-1, d)
        ahead = _pick(margins, shifted, np.repeat(row, d), np.repeat(column, d))
        gradient = (ahead.reshape(-1, d) - g[:, None]) / GRADIENT_STEP
        slope = np.linalg.norm(gradient, axis=1, keepdims=True)
        z = -gradient / np.maximum(slope, 1e-300) * radius[row, None]
        for share in _SHARES:
            values = _pick(margins, share * z, row, column)
            new = (values < 0.0) & ~kept
            where[new], kept[new] = share * z[new], True
    none[row[~kept]] = True
    return (row[kept], column[kept], where[kept]), none


def _straight_on(
    margins: RowFunction, rows: int, d: int, events: Events
) -> tuple[Rows, Rows, Array, NDArray[np.bool_]]:
    """Return row and column of each margin worth a search, and how far off all are (r, m).

    The distance is that of a straight margin; rows (r,) without finite margins are told.
    """
    every = np.arange(rows)
    median = margins(np.zeros((rows, d)), every)
    shifted = np.tile(GRADIENT_STEP * np.eye(d), (rows, 1))
    ahead = margins(shifted, np.repeat(every, d)).reshape(rows, d, -1)
    slope = np.linalg.norm((ahead - median[:, None, :]) / GRADIENT_STEP, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        beta = np.where(slope > 1e-9 * (1.0 + np.abs(median)), median / slope, np.inf)
    wanted = np.zeros(beta.shape, dtype=bool)
    for columns in events:
        own = beta[:, columns]
        near = own <= np.minimum(own.min(axis=1, initial=np.inf), FAR)[:, None] + _BEHIND
        wanted[:, columns] |= near & (own < _WORTH_A_SEARCH)
    finite = np.isfinite(median).all(axis=1) & np.isfinite(slope).all(axis=1)
    row, column = np.nonzero(wanted & finite[:, None])
    return row, column, np.where(finite[:, None], beta, np.inf), finite


def row_points(margins: RowFunction, row: Rows, column: Rows, start: Array) -> RowPoints:
    """Search from each start (k, d) for the design point of a row's margin column (k,)."""
    k, d = start.shape
    z, at = start.copy(), np.arange(k)
    g = _pick(margins, z, row, column)
    found = np.zeros((k, d)), np.full(k, np.nan), np.zeros(k, dtype=bool)
    for iteration in range(_ITERATIONS):
        if at.size == 0:
            break
        own_row, own_column = row[at], column[at]
        shifted = (z[at, None, :] + GRADIENT_STEP * np.eye(d)).reshape(-1, d)
        ahead = _pick(margins, shifted, np.repeat(own_row, d), np.repeat(own_column, d))
        gradient = (ahead.reshape(-1, d) - g[at, None]) / GRADIENT_STEP
        slope = np.linalg.norm(gradient, axis=1)
        steep = slope > 1e-9 * (1.0 + np.abs(g[at]))
        at, gradient, slope = at[steep], gradient[steep], slope[steep]
        direction = -gradient / slope[:, None]
        along = np.sum(direction * z[at], axis=1)
        away = g[at] / slope
        beta = along + away
        off_ray = np.linalg.norm(z[at] - along[:, None] * direction, axis=1)
        near = np.abs(away) < _OFF_SURFACE
        done = near & (off_ray < _OFF_RAY * np.maximum(1.0, np.abs(beta)))
        moved, g_new, better = _moved(
            margins, z[at], g[at], row[at], column[at], direction, slope, beta
        )
        last = iteration == _ITERATIONS - 1
        stalled = ~done & near & (~better | last)
        for chosen, is_point in ((done, True), (stalled, False)):
            found[0][at[chosen]] = direction[chosen]
            found[1][at[chosen]] = beta[chosen]
            found[2][at[chosen]] = is_point
        z[at], g[at] = moved, g_new
        at = at[~done & better]
    kept = np.isfinite(found[1]) & (np.abs(found[1]) < FAR)
    return RowPoints(row[kept], column[kept], found[0][kept], found[1][kept], found[2][kept])


def _moved(
    margins: RowFunction,
    z: Array,
    g: Array,
    row: Rows,
    column: Rows,
    direction: Array,
    slope: Array,
    beta: Array,
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return the next points, their margins, and which are better than those before."""
    move = beta[:, None] * direction - z
    length = np.linalg.norm(move, axis=1)
    move *= np.minimum(1.0, _LONGEST_MOVE / np.maximum(length, 1e-300))[:, None]
    norm = np.linalg.norm(z, axis=1)
    far = 0.5 * np.sum((z + move) ** 2, axis=1) / np.maximum(np.abs(g), 1e-300)
    off_surface = np.abs(g) > _OFF_SURFACE * slope
    weight = 2.0 * np.maximum(np.maximum(norm, 1.0) / slope, np.where(off_surface, far, 0.0))
    start = 0.5 * norm**2 + weight * np.abs(g)
    new_z = inside_reach(z + move)
    new_g = _pick(margins, new_z, row, column)
    merit = 0.5 * np.sum(new_z**2, axis=1) + weight * np.abs(new_g)
    better = merit < start - 1e-4 * length**2
    short = np.flatnonzero(~better)
    if short.size:
        steps = len(_SHORTER)
        trial = inside_reach(
            (z[short, None, :] + _SHORTER[:, None] * move[short, None, :]).reshape(-1, z.shape[1])
        )
        values = _pick(
            margins, trial, np.repeat(row[short], steps), np.repeat(column[short], steps)
        )
        merits = 0.5 * np.sum(trial**2, axis=1).reshape(-1, steps)
        merits += weight[short, None] * np.abs(values).reshape(-1, steps)
        best = merits.argmin(axis=1)
        place = np.arange(short.size) * steps + best
        new_z[short], new_g[short] = trial[place], values[place]
        better[short] = merits[np.arange(short.size), best] < start[short] - 1e-6
        kept = short[~better[short]]
        new_z[kept], new_g[kept] = z[kept], g[kept]
    return new_z, new_g, better


def _pick(margins: RowFunction, z: Array, row: Rows, column: Rows) -> Array:
    if not len(z):
        return np.empty(0)
    picked: Array = margins(z, row)[np.arange(len(z)), column]
    return picked
