"""The normal law and its kin: lognormal and truncated normal.

Formulas: N. L. Johnson, S. Kotz and N. Balakrishnan, *Continuous Univariate Distributions*, vol. 1,
2nd ed., Wiley 1994, chapters 13 and 14.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import scipy

from preloadmc.chance.law import Law, normal_share, require
from preloadmc.units import Array, FloatLike


def _normal_density(u: FloatLike) -> FloatLike:
    density: FloatLike = np.exp(-0.5 * np.square(u)) / math.sqrt(2.0 * math.pi)
    return density


@dataclass(frozen=True, slots=True)
class Normal(Law):
    """Normal law."""

    mean: float
    sd: float

    kind: ClassVar[str] = "normal"
    is_quick: ClassVar[bool] = True

    def __post_init__(self) -> None:
        require(True, "mean", self.mean, "a finite number")
        require(self.sd > 0.0, "sd", self.sd, "above zero (without scatter: a constant)")

    @property
    def support(self) -> tuple[float, float]:
        """Every number."""
        return -math.inf, math.inf

    def from_normal(self, z: Array) -> Array:
        """Return mean + sd z."""
        x = self.sd * z
        x += self.mean
        return x

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""
        return normal_share((x - self.mean) / self.sd)

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`."""
        return normal_share((self.mean - x) / self.sd)

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`."""
        return _normal_density((x - self.mean) / self.sd) / self.sd

    def scaled(self, factor: float) -> Normal:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return Normal(self.mean * factor, self.sd * factor)

    def shifted(self, offset: float) -> Normal:
        """Law of the quantity plus `offset`."""
        return Normal(self.mean + offset, self.sd)

    def _with_spread(self, factor: float) -> Normal:
        return Normal(self.mean, self.sd * factor)


@dataclass(frozen=True, slots=True)
class LogNormal(Law):
    """Lognormal law by the mean and s.d. of the quantity itself, not of its logarithm.

    `ln(x - location)` is normal with s.d. `s = sqrt(ln(1 + (sd/(mean - location))²))` and mean
    `m = ln(mean - location) - s²/2`. The location, the lowest value, is zero for nearly every
    quantity; a change of temperature scale moves it.
    """

    mean: float
    sd: float
    location: float = 0.0

    kind: ClassVar[str] = "lognormal"
    is_quick: ClassVar[bool] = True

    def __post_init__(self) -> None:
        require(True, "location", self.location, "a finite number")
        require(self.mean > self.location, "mean", self.mean, f"above {self.location:g}")
        require(self.sd > 0.0, "sd", self.sd, "above zero (without scatter: a constant)")

    @classmethod
    def of_logarithm(cls, mean: float, sd: float) -> LogNormal:
        """Return the law whose natural logarithm has this mean and s.d."""
        whole = math.exp(mean + 0.5 * sd * sd)
        return cls(whole, whole * math.sqrt(math.expm1(sd * sd)))

    @property
    def log_sd(self) -> float:
        """Standard deviation of the natural logarithm."""
        return math.sqrt(math.log1p((self.sd / (self.mean - self.location)) ** 2))

    @property
    def log_mean(self) -> float:
        """Mean of the natural logarithm."""
        return math.log(self.mean - self.location) - 0.5 * self.log_sd**2

    @property
    def support(self) -> tuple[float, float]:
        """From the location up."""
        return self.location, math.inf

    def from_normal(self, z: Array) -> Array:
        """Return location + exp(m + s z)."""
        x = self.log_sd * z
        x += self.log_mean
        np.exp(x, out=x)
        if self.location != 0.0:
            x += self.location
        return x

    def _normal_number(self, x: FloatLike) -> FloatLike:
        with np.errstate(divide="ignore"):
            logarithm = np.log(np.maximum(np.subtract(x, self.location), 0.0))
        number: FloatLike = (logarithm - self.log_mean) / self.log_sd
        return number

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""
        return normal_share(self._normal_number(x))

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`."""
        return normal_share(-self._normal_number(x))

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`."""
        above = np.subtract(x, self.location)
        divisor = self.log_sd * np.where(above > 0.0, above, 1.0)[()]
        density: FloatLike = _normal_density(self._normal_number(x)) / divisor
        return density

    def to_normal(self, x: FloatLike) -> FloatLike:
        """Return (ln(x - location) - m)/s, minus infinity at or below the location."""
        return self._normal_number(x)

    def scaled(self, factor: float) -> LogNormal:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return LogNormal(self.mean * factor, self.sd * factor, self.location * factor)

    def shifted(self, offset: float) -> LogNormal:
        """Law of the quantity plus `offset`; the location moves along."""
        return LogNormal(self.mean + offset, self.sd, self.location + offset)

    def _with_spread(self, factor: float) -> LogNormal:
        return LogNormal(self.mean, self.sd * factor, self.location)


@dataclass(frozen=True, slots=True)
class TruncatedNormal(Law):
    """Normal law of which only the values from `low` to `high` occur.

    `parent_mean` and `parent_sd` belong to the normal law before truncation; `mean` and `sd` are
    those of the quantity itself. An end may be infinite.
    """

    parent_mean: float
    parent_sd: float
    low: float
    high: float

    kind: ClassVar[str] = "truncated normal"

    def __post_init__(self) -> None:
        require(True, "mean", self.parent_mean, "a finite number")
        require(self.parent_sd > 0.0, "sd", self.parent_sd, "above zero")
        if not self.low < self.high:
            raise ValueError(f"low is {self.low:g}: it must be below high, {self.high:g}")
        if not self._share >= _SMALLEST_SHARE:
            raise ValueError(
                f"low is {self.low:g} and high is {self.high:g}: at least {_SMALLEST_SHARE:g} of "
                f"the normal law must lie between them, and {self._share:.2g} does"
            )

    @property
    def _ends(self) -> tuple[float, float]:
        """Both ends as normal numbers of the parent law."""
        return (
            (self.low - self.parent_mean) / self.parent_sd,
            (self.high - self.parent_mean) / self.parent_sd,
        )

    @property
    def _share(self) -> float:
        """Share of the parent law between the ends, as a difference of smaller tails."""
        a, b = self._ends
        return float(
            scipy.special.ndtr(b) - scipy.special.ndtr(a)
            if a < 0.0
            else scipy.special.ndtr(-a) - scipy.special.ndtr(-b)
        )

    @property
    def mean(self) -> float:
        """Mean of the truncated law."""
        a, b = self._ends
        return self.parent_mean + self.parent_sd * float(
            (_normal_density(a) - _normal_density(b)) / self._share
        )

    @property
    def sd(self) -> float:
        """Standard deviation of the truncated law."""
        a, b = (min(max(end, -40.0), 40.0) for end in self._ends)  # the density is 0 beyond
        at_a, at_b = float(_normal_density(a)), float(_normal_density(b))
        first = (at_a - at_b) / self._share
        second = (a * at_a - b * at_b) / self._share
        return self.parent_sd * math.sqrt(1.0 + second - first * first)

    @property
    def support(self) -> tuple[float, float]:
        """From low to high."""
        return self.low, self.high

    def from_normal(self, z: Array) -> Array:
        """Return the parent's value with the share beyond the end plus that of `z` beyond it.

        Where the ends are so far out that they move nothing by more than rounding, this is the
        parent's own value.
        """
        a, b = self._ends
        outside = 1e15 * float(scipy.special.ndtr(a) + scipy.special.ndtr(-b))
        x = self.parent_mean + self.parent_sd * z
        near_ends = _normal_density(z) < outside
        x[near_ends] = self._near_ends(z[near_ends])
        return x

    def _near_ends(self, z: Array) -> Array:
        a, b = self._ends
        from_low, from_high = (
            self._share * scipy.special.ndtr(z),
            self._share * scipy.special.ndtr(-z),
        )
        below, above = scipy.special.ndtr(a) + from_low, scipy.special.ndtr(-b) + from_high
        u = scipy.special.ndtri(np.minimum(below, above))
        x: Array = self.parent_mean + self.parent_sd * np.where(below < above, u, -u)
        # Next to an end the sum of shares has lost the distance from it.
        near_low, near_high = from_low < _near_share(a), from_high < _near_share(-b)
        x[near_low] = self.low + self.parent_sd * _distance_from_end(a, from_low[near_low])
        x[near_high] = self.high - self.parent_sd * _distance_from_end(-b, from_high[near_high])
        return np.clip(x, self.low, self.high, out=x)

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""
        a, b = self._ends
        u = np.clip((x - self.parent_mean) / self.parent_sd, a, b)
        p: FloatLike = (
            scipy.special.ndtr(u) - scipy.special.ndtr(a)
            if a < 0.0
            else scipy.special.ndtr(-a) - scipy.special.ndtr(-u)
        ) / self._share
        return p

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`."""
        a, b = self._ends
        u = np.clip((x - self.parent_mean) / self.parent_sd, a, b)
        p: FloatLike = (
            scipy.special.ndtr(-u) - scipy.special.ndtr(-b)
            if b > 0.0
            else scipy.special.ndtr(b) - scipy.special.ndtr(u)
        ) / self._share
        return p

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`, zero outside the ends."""
        inside = (self.low <= np.asarray(x)) & (np.asarray(x) <= self.high)
        parent = _normal_density((x - self.parent_mean) / self.parent_sd) / self.parent_sd
        return np.where(inside, parent / self._share, 0.0)[()]

    def scaled(self, factor: float) -> TruncatedNormal:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return TruncatedNormal(
            self.parent_mean * factor,
            self.parent_sd * factor,
            self.low * factor,
            self.high * factor,
        )

    def shifted(self, offset: float) -> TruncatedNormal:
        """Law of the quantity plus `offset`."""
        return TruncatedNormal(
            self.parent_mean + offset, self.parent_sd, self.low + offset, self.high + offset
        )


def _near_share(end: float) -> float:
    """Share beyond a lower end, as a normal number, up to which the series below is exact."""
    return 1e-4 * float(_normal_density(end)) / max(1.0, abs(end)) if math.isfinite(end) else 0.0


def _distance_from_end(end: float, share: Array) -> Array:
    """Distance in s.d. above a lower end within which the normal law has `share`.

    Taylor series of the normal quantile about the end; its derivatives follow from Q' = 1/φ(Q).
    """
    r = share / _normal_density(end)
    a = end
    series = 1.0 + r * (
        a / 2.0 + r * ((1.0 + 2.0 * a * a) / 6.0 + r * a * (7.0 + 6.0 * a * a) / 24.0)
    )
    return r * series


_SMALLEST_SHARE = 1e-6
"""Below this a truncated normal law says nothing of its parent but the shape of a far tail."""
