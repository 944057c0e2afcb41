"""Judging cases that differ in numbers only: all rows of samples at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import chdtrc, chdtri, ndtr

from preloadmc.case import Case
from preloadmc.engine import OUTCOMES, OUTSIDE, SIDES
from preloadmc.estimates.probability import Probability
from preloadmc.estimates.row_sampling import (
    CONFIDENCE,
    MOST,
    PILOT,
    QUANTILE,
    RowCounts,
    RowSampling,
    row_mixture,
)
from preloadmc.estimates.row_search import Explored, Rows, explored
from preloadmc.judgement.either import either
from preloadmc.judgement.estimate import USUAL_PRECISION
from preloadmc.judgement.misses import RANKED_SIDES
from preloadmc.judgement.verdicts import Judged, Judgement
from preloadmc.limits import Limit, allowed_for, unjudged, unsure_strengths
from preloadmc.row_margins import RowMargins
from preloadmc.units import Array

# A half width this much above what is asked is still told as reached, as for one case.
_TOLERANCE = 1.1
# An interval this narrow that leaves open what is allowed is told as not resolved, as for one case.
_FINE = 0.25 * USUAL_PRECISION
# Without an allowed probability nothing below this is sharpened.
_NEGLIGIBLE = 1e-10
# A sphere without misses bounds their share by this, unless less is allowed; a hundredth larger
# than that needs, so that the bound lies below.
_BOUND, _LARGER = 1e-6, 1.01
# The event that any limit is missed, and those of which it is told what dominates them.
ANY_LIMIT = "any_limit"
_FOLLOWED = (*RANKED_SIDES, ANY_LIMIT)
_NEARLY_ALL = 0.9
# How many times more draws a row gets that its first ones do not resolve.
_MORE = 8
# An estimate that differs more from what its design points promise is left to a case alone; of
# common misses they promise nothing.
_UNLIKE, _COMMON = 20.0, 0.05


@dataclass(frozen=True, slots=True, eq=False)
class MissedInputs:
    """What misses of a side are like: by input, its share in what dominates them and their mean.

    ``share`` is that of `miss_shares`, for normal inputs given a miss; ``mean`` (in s.d.) that of
    the input's own normal number. Both are empty where no miss is known.
    """

    share: Mapping[str, float]
    mean: Mapping[str, float]


@dataclass(frozen=True, slots=True, eq=False)
class JudgedRow:
    """One case of many as it is judged; ``misses`` by side and, among others, of any limit.

    ``any_limit`` is how likely a joint misses any limit that is judged, with its interval.
    """

    judgement: Judgement
    misses: Mapping[str, MissedInputs]
    any_limit: tuple[float, float, float]


def judged_together(
    cases: Sequence[Case], generators: Sequence[Generator]
) -> Sequence[JudgedRow | None]:
    """Judge cases that are alike; None where a row is to be judged by itself.

    Parameters
    ----------
    cases : sequence of Case
        With the same `likeness`, and such as `can_be_together`.
    generators : sequence of numpy.random.Generator
        The stream of each row, which alone its numbers depend on.
    """
    margins = RowMargins(cases)
    asked = _Asked.of(margins)
    with np.errstate(all="ignore"):  # a row that is not finite is judged by itself, and says why
        seen = explored(
            margins,
            len(cases),
            margins.d,
            asked.events[: asked.sharpened],
            radius=asked.radius(margins.d),
            generators=generators,
        )
        mixture = row_mixture(seen.points, len(cases), margins.d, asked.events[: asked.sharpened])
        sampling = RowSampling(
            margins,
            mixture,
            asked.events,
            generators,
            margins.own_normals,
            [asked.places[name] for name in _FOLLOWED],
        )
        draws = sampling.plan(USUAL_PRECISION, asked.allowed[:, : asked.sharpened])
        sampling.draw(np.arange(len(cases)), draws)
        found = _Found(margins, asked, seen, sampling.counts)
        more = np.flatnonzero(found.wants_more)
        if more.size:
            sampling.draw(more, np.minimum(_MORE * draws[more], MOST))
            found = _Found(margins, asked, seen, sampling.counts)
    return [found.judged(row) if found.is_resolved[row] else None for row in range(len(cases))]


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """The events of rows: columns of margins; the first ``sharpened`` are estimated to a precision.

    ``places`` says which event each name is, ``allowed`` (r, e) what is allowed of it.
    """

    events: tuple[Rows, ...]
    places: Mapping[str, int]
    sharpened: int
    allowed: Array

    @classmethod
    def of(cls, margins: RowMargins) -> _Asked:
        limits = margins.limits
        named: dict[str, list[int]] = {
            name: [n for n, limit in enumerate(limits) if set(SIDES[name]) & set(limit.sides)]
            for name in RANKED_SIDES
        }
        either = sorted({place for own in named.values() for place in own})
        for place, limit in enumerate(limits):
            named.setdefault(limit.name, []).append(place)
        events: dict[tuple[int, ...], int] = {}
        places = {name: events.setdefault(tuple(own), len(events)) for name, own in named.items()}
        sharpened = len(events)
        places[OUTSIDE] = events.setdefault(tuple(either), len(events))
        places[ANY_LIMIT] = events.setdefault(tuple(range(len(limits))), len(events))
        allowed = np.full((len(margins.cases), len(events)), np.nan)
        for row, case in enumerate(margins.cases):
            for name, place in places.items():
                found = _allowed(case, name, limits)
                if found is not None:
                    allowed[row, place] = np.fmin(allowed[row, place], found)
        columns = tuple(np.array(own, dtype=np.intp) for own in events)
        return cls(columns, places, sharpened, allowed)

    def radius(self, d: int) -> Array:
        """Return the radius of the sphere that is searched for each row (r,)."""
        least = np.fmin.reduce(self.allowed[:, : self.sharpened], axis=1, initial=_BOUND)
        radius: Array = _LARGER * np.sqrt(chdtri(d, np.maximum(least, 1e-12)))
        return radius


def _allowed(case: Case, name: str, limits: Sequence[Limit]) -> float | None:
    if name == RANKED_SIDES[0]:
        return case.requirement.allowed_under
    if name == RANKED_SIDES[1]:
        return case.requirement.allowed_over
    limit = next((each for each in limits if each.name == name), None)
    return None if limit is None else allowed_for(case.joint, case.requirement, limit)


class _Found:
    """What was found of rows: which are resolved, and what each is judged as."""

    def __init__(
        self, margins: RowMargins, asked: _Asked, seen: Explored, counts: RowCounts
    ) -> None:
        self.margins, self.asked, self.seen, self.counts = margins, asked, seen, counts
        self.value, self.trusted = np.minimum(counts.value, 1.0), counts.trusted
        spread = np.exp(np.minimum(QUANTILE * counts.cov, 700.0))
        self.low = self.value / spread
        self.high = np.minimum(self.value * spread, 1.0)
        self._bound = chdtrc(margins.d, seen.radius**2)
        self.bounded = self._is_bounded
        self._finite = seen.finite & counts.finite
        self.is_resolved = self._finite & self._resolved()
        self._total = counts.total
        # The sharpened events that lie within each of the others.
        self._within = {
            place: np.array(
                [n for n in range(asked.sharpened) if np.isin(asked.events[n], whole).all()]
            )
            for place, whole in enumerate(asked.events)
            if place >= asked.sharpened
        }
        nearest = np.full((len(margins.cases), len(margins.limits)), math.inf)
        np.minimum.at(nearest, (seen.points.row, seen.points.column), seen.points.beta)
        self._nearest = nearest.tolist()

    @property
    def wants_more(self) -> NDArray[np.bool_]:
        """Return which rows more draws may resolve (r,)."""
        wants: NDArray[np.bool_] = self._finite & ~self.is_resolved
        return wants

    def _resolved(self) -> NDArray[np.bool_]:
        s = slice(0, self.asked.sharpened)
        low, high = self.low[:, s], self.high[:, s]
        allowed, cov = self.asked.allowed[:, s], self.counts.cov[:, s]
        nothing = self.bounded
        width = QUANTILE * cov
        precise = width <= _TOLERANCE * USUAL_PRECISION
        far_below = (high < 0.1 * allowed) & (width <= 1.0)
        negligible = np.isnan(allowed) & (high < _NEGLIGIBLE)
        open_ = (low <= allowed) & (allowed < high) & (width > _TOLERANCE * _FINE)
        found: NDArray[np.bool_] = nothing | (
            self.trusted[:, s]
            & (precise | far_below | negligible)
            & ~open_
            & self._is_as_promised()
        )
        return np.asarray(found.all(axis=1))

    @property
    def _is_bounded(self) -> NDArray[np.bool_]:
        """Return of which events it is known only that no miss lies within the sphere (r, e)."""
        s = slice(0, self.asked.sharpened)
        seldom = ~self.trusted[:, s] & (self.value[:, s] <= self._bound[:, None])
        bounded: NDArray[np.bool_] = self.seen.none_within & seldom
        return bounded

    def _is_as_promised(self) -> NDArray[np.bool_]:
        """Return whether estimates are what the design points say, but for curvature (r, e)."""
        points, rows = self.seen.points, len(self.value)
        agree = []
        for place in range(self.asked.sharpened):
            mine = np.isin(points.column, self.asked.events[place])
            promised = np.zeros(rows)
            np.add.at(promised, points.row[mine], ndtr(-points.beta[mine]))
            value = self.value[:, place]
            ratio = value / np.maximum(promised, 1e-300)
            # An event without a near miss needs no point of its own.
            far = self.seen.none_within[:, place] & (value <= self._bound)
            alike = (ratio < _UNLIKE) & (ratio > 1.0 / _UNLIKE)
            agree.append((value > _COMMON) | alike | far)
        return np.stack(agree, axis=1)

    def judged(self, row: int) -> JudgedRow:
        """Return a resolved row as it is judged."""
        case, asked = self.margins.cases[row], self.asked
        outcomes = [self._outcome(row, name) for name in OUTCOMES]
        sides = outcomes[0].probability, outcomes[1].probability
        both = either(outcomes[2].probability, sides)
        outcomes[2] = Judged(OUTSIDE, SIDES[OUTSIDE], both, both, None)
        limits = []
        for name, place in asked.places.items():
            if name in SIDES or name == ANY_LIMIT:
                continue
            limit = self._governing(row, name, place)
            found = self._probability(row, place)
            allowed = allowed_for(case.joint, case.requirement, limit)
            limits.append(Judged(limit.name, limit.sides, found, found, allowed, limit))
        order = [limit.name for limit in self.margins.limits]
        limits.sort(key=lambda each: order.index(each.name))
        unknown = dict(unjudged(case.joint, case.requirement, case.means))
        for side, key in zip(outcomes, ("allowed_under", "allowed_over"), strict=False):
            if side.allowed is None:
                unknown[side.label] = f"state {key} of [requirement]"
        judgement = Judgement(
            (outcomes[0], outcomes[1]),
            outcomes[2],
            tuple(limits),
            unknown,
            unsure_strength=unsure_strengths(case.joint, case.requirement, case.means),
        )
        whole = self._probability(row, asked.places[ANY_LIMIT])
        any_limit = whole.value, whole.low, max(whole.high, both.high)
        misses = {name: self._misses(row, name) for name in _FOLLOWED}
        return JudgedRow(judgement, misses, any_limit)

    def _outcome(self, row: int, name: str) -> Judged:
        found = self._probability(row, self.asked.places[name])
        allowed = _allowed(self.margins.cases[row], name, ())
        return Judged(name, SIDES[name], found, found, allowed)

    def _probability(self, row: int, place: int) -> Probability:
        asked, draws = self.asked, int(self.counts.draws[row])
        value, low, high = (float(each[row, place]) for each in (self.value, self.low, self.high))
        bound, note = None, ""
        if place < asked.sharpened and self.bounded[row, place]:
            value, low, high, bound = 0.0, 0.0, float(self._bound[row]), "upper"
            note = f"no miss found within {self.seen.radius[row]:.1f} s.d."
        elif place >= asked.sharpened and bool(self.bounded[row, self._within[place]].all()):
            # No miss of any of them within the sphere: none of all of them.
            return self._probability(row, int(self._within[place][0]))
        return Probability(
            value, low, high, CONFIDENCE, "importance", draws, draws + PILOT, bound=bound, note=note
        )

    def _governing(self, row: int, name: str, place: int) -> Limit:
        """Return a limit in the state with the nearest miss."""
        limits, nearest = self.margins.limits, self._nearest[row]
        own = [column for column in self.asked.events[place].tolist()
               if limits[column].name == name]  # fmt: skip
        governing: Limit = limits[min(own, key=nearest.__getitem__)]
        return governing

    def _misses(self, row: int, name: str) -> MissedInputs:
        place, followed = self.asked.places[name], _FOLLOWED.index(name)
        total = float(self._total[row, place])
        if total <= 0.0 or not self.trusted[row, place]:
            return MissedInputs({}, {})
        mean = self.counts.first[row, followed] / total
        variance = np.maximum(self.counts.second[row, followed] / total - mean**2, 1e-12)
        # The divergence of a normal of that mean and variance from the standard one.
        said = np.maximum(0.5 * (mean**2 + variance - 1.0 - np.log(variance)), 0.0)
        names, whole = self.margins.columns, float(said.sum())
        # Where nearly all miss, a miss tells nothing of the inputs.
        is_told = whole > 0.0 and self.value[row, place] < _NEARLY_ALL
        share = dict(zip(names, (said / whole).tolist(), strict=True)) if is_told else {}
        return MissedInputs(share, dict(zip(names, mean.tolist(), strict=True)))
