"""The order of estimates that err together: which neighbours are settled, which are not."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from preloadmc.units import Array


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """Estimates, shape (k,), their covariance, shape (k, k), and the quantile of their intervals.

    Examples
    --------
    >>> order = Order(np.array([0.2, 0.5, 0.3]), np.diag([0.01, 0.01, 0.01]) ** 2, 1.96)
    >>> order.places
    (1, 2, 0)
    >>> order.unsettled()
    ()
    >>> Order(np.array([0.51, 0.49]), np.diag([0.01, 0.01]) ** 2, 1.96).unsettled()
    ((0, 1),)
    """

    values: Array
    covariance: Array
    quantile: float

    @property
    def places(self) -> tuple[int, ...]:
        """Places of the estimates, the largest first."""
        return tuple(int(place) for place in np.argsort(-self.values, kind="stable"))

    def half(self, place: int) -> float:
        """Half width of the interval of one estimate."""
        return self.quantile * math.sqrt(float(self.covariance[place, place]))

    def half_width(self, a: int, b: int) -> float:
        """Half width of the interval of the difference of two estimates."""
        c = self.covariance
        return self.quantile * math.sqrt(max(float(c[a, a] + c[b, b] - 2.0 * c[a, b]), 0.0))

    def unsettled(
        self, *, leading: int | None = None, effort: float = 1.0
    ) -> tuple[tuple[int, int], ...]:
        """Neighbours in the order whose difference is not resolved from zero, largest first.

        Parameters
        ----------
        leading : int, optional
            Looks at the first so many only.
        effort : float
            Assume this multiple of the samples, with the estimates as they are.
        """
        first = self.places[:leading]
        return tuple(
            (a, b)
            for a, b in pairwise(first)
            if self.values[a] - self.values[b] <= self.half_width(a, b) / math.sqrt(effort)
        )
