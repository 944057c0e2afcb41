"""The design points of a model whose margins make several events."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.estimates.curvature import Curvature, curvatures
from preloadmc.estimates.design_point import FAR, DesignPoint, design_points
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.estimates.mixture import Mixture, around
from preloadmc.estimates.unreached import points_from_misses
from preloadmc.units import Array

# Directions to look along where no second estimate is made: what is not seen there is not found.
_LOOKS = 128
_NEVER = 1e12  # a margin far above any, in N or mm


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """One of the models to compare: margins, and the events that they make.

    ``margins`` turns z, shape (n, d), into margins, shape (n, m); event e happens where the
    smallest margin of the columns ``events[e]`` is negative, never where there are none.
    ``smooth`` is False where a law has atoms: then there is no design point. ``spread``, shape
    (d,), says that the model is the first one with the scatter behind each column of z about so
    many times as wide: its design points are then looked for near those of the first.
    """

    margins: Margins
    events: tuple[tuple[int, ...], ...]
    smooth: bool = True
    spread: Array | None = None

    def margins_of(self, event: int) -> Margins:
        """Margins of one event alone; those of the others are never missed."""

        def function(z: Array) -> Array:
            values = self.margins(z)
            mine = np.isin(np.arange(values.shape[1]), self.events[event])
            return np.where(mine, values, _NEVER)

        return function


@dataclass(frozen=True, slots=True, eq=False)
class EventPoints:
    """The design points of a model, with curvatures where they matter.

    ``points`` are those of single columns; ``more`` those that misses of an event led to, by event.
    """

    model: Model
    points: tuple[DesignPoint, ...]
    more: Mapping[int, tuple[DesignPoint, ...]]
    bends: Mapping[DesignPoint, Curvature | None]
    calls: int

    @classmethod
    def of(
        cls, model: Model, d: int, first: EventPoints | None, rng: np.random.Generator
    ) -> EventPoints:
        """Search a model, near those of the first where it says that it differs by a spread."""
        counted = CountedMargins(model.margins)
        near = None
        if first is not None and model.spread is not None:
            near = _moved(first.points, model.spread)
        points = design_points(counted, d, rng=rng, near=near, looks=_LOOKS, events=model.events)
        return cls(model, points, {}, {}, counted.calls)._curved()

    def _curved(self) -> EventPoints:
        counted = CountedMargins(self.model.margins)
        bends = dict(self.bends)
        for event in range(len(self.model.events)):
            mine = self.of_event(event)
            bends |= zip(mine, curvatures(counted, mine, bends), strict=True)
        return replace(self, bends=bends, calls=self.calls + counted.calls)

    def of_event(self, event: int) -> list[DesignPoint]:
        """Points of an event, also those of events that are part of it."""
        columns = set(self.model.events[event])
        mine = [point for point in self.points if point.column in columns]
        for part, found in self.more.items():
            if columns.issuperset(self.model.events[part]):
                mine += found
        return mine

    def mixture(self, event: int) -> Mixture | None:
        """What draws an event; None where it has no point."""
        mine = self.of_event(event)
        return around(mine, [self.bends.get(point) for point in mine]) if mine else None

    def reaching(
        self, event: int, samples: Sequence[FailureSample], value: float, rng: np.random.Generator
    ) -> EventPoints:
        """Also with those that misses of an event lead to; itself where there are none."""
        counted = CountedMargins(self.model.margins_of(event))
        found = self
        for sample in samples:
            known = found.of_event(event)
            bends = [found.bends.get(point) for point in known]
            more = points_from_misses(counted, known, bends, sample, value=value, rng=rng)
            if more:
                mine = found.more.get(event, ())
                found = replace(found, more={**found.more, event: (*mine, *more)})
        if found is self:
            return self
        return replace(found, calls=found.calls + counted.calls)._curved()


def _moved(points: Sequence[DesignPoint], spread: Array) -> list[tuple[Array, int]]:
    """Where design points go, were their surfaces planes, with scatter so many times as wide."""
    moved = []
    for point in points:
        steepness = point.direction * spread
        if abs(point.beta) < FAR * np.linalg.norm(steepness):
            start = steepness * (point.beta / float(steepness @ steepness))
            moved.append((start, point.column))
    return moved
