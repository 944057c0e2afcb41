"""Which alternative to choose, and which can be dropped."""

from __future__ import annotations

from collections.abc import Sequence

from preloadmc.case import Case
from preloadmc.engine import OUTCOMES, OUTSIDE
from preloadmc.judgement.paired import PairedOutcomes, compared_limits
from preloadmc.judgement.verdicts import MEETS, MISSES, NOT_JUDGED, NOT_RESOLVED, Judgement
from preloadmc.limits import LOOSENING
from preloadmc.over_time import planned_cost
from preloadmc.questions.compare.costs import cost_difference
from preloadmc.questions.compare.pairs import is_told
from preloadmc.questions.compare.records import Alternative, Choice

# Non-inferiority margin as a share of what is allowed: what an alternative may be worse by and
# still count as as good (engineering judgement).
NEGLIGIBLE_SHARE = 0.1
_RANKS = {MEETS: 0, NOT_JUDGED: 1, NOT_RESOLVED: 1, MISSES: 2}


def choose(paired: PairedOutcomes, found: Sequence[Alternative]) -> Choice:
    """Return which alternative to choose.

    Only one that meets every limit judged is chosen: the single one or, where all of them have
    costs, the one with the lowest expected cost. Of those that the samples do not tell from it, the
    first in the file.
    """
    places = range(len(found))
    meeting = tuple(place for place in places if found[place].verdict == MEETS)
    nearest = min(
        places,
        key=lambda place: (
            _RANKS[found[place].verdict],
            found[place].share_of_allowed[0],
            found[place].judged.outside.known.value,
        ),
    )
    if len(meeting) == 1:
        return Choice(meeting[0], (), meeting, meeting[0])
    costs = [cost.value for place in meeting if (cost := found[place].expected_cost) is not None]
    if not meeting or len(costs) < len(meeting):
        return Choice(None, (), meeting, nearest)
    cases, judged = [each.case for each in found], [each.judged for each in found]
    lowest = meeting[costs.index(min(costs))]

    def is_dearer(place: int) -> bool:
        dearer = cost_difference(paired, cases, judged, place, lowest)
        return dearer is not None and dearer.resolved

    best, *alike = (place for place in meeting if place == lowest or not is_dearer(place))
    return Choice(best, tuple(alike), meeting, best)


def dominates(
    paired: PairedOutcomes, cases: Sequence[Case], judged: Sequence[Judgement], a: int, b: int
) -> bool:
    """Return whether a is as good as b in every respect, not dearer, and better in one.

    As good is a probability whose paired difference stays below a tenth of what is allowed at the
    upper end and is not resolved to be above zero; without an allowed one, it must not be above
    zero or no draw may tell the two apart. Nothing is dominated without costs, nor where the draws
    do not tell a probability of either, nor by what keeps no nut on where slip is possible, while
    it does itself.
    """
    cost = cost_difference(paired, cases, judged, a, b)
    one, other = cases[a].cost, cases[b].cost
    if cost is None or one is None or other is None:
        return False
    mine, theirs = (each.to_make + planned_cost(cases[at]) for each, at in ((one, a), (other, b)))
    if mine > theirs or cost.low > 0.0:
        return False
    if (LOOSENING.name, b) in paired.judged and _keeps_nut(cases[b]) and not _keeps_nut(cases[a]):
        return False
    if not _is_judged_as_well(judged[a], judged[b]):
        return False
    better = mine < theirs or cost.high < 0.0
    for name in (*OUTCOMES[:2], *compared_limits()):
        if not {(name, a), (name, b)} <= paired.judged or paired.never_apart(name, a, b):
            continue
        if not all(is_told(paired, cases[place], place, name) for place in (a, b)):
            return False
        difference = paired.difference(name, a, b)
        if difference.low > 0.0:
            return False
        if difference.high > NEGLIGIBLE_SHARE * (_allowed(judged[b], name) or 0.0):
            return False
        better = better or difference.high < 0.0
    return better


def _keeps_nut(case: Case) -> bool:
    securing = case.joint.securing
    return securing is not None and securing.element.keeps_nut


def _is_judged_as_well(one: Judgement, other: Judgement) -> bool:
    """Return whether no limit beside the window has a worse verdict than with the other."""
    theirs = {each.name: _RANKS[each.verdict] for each in (*other.beside, *other.of_joint)}
    return not any(
        _RANKS[each.verdict] > theirs.get(each.name, 0) for each in (*one.beside, *one.of_joint)
    )


def _allowed(judged: Judgement, name: str) -> float | None:
    return next((each.allowed for each in judged if each.name == name and name != OUTSIDE), None)
