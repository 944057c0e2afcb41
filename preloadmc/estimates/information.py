"""Expected information: what a measurement not yet made would tell about which rival is true."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.units import Array

# Least points of the sum over readings, which has four for each measuring error besides: enough for
# a smooth density. Six errors beyond the values leave 1e-9 of it out.
_GRID = 801
_WIDE = 6.0
# A chance below this tells nothing, and its ratios may overflow.
_NOTHING = 1e-290


def information_of_reading(values: list[Array], sd: float, probability: Array) -> float:
    """Return the mutual information of a reading and the rivals [bits].

    Parameters
    ----------
    values : list of ndarray, one of shape (n,) a rival
        Equally likely true values of what would be read.
    sd : float
        Measuring error of the reading, normal, the same for all.
    probability : ndarray (k,)
        Of each rival, adding to one.

    Returns
    -------
    float
        ``sum_k P_k integral p(y|k) log2[p(y|k) / p(y)] dy`` (D. V. Lindley, Ann. Math. Statist. 27
        (1956) 986-1005), by a sum over a fine grid of y.

    Examples
    --------
    Two even rivals far apart are told apart for sure, one bit:

    >>> rivals = [np.array([0.0]), np.array([100.0])]
    >>> round(information_of_reading(rivals, 1.0, np.array([0.5, 0.5])), 6)
    1.0
    """
    densities = []
    # Each rival has a grid of its own, so that a narrow one is not lost beside a wide one.
    for own in values:
        low, high = own.min() - _WIDE * sd, own.max() + _WIDE * sd
        y = np.linspace(low, high, max(_GRID, math.ceil(4 * (high - low) / sd)))
        densities.append((y, np.array([_mixture(y, each, sd) for each in values])))
    bits = 0.0
    for k, (y, block) in enumerate(densities):
        parts = _information(block[k], probability @ block, probability[k])
        bits += float(parts.sum() * (y[1] - y[0]))
    return max(bits, 0.0)


def information_of_outcome(chances: Array, probability: Array) -> float:
    """Return the mutual information of an outcome of a few kinds and the rivals [bits].

    Parameters
    ----------
    chances : ndarray (k, outcomes)
        Chance of each outcome under each rival; rows add to one.
    probability : ndarray (k,)
        Of each rival, adding to one.

    Examples
    --------
    A binary channel that errs with 11 %: 1 - H(0.11) = 0.5 bit.

    >>> channel = np.array([[0.89, 0.11], [0.11, 0.89]])
    >>> round(information_of_outcome(channel, np.array([0.5, 0.5])), 3)
    0.5
    """
    whole = probability @ chances
    parts = (_information(own, whole, p) for own, p in zip(chances, probability, strict=True))
    return max(math.fsum(part.sum() for part in parts), 0.0)


def _information(own: Array, whole: Array, probability: float) -> Array:
    """Return ``P p(y|k) log2[p(y|k) / p(y)]``; nothing where ``P p(y|k)`` is as good as zero."""
    mine = probability * own
    ratio = np.divide(own, whole, out=np.ones_like(whole), where=mine > _NOTHING)
    return mine * np.log2(ratio)


def _mixture(y: Array, values: Array, sd: float) -> Array:
    """Return the density at y of normal errors about equally likely values.

    Values are first shared out to a grid of a quarter of the error, which keeps the sum short.
    """
    step = 0.25 * sd
    cells = np.round(values / step)
    places, counts = np.unique(cells, return_counts=True)
    distance = (y[:, None] - step * places) / sd
    density: Array = np.exp(-0.5 * distance * distance) @ counts
    return density / (len(values) * sd * math.sqrt(2.0 * math.pi))
