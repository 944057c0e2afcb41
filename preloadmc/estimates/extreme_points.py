"""The likeliest points at which a score is as high as a given reliability index makes it.

A score is any function of z of which high values are bad. On the sphere of radius beta the point
with the highest score is the design point of that level of the score, found without knowing the
level beforehand: the inverse of the search for a design point (A. Der Kiureghian, Y. Zhang, C.-C.
Li, J. Eng. Mech. 120 (1994) 1154).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.estimates.curvature import MOST_INPUTS, curvature
from preloadmc.estimates.design_point import GRADIENT_STEP, DesignPoint
from preloadmc.estimates.mixture import Mixture, around
from preloadmc.units import Array

Score = Callable[[Array], Array]
"""From z, shape (n, d), to finite scores, shape (n,)."""

# The points only place a mixture, whose weights make up for what a search leaves: few steps do.
_ITERATIONS = 10
_SHORTER = np.array([1.0, 0.5, 0.2])  # of a step along the sphere, the best of which is taken
_ON_RAY = 0.9998  # cosine at which a search ends: 0.02 off the ray per unit of beta
_NEARLY = 0.98  # cosine below which it has not converged
_SAME = 0.9  # cosine of two directions that are one
_NEGLIGIBLE = 1.5  # reliability indices by which a second point is rarer than the likeliest
_LOOKS = 512  # draws whose highest scores point to further starts
_STARTS = 3  # the slope at the origin, and two others where they differ


@dataclass(frozen=True, slots=True, eq=False)
class ExtremePoint:
    """A design point, and the level of the score that it belongs to."""

    point: DesignPoint
    level: float


def start_directions(score: Score, d: int, *, rng: np.random.Generator) -> Array:
    """Ways in which the score rises: its slope at the origin, and the highest of some draws."""
    draws = rng.standard_normal((_LOOKS, d))
    highest = draws[np.argsort(-score(draws), kind="stable")[:16]]
    highest /= np.linalg.norm(highest, axis=1, keepdims=True)
    slope = _gradient(score, np.zeros((1, d)), score(np.zeros((1, d))))[0]
    steep = np.linalg.norm(slope)
    chosen = [slope / steep] if steep > 0.0 else [highest[0]]
    for direction in highest:
        if len(chosen) < _STARTS and all(direction @ other < _SAME for other in chosen):
            chosen.append(direction)
    return np.array(chosen)


def extreme_points(
    score: Score, betas: Sequence[float], directions: Array
) -> tuple[tuple[ExtremePoint, ...], ...]:
    """The points of each reliability index, the one with the highest score first.

    Parameters
    ----------
    score : callable
        From z, shape (n, d), to scores, shape (n,).
    betas : sequence of float
        Above zero.
    directions : ndarray (k, d)
        Unit vectors from which each search starts.
    """
    k, d = directions.shape
    radius = np.repeat(np.asarray(betas, dtype=float), k)
    unit = np.tile(directions, (len(betas), 1))
    level = score(radius[:, None] * unit)
    gradient = np.zeros_like(unit)
    active = np.arange(len(unit))
    for _ in range(_ITERATIONS):
        gradient[active] = _gradient(score, radius[active, None] * unit[active], level[active])
        steep = np.linalg.norm(gradient[active], axis=1)
        cosine = np.sum(gradient[active] * unit[active], axis=1)
        active = active[(steep > 0.0) & (cosine < _ON_RAY * steep)]
        if not active.size:
            break
        towards = gradient[active] / np.linalg.norm(gradient[active], axis=1, keepdims=True)
        here = unit[active]
        trial = here[:, None, :] + _SHORTER[:, None] * (towards - here)[:, None, :]
        trial /= np.maximum(np.linalg.norm(trial, axis=2, keepdims=True), 1e-12)
        scores = score((radius[active, None, None] * trial).reshape(-1, d)).reshape(len(active), -1)
        best = scores.argmax(axis=1)
        each = np.arange(len(active))
        better = scores[each, best] > level[active]
        active = active[better]
        unit[active] = trial[each, best][better]
        level[active] = scores[each, best][better]
    return tuple(
        _distinct(unit[rows], level[rows], gradient[rows], float(beta))
        for beta, rows in zip(betas, np.arange(len(unit)).reshape(-1, k), strict=True)
    )


def ladder_mixture(score_points: Sequence[tuple[Score, Sequence[ExtremePoint]]]) -> Mixture:
    """Mixture that follows scores over many levels: an equal share to each of their points."""
    parts = []
    for score, points in score_points:
        for extreme in points:
            point = extreme.point
            bend = None
            if point.converged and 1 < len(point.z) <= MOST_INPUTS:
                bend = curvature(_margin_of(score), point)
            parts.append(around([point], [bend]))
    components = tuple(component for part in parts for component in part.components)
    shares = np.concatenate([part.shares for part in parts]) / len(parts)
    return Mixture(parts[0].d, components, shares)


def _margin_of(score: Score) -> Callable[[Array], Array]:
    return lambda z: -score(z)[:, None]


def _gradient(score: Score, z: Array, level: Array) -> Array:
    d = z.shape[1]
    ahead = score((z[:, None, :] + GRADIENT_STEP * np.eye(d)).reshape(-1, d)).reshape(-1, d)
    slopes: Array = (ahead - level[:, None]) / GRADIENT_STEP
    return slopes


def _distinct(unit: Array, level: Array, gradient: Array, beta: float) -> tuple[ExtremePoint, ...]:
    """Highest first, without repeats and without ways that are far rarer."""
    kept: list[ExtremePoint] = []
    for i in np.argsort(-level, kind="stable"):
        slope = float(np.linalg.norm(gradient[i]))
        direction = gradient[i] / slope if slope > 0.0 else unit[i]
        if kept:
            best = kept[0]
            repeats = any(unit[i] @ other.point.z > _SAME * beta for other in kept)
            if repeats or best.level - level[i] > _NEGLIGIBLE * best.point.slope:
                continue
        converged = slope > 0.0 and float(direction @ unit[i]) > _NEARLY
        point = DesignPoint(beta * unit[i], beta, direction, slope, 0, converged)
        kept.append(ExtremePoint(point, float(level[i])))
    return tuple(kept)
