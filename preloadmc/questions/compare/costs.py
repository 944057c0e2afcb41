"""What an alternative costs: to make, with its misses, and against another."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from preloadmc.case import Case, Cost
from preloadmc.engine import OUTCOMES
from preloadmc.judgement.acceptance import Screening
from preloadmc.judgement.paired import PairedOutcomes
from preloadmc.judgement.verdicts import Judgement
from preloadmc.limits import LOOSENING
from preloadmc.over_time import planned_cost
from preloadmc.questions.compare.pairs import is_told
from preloadmc.questions.compare.records import Amount

# What a miss of each costs; a joint is hardly ever two of them.
_UNDER, _OVER = OUTCOMES[:2]


def expected_cost(
    paired: PairedOutcomes, case: Case, place: int, screening: Screening | None = None
) -> Amount | None:
    """Return cost per joint plus that of the misses and the rejects; None where it is not known.

    The intervals combine as those of independent estimates (G. Y. Zou and A. Donner, Statistics in
    Medicine 27 (2008) 1693-1702). Loosening has a cost only where it can be judged.
    """
    cost = case.cost
    if cost is None or _is_open(paired, cost, case, place, screening):
        return None
    terms = []
    for name, weight in _weights(cost):
        if (name, place) in paired.judged:
            found = paired.probability(name, place)
            terms.append((weight, (found.low, found.value, found.high)))
    terms.append((cost.per_reject, _rejects(screening)))
    return _sum(cost.to_make + planned_cost(case), *terms)


def cost_difference(
    paired: PairedOutcomes, cases: Sequence[Case], judged: Sequence[Judgement], a: int, b: int
) -> Amount | None:
    """Return the expected cost of case a minus that of case b; what they share cancels."""
    one, other = cases[a].cost, cases[b].cost
    if one is None or other is None:
        return None
    if any(
        _is_open(paired, cost, cases[place], place, judged[place].screening)
        for cost, place in ((one, a), (other, b))
    ):
        return None
    terms = []
    for (name, mine), (_, theirs) in zip(_weights(one), _weights(other), strict=True):
        known = [(name, place) in paired.judged for place in (a, b)]
        if all(known):
            # c_a p_a - c_b p_b = c_b (p_a - p_b) + (c_a - c_b) p_a
            apart, own = paired.difference(name, a, b), paired.probability(name, a)
            if not paired.never_apart(name, a, b):
                terms.append((theirs, (apart.low, apart.value, apart.high)))
            terms.append((mine - theirs, (own.low, own.value, own.high)))
        elif known[0]:
            own = paired.probability(name, a)
            terms.append((mine, (own.low, own.value, own.high)))
        elif known[1]:
            own = paired.probability(name, b)
            terms.append((-theirs, (own.low, own.value, own.high)))
    for cost, place, sign in ((one, a, 1.0), (other, b, -1.0)):
        terms.append((sign * cost.per_reject, _rejects(judged[place].screening)))
    planned = planned_cost(cases[a]) - planned_cost(cases[b])
    return _sum(one.to_make - other.to_make + planned, *terms)


def _rejects(screening: Screening | None) -> tuple[float, float, float]:
    """Return how many tightenings are rejected for each one accepted, with the interval."""
    if screening is None:
        return 0.0, 0.0, 0.0
    rejected = screening.rejected
    low, value, high = (
        share / (1.0 - share) for share in (rejected.low, rejected.value, rejected.high)
    )
    return low, value, high


def _weights(cost: Cost) -> Iterator[tuple[str, float]]:
    yield _UNDER, cost.per_under
    yield _OVER, cost.per_over
    yield LOOSENING.name, cost.per_loosening


def _is_open(
    paired: PairedOutcomes, cost: Cost, case: Case, place: int, screening: Screening | None
) -> bool:
    """Return whether the probability of a miss that costs something is not known.

    That is where the draws do not tell it, where the rule of the securing element is not known, or
    where the check at the tool may accept nothing.
    """
    if screening is not None and cost.per_reject > 0.0 and screening.rejected.high >= 1.0:
        return True
    securing = case.joint.securing
    if cost.per_loosening > 0.0 and securing is not None and securing.missing:
        return True
    return any(
        weight > 0.0 and (name, place) in paired.judged and not is_told(paired, case, place, name)
        for name, weight in _weights(cost)
    )


def _sum(constant: float, *terms: tuple[float, tuple[float, float, float]]) -> Amount:
    """Return the weighted sum of (low, value, high), each a weight and an estimate."""
    value, below, above = constant, 0.0, 0.0
    for weight, (low, middle, high) in terms:
        value += weight * middle
        ends = (weight * (low - middle), weight * (high - middle))
        below += min(ends) ** 2
        above += max(ends) ** 2
    return Amount(value, value - math.sqrt(below), value + math.sqrt(above))
