"""What tests tell of a Gumbel law, and by their logarithms of a Weibull law.

Location and scale are drawn from the posterior of the right-invariant prior, which is exact for
repeated test campaigns (J. F. Lawless, *Statistical Models and Methods for Lifetime Data*, 2nd ed.,
Wiley 2003, appendix E).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy

from preloadmc.chance.fitting import located
from preloadmc.chance.knowledge import Knowledge, check_tests
from preloadmc.chance.law import require
from preloadmc.units import Array

# Largest exponent of a hazard.
_FAR = 700.0
# Tests that are summed over at once: few megabytes on a grid of scales.
_BLOCK = 256


@dataclass(frozen=True, slots=True)
class ExtremeTests(Knowledge):
    """Tests of a Gumbel law: of largest values, or of smallest ones where ``smallest``.

    With ``b`` the scale and ``a`` the mode, ``exp(a/b)`` given b follows a gamma law, and b the
    density ``b^-n exp(-sum(x)/b) S(b)^-n`` with ``S(b) = sum exp(-x/b)`` (the prior is 1/b): both
    are drawn exactly, given the very values that were measured.
    """

    values: tuple[float, ...]
    smallest: bool = False

    def __post_init__(self) -> None:
        for value in self.values:
            require(True, "values", value, "all finite numbers")
        check_tests(len(self.values))
        if min(self.values) == max(self.values):
            raise ValueError("all tests are equal: they tell no scatter")

    @property
    def tests(self) -> int:
        """Number of tests."""
        return len(self.values)

    @property
    def _sign(self) -> float:
        return -1.0 if self.smallest else 1.0

    def unit(self) -> tuple[float, float]:
        """Return mode and scale by maximum likelihood."""
        mode, scale = _likeliest(self.values, self._sign)
        return mode, scale

    @property
    def common_share(self) -> float:
        """Share of the variance of the next values that all have in common: about 1/(n + 1)."""
        return 1.0 / (self.tests + 1.0)

    def parameters(self, e: Array) -> tuple[Array, Array]:
        """Return mode and scale at normal numbers e (n, 2): of the mode given the scale, of it."""
        logs, below, above = _scales(self.values, self._sign)
        known = np.where(below < above, scipy.special.ndtri(below), -scipy.special.ndtri(above))
        # Beyond the table the logarithm goes on straight.
        scale = np.exp(_straight_on(e[:, 1], known, logs))
        n = self.tests
        low, high = scipy.special.ndtr(e[:, 0]), scipy.special.ndtr(-e[:, 0])
        gamma = np.where(
            low < high, scipy.special.gammaincinv(n, low), scipy.special.gammainccinv(n, high)
        )
        highest = self._sign * np.asarray(self.values)
        least = float(highest.min())
        sums = np.zeros(len(e))
        for value in highest:
            sums += np.exp(-(value - least) / scale)
        mode = least + scale * (np.log(gamma) - np.log(sums))
        return self._sign * mode, scale

    def standard(self, z: Array) -> Array:
        """Return the value of the standard law at each standard normal number."""
        return -self._sign * np.log(-scipy.special.log_ndtr(self._sign * z))

    def normal(self, w: Array) -> Array:
        """Return the standard normal number of each value of the standard law."""
        # So far out that no number is beyond, and none is infinite.
        hazard = np.exp(np.clip(-self._sign * np.asarray(w, dtype=float), -_FAR, _FAR))
        below, above = np.exp(-hazard), -np.expm1(-hazard)
        u: Array = np.where(
            below < above, scipy.special.ndtri_exp(-hazard), -scipy.special.ndtri(above)
        )
        return self._sign * u

    def shares(self, x: Array) -> tuple[Array, Array]:
        """Return the probability that the next value is below, and above, each x."""
        _, weights, log_ratio = self._ratios(x)
        # Given b, the next value is at most x with (S/(S + exp(-x/b)))^n.
        log_below = -self.tests * np.log1p(np.exp(np.minimum(log_ratio, 700.0)))
        low, high = np.exp(log_below) @ weights, -np.expm1(log_below) @ weights
        return (high, low) if self.smallest else (low, high)

    def density(self, x: Array) -> Array:
        """Return the probability density of the next value at each x."""
        scale, weights, log_ratio = self._ratios(x)
        ratio = np.exp(np.minimum(log_ratio, 700.0))
        n = self.tests
        at = n / scale * ratio / (1.0 + ratio) * np.exp(-n * np.log1p(ratio))
        density: Array = at @ weights
        return density

    def _ratios(self, x: Array) -> tuple[Array, Array, Array]:
        """Return scales (k,), their weights, and ln(exp(-x/b)/S(b)) at each x (n, k)."""
        logs, density = _density_of_scale(self.values, self._sign)
        scale, weights = np.exp(logs), density / density.sum()
        values = self._sign * np.asarray(self.values)
        least = float(values.min())
        log_sum = np.log(np.exp(-(values[:, None] - least) / scale).sum(axis=0))
        far = self._sign * np.asarray(x, dtype=float)[..., None] - least
        return scale, weights, -far / scale - log_sum

    def moved(self, factor: float, offset: float) -> ExtremeTests:
        """Return what is known of ``factor`` times the quantity plus ``offset``."""
        return ExtremeTests(tuple(v * factor + offset for v in self.values), self.smallest)

    def spread(self, factor: float) -> ExtremeTests:
        """Return what the same tests would tell of a scatter ``factor`` times as wide."""
        mode, _ = self.unit()
        return ExtremeTests(tuple(mode + factor * (v - mode) for v in self.values), self.smallest)

    def with_tests(self, tests: int) -> ExtremeTests:
        """Return what so many tests would tell that lie as evenly as can be."""
        return ExtremeTests.ideal(*self.unit(), tests, self.smallest)

    @classmethod
    def ideal(cls, mode: float, scale: float, tests: int, smallest: bool) -> ExtremeTests:
        """Return tests that lie as evenly as can be and have this mode and scale.

        They stand in where a summary is all that is known: limits are then nearly those of any
        sample with that summary.
        """
        sign = -1.0 if smallest else 1.0
        even = (np.arange(tests) + 0.5) / tests
        values = -np.log(-np.log(even)) * sign
        at, width = _likeliest(tuple(values.tolist()), sign)
        moved = mode + (values - at) * (scale / width)
        return cls(tuple(moved.tolist()), smallest)


def _log_posterior(values: Array, logs: Array) -> Array:
    """Return the log density of log b, but for a constant, on a grid of log b."""
    n = len(values)
    above = values - float(values.min())
    scale = np.exp(logs)
    sums = np.zeros(len(logs))
    for first in range(0, n, _BLOCK):
        sums += np.exp(-above[first : first + _BLOCK, None] / scale).sum(axis=0)
    density: Array = -(n - 1) * logs - above.sum() / scale - n * np.log(sums)
    return density


@lru_cache(maxsize=64)
def _density_of_scale(values: tuple[float, ...], sign: float) -> tuple[Array, Array]:
    """Return an even grid of log b and the density there, over its largest value."""
    _, likely = _likeliest(values, sign)
    signed = sign * np.asarray(values)
    n = len(values)
    # The tail of large scales falls with b^-(n-1); that of small ones faster. With many tests the
    # s.d. of log b is 0.8/sqrt(n), far more than that tail tells.
    reach = math.log(1e18) / (n - 1) + 8.0 / math.sqrt(n)
    logs = math.log(likely) + np.linspace(-min(reach, 6.0), reach, 4001)
    density = _log_posterior(signed, logs)
    density = np.exp(density - density.max())
    inside = density > 1e-20
    first, last = int(np.argmax(inside)), len(inside) - int(np.argmax(inside[::-1]))
    logs = np.linspace(logs[first], logs[last - 1], 801)
    density = _log_posterior(signed, logs)
    return logs, np.exp(density - density.max())


@lru_cache(maxsize=64)
def _scales(values: tuple[float, ...], sign: float) -> tuple[Array, Array, Array]:
    """Return a grid of log b with the probabilities below and above each."""
    logs, density = _density_of_scale(values, sign)
    pieces = 0.5 * (density[1:] + density[:-1])
    total = pieces.sum()
    below = np.concatenate([[0.0], np.cumsum(pieces)]) / total
    above = np.concatenate([np.cumsum(pieces[::-1])[::-1], [0.0]]) / total
    inner = slice(1, -1)
    return logs[inner], below[inner], above[inner]


@lru_cache(maxsize=64)
def _likeliest(values: tuple[float, ...], sign: float) -> tuple[float, float]:
    """Return mode and scale by maximum likelihood."""
    location, scale = located("weibull", -sign * np.asarray(values)[np.newaxis])
    return -sign * float(location[0]), float(scale[0])


def _straight_on(at: Array, points: Array, values: Array) -> Array:
    """Interpolate, and go on straight beyond the ends."""
    inside = np.interp(at, points, values)
    first = (values[1] - values[0]) / (points[1] - points[0])
    last = (values[-1] - values[-2]) / (points[-1] - points[-2])
    inside = np.where(at < points[0], values[0] + first * (at - points[0]), inside)
    return np.where(at > points[-1], values[-1] + last * (at - points[-1]), inside)
