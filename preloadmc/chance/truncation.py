"""A quantity that cannot be zero or less: which laws may describe it, and the part of them kept."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from scipy.special import ndtr, ndtri

from preloadmc.chance.law import Law, require
from preloadmc.chance.normal_laws import Normal, TruncatedNormal
from preloadmc.units import Array, FloatLike

LARGEST_SHARE_CUT = 1e-9
"""A law with more than this at or below zero does not describe a positive quantity."""

_REACH = -12.0
"""No estimate looks further out than this normal number."""


def above_zero(law: Law) -> Law:
    """Return the law given that the quantity is above zero.

    That is the law itself where it has no values at or below zero, or has them only beyond twelve
    standard deviations. A law with more than 1e-9 at or below zero raises ValueError.
    """
    share = float(law.cdf(0.0))
    if share > LARGEST_SHARE_CUT:
        raise ValueError(
            f"{share:.2g} of the {law.kind} law lies at or below zero: for a quantity that must be "
            f"above zero at most {LARGEST_SHARE_CUT:g} may"
        )
    if law.support[0] >= 0.0 or law.from_normal(np.array([_REACH]))[0] > 0.0:
        return law
    if isinstance(law, Normal):
        return TruncatedNormal(law.mean, law.sd, 0.0, math.inf)
    if isinstance(law, TruncatedNormal):
        return TruncatedNormal(law.parent_mean, law.parent_sd, 0.0, law.high)
    return AboveZero(law)


@dataclass(frozen=True, slots=True)
class AboveZero(Law):
    """Part of a smooth law above zero, of which less than 1e-9 is missing.

    Mean and s.d. are those of the whole law: the part cut off is too small to move them.
    """

    whole: Law

    kind: ClassVar[str] = "truncated at zero"

    @property
    def _cut(self) -> float:
        return float(self.whole.cdf(0.0))

    @property
    def mean(self) -> float:
        """Mean of the whole law."""
        return self.whole.mean

    @property
    def sd(self) -> float:
        """Standard deviation of the whole law."""
        return self.whole.sd

    @property
    def support(self) -> tuple[float, float]:
        """From zero to the highest value of the whole law."""
        return 0.0, self.whole.support[1]

    def from_normal(self, z: Array) -> Array:
        """Return the whole law's value with the share cut off added below."""
        kept = 1.0 - self._cut
        share = kept * ndtr(-np.abs(z))
        moved = np.where(z > 0.0, -ndtri(share), ndtri(self._cut + share))
        return np.maximum(self.whole.from_normal(moved), np.finfo(np.float64).tiny)

    def cdf(self, x: FloatLike) -> FloatLike:
        """Probability of a value at or below `x`."""
        p: FloatLike = np.maximum(self.whole.cdf(x) - self._cut, 0.0) / (1.0 - self._cut)
        return p

    def sf(self, x: FloatLike) -> FloatLike:
        """Probability of a value above `x`."""
        p: FloatLike = np.minimum(self.whole.sf(x) / (1.0 - self._cut), 1.0)
        return p

    def density(self, x: FloatLike) -> FloatLike:
        """Probability density at `x`, zero at and below zero."""
        kept = self.whole.density(x) / (1.0 - self._cut)
        return np.where(np.asarray(x) > 0.0, kept, 0.0)[()]

    def scaled(self, factor: float) -> AboveZero:
        """Law of `factor` times the quantity."""
        require(factor > 0.0, "factor", factor, "above zero")
        return AboveZero(self.whole.scaled(factor))

    def shifted(self, offset: float) -> Law:
        """Raise ValueError: shifted, the part kept would no longer begin at zero."""
        raise ValueError("a law truncated at zero cannot be shifted: shift the whole law first")

    def _with_spread(self, factor: float) -> Law:
        return above_zero(self.whole.scaled_spread(factor))

    def describe_parameters(self) -> dict[str, float]:
        """Return the parameters of the whole law."""
        return self.whole.describe_parameters()
