"""The outcomes of several cases on common draws: the same joints, treated differently."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.streams import CHUNK, named_rng, normal_chunk
from preloadmc.engine import OUTCOMES, SIDES, Progress
from preloadmc.estimates.event_points import Model
from preloadmc.estimates.paired import (
    CommonCounts,
    PairedEstimates,
    Ratio,
    paired_estimates,
)
from preloadmc.estimates.probability import Difference, Probability
from preloadmc.inputs import input_order
from preloadmc.joint import Inputs, evaluate
from preloadmc.limits import LIMITS, LOOSENING, SLIP, Limit, Margin, as_columns, margins
from preloadmc.units import Array


@dataclass(frozen=True, slots=True, eq=False)
class PairedOutcomes:
    """Outcomes of cases on common draws; cases by their place in the sequence that was given.

    ``samples`` are the plain ones, ``draws`` the weighted ones of importance sampling, none where
    plain samples were enough. ``judged`` holds (outcome, place) for every outcome that a case
    judges.
    """

    columns: tuple[str, ...]
    samples: int
    draws: int
    model_calls: int
    judged: frozenset[tuple[str, int]]
    _estimates: PairedEstimates = field(repr=False)
    _events: dict[str, int] = field(repr=False)
    _places: tuple[int, ...] = field(repr=False)

    def probability(self, outcome: str, case: int) -> Probability:
        """Return the probability of an outcome in a case."""
        return self._estimates.probability(self._events[outcome], self._places[case])

    def difference(self, outcome: str, a: int, b: int) -> Difference:
        """Return the probability in case a minus that in case b."""
        return self._estimates.difference(self._events[outcome], self._places[a], self._places[b])

    def ratio(self, outcome: str, a: int, b: int) -> Ratio | None:
        """Return the probability in case a over that in case b; None where b has no misses."""
        return self._estimates.ratio(self._events[outcome], self._places[a], self._places[b])

    def never_apart(self, outcome: str, a: int, b: int) -> bool:
        """Return whether no draw told the two cases apart."""
        return self._estimates.never_apart(self._events[outcome], self._places[a], self._places[b])

    def narrowing(self, outcome: str, a: int, b: int) -> float:
        """Return how many times less the difference scatters than between separate draws."""
        return self._estimates.narrowing(self._events[outcome], self._places[a], self._places[b])


def compared_limits() -> dict[str, str]:
    """Return the limits beside the window that alternatives are compared on: name and label."""
    return {kind.name: kind.compared_as for kind in LIMITS if kind.compared_as}


def common_columns(cases: Iterable[Case]) -> tuple[str, ...]:
    """Return the inputs that scatter in any of the cases, in the order of the fixed list.

    Neither the order of the keys in a file nor that of the alternatives changes it.
    """
    return tuple(sorted({name for case in cases for name in case.uncertain}, key=input_order))


def paired_outcomes(
    cases: Sequence[Case],
    *,
    seed: int,
    purpose: str,
    precision: float,
    most: int,
    outcomes: Sequence[str] = OUTCOMES,
    block: int = CHUNK,
    negligible: float = 0.0,
    spreads: Sequence[Mapping[str, float] | None] | None = None,
    cross_check: bool = True,
    threads: int = 1,
    progress: Progress | None = None,
) -> PairedOutcomes:
    """Estimate outcomes of several cases on common draws.

    Parameters
    ----------
    cases : sequence of Case
        The first is what the others are compared with. All draw from the columns of
        `common_columns`, so that each sample is the same joint in all of them.
    seed : int
        Seed; the same seed gives the same bits for any number of threads.
    purpose : str
        Names the stream of what is drawn beside the plain samples.
    precision : float
        Wanted half-width of each interval over its value.
    most : int
        Most plain samples of each case.
    outcomes : sequence of str
        Of `engine.OUTCOMES` and `compared_limits`.
    block : int
        Plain samples in a block.
    negligible : float
        Share of the first case's probability below which another needs no precision.
    spreads : sequence of mapping or None, optional
        For a case that is the first one with the standard deviations of some inputs changed: what
        they are multiplied by. Its design points are then sought near those of the first.
    cross_check : bool
        Whether each estimate by importance sampling is held against a second one.
    threads : int
        How many threads share the blocks out.
    progress : callable, optional
        Told the samples done and the samples planned.

    Returns
    -------
    PairedOutcomes
        Probabilities, differences and ratios, cases by their place in the sequence given.
    """
    columns = common_columns(cases)
    # In a fixed order, so that the order of the alternatives changes no bit.
    order = sorted(range(len(cases)), key=lambda place: (place != 0, cases[place].name))
    models = [
        _model(cases[place], columns, outcomes, None if spreads is None else spreads[place])
        for place in order
    ]

    def draw(k: int) -> Array:
        return normal_chunk(seed, k, block, len(columns))

    def shared_out(
        count: Callable[[int], CommonCounts], blocks: Iterable[int]
    ) -> Iterable[CommonCounts]:
        wanted = list(blocks)
        with ThreadPoolExecutor(threads) as pool:
            for k, part in zip(wanted, pool.map(count, wanted), strict=True):
                if progress is not None:
                    progress((k + 1) * block, (wanted[-1] + 1) * block)
                yield part

    found = paired_estimates(
        models,
        len(columns),
        block=draw,
        rng=named_rng(seed, purpose),
        first=1,
        most=max(most // block, 1),
        precision=precision,
        negligible=negligible,
        cross_check=cross_check,
        map_=shared_out,
    )
    return PairedOutcomes(
        columns=columns,
        samples=found.counts.n,
        draws=0 if found.weighted is None else found.weighted.batches.draws,
        model_calls=found.model_calls,
        judged=frozenset(
            (outcome, place)
            for model, place in zip(models, order, strict=True)
            for outcome, event in zip(outcomes, model.events, strict=True)
            if event
        ),
        _estimates=found,
        _events={outcome: event for event, outcome in enumerate(outcomes)},
        _places=tuple(order.index(place) for place in range(len(cases))),
    )


def _model(
    case: Case,
    columns: tuple[str, ...],
    outcomes: Sequence[str],
    spread: Mapping[str, float] | None,
) -> Model:
    """Return the margins of a case that make the outcomes, as one function of z."""
    others = not set(outcomes) <= set(OUTCOMES)

    def judged(x: Inputs) -> tuple[Margin, ...]:
        state = evaluate(case.joint, x)
        return margins(case.joint, case.requirement, x, state, others=others)

    limits = [margin.limit for margin in judged(case.means)]
    plain = case.joint.securing is None
    mine = {outcome: _places(limits, outcome, plain) for outcome in outcomes}
    kept = sorted(set().union(*mine.values()))

    def function(z: Array) -> Array:
        found = judged(case.inputs(z, columns))
        return as_columns(tuple(found[place] for place in kept), len(z))

    events = tuple(tuple(kept.index(place) for place in mine[outcome]) for outcome in outcomes)
    by_column = None
    if spread is not None:
        by_column = np.array([spread.get(name, 1.0) for name in columns])
    return Model(function, events, case.is_smooth, by_column)


def _places(limits: Sequence[Limit], outcome: str, plain: bool) -> tuple[int, ...]:
    """Return the places of the limits whose miss is the outcome; a joint without securing element
    is ``plain``.
    """
    if outcome in SIDES:
        sides = set(SIDES[outcome])
        return tuple(place for place, limit in enumerate(limits) if sides & set(limit.sides))
    names = [limit.name for limit in limits]
    # Without a securing element nothing but the absence of slip keeps the nut from turning.
    name = SLIP.name if outcome == LOOSENING.name and plain else outcome
    return tuple(place for place, found in enumerate(names) if found == name)
