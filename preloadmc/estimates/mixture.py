"""The density that importance sampling draws from: around design points, and defensive."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from preloadmc.estimates.curvature import Curvature
from preloadmc.estimates.design_point import DesignPoint
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.units import Array

_STANDARD = 0.1  # share of the standard normal: no weight exceeds ten
# Chosen on the benchmark problems, for the least scatter of the estimate.
_SHORT = 0.4  # share of draws short of the surface
_ALONG = 0.6  # share of a point's draws that follow its surface
_NEGLIGIBLE = 1e-3  # a point so much rarer than the nearest adds less than the asked precision
_ROOT_2PI = math.sqrt(2.0 * math.pi)


@dataclass(frozen=True, slots=True, eq=False)
class NormalAround:
    """Normal about `centre`, shape (d,), of standard deviations `sd` along rows of `axes`.

    Across the axes, shape (k, d), k < d, the standard deviation is one.
    """

    centre: Array
    axes: Array
    sd: Array

    def place(self, z: Array) -> Array:
        """Turn standard normal rows into draws, shape (n, d)."""
        return z + ((z @ self.axes.T) * (self.sd - 1.0)) @ self.axes + self.centre

    def ratio(self, z: Array) -> Array:
        """Density over that of the standard normal, shape (n,)."""
        log = z @ self.centre - 0.5 * float(self.centre @ self.centre)
        if self.sd.size:
            across = (z - self.centre) @ self.axes.T
            log += 0.5 * (across * across) @ (1.0 - self.sd**-2.0)
        ratio: Array = np.exp(log) / np.prod(self.sd)
        return ratio


@dataclass(frozen=True, slots=True, eq=False)
class AlongSurface:
    """Draws that follow a parabolic limit surface through a design point.

    Normal of standard deviations `sd` along the tangents `axes`, standard normal across
    both, and along `direction` two-sided exponential of rate `beta` about the surface
    beta + v' diag(bend) v / 2. Beyond it the normal density falls about as fast, so
    that the weights of misses are nearly equal.
    """

    beta: float
    direction: Array
    axes: Array
    sd: Array
    bend: Array

    def place(self, z: Array, rng: np.random.Generator) -> Array:
        """Turn standard normal rows into draws, shape (n, d)."""
        v = (z @ self.axes.T) * self.sd
        beyond = rng.exponential(1.0 / self.beta, len(z))
        beyond *= np.where(rng.random(len(z)) < _SHORT, -1.0, 1.0)
        along = self.beta + 0.5 * (v * v) @ self.bend + beyond
        z = z + np.outer(along - z @ self.direction, self.direction)
        return z + (v - z @ self.axes.T) @ self.axes

    def ratio(self, z: Array) -> Array:
        """Density over that of the standard normal, shape (n,)."""
        v = z @ self.axes.T
        square = v * v
        along = z @ self.direction
        beyond = along - self.beta - 0.5 * square @ self.bend
        log = 0.5 * along * along - self.beta * np.abs(beyond)
        log += 0.5 * square @ (1.0 - self.sd**-2.0)
        side = np.where(beyond < 0.0, _SHORT, 1.0 - _SHORT)
        ratio: Array = np.exp(log) * side * (self.beta * _ROOT_2PI / np.prod(self.sd))
        return ratio


Component = NormalAround | AlongSurface


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """Components with their `shares`, shape (k,); what is left to one is standard normal."""

    d: int
    components: tuple[Component, ...]
    shares: Array

    def sample(self, n: int, rng: np.random.Generator) -> Array:
        """Draw z, shape (n, d), components taken in proportion (systematic)."""
        # Systematic: each component gets its share to within one draw, which lowers the scatter.
        which = np.searchsorted(
            np.cumsum(self.shares), (np.arange(n) + rng.random()) / n, side="right"
        )
        z = rng.standard_normal((n, self.d))
        for i, component in enumerate(self.components):
            rows = which == i
            if isinstance(component, AlongSurface):
                z[rows] = component.place(z[rows], rng)
            else:
                z[rows] = component.place(z[rows])
        return z

    def weights(self, z: Array) -> Array:
        """Standard normal density over that of the mixture, shape (n,)."""
        density = np.full(len(z), 1.0 - float(self.shares.sum()))
        for share, component in zip(self.shares, self.components, strict=True):
            density += share * component.ratio(z)
        return 1.0 / density


def standard_normal(d: int) -> Mixture:
    """The mixture that is plain sampling: every weight is one."""
    return Mixture(d, (), np.empty(0))


def around(points: Sequence[DesignPoint], curvatures: Sequence[Curvature | None]) -> Mixture:
    """Defensive mixture around design points of any columns.

    A tenth is standard normal (T. Hesterberg, Technometrics 37 (1995) 185). The rest goes
    to the points by the square root of Phi(-beta), so that an underrated one still gets
    its part; those a thousand times less likely than the nearest get none. A converged
    point whose curvature is given has 60 % of its part along its surface; the remainder
    is a normal, widened where the surface bends towards the origin.
    """
    nearest = min(point.beta for point in points)
    d = len(points[0].z)
    components: list[Component] = []
    shares = []
    for point, bend in zip(points, curvatures, strict=True):
        if ndtr(-point.beta) < _NEGLIGIBLE * ndtr(-nearest):
            continue
        part = math.sqrt(ndtr(-point.beta))
        if bend is None or not point.converged or point.beta < 1.0:
            components.append(NormalAround(point.z, np.empty((0, d)), np.empty(0)))
            shares.append(part)
            continue
        # Beyond these ends the parabola is no surface: the draws would spread without bound, or not
        # at all.
        principal = np.clip(point.beta * bend.principal, -0.75, 3.0) / point.beta
        sd = (1.0 + point.beta * principal) ** -0.5
        # Given a miss, the tangents scatter by 1/sqrt(1 + beta kappa): the second-order law.
        components.append(AlongSurface(point.beta, point.direction, bend.axes, sd, principal))
        shares.append(_ALONG * part)
        wide = sd > 1.05
        components.append(NormalAround(point.z, bend.axes[wide], sd[wide]))
        shares.append((1.0 - _ALONG) * part)
    parts = np.array(shares)
    return Mixture(d, tuple(components), parts * ((1.0 - _STANDARD) / parts.sum()))


def with_fitted_normal(mixture: Mixture, sample: FailureSample) -> Mixture:
    """The mixture, half of it replaced by a normal of the misses' mean and covariance.

    The fit is widened by a fifth, so that its tails are not lighter than those of the misses.
    """
    mean = sample.weights @ sample.z
    deviation = sample.z - mean
    variances, axes = np.linalg.eigh((sample.weights[:, None] * deviation).T @ deviation)
    sd = 1.2 * np.sqrt(np.maximum(variances, 0.01))
    fitted = NormalAround(mean, axes.T, sd)
    shares = 0.5 * mixture.shares
    return Mixture(
        mixture.d,
        (*mixture.components, fitted),
        np.append(shares, 1.0 - _STANDARD - shares.sum()),
    )
