"""Laws of smallest and largest values: Weibull and Gumbel.

Formulas: N. L. Johnson, S. Kotz and N. Balakrishnan, *Continuous Univariate Distributions*,
2nd ed., Wiley, vol. 1 (1994), chapter 21, and vol. 2 (1995), chapter 22.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import scipy

from preloadmc.chance.law import Law, require
from preloadmc.units import Array, FloatLike

_SHAPES = (0.1, 1e4)
"""Weibull shapes covered: coefficients of variation from 430 down to 0.00013."""


@dataclass(frozen=True, slots=True)
class Weibull(Law):
    """Weibull law: P(X > x) = exp(-((x - location)/scale)^shape)."""

    shape: float
    scale: float
    location: float = 0.0

    kind: ClassVar[str] = "weibull"

    def __post_init__(self) -> None:
        allowed = f"from {_SHAPES[0]:g} to {_SHAPES[1]:g}"
        require(_SHAPES[0] <= self.shape <= _SHAPES[1], "shape", self.shape, allowed)
        require(self.scale > 0.0, "scale", self.scale, "above zero")
        require(True, "location", self.location, "a finite number")

    @classmethod
    def from_moments(cls, mean: float, sd: float, location: float = 0.0) -> Weibull:
        """Weibull law by its mean and s.d., the shape found by halving an interval."""
        require(mean > location, "mean", mean, f"above the location, {location:g}")
        largest, smallest = (_variation(shape) * (mean - location) for shape in _SHAPES)
        require(smallest <= sd <= largest, "sd", sd, f"from {smallest:.3g} to {largest:.3g}")
        below, above = (math.log(shape) for shape in _SHAPES)
        for _ in range(60):
            middle = 0.5 * (below + above)
            if _variation(math.exp(middle)) > sd / (mean - location):
                below = middle
            else:
                above = middle
        shape = math.exp(middle)
        return cls(shape, (mean - location) / math.gamma(1.0 + 1.0 / shape), location)

    @property
    def mean(self) -> float:
        """Mean, location + scale Γ(1 + 1/shape)."""
        return self.location + self.scale * math.gamma(1.0 + 1.0 / self.shape)

    @property
    def sd(self) -> float:
        """Standard deviation, scale sqrt(Γ(1 + 2/shape) - Γ²(1 + 1/shape))."""
        return (self.mean - self.location) * _variation(self.shape)

    @property
    def support(self) -> tuple[float, float]:
        """From the location up."""
        return self.location, math.inf

    def from_normal(self, z: Array) -> Array:
        """Return location + scale (-ln(1 - Φ(z)))^(1/shape)."""
        x: Array = np.power(-scipy.special.log_ndtr(-z), 1.0 / self.shape)
        x *= self.scale
        x += self.location
        return x

    def _exponent(self, x: FloatLike) -> FloatLike:
        above = np.maximum(np.subtract(x, self.location) / self.scale, 0.0)
        with np.errstate(over="ignore"):
            exponent: FloatLike = np.power(above, self.shape)
        return exponent

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""
        p: FloatLike = -np.expm1(-self._exponent(x))
        return p

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`."""
        p: FloatLike = np.exp(-self._exponent(x))
        return p

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`, zero at and below the location."""
        above = np.subtract(x, self.location)
        inside = above > 0.0
        exponent = self._exponent(x)
        rate = self.shape * exponent / np.where(inside, above, 1.0)
        return np.where(inside, rate * np.exp(-exponent), 0.0)[()]

    def scaled(self, factor: float) -> Weibull:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return Weibull(self.shape, self.scale * factor, self.location * factor)

    def shifted(self, offset: float) -> Weibull:
        """Law of the quantity plus `offset`; the location moves along."""
        return Weibull(self.shape, self.scale, self.location + offset)

    def _with_spread(self, factor: float) -> Weibull:
        """Keep the location, where values end; never narrower than the narrowest law covered."""
        narrowest = _variation(_SHAPES[1]) * (self.mean - self.location)
        return Weibull.from_moments(self.mean, max(self.sd * factor, narrowest), self.location)


def _variation(shape: float) -> float:
    """Coefficient of variation of a Weibull law with location zero."""
    u = 1.0 / shape
    return math.sqrt(math.expm1(math.lgamma(1.0 + 2.0 * u) - 2.0 * math.lgamma(1.0 + u)))


@dataclass(frozen=True, slots=True)
class Gumbel(Law):
    """Gumbel law of largest values: P(X <= x) = exp(-exp(-(x - mode)/b)), b = sd √6/π."""

    mean: float
    sd: float

    kind: ClassVar[str] = "gumbel"

    def __post_init__(self) -> None:
        require(True, "mean", self.mean, "a finite number")
        require(self.sd > 0.0, "sd", self.sd, "above zero (without scatter: a constant)")

    @property
    def mode(self) -> float:
        """Most likely value, mean - 0.5772 b."""
        return self.mean - float(np.euler_gamma) * self.scale

    @property
    def scale(self) -> float:
        """Scale b of the law, sd √6/π."""
        return self.sd * math.sqrt(6.0) / math.pi

    @property
    def support(self) -> tuple[float, float]:
        """Every number."""
        return -math.inf, math.inf

    def from_normal(self, z: Array) -> Array:
        """Return mode - b ln(-ln Φ(z))."""
        x: Array = np.log(-scipy.special.log_ndtr(z))
        x *= -self.scale
        x += self.mode
        return x

    def _hazard(self, x: FloatLike) -> FloatLike:
        """Return exp(-(x - mode)/b), infinite where it would overflow."""
        with np.errstate(over="ignore"):
            hazard: FloatLike = np.exp((self.mode - x) / self.scale)
        return hazard

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""
        p: FloatLike = np.exp(-self._hazard(x))
        return p

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`."""
        p: FloatLike = -np.expm1(-self._hazard(x))
        return p

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`."""
        with np.errstate(over="ignore"):
            y = (x - self.mode) / self.scale
            density: FloatLike = np.exp(-y - np.exp(-y)) / self.scale
        return density

    def scaled(self, factor: float) -> Gumbel:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return Gumbel(self.mean * factor, self.sd * factor)

    def shifted(self, offset: float) -> Gumbel:
        """Law of the quantity plus `offset`."""
        return Gumbel(self.mean + offset, self.sd)

    def _with_spread(self, factor: float) -> Gumbel:
        return Gumbel(self.mean, self.sd * factor)
