"""What an alternative costs: to make, with its misses, and against another."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from preloadmc.case import Case, Cost
from preloadmc.engine import OUTCOMES
from preloadmc.judgement.paired import PairedOutcomes
from preloadmc.limits import LOOSENING
from preloadmc.questions.compare.pairs import is_told
from preloadmc.questions.compare.records import Amount

# What a miss of each costs; a joint is hardly ever two of them.
_UNDER, _OVER = OUTCOMES[:2]


def expected_cost(paired: PairedOutcomes, case: Case, place: int) -> Amount | None:
    """Return cost per joint plus that of the misses; None where it is not known.

    The intervals combine as those of independent estimates (G. Y. Zou and A. Donner, Statistics in
    Medicine 27 (2008) 1693-1702). Loosening has a cost only where it can be judged.
    """
    cost = case.cost
    if cost is None or _is_open(paired, cost, case, place):
        return None
    terms = []
    for name, weight in _weights(cost):
        if (name, place) in paired.judged:
            found = paired.probability(name, place)
            terms.append((weight, (found.low, found.value, found.high)))
    return _sum(cost.to_make, *terms)


def cost_difference(paired: PairedOutcomes, cases: Sequence[Case], a: int, b: int) -> Amount | None:
    """Return the expected cost of case a minus that of case b; what they share cancels."""
    one, other = cases[a].cost, cases[b].cost
    if one is None or other is None:
        return None
    if _is_open(paired, one, cases[a], a) or _is_open(paired, other, cases[b], b):
        return None
    terms = []
    for (name, mine), (_, theirs) in zip(_weights(one), _weights(other), strict=True):
        judged = [(name, place) in paired.judged for place in (a, b)]
        if all(judged):
            # c_a p_a - c_b p_b = c_b (p_a - p_b) + (c_a - c_b) p_a
            apart, own = paired.difference(name, a, b), paired.probability(name, a)
            terms.append((theirs, (apart.low, apart.value, apart.high)))
            terms.append((mine - theirs, (own.low, own.value, own.high)))
        elif judged[0]:
            own = paired.probability(name, a)
            terms.append((mine, (own.low, own.value, own.high)))
        elif judged[1]:
            own = paired.probability(name, b)
            terms.append((-theirs, (own.low, own.value, own.high)))
    return _sum(one.to_make - other.to_make, *terms)


def _weights(cost: Cost) -> Iterator[tuple[str, float]]:
    yield _UNDER, cost.per_under
    yield _OVER, cost.per_over
    yield LOOSENING.name, cost.per_loosening


def _is_open(paired: PairedOutcomes, cost: Cost, case: Case, place: int) -> bool:
    """Return whether the probability of a miss that costs something is not known.

    That is where the draws do not tell it, or where the rule of the securing element is not known.
    """
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
