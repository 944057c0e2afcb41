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
from preloadmc.engine import case_margins
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.estimates.tail import tail_probability
from preloadmc.judgement.estimate import USUAL_PRECISION, limited_by_tables
from preloadmc.limits import BREAKING, FATIGUE, UNDER, Limit, Margin
from preloadmc.samples import Flags, Samples
from preloadmc.units import Array

# Draws of an estimate at most: it is told to two figures, and a run has more to do.
_BUDGET = 200_000


@dataclass(frozen=True, slots=True)
class FatigueByPreload:
    """The probability of fatigue given too little preload, and given enough of it.

    ``share`` is the probability of too little preload in a fastener that did not break during
    tightening; ``loose`` and ``tight`` are of fatigue, None where nothing tells: not resolved.
    """

    share: Probability
    loose: Probability | None
    tight: Probability | None

    @property
    def ratio(self) -> tuple[float, float] | None:
        """Return how many times as likely fatigue is with too little preload: from, to.

        Both ends hold the intervals of both; None where these do not tell the two apart.
        """
        loose, tight = self.loose, self.tight
        if loose is None or tight is None or not (loose.reliable and tight.reliable):
            return None
        if not (loose.low > tight.high or loose.high < tight.low):
            return None
        return (
            loose.low / tight.high if tight.high > 0.0 else math.inf,
            loose.high / tight.low if tight.low > 0.0 else math.inf,
        )


def fatigue_by_preload(
    case: Case, drawn: Samples, *, seed: int, method: str | None = None
) -> FatigueByPreload | None:
    """Estimate the probability of fatigue given too little preload, and given enough.

    Parameters
    ----------
    case, drawn : Case, Samples
        The case and its plain samples.
    seed : int
        Of the streams of what plain samples do not resolve.
    method : str, optional
        "plain" leaves it at the plain samples.

    Returns
    -------
    FatigueByPreload or None
        None where the case does not judge fatigue.
    """
    if not any(limit.kind is FATIGUE for limit in drawn.limits):
        return None
    shares, given = {}, {}
    loose, tires = _missed(drawn, _is_loose), _missed(drawn, _is_fatigue)
    intact = ~_missed(drawn, _is_breaking)
    searched = bool(case.uncertain) and method != "plain"
    # Where no fastener at all is found to tire, none of either kind is looked for.
    reached = searched and (tires.any() or _by_tail(case, None, seed, tires=True) is not None)
    for name, flags in (("loose", loose & intact), ("tight", ~loose & intact)):
        among = int(np.count_nonzero(flags))
        share = from_counts(among, len(flags))
        counted = from_counts(int(np.count_nonzero(tires & flags)), among) if among else None
        if reached and not _resolves(counted):
            if not _resolves(share):
                share = _by_tail(case, name, seed, tires=False) or share
            counted = _quotient(_by_tail(case, name, seed, tires=True), share) or counted
        shares[name], given[name] = share, counted
    return FatigueByPreload(shares["loose"], given["loose"], given["tight"])


def _is_loose(limit: Limit) -> bool:
    return limit.sides == (UNDER,)


def _is_fatigue(limit: Limit) -> bool:
    return limit.kind is FATIGUE


def _is_breaking(limit: Limit) -> bool:
    return limit.kind is BREAKING


def _missed(drawn: Samples, of: Callable[[Limit], bool]) -> Flags:
    """Return which of the kept samples miss any of some limits (n,)."""
    places = [place for place, limit in enumerate(drawn.limits) if of(limit)]
    flags: Flags = np.any(drawn.kept.margins[:, places] < 0.0, axis=1)
    return flags


def _resolves(counted: Probability | None) -> bool:
    return counted is not None and counted.relative_half_width <= USUAL_PRECISION


def _by_tail(case: Case, name: str | None, seed: int, *, tires: bool) -> Probability | None:
    """Return the probability of being "loose", "tight" or either (None), and tired if ``tires``."""
    rng = named_rng(seed, f"fatigue {name} {tires}")
    found = tail_probability(
        _joint_margin(case, None if name is None else name == "loose", tires=tires),
        len(case.uncertain),
        rng=rng,
        smooth=case.is_smooth,
        budget=_BUDGET,
    ).probability
    return None if found.bound is not None else limited_by_tables(case, found)


def _quotient(both: Probability | None, share: Probability) -> Probability | None:
    """Return the probability of both over that of a share; None where either is not known.

    Errors of independent estimates add as those of logarithms.
    """
    if both is None or share.bound is not None or both.low == 0.0:
        return None
    value = min(both.value / share.value, 1.0)
    lower = math.hypot(_log(both.value, both.low), _log(share.high, share.value))
    upper = math.hypot(_log(both.high, both.value), _log(share.value, share.low))
    return Probability(
        value,
        value * math.exp(-lower),
        min(value * math.exp(upper), 1.0),
        both.confidence,
        both.method,
        both.samples,
        both.model_calls,
        reliable=both.reliable and share.reliable,
        note=both.note,
    )


def _log(larger: float, smaller: float) -> float:
    """Return the logarithm of a ratio, of what has no lower end the largest that has a power."""
    return math.log(larger / smaller) if smaller > 0.0 else 700.0


def _joint_margin(case: Case, loose: bool | None, *, tires: bool) -> Callable[[Array], Array]:
    """Return a margin that is negative where an unbroken fastener is loose, or is not, and tires.

    With None for ``loose`` it may be either. Margins are taken over what is allowed nominally, so
    that they have no units.
    """
    columns = case.uncertain
    nominal = case_margins(case, case.means, others=True)
    typical = {margin.limit: abs(float(margin.reference)) or 1.0 for margin in nominal}

    def function(z: Array) -> Array:
        found = case_margins(case, case.inputs(z, columns), others=True)
        event = -_least(found, _is_breaking, typical, len(z))
        if loose is not None:
            lacks = _least(found, _is_loose, typical, len(z))
            event = np.maximum(event, lacks if loose else -lacks)
        if tires:
            event = np.maximum(event, _least(found, _is_fatigue, typical, len(z)))
        return event[:, None]

    return function


def _least(
    found: tuple[Margin, ...], of: Callable[[Limit], bool], typical: Mapping[Limit, float], n: int
) -> Array:
    """Return the smallest of some margins (n,); infinite where the case has none of them."""
    least = np.full(n, np.inf)
    for margin in found:
        if of(margin.limit):
            np.minimum(least, np.asarray(margin.values) / typical[margin.limit], out=least)
    return least
