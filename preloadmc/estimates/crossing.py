"""Where rising functions cross zero, a whole block of them at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from preloadmc.units import Array

Rows = NDArray[np.intp]
Rising = Callable[[Array, Rows], Array]
"""From levels (k,) and the functions they belong to (k,) to values (k,)."""

_AROUND = (0.8, 1.25)  # of the first guess
_WIDER = 4.0  # times so much per step, where the bracket does not hold the crossing yet
_PATIENCE = 4  # steps of regula falsi before a bracket that has not halved is bisected
_ZERO = 1e-12  # of the values at the ends of the bracket: the last digits are rounding


def rising_crossing(
    function: Rising, start: Array, low: float, high: float, *, tolerance: float = 1e-10
) -> Array:
    """Level at which each of n functions, none of which ever falls, crosses zero.

    Parameters
    ----------
    function : callable
        Values of the functions named by their rows at a level each.
    start : ndarray (n,)
        First guess of each, above zero.
    low, high : float
        Levels searched, above zero.
    tolerance : float
        Share of a level to which it is found.

    Returns
    -------
    ndarray (n,)
        Minus infinity where a function is not negative at `low`, infinity where it is at `high`.

    Notes
    -----
    Regula falsi with the Illinois step (M. Dowell, P. Jarratt, BIT 11 (1971) 168), and a bisection
    where that has not halved the bracket in four steps: a straight line takes one step.

    Examples
    --------
    >>> slopes = np.array([2.0, 5.0])
    >>> rising_crossing(lambda x, rows: slopes[rows] * x - 10.0, np.ones(2), 0.01, 100.0)
    array([5., 2.])
    """
    rows = np.arange(len(start))
    a, b = (np.clip(factor * start, low, high) for factor in _AROUND)
    f_a, f_b = function(a, rows), function(b, rows)
    while (wide := rows[(f_a >= 0.0) & (a > low)]).size:
        b[wide], f_b[wide] = a[wide], f_a[wide]
        a[wide] = np.maximum(a[wide] / _WIDER, low)
        f_a[wide] = function(a[wide], wide)
    while (wide := rows[(f_b < 0.0) & (b < high)]).size:
        a[wide], f_a[wide] = b[wide], f_b[wide]
        b[wide] = np.minimum(b[wide] * _WIDER, high)
        f_b[wide] = function(b[wide], wide)
    found = np.where(f_a >= 0.0, -np.inf, np.inf)
    rows = rows[(f_a < 0.0) & (f_b >= 0.0)]
    scale = np.abs(f_a) + np.abs(f_b)
    last, width = np.zeros(len(start)), b - a
    step = 0
    while rows.size:
        step += 1
        left, right, f_left, f_right = a[rows], b[rows], f_a[rows], f_b[rows]
        middle = left + (right - left) * (f_left / (f_left - f_right))
        if step % _PATIENCE == 0:
            slow = right - left > 0.5 * width[rows]
            middle = np.where(slow, 0.5 * (left + right), middle)
            width[rows] = right - left
        f = function(middle, rows)
        below = f < 0.0
        a[rows], b[rows] = np.where(below, middle, left), np.where(below, right, middle)
        # The end that stays twice running counts half: else one end would never move.
        side = np.where(below, -1.0, 1.0)
        halved = np.where(side == last[rows], 0.5, 1.0)
        f_a[rows] = np.where(below, f, f_left * halved)
        f_b[rows] = np.where(below, f_right * halved, f)
        last[rows] = side
        narrow = b[rows] - a[rows] <= tolerance * b[rows]
        done = narrow | (np.abs(f) <= _ZERO * scale[rows])
        found[rows[done]] = middle[done]
        rows = rows[~done]
    return found
