"""Standard normal points of scrambled Sobol' sequences: evener than random ones."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.special import ndtri, stdtrit

from preloadmc.units import Array

REPLICATES = 8
"""Independent scrambles behind an interval: fewer leave their scatter hardly known, more leave each
sequence short, and so less even."""

# A point on the edge of the unit cube has no normal number: it is moved in by the last bit.
_EDGE = 2.0**-53
# Rounding of sums of squares, over that of one value: seldom more than a few.
_ROUNDING = 64.0 * np.finfo(float).eps


def sobol_sequence(d: int, rng: np.random.Generator) -> Callable[[int], Array]:
    """Return a function that gives the next so many points of a sequence that ``rng`` scrambles.

    Parameters
    ----------
    d : int
        Columns.
    rng : numpy.random.Generator
        Scrambles the sequence.

    Returns
    -------
    callable
        From n to standard normal numbers, shape (n, d) (A. B. Owen, J. Complexity 14 (1998)
        466-489; direction numbers of S. Joe and F. Y. Kuo, SIAM J. Sci. Comput. 30 (2008)
        2635-2654). All points so far should be a power of two in number.
    """
    from scipy.stats import qmc

    sequence = qmc.Sobol(d, scramble=True, seed=rng)

    def following(n: int) -> Array:
        points: Array = ndtri(np.clip(sequence.random(n), _EDGE, 1.0 - _EDGE))
        return points

    return following


def ratios_of_replicates(
    numerators: Array, denominators: Array, magnitude: float
) -> tuple[Array, Array]:
    """Ratios of means over independent scrambles, and their covariance.

    The points of one sequence are not independent, so their scatter says little about the error of
    a mean; that between scrambles does (A. B. Owen, SIAM J. Numer. Anal. 34 (1997) 1884).

    Parameters
    ----------
    numerators : ndarray (r, k)
        Of each scramble.
    denominators : ndarray (r,)
        Of each scramble.
    magnitude : float
        Of the values over their own standard deviation: it tells the rounding, below which no
        variance is claimed.

    Returns
    -------
    ratios : ndarray (k,)
        Mean numerators over the mean denominator.
    covariance : ndarray (k, k)
        Of the ratios, by their linear parts; r - 1 degrees of freedom.
    """
    r, k = numerators.shape
    whole = denominators.mean()
    ratios = numerators.mean(axis=0) / whole
    linear = (numerators - denominators[:, None] * ratios) / whole
    covariance = np.cov(linear, rowvar=False).reshape(k, k) / r
    least = (_ROUNDING * (1.0 + magnitude)) ** 2
    covariance[np.diag_indices(k)] = np.maximum(np.diag(covariance), least)
    return ratios, covariance


def student_quantile(replicates: int, confidence: float) -> float:
    """Quantile of a two-sided interval from so many independent scrambles."""
    return float(stdtrit(replicates - 1, 0.5 + confidence / 2.0))
