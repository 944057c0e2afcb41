"""A law that is known from a number of tests: of the next value, and given its parameters.

As a law it is that of the next value, with what is not known averaged in: Student's law for a
normal one (S. Geisser, *Predictive Inference*, Chapman & Hall 1993, chapter 2). `Tested.given`
makes values for stated parameters, from which the band of a probability follows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import ClassVar

import numpy as np
import scipy

from preloadmc.chance.extreme_knowledge import ExtremeTests
from preloadmc.chance.extreme_laws import Gumbel, Weibull
from preloadmc.chance.knowledge import Knowledge
from preloadmc.chance.law import Law, require
from preloadmc.chance.normal_knowledge import LotTests, NormalTests
from preloadmc.chance.normal_laws import LogNormal, Normal
from preloadmc.units import Array, FloatLike

# A logarithm farther off than this many units of its own is no value that a joint has: few tests
# leave some probability there, of which nothing but "far off" is known.
_FARTHEST_LOG = 60.0
# Normal numbers that the table reaches: laws are finite to 12.
_REACH = 12.5
# Points of the table, even in asinh of the value: its spline then meets it to 1e-8 of the s.d.
_POINTS = 2049


@dataclass(frozen=True, slots=True)
class Tested(Law):
    """A quantity, or its logarithm, that was tested: as a law, that of the next value.

    ``fitted`` is the best estimate of the law, whose mean and s.d. this law shows;
    ``knowledge`` is about the quantity, or about its logarithm where ``is_log``. ``source`` says
    in words where the tests are from; ``price`` what one more of them costs, if that is stated.
    """

    __test__ = False  # no test case, whatever a test runner thinks of its name

    fitted: Law
    knowledge: Knowledge
    is_log: bool
    source: str = ""
    price: float | None = None

    kind: ClassVar[str] = "from tests"

    @classmethod
    def normal(cls, known: NormalTests | LotTests, source: str = "") -> Tested:
        """Return a normal law from what tests tell of it."""
        return cls(Normal(known.mean, _likely_sd(known)), known, False, source)

    @classmethod
    def lognormal(cls, known: NormalTests | LotTests, source: str = "") -> Tested:
        """Return a lognormal law from what the logarithms of tests tell."""
        fitted = LogNormal.of_logarithm(known.mean, _likely_sd(known))
        return cls(fitted, known, True, source)

    @classmethod
    def gumbel(cls, known: ExtremeTests, source: str = "") -> Tested:
        """Return a Gumbel law of largest values from its tests."""
        mode, scale = known.unit()
        sd = scale * np.pi / np.sqrt(6.0)
        return cls(Gumbel(mode + np.euler_gamma * scale, sd), known, False, source)

    @classmethod
    def weibull(cls, known: ExtremeTests, source: str = "") -> Tested:
        """Return a Weibull law from the logarithms of tests, a Gumbel law of smallest values."""
        mode, scale = known.unit()
        return cls(Weibull(1.0 / scale, float(np.exp(mode))), known, True, source)

    @property
    def tests(self) -> int:
        """Number of tests."""
        return self.knowledge.tests

    def best_estimate(self) -> Law:
        """Return the fitted law."""
        return self.fitted

    @property
    def mean(self) -> float:
        """Mean of the fitted law."""
        return self.fitted.mean

    @property
    def sd(self) -> float:
        """Standard deviation of the fitted law."""
        return self.fitted.sd

    @property
    def support(self) -> tuple[float, float]:
        """Lowest and highest value of the fitted law."""
        return self.fitted.support

    def given(self, z: Array, location: FloatLike, scale: FloatLike) -> Array:
        """Return values at normal numbers z (n,) where location and scale are known.

        Parameters
        ----------
        z : ndarray (n,)
            Standard normal numbers.
        location, scale : float or ndarray (n,)
            As `Knowledge.parameters` draws them, of the quantity or its logarithm.
        """
        return self._value(location + scale * self.knowledge.standard(z))

    def normal_given(self, x: Array, location: FloatLike, scale: FloatLike) -> Array:
        """Return the normal numbers that `given` turns into values x."""
        w = (np.log(x) if self.is_log else np.asarray(x)) - location
        return self.knowledge.normal(w / scale)

    def from_normal(self, z: Array) -> Array:
        """Return the next value at each standard normal number."""
        location, scale = self.knowledge.unit()
        reached = _next_values(self.knowledge)(np.clip(z, -_REACH, _REACH))
        with np.errstate(over="ignore"):
            return self._value(location + scale * np.sinh(reached))

    def _value(self, at: Array) -> Array:
        if not self.is_log:
            return at
        middle = self.knowledge.unit()[0]
        return np.exp(np.clip(at, middle - _FARTHEST_LOG, middle + _FARTHEST_LOG))

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability that the next value is at or below `x`."""
        return self._shares(x)[0]

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability that the next value is above `x`."""
        return self._shares(x)[1]

    def _shares(self, x: FloatLike) -> tuple[FloatLike, FloatLike]:
        below, above = self.knowledge.shares(self._at(x))
        if self.is_log:
            positive = np.asarray(x) > 0.0
            below, above = np.where(positive, below, 0.0), np.where(positive, above, 1.0)
        return below[()], above[()]

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density of the next value at `x`."""
        density = self.knowledge.density(self._at(x))
        if self.is_log:
            positive = np.asarray(x) > 0.0
            density = np.where(positive, density / np.where(positive, x, 1.0), 0.0)
        return density[()]

    def _at(self, x: FloatLike) -> Array:
        """Return the quantity, or its logarithm, as far as it has one."""
        values = np.asarray(x, dtype=float)
        return np.log(np.where(values > 0.0, values, 1.0)) if self.is_log else values

    def scaled(self, factor: float) -> Tested:
        """Law of `factor` times the quantity, known as well."""
        require(factor > 0.0, "factor", factor, "above zero")
        known = self.knowledge
        moved = known.moved(1.0, float(np.log(factor))) if self.is_log else known.moved(factor, 0.0)
        return replace(self, fitted=self.fitted.scaled(factor), knowledge=moved)

    def shifted(self, offset: float) -> Law:
        """Law of the quantity plus `offset`.

        It is known as well, but where the logarithm was tested: the fitted law is shifted there.
        """
        if self.is_log:
            return self if offset == 0.0 else self.fitted.shifted(offset)
        moved = self.knowledge.moved(1.0, offset)
        return replace(self, fitted=self.fitted.shifted(offset), knowledge=moved)

    def _with_spread(self, factor: float) -> Law:
        fitted = self.fitted.scaled_spread(factor)
        if self.is_log:
            # The mean is kept: a narrower lognormal law has another median.
            shift, width = _logarithm(fitted), _logarithm(self.fitted)
            known = self.knowledge.spread(shift[1] / width[1]).moved(1.0, shift[0] - width[0])
        else:
            known = self.knowledge.spread(factor)
            mean = fitted.mean - _fitted_mean(self, known)
            known = known.moved(1.0, mean)
        return replace(self, fitted=fitted, knowledge=known)

    def with_tests(self, tests: int) -> Tested:
        """Return the law as so many tests would leave it that agree with those made."""
        return replace(self, knowledge=self.knowledge.with_tests(tests))


def _likely_sd(known: NormalTests | LotTests) -> float:
    """Return the s.d. over all lots as estimated; no less than a hundredth of what was seen."""
    if isinstance(known, LotTests):
        between, within = known.likely
        seen, likely = known.unit()[1], float(np.hypot(between, within))
    else:
        seen = known.sd
        likely = float(np.sqrt(max(known.sd**2 - known.measuring**2, 0.0)))
    return max(likely, 0.01 * seen)


def _logarithm(law: Law) -> tuple[float, float]:
    """Return location and scale of the logarithm of a lognormal or Weibull law."""
    if isinstance(law, LogNormal):
        return law.log_mean, law.log_sd
    assert isinstance(law, Weibull), "no other law is tested by its logarithm"
    return float(np.log(law.scale)), 1.0 / law.shape


def _fitted_mean(law: Tested, known: Knowledge) -> float:
    """Return the mean of the law that is fitted to what is known."""
    location, scale = known.unit()
    if isinstance(law.fitted, Gumbel):
        return location + float(np.euler_gamma) * scale
    return location


@lru_cache(maxsize=64)
def _next_values(known: Knowledge) -> Callable[[Array], Array]:
    """Return asinh of the next value, in its unit, as a function of its normal number."""
    from scipy.interpolate import CubicSpline

    location, scale = known.unit()
    far = 8.0
    while True:
        at = np.linspace(-far, far, 65)
        below, above = known.shares(location + scale * np.sinh(at))
        if min(below[0], above[-1]) < 1e-36 or far > 60.0:
            break
        far *= 1.3
    at = np.linspace(-far, far, _POINTS)
    below, above = known.shares(location + scale * np.sinh(at))
    with np.errstate(divide="ignore"):
        z = np.where(below < above, scipy.special.ndtri(below), -scipy.special.ndtri(above))
    # Where rounding leaves no step there is no table.
    highest = np.maximum.accumulate(np.where(np.isfinite(z), z, -np.inf))
    kept = np.isfinite(z)
    kept[1:] &= highest[1:] > highest[:-1] + 1e-12
    spline: Callable[[Array], Array] = CubicSpline(z[kept], at[kept])
    return spline
