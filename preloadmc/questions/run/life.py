"""The preload over its life: how likely too little is at each time, and by each time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtri

from preloadmc.case import Case
from preloadmc.chance.streams import named_rng
from preloadmc.engine import cores, margin_function, sample
from preloadmc.estimates.probability import Probability
from preloadmc.estimates.tail import tail_probability
from preloadmc.joint import RETIGHTEN, evaluate
from preloadmc.judgement.bands import bands_of
from preloadmc.judgement.estimate import USUAL_PRECISION, limited_by_tables, plain_estimate
from preloadmc.judgement.judge import JUDGED_SAMPLES, judge, judged_outcome
from preloadmc.judgement.misses import look
from preloadmc.judgement.verdicts import MEETS, Judged, Judgement
from preloadmc.over_time import (
    CHANGE,
    at,
    planned_cost,
    service_of,
    tightens_again,
    until,
    with_action,
    without_actions,
)
from preloadmc.questions.run.checks import CheckFound, check_found
from preloadmc.samples import Samples
from preloadmc.units import TIME, Array, format_number, parse_quantity, time_words, to_unit

_DAY = 86400.0
# What is looked at in a service of which only the end is stated: [s].
_MOMENTS = (3600.0, _DAY, 30 * _DAY, 365.25 * _DAY, 10 * 365.25 * _DAY)
_FINE = 0.25
# Steps of the search for an interval, in the logarithm of time, and how close is close enough; the
# least part of a bracket that a step takes; tries to confirm what it found.
_STEPS, _CLOSE, _LEAST_SHARE, _TRIES = 8, 0.05, 0.1, 5
_NONE = 1e-300
_OF_ONE = "the joint has several fasteners, and these times are of one"
# Below this share of what is allowed a bound will do.
_MATTERS = 0.1
# What is left of what is allowed, so that other random numbers agree on an interval.
_SPARE = 0.9
# Behind the bands of preload over time.
_DRAWN, _PLACES = 8192, 60
LIFE_QUANTILES = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99)


@dataclass(frozen=True, slots=True)
class LifePoint:
    """Probabilities at a ``time`` of service [s], of one fastener.

    ``under`` is too little preload in a state that the joint may be in then, ``over`` too much
    then or at assembly, ``by_then`` too little in any state up to then.
    """

    time: float
    under: Judged
    over: Judged
    by_then: Judged

    @property
    def words(self) -> str:
        """Return the time in words."""
        return time_words(self.time)


@dataclass(frozen=True, slots=True)
class Trial:
    """A retightening at a ``time`` [s] that was tried: the case with it, judged to its end.

    ``verdict`` is of every limit.
    """

    time: float
    under: Judged
    verdict: str


@dataclass(frozen=True, slots=True, eq=False)
class LifeResult:
    """What a run finds of a joint over its service.

    ``longest`` [s] is the longest time from assembly, with nothing done, in which too little
    preload stays within what is allowed; None where it does not even at first, or nothing is
    allowed. It is ``all_along`` where that is so to the end. ``without`` is too little preload by
    the end if nothing is done, None where nothing is. ``first_retightening`` and ``at_longest`` are
    retightenings that were tried; ``untried`` says why none was. ``times`` [s] (k,) and ``bands``
    (quantiles, k) [N] are the settled preload over time. ``expected_cost`` is that of what is done
    and of misses, for each fastener, ``cost_of_nothing`` that of misses if nothing is done; None
    without costs.
    """

    points: tuple[LifePoint, ...]
    longest: float | None
    all_along: bool
    without: Judged | None
    first_retightening: Trial | None
    at_longest: Trial | None
    untried: str
    checks: tuple[CheckFound, ...]
    times: Array
    bands: Array
    expected_cost: float | None
    cost_of_nothing: float | None

    @property
    def of_one(self) -> bool:
        """Return whether it is of one fastener of a joint that has several."""
        return self.untried == _OF_ONE

    @property
    def end(self) -> float:
        """Return when service ends [s]."""
        return self.points[-1].time


def with_times(case: Case, end: float | None) -> Case:
    """Return a case with the times of service that are looked at, up to an end [s] if one is asked.

    Where the case states none up to then, some between an hour and the end are.
    """
    service = service_of(case.joint)
    if end is None:
        # What is done after the end is no part of it.
        return until(case, service.times[-1]) if service.times else case
    stated = [each for each in service.times if each < end]
    return until(case, end, stated or [each for each in _MOMENTS if each <= 0.5 * end])


def life(case: Case, drawn: Samples, judged: Judgement, *, seed: int) -> LifeResult | None:
    """Return what becomes of a joint over its service; None where no time is stated.

    Parameters
    ----------
    case : Case
        What was run, to the end of its service.
    drawn : Samples
        Its samples; the kept ones are read.
    judged : Judgement
        Its judgement, to the end of its service.
    seed : int
        Of all samples beside.
    """
    service = service_of(case.joint)
    if not service.times:
        return None
    # Until something is done, or a spell is over, least is left last.
    turns = [each.at for each in service.actions]
    turns += [each.end for each in service.spells if each.every is None]
    points = []
    for time in service.times:
        by_then = judged.under if time == service.times[-1] else _under(until(case, time), seed)
        now = at(case, time)
        drawn_now = _drawn(now, seed)
        turned = any(turn < time for turn in turns)
        under = _under(now, seed, drawn_now) if turned else by_then
        points.append(LifePoint(time, under, _over(now, drawn_now), by_then))
    alone = without_actions(case) if service.actions else case
    without = _under(alone, seed) if service.actions else None
    if case.group is None:
        longest, all_along = _longest(alone, without or judged.under, seed)
        first, at_longest, untried = _trials(alone, longest, all_along, seed)
    else:
        longest, all_along, first, at_longest = None, False, None, None
        untried = _OF_ONE
    times, bands = _bands(case, drawn)
    checks = tuple(check_found(case, drawn))
    return LifeResult(
        tuple(points),
        longest,
        all_along,
        without,
        first,
        at_longest,
        untried,
        checks,
        times,
        bands,
        _cost(case, judged, checks),
        None
        if without is None or case.cost is None
        else case.cost.per_under * without.probability.value,
    )


def _drawn(case: Case, seed: int) -> Samples:
    return sample(case, seed=seed, samples=JUDGED_SAMPLES, precision=None, threads=cores())


def _over(case: Case, drawn: Samples) -> Judged:
    """Judge too much preload, by plain samples alone: time lowers it."""
    plain = limited_by_tables(case, plain_estimate(case, drawn, "over_preload"))
    return judged_outcome(case, "over_preload", plain, plain)


def _under(case: Case, seed: int, drawn: Samples | None = None) -> Judged:
    """Judge too little preload on samples of its own, as far as what is allowed asks for."""
    event = "under_preload"
    drawn = drawn or _drawn(case, seed)
    plain = limited_by_tables(case, plain_estimate(case, drawn, event))
    judged = judged_outcome(case, event, plain, plain)
    for precision in (USUAL_PRECISION, _FINE * USUAL_PRECISION):
        found, allowed = judged.probability, judged.allowed
        resolved = found.relative_half_width <= USUAL_PRECISION
        if allowed is not None:
            matters = found.high >= _MATTERS * allowed
            near = found.high >= 0.5 * allowed and found.low <= 2.0 * allowed
            coarse = near and found.relative_half_width > _FINE * USUAL_PRECISION
            resolved = not matters or (resolved and not coarse)
        tail = None if resolved else _tail(case, drawn, event, precision, seed)
        if tail is None:
            break
        judged = judged_outcome(case, event, tail, plain)
    bands = bands_of(case, seed)
    return judged if bands is None else replace(judged, band=bands.band(event))


def _tail(
    case: Case, drawn: Samples, event: str, precision: float, seed: int
) -> Probability | None:
    """Return an estimate of a small probability; None where no way to a miss is found."""
    if not case.uncertain:
        return None
    found = tail_probability(
        margin_function(case, event),
        len(case.uncertain),
        rng=named_rng(seed, f"tail of {event}"),
        smooth=case.is_smooth,
        precision=precision,
        look=look(drawn, event),
    ).probability
    return None if found.bound == "upper" else limited_by_tables(case, found)


def _longest(case: Case, to_end: Judged, seed: int) -> tuple[float | None, bool]:
    """Return the longest time that keeps what is allowed of too little preload."""
    end = service_of(case.joint).times[-1]
    if to_end.allowed is None:
        return None, False
    if to_end.verdict == MEETS:
        return end, True
    low, high = math.log(min(3600.0, 1e-3 * end)), math.log(end)
    under, over = (_excess(each) for each in (_under(until(case, math.exp(low)), seed), to_end))
    if under > 0.0:
        return None, False
    for _ in range(_STEPS):
        # The normal score of the upper limit runs nearly straight over log time.
        share = min(max(under / (under - over), _LEAST_SHARE), 1.0 - _LEAST_SHARE)
        middle = low + share * (high - low)
        excess = _excess(_under(until(case, math.exp(middle)), seed))
        if excess <= 0.0:
            low, under = middle, excess
        else:
            high, over = middle, excess
        if high - low < _CLOSE:
            break
    found = _rounded(math.exp(low))
    for _ in range(_TRIES):
        if _excess(_under(until(case, found), seed)) <= 0.0:
            return found, False
        found = _rounded(0.9 * found)
    return None, False


def _excess(judged: Judged) -> float:
    """Return how far an upper limit lies above what is allowed, in normal scores."""
    assert judged.allowed is not None, "asked where something is allowed"
    return float(ndtri(min(max(judged.upper, _NONE), 1.0 - 1e-12)) - ndtri(_SPARE * judged.allowed))


def _rounded(time: float) -> float:
    """Return a time [s] rounded down to two figures of the unit that it is told in."""
    unit = next(unit for unit in ("year", "d", "h", "s") if to_unit(time, unit, TIME) >= 1.0)
    number = to_unit(time, unit, TIME)
    step = 10.0 ** (math.floor(math.log10(number)) - 1)
    return parse_quantity(f"{format_number(math.floor(number / step) * step, 3)} {unit}", TIME)


def _trials(
    case: Case, longest: float | None, all_along: bool, seed: int
) -> tuple[Trial | None, Trial | None, str]:
    """Try a first retightening after a day, and one at the longest interval."""
    end = service_of(case.joint).times[-1]
    if not service_of(case.joint).creep:
        return None, None, "nothing creeps"
    if not tightens_again(case.joint.method):
        return None, None, f"'{case.joint.method.name}' does not tighten what is tight already"
    if CHANGE not in case.laws:
        return None, None, "state change_per_tightening of [friction] to try one"
    first = _trial(case, _DAY, seed) if end >= 10 * _DAY else None
    later = None
    if longest is not None and not all_along and longest != _DAY:
        later = _trial(case, longest, seed)
    return first, later, ""


def _trial(case: Case, time: float, seed: int) -> Trial:
    case = with_action(case, time, RETIGHTEN)
    tried = judge(case, seed=seed)
    verdict = tried.verdict
    if verdict == MEETS:
        # Advice stands on this: other random numbers must agree.
        verdict = judge(case, seed=seed + 1).verdict
    return Trial(time, tried.under, verdict)


def _bands(case: Case, drawn: Samples) -> tuple[Array, Array]:
    """Return times [s] and quantiles of the settled preload [N] over them."""
    service = service_of(case.joint)
    end = service.times[-1]
    first = min(service.times[0], 60.0, 1e-4 * end)
    just_after = (each.at * (1.0 + 1e-9) for each in service.actions)
    times = np.unique([*np.geomspace(first, end, _PLACES), *service.times, *just_after])
    n = min(_DRAWN, len(drawn.kept.z))
    x = case.inputs(drawn.kept.z[:n], drawn.columns, exact=False)
    bands = np.empty((len(LIFE_QUANTILES), len(times)))
    for place, time in enumerate(times):
        state = evaluate(at(case, float(time)).joint, x)
        held = np.broadcast_to(state.held(state.judged[0]), n)
        bands[:, place] = np.quantile(held, LIFE_QUANTILES)
    return times, bands


def _cost(case: Case, judged: Judgement, checks: Sequence[CheckFound]) -> float | None:
    """Return what service costs a fastener: what is done, and the misses by its end."""
    cost = case.cost
    actions = service_of(case.joint).actions
    if cost is None or not actions:
        return None
    found = sum(each.turned.value for each in checks)
    done = planned_cost(case) + found * cost.per_retightening
    return done + cost.per_under * judged.under.probability.value
