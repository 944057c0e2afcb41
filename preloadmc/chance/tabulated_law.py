"""The law that repeats a list of measured values, each equally likely.

It goes in steps and says nothing beyond its extremes: for a probability below about one over the
number of values it has no answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import scipy

from preloadmc.chance.law import Law, require
from preloadmc.units import Array, FloatLike


@dataclass(frozen=True, slots=True)
class Tabulated(Law):
    """Equal-weight step law on `values`, kept sorted.

    The s.d. has the divisor n, not n - 1: the values are the law, not a sample of it.

    Preloads [kN] of 20 unlubricated tests at 90 N·m (Shigley's Mechanical Engineering Design,
    9th ed., Table 8-13, p. 438, after Blake and Kurtz 1965; printed mean 34.3):

    >>> tests = Tabulated((23.6, 27.6, 28.0, 29.4, 30.3, 30.7, 32.9, 33.8, 33.8, 33.8,
    ...                    34.7, 35.6, 35.6, 37.4, 37.8, 37.8, 39.2, 40.0, 40.5, 42.7))
    >>> round(tests.mean, 2), round(tests.sd, 3)
    (34.26, 4.785)
    """

    values: tuple[float, ...]

    kind: ClassVar[str] = "tabulated"
    is_smooth: ClassVar[bool] = False

    def __post_init__(self) -> None:
        if len(self.values) < 2:
            raise ValueError(f"values has {len(self.values)} entries: it must have at least two")
        for value in self.values:
            require(True, "values", value, "all finite numbers")
        object.__setattr__(self, "values", tuple(sorted(self.values)))

    @property
    def count(self) -> int:
        """Number of values."""
        return len(self.values)

    @property
    def mean(self) -> float:
        """Mean of the values."""
        return math.fsum(self.values) / self.count

    @property
    def sd(self) -> float:
        """Standard deviation of the values, divisor n."""
        mean = self.mean
        return math.sqrt(math.fsum((value - mean) ** 2 for value in self.values) / self.count)

    @property
    def support(self) -> tuple[float, float]:
        """Smallest and largest value."""
        return self.values[0], self.values[-1]

    @property
    def step_normals(self) -> Array:
        """The n - 1 standard normal numbers at which one value gives way to the next."""
        shares = np.arange(1, self.count) / self.count
        edges: Array = np.where(
            shares <= 0.5, scipy.special.ndtri(shares), -scipy.special.ndtri(shares[::-1])
        )
        return edges

    def from_normal(self, z: Array) -> Array:
        """Return the i-th of n values where (i - 1)/n < Φ(z) <= i/n."""
        chosen: Array = np.asarray(self.values)[np.searchsorted(self.step_normals, z)]
        return chosen

    def cdf(self, x: FloatLike) -> FloatLike:
        """Share of the values at or below `x`."""
        p: FloatLike = np.searchsorted(self.values, x, side="right") / self.count
        return p

    def sf(self, x: FloatLike) -> FloatLike:
        """Share of the values above `x`."""
        p: FloatLike = (self.count - np.searchsorted(self.values, x, side="right")) / self.count
        return p

    def density(self, x: FloatLike) -> FloatLike:
        """Raise ValueError: all the probability is in single values."""
        raise ValueError("a tabulated law has no density")

    def scaled(self, factor: float) -> Tabulated:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return Tabulated(tuple(factor * value for value in self.values))

    def shifted(self, offset: float) -> Tabulated:
        """Law of the quantity plus `offset`."""
        return Tabulated(tuple(value + offset for value in self.values))
