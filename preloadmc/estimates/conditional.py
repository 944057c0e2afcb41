"""Probabilities of a miss given each of many draws of what is not known: p(e), all at once.

Every draw e has design points of its own. They are sought for all draws together, from the points
of the whole restated in the numbers of each draw; a first-order estimate then ranks the draws, and
importance sampling at some of them, spread evenly over that ranking, tells what the first order
lacks as a function of the distance. Where that leaves a scatter of its own, every draw is sampled.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from preloadmc.estimates.design_point import FAR, GRADIENT_STEP, inside_reach
from preloadmc.units import Array

Draws = NDArray[np.intp]
ConditionalMargins = Callable[[Array, Draws], Array]
"""From z (n, d) and the draw of each row (n,) to margins (n, m)."""

SAMPLED = 512
"""Draws at which a sample tells what the first-order estimate lacks."""

# Chosen on problems with closed forms, for a bias below 2 % at few calls.
_POINTS = 128  # of each sample
_PLAIN_POINTS = 512  # of each draw where nothing says where to sample
_ITERATIONS = 12
_OFF_SURFACE = 0.02  # distance from the surface at which a search has found it
_HALVED_AFTER = 5  # steps: those that go on swing about the point
_FIT_STEPS = 20  # of Gauss and Newton: six are enough for a ratio that is nearly even
# Share of draws below the place where the error of the fit is told: where limits usually lie.
_AT_LIMIT = 0.95
_BLOCK = 2**16
# Variance about the fitted curve over that of sampling, beyond which draws differ by more than
# their distance tells.
_SCATTERED = 1.5
# Beyond this distance a miss is as good as impossible: the share left is 1e-17.
_NEVER = FAR


@dataclass(frozen=True, slots=True, eq=False)
class Conditional:
    """Probabilities p(e), shape (k,), in the order of the draws.

    ``relative_error`` is the standard error of a factor that they have in common, over the value,
    where the largest twentieth of them begins;
    ``model_calls`` counts all; ``own_samples`` is True where every draw was sampled for itself, so
    that each has a scatter of its own. ``plain_points`` counts the plain samples behind each
    probability where no way to a miss led to them, else zero: few, which tell no small ones.
    """

    p: Array
    relative_error: float
    model_calls: int
    own_samples: bool
    plain_points: int = 0


def conditional_probabilities(
    margins: ConditionalMargins,
    starts: Sequence[tuple[Array, int]] | None,
    draws: int,
    d: int,
    *,
    rng: np.random.Generator,
) -> Conditional:
    """Return the probability that the smallest margin is negative, given each draw.

    Parameters
    ----------
    margins : callable
        From z (n, d) and the draw of each row (n,) to margins (n, m).
    starts : sequence of (ndarray (draws, d), int), or None
        Where searches start, in the numbers of each draw, and the margin column each is for: the
        design points of the whole. Empty where there are none, None where none can be sought, since
        margins go in steps: every draw is sampled plainly then.
    draws : int
        How many draws there are, in random order.
    d : int
        Columns of z.
    rng : numpy.random.Generator
        For the samples.

    Returns
    -------
    Conditional
    """
    counted = _Counted(margins)
    if starts is not None and not starts:
        # No way to a miss was found: a look at some draws tells whether samples agree.
        some = rng.permutation(draws)[:SAMPLED]
        look = _sampled(counted, np.zeros((len(some), 1, d)), some, _POINTS, rng)
        if not look.any():
            return Conditional(np.zeros(draws), 0.0, counted.calls, True)
    if not starts:
        p = _sampled(counted, np.zeros((draws, 1, d)), np.arange(draws), _PLAIN_POINTS, rng)
        return Conditional(p.mean(axis=1), 0.0, counted.calls, True, _PLAIN_POINTS)
    found = [_searched(counted, start, column) for start, column in starts]
    # Where the median misses most do: they are sampled about the origin.
    points = np.stack([np.where(each.beta[:, None] < 0.0, 0.0, each.z) for each in found], axis=1)
    betas = np.stack([each.beta for each in found], axis=1)
    first = np.minimum(ndtr(-betas).sum(axis=1), 1.0)
    order = np.argsort(first)
    chosen = order
    if draws > SAMPLED:
        places = (np.arange(SAMPLED) + rng.random(SAMPLED)) * (draws / SAMPLED)
        chosen = order[places.astype(np.intp)]
    sampled = _sampled(counted, points[chosen], chosen, _POINTS, rng)
    fit = _Fit.of(first[chosen], sampled)
    if fit.is_scattered:
        parts = [
            _sampled(counted, points[each], each, _POINTS, rng).mean(axis=1)
            for each in np.array_split(np.arange(draws), max(draws * _POINTS // _BLOCK, 1))
        ]
        return Conditional(np.minimum(np.concatenate(parts), 1.0), 0.0, counted.calls, True)
    return Conditional(fit.at(first), fit.relative_error, counted.calls, False)


class _Counted:
    """Margins of some rows, the smallest or one column, in blocks; counts the rows."""

    def __init__(self, margins: ConditionalMargins) -> None:
        self._margins = margins
        self.calls = 0

    def of(self, z: Array, draw: Draws, column: int | None = None) -> Array:
        """Return one column of the margins (n,), or the smallest where None."""
        self.calls += len(z)
        parts = []
        for first in range(0, len(z), _BLOCK):
            rows = slice(first, first + _BLOCK)
            found = self._margins(z[rows], draw[rows])
            parts.append(found.min(axis=1) if column is None else found[:, column])
        return np.concatenate(parts) if parts else np.empty(0)


@dataclass(frozen=True, slots=True, eq=False)
class _Searched:
    """Design points (k, d) of one margin in every draw, and their signed distances (k,)."""

    z: Array
    beta: Array


def _searched(counted: _Counted, start: Array, column: int) -> _Searched:
    """Search the nearest point where a margin is zero, in all draws at once (HL-RF).

    R. Rackwitz, B. Fiessler, Computers & Structures 9 (1978) 489-494: step to the nearest point of
    the tangent plane. A draw whose search ends beyond `FAR` has no miss to speak of.
    """
    draws, d = start.shape
    z = inside_reach(start)
    beta = np.linalg.norm(z, axis=1)
    active = np.arange(draws)
    for iteration in range(_ITERATIONS):
        here = np.repeat(z[active, None, :], d + 1, axis=1)
        here[:, 1:, :] += GRADIENT_STEP * np.eye(d)
        values = counted.of(here.reshape(-1, d), np.repeat(active, d + 1), column)
        values = values.reshape(-1, d + 1)
        gradient = (values[:, 1:] - values[:, :1]) / GRADIENT_STEP
        slope = np.linalg.norm(gradient, axis=1)
        steep = slope > 1e-12 * (1.0 + np.abs(values[:, 0]))
        # Where a margin is flat nothing leads to a miss.
        beta[active[~steep]] = np.where(values[~steep, 0] < 0.0, 0.0, np.inf)
        active, gradient, slope = active[steep], gradient[steep], slope[steep]
        g = values[steep, 0]
        direction = -gradient / slope[:, None]
        reach = np.sum(direction * z[active], axis=1) + g / slope
        aim = reach[:, None] * direction
        step = aim - z[active]
        done = np.linalg.norm(step, axis=1) < _OFF_SURFACE * np.maximum(1.0, np.abs(reach))
        if iteration >= _HALVED_AFTER:
            step *= 0.5
        beta[active] = reach
        z[active] = inside_reach(z[active] + step)
        active = active[~done]
        if active.size == 0:
            break
    beta[beta > _NEVER] = np.inf
    # As far on the other side a miss is certain.
    beta[beta < -_NEVER] = -_NEVER
    return _Searched(z, np.where(np.isfinite(beta), beta, np.inf))


def _sampled(
    counted: _Counted, points: Array, draws: Draws, n: int, rng: np.random.Generator
) -> Array:
    """Return weights of misses (k, n) about the points (k, j, d) of some draws.

    A mixture of equal normal laws, one about each point; that of a draw whose median misses stands
    at the origin. The mean of a row is the probability.
    """
    k, j, d = points.shape
    z = rng.standard_normal((k, n, d))
    which = rng.integers(0, j, (k, n)) if j > 1 else np.zeros((k, n), dtype=np.intp)
    z += np.take_along_axis(points, which[:, :, None], axis=1)
    # Each weight is the normal density over that of the mixture.
    half = 0.5 * np.sum(points * points, axis=2)
    logs = np.matmul(z, points.transpose(0, 2, 1)) - half[:, None, :]
    top = logs.max(axis=2)
    mixed = np.exp(logs - top[:, :, None]).mean(axis=2)
    weights = np.exp(-top) / mixed
    missed = counted.of(z.reshape(-1, d), np.repeat(draws, n)) < 0.0
    kept: Array = np.where(missed.reshape(k, n), weights, 0.0)
    return kept


@dataclass(frozen=True, slots=True)
class _Fit:
    """What the first-order estimate lacks: a factor ``exp(c0 + c1 beta + c2 beta^2)``."""

    coefficients: tuple[float, float, float]
    relative_error: float
    is_scattered: bool

    @classmethod
    def of(cls, first: Array, sampled: Array) -> _Fit:
        """Fit the ratio of sampled to first-order probabilities, unweighted.

        Weights from estimated variances would be smallest where a sample has missed by chance what
        it should have found.
        """
        told = first > 1e-16
        beta = -ndtri(np.clip(first[told], 1e-16, 1.0 - 1e-12))
        ratio = sampled[told].mean(axis=1) / first[told]
        noise = sampled[told].var(axis=1, ddof=1) / sampled.shape[1] / first[told] ** 2
        if len(ratio) < 8:
            return cls((0.0, 0.0, 0.0), 1.0, True)
        middle, width = float(beta.mean()), max(float(beta.std()), 1e-6)
        at = (beta - middle) / width
        design = np.column_stack([np.ones_like(at), at, at * at])
        c = np.array([math.log(max(float(ratio.mean()), 1e-3)), 0.0, 0.0])
        for _ in range(_FIT_STEPS):
            value = np.exp(np.clip(design @ c, -20.0, 20.0))
            jacobian = design * value[:, None]
            move = np.linalg.lstsq(jacobian, ratio - value, rcond=None)[0]
            c += np.clip(move, -1.0, 1.0)
        value = np.exp(np.clip(design @ c, -20.0, 20.0))
        residual = ratio - value
        scatter = float(np.sum(residual**2)) / max(float(noise.sum()), 1e-300)
        bread = np.linalg.pinv(design * value[:, None])
        covariance = (bread * residual**2) @ bread.T
        # Not in the middle of the draws, where the fit is known best.
        limit = float(np.quantile(at, 1.0 - _AT_LIMIT))
        place = np.array([1.0, limit, limit * limit])
        c0 = c[0] - c[1] * middle / width + c[2] * (middle / width) ** 2
        c1 = c[1] / width - 2.0 * c[2] * middle / width**2
        return cls(
            (float(c0), float(c1), float(c[2] / width**2)),
            float(math.sqrt(max(place @ covariance @ place, 0.0))),
            scatter > _SCATTERED,
        )

    def at(self, first: Array) -> Array:
        """Return the probabilities of draws by their first-order estimates."""
        c0, c1, c2 = self.coefficients
        beta = -ndtri(np.clip(first, 1e-300, 1.0 - 1e-12))
        factor = np.exp(np.clip(c0 + c1 * beta + c2 * beta * beta, -20.0, 20.0))
        p: Array = np.minimum(first * factor, 1.0)
        return p
