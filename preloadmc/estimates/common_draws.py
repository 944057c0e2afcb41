"""Events of several models on common draws of one mixture around all their design points.

So small differences of small probabilities are resolved far better than by separate runs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import stdtrit

from preloadmc.estimates.event_points import EventPoints, Model
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.importance import BATCHES, Batches
from preloadmc.estimates.margins import CountedMargins
from preloadmc.estimates.mixture import AlongSurface, Component, Mixture
from preloadmc.estimates.plain import FirstLook
from preloadmc.estimates.probability import Probability
from preloadmc.estimates.second_estimate import ROUNDS, SecondEstimate
from preloadmc.units import Array

Pair = tuple[int, int]
"""An event and a model, by their places."""

_SAME = 0.3  # distance of design points that one component samples: a third of its own scatter
_PILOT = 8  # draws per batch to begin with, for each component: enough to judge the scatter by
_GROWTH = 8.0  # the scatter of a few draws may overrate what is needed; more is asked for later
_SETTLING = 1_000_000  # plain samples that may settle a disagreement, as in `tail`
_LEAST = 1e-10  # a probability below needs no precision, as in every stop rule


@dataclass(frozen=True, slots=True, eq=False)
class WeightedDraws:
    """Events on common draws of one mixture.

    ``place`` gives the limit of each (event, model) among the ``batches``; ``searched`` the calls
    of each model that its design points took. ``seconds`` are the second estimates, where such
    were made, and ``doubts`` what they say against the draws, where that was not resolved;
    ``rejected`` are those (event, model) for which another estimate is better founded.
    """

    batches: Batches
    place: dict[Pair, int]
    searched: dict[int, int]
    seconds: Mapping[Pair, SecondEstimate] = field(default_factory=dict)
    doubts: Mapping[Pair, str] = field(default_factory=dict)
    rejected: frozenset[Pair] = frozenset()

    def probability(self, pair: Pair, confidence: float) -> Probability:
        """Probability of an event in a model, not reliable where the weights say so."""
        return self.batches.probability(
            self.place[pair],
            confidence=confidence,
            model_calls=self.searched[pair[1]] + self.batches.draws,
        )


def weighted_draws(
    models: Sequence[Model],
    looks: Mapping[Pair, FirstLook],
    d: int,
    *,
    precision: float,
    confidence: float,
    negligible: float,
    budget: int,
    cross_check: bool,
    rng: np.random.Generator,
) -> WeightedDraws | None:
    """Draw the rare events of models from one mixture until they are precise.

    ``looks`` holds what plain samples saw of each. None where no way to any of them was found. See
    `paired.paired_estimates`.
    """
    points: dict[int, EventPoints] = {}
    for i in sorted({i for _, i in looks}):
        points[i] = EventPoints.of(models[i], d, points.get(0), rng)
    ask = _Asked(models, looks, d, precision, confidence, negligible, budget, rng)
    found = _drawn(ask, points)
    if found is None or not cross_check:
        return found
    return _cross_checked(ask, points, found)


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What is asked of the draws; see `paired.paired_estimates`."""

    models: Sequence[Model]
    looks: Mapping[Pair, FirstLook]
    d: int
    precision: float
    confidence: float
    negligible: float
    budget: int
    rng: np.random.Generator


def _drawn(ask: _Asked, points: Mapping[int, EventPoints]) -> WeightedDraws | None:
    """Draws of the mixture around all design points."""
    mixture = _common_mixture(ask.models, list(ask.looks), points)
    if mixture is None:
        return None
    return WeightedDraws(
        _drawn_until_precise(ask, mixture, _StopRule.of(ask, points)),
        {pair: place for place, pair in enumerate(ask.looks)},
        {i: each.calls for i, each in points.items()},
    )


def _cross_checked(
    ask: _Asked, points: dict[int, EventPoints], found: WeightedDraws
) -> WeightedDraws:
    """Hold each rare event against a second estimate, and go where that sees misses.

    As in `tail`: a disagreement deserves a better check before it is believed. An event that
    others make up is checked by itself only where one of these is in doubt.
    """
    seconds: dict[Pair, SecondEstimate] = {}
    doubts: dict[Pair, str] = {}
    open_pairs = [pair for pair in ask.looks if not _made_up(ask.models, pair, ask.looks)]
    for better in (False, True):
        for pair in open_pairs:
            value = found.probability(pair, ask.confidence).value
            if value == 0.0:
                continue
            if pair in seconds:
                seconds[pair] = seconds[pair].larger(value, _SETTLING, rng=ask.rng)
            else:
                margins = ask.models[pair[1]].margins_of(pair[0])
                look = ask.looks[pair]
                seconds[pair] = SecondEstimate.of(margins, ask.d, look, value, rng=ask.rng)
        found = _reaching(ask, points, found, seconds)
        doubts = {}
        for pair, second in seconds.items():
            estimate = found.probability(pair, ask.confidence)
            doubts[pair] = second.doubt(estimate) or ("" if estimate.reliable else estimate.note)
        open_pairs = [pair for pair in ask.looks if doubts.get(pair)]
        if better or not open_pairs:
            break
        for event, i in list(open_pairs):
            open_pairs += [
                (other, j)
                for other, j in ask.looks
                if j == i
                and (other, j) not in seconds
                and set(ask.models[i].events[event]) < set(ask.models[i].events[other])
            ]
    doubts = {pair: words for pair, words in doubts.items() if words}
    rejected = frozenset(
        pair
        for pair in doubts
        if seconds[pair].better_founded(found.probability(pair, ask.confidence)) != "importance"
    )
    return replace(found, seconds=seconds, doubts=doubts, rejected=rejected)


def _reaching(
    ask: _Asked,
    points: dict[int, EventPoints],
    found: WeightedDraws,
    seconds: Mapping[Pair, SecondEstimate],
) -> WeightedDraws:
    """Draws of a mixture that reaches the misses of the second estimates, where it can."""
    for _ in range(ROUNDS):
        before = dict(points)
        for (event, i), second in seconds.items():
            value = max(found.probability((event, i), ask.confidence).value, second.value)
            points[i] = points[i].reaching(event, second.samples, value, ask.rng)
        if all(points[i] is before[i] for i in points):
            break
        found = _drawn(ask, points) or found
    return found


def _made_up(models: Sequence[Model], pair: Pair, pairs: Iterable[Pair]) -> bool:
    """Whether other rare events of the model make up an event."""
    event, i = pair
    columns = set(models[i].events[event])
    others = [set(models[i].events[other]) for other, j in pairs if j == i]
    return columns == set().union(*(other for other in others if other < columns))


def _common_mixture(
    models: Sequence[Model], rare: Sequence[Pair], points: Mapping[int, EventPoints]
) -> Mixture | None:
    """One mixture that gives each rare event of each model an equal part."""
    found = []
    for event, i in rare:
        if _made_up(models, (event, i), rare):
            continue
        mixture = points[i].mixture(event)
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


def _drawn_until_precise(ask: _Asked, mixture: Mixture, stop: _StopRule) -> Batches:
    """Draw until what is asked is precise enough, or the budget is spent.

    Each round draws anew: joined rounds would be longer where the first ones were unlucky.
    """
    most = max(ask.budget // BATCHES, 2)
    wanted = min(_PILOT * max(len(mixture.components), 2), most)
    while True:
        batches = _sample(ask.models, list(ask.looks), mixture, wanted, ask.rng)
        short = stop.shortfall(batches)
        if short <= 1.0 or wanted == most:
            return batches
        wanted = min(math.ceil(1.1 * wanted * min(short * short, _GROWTH)), most)


def _sample(
    models: Sequence[Model],
    rare: Sequence[Pair],
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

    rare: Sequence[Pair]
    reached: tuple[bool, ...]
    precision: float
    confidence: float
    negligible: float

    @classmethod
    def of(cls, ask: _Asked, points: Mapping[int, EventPoints]) -> _StopRule:
        reached = tuple(bool(points[i].of_event(event)) for event, i in ask.looks)
        return cls(list(ask.looks), reached, ask.precision, ask.confidence, ask.negligible)

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
