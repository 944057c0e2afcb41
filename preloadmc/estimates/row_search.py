"""Design points of many rows at once: one search a row and margin, all in step.

The search is that of `design_point` (improved HL-RF), leaner: it starts from the median alone, or
from where it is told, and leaves what it does not resolve to the estimator of one case.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preloadmc.estimates.design_point import FAR, GRADIENT_STEP, inside_reach
from preloadmc.units import Array

Rows = NDArray[np.intp]
RowFunction = Callable[[Array, Rows], Array]
"""Margins (n, m) at z (n, d) of the rows (n,)."""

# As in `design_point`; fewer steps, since a search that goes on is left to another estimator.
_OFF_SURFACE, _OFF_RAY = 0.02, 0.05
_ITERATIONS = 12
_SHORTER = np.array([0.5, 0.25, 0.1])
_LONGEST_MOVE = 5.0
# A margin is searched where, straight on from the median, it lies no farther than this, and no
# farther than that behind the nearest of an event: what lies behind adds less than is resolved.
_WORTH_A_SEARCH = FAR + 4.0
_BEHIND = 3.0


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


def worth_searching(
    margins: RowFunction, rows: int, d: int, events: Sequence[Sequence[int]]
) -> tuple[Rows, Rows, Array]:
    """Return row and column of each margin worth a search, and all margins at the median.

    Parameters
    ----------
    margins : callable
        From z (n, d) and the rows (n,) to margins (n, m).
    rows, d : int
        How many rows, and columns of z.
    events : sequence of sequence of int
        The columns of each event.
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
    row, column = np.nonzero(wanted)
    return row, column, median


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
    picked: Array = margins(z, row)[np.arange(len(z)), column]
    return picked
