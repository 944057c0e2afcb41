"""What tests tell of a normal law, of one lot or of several.

Mean and s.d. are drawn as the classical pivots say (chi-square and normal), so that limits are
exact for repeated test campaigns (G. Casella, R. L. Berger, *Statistical Inference*, 2nd ed.,
section 9.2).
"""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar

import numpy as np
import scipy
from numpy.random import Generator

from preloadmc.chance.knowledge import Knowledge, check_tests
from preloadmc.chance.law import require
from preloadmc.chance.variance_components import variance_components
from preloadmc.units import Array

# An error of that size would hide a scatter as small as was seen once in ten thousand test series.
_SELDOM = 1e-4

# Normal numbers of a parameter over which predictions are integrated: beyond is 1e-17.
_REACH = 8.5
# Points of an integral over one parameter, and over each of two. The trapezoidal rule on a smooth
# function that vanishes at both ends converges faster than any power of their number.
_ONE, _TWO = 257, 65


class _NormalLaw(Knowledge):
    """A normal law whose mean is known with a normal error, given the scales."""

    __slots__ = ()

    def standard(self, z: Array) -> Array:
        """Return z itself."""
        return z

    def normal(self, w: Array) -> Array:
        """Return w itself."""
        return w

    @abstractmethod
    def mixture(self) -> tuple[float, Array, Array]:
        """Return the mean, and weights (k,) and s.d. (k,) of the normal laws of the next value."""

    def shares(self, x: Array) -> tuple[Array, Array]:
        """Return the probability that the next value is below, and above, each x."""
        mean, weights, sd = self.mixture()
        u = (np.asarray(x, dtype=float)[..., None] - mean) / sd
        return scipy.special.ndtr(u) @ weights, scipy.special.ndtr(-u) @ weights

    def density(self, x: Array) -> Array:
        """Return the probability density of the next value at each x."""
        mean, weights, sd = self.mixture()
        u = (np.asarray(x, dtype=float)[..., None] - mean) / sd
        density: Array = np.exp(-0.5 * u * u) @ (weights / (sd * math.sqrt(2.0 * math.pi)))
        return density


@dataclass(frozen=True, slots=True)
class NormalTests(_NormalLaw):
    """Mean and s.d. (divisor n - 1) of independent tests of a normal law.

    ``measuring`` is the s.d. of a known measuring error in each test, which the scatter seen holds:
    variance is then left for the law itself only where the scatter of all is larger.
    """

    mean: float
    sd: float
    tests: int
    measuring: float = 0.0

    def __post_init__(self) -> None:
        require(True, "mean", self.mean, "a finite number")
        require(
            self.sd > 0.0, "sd", self.sd, "above zero: tests that are all equal tell no scatter"
        )
        check_tests(self.tests)
        require(self.measuring >= 0.0, "measuring sd", self.measuring, "zero or above")
        _check_measuring(self._most)

    @property
    def _freedom(self) -> int:
        return self.tests - 1

    @property
    def _most(self) -> float:
        """Probability that the scatter of all is more than that of measuring alone."""
        return _more_than_measuring(self.sd, self.measuring, self._freedom)

    def parameters(self, e: Array) -> tuple[Array, Array]:
        """Return mean and s.d. of the law at normal numbers e (n, 2): of its mean, its scatter."""
        of_all = _sd_drawn(self.sd, self._freedom, e[:, 1], self._most)
        location = self.mean + e[:, 0] * of_all / math.sqrt(self.tests)
        return location, _without(of_all, self.measuring)

    def mixture(self) -> tuple[float, Array, Array]:
        """Return the mean, and weights and s.d. of the normal laws of the next value."""
        points, weights = _points(_ONE)
        of_all = _sd_drawn(self.sd, self._freedom, points, self._most)
        own = _without(of_all, self.measuring)
        return self.mean, weights, np.hypot(own, of_all / math.sqrt(self.tests))

    def shares(self, x: Array) -> tuple[Array, Array]:
        """Return the probability that the next value is below, and above, each x.

        Without a measuring error that is Student's law with n - 1 degrees of freedom and the scale
        ``s sqrt(1 + 1/n)``.

        Examples
        --------
        >>> print("%.6f" % NormalTests(0.0, 1.0, 5).shares(np.array([-2.0]))[0][0])
        0.070964
        """
        if self.measuring > 0.0:
            return super(NormalTests, self).shares(x)
        t = (np.asarray(x, dtype=float) - self.mean) / self._student_scale
        return scipy.special.stdtr(self._freedom, t), scipy.special.stdtr(self._freedom, -t)

    def density(self, x: Array) -> Array:
        """Return the probability density of the next value at each x."""
        if self.measuring > 0.0:
            return super(NormalTests, self).density(x)
        n, scale = self._freedom, self._student_scale
        t = (np.asarray(x, dtype=float) - self.mean) / scale
        height = math.exp(math.lgamma(0.5 * (n + 1)) - math.lgamma(0.5 * n))
        density: Array = (
            height / (math.sqrt(n * math.pi) * scale) * (1.0 + t * t / n) ** (-0.5 * (n + 1))
        )
        return density

    @property
    def _student_scale(self) -> float:
        return self.sd * math.sqrt(1.0 + 1.0 / self.tests)

    def unit(self) -> tuple[float, float]:
        """Return mean and s.d."""
        return self.mean, self.sd

    @property
    def common_share(self) -> float:
        """Share of the variance of the next values that all have in common: 1/(n + 1)."""
        return 1.0 / (self.tests + 1.0)

    def moved(self, factor: float, offset: float) -> NormalTests:
        """Return what is known of ``factor`` times the quantity plus ``offset``."""
        return NormalTests(
            self.mean * factor + offset, self.sd * factor, self.tests, self.measuring * factor
        )

    def spread(self, factor: float) -> NormalTests:
        """Return what the same number of tests would tell of a scatter ``factor`` times as wide."""
        return NormalTests(self.mean, self.sd * factor, self.tests, self.measuring * factor)

    def with_tests(self, tests: int) -> NormalTests:
        """Return what so many tests would tell that agree with those made."""
        return NormalTests(self.mean, self.sd, tests, self.measuring)

    def to_come(
        self, more: Sequence[int], outcomes: int, rng: Generator
    ) -> dict[int, Sequence[Knowledge]]:
        """Return outcomes of further tests, by their number, drawn from what is known."""
        at, scale = self.parameters(rng.standard_normal((outcomes, 2)))
        seen = np.hypot(scale, self.measuring)
        # The same tests go on, so that numbers of them differ by what they add.
        drawn = at[:, None] + seen[:, None] * rng.standard_normal((outcomes, max(more)))
        found: dict[int, Sequence[Knowledge]] = {}
        for count in more:
            new = drawn[:, :count]
            n, together = self.tests, self.tests + count
            means = new.mean(axis=1)
            squares = (n - 1) * self.sd**2 + new.var(axis=1) * count
            squares += n * count / together * (means - self.mean) ** 2
            found[count] = [
                NormalTests(
                    float((n * self.mean + count * mean) / together),
                    math.sqrt(float(square) / (together - 1)),
                    together,
                    self.measuring,
                )
                for mean, square in zip(means, squares, strict=True)
            ]
        return found


@dataclass(frozen=True, slots=True)
class LotTests(_NormalLaw):
    """Tests of several lots: normal within each, with normal means from lot to lot.

    ``mean`` is that of the lot means, ``mean_sd`` their s.d. (divisor ``lots - 1``); ``within_sd``
    the s.d. within lots, with ``tests - lots`` degrees of freedom; ``size`` the harmonic mean of
    the tests in a lot. The variance of lot means with these sizes follows a chi-square law nearly,
    and exactly where the lots are equally large (J. D. Thomas, R. A. Hultquist, Annals of
    Statistics 6 (1978) 582-587); what is between lots is what it leaves above the mean of those
    within, and zero where that is less.
    """

    mean: float
    mean_sd: float
    within_sd: float
    lots: int
    tests: int
    size: float
    measuring: float = 0.0

    columns: ClassVar[int] = 3

    def __post_init__(self) -> None:
        require(True, "mean", self.mean, "a finite number")
        require(self.mean_sd > 0.0, "sd of lot means", self.mean_sd, "above zero")
        require(self.within_sd > 0.0, "sd within lots", self.within_sd, "above zero")
        require(self.lots >= 2, "lots", self.lots, "two or more")
        require(self.tests > self.lots, "tests", self.tests, "more than the lots")
        require(self.measuring >= 0.0, "measuring sd", self.measuring, "zero or above")
        _check_measuring(self._most)

    @classmethod
    def of(cls, values: Sequence[float], lots: Sequence[str], measuring: float = 0.0) -> LotTests:
        """Return what tests tell whose lots are named beside them.

        Raises
        ------
        ValueError
            As `variance_components`, and where all lot means are equal.
        """
        table = variance_components(np.asarray(values, dtype=float), lots)
        return cls(
            table.mean,
            float(np.std(table.means, ddof=1)),
            table.sd_within,
            len(table.lots),
            len(values),
            table.harmonic_size,
            measuring,
        )

    @property
    def _freedom(self) -> int:
        return self.tests - self.lots

    @property
    def _most(self) -> float:
        return _more_than_measuring(self.within_sd, self.measuring, self._freedom)

    def _drawn(self, of_lots: Array, of_tests: Array) -> tuple[Array, Array, Array]:
        """Return the s.d. of lot means, between lots and within them at two normal numbers."""
        means = _sd_drawn(self.mean_sd, self.lots - 1, of_lots, 1.0)
        seen = _sd_drawn(self.within_sd, self._freedom, of_tests, self._most)
        between = np.sqrt(np.maximum(means**2 - seen**2 / self.size, 0.0))
        return means, between, _without(seen, self.measuring)

    def parameters(self, e: Array) -> tuple[Array, Array]:
        """Return mean and s.d. over all lots at e (n, 3): of the mean, between lots, within."""
        means, between, within = self._drawn(e[:, 1], e[:, 2])
        location = self.mean + e[:, 0] * means / math.sqrt(self.lots)
        return location, np.hypot(between, within)

    def fractions(self, e: Array) -> Array:
        """Return the share of the variance that is between lots at e (n, 3)."""
        _, between, within = self._drawn(e[:, 1], e[:, 2])
        return between**2 / (between**2 + within**2)

    @property
    def likely_fraction(self) -> float:
        """Share of the variance that is between lots, as estimated."""
        between, within = self.likely
        # A measuring error as large as the scatter seen leaves neither.
        whole = between**2 + within**2
        return between**2 / whole if whole else 0.0

    def after_more(self, lots: int, rng: Generator) -> LotTests:
        """Return what would be known after further lots of the same size, drawn from what is."""
        e = rng.standard_normal((1, 3))
        means, between, within = (float(each[0]) for each in self._drawn(e[:, 1], e[:, 2]))
        at = self.mean + float(e[0, 0]) * means / math.sqrt(self.lots)
        seen = math.hypot(within, self.measuring)
        new = at + math.hypot(between, seen / math.sqrt(self.size)) * rng.standard_normal(lots)
        together, more = self.lots + lots, round(lots * self.size)
        mean = (self.lots * self.mean + float(new.sum())) / together
        squares = (self.lots - 1) * self.mean_sd**2 + self.lots * (self.mean - mean) ** 2
        squares += float(np.sum((new - mean) ** 2))
        freedom = more - lots
        within_squares = self._freedom * self.within_sd**2
        if freedom > 0:
            within_squares += seen**2 * float(rng.chisquare(freedom))
        return LotTests(
            mean,
            math.sqrt(squares / (together - 1)),
            math.sqrt(within_squares / (self._freedom + max(freedom, 0))),
            together,
            self.tests + more,
            self.size,
            self.measuring,
        )

    @property
    def likely(self) -> tuple[float, float]:
        """Return the s.d. between lots and within them as estimated; the former may be zero."""
        between = max(self.mean_sd**2 - self.within_sd**2 / self.size, 0.0)
        within = self.within_sd**2 - self.measuring**2
        return math.sqrt(between), math.sqrt(max(within, 0.0))

    def mixture(self) -> tuple[float, Array, Array]:
        """Return the mean, and weights and s.d. of the normal laws of the next value."""
        points, weights = _points(_TWO)
        of_lots, of_tests = (each.ravel() for each in np.meshgrid(points, points, indexing="ij"))
        means, between, within = self._drawn(of_lots, of_tests)
        sd = np.sqrt(between**2 + within**2 + means**2 / self.lots)
        both = np.outer(weights, weights).ravel()
        told = both > 1e-22  # the rest is less than any probability that is asked for
        return self.mean, both[told], sd[told]

    def unit(self) -> tuple[float, float]:
        """Return the mean, and the s.d. over all lots as seen."""
        return self.mean, math.hypot(self.mean_sd, self.within_sd)

    @property
    def common_share(self) -> float:
        """Share of the variance of the next values that all have in common: the mean's."""
        of_mean = self.mean_sd**2 / self.lots
        between, within = self.likely
        return of_mean / (of_mean + between**2 + within**2)

    def moved(self, factor: float, offset: float) -> LotTests:
        """Return what is known of ``factor`` times the quantity plus ``offset``."""
        return self._stretched(self.mean * factor + offset, factor)

    def spread(self, factor: float) -> LotTests:
        """Return what the same tests would tell of a scatter ``factor`` times as wide."""
        return self._stretched(self.mean, factor)

    def _stretched(self, mean: float, factor: float) -> LotTests:
        return LotTests(
            mean,
            self.mean_sd * factor,
            self.within_sd * factor,
            self.lots,
            self.tests,
            self.size,
            self.measuring * factor,
        )

    def with_tests(self, tests: int) -> LotTests:
        """Return what so many tests would tell: further lots of the same size."""
        lots = max(round(self.lots * tests / self.tests), self.lots)
        return LotTests(
            self.mean, self.mean_sd, self.within_sd, lots, tests, self.size, self.measuring
        )

    def to_come(
        self, more: Sequence[int], outcomes: int, rng: Generator
    ) -> dict[int, Sequence[Knowledge]]:
        """Return outcomes of about so many further tests in further lots of the same size."""
        lots = {count: max(round(count / self.size), 1) for count in more}
        return {
            count: [self.after_more(new, rng) for _ in range(outcomes)]
            for count, new in lots.items()
        }


def _check_measuring(more: float) -> None:
    if more < _SELDOM:
        raise ValueError(
            "the scatter seen is far smaller than the measuring error stated: one of them is wrong"
        )


def _more_than_measuring(seen: float, measuring: float, freedom: int) -> float:
    """Return the probability that the true scatter of all is more than the measuring error."""
    if measuring == 0.0:
        return 1.0
    return float(scipy.special.gammainc(0.5 * freedom, 0.5 * freedom * (seen / measuring) ** 2))


def _sd_drawn(seen: float, freedom: int, e: Array, most: float) -> Array:
    """Return s.d. ``seen sqrt(freedom/q)``, q the chi-square value of e among the lowest ``most``.

    That is the reference law of an s.d. seen with so many degrees of freedom; what is left of it
    where q may not be larger.
    """
    if most == 1.0:
        low, high = scipy.special.ndtr(e), scipy.special.ndtr(-e)
        q = np.where(
            low < high,
            scipy.special.gammaincinv(0.5 * freedom, low),
            scipy.special.gammainccinv(0.5 * freedom, high),
        )
    else:
        q = scipy.special.gammaincinv(0.5 * freedom, most * scipy.special.ndtr(e))
    with np.errstate(divide="ignore"):
        sd: Array = seen * np.sqrt(0.5 * freedom / q)
    return sd


def _without(of_all: Array, measuring: float) -> Array:
    """Return the s.d. that is left when the variance of measuring is taken out."""
    if measuring == 0.0:
        return of_all
    left = np.maximum(of_all**2 - measuring**2, (1e-6 * measuring) ** 2)
    sd: Array = np.sqrt(left)
    return sd


@lru_cache(maxsize=4)
def _points(count: int) -> tuple[Array, Array]:
    """Return even normal numbers and the weights that integrate over the normal law."""
    points = np.linspace(-_REACH, _REACH, count)
    weights = np.exp(-0.5 * points**2)
    return points, weights / weights.sum()
