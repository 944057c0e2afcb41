"""What common draws tell of an alternative: no more than the tables behind its laws can."""

from __future__ import annotations

from preloadmc.case import Case
from preloadmc.estimates.probability import Probability
from preloadmc.judgement.estimate import limited_by_tables
from preloadmc.judgement.paired import PairedOutcomes


def probability_of(paired: PairedOutcomes, case: Case, place: int, name: str) -> Probability:
    """Return the probability of an outcome, or of missing a limit, with the case at a place."""
    return limited_by_tables(case, paired.probability(name, place))


def is_told(paired: PairedOutcomes, case: Case, place: int, name: str) -> bool:
    """Return whether the draws tell how likely an outcome is with the case at a place.

    They do not where it is not judged, where its estimate is in doubt, nor below what a table can
    say. No difference, cost or order rests on what they do not tell.
    """
    if (name, place) not in paired.judged:
        return False
    drawn = paired.probability(name, place)
    return drawn.reliable and limited_by_tables(case, drawn) == drawn
