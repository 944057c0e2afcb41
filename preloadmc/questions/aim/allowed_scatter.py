"""How much scatter does the window tolerate? The largest that still meets what is allowed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO, Case
from preloadmc.chance.laws import Law
from preloadmc.chance.streams import named_rng
from preloadmc.estimates.extreme_points import extreme_points, ladder_mixture, start_directions
from preloadmc.estimates.outside_shares import upper_quantile
from preloadmc.estimates.probability import reliability_index
from preloadmc.inputs import by_group, input_kind
from preloadmc.questions.aim.bounds import BREAKS, Bound
from preloadmc.questions.aim.setting import REACH, Calls, Joints, Setting
from preloadmc.questions.aim.suited_sample import BATCHES, draw_batches, score_of
from preloadmc.units import Array

# A scatter is followed up to this multiple of the present one: beyond, its size is no question.
MOST = 5.0
# Weighted draws of each search, which leave the factor some percent of sampling error; plain ones
# where inputs go in steps.
_DRAWS = 2**12
_PLAIN = 2**15
# Settings are searched to where a side of the window is as often missed as not, whatever is
# allowed of it.
_COMMON = 0.5
# No scatter: a law has no spread of zero.
_LEAST = 1e-3
# A law that cannot be so many times as wide can hardly be wider.
_HARDLY = 1.1
# The draws lie around the likeliest misses at one factor: they are drawn anew, so many times at
# most, until the factor found is as near to theirs as this share.
_ROUNDS = 4
_NEAR = 0.15
# Share of a factor to which it is found, below its sampling error; and most steps to it.
_TOLERANCE = 2e-3
_STEPS = 25
_T = 2.13  # Student's 97.5 % quantile of 15 degrees of freedom: 16 batches
# Points of the border between its ends lie in these directions, in degrees where both ends are as
# far: every 18 degrees, five gaps.
_ANGLES = (18.0, 36.0, 54.0, 72.0)
TOOL, FRICTION = "tool", "friction"
FOUND, TOO_LITTLE, FOLLOWED, LAW_ENDS = "found", "too little", "followed", "law ends"


@dataclass(frozen=True, slots=True)
class Spread:
    """An input's standard deviation now and at most, in the input's own unit, beside its mean."""

    name: str
    mean: float
    sd_now: float
    sd_at_most: float


@dataclass(frozen=True, slots=True)
class AllowedScatter:
    """The largest multiple of some scatter with which its own best setting meets what is allowed.

    ``verdict`` is "found"; "too little" where not even none of it would do, and ``factor`` is 0;
    "followed" or "law ends" where ``factor`` still meets it and is as far as it was followed, or
    as the laws go before they reach what is impossible. ``low`` and ``high`` enclose the factor
    at 95 %.
    """

    scatter: str
    verdict: str
    factor: float
    low: float
    high: float
    inputs: tuple[Spread, ...]


@dataclass(frozen=True, slots=True)
class BorderPoint:
    """Multiples of the tool's and of the friction's scatter that together just meet the target.

    ``just_met`` is False where they still meet it and are as far as they were followed.
    """

    tool: float
    friction: float
    just_met: bool


@dataclass(frozen=True, slots=True)
class AllowedScatters:
    """What is allowed of each group of inputs alone, of several together, of tool against friction.

    ``border`` runs from no friction scatter to no tool scatter; empty where there are not both or
    no such multiples.
    """

    sources: tuple[AllowedScatter, ...]
    border: tuple[BorderPoint, ...]

    def of(self, label: str) -> AllowedScatter | None:
        """Return what is allowed of the scatter of that name."""
        return next((each for each in self.sources if each.scatter == label), None)


def allowed_scatters(
    case: Case, bounds: Sequence[Bound], *, seed: int, calls: Calls
) -> AllowedScatters:
    """Return how wide each scatter may be; both allowed probabilities must be stated.

    For each scatter the setting is the best for it, within both sides of the window and the limits
    beside it among the ``bounds``. Where less is allowed of too little preload than of too much,
    fasteners that break and hold none may make half of it, the loose ones the other half.
    """
    search = _Search(case, bounds, seed, calls)
    groups = by_group(case.uncertain)
    found = [search.source(group, dict.fromkeys(names, 1.0)) for group, names in groups.items()]
    border: list[BorderPoint] = []
    if TOOL in groups and FRICTION in groups:
        names = (*groups[TOOL], *groups[FRICTION])
        found.append(search.source("tool and friction together", dict.fromkeys(names, 1.0)))
        if found[-1].verdict != TOO_LITTLE:
            border = _border(search, groups)
    if len(groups) > 1 and set(groups) != {TOOL, FRICTION}:
        found.append(search.source("all scatter together", dict.fromkeys(case.uncertain, 1.0)))
    return AllowedScatters(tuple(found), tuple(border))


def _border(search: _Search, groups: Mapping[str, tuple[str, ...]]) -> list[BorderPoint]:
    """Return points of the border, evenly spread between those on the two axes."""

    def furthest(tool: float, friction: float) -> BorderPoint:
        shares = {**dict.fromkeys(groups[TOOL], tool), **dict.fromkeys(groups[FRICTION], friction)}
        factor, _, _, verdict = search.largest(shares)
        return BorderPoint(factor * tool, factor * friction, verdict == FOUND)

    tool_alone, friction_alone = furthest(1.0, 0.0), furthest(0.0, 1.0)
    between = [
        furthest(tool_alone.tool * math.cos(angle), friction_alone.friction * math.sin(angle))
        for angle in np.radians(_ANGLES)
    ]
    return [tool_alone, *between, friction_alone]


def _falling_root(gap: Callable[[float], float], start: float, most: float) -> float:
    """Return where a gap that falls with the factor crosses zero.

    Minus infinity where it is below zero without any scatter, infinity where it is not at ``most``.
    A secant kept between what is known to be wide and to be narrow enough.
    """
    narrow, wide = _LEAST, most
    known: dict[float, float] = {}
    at = start
    for _ in range(_STEPS):
        known[at] = gap(at)
        if known[at] >= 0.0:
            if at == most:
                return math.inf
            narrow = at
        else:
            if at == _LEAST:
                return -math.inf
            wide = at
        last = list(known.items())[-2:]
        if len(last) == 1:
            step = at * (1.15 if known[at] >= 0.0 else 0.87)
        else:
            (x0, y0), (x1, y1) = last
            slope = (y1 - y0) / (x1 - x0)
            step = x1 - y1 / slope if slope < 0.0 else math.nan
        if not narrow < step < wide:
            ends = [end for end in (narrow, wide) if end not in known]
            step = ends[0] if ends else math.sqrt(narrow * wide)
        if abs(step - at) <= _TOLERANCE * at:
            return step
        at = step
    return at


class _Search:
    def __init__(self, case: Case, bounds: Sequence[Bound], seed: int, calls: Calls) -> None:
        self.case = case
        self.columns = case.uncertain
        asked = [bound for bound in bounds if bound is not BREAKS]
        assert all(bound.allowed for bound in asked), "both sides must be asked for"
        asked = [replace(bound, allowed=min(bound.allowed or 0.0, _COMMON)) for bound in asked]
        # What must leave some setting free: each group by itself.
        self.groups = [asked]
        under, over = (bound for bound in asked if bound.sides)
        if (under.allowed or 0.0) < (over.allowed or 0.0):
            half = 0.5 * (under.allowed or 0.0)
            self.groups.append([replace(each, allowed=half) for each in (under, BREAKS)])
        self.bounds = [bound for group in self.groups for bound in group]
        self.calls = calls
        self.rng = named_rng(seed, "room for scatter")
        self.present = Setting.of(case).present
        self.caps: dict[str, float] = {}
        self.directions: list[Array] | None = None

    def source(self, label: str, shares: Mapping[str, float]) -> AllowedScatter:
        """Return how far the named scatters may grow together, in the proportion of ``shares``."""
        factor, low, high, verdict = self.largest(shares)
        spreads = tuple(
            Spread(name, law.mean, law.sd, min(share * factor, self._cap(name)) * law.sd)
            for name, share in shares.items()
            for law in (self.case.laws[name],)
        )
        return AllowedScatter(label, verdict, factor, low, high, spreads)

    def largest(self, shares: Mapping[str, float]) -> tuple[float, float, float, str]:
        """Return the largest factor of the shares with its interval, and the verdict."""
        caps = {name: self._cap(name) / share for name, share in shares.items() if share > 0.0}
        # A law that can hardly be wider is capped while the others widen.
        widening = [cap for name, cap in caps.items() if self._cap(name) > _HARDLY]
        most = min(widening or caps.values(), default=1.0)
        at = min(1.0, most)
        for _ in range(_ROUNDS):
            z, weights = self._draws(self._scaled(shares, at, caps))

            def gap(factor: float, z: Array = z, weights: Array = weights) -> float:
                return self._gap(self._scaled(shares, factor, caps), z, weights)

            factor = _falling_root(gap, max(at, _LEAST), most)
            found = min(max(factor, 0.0), most)
            near = abs(found - at) <= _NEAR * max(found, _NEAR)
            at = found
            # Plain draws do not depend on where they are looked at.
            if near or not self.case.is_smooth:
                break
        if factor == -math.inf:
            return 0.0, 0.0, 0.0, TOO_LITTLE
        if factor == math.inf:
            return most, most, most, FOLLOWED if most * max(shares.values()) >= MOST else LAW_ENDS
        doubt = self._doubt(self._scaled(shares, factor, caps), z, weights)
        # The doubt of the gap over the gap's slope in the factor is the doubt of the factor.
        slope = (gap(0.95 * factor) - gap(factor)) / (0.05 * factor)
        off = min(doubt / slope, factor) if slope > 0.0 else factor
        return factor, factor - off, factor + off, FOUND

    def _cap(self, name: str) -> float:
        """Return the largest multiple of an input's spread that leaves its law possible."""
        if name not in self.caps:
            self.caps[name] = _most_possible(name, self.case.laws[name])
        return self.caps[name]

    def _scaled(
        self, shares: Mapping[str, float], factor: float, caps: Mapping[str, float]
    ) -> Case:
        laws = {
            name: self.case.laws[name].scaled_spread(share * min(factor, caps.get(name, 0.0)))
            for name, share in shares.items()
        }
        return replace(self.case, laws={**self.case.laws, **laws})

    def _draws(self, case: Case) -> tuple[Array, Array]:
        """Return z and weights around the settings at which each side is as rare as allowed."""
        d = len(self.columns)
        if not self.case.is_smooth:
            return self.rng.standard_normal((_PLAIN, d)), np.ones((BATCHES, _PLAIN // BATCHES))
        scores = [score_of(case, self.columns, bound, self.calls) for bound in self.bounds]
        if self.directions is None:
            self.directions = [start_directions(score, d, rng=self.rng) for score in scores]
        rungs = []
        for bound, score, begin in zip(self.bounds, scores, self.directions, strict=True):
            beta = max(reliability_index(bound.allowed or 0.5), 1.0)
            rungs.append((score, extreme_points(score, [beta], begin)[0]))
        return draw_batches(ladder_mixture(rungs), _DRAWS, rng=self.rng)

    def _tails(
        self, joints: Joints, group: Sequence[Bound], shape: tuple[int, ...]
    ) -> Iterator[tuple[Bound, Array, float]]:
        """Yield each bound with its scores, high where bad, and the share allowed."""
        reach = self.present / REACH, self.present * REACH
        for bound in group:
            sign = 1.0 if bound.from_below else -1.0
            scores = sign * np.log(np.clip(joints.crossing(bound), *reach))
            yield bound, scores.reshape(shape), bound.allowed or 0.0

    def _closest(self, case: Case, z: Array, weights: Array) -> list[tuple[Array, float, float]]:
        """Return scores, allowed share and level of the bounds that close each way."""
        joints = Joints(case, self.columns, z, self.calls)
        found = []
        for group in self.groups:
            closest: dict[bool, tuple[Array, float, float]] = {}
            for bound, scores, share in self._tails(joints, group, weights.shape):
                level = upper_quantile(scores, weights, share)
                other = closest.get(bound.from_below)
                if other is None or level > other[2]:
                    closest[bound.from_below] = scores, share, level
            found.append(list(closest.values()))
        return max(found, key=lambda each: sum(level for _, _, level in each))

    def _gap(self, case: Case, z: Array, weights: Array) -> float:
        """Return the logarithm of the width of the settings that meet every bound.

        Below zero, as far as the best setting is from meeting them.
        """
        return -sum(level for _, _, level in self._closest(case, z, weights))

    def _doubt(self, case: Case, z: Array, weights: Array) -> float:
        """Return the half width of the interval of the gap."""
        halves = []
        for scores, share, level in self._closest(case, z, weights):
            parts = weights * (scores > level)
            by_draw = float(np.sum(parts * parts))
            by_batch = len(parts) * float(parts.sum(axis=1).var(ddof=1))
            cov = math.sqrt(max(by_draw, by_batch)) / (share * weights.size)
            # The share that lies beyond a quantile is uncertain by this factor, at most twentyfold.
            off = math.exp(min(_T * cov, 3.0))
            low, high = (
                upper_quantile(scores, weights, min(share * f, 1.0)) for f in (off, 1.0 / off)
            )
            halves.append(0.5 * (high - low))
        return math.hypot(*halves)


def _most_possible(name: str, law: Law) -> float:
    if _possible(name, law, MOST):
        return MOST
    low, high = 0.0, MOST
    for _ in range(20):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _possible(name, law, middle) else (low, middle)
    return low


def _possible(name: str, law: Law, factor: float) -> bool:
    try:
        spread = law.scaled_spread(factor).best_estimate()
    except ValueError:
        return False
    return input_kind(name).sign == "any" or float(spread.cdf(0.0)) <= NEGLIGIBLE_BELOW_ZERO
