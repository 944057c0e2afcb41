"""Misses as a weighted sample: what the inputs look like, given a miss."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.units import Array


@dataclass(frozen=True, slots=True, eq=False)
class FailureSample:
    """Misses `z`, shape (k, d), and `weights`, shape (k,), that sum to one (k > 0)."""

    z: Array
    weights: Array

    @classmethod
    def of(cls, z: Array, weights: Array) -> FailureSample:
        """From misses and their unnormalised weights."""
        return cls(z, weights / weights.sum() if len(weights) else weights)

    @property
    def effective_size(self) -> float:
        """Number of equally weighted misses worth as much: (sum w)^2 / sum w^2."""
        return float(1.0 / np.sum(self.weights**2)) if len(self.weights) else 0.0

    @property
    def largest_share(self) -> float:
        """Share of the heaviest miss; one where there is none."""
        return float(self.weights.max()) if len(self.weights) else 1.0
