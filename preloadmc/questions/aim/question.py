"""What to set: the torque, angle, force or elongation that is best within every limit."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.streams import CHUNK, normal_chunk
from preloadmc.engine import OUTCOMES, OUTSIDE, sample
from preloadmc.estimates.outside_shares import ShareCurve
from preloadmc.estimates.probability import Probability
from preloadmc.judgement.edges import edges, window_edges
from preloadmc.judgement.estimate import USUAL_PRECISION, estimate_outcome
from preloadmc.judgement.judge import JUDGED_SAMPLES, judgement
from preloadmc.judgement.misses import RANKED_SIDES
from preloadmc.judgement.verdicts import MEETS, MISSES, NOT_RESOLVED, Judgement
from preloadmc.over_time import with_checks_read
from preloadmc.questions.aim.allowed_scatter import AllowedScatters, allowed_scatters
from preloadmc.questions.aim.answer import aim_answer
from preloadmc.questions.aim.records import (
    Aim,
    AimResult,
    End,
    JudgedSetting,
    SettingPoint,
    Verification,
)
from preloadmc.questions.aim.search import (
    LEVELS,
    SettingSearch,
    curves_at,
    estimates_at,
    judge_setting,
    rounded_setting,
    search_settings,
)
from preloadmc.questions.aim.setting import Calls, Setting, case_at
from preloadmc.questions.bounds import bounds
from preloadmc.questions.derive import derive
from preloadmc.units import Array

# The curve includes the present setting where it is no farther off than this; else it would squeeze
# the settings that matter.
_PRESENT_WITHIN = 1.5
# Shares of the way from the best setting to the middle of the interval, tried in turn where the
# best itself is not resolved.
_INWARDS = (0.1, 0.3, 1.0)
# Rows of the table between the ends of the curve: what fits a page.
_ROWS = 7


def aim(case: Case, *, seed: int | None = None, system: str | None = None) -> AimResult:
    """Find the setting that is best within every limit, and what scatter the window tolerates.

    Parameters
    ----------
    case : Case
        As `load_case` returned it; something in it must scatter.
    seed : int, optional
        That of the case unless given.
    system : {"metric", "inch"}, optional
        Units in which the setting is given and rounded; those of the thread unless given.

    Returns
    -------
    AimResult

    Raises
    ------
    UsageError
        If nothing scatters.
    EstimateError
        If a margin does not run one way with the setting.
    """
    seed = case.sampling.seed if seed is None else seed
    system = case.unit_system if system is None else system
    case = with_checks_read(case)
    calls = Calls()
    setting = Setting.of(case)
    search = search_settings(case, seed, system, calls)
    chosen = _choose(case, search, setting, system, seed, calls)
    found = chosen.aim
    scatters: AllowedScatters | None = None
    # How much scatter is allowed is looked at for one fastener: it says nothing of a joint.
    of_joint = case.group is not None and bool(case.group.allowed)
    both = None not in (case.requirement.allowed_under, case.requirement.allowed_over)
    if both and not of_joint:
        scatters = allowed_scatters(case, search.sample.bounds, seed=seed, calls=calls)

    ends = None
    if found.interval is not None:
        low, high = (
            JudgedSetting(at, _judged_by_search(case, search, at, seed, calls))
            for at in found.interval
        )
        ends = low, high
    present = JudgedSetting(
        setting.present, _judged_by_search(case, search, setting.present, seed, calls)
    )
    judged_at = {each.setting: each.judged for each in (*(ends or ()), present, chosen.looked_at)}

    def point(at: float) -> SettingPoint:
        shares = estimates_at(case, search.sample, at, calls.count)
        others = {}
        for name in (*found.low_end.limits, *found.high_end.limits):
            judged = judged_at[at].find(name) if at in judged_at else None
            if name not in OUTCOMES and name in shares:
                others[name] = shares[name]
            elif name not in OUTCOMES and judged is not None:
                others[name] = judged.known
        return SettingPoint(
            at, shares["under_preload"], shares["over_preload"], shares[OUTSIDE], others
        )

    used = case_at(case, chosen.setting)
    z = normal_chunk(seed, 0, CHUNK, len(case.uncertain))
    noted = [setting.present, chosen.setting, *(found.interval or ())]
    result = AimResult(
        case=case,
        seed=seed,
        system=system,
        setting=setting,
        weighting=search.weighting,
        present=present,
        best=point(found.best),
        aim=found,
        to_set=chosen.looked_at if found.interval is not None else None,
        looked_at=chosen.looked_at,
        used=used,
        window=window_edges(edges(used, z, used.uncertain, others=False)),
        interval_limits=ends,
        verification=chosen.verification,
        bounds=bounds(derive(used)),
        table=tuple(point(at) for at in _table(found, noted)),
        curve=_drawn_curves(case, search, _drawn_levels(search, setting)),
        room=scatters,
        answer=("", "", ""),
        draws=len(search.sample.z),
        model_calls=calls.count,
    )
    return replace(result, answer=aim_answer(result))


def find_setting(case: Case, *, seed: int | None = None) -> float:
    """Return the best setting of a case, as `aim` finds it, without all that `aim` adds.

    That is the one that `aim` recommends; where it recommends none, the best compromise.

    Parameters
    ----------
    case : Case
        Something in it must scatter.
    seed : int, optional
        That of the case unless given.

    Returns
    -------
    float
        In the internal unit of what the method sets.

    Raises
    ------
    UsageError
        If nothing scatters.
    """
    seed = case.sampling.seed if seed is None else seed
    calls, system = Calls(), case.unit_system
    case = with_checks_read(case)
    search = search_settings(case, seed, system, calls)
    return _choose(case, search, Setting.of(case), system, seed, calls).setting


@dataclass(frozen=True, slots=True, eq=False)
class _Chosen:
    """The setting looked at, and the aim after it was judged anew."""

    setting: float
    aim: Aim
    looked_at: JudgedSetting
    verification: Verification


def _choose(
    case: Case, search: SettingSearch, setting: Setting, system: str, seed: int, calls: Calls
) -> _Chosen:
    """Choose the setting to recommend: a round one, else the exact best, judged anew.

    Where what is allowed holds the best at an end of the interval, other random numbers seldom
    resolve it there: then one further inside. Where none of them is judged to meet every limit by
    other random numbers, none is recommended.
    """
    found = search.aim
    candidates = [found.best]
    if found.interval is not None:
        middle = 0.5 * sum(found.interval)
        moved = [found.best + share * (middle - found.best) for share in (0.0, *_INWARDS)]
        rounded = [
            rounded_setting(replace(found, best=at), setting.dimension, system) for at in moved
        ]
        candidates = [rounded[0], found.best, *rounded[1:]]
    for at in dict.fromkeys(candidates):
        by_search = JudgedSetting(at, _judged_by_search(case, search, at, seed, calls))
        verification = _verify(case, by_search, seed)
        # Where the two disagree, the figures of the check stand: it is held against a second one.
        shown = (
            by_search
            if all(verification.agrees)
            else replace(by_search, judged=verification.judged)
        )
        if found.interval is None:
            return _Chosen(at, found, shown, verification)
        if MEETS == by_search.judged.verdict == verification.judged.verdict:
            return _Chosen(at, found, shown, verification)
    missed = {
        each.name: each.verdict
        for judged in (by_search.judged, verification.judged)
        for each in judged
        if each.verdict in (MISSES, NOT_RESOLVED)
    }
    end = End(None, tuple(missed))
    verdict = MISSES if MISSES in missed.values() else NOT_RESOLVED
    refused = replace(found, interval=None, low_end=end, high_end=end, verdict=verdict)
    return _Chosen(at, refused, shown, verification)


def _judged_by_search(
    case: Case, search: SettingSearch, at: float, seed: int, calls: Calls
) -> Judgement:
    """Judge a setting by the sample of the search, where that reaches, else by samples anew."""
    estimated = estimates_at(case, search.sample, at, calls.count)
    reliable = {name: each for name, each in estimated.items() if each.reliable}
    return judge_setting(case, at, seed, reliable)


def _drawn_levels(search: SettingSearch, setting: Setting) -> Array:
    """Return the settings of the curve: those searched, reaching to the present one if near."""
    levels, _ = search.aim.misses
    low, high, present = float(levels[0]), float(levels[-1]), setting.present
    if not low / _PRESENT_WITHIN <= present <= high * _PRESENT_WITHIN:
        return levels
    return np.geomspace(min(low, 0.98 * present), max(high, 1.02 * present), LEVELS)


def _drawn_curves(case: Case, search: SettingSearch, levels: Array) -> dict[str, ShareCurve]:
    curves = curves_at(case, search.sample, levels, search.known)
    return curves if search.joint is None else curves | search.joint.curves(levels)


def _table(found: Aim, noted: list[float]) -> list[float]:
    """Return settings worth a row: those of note, and some between the ends of the curve."""
    levels, _ = found.misses
    between = np.geomspace(levels[0], levels[-1], _ROWS)
    apart = 0.25 * math.log(between[1] / between[0])
    others = [
        float(at) for at in between if all(abs(math.log(at / note)) > apart for note in noted)
    ]
    return sorted({*noted, *others})


def _verify(case: Case, looked_at: JudgedSetting, seed: int) -> Verification:
    """Judge the setting anew, as a run does, from other random numbers."""
    moved, anew = case_at(case, looked_at.setting), seed + 1
    drawn = sample(moved, seed=anew, samples=JUDGED_SAMPLES, precision=None)
    sides = {
        name: estimate_outcome(
            moved, drawn, name, seed=anew, precision=USUAL_PRECISION, method=None
        )
        for name in RANKED_SIDES
    }
    estimated = {name: each.probability for name, each in sides.items()}
    judged = judgement(moved, drawn, estimated, seed=anew)
    mine = looked_at.judged.under.probability, looked_at.judged.over.probability
    agrees = agree(mine[0], judged.under.probability), agree(mine[1], judged.over.probability)
    likeliest = sides["under_preload"].likeliest_miss, sides["over_preload"].likeliest_miss
    return Verification(anew, mine, judged, agrees, likeliest)


def agree(one: Probability, other: Probability) -> bool:
    """Return whether two independent estimates differ by no more than 3.3 s.d. of sampling.

    An upper bound agrees with whatever may lie below it.
    """
    for bounded, free in ((one, other), (other, one)):
        if bounded.value == 0.0:
            return free.low <= bounded.high
    apart = abs(math.log(one.value / other.value))
    return apart <= 3.3 * 0.5 * math.hypot(_half_width(one), _half_width(other))


def _half_width(probability: Probability) -> float:
    """Return the half width of the interval of the logarithm; the wider half, as near one."""
    low = max(probability.low, 1e-300)
    return max(math.log(probability.high / probability.value), math.log(probability.value / low))
