"""Where to draw what fasteners share, so that draws in which many of them miss are not rare."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from preloadmc.estimates.design_point import DesignPoint
from preloadmc.estimates.equicorrelated import at_least, group_probability
from preloadmc.units import Array

_PLAIN = 0.1  # share of draws from the normal law itself: no weight exceeds ten
_WIDER = 1.2  # over the width that a plane limit surface has; a bend makes it wider
_LEAST_WIDTH = 0.5
_NEGLIGIBLE = 1e-3  # ways to the event so much rarer than the likeliest are left to plain draws
_SAME = 0.95  # cosine of two directions that are one
_ALL = 0.9999  # of the s.d.: beyond, what is shared decides alone
_GRID = np.linspace(-12.0, 14.0, 2601)


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A design point of a fastener of one kind in the space of shared and own numbers.

    ``z`` is ``shared`` columns followed by own ones.
    """

    kind: int
    point: DesignPoint
    shared: int

    @property
    def steepness(self) -> Array:
        """Direction cosines of the shared columns, shape (s,)."""
        part: Array = self.point.direction[: self.shared]
        return part

    @property
    def common(self) -> float:
        """Share of variance along the way that is shared."""
        return float(self.steepness @ self.steepness)

    def own_point(self, u: Array) -> Array:
        """Nearest own numbers (m, d) of a miss given shared ones (m, s), on the tangent plane."""
        own = self.point.direction[self.shared :]
        lacking = self.point.beta - u @ self.steepness
        rest = max(float(own @ own), 1.0 - _ALL)
        found: Array = lacking[:, None] * (own / rest)
        return found

    def of_group(self, n: int, k: int) -> float:
        """Probability of the event, were all fasteners of this kind and this the only way."""
        share = min(max(self.common, 0.0), 1.0)
        return float(group_probability(ndtr(-self.point.beta), share, n, k))


@dataclass(frozen=True, slots=True, eq=False)
class SharedMixture:
    """Normal laws of shared numbers, each moved and stretched along one axis, and a plain one.

    ``axes`` (j, s) are unit vectors, ``centres`` (j,) and ``sd`` (j,) places and widths along them,
    ``shares`` (j,) parts of the draws; what is left to one is standard normal.
    """

    axes: Array
    centres: Array
    sd: Array
    shares: Array

    @classmethod
    def of(cls, ways: Sequence[Way], counts: Sequence[int], k: int) -> SharedMixture:
        """Around the likeliest shared numbers of each way to "at least k miss"."""
        n = sum(counts)
        by_weight = sorted(((way.of_group(n, k), i) for i, way in enumerate(ways)), reverse=True)
        kept: list[tuple[Array, float, float, float]] = []
        for weight, i in by_weight:
            if weight < _NEGLIGIBLE * by_weight[0][0]:
                break
            norm = math.sqrt(ways[i].common)
            axis = ways[i].steepness / norm if norm > 0.0 else np.eye(ways[i].shared)[0]
            centre, sd = _along(axis, ways, counts, k)
            if not any(
                float(axis @ other) > _SAME and abs(centre - place) < sd
                for other, place, _, _ in kept
            ):
                kept.append((axis, centre, sd, math.sqrt(weight)))
        shares = np.array([share for *_, share in kept])
        total = float(shares.sum())
        shares = shares / total if total > 0.0 else np.full(len(kept), 1.0 / len(kept))
        return cls(
            np.array([axis for axis, *_ in kept]),
            np.array([centre for _, centre, _, _ in kept]),
            np.array([sd for _, _, sd, _ in kept]),
            (1.0 - _PLAIN) * shares,
        )

    def place(self, z: Array) -> Array:
        """Shared numbers (m, s) from standard normal ones (m, s + 1): the last picks the law."""
        which = np.searchsorted(np.cumsum(self.shares), ndtr(z[:, -1]), side="right")
        u = z[:, :-1].copy()
        for i, axis in enumerate(self.axes):
            rows = which == i
            along = u[rows] @ axis
            u[rows] += np.outer(self.centres[i] + (self.sd[i] - 1.0) * along, axis)
        return u

    def weights(self, u: Array) -> Array:
        """Standard normal density over that of the mixture, shape (m,)."""
        density = np.full(len(u), 1.0 - float(self.shares.sum()))
        for axis, centre, sd, share in zip(
            self.axes, self.centres, self.sd, self.shares, strict=True
        ):
            along = u @ axis
            log = 0.5 * along * along - 0.5 * ((along - centre) / sd) ** 2
            density += share / sd * np.exp(log)
        return 1.0 / density


def _along(axis: Array, ways: Sequence[Way], counts: Sequence[int], k: int) -> tuple[float, float]:
    """Mean and width of the shared number along an axis, given the event, by planes."""
    p = np.zeros((len(_GRID), len(counts)))
    for way in ways:
        part = min(float(way.steepness @ axis), _ALL)
        # A way that points elsewhere has a place of its own.
        if part >= 0.0:
            own = math.sqrt(1.0 - part * part)
            p[:, way.kind] += ndtr(-(way.point.beta - part * _GRID) / own)
    weights = at_least(np.minimum(p, 1.0), counts, k) * np.exp(-0.5 * _GRID * _GRID)
    total = float(weights.sum())
    if total <= 0.0:
        return 0.0, 1.0
    mean = float(weights @ _GRID) / total
    variance = float(weights @ (_GRID - mean) ** 2) / total
    return mean, max(_WIDER * math.sqrt(variance), _LEAST_WIDTH)
