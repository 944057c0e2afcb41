"""Standard normal points of a scrambled Sobol' sequence: evener than random ones."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from preloadmc.units import Array

# A point on the edge of the unit cube has no normal number: it is moved in by the last bit.
_EDGE = 2.0**-53


def sobol_points(n: int, d: int, rng: np.random.Generator) -> Array:
    """Return the first points of a sequence that ``rng`` scrambles.

    Parameters
    ----------
    n, d : int
        How many points, a power of two, and in how many columns.
    rng : numpy.random.Generator
        Scrambles the sequence.

    Returns
    -------
    ndarray (n, d)
        Standard normal numbers (A. B. Owen, J. Complexity 14 (1998) 466-489; direction numbers of
        S. Joe and F. Y. Kuo, SIAM J. Sci. Comput. 30 (2008) 2635-2654).
    """
    from scipy.stats import qmc

    unit = qmc.Sobol(d, scramble=True, seed=rng).random(n)
    points: Array = ndtri(np.clip(unit, _EDGE, 1.0 - _EDGE))
    return points
