"""Friction of fasteners that were tightened before."""

from __future__ import annotations

from preloadmc.units import FloatLike


def friction_of_reused(
    friction: FloatLike, change_per_tightening: FloatLike, tightened_before: FloatLike
) -> FloatLike:
    """Friction of a fastener that was tightened before.

    Parameters
    ----------
    friction : float or ndarray
        Friction, or nut factor, in the first tightening.
    change_per_tightening : float or ndarray
        Share by which each tightening changes it, above -1.
    tightened_before : int or ndarray
        Tightenings before this one.

    Returns
    -------
    float or ndarray
        ``mu (1 + c)^n``.

    Notes
    -----
    That repeated tightening raises the friction of electroplated zinc is published (W. Eccles, PhD
    thesis, UCLan 2010); the form with one change per tightening is this program's own.

    Examples
    --------
    >>> round(friction_of_reused(0.12, 0.1, 2), 6)
    0.1452
    """
    return friction * (1.0 + change_per_tightening) ** tightened_before
