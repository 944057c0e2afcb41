"""Design points: where a miss is likeliest, one or several for each margin.

In standard normal space the likeliest point of a miss is the one nearest to the origin.
Searches run in lockstep, so that the model is called with blocks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.units import Array, FloatLike

Columns = NDArray[np.intp]

GRADIENT_STEP = 1e-4
"""Of forward differences: rounding moves a slope by some 1e-12, a bend by 1e-4 of itself."""
FAR = 8.5
"""Phi(-8.5) = 1e-17: no search goes beyond."""

# Chosen on the benchmark problems, for few calls and no design point missed.
_OFF_SURFACE = 0.01  # distances at which a search ends; the last projection removes them
_OFF_RAY = 0.02
_LONGEST_MOVE = 5.0  # a nearly flat margin would send a step out of the searched sphere
_ITERATIONS = 25  # a search that goes on longer has stalled, as at a kink
_HALVED_FROM = 12  # a search still going swings to and fro across a curved surface: halve its steps
_SHORTER = np.array([0.5, 0.25, 0.1, 0.03])  # of a step that does not improve, in one block
_ROUNDS = 3  # of looking round for further points, each from what the last one found
_SURPRISE = 1.2  # a crossing this much nearer than known planes have it is worth a search,
_WORTH_A_LOOK = 1.7  # if it lies within this much of the nearest point's distance


@dataclass(frozen=True, slots=True, eq=False)
class DesignPoint:
    """A point of a margin's limit surface that is nearest to the origin, locally.

    `z`, shape (d,); `beta` its signed distance, negative where the origin itself misses;
    `direction`, shape (d,), the unit vector along which the margin falls (its entries are
    the direction cosines); `slope` of the margin there, per unit of z; `column` of the
    margin; `converged` is False where the search stalled, as at a kink.
    """

    z: Array
    beta: float
    direction: Array
    slope: float
    column: int
    converged: bool

    @classmethod
    def standing_in(cls, z: Array) -> DesignPoint:
        """A place of misses that no search explained, not a true design point."""
        norm = float(np.linalg.norm(z))
        return cls(z, norm, z / norm, math.nan, -1, False)


def design_points(
    margins: Margins,
    d: int,
    *,
    rng: np.random.Generator,
    starts: int = 4,
    looks: int = 32,
    near: Sequence[tuple[Array, int]] | None = None,
    events: Sequence[Sequence[int]] | None = None,
) -> tuple[DesignPoint, ...]:
    """All design points found for all margin columns, nearest first.

    The first search of each column starts at the origin. Then the margins are looked at
    along some 32 directions. Where a column crosses zero earlier than the points found so
    far explain, up to `starts` further searches begin, and again after these.

    Parameters
    ----------
    margins : callable
        From z, shape (n, d), to margins, shape (n, m).
    d : int
        Number of columns of z.
    rng : numpy.random.Generator
        For the directions of the looks.
    starts : int
        Most further searches of a column in each round.
    looks : int
        Fewest directions to look along.
    near : sequence of (ndarray (d,), int), optional
        Where the first searches start in place of the origin, and the column that each is for.
    events : sequence of sequences of int, optional
        The columns that make each event: a point is sought where it matters to one of them,
        beside the nearest point of that event. All columns make one event unless given.

    Returns
    -------
    tuple of DesignPoint
        Each names its margin's column; empty where no margin has a slope.
    """
    counted = margins if isinstance(margins, CountedMargins) else CountedMargins(margins)
    at_origin = counted(np.zeros((1, d)))[0]
    columns = np.arange(len(at_origin))
    if near is None:
        near = [(np.zeros(d), column) for column in columns.tolist()]
    found = distinct(_searched(counted, near, at_origin, rng))
    if events is None:
        events = (columns.tolist(),)
    radius = 0.0
    for _ in range(_ROUNDS):
        wanted = min(max(_nearest(found, 3.0), 2.0), 5.0)
        if abs(wanted - radius) > 1.0:
            radius = wanted
            places = radius * _directions(d, rng, looks)
            seen = counted(places)
        begin = [
            (start, column)
            for column, limit in _worth_a_look(found, events).items()
            for start in _unexplained(
                places, at_origin[column], seen[:, column], column, found, limit, starts
            )
        ]
        if not begin:
            break
        before = len(found)
        found = distinct([*found, *_searched(counted, begin, at_origin, rng)])
        if len(found) == before:
            break
    return tuple(found)


def _nearest(found: Sequence[DesignPoint], otherwise: float) -> float:
    return min((point.beta for point in found if point.beta > 0.0), default=otherwise)


def _worth_a_look(
    found: Sequence[DesignPoint], events: Sequence[Sequence[int]]
) -> dict[int, float]:
    """Distance of each column within which a further point matters to one of its events."""
    limits: dict[int, float] = {}
    for columns in events:
        mine = [point for point in found if point.column in columns]
        limit = _WORTH_A_LOOK * _nearest(mine, math.inf)
        limits |= {column: max(limit, limits.get(column, 0.0)) for column in columns}
    return limits


def search_from(margins: Margins, z: Array, *, rng: np.random.Generator) -> list[DesignPoint]:
    """Design points reached from the rows of z, each by its smallest margin there.

    Margins are compared as shares of their size at the origin, whatever their units.

    Parameters
    ----------
    margins : callable
        From z, shape (n, d), to margins, shape (n, m).
    z : ndarray (k, d)
        Where the searches start.
    rng : numpy.random.Generator
        For the trials at a kink.

    Returns
    -------
    list of DesignPoint
        At most one for each row; not yet distinct.
    """
    counted = margins if isinstance(margins, CountedMargins) else CountedMargins(margins)
    values = counted(np.concatenate([z, np.zeros((1, z.shape[1]))]))
    here, at_origin = values[:-1], values[-1]
    columns = (here / np.where(at_origin == 0.0, 1.0, np.abs(at_origin))).argmin(axis=1)
    return _searched(counted, list(zip(z, columns.tolist(), strict=True)), at_origin, rng)


def _searched(
    counted: CountedMargins,
    starts: Sequence[tuple[Array, int]],
    at_origin: Array,
    rng: np.random.Generator,
) -> list[DesignPoint]:
    """Design points from starts, each for a column."""
    if not starts:
        return []
    z = np.array([start for start, _ in starts])
    columns = np.array([column for _, column in starts])
    # A surface whose far side faces the origin, as that of an island, has no nearest point there.
    return [
        point
        for point in _search(counted, z, columns, rng)
        if point.beta > 0.0 or at_origin[point.column] <= 0.0
    ]


def _directions(d: int, rng: np.random.Generator, least: int = 32) -> Array:
    """Both ways along random orthonormal bases: well-spread unit vectors."""
    bases = [np.linalg.qr(rng.standard_normal((d, d)))[0] for _ in range(math.ceil(least / 2 / d))]
    one_way = np.concatenate(bases)
    return np.concatenate([one_way, -one_way])


def _unexplained(
    looks: Array,
    at_origin: float,
    seen: Array,
    column: int,
    found: Sequence[DesignPoint],
    limit: float,
    starts: int,
) -> list[Array]:
    """Starts within `limit` where the margin crosses zero much earlier than its known planes."""
    if at_origin <= 0.0:
        return []
    radius = float(np.linalg.norm(looks[0]))
    fall = at_origin - seen
    crossing = np.full(len(looks), math.inf)
    np.divide(radius * at_origin, fall, out=crossing, where=fall > 1e-3 * at_origin)
    explained = np.full(len(looks), math.inf)
    for point in found:
        if point.column == column:
            cosine = looks @ point.direction / radius
            reach = np.full(len(looks), math.inf)
            np.divide(point.beta, cosine, out=reach, where=cosine > 1e-9)
            explained = np.minimum(explained, reach)
    chosen: list[Array] = []
    for i in np.argsort(crossing):
        if not crossing[i] < limit or len(chosen) == starts:
            break
        unit = looks[i] / radius
        apart = all(float(unit @ start) < 0.7 * np.linalg.norm(start) for start in chosen)
        if apart and _SURPRISE * crossing[i] < explained[i]:
            chosen.append(min(crossing[i], FAR) * unit)
    return chosen


def distinct(points: Sequence[DesignPoint]) -> list[DesignPoint]:
    """Nearest first, without those that repeat a point of the same column.

    A search that stalled repeats a converged one if it lies in nearly the same direction.
    """
    kept: list[DesignPoint] = []
    for point in sorted(points, key=lambda point: (not point.converged, point.beta)):
        if not any(_repeats(point, other) for other in kept):
            kept.append(point)
    return sorted(kept, key=lambda point: point.beta)


def _repeats(point: DesignPoint, other: DesignPoint) -> bool:
    if point.column != other.column:
        return False
    # A stalled search near a converged one was on its way there.
    if not point.converged and other.converged:
        aligned = 0.9 * np.linalg.norm(point.z) * np.linalg.norm(other.z)
        return bool(point.z @ other.z > aligned)
    return bool(np.linalg.norm(point.z - other.z) < 0.5)


def _search(
    counted: CountedMargins, z: Array, columns: Columns, rng: np.random.Generator
) -> list[DesignPoint]:
    """Improved HL-RF from each row of z, shape (k, d), for the margin columns, shape (k,).

    Y. Zhang, A. Der Kiureghian, in: Reliability and Optimization of Structural Systems,
    1995, pp. 297-304: step towards the nearest point of the tangent plane, shortened until
    the merit |z|^2/2 + c |g| falls. Forward differences. A search ends without a point
    where the margin is flat, or where it stalls away from the surface.
    """
    d = z.shape[1]
    g = _pick(counted, z, columns)
    active = np.arange(len(z))
    sideways = 0.5 * _directions(d, rng)
    points: list[DesignPoint] = []
    for iteration in range(_ITERATIONS):
        shifted = (z[active, None, :] + GRADIENT_STEP * np.eye(d)).reshape(-1, d)
        ahead = _pick(counted, shifted, np.repeat(columns[active], d)).reshape(-1, d)
        gradient = (ahead - g[active, None]) / GRADIENT_STEP
        slope = np.linalg.norm(gradient, axis=1)
        # A flat margin points nowhere: its search ends without a point.
        steep = slope > 1e-9 * (1.0 + np.abs(g[active]))
        active, gradient, slope = active[steep], gradient[steep], slope[steep]
        if active.size == 0:
            break
        direction = -gradient / slope[:, None]
        along = np.sum(direction * z[active], axis=1)
        away = g[active] / slope
        beta = along + away
        off_ray = np.linalg.norm(z[active] - along[:, None] * direction, axis=1)
        near = np.abs(away) < _OFF_SURFACE
        done = near & (off_ray < _OFF_RAY * np.maximum(1.0, np.abs(beta)))
        step = beta[:, None] * direction - z[active]
        if iteration >= _HALVED_FROM:
            step *= 0.5
        moved, g_new = _shorten(
            counted, z[active], g[active], columns[active], slope, step, done, sideways
        )
        stalled = (moved == z[active]).all(axis=1) | (iteration == _ITERATIONS - 1)
        for i in np.flatnonzero(done | stalled):
            column = int(columns[active[i]])
            point: Array | None = beta[i] * direction[i]
            distance = float(beta[i])
            if not done[i]:
                point = _first_crossing(counted, z[active[i]], column)
                distance = 0.0 if point is None else float(np.linalg.norm(point))
            if point is not None:
                points.append(
                    DesignPoint(
                        point, distance, direction[i], float(slope[i]), column, bool(done[i])
                    )
                )
        z[active], g[active] = moved, g_new
        active = active[~done & ~stalled]
    return points


def _first_crossing(counted: CountedMargins, z: Array, column: int) -> Array | None:
    """Where the ray from the origin through z first meets the surface; None if nowhere near."""
    norm = float(np.linalg.norm(z))
    if norm == 0.0:
        return None
    radii = np.linspace(0.5 * norm, min(2.0 * norm, FAR), 16)
    values = counted(radii[:, None] * (z / norm))[:, column]
    changes = np.flatnonzero((values[:-1] > 0.0) & (values[1:] <= 0.0))
    if changes.size == 0:
        return None
    i = int(changes[0])
    share = values[i] / (values[i] - values[i + 1])
    crossing: Array = z * ((radii[i] + share * (radii[i + 1] - radii[i])) / norm)
    return crossing


def _shorten(
    counted: CountedMargins,
    z: Array,
    g: Array,
    columns: Columns,
    slope: Array,
    move: Array,
    done: NDArray[np.bool_],
    sideways: Array,
) -> tuple[Array, Array]:
    """The next points and their margins; a row that cannot improve stays where it is."""
    length = np.linalg.norm(move, axis=1)
    move = move * np.minimum(1.0, _LONGEST_MOVE / np.maximum(length, 1e-300))[:, None]
    norm = np.linalg.norm(z, axis=1)
    far = 0.5 * np.sum((z + move) ** 2, axis=1) / np.maximum(np.abs(g), 1e-300)
    off_surface = np.abs(g) > _OFF_SURFACE * slope
    # A weight above |z|/slope makes the step a descent of the merit; off the surface it must also
    # outweigh the distance that reaching the surface costs.
    weight = 2.0 * np.maximum(np.maximum(norm, 1.0) / slope, np.where(off_surface, far, 0.0))

    def merit(points: Array, values: Array, weight: FloatLike) -> Array:
        total: Array = 0.5 * np.sum(points**2, axis=1) + weight * np.abs(values)
        return total

    new_z, new_g = z.copy(), g.copy()
    rows = np.flatnonzero(~done)
    start = merit(z, g, weight)
    full = inside_reach(z[rows] + move[rows])
    values = _pick(counted, full, columns[rows])
    # A full step must gain a little for its length, or steps about a kink would never end.
    better = merit(full, values, weight[rows]) < start[rows] - 1e-4 * length[rows] ** 2
    new_z[rows[better]], new_g[rows[better]] = full[better], values[better]
    # At a kink no step along the gradient helps, and getting to the surface comes first.
    for row in rows[~better]:
        here = slice(row, row + 1)
        for steps, factor in ((_SHORTER[:, None] * move[row], 1.0), (sideways, 10.0)):
            trial = inside_reach(z[row] + steps)
            values = _pick(counted, trial, np.full(len(trial), columns[row]))
            merits = merit(trial, values, factor * weight[row])
            best = int(np.argmin(merits))
            if merits[best] < merit(z[here], g[here], factor * weight[here])[0] - 1e-6:
                new_z[row], new_g[row] = trial[best], values[best]
                break
    return new_z, new_g


def inside_reach(z: Array) -> Array:
    """Return points (k, d), those beyond `FAR` moved in to it."""
    norm = np.linalg.norm(z, axis=1, keepdims=True)
    kept: Array = z * np.minimum(1.0, FAR / np.maximum(norm, 1e-300))
    return kept


def _pick(counted: CountedMargins, z: Array, columns: Columns) -> Array:
    """Margin of the given column at each row; equal rows are evaluated once."""
    if len(z) == 0:
        return np.empty(0)
    rows, inverse = np.unique(z, axis=0, return_inverse=True)
    picked: Array = counted(rows)[inverse.reshape(-1), columns]
    return picked
