"""Samples of joints with the settings that suit each, drawn where small probabilities need them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
from preloadmc.errors import EstimateError
from preloadmc.estimates.extreme_points import (
    ExtremePoint,
    Score,
    extreme_points,
    ladder_mixture,
    start_directions,
)
from preloadmc.estimates.mixture import Mixture
from preloadmc.estimates.outside_shares import OutsideShares
from preloadmc.estimates.probability import reliability_index
from preloadmc.limits import UNDER, allowed_for, as_columns
from preloadmc.questions.aim.bounds import (
    BREAKS,
    Bound,
    costs_of_misses,
    over_bound,
    under_bound,
)
from preloadmc.questions.aim.setting import REACH, Calls, Joints, Setting
from preloadmc.units import Array

# Batches of a weighted sample, and the draws of all together; plain samples where inputs go in
# steps, which leaves no design point to draw around.
BATCHES = 16
DRAWS = 2**15
PLAIN = 2**17
# Reliability indices at which the settings are followed; Phi(-8) is below 1e-15.
_RUNGS = np.arange(1.0, 9.0)
# How far draws reach beyond what is allowed, in reliability index: to a tenth of the probability or
# less, so that the ends of the interval of settings lie within them.
_BEYOND = 0.7
# A side that nothing is asked of is followed at least this far: to one in a thousand.
_UNASKED = 3.0
# Plain joints that tell between which settings to search: from where too little is as common as
# not to where too much is.
_FIRST = 2**12
# Joints and settings at which is looked whether a limit runs one way with the setting.
_CHECKED = 256
_LOOKED_AT = 9
# A limit that so rare a joint still meets at every setting searched bounds none of them: a
# thousandth of what is allowed, or less.
_FAR_RARER = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Searched:
    """Between which settings a case is searched, and what bounds them.

    ``low`` and ``high`` are where too little and too much preload are as common as not.
    ``bounds`` are both sides of the window, breaking, and the limits beside the window that bound
    the settings between. ``fixed`` are limits that no setting changes, ``unruly`` those that run
    neither way, ``free`` those that every setting between meets by far.
    """

    low: float
    high: float
    bounds: tuple[Bound, ...]
    fixed: tuple[str, ...]
    unruly: tuple[str, ...]
    free: tuple[str, ...]


def search_range(
    case: Case, columns: tuple[str, ...], *, rng: np.random.Generator, calls: Calls
) -> Searched:
    """Find between which settings to search, and what bounds them.

    Raises
    ------
    EstimateError
        If a margin of the window does not run one way with the setting.
    """
    requirement = case.requirement
    window = [under_bound(requirement.allowed_under), over_bound(requirement.allowed_over)]
    joints = Joints(case, columns, rng.standard_normal((_FIRST, len(columns))), calls)
    present = joints.setting.present
    ends = [
        float(np.median(np.clip(joints.crossing(bound), present / REACH, present * REACH)))
        for bound in window
    ]
    low, high = min(ends), max(ends)
    found = _beside(case, columns, low, high, rng=rng, calls=calls)
    near: list[Bound] = []
    free: list[str] = []
    for bound in found["bounds"]:
        if _bounds_any(case, columns, bound, low, high, rng=rng, calls=calls):
            near.append(bound)
        else:
            free.append(bound.name)
    return Searched(
        low,
        high,
        (*window, BREAKS, *near),
        tuple(bound.name for bound in found["fixed"]),
        tuple(bound.name for bound in found["unruly"]),
        tuple(free),
    )


def _beside(
    case: Case,
    columns: tuple[str, ...],
    low: float,
    high: float,
    *,
    rng: np.random.Generator,
    calls: Calls,
) -> dict[str, list[Bound]]:
    """Return the limits beside the window by how they run with the setting."""
    joints = Joints(case, columns, rng.standard_normal((_CHECKED, len(columns))), calls)
    rows = np.arange(_CHECKED)
    settings = np.geomspace(0.9 * low, 1.1 * high, _LOOKED_AT)
    seen = [joints.margins(np.full(_CHECKED, at), rows, others=True) for at in settings]
    runs: dict[str, set[str]] = {}
    allowed: dict[str, float | None] = {}
    for place, margin in enumerate(seen[0]):
        block = as_columns(tuple(each[place] for each in seen), _CHECKED)
        steps = np.diff(block, axis=1)
        noise = 1e-9 * np.abs(block).max()
        rises, falls = bool((steps > noise).any()), bool((steps < -noise).any())
        limit = margin.limit
        if limit.sides:
            if falls if limit.sides == (UNDER,) else rises:
                raise EstimateError(
                    f"the margin of '{limit.name}' ({limit.state}) does not run one way with the "
                    f"{joints.setting.label}: no best setting can be told by this program"
                )
            continue
        ways = runs.setdefault(limit.name, set())
        ways |= {way for way, runs_so in (("up", rises), ("down", falls)) if runs_so}
        allowed[limit.name] = allowed_for(case.joint, case.requirement, limit)
    found: dict[str, list[Bound]] = {"bounds": [], "fixed": [], "unruly": []}
    for name, ways in runs.items():
        kind = "unruly" if len(ways) == 2 else "bounds" if ways else "fixed"
        found[kind].append(Bound(name, (), ways == {"up"}, allowed[name]))
    return found


def _bounds_any(
    case: Case,
    columns: tuple[str, ...],
    bound: Bound,
    low: float,
    high: float,
    *,
    rng: np.random.Generator,
    calls: Calls,
) -> bool:
    """Return whether a limit beside the window may bound the settings between two."""
    if bound.allowed is None and bound.name not in costs_of_misses(case):
        return False
    if not case.is_smooth:
        return True
    score = score_of(case, columns, bound, calls)
    beta = max(_asked_of(bound), 0.0) + _FAR_RARER
    points = extreme_points(score, [beta], start_directions(score, len(columns), rng=rng))[0]
    level = max(point.level for point in points)
    return bool(level > (np.log(low) if bound.from_below else -np.log(high)))


def score_of(case: Case, columns: tuple[str, ...], bound: Bound, calls: Calls) -> Score:
    """Return how bad joints are for a bound: high where they ask for much, or bear little.

    The score is the natural logarithm of the setting that meets it, with its sign; finite
    everywhere.
    """
    sign = 1.0 if bound.from_below else -1.0
    present = Setting.of(case).present

    def function(z: Array) -> Array:
        settings = Joints(case, columns, z, calls).crossing(bound)
        logs: Array = sign * np.log(np.clip(settings, present / REACH, present * REACH))
        return logs

    return function


@dataclass(frozen=True, slots=True, eq=False)
class SuitedSample:
    """Joints ``z`` (n, d) in batches with the setting at which each meets each bound.

    ``settings`` (n,) by the name of the bound; ``weights`` (batches, n) are None for plain samples.
    """

    z: Array
    bounds: tuple[Bound, ...]
    settings: Mapping[str, Array]
    weights: Array | None

    def shares(self, name: str) -> OutsideShares:
        """Return the share of joints that miss a bound, by setting.

        Broken joints have too little preload, and too much; "outside_window" is either.
        """
        settings, never = self.settings, np.full(len(self.z), -np.inf)
        broken = settings[BREAKS.name]
        borne = np.minimum(settings["over_preload"], broken)
        if name == "under_preload":
            return self._outside(settings[name], broken)
        if name == "over_preload":
            return self._outside(never, borne)
        if name == "outside_window":
            return self._outside(settings["under_preload"], borne)
        bound = next(each for each in self.bounds if each.name == name)
        if bound.from_below:
            return self._outside(settings[name], np.full(len(self.z), np.inf))
        return self._outside(never, settings[name])

    def _outside(self, lower: Array, upper: Array) -> OutsideShares:
        shape = (1, -1) if self.weights is None else self.weights.shape
        return OutsideShares.of(lower.reshape(shape), upper.reshape(shape), self.weights)


def draw_suited(
    case: Case,
    columns: tuple[str, ...],
    bounds: Sequence[Bound],
    *,
    rng: np.random.Generator,
    calls: Calls,
) -> SuitedSample:
    """Draw joints that tell every bound at every setting between the sides of the window.

    The draws lie around the likeliest joints that ask for a high setting, bear a low one or break
    soon, from common ones to those as rare as what is allowed and as the best setting makes them.
    """
    if case.is_smooth:
        z, weights = draw_batches(_ladder(case, columns, bounds, rng, calls), DRAWS, rng=rng)
    else:
        z, weights = rng.standard_normal((PLAIN, len(columns))), None
    joints = Joints(case, columns, z, calls)
    settings = {bound.name: joints.crossing(bound) for bound in bounds}
    return SuitedSample(z, tuple(bounds), settings, weights)


def draw_batches(mixture: Mixture, draws: int, *, rng: np.random.Generator) -> tuple[Array, Array]:
    """Draw z (draws, d) in independent batches, with the weights (batches, n)."""
    z = np.concatenate([mixture.sample(draws // BATCHES, rng) for _ in range(BATCHES)])
    return z, mixture.weights(z).reshape(BATCHES, -1)


def _ladder(
    case: Case,
    columns: tuple[str, ...],
    bounds: Sequence[Bound],
    rng: np.random.Generator,
    calls: Calls,
) -> Mixture:
    d = len(columns)
    scores = {bound.name: score_of(case, columns, bound, calls) for bound in bounds}
    climbed = {name: _climb(score, d, rng) for name, score in scores.items()}
    meet = _meeting(climbed["under_preload"], climbed["over_preload"])
    rungs = []
    for bound in bounds:
        points = climbed[bound.name]
        if bound is BREAKS:
            # Breaking matters at settings that an ordinary joint still bears. Every second rung is
            # enough for a side that seldom matters.
            ordinary = -float(scores["over_preload"](np.zeros((1, d)))[0])
            sooner = [point for rung in points[1::2] for point in rung if -point.level < ordinary]
            rungs.append((scores[bound.name], sooner))
            continue
        asked = _asked_of(bound)
        top = (max(meet, asked) if bound.sides else asked) + _BEYOND
        rungs.append((scores[bound.name], _up_to(points, top)))
    return ladder_mixture(rungs)


def _asked_of(bound: Bound) -> float:
    """Return the reliability index that is asked of a bound."""
    return _UNASKED if bound.allowed is None else reliability_index(bound.allowed)


def _climb(score: Score, d: int, rng: np.random.Generator) -> tuple[tuple[ExtremePoint, ...], ...]:
    return extreme_points(score, list(_RUNGS), start_directions(score, d, rng=rng))


def _meeting(
    needed: tuple[tuple[ExtremePoint, ...], ...], borne: tuple[tuple[ExtremePoint, ...], ...]
) -> float:
    """Reliability index at which what joints ask meets what they bear, of the rungs."""
    gaps = [-high[0].level - low[0].level for low, high in zip(needed, borne, strict=True)]
    apart = np.flatnonzero(np.array(gaps) <= 0.0)
    return float(_RUNGS[apart[0]] if apart.size else _RUNGS[-1])


def _up_to(rungs: tuple[tuple[ExtremePoint, ...], ...], top: float) -> list[ExtremePoint]:
    return [
        point
        for beta, points in zip(_RUNGS, rungs, strict=True)
        if beta < top + 0.5
        for point in points
    ]
