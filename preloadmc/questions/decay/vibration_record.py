"""The record of one transverse-vibration test: preload, and perhaps rotation, against cycles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.units import Array

# A fastener with less than this share of its preload is as good as loose: the preload of a record
# that ends so is taken to stay where it ended. Judgement.
LOST = 0.05
# A record begins with its initial preload, read no worse than this: a remainder lies below.
MOST_REMAINDER = 0.95
# A record rises if it comes back by more than this share, and by so many s.d. of its noise.
# Judgement.
_RISE, _NOISES = 0.02, 5.0


@dataclass(frozen=True, slots=True, eq=False)
class VibrationRecord:
    """One test: ``share`` (n,) of the initial preload left after ``cycles`` (n,), rising from 0.

    ``rotation`` (n,) [rad] is NaN where it was not read; None where none was recorded. ``initial``
    is the initial preload [N], or None for a record in shares. ``conditions`` are words by the
    column that states them, such as the amplitude.
    """

    test: str
    element: str
    cycles: Array
    share: Array
    rotation: Array | None
    initial: float | None
    conditions: tuple[tuple[str, str], ...]
    source: str

    @property
    def last_cycles(self) -> float:
        """Load cycles at which the record ends."""
        return float(self.cycles[-1])

    @property
    def is_lost(self) -> bool:
        """Whether the record ends with as good as no preload."""
        return float(self.share[-1]) <= LOST

    def share_at(self, cycles: float) -> float | None:
        """Return the share left, straight between readings; None beyond the record.

        A record that ended without preload keeps the share that it ended with.
        """
        if cycles > self.last_cycles and not self.is_lost:
            return None
        return float(np.interp(cycles, self.cycles, self.share))

    def cycles_to(self, share: float) -> float | None:
        """Return the cycles at which the share first falls below a level; None if it never does.

        The level is at most `MOST_REMAINDER`, above which every record begins.
        """
        below = np.flatnonzero(self.share < share)
        if len(below) == 0:
            return None
        k = int(below[0])
        high, low = float(self.share[k - 1]), float(self.share[k])
        before, after = float(self.cycles[k - 1]), float(self.cycles[k])
        return before + (after - before) * (high - share) / (high - low)

    @property
    def rise(self) -> tuple[float, float] | None:
        """Return by how much the preload comes back, and at which cycles; None within its noise.

        The noise is that of second differences, which a smooth fall leaves near zero: their median
        over 0.6745 √6.
        """
        risen = self.share - np.minimum.accumulate(self.share)
        k = int(np.argmax(risen))
        noise = 0.0
        if len(self.share) > 4:
            noise = float(np.median(np.abs(np.diff(self.share, 2)))) / (0.6745 * np.sqrt(6.0))
        if float(risen[k]) <= max(_RISE, _NOISES * noise):
            return None
        return float(risen[k]), float(self.cycles[k])
