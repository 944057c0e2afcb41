"""Plain sampling: counts of misses, and a first look that plans what comes after."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.margins import BLOCK, CountedMargins
from preloadmc.estimates.probability import Probability, clopper_pearson, from_counts
from preloadmc.units import Array

ENOUGH = 10
"""Misses that tell the order of a probability."""

# Confidence at which a look judges another estimate: 95 % would raise a false alarm too often.
_WIDE = 0.998


@dataclass(frozen=True, slots=True, eq=False)
class FirstLook:
    """Misses among a few plain samples; `seen` are those of which z is known, shape (k, d)."""

    misses: int
    samples: int
    seen: Array | None = None

    @property
    def known(self) -> int:
        """Number of misses of which z is known."""
        return 0 if self.seen is None else len(self.seen)

    def wanted(self, precision: float, confidence: float) -> float:
        """Plain samples that reach a relative half-width, as far as this look can tell."""
        if self.misses < ENOUGH:
            return math.inf
        quantile = float(ndtri(0.5 + confidence / 2.0))
        return 1.1 * (quantile / precision) ** 2 * self.samples / self.misses

    def contradicts(self, other: Probability) -> bool:
        """Whether the exact interval of this look lies apart from another estimate's."""
        if self.samples == 0:
            return False
        low, high = clopper_pearson(self.misses, self.samples, _WIDE)
        return other.high < low or other.low > high

    def words(self) -> str:
        """What it says against another estimate."""
        return f"plain sampling disagrees: {self.misses} misses in {self.samples} samples"


def first_look(
    counted: CountedMargins, d: int, *, budget: int, rng: np.random.Generator
) -> FirstLook:
    """Look at a sixty-fourth of the budget and, where that sees little, at a third.

    A way to a miss that nothing around it gives away is found by chance alone: one of 15 in a
    million is not among a third of a million samples in one case of 150.
    """
    seen, samples = np.empty((0, d)), 0
    for wanted in (budget // 64, budget // 3):
        seen = np.concatenate([seen, _misses(counted, d, wanted - samples, rng).z])
        samples = wanted
        if len(seen) >= ENOUGH:
            break
    return FirstLook(len(seen), samples, seen)


def look(counted: CountedMargins, d: int, samples: int, *, rng: np.random.Generator) -> FirstLook:
    """Look at so many samples."""
    seen = _misses(counted, d, samples, rng).z
    return FirstLook(len(seen), samples, seen)


def plain_probability(
    counted: CountedMargins,
    d: int,
    *,
    samples: int,
    confidence: float,
    rng: np.random.Generator,
) -> tuple[Probability, FailureSample]:
    """Count misses in a number of samples fixed beforehand, so that the interval is exact."""
    missed = _misses(counted, d, samples, rng)
    calls = counted.calls
    return from_counts(len(missed.z), samples, confidence, model_calls=calls), missed


def _misses(
    counted: CountedMargins, d: int, samples: int, rng: np.random.Generator
) -> FailureSample:
    parts = []
    for start in range(0, samples, BLOCK):
        z = rng.standard_normal((min(BLOCK, samples - start), d))
        parts.append(z[counted.worst(z) < 0.0])
    missed = np.concatenate(parts)
    return FailureSample.of(missed, np.ones(len(missed)))
