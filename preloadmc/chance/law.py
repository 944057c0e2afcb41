"""What every law of a random quantity can do, and the law without scatter.

A law is a function of one standard normal number: the value x = `from_normal(z)` has the same
share of the law below it as z has of the normal law below it.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np
import scipy

from preloadmc.units import Array, FloatLike


def normal_share(z: FloatLike) -> FloatLike:
    """Return the share of the standard normal law at or below z, exact in the lower tail.

    A single number does without scipy.special, whose import takes longer than to read a case.
    """
    if isinstance(z, float):
        return 0.5 * math.erfc(-z * math.sqrt(0.5))
    share: FloatLike = scipy.special.ndtr(z)
    return share


def require(holds: bool, name: str, given: float, allowed: str) -> None:
    """Raise ValueError in plain words unless the parameter is finite and holds what is asked.

    Parameters
    ----------
    holds : bool
        What is asked of the parameter.
    name : str
        Its name in the message.
    given : float
        Its value, which must be finite besides.
    allowed : str
        What is allowed, in words that follow "it must be".

    Raises
    ------
    ValueError
        If the value is not finite or does not hold what is asked.
    """
    if not (math.isfinite(given) and holds):
        raise ValueError(f"{name} is {given:g}: it must be {allowed}")


class Law(ABC):
    """A probability distribution of one quantity, in the quantity's own unit."""

    __slots__ = ()

    kind: ClassVar[str]
    """The law's name in a case file."""

    is_smooth: ClassVar[bool] = True
    """False where `from_normal` is flat or has steps: no density, no design point."""

    is_quick: ClassVar[bool] = False
    """True where `from_normal` costs less than reading a table (`chance.sampling_table`)."""

    # A dataclass takes an inherited property for the default of a field of that name, so the
    # type checker alone sees these two; each law has them as a field or as a property.
    if TYPE_CHECKING:

        @property
        @abstractmethod
        def mean(self) -> float:
            """Mean of the quantity."""

        @property
        @abstractmethod
        def sd(self) -> float:
            """Standard deviation of the quantity."""

    @property
    @abstractmethod
    def support(self) -> tuple[float, float]:
        """Lowest and highest value, infinite where there is none."""

    @abstractmethod
    def from_normal(self, z: Array) -> Array:
        """Value of the quantity at each standard normal number, same shape as `z`.

        Finite at least up to |z| = 12 and, but for rounding, never decreasing. Above the median
        the share above is used, not one minus the share below, so that the upper tail is as exact
        as the lower one.
        """

    @abstractmethod
    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""

    @abstractmethod
    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`, exact where it is small."""

    @abstractmethod
    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`; a law that is not smooth has none and raises ValueError."""

    @abstractmethod
    def scaled(self, factor: float) -> Law:
        """Law of `factor` times the quantity, `factor` above zero."""

    @abstractmethod
    def shifted(self, offset: float) -> Law:
        """Law of the quantity plus `offset`."""

    def scaled_spread(self, factor: float) -> Law:
        """Same kind of law and same mean, with the standard deviation times `factor`."""
        require(factor >= 0.0, "factor", factor, "zero or above")
        if factor == 0.0:
            return Constant(self.mean)
        return self._with_spread(factor)

    def _with_spread(self, factor: float) -> Law:
        """Stretch about the mean; laws with a fixed lower end do otherwise."""
        return self.scaled(factor).shifted(self.mean * (1.0 - factor))

    def best_estimate(self) -> Law:
        """Return the law itself; of one known from tests only, the one fitted to them."""
        return self

    def quantile(self, p: float) -> float:
        """Return the value with the share `p`, from 0 to 1, of the law below it."""
        require(0.0 <= p <= 1.0, "p", p, "from 0 to 1")
        with np.errstate(divide="ignore"):  # an infinite end at share 0 or 1
            return float(self.from_normal(np.array([scipy.special.ndtri(p)]))[0])

    def to_normal(self, x: FloatLike) -> FloatLike:
        """Return the standard normal number that `from_normal` turns into `x`."""
        if not self.is_smooth:
            raise ValueError(f"a {self.kind} law goes in steps: many normal numbers give one value")
        below, above = self.cdf(x), self.sf(x)
        z: FloatLike = np.where(
            below < above, scipy.special.ndtri(below), -scipy.special.ndtri(above)
        )[()]
        return z


@dataclass(frozen=True, slots=True)
class Constant(Law):
    """A quantity without scatter."""

    value: float

    kind: ClassVar[str] = "constant"
    is_smooth: ClassVar[bool] = False

    def __post_init__(self) -> None:
        require(True, "value", self.value, "a finite number")

    @property
    def mean(self) -> float:
        """The value."""
        return self.value

    @property
    def sd(self) -> float:
        """Zero."""
        return 0.0

    @property
    def support(self) -> tuple[float, float]:
        """The value twice."""
        return self.value, self.value

    def from_normal(self, z: Array) -> Array:
        """Return the value, in the shape of `z`."""
        return np.full_like(z, self.value)

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`: 0 or 1."""
        return np.where(np.asarray(x) >= self.value, 1.0, 0.0)[()]

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`: 0 or 1."""
        return np.where(np.asarray(x) >= self.value, 0.0, 1.0)[()]

    def density(self, x: FloatLike) -> FloatLike:
        """Raise ValueError: all the probability is in one value."""
        raise ValueError("a constant has no density")

    def scaled(self, factor: float) -> Constant:
        """Return the constant times `factor`."""
        require(factor > 0.0, "factor", factor, "above zero")
        return Constant(self.value * factor)

    def shifted(self, offset: float) -> Constant:
        """Return the constant plus `offset`."""
        return Constant(self.value + offset)
