"""The limits of probabilities for want of tests, along the settings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, ndtri

from preloadmc.case import Case
from preloadmc.estimates.outside_shares import LEAST_SHARE, ShareCurve
from preloadmc.judgement.bands import Bands
from preloadmc.questions.aim.setting import case_at
from preloadmc.units import Array

# Settings at which bands are made: between them the distance of a miss hardly bends.
_SETTINGS = 9


@dataclass(frozen=True, slots=True, eq=False)
class KnownLimits:
    """Ends of the band of each bound, as distances (reliability indices), at some settings."""

    settings: Array
    lower: Mapping[str, Array]
    upper: Mapping[str, Array]

    @classmethod
    def along(
        cls, case: Case, names: Sequence[str], low: float, high: float, seed: int
    ) -> KnownLimits | None:
        """Return the limits of some bounds between two settings; None where no tests are."""
        if not case.tested:
            return None
        settings = np.geomspace(low, high, _SETTINGS)
        found: list[dict[str, tuple[float, float]]] = []
        for at in settings:
            bands = Bands.of(case_at(case, float(at)), seed)
            ends = {name: bands.band(name) for name in names}
            found.append({name: (band.low, band.upper_high) for name, band in ends.items()})
        return cls(
            settings,
            {name: _distances([each[name][0] for each in found]) for name in names},
            {name: _distances([each[name][1] for each in found]) for name in names},
        )

    def widened(self, name: str, curve: ShareCurve) -> ShareCurve:
        """Return a curve whose interval holds the band too."""
        from scipy.interpolate import PchipInterpolator

        at = np.log(np.clip(curve.levels, self.settings[0], self.settings[-1]))
        low, high = (
            ndtr(-PchipInterpolator(np.log(self.settings), ends[name])(at))
            for ends in (self.lower, self.upper)
        )
        return replace(
            curve, low=np.minimum(curve.low, low), high=np.clip(np.maximum(curve.high, high), 0, 1)
        )


def _distances(shares: Sequence[float]) -> Array:
    distances: Array = -ndtri(np.clip(shares, LEAST_SHARE, 1.0 - 1e-12))
    return distances
