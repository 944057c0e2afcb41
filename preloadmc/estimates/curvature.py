"""Curvature of a limit surface at a design point, and the probability it suggests.

The second-order figure is information, never the estimate that is reported alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.estimates.design_point import DesignPoint
from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.units import Array

MOST_INPUTS = 30
"""Beyond, the calls that curvatures take, (d-1)(d+2)/2 + 1, cost more than they save."""

_STEP = 0.3  # wide: the curvature that matters is that over the reach of a sample


@dataclass(frozen=True, slots=True, eq=False)
class Curvature:
    """Principal curvatures, shape (d-1,), and their directions, rows of `axes` (d-1, d).

    Positive where the surface bends away from the origin, which makes a miss rarer.
    """

    principal: Array
    axes: Array


def curvature(margins: Margins, point: DesignPoint) -> Curvature:
    """Principal curvatures by second differences in the tangent plane.

    Calls the margins at (d-1)(d+2)/2 + 1 points in one block.

    Parameters
    ----------
    margins : callable
        From z, shape (n, d), to margins, shape (n, m).
    point : DesignPoint
        A converged one.

    Returns
    -------
    Curvature
        d - 1 principal curvatures with their directions.
    """
    counted = margins if isinstance(margins, CountedMargins) else CountedMargins(margins)
    tangent = _tangent(point.direction)
    k = len(tangent)
    one, two = np.triu_indices(k, 1)
    step = _STEP * tangent
    moves = np.concatenate([np.zeros((1, len(point.z))), step, -step, step[one] + step[two]])
    g = counted(point.z + moves)[:, point.column]
    here, ahead, back, both = g[0], g[1 : k + 1], g[k + 1 : 2 * k + 1], g[2 * k + 1 :]
    hessian = np.diag(ahead + back - 2.0 * here)
    hessian[one, two] = hessian[two, one] = both - ahead[one] - ahead[two] + here
    principal, rotation = np.linalg.eigh(hessian / (_STEP * _STEP * point.slope))
    return Curvature(principal, rotation.T @ tangent)


def curvatures(
    margins: Margins,
    points: Sequence[DesignPoint],
    known: Mapping[DesignPoint, Curvature | None],
) -> list[Curvature | None]:
    """Curvatures of those design points of an event that matter; None for the others.

    A point matters within one unit of the nearest, where its search converged; those already
    `known` are taken over.
    """
    nearest = min((point.beta for point in points), default=0.0)
    found: list[Curvature | None] = []
    for point in points:
        bend = known.get(point)
        matters = point.converged and 1.0 <= point.beta < nearest + 1.0
        if bend is None and matters and 1 < len(point.z) <= MOST_INPUTS:
            bend = curvature(margins, point)
        found.append(bend)
    return found


def _tangent(direction: Array) -> Array:
    """Orthonormal rows across a unit vector, shape (d-1, d)."""
    full = np.linalg.qr(np.column_stack([direction, np.eye(len(direction))]))[0]
    rows: Array = full.T[1:]
    return rows
