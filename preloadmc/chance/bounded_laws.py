"""Laws between two ends: uniform, triangular and beta.

Formulas: N. L. Johnson, S. Kotz and N. Balakrishnan, *Continuous Univariate Distributions*, vol. 2,
2nd ed., Wiley 1995, chapters 25 and 26; JCGM 101:2008, section 6.4.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import scipy

from preloadmc.chance.beta_quantile import beta_logit
from preloadmc.chance.law import Law, require
from preloadmc.units import Array, FloatLike


def _require_ends(low: float, high: float) -> None:
    require(True, "low", low, "a finite number")
    require(True, "high", high, "a finite number")
    require(low < high, "low", low, f"below high, {high:g}")


def _by_smaller_tail(
    z: Array, from_below: Callable[[Array], Array], from_above: Callable[[Array], Array]
) -> Array:
    """Evaluate a law from the share below, up to the median, and from the share above beyond it.

    Both functions take shares up to one half. Rounding where they meet is kept from making the
    result decrease.
    """
    upper = z > 0.0
    share = scipy.special.ndtr(-np.abs(z))
    x = np.empty_like(share)
    x[~upper] = from_below(share[~upper])
    x[upper] = np.maximum(from_above(share[upper]), from_below(np.array([0.5])))
    return x


@dataclass(frozen=True, slots=True)
class Uniform(Law):
    """Every value from `low` to `high` equally likely (rectangular law)."""

    low: float
    high: float

    kind: ClassVar[str] = "uniform"

    def __post_init__(self) -> None:
        _require_ends(self.low, self.high)

    @classmethod
    def around(cls, mean: float, half_width: float) -> Uniform:
        """Uniform law by its mean and half of its width."""
        require(half_width > 0.0, "half_width", half_width, "above zero")
        return cls(mean - half_width, mean + half_width)

    @classmethod
    def from_moments(cls, mean: float, sd: float) -> Uniform:
        """Uniform law by its mean and s.d.; the half-width is sd √3."""
        require(sd > 0.0, "sd", sd, "above zero (without scatter: a constant)")
        return cls.around(mean, sd * math.sqrt(3.0))

    @property
    def mean(self) -> float:
        """Mean."""
        return 0.5 * (self.low + self.high)

    @property
    def sd(self) -> float:
        """Standard deviation, the width over √12."""
        return (self.high - self.low) / math.sqrt(12.0)

    @property
    def support(self) -> tuple[float, float]:
        """From low to high."""
        return self.low, self.high

    def from_normal(self, z: Array) -> Array:
        """Return the value with as much of the law below it as the normal law has below `z`."""
        width = self.high - self.low
        return _by_smaller_tail(z, lambda p: self.low + width * p, lambda p: self.high - width * p)

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""
        p: FloatLike = np.clip((x - self.low) / (self.high - self.low), 0.0, 1.0)
        return p

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`."""
        p: FloatLike = np.clip((self.high - x) / (self.high - self.low), 0.0, 1.0)
        return p

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`, zero outside the ends."""
        inside = (self.low <= np.asarray(x)) & (np.asarray(x) <= self.high)
        return np.where(inside, 1.0 / (self.high - self.low), 0.0)[()]

    def scaled(self, factor: float) -> Uniform:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return Uniform(self.low * factor, self.high * factor)

    def shifted(self, offset: float) -> Uniform:
        """Law of the quantity plus `offset`."""
        return Uniform(self.low + offset, self.high + offset)


@dataclass(frozen=True, slots=True)
class Triangular(Law):
    """Density rising in a straight line from `low` to `mode` and falling to `high`."""

    low: float
    mode: float
    high: float

    kind: ClassVar[str] = "triangular"

    def __post_init__(self) -> None:
        _require_ends(self.low, self.high)
        allowed = f"from low, {self.low:g}, to high, {self.high:g}"
        require(self.low <= self.mode <= self.high, "mode", self.mode, allowed)

    @property
    def mean(self) -> float:
        """Mean of the three parameters."""
        return (self.low + self.mode + self.high) / 3.0

    @property
    def sd(self) -> float:
        """Standard deviation, sqrt((a² + ab + b²)/18) for a rise a and a fall b."""
        a, b = self.mode - self.low, self.high - self.mode
        return math.sqrt((a * a + a * b + b * b) / 18.0)

    @property
    def support(self) -> tuple[float, float]:
        """From low to high."""
        return self.low, self.high

    def from_normal(self, z: Array) -> Array:
        """Return the value with as much of the law below it as the normal law has below `z`."""
        a, b = self.mode - self.low, self.high - self.mode
        return _by_smaller_tail(
            z,
            lambda p: self.low + _distance_from_end(p, a, b),
            lambda p: self.high - _distance_from_end(p, b, a),
        )

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""
        return _share_near_end(
            np.subtract(x, self.low), self.mode - self.low, self.high - self.mode
        )

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`."""
        return _share_near_end(
            np.subtract(self.high, x), self.high - self.mode, self.mode - self.low
        )

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`, zero outside the ends."""
        a, b = self.mode - self.low, self.high - self.mode
        top = 2.0 / (a + b)
        rise = np.subtract(x, self.low) / a if a > 0.0 else math.inf
        fall = np.subtract(self.high, x) / b if b > 0.0 else math.inf
        inside = (self.low <= np.asarray(x)) & (np.asarray(x) <= self.high)
        return np.where(inside, top * np.minimum(rise, fall), 0.0)[()]

    def scaled(self, factor: float) -> Triangular:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return Triangular(self.low * factor, self.mode * factor, self.high * factor)

    def shifted(self, offset: float) -> Triangular:
        """Law of the quantity plus `offset`."""
        return Triangular(self.low + offset, self.mode + offset, self.high + offset)


def _distance_from_end(share: Array, near: float, far: float) -> Array:
    """Distance from one end of a triangle with the share between; the mode is `near` away.

    Beyond the mode the distance is near + far (1 - sqrt(1 - u)), written without a difference of
    nearly equal numbers.
    """
    width = near + far
    up_to_mode = np.sqrt(share * (width * near))
    if far == 0.0:
        return up_to_mode
    u = np.clip((share * width - near) / far, 0.0, 1.0)
    return np.where(u > 0.0, near + far * u / (1.0 + np.sqrt(1.0 - u)), up_to_mode)


def _share_near_end(distance: FloatLike, near: float, far: float) -> FloatLike:
    """Share of a triangle within `distance` of one end; the mode is `near` away from it."""
    width = near + far
    d = np.clip(distance, 0.0, width)
    rest = width - d
    up_to_mode = d * d / (width * near) if near > 0.0 else 0.0
    beyond = 1.0 - rest * rest / (width * far) if far > 0.0 else 1.0
    return np.where(d <= near, up_to_mode if near > 0.0 else beyond, beyond)[()]


@dataclass(frozen=True, slots=True)
class Beta(Law):
    """Beta law on the range from `low` to `high` with shapes `alpha` (low end) and `beta`."""

    alpha: float
    beta: float
    low: float
    high: float

    kind: ClassVar[str] = "beta"

    def __post_init__(self) -> None:
        _require_ends(self.low, self.high)
        require(_SHAPES[0] <= self.alpha <= _SHAPES[1], "alpha", self.alpha, _SHAPES_ALLOWED)
        require(_SHAPES[0] <= self.beta <= _SHAPES[1], "beta", self.beta, _SHAPES_ALLOWED)

    @classmethod
    def from_moments(cls, mean: float, sd: float, low: float, high: float) -> Beta:
        """Beta law on a range by its mean and s.d."""
        _require_ends(low, high)
        require(low < mean < high, "mean", mean, f"between low, {low:g}, and high, {high:g}")
        centre = (mean - low) / (high - low)
        largest = math.sqrt((mean - low) * (high - mean))
        require(0.0 < sd < largest, "sd", sd, f"above zero and below {largest:g} for this mean")
        shapes = (largest / sd) ** 2 - 1.0
        return cls(centre * shapes, (1.0 - centre) * shapes, low, high)

    @property
    def mean(self) -> float:
        """Mean, low + (high - low) α/(α + β)."""
        return self.low + (self.high - self.low) * self.alpha / (self.alpha + self.beta)

    @property
    def sd(self) -> float:
        """Standard deviation, (high - low)/(α + β) sqrt(αβ/(α + β + 1))."""
        both = self.alpha + self.beta
        share = math.sqrt(self.alpha * self.beta / (both + 1.0)) / both
        return (self.high - self.low) * share

    @property
    def support(self) -> tuple[float, float]:
        """From low to high."""
        return self.low, self.high

    def from_normal(self, z: Array) -> Array:
        """Return the value with as much of the law below it as the normal law has below `z`."""
        logit = beta_logit(z, self.alpha, self.beta)
        from_end = (self.high - self.low) * scipy.special.expit(-np.abs(logit))
        return np.where(logit < 0.0, self.low + from_end, self.high - from_end)

    def _shares(self, x: FloatLike) -> tuple[Array, Array]:
        """Distance of `x` from the low and from the high end as a share of the range."""
        width = self.high - self.low
        from_low = np.clip(np.subtract(x, self.low) / width, 0.0, 1.0)
        from_high = np.clip(np.subtract(self.high, x) / width, 0.0, 1.0)
        return np.asarray(from_low), np.asarray(from_high)

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""
        p: Array = scipy.special.betainc(self.alpha, self.beta, self._shares(x)[0])
        return p

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`."""
        p: Array = scipy.special.betainc(self.beta, self.alpha, self._shares(x)[1])
        return p

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`, zero outside the ends."""
        from_low, _ = self._shares(x)
        log_density = (
            scipy.special.xlogy(self.alpha - 1.0, from_low)
            + scipy.special.xlog1py(self.beta - 1.0, -from_low)
            - scipy.special.betaln(self.alpha, self.beta)
        )
        inside = (self.low <= np.asarray(x)) & (np.asarray(x) <= self.high)
        return np.where(inside, np.exp(log_density) / (self.high - self.low), 0.0)[()]

    def scaled(self, factor: float) -> Beta:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return Beta(self.alpha, self.beta, self.low * factor, self.high * factor)

    def shifted(self, offset: float) -> Beta:
        """Law of the quantity plus `offset`."""
        return Beta(self.alpha, self.beta, self.low + offset, self.high + offset)


_SHAPES = (0.05, 1e6)
_SHAPES_ALLOWED = f"from {_SHAPES[0]:g} to {_SHAPES[1]:g}"
