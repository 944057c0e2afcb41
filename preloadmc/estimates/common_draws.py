"""Events of several models on common draws of one mixture around all their design points.

So small differences of small probabilities are resolved far better than by separate runs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from preloadmc.estimates.curvature import MOST_INPUTS, Curvature, curvature
from preloadmc.estimates.design_point import (
    FAR,
    DesignPoint,
    design_points,
    distinct,
    search_from,
)
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.importance import BATCHES, Batches
from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.estimates.mixture import AlongSurface, Component, Mixture, around
from preloadmc.units import Array

_SAME = 0.3  # distance of design points that one component samples: a third of its own scatter
_PILOT = 8  # draws per batch to begin with, for each component: enough to judge the scatter by
_GROWTH = 8.0  # the scatter of a few draws may overrate what is needed; more is asked for later
_LEAST = 1e-10  # a probability below needs no precision, as in every stop rule


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """One of the models to compare: margins, and the events that they make.

    ``margins`` turns z, shape (n, d), into margins, shape (n, m); event e happens where the
    smallest margin of the columns ``events[e]`` is negative, never where there are none.
    ``smooth`` is False where a law has atoms: then there is no design point. ``spread``, shape
    (d,), says that the model is the first one with the scatter behind each column of z about so
    many times as wide: its design points are then looked for near those of the first alone.
    """

    margins: Margins
    events: tuple[tuple[int, ...], ...]
    smooth: bool = True
    spread: Array | None = None


@dataclass(frozen=True, slots=True, eq=False)
class WeightedDraws:
    """Events on common draws of one mixture.

    ``place`` gives the limit of each (event, model) among the ``batches``; ``searched`` the calls
    of each model that its design points took.
    """

    batches: Batches
    place: dict[tuple[int, int], int]
    searched: dict[int, int]


def weighted_draws(
    models: Sequence[Model],
    rare: Sequence[tuple[int, int]],
    d: int,
    *,
    precision: float,
    confidence: float,
    negligible: float,
    budget: int,
    rng: np.random.Generator,
) -> WeightedDraws | None:
    """Draw the ``rare``, pairs of event and model, from one mixture until they are precise.

    None where no way to any of them was found. See `paired.paired_estimates`.
    """
    searches: dict[int, _Search] = {}
    for i in sorted({i for _, i in rare}):
        searches[i] = _Search.of(models[i], d, searches.get(0), rng)
    mixture = _common_mixture(models, rare, searches)
    if mixture is None:
        return None
    stop = _StopRule(
        rare,
        tuple(bool(searches[i].near(models[i].events[event])) for event, i in rare),
        precision,
        confidence,
        negligible,
    )
    return WeightedDraws(
        _drawn_until_precise(models, rare, mixture, stop, budget=budget, rng=rng),
        {pair: place for place, pair in enumerate(rare)},
        {i: search.calls for i, search in searches.items()},
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Search:
    """The design points of a model, with curvatures where they matter."""

    points: tuple[DesignPoint, ...]
    bends: tuple[Curvature | None, ...]
    calls: int

    @classmethod
    def of(cls, model: Model, d: int, first: _Search | None, rng: np.random.Generator) -> _Search:
        counted = CountedMargins(model.margins)
        if first is None or model.spread is None:
            points = design_points(counted, d, rng=rng)
        else:
            starts = _moved(first.points, model.spread)
            points = ()
            if starts:
                points = tuple(distinct(search_from(counted, np.array(starts), rng=rng)))
        needed: set[int] = set()
        for columns in model.events:
            mine = [i for i, point in enumerate(points) if point.column in columns]
            nearest = min((points[i].beta for i in mine), default=0.0)
            needed |= {i for i in mine if points[i].beta < nearest + 1.0}
        bends = tuple(
            curvature(counted, point)
            if i in needed and point.converged and point.beta >= 1.0 and 1 < d <= MOST_INPUTS
            else None
            for i, point in enumerate(points)
        )
        return cls(points, bends, counted.calls)

    def near(self, columns: tuple[int, ...]) -> list[int]:
        """Places of the points of an event."""
        return [i for i, point in enumerate(self.points) if point.column in columns]

    def mixture(self, columns: tuple[int, ...]) -> Mixture | None:
        mine = self.near(columns)
        if not mine:
            return None
        return around([self.points[i] for i in mine], [self.bends[i] for i in mine])


def _moved(points: Sequence[DesignPoint], spread: Array) -> list[Array]:
    """Where design points go, were their surfaces planes, with scatter so many times as wide."""
    moved = []
    for point in points:
        steepness = point.direction * spread
        if abs(point.beta) < FAR * np.linalg.norm(steepness):
            moved.append(steepness * (point.beta / float(steepness @ steepness)))
    return moved


def _common_mixture(
    models: Sequence[Model], rare: Sequence[tuple[int, int]], searches: dict[int, _Search]
) -> Mixture | None:
    """One mixture that gives each rare event of each model an equal part."""
    found = []
    for event, i in rare:
        columns = set(models[i].events[event])
        # An event that others make up has its points from them.
        others = [set(models[i].events[other]) for other, j in rare if j == i]
        if columns == set().union(*(other for other in others if other < columns)):
            continue
        mixture = searches[i].mixture(models[i].events[event])
        if mixture is not None:
            found.append(mixture)
    if not found:
        return None
    components: list[Component] = []
    shares: list[float] = []
    for mixture in found:
        for component, share in zip(mixture.components, mixture.shares / len(found), strict=True):
            place = next((i for i, other in enumerate(components) if _alike(component, other)), -1)
            if place < 0:
                components.append(component)
                shares.append(float(share))
            else:
                shares[place] += float(share)
    return Mixture(found[0].d, tuple(components), np.array(shares))


def _alike(one: Component, other: Component) -> bool:
    """Whether two components sample nearly the same place, as those of like models do."""
    return type(one) is type(other) and float(np.linalg.norm(_middle(one) - _middle(other))) < _SAME


def _middle(component: Component) -> Array:
    if isinstance(component, AlongSurface):
        middle: Array = component.beta * component.direction
        return middle
    return component.centre


def _drawn_until_precise(
    models: Sequence[Model],
    rare: Sequence[tuple[int, int]],
    mixture: Mixture,
    stop: _StopRule,
    *,
    budget: int,
    rng: np.random.Generator,
) -> Batches:
    """Draw until what is asked is precise enough, or the budget is spent.

    Each round draws anew: joined rounds would be longer where the first ones were unlucky.
    """
    most = max(budget // BATCHES, 2)
    wanted = min(_PILOT * max(len(mixture.components), 2), most)
    while True:
        batches = _sample(models, rare, mixture, wanted, rng)
        short = stop.shortfall(batches)
        if short <= 1.0 or wanted == most:
            return batches
        wanted = min(math.ceil(1.1 * wanted * min(short * short, _GROWTH)), most)


def _sample(
    models: Sequence[Model],
    rare: Sequence[tuple[int, int]],
    mixture: Mixture,
    per_batch: int,
    rng: np.random.Generator,
) -> Batches:
    """The rare events on common draws; each model is called once for all of its events."""
    z = np.concatenate([mixture.sample(per_batch, rng) for _ in range(BATCHES)])
    weights = mixture.weights(z)
    missed = {i: CountedMargins(models[i].margins)(z) < 0.0 for i in {i for _, i in rare}}
    parts = np.zeros((len(rare), len(z)))
    samples = []
    for part, (event, i) in zip(parts, rare, strict=True):
        happened = missed[i][:, list(models[i].events[event])].any(axis=1)
        part[happened] = weights[happened]
        samples.append(FailureSample.of(z[happened], weights[happened]))
    return Batches(parts.reshape(len(rare), BATCHES, per_batch), tuple(samples))


@dataclass(frozen=True, slots=True)
class _StopRule:
    """When the draws of a mixture are enough; see `paired_estimates`.

    ``reached`` says, for each of the ``rare``, whether a design point was found.
    """

    rare: Sequence[tuple[int, int]]
    reached: tuple[bool, ...]
    precision: float
    confidence: float
    negligible: float

    def shortfall(self, batches: Batches) -> float:
        """How many times wider than asked the widest interval is."""
        quantile = float(stdtrit(BATCHES - 1, 0.5 + self.confidence / 2.0))
        means = batches.means
        values = means.mean(axis=1)
        by_draw = batches.parts.std(axis=(1, 2)) / math.sqrt(batches.draws)
        by_batch = means.std(axis=1, ddof=1) / math.sqrt(BATCHES)
        errors = np.maximum(by_draw, by_batch)
        firsts: dict[int, int] = {}
        short = 0.0
        for place, (event, _) in enumerate(self.rare):
            first = firsts.setdefault(event, place)
            least = max(_LEAST, self.negligible * values[first])
            if not self.reached[place] or values[place] < least:
                continue
            short = max(short, quantile * errors[place] / values[place])
            # A difference that is resolved already needs no narrower interval.
            gaps = means[place] - means[first]
            half = quantile * float(gaps.std(ddof=1)) / math.sqrt(BATCHES)
            if abs(float(gaps.mean())) <= half:
                short = max(short, half / max(values[place], values[first]))
        return short / self.precision
