"""What to set: the torque, angle, force or elongation that is best for the preload window."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.streams import named_rng
from preloadmc.engine import OUTCOME_OF_SIDE, margin_function
from preloadmc.errors import UsageError
from preloadmc.estimates.design_point import design_points
from preloadmc.estimates.outside_shares import ShareCurve, upper_quantile
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.estimates.tail import tail_probability
from preloadmc.judgement.estimate import USUAL_PRECISION, likeliest_miss
from preloadmc.judgement.outcomes import Outcome
from preloadmc.limits import OVER, UNDER, as_columns
from preloadmc.questions.aim.allowed_scatter import AllowedScatters, allowed_scatters
from preloadmc.questions.aim.answer import aim_answer
from preloadmc.questions.aim.records import (
    MEETS,
    MISSES,
    NO_TARGET,
    NOT_RESOLVED,
    Aim,
    AimResult,
    LimitShare,
    SettingPoint,
    Verification,
    Weighting,
)
from preloadmc.questions.aim.setting import REACH, Calls, Joints, Setting, case_at, check_one_way
from preloadmc.questions.aim.suited_sample import SuitedSample, draw_suited
from preloadmc.units import Array, Dimension, to_unit

# Settings of the curve: steps of a few thousandths, finer than a setting is rounded.
_LEVELS = 801
# A setting within this share of the least weighted miss is as good as the best: a rounder number is
# worth more to a worker than a twentieth of the misses.
_AS_GOOD = 1.05
# The curve reaches up to this share of misses on both sides: worse settings are of no interest.
_COMMON = 0.5
# The curve includes the present setting where it is no farther off than this; else it would squeeze
# the settings that matter.
_PRESENT_WITHIN = 1.5
# Rows of the table between the ends of the curve: what fits a page.
_ROWS = 7
# Draws of the estimate anew, and plain samples where it finds no miss: both a few seconds.
_VERIFY_BUDGET = 200_000
_PLAIN_CHECK = 2**17


def aim(case: Case, *, seed: int | None = None, system: str | None = None) -> AimResult:
    """Find the setting that suits the preload window best, and what scatter the window tolerates.

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
    calls = Calls()
    columns, setting = case.uncertain, Setting.of(case)
    found_settings = _search_settings(case, seed, system, calls)
    sample, curve, found = found_settings.sample, found_settings.curve, found_settings.aim

    def point(at: float) -> SettingPoint:
        return SettingPoint(
            at,
            *(
                shares.probability(at, model_calls=calls.count)
                for shares in (sample.under, sample.over, sample.outside)
            ),
        )

    rounded = _rounded(found, setting.dimension, system)
    scatters: AllowedScatters | None = None
    if None not in (case.requirement.allowed_under, case.requirement.allowed_over):
        scatters = allowed_scatters(case, seed=seed, calls=calls)
    limits = _limits(case, columns, sample, rounded, calls)
    to_set = point(rounded)
    result = AimResult(
        case=case,
        seed=seed,
        system=system,
        setting=setting,
        weighting=found_settings.weighting,
        present=point(setting.present),
        best=point(found.best),
        aim=found,
        to_set=to_set,
        verification=_verify(case, to_set, seed),
        table=tuple(point(at) for at in _table(found, setting.present, rounded)),
        under=curve[UNDER],
        over=curve[OVER],
        limits=limits,
        allowed_scatter=scatters,
        answer=("", "", ""),
        draws=len(sample.z),
        model_calls=calls.count,
    )
    return replace(result, answer=aim_answer(result))


def find_setting(case: Case, *, seed: int | None = None, system: str | None = None) -> Aim:
    """Find the best setting and those that meet what is allowed, without all that `aim` adds.

    Parameters, and what is raised, as for `aim`; neither verified nor rounded to what is easy to
    set.
    """
    seed = case.sampling.seed if seed is None else seed
    return _search_settings(case, seed, case.unit_system if system is None else system, Calls()).aim


@dataclass(frozen=True, slots=True, eq=False)
class _SettingSearch:
    sample: SuitedSample
    weighting: Weighting
    curve: dict[str, ShareCurve]
    aim: Aim


def _search_settings(case: Case, seed: int, system: str, calls: Calls) -> _SettingSearch:
    columns = case.uncertain
    if not columns:
        raise UsageError(
            "nothing in this case scatters, so there is nothing to aim for but the middle of the "
            "window"
        )
    rng = named_rng(seed, "aim")
    setting = Setting.of(case)
    check_one_way(case, columns, rng=rng, calls=calls)
    sample = draw_suited(case, columns, rng=rng, calls=calls)
    weighting = weighting_of(case)
    levels = _levels(sample, setting)
    curve = {UNDER: sample.under.curve(levels), OVER: sample.over.curve(levels)}
    found = _rounded_inward(_aim(case, weighting, curve), setting.dimension, system)
    return _SettingSearch(sample, weighting, curve, found)


def weighting_of(case: Case) -> Weighting:
    """Return what a miss of each side weighs: its cost, else against what is allowed of it."""
    cost, requirement = case.cost, case.requirement
    if cost is not None and cost.per_under + cost.per_over > 0.0:
        words = (
            f"each miss by its cost: {cost.per_under:g} {cost.currency} with too little preload, "
            f"{cost.per_over:g} with too much"
        )
        return Weighting(cost.per_under, cost.per_over, words)
    under, over = requirement.allowed_under, requirement.allowed_over
    if under is not None and over is not None:
        words = "each side by what is allowed of it"
        return Weighting(1.0 / under, 1.0 / over, words)
    return Weighting(
        1.0, 1.0, "both sides alike: the case states neither costs nor both allowed probabilities"
    )


def _levels(sample: SuitedSample, setting: Setting) -> Array:
    """Return settings from where one side is common to where the other is."""
    weights = sample.all_weights
    ends = []
    for settings, sign in ((sample.suited.needed, 1.0), (sample.suited.borne, -1.0)):
        clipped = np.clip(settings, setting.present / REACH, setting.present * REACH)
        ends.append(sign * upper_quantile(sign * clipped, weights, _COMMON))
    low, high = min(ends), max(ends)
    near = _PRESENT_WITHIN * high >= setting.present >= low / _PRESENT_WITHIN
    if near:
        low, high = min(low, 0.98 * setting.present), max(high, 1.02 * setting.present)
    return np.geomspace(0.99 * low, 1.01 * high, _LEVELS)


def _aim(case: Case, weighting: Weighting, curve: dict[str, ShareCurve]) -> Aim:
    """Return the best setting and the settings that meet both allowed probabilities."""
    levels = curve[UNDER].levels
    miss = weighting.under * curve[UNDER].value + weighting.over * curve[OVER].value
    least = np.flatnonzero(miss <= miss.min())
    regardless = float(levels[least[len(least) // 2]])
    asked = {UNDER: case.requirement.allowed_under, OVER: case.requirement.allowed_over}
    if asked[UNDER] is None and asked[OVER] is None:
        return Aim(regardless, regardless, None, NO_TARGET, (levels, miss))
    surely, perhaps = np.ones(len(levels), bool), np.ones(len(levels), bool)
    for side, allowed in asked.items():
        if allowed is not None:
            surely &= curve[side].high <= allowed
            perhaps &= curve[side].low <= allowed
    if not surely.any():
        verdict = NOT_RESOLVED if perhaps.any() else MISSES
        return Aim(regardless, regardless, None, verdict, (levels, miss))
    inside = np.where(surely, miss, math.inf)
    least = np.flatnonzero(inside <= inside.min())
    middle = int(least[len(least) // 2])
    unsuited = np.flatnonzero(~surely)
    first = int(unsuited[unsuited < middle].max(initial=-1)) + 1
    last = int(unsuited[unsuited > middle].min(initial=len(levels))) - 1
    interval = float(levels[first]), float(levels[last])
    return Aim(float(levels[middle]), regardless, interval, MEETS, (levels, miss))


def _table(found: Aim, present: float, rounded: float) -> list[float]:
    """Return settings worth a row: those of note, and some between the ends of the curve."""
    levels, _ = found.misses
    noted = [present, rounded, *(found.interval or ())]
    between = np.geomspace(levels[0], levels[-1], _ROWS)
    apart = 0.25 * math.log(between[1] / between[0])
    others = [
        float(at) for at in between if all(abs(math.log(at / note)) > apart for note in noted)
    ]
    return sorted({*noted, *others})


def _rounded_inward(found: Aim, dimension: Dimension, system: str) -> Aim:
    """Return the aim with the ends of its interval rounded to four digits, towards the inside."""
    if found.interval is None:
        return found
    size = to_unit(1.0, dimension.unit(system), dimension)
    low, high = (end * size for end in found.interval)
    grain = 10.0 ** (math.floor(math.log10(high)) - 3)
    ends = math.ceil(low / grain) * grain / size, math.floor(high / grain) * grain / size
    return replace(found, interval=ends) if ends[0] <= found.best <= ends[1] else found


def _rounded(found: Aim, dimension: Dimension, system: str) -> float:
    """Return the roundest setting that is as good as the best."""
    levels, miss = found.misses
    best = float(np.interp(found.best, levels, miss))
    unit = dimension.unit(system)
    size = to_unit(1.0, unit, dimension)
    exponent = math.floor(math.log10(found.best * size))
    for digits in (2, 3, 4):
        for step in (5.0, 1.0):
            grain = step * 10.0 ** (exponent + 1 - digits)
            at = round(found.best * size / grain) * grain / size
            inside = found.interval is None or found.interval[0] <= at <= found.interval[1]
            if inside and float(np.interp(at, levels, miss)) <= _AS_GOOD * best:
                return at
    return found.best


def _limits(
    case: Case, columns: tuple[str, ...], sample: SuitedSample, at: float, calls: Calls
) -> tuple[LimitShare, ...]:
    """Return how often each limit is missed at a setting, most often first."""
    n = len(sample.z)
    joints = Joints(case, columns, sample.z, calls)
    found = joints.margins(np.full(n, at), np.arange(n))
    weights = sample.all_weights
    missed = as_columns(found, n) < 0.0
    shares = weights @ missed / weights.sum()
    limits = [
        LimitShare(margin.limit, float(share)) for margin, share in zip(found, shares, strict=True)
    ]
    return tuple(sorted(limits, key=lambda limit: -limit.share))


def _verify(case: Case, to_set: SettingPoint, seed: int) -> Verification:
    """Estimate both sides at the setting anew, as a run does, from other random numbers."""
    moved = case_at(case, to_set.setting)
    d = len(case.uncertain)
    outcomes, likeliest = [], []
    for side, name in OUTCOME_OF_SIDE.items():
        rng = named_rng(seed + 1, f"verification of {name}")
        margins = margin_function(moved, name)
        estimate = tail_probability(
            margins,
            d,
            rng=rng,
            smooth=case.is_smooth,
            precision=USUAL_PRECISION,
            budget=_VERIFY_BUDGET,
            cross_check=False,
        )
        allowed = {UNDER: case.requirement.allowed_under, OVER: case.requirement.allowed_over}[side]
        probability = estimate.probability
        if probability.bound == "upper":
            # No way to a miss was found: then plain samples bound the probability best.
            z = rng.standard_normal((_PLAIN_CHECK, d))
            misses = int(np.count_nonzero((margins(z) < 0.0).any(axis=1)))
            probability = from_counts(misses, _PLAIN_CHECK)
        outcomes.append(Outcome(name, probability, allowed))
        points = estimate.points
        if case.is_smooth and estimate.probability.method == "plain":
            points = design_points(margins, d, rng=rng)
        likeliest.append(likeliest_miss(moved, name, points))
    return Verification(
        seed=seed + 1,
        outcomes=(outcomes[0], outcomes[1]),
        agrees=(
            agree(to_set.under, outcomes[0].probability),
            agree(to_set.over, outcomes[1].probability),
        ),
        likeliest=(likeliest[0], likeliest[1]),
    )


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
