"""Where a record that was level begins to rise or fall: a level line, then a sloped one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, fdtri

from preloadmc.units import Array

# Fewer readings tell no level, slope, place and scatter.
FEWEST_READINGS = 6
# A change is taken as found if chance alone would do as much so seldom. The place is sought, which
# the law of F does not know: readings without a change pass in 1 of 1,000 or fewer (measured,
# 9 and 21 readings).
_CHANCE = 1e-3
# More readings than these are thinned; places at which the sum of squares is looked at.
_MOST_READINGS, _PLACES = 2000, 400


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """A level up to ``at``, then a straight line with ``slope``, with the interval of ``at``.

    ``sd`` is the scatter of the readings about both lines.
    """

    at: float
    low: float
    high: float
    level: float
    slope: float
    sd: float
    n: int


def change_point(x: Array, y: Array, confidence: float) -> ChangePoint | None:
    """Return where readings leave their level; None where no change is found.

    Least squares of ``y = level + slope max(x - at, 0)``. The interval holds every place at which
    the sum of squares exceeds the least by no more than F(1, n - 3) allows.

    Parameters
    ----------
    x, y : ndarray (n,)
        Places in rising order, and readings there; independent errors of equal s.d.
    confidence : float
        Of the interval.

    Returns
    -------
    ChangePoint or None
        None with fewer than `FEWEST_READINGS`, without any scatter, or where a level alone explains
        the readings as well.

    Notes
    -----
    D. J. Hudson, Journal of the American Statistical Association 61 (1966) 1097 (from memory).

    >>> x = np.arange(11.0)
    >>> found = change_point(x, 2.0 * np.maximum(x - 4.5, 0.0), 0.95)
    >>> round(found.at, 6), round(found.slope, 6)
    (4.5, 2.0)
    """
    if len(x) > _MOST_READINGS:
        kept = np.unique(np.linspace(0, len(x) - 1, _MOST_READINGS).astype(np.intp))
        x, y = x[kept], y[kept]
    n = len(x)
    if n < FEWEST_READINGS or float(np.ptp(y)) == 0.0:
        return None
    # Two readings at least lie on the slope.
    grid = np.linspace(x[0], x[-2], _PLACES)
    places = np.unique(np.concatenate([grid, x[:-1], _crossings(x, y)]))
    rests = np.concatenate([_rests(x, y, some) for some in np.array_split(places, 1 + n // 100)])
    best = int(np.argmin(rests))
    total = float(np.sum(np.square(y - np.mean(y))))
    # What rounding leaves of an exact record.
    rest = max(float(rests[best]), 1e-24 * total)
    if fdtrc(2, n - 3, 0.5 * (total - rest) * (n - 3) / rest) > _CHANCE:
        return None
    inside = places[rests <= rest * (1.0 + float(fdtri(1, n - 3, confidence)) / (n - 3))]
    at = float(places[best])
    risen = np.maximum(x - at, 0.0)
    slope, level = np.polyfit(risen, y, 1)
    low, high = (float(inside[0]), float(inside[-1])) if len(inside) else (at, at)
    sd = float(np.sqrt(rest / (n - 3)))
    return ChangePoint(at, min(low, at), max(high, at), float(level), float(slope), sd, n)


def _crossings(x: Array, y: Array) -> Array:
    """Return where the mean of the first k readings meets the line through the others.

    Only those that lie between reading k and the next are places of least squares.
    """
    n = len(x)
    k = np.arange(1, n - 1)
    before = np.cumsum(y)[k - 1] / k
    m = n - k
    x0 = float(np.mean(x))

    def after(values: Array) -> Array:
        sums: Array = np.cumsum(values[::-1])[::-1][k]
        return sums

    u = x - x0
    su, sy, suu, suy = after(u), after(y), after(u * u), after(u * y)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (m * suy - su * sy) / (m * suu - su * su)
        at = x0 + (before - (sy - slope * su) / m) / slope
    found: Array = at[np.isfinite(at) & (at >= x[k - 1]) & (at <= x[k])]
    return found


def _rests(x: Array, y: Array, places: Array) -> Array:
    """Return the sum of squares about two lines that meet at each of some places."""
    risen = np.maximum(x - places[:, None], 0.0)
    u, v = risen - np.mean(risen, axis=1, keepdims=True), y - np.mean(y)
    along = (u @ v) / np.sum(u * u, axis=1)
    rests: Array = np.sum(np.square(v - along[:, None] * u), axis=1)
    return rests
