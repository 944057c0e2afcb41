"""Samples of joints with the settings that suit each, drawn where small probabilities need them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
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
from preloadmc.questions.aim.setting import REACH, Calls, Joints, Suited
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


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """How bad joints are by setting: high where a joint asks for much, bears little, breaks soon.

    The scores are natural logarithms of settings.
    """

    needed: Score
    borne: Score
    broken: Score

    @classmethod
    def of(cls, case: Case, columns: tuple[str, ...], calls: Calls) -> Sides:
        """Return the scores of a case, finite everywhere."""

        def score(take: Callable[[Joints], Array], sign: float) -> Score:
            def function(z: Array) -> Array:
                joints = Joints(case, columns, z, calls)
                present = joints.setting.present
                settings = np.clip(take(joints), present / REACH, present * REACH)
                logs: Array = sign * np.log(settings)
                return logs

            return function

        return cls(score(Joints.needed, 1.0), score(Joints.borne, -1.0), score(Joints.broken, -1.0))


@dataclass(frozen=True, slots=True, eq=False)
class SuitedSample:
    """Joints ``z`` (n, d) in batches with the settings that suit each.

    ``weights`` (batches, n) are None for plain samples.
    """

    z: Array
    suited: Suited
    weights: Array | None

    @property
    def under(self) -> OutsideShares:
        """Share of joints with too little preload, or broken, by setting."""
        return self._shares(self.suited.needed, self.suited.broken)

    @property
    def over(self) -> OutsideShares:
        """Share of joints with too much preload, by setting."""
        return self._shares(np.full(len(self.z), -np.inf), self.suited.borne)

    @property
    def outside(self) -> OutsideShares:
        """Share of joints outside the window, by setting."""
        return self._shares(self.suited.needed, self.suited.borne)

    @property
    def all_weights(self) -> Array:
        """Return the weight of each joint, shape (n,)."""
        return np.ones(len(self.z)) if self.weights is None else self.weights.ravel()

    def _shares(self, lower: Array, upper: Array) -> OutsideShares:
        shape = (1, -1) if self.weights is None else self.weights.shape
        return OutsideShares.of(lower.reshape(shape), upper.reshape(shape), self.weights)


def draw_suited(
    case: Case, columns: tuple[str, ...], *, rng: np.random.Generator, calls: Calls
) -> SuitedSample:
    """Draw joints that tell both sides at every setting between them.

    The draws lie around the likeliest joints that ask for a high setting, bear a low one or break
    soon, from common ones to those as rare as what is allowed and as the best setting makes them.
    """
    if not case.is_smooth:
        z = rng.standard_normal((PLAIN, len(columns)))
        return SuitedSample(z, Joints(case, columns, z, calls).suited(), None)
    z, weights = draw_batches(_ladder(case, columns, rng, calls), DRAWS, rng=rng)
    return SuitedSample(z, Joints(case, columns, z, calls).suited(), weights)


def draw_batches(mixture: Mixture, draws: int, *, rng: np.random.Generator) -> tuple[Array, Array]:
    """Draw z (draws, d) in independent batches, with the weights (batches, n)."""
    z = np.concatenate([mixture.sample(draws // BATCHES, rng) for _ in range(BATCHES)])
    return z, mixture.weights(z).reshape(BATCHES, -1)


def _ladder(
    case: Case, columns: tuple[str, ...], rng: np.random.Generator, calls: Calls
) -> Mixture:
    sides = Sides.of(case, columns, calls)
    d = len(columns)
    needed = _climb(sides.needed, d, rng)
    borne = _climb(sides.borne, d, rng)
    meet = _meeting(needed, borne)
    requirement = case.requirement
    tops = [
        max(meet, _UNASKED if asked is None else reliability_index(asked)) + _BEYOND
        for asked in (requirement.allowed_under, requirement.allowed_over)
    ]
    rungs = [
        (side, _up_to(points, top))
        for side, points, top in (
            (sides.needed, needed, tops[0]),
            (sides.borne, borne, tops[1]),
        )
    ]
    # Breaking matters at settings that an ordinary joint still bears.
    ordinary = -float(sides.borne(np.zeros((1, d)))[0])
    # Every second rung is enough for a side that seldom matters.
    broken = _climb(sides.broken, d, rng)[1::2]
    sooner = [point for rung in broken for point in rung if -point.level < ordinary]
    return ladder_mixture([*rungs, (sides.broken, sooner)])


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
