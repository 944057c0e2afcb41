"""Shares of fasteners by the true value of what is read, on an even grid.

The likelihood of a reading is then one product with the shares, whatever their number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from preloadmc.evidence import ABOVE, BELOW, Reading
from preloadmc.units import Array

# A product of no more multiplications stays on one thread of the linear algebra library. Its
# threads wait busily for each other, which takes many times as long where processors are shared.
_ONE_THREAD = 2**18


@dataclass(frozen=True, slots=True)
class TrueValues:
    """An even grid: ``cells`` values from ``low`` on, a ``step`` apart."""

    low: float
    step: float
    cells: int

    @classmethod
    def between(cls, low: float, high: float, step: float) -> TrueValues:
        """Return the grid of that step from low to high."""
        return cls(low, step, math.ceil((high - low) / step) + 2)

    def places(self, values: Array) -> Array:
        """Return where values lie on the grid, in steps; those beyond count as its ends."""
        places: Array = np.clip((values - self.low) / self.step, 0.0, self.cells - 1.001)
        return places

    def shares(self, values: Array, weights: Array) -> Array:
        """Return the weight (lots, cells) at each value of the grid, of values (lots, points).

        A value between two of the grid is shared out to both.
        """
        lots = len(values)
        places = self.places(values)
        left = places.astype(np.intp)
        to_right = (weights * (places - left)).ravel()
        at = (left + self.cells * np.arange(lots)[:, None]).ravel()
        size = lots * self.cells
        shares: Array = np.add(
            np.bincount(at, weights.ravel() - to_right, size), np.bincount(at + 1, to_right, size)
        )
        return shares.reshape(lots, self.cells)

    def likelihoods(self, readings: Sequence[Reading]) -> Array:
        """Return the likelihood (cells, readings) at every value of the grid.

        Of a measured value it is that over its largest, without unit. Sharing out adds
        ``step^2 / 6`` to the variance of values: the measuring error has so much less, but never
        less than half of itself.
        """
        grid = self.low + self.step * np.arange(self.cells)
        value = np.array([each.value for each in readings])
        stated = np.array([each.error for each in readings])
        error = np.sqrt(np.maximum(stated**2 - self.step**2 / 6.0, 0.25 * stated**2))
        off = (value - grid[:, None]) / error
        likelihoods: Array = np.exp(-0.5 * off * off) * (stated / error)
        for sense, sign in ((BELOW, 1.0), (ABOVE, -1.0)):
            of_sense = [each.sense == sense for each in readings]
            likelihoods[:, of_sense] = ndtr(sign * off[:, of_sense])
        return likelihoods


def mean_likelihoods(shares: Array, likelihoods: Array) -> Array:
    """Return the mean likelihood (lots, readings) by shares (lots, cells), in small products."""
    lots, cells = shares.shape
    rows = max(2, min(lots, _ONE_THREAD // (8 * cells)))
    width = max(2, _ONE_THREAD // (rows * cells))
    means = np.empty((lots, likelihoods.shape[1]))
    for i in range(0, lots, rows):
        for k in range(0, likelihoods.shape[1], width):
            part = shares[i : i + rows] @ likelihoods[:, k : k + width]
            means[i : i + rows, k : k + width] = part
    return means
