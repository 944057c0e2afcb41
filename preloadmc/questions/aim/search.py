"""The search among settings: which meet every limit, which is best, and what closes the rest."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from preloadmc.case import Case
from preloadmc.chance.streams import named_rng
from preloadmc.engine import OUTSIDE, sample
from preloadmc.errors import UsageError
from preloadmc.estimates.outside_shares import ShareCurve
from preloadmc.estimates.probability import Probability
from preloadmc.judgement.estimate import least_told, limited_by_tables
from preloadmc.judgement.judge import judgement
from preloadmc.judgement.verdicts import (
    MEETS,
    MISSES,
    NOT_JUDGED,
    NOT_RESOLVED,
    Judgement,
)
from preloadmc.questions.aim.bounds import BREAKS, Bound, costs_of_misses
from preloadmc.questions.aim.joint_curves import JointCurves
from preloadmc.questions.aim.known_limits import KnownLimits
from preloadmc.questions.aim.records import Aim, End, Weighting
from preloadmc.questions.aim.setting import Calls, Setting, case_at
from preloadmc.questions.aim.suited_sample import (
    Searched,
    SuitedSample,
    draw_suited,
    search_range,
)
from preloadmc.units import Array, Dimension, to_unit

# Settings of the curve: steps of a few thousandths, finer than a setting is rounded.
LEVELS = 801
# A setting within this share of the least weighted miss is as good as the best: a rounder number is
# worth more to a worker than a twentieth of the misses.
AS_GOOD = 1.05
# Plain samples on which a setting is judged beside the search.
JUDGED_SAMPLES = 2**17
# Steps from the best setting to an end at which limits that the search did not follow are judged,
# and how often the step on which one is missed is halved: to a thirtieth of the way.
_STEPS_OUTWARDS = 8
_HALVINGS = 2

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class SettingSearch:
    """What the search found: the sample, what bounds the settings, the curves, and the aim.

    ``curves`` hold the share of joints that miss each bound at ``levels``, by its name; ``known``
    the limits for want of tests, None where no tests stand behind a law; ``joint`` what is allowed
    of a joint of several fasteners, None where nothing is.
    """

    searched: Searched
    sample: SuitedSample
    weighting: Weighting
    curves: dict[str, ShareCurve]
    known: KnownLimits | None
    joint: JointCurves | None
    aim: Aim


def search_settings(case: Case, seed: int, system: str, calls: Calls) -> SettingSearch:
    """Search the settings of a case between those at which too little and too much are common.

    Parameters
    ----------
    case : Case
        Something in it must scatter.
    seed : int
        Of all draws.
    system : {"metric", "inch"}
        In whose unit the ends of the interval are rounded, inwards.
    calls : Calls
        Counts the joints followed.

    Raises
    ------
    UsageError
        If nothing scatters.
    EstimateError
        If a margin of the window does not run one way with the setting.
    """
    columns = case.uncertain
    if not columns:
        raise UsageError(
            "nothing in this case scatters, so there is nothing to aim for but the middle of the "
            "window"
        )
    rng = named_rng(seed, "aim")
    searched = search_range(case, columns, rng=rng, calls=calls)
    sample = draw_suited(case, columns, searched.bounds, rng=rng, calls=calls)
    levels = np.geomspace(0.99 * searched.low, 1.01 * searched.high, LEVELS)
    names = [bound.name for bound in searched.bounds if bound is not BREAKS]
    known = KnownLimits.along(case, names, float(levels[0]), float(levels[-1]), seed)
    curves = curves_at(case, sample, levels, known)
    weighting = weighting_of(case, searched.bounds)
    setting = Setting.of(case)
    joint = _joint_curves(case, searched, curves, seed)
    if joint is not None:
        curves |= joint.curves(levels)
        weighting = _with_joint(weighting, joint, case)
        searched = replace(searched, bounds=(*searched.bounds, *joint.bounds))
    found = _within_all(case, searched, weighting, curves, seed)
    found = _rounded_inward(found, setting.dimension, system)
    return SettingSearch(searched, sample, weighting, curves, known, joint, found)


def _joint_curves(
    case: Case, searched: Searched, curves: Mapping[str, ShareCurve], seed: int
) -> JointCurves | None:
    """Return what is allowed of a joint, along the settings at which one fastener may meet all.

    None where there is none of both: no joint meets what its fasteners do not.
    """
    asked = [bound for bound in searched.bounds if bound.allowed is not None]
    perhaps = np.flatnonzero(
        np.logical_and.reduce([curves[bound.name].low <= (bound.allowed or 0.0) for bound in asked])
    )
    levels = curves["under_preload"].levels
    if not perhaps.size:
        return None
    first, last = max(perhaps[0] - 1, 0), min(perhaps[-1] + 1, len(levels) - 1)
    return JointCurves.along(case, float(levels[first]), float(levels[last]), seed)


def _with_joint(weighting: Weighting, joint: JointCurves, case: Case) -> Weighting:
    """Return the weights with those of the joint: by what is allowed of it, unless costs weigh."""
    if costs_of_misses(case):
        return weighting
    weights = {bound.name: 1.0 / bound.allowed for bound in joint.bounds if bound.allowed}
    words = weighting.words + ", and what is allowed of the joint alike"
    return Weighting({**weighting.weights, **weights}, words)


def curves_at(
    case: Case, sample: SuitedSample, levels: Array, known: KnownLimits | None
) -> dict[str, ShareCurve]:
    """Return the share of joints that miss each bound at ascending settings, by its name.

    As with `limited_by_tables`, no interval claims more than a tabulated law can say; where laws
    are known from tests only, intervals hold the band too.
    """
    least = least_told(case)
    found = {}
    for bound in sample.bounds:
        if bound is BREAKS:
            continue
        curve = sample.shares(bound.name).curve(levels)
        untold = curve.value < least
        found[bound.name] = replace(
            curve,
            low=np.where(untold, 0.0, curve.low),
            high=np.where(untold, np.maximum(curve.high, least), curve.high),
        )
        if known is not None:
            found[bound.name] = known.widened(bound.name, found[bound.name])
    return found


def weighting_of(case: Case, bounds: Sequence[Bound]) -> Weighting:
    """Return what a miss weighs: its cost, else against what is allowed of it."""
    costs, cost = costs_of_misses(case), case.cost
    if costs and cost is not None:
        words = (
            f"each miss by its cost: {cost.per_under:g} {cost.currency} with too little preload, "
            f"{cost.per_over:g} with too much"
        )
        if cost.per_loosening > 0.0:
            words += f", {cost.per_loosening:g} where it loosens by slip"
        # A limit that nobody priced is not free: it weighs as the dearer side.
        dearer = max(cost.per_under, cost.per_over)
        unpriced = [
            bound.name
            for bound in bounds
            if not bound.sides and bound.name not in costs and bound.allowed is not None
        ]
        if unpriced:
            words += f", {dearer:g} of each limit beside the window, which has no cost of its own"
        names = {bound.name for bound in bounds}
        priced = {name: each for name, each in costs.items() if name in names}
        return Weighting(priced | dict.fromkeys(unpriced, dearer), words)
    allowed = {bound.name: bound.allowed for bound in bounds if bound is not BREAKS}
    if None not in (allowed["under_preload"], allowed["over_preload"]):
        weights = {name: 1.0 / most for name, most in allowed.items() if most is not None}
        beside = " and each limit" if len(weights) > 2 else ""
        return Weighting(weights, f"each side{beside} by what is allowed of it")
    return Weighting(
        {"under_preload": 1.0, "over_preload": 1.0},
        "both sides alike: the case states neither costs nor both allowed probabilities",
    )


def judge_setting(
    case: Case, at: float, seed: int, estimated: Mapping[str, Probability]
) -> Judgement:
    """Judge the case at a setting: by the estimates that are there, else by samples."""
    moved = case_at(case, at)
    drawn = sample(moved, seed=seed, samples=JUDGED_SAMPLES, precision=None)
    return judgement(moved, drawn, estimated, seed=seed)


def estimates_at(case: Case, sample: SuitedSample, at: float, calls: int) -> dict[str, Probability]:
    """Return the probability of missing each bound at a setting, and of both sides together."""
    names = [bound.name for bound in sample.bounds if bound is not BREAKS]
    return {
        name: limited_by_tables(case, sample.shares(name).probability(at, model_calls=calls))
        for name in (*names, OUTSIDE)
    }


def _within_all(
    case: Case,
    searched: Searched,
    weighting: Weighting,
    curves: Mapping[str, ShareCurve],
    seed: int,
) -> Aim:
    """Return the best setting and the settings that meet every limit."""
    found = _within_bounds(searched, weighting, curves)
    if found.interval is None:
        return found
    # Limits that the search does not follow are judged where it matters.
    judged = judge_setting(case, found.best, seed, {})
    missed = [
        each
        for each in judged.beside
        if each.name in (*searched.fixed, *searched.unruly)
        and each.verdict in (MISSES, NOT_RESOLVED)
    ]
    if missed:
        names = tuple(each.name for each in missed)
        verdict = MISSES if any(each.verdict == MISSES for each in missed) else NOT_RESOLVED
        end = End(None, names)
        return replace(found, interval=None, low_end=end, high_end=end, verdict=verdict)
    if not searched.unruly:
        return found
    low, closed_low = _moved_inwards(case, searched, found.interval[0], found.best, seed)
    high, closed_high = _moved_inwards(case, searched, found.interval[1], found.best, seed)
    return replace(
        found,
        interval=(low, high),
        low_end=End(low, closed_low) if closed_low else found.low_end,
        high_end=End(high, closed_high) if closed_high else found.high_end,
    )


def _moved_inwards(
    case: Case, searched: Searched, end: float, best: float, seed: int
) -> tuple[float, tuple[str, ...]]:
    """Return how far towards an end the unruly limits meet all the way, and which of them end it.

    Such a limit may be missed between two settings at which it meets.
    """

    def missed(at: float) -> tuple[str, ...]:
        judged = judge_setting(case, at, seed, {})
        return tuple(
            each.name
            for each in judged.beside
            if each.name in searched.unruly and each.verdict != MEETS
        )

    good = best
    closed: tuple[str, ...] = ()
    for step in range(1, _STEPS_OUTWARDS + 1):
        bad = best + (end - best) * step / _STEPS_OUTWARDS
        if closed := missed(bad):
            break
        good = bad
    if not closed:
        return end, ()
    for _ in range(_HALVINGS):
        middle = 0.5 * (bad + good)
        if missed(middle):
            bad = middle
        else:
            good = middle
    return good, closed


def _within_bounds(
    searched: Searched, weighting: Weighting, curves: Mapping[str, ShareCurve]
) -> Aim:
    """Return the aim by the curves alone."""
    levels = curves["under_preload"].levels
    miss = np.zeros(len(levels))
    for name, weight in weighting.weights.items():
        miss += weight * curves[name].value
    regardless = float(levels[_least(miss)])
    asked = [bound for bound in searched.bounds if bound.allowed is not None]
    nowhere = End(None, ())
    sides = [bound for bound in searched.bounds if bound.sides and bound is not BREAKS]
    if any(bound.allowed is None for bound in sides):
        # Where a side of the window is held to nothing, no setting can be recommended.
        return Aim(regardless, regardless, None, nowhere, nowhere, NOT_JUDGED, (levels, miss))
    meets = {bound.name: curves[bound.name].high <= (bound.allowed or 0.0) for bound in asked}
    surely = np.logical_and.reduce([*meets.values()])
    if not surely.any():
        perhaps = np.logical_and.reduce(
            [curves[bound.name].low <= (bound.allowed or 0.0) for bound in asked]
        )
        verdict = NOT_RESOLVED if perhaps.any() else MISSES
        ends = _closed_ends(asked, meets, levels)
        return Aim(regardless, regardless, None, *ends, verdict, (levels, miss))
    middle = _least(np.where(surely, miss, math.inf))
    unsuited = np.flatnonzero(~surely)
    first = int(unsuited[unsuited < middle].max(initial=-1)) + 1
    last = int(unsuited[unsuited > middle].min(initial=len(levels))) - 1
    return Aim(
        float(levels[middle]),
        regardless,
        (float(levels[first]), float(levels[last])),
        End(float(levels[first]), _closing(meets, first - 1)),
        End(float(levels[last]), _closing(meets, last + 1)),
        MEETS,
        (levels, miss),
    )


def _least(values: Array) -> int:
    """Return the place of the least value, the middle one of several."""
    places = np.flatnonzero(values <= values.min())
    return int(places[len(places) // 2])


def _closing(meets: Mapping[str, Flags], place: int) -> tuple[str, ...]:
    """Return the bounds that are not met at a place; none beyond the ends of the search."""
    if not 0 <= place < len(next(iter(meets.values()))):
        return ()
    return tuple(name for name, flags in meets.items() if not flags[place])


def _closed_ends(
    asked: Sequence[Bound], meets: Mapping[str, Flags], levels: Array
) -> tuple[End, End]:
    """Return how far down and up the bounds let the setting go where no setting meets all.

    From below it is closed by the bound that asks for the highest setting, from above by the one
    that allows the lowest.
    """
    lows: dict[str, float] = {}
    highs: dict[str, float] = {}
    for bound in asked:
        places = np.flatnonzero(meets[bound.name])
        if bound.from_below:
            lows[bound.name] = float(levels[places[0]]) if places.size else math.inf
        else:
            highs[bound.name] = float(levels[places[-1]]) if places.size else -math.inf
    low, high = max(lows.values(), default=-math.inf), min(highs.values(), default=math.inf)
    return (
        End(
            low if math.isfinite(low) else None,
            tuple(name for name, at in lows.items() if at == low),
        ),
        End(
            high if math.isfinite(high) else None,
            tuple(name for name, at in highs.items() if at == high),
        ),
    )


def _rounded_inward(found: Aim, dimension: Dimension, system: str) -> Aim:
    """Return the aim with the ends of its interval rounded to four digits, towards the inside."""
    if found.interval is None:
        return found
    size = to_unit(1.0, dimension.unit(system), dimension)
    low, high = (end * size for end in found.interval)
    grain = 10.0 ** (math.floor(math.log10(high)) - 3)
    ends = math.ceil(low / grain) * grain / size, math.floor(high / grain) * grain / size
    if ends[0] > ends[1]:
        return found
    return replace(
        found,
        best=min(max(found.best, ends[0]), ends[1]),
        interval=ends,
        low_end=replace(found.low_end, setting=ends[0]),
        high_end=replace(found.high_end, setting=ends[1]),
    )


def rounded_setting(found: Aim, dimension: Dimension, system: str) -> float:
    """Return the roundest setting within the interval that is as good as the best.

    Never one outside what was searched.
    """
    assert found.interval is not None, "only a setting that meets every limit is rounded"
    levels, miss = found.misses
    best = float(np.interp(found.best, levels, miss))
    size = to_unit(1.0, dimension.unit(system), dimension)
    exponent = math.floor(math.log10(found.best * size))
    low, high = found.interval
    for digits in (2, 3, 4):
        for step in (5.0, 1.0):
            grain = step * 10.0 ** (exponent + 1 - digits)
            at = round(found.best * size / grain) * grain / size
            if low <= at <= high and float(np.interp(at, levels, miss)) <= AS_GOOD * best:
                return at
    return found.best
