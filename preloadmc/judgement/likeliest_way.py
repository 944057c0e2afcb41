"""The likeliest way to a miss of one fastener of a joint: how much of it the fasteners share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from preloadmc.estimates.design_point import DesignPoint, design_points
from preloadmc.units import Array
from preloadmc.whole_joint import WholeJoint

# Design points this much farther than the nearest make no part of a miss that shows.
_WITHIN = 1.5
_MOST_POINTS = 3


@dataclass(frozen=True, slots=True, eq=False)
class LikeliestWay:
    """Design points of the governing fastener in shared numbers and its own, the nearest first.

    ``squares`` (shared + own,) are the shares of variance along the nearest, adding to one;
    ``common`` is what the fasteners of a joint share of them. ``margins`` are those of the
    fastener, from shared numbers (m, shared) and own ones (m, own).
    """

    points: tuple[DesignPoint, ...]
    squares: Array
    common: float
    margins: Callable[[Array, Array], Array]


def likeliest_way(
    whole: WholeJoint, event: str, *, rng: np.random.Generator
) -> LikeliestWay | None:
    """Return the likeliest way to an event of one fastener; None where no point tells it."""
    if not whole.case.is_smooth or whole.shared + whole.own == 0:
        return None
    governing = whole.group.governing
    member, _ = whole.station_of(governing)
    margins = whole.of_station(member, governing, event)

    flat = whole.of_all_numbers(member, governing, event)
    points = design_points(flat, whole.shared + whole.own, rng=rng)
    if not points:
        return None
    near = [point for point in points if point.beta < points[0].beta + _WITHIN][:_MOST_POINTS]
    squares = points[0].z ** 2 / max(float(points[0].z @ points[0].z), 1e-300)
    return LikeliestWay(tuple(near), squares, float(squares[: whole.shared].sum()), margins)
