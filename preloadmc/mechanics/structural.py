"""Structural bolting: the standard preload."""

from __future__ import annotations

from preloadmc.units import FloatLike


def structural_preload(tensile_strength: FloatLike, stress_area: FloatLike) -> FloatLike:
    """Standard preload of structural bolting.

    Parameters
    ----------
    tensile_strength : float or ndarray
        f_ub [MPa]: 800 for class 8.8, 1000 for 10.9.
    stress_area : float or ndarray
        As [mm²].

    Returns
    -------
    float or ndarray
        ``F_p,C = 0.7 f_ub As`` [N], EN 1993-1-8:2005, Sec. 3.6.1, and EN 1090-2; the smallest
        pretension of AISC 360-05, Table J3.1, is the same share.

    Examples
    --------
    EN 1090-2: M20, class 10.9: 172 kN.

    >>> round(structural_preload(1000.0, 245.0) / 1e3)
    172
    """
    return 0.7 * tensile_strength * stress_area
