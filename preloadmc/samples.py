"""The samples of one case as records: counts of misses, moments, and the first ones whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preloadmc.estimates.moments import RunningMoments
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.limits import Limit
from preloadmc.units import Array

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Kept:
    """The first samples, kept whole.

    ``z`` (n, d) standard normal numbers; ``path`` preload [N] (n,) by stage of life and
    "residual"; ``margins`` (n, m) in their own units and ``shares`` (n, m) of what is allowed;
    ``under`` and ``over`` flags (n,), and ``accepted`` where the tool checks each fastener.
    """

    z: Array
    path: dict[str, Array]
    margins: Array
    shares: Array
    under: Flags
    over: Flags
    accepted: Flags | None


@dataclass(frozen=True, slots=True)
class Accepted:
    """The samples that the check at the tool accepts: how many, and ``misses`` of `OUTCOMES`."""

    n: int
    misses: dict[str, int]


@dataclass(frozen=True, slots=True)
class Samples:
    """What plain sampling of one case gave.

    ``misses`` counts the three outcomes and every limit over all its states by name,
    ``margin_misses`` each margin of ``limits`` in its order; ``moments`` are of the preload [N] by
    stage and "residual"; ``stopped`` says why sampling ended. ``accepted`` is None where the tool
    checks nothing.
    """

    n: int
    columns: tuple[str, ...]
    misses: dict[str, int]
    limits: tuple[Limit, ...]
    margin_misses: tuple[int, ...]
    moments: dict[str, RunningMoments]
    kept: Kept
    stopped: str
    accepted: Accepted | None

    def probability(self, event: str, confidence: float = 0.95) -> Probability:
        """Return the probability of an outcome or of missing a limit, with its exact interval."""
        return from_counts(self.misses[event], self.n, confidence)
