"""Which method, tool, lubricant or securing element? The alternatives of a case on common draws."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.streams import CHUNK, normal_chunk
from preloadmc.engine import OUTCOMES, Progress, cores, preload_path
from preloadmc.errors import UsageError
from preloadmc.joint import evaluate
from preloadmc.judgement.edges import edges, window_edges
from preloadmc.judgement.outcomes import Outcome, allowed
from preloadmc.judgement.paired import (
    PairedOutcomes,
    compared_limits,
    paired_outcomes,
)
from preloadmc.questions.compare.answer import compare_answer
from preloadmc.questions.compare.records import Alternative, Amount, CompareResult
from preloadmc.questions.control import (
    RUN_BLOCK,
    RUN_PRECISION,
    RUN_SAMPLES,
    control,
)
from preloadmc.units import Array

# Half of an interval over its value: twice as fine as that of a run, since differences are asked.
USUAL_PRECISION = 0.1
# Plain samples of each alternative before what is still open is left to importance sampling.
MOST_PLAIN = 2**20
# Non-inferiority margin as a share of what is allowed: what an alternative may be worse by and
# still count as as good (engineering judgement).
NEGLIGIBLE_SHARE = 0.1


def compare(
    case: Case,
    *,
    seed: int | None = None,
    precision: float | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> CompareResult:
    """Compare a case with its alternatives on common draws.

    Parameters
    ----------
    case : Case
        With at least one alternative.
    seed : int, optional
        That of the case unless given.
    precision : float, optional
        Wanted half-width of each interval over its value; that of the case unless given, else
        10 %.
    threads : int, optional
        As many as there are cores unless given; the result does not depend on it.
    progress : callable, optional
        Told the samples done and the samples planned.

    Returns
    -------
    CompareResult

    Raises
    ------
    UsageError
        If the case has no alternative.
    NotFiniteError
        If a margin is not a finite number.
    """
    if not case.alternatives:
        raise UsageError(
            f"{case.source}: nothing to compare with; add [[alternative]] tables, each with a "
            "name and what it changes"
        )
    seed, precision = asked(case, seed, precision)
    cases = (case, *case.alternatives)
    paired = paired_outcomes(
        cases,
        seed=seed,
        purpose="comparison",
        precision=precision,
        most=MOST_PLAIN,
        outcomes=(*OUTCOMES, *compared_limits()),
        threads=threads or cores(),
        progress=progress,
    )
    z = normal_chunk(seed, 0, CHUNK, len(paired.columns))
    found = tuple(_alternative(paired, cases, place, z) for place in range(len(cases)))
    best, alike = _choice(paired, found)
    controls = {}
    for chosen in (case, cases[best]):
        worth = control(
            chosen,
            seed=seed,
            precision=RUN_PRECISION,
            most=RUN_SAMPLES,
            block=RUN_BLOCK,
            threads=threads,
        )
        if worth is not None:
            controls[chosen.name] = worth
    return CompareResult(
        case=case,
        seed=seed,
        precision=precision,
        alternatives=found,
        best=best,
        alike=alike,
        controls=controls,
        columns=paired.columns,
        z=z,
        samples=paired.samples,
        model_calls=paired.model_calls,
        answer=compare_answer(found, best, alike, controls),
    )


def asked(case: Case, seed: int | None, precision: float | None) -> tuple[int, float]:
    """Return seed and precision: as asked, else as the case says, else as usual."""
    return (
        case.sampling.seed if seed is None else seed,
        precision or case.sampling.precision or USUAL_PRECISION,
    )


def _alternative(
    paired: PairedOutcomes, cases: Sequence[Case], place: int, z: Array
) -> Alternative:
    case = cases[place]
    judged = [name for name in (*OUTCOMES, *compared_limits()) if (name, place) in paired.judged]
    pairs = [name for name in judged if place > 0 and (name, 0) in paired.judged]
    state = evaluate(case.joint, case.inputs(z, paired.columns))
    return Alternative(
        case=case,
        outcomes=tuple(
            Outcome(name, paired.probability(name, place), allowed(case, name)) for name in OUTCOMES
        ),
        securing={
            name: paired.probability(name, place) for name in compared_limits() if name in judged
        },
        differences={name: paired.difference(name, place, 0) for name in pairs},
        narrowing={name: paired.narrowing(name, place, 0) for name in pairs},
        expected_cost=_expected_cost(paired, case, place),
        cost_difference=_cost_difference(paired, cases, place, 0) if place > 0 else None,
        dominated_by=tuple(
            other.name
            for better, other in enumerate(cases)
            if better != place and _dominates(paired, cases, better, place)
        ),
        path={
            stage: np.broadcast_to(preload, len(z))
            for stage, preload in preload_path(state).items()
        },
        window=window_edges(edges(case, z, paired.columns, others=False)),
    )


def _expected_cost(paired: PairedOutcomes, case: Case, place: int) -> Amount | None:
    """Return cost per joint plus that of the misses.

    The intervals of both sides combine as those of independent estimates (G. Y. Zou and
    A. Donner, Statistics in Medicine 27 (2008) 1693-1702): a joint is hardly ever both.
    """
    if case.cost is None:
        return None
    under, over = (paired.probability(name, place) for name in OUTCOMES[:2])
    return _sum(
        case.cost.per_joint,
        (case.cost.per_under, (under.low, under.value, under.high)),
        (case.cost.per_over, (over.low, over.value, over.high)),
    )


def _cost_difference(
    paired: PairedOutcomes, cases: Sequence[Case], a: int, b: int
) -> Amount | None:
    """Return the expected cost of case a minus that of case b; what they share cancels."""
    one, other = cases[a].cost, cases[b].cost
    if one is None or other is None:
        return None
    terms = []
    for name, mine, theirs in zip(
        OUTCOMES[:2], (one.per_under, one.per_over), (other.per_under, other.per_over), strict=True
    ):
        # c_a p_a - c_b p_b = c_b (p_a - p_b) + (c_a - c_b) p_a
        apart, own = paired.difference(name, a, b), paired.probability(name, a)
        terms.append((theirs, (apart.low, apart.value, apart.high)))
        terms.append((mine - theirs, (own.low, own.value, own.high)))
    return _sum(one.per_joint - other.per_joint, *terms)


def _sum(constant: float, *terms: tuple[float, tuple[float, float, float]]) -> Amount:
    """Return the weighted sum of (low, value, high), each a weight and an estimate."""
    value, below, above = constant, 0.0, 0.0
    for weight, (low, middle, high) in terms:
        value += weight * middle
        ends = (weight * (low - middle), weight * (high - middle))
        below += min(ends) ** 2
        above += max(ends) ** 2
    return Amount(value, value - math.sqrt(below), value + math.sqrt(above))


def _dominates(paired: PairedOutcomes, cases: Sequence[Case], a: int, b: int) -> bool:
    """Return whether a is as good as b in every respect and better in one, by the samples.

    As good is a probability whose paired difference stays below a tenth of what is allowed at the
    upper end and is not resolved to be above zero; without an allowed one, it must not be above
    zero or no draw may tell the two apart.
    """
    better = False
    for name in (*OUTCOMES[:2], *compared_limits()):
        if not {(name, a), (name, b)} <= paired.judged:
            continue
        if paired.never_apart(name, a, b):
            continue
        difference = paired.difference(name, a, b)
        if difference.low > 0.0:
            return False
        asked_for = allowed(cases[b], name) if name in OUTCOMES else None
        if difference.high > NEGLIGIBLE_SHARE * (asked_for or 0.0):
            return False
        better = better or difference.high < 0.0
    cost = _cost_difference(paired, cases, a, b)
    one, other = cases[a].cost, cases[b].cost
    if cost is not None and one is not None and other is not None:
        if one.per_joint > other.per_joint or cost.low > 0.0:
            return False
        better = better or one.per_joint < other.per_joint or cost.high < 0.0
    return better


def _choice(paired: PairedOutcomes, found: Sequence[Alternative]) -> tuple[int, tuple[int, ...]]:
    """Return the place of the best alternative, and of those not told from it.

    First come those that meet what is allowed, then the lowest expected cost or, where no costs
    are given, the lowest probability to end outside the window. Of alternatives that the samples
    do not tell apart, the first in the file is kept.
    """
    ranks = {"meets": 0, "no target": 0, "not resolved": 1, "misses": 2}
    least = min(ranks[alternative.verdict] for alternative in found)
    places = [i for i, each in enumerate(found) if ranks[each.verdict] == least]
    cases = [each.case for each in found]
    costed = all(each.expected_cost is not None for each in found)

    def worth(place: int) -> float:
        cost = found[place].expected_cost
        if costed and cost is not None:
            return cost.value
        return found[place].outcomes[2].probability.value

    def resolved(a: int, b: int) -> bool:
        cost = _cost_difference(paired, cases, a, b) if costed else None
        if cost is not None:
            return cost.resolved
        return paired.difference("outside_window", a, b).resolved

    lowest = min(places, key=worth)
    alike = [i for i in places if i == lowest or not resolved(i, lowest)]
    return alike[0], tuple(alike[1:])
