"""Fatigue by preload: how likely a fastener tires if it has too little preload, and if it has not.

A loose joint opens under its load, and the fastener then takes more of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.streams import named_rng
from preloadmc.engine import case_margins, on_event
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.estimates.tail import tail_probability
from preloadmc.judgement.estimate import USUAL_PRECISION, least_told
from preloadmc.limits import FATIGUE, Limit, Margin
from preloadmc.samples import Samples
from preloadmc.units import Array

_UNDER = "under_preload"


@dataclass(frozen=True, slots=True)
class FatigueByPreload:
    """The probability of fatigue given too little preload, and given enough of it.

    Either is None where no sample and no search tells: it is not resolved.
    """

    loose: Probability | None
    tight: Probability | None

    @property
    def ratio(self) -> float | None:
        """Return how many times as likely fatigue is with too little preload.

        None where the intervals do not tell the two apart.
        """
        loose, tight = self.loose, self.tight
        if loose is None or tight is None or tight.value == 0.0:
            return None
        apart = loose.low > tight.high or loose.high < tight.low
        return loose.value / tight.value if apart else None


def fatigue_by_preload(
    case: Case, drawn: Samples, under: Probability, *, seed: int, method: str | None = None
) -> FatigueByPreload | None:
    """Estimate the probability of fatigue given too little preload, and given enough.

    Parameters
    ----------
    case, drawn : Case, Samples
        The case and its plain samples.
    under : Probability
        Of too little preload.
    seed : int
        Of the streams of what plain samples do not resolve.
    method : str, optional
        "plain" leaves it at the plain samples.

    Returns
    -------
    FatigueByPreload or None
        None where the case does not judge fatigue.
    """
    mine = [place for place, limit in enumerate(drawn.limits) if limit.kind is FATIGUE]
    if not mine:
        return None
    kept = drawn.kept
    tires = (kept.margins[:, mine] < 0.0).any(axis=1)
    found = []
    for loose, flags in ((True, kept.under), (False, ~kept.under)):
        n = int(np.count_nonzero(flags))
        counted = from_counts(int(np.count_nonzero(tires & flags)), n) if n else None
        if method != "plain" and not _resolved(case, counted):
            counted = _by_tail(case, under, loose=loose, seed=seed) or counted
        found.append(counted)
    return FatigueByPreload(*found)


def _resolved(case: Case, counted: Probability | None) -> bool:
    if not case.uncertain:
        return True
    if counted is None:
        return False
    # Of a probability near 1 the rest is as good as it.
    return counted.high - counted.low <= 2.0 * USUAL_PRECISION * counted.value


def _by_tail(case: Case, under: Probability, *, loose: bool, seed: int) -> Probability | None:
    """Return fatigue with too little preload over too little preload, or the same of the rest."""
    share = under if loose else _complement(under)
    if share.value == 0.0 or not share.reliable or share.bound is not None:
        return None
    rng = named_rng(seed, f"fatigue {'loose' if loose else 'tight'}")
    both = tail_probability(
        _both_missed(case, loose=loose), len(case.uncertain), rng=rng, smooth=case.is_smooth
    ).probability
    if both.bound is not None or both.value <= least_told(case):
        return None
    value = min(both.value / share.value, 1.0)
    lower = math.exp(-math.hypot(_log(both.value, both.low), _log(share.high, share.value)))
    upper = math.exp(math.hypot(_log(both.high, both.value), _log(share.value, share.low)))
    return Probability(
        value,
        value * lower,
        min(value * upper, 1.0),
        both.confidence,
        both.method,
        both.samples,
        both.model_calls,
        reliable=both.reliable,
        note=both.note,
    )


def _log(larger: float, smaller: float) -> float:
    return math.log(larger / smaller) if smaller > 0.0 else 700.0


def _complement(each: Probability) -> Probability:
    return Probability(
        1.0 - each.value,
        1.0 - each.high,
        1.0 - each.low,
        each.confidence,
        each.method,
        each.samples,
        each.model_calls,
        reliable=each.reliable,
    )


def _both_missed(case: Case, *, loose: bool) -> Callable[[Array], Array]:
    """Return a margin that is negative where a fastener tires and is loose, or is not."""
    columns = case.uncertain
    nominal = case_margins(case, case.means, others=True)
    typical = {margin.limit: abs(float(margin.reference)) or 1.0 for margin in nominal}

    def function(z: Array) -> Array:
        found = case_margins(case, case.inputs(z, columns), others=True)
        under = _least_share(on_event(found, _UNDER), typical, len(z))
        tires = _least_share(on_event(found, FATIGUE.name), typical, len(z))
        both: Array = np.maximum(tires, under if loose else -under)
        return both[:, None]

    return function


def _least_share(found: tuple[Margin, ...], typical: Mapping[Limit, float], n: int) -> Array:
    """Return the smallest margin (n,), each over what is allowed nominally: without its unit."""
    least = np.full(n, np.inf)
    for margin in found:
        np.minimum(least, np.asarray(margin.values) / typical[margin.limit], out=least)
    return least
