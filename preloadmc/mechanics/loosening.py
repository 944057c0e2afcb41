"""Loosening: what turns a nut back, and what a securing element holds against it."""

from __future__ import annotations

import math

from preloadmc.units import FloatLike


def pitch_torque(preload: FloatLike, pitch: FloatLike) -> FloatLike:
    """Torque with which the preload itself drives the nut back down the helix.

    Parameters
    ----------
    preload : float or ndarray
        F [N].
    pitch : float or ndarray
        P [mm].

    Returns
    -------
    float or ndarray
        ``F P/(2 pi)`` [N·mm]; transverse slip of thread and seat leaves it without friction to
        hold it (self-loosening, Junker 1969).

    Examples
    --------
    >>> round(pitch_torque(40e3, 1.75))
    11141
    """
    return preload * pitch / (2 * math.pi)


def preload_held_by_prevailing_torque(prevailing_torque: FloatLike, pitch: FloatLike) -> FloatLike:
    """Largest preload that a prevailing torque can assure while the parts slip.

    Parameters
    ----------
    prevailing_torque : float or ndarray
        T_p that remains in self-loosening [N·mm]: worn, and well below the one measured in
        deliberate removal.
    pitch : float or ndarray
        P [mm].

    Returns
    -------
    float or ndarray
        ``2 pi T_p/P`` [N]: there the pitch torque has fallen to the prevailing torque and the nut
        stops turning.

    Notes
    -----
    S. Eccles, PhD thesis, University of Central Lancashire, 2010. None at all is assured where an
    axial load acts while the parts slip: such nuts can come off.

    Examples
    --------
    >>> round(preload_held_by_prevailing_torque(1_600.0, 1.75))
    5745
    """
    return 2 * math.pi * prevailing_torque / pitch


def ramp_excess(ramp_angle: FloatLike, lead_angle: FloatLike) -> FloatLike:
    """How much steeper the ramps of a wedge-locking washer pair are than the thread.

    Parameters
    ----------
    ramp_angle, lead_angle : float or ndarray
        Angle of the ramps and lead angle of the thread [rad].

    Returns
    -------
    float or ndarray
        ``ramp - lead`` [rad]: above zero, a nut that turns back on the ramps would have to raise
        the preload. It holds only while the teeth do not slide on their seats.

    Examples
    --------
    >>> round(math.degrees(ramp_excess(math.radians(9.0), math.radians(2.94))), 2)
    6.06
    """
    return ramp_angle - lead_angle


def breakaway_excess(
    breakaway_torque: FloatLike, preload: FloatLike, pitch: FloatLike
) -> FloatLike:
    """How far the breakaway torque of a cured adhesive exceeds the pitch torque.

    Parameters
    ----------
    breakaway_torque : float or ndarray
        Torque that breaks the cured bond, without preload, at the state's temperature [N·mm].
    preload : float or ndarray
        F [N].
    pitch : float or ndarray
        P [mm].

    Returns
    -------
    float or ndarray
        ``T_break - F P/(2 pi)`` [N·mm]; above zero the bond holds the nut even without friction.

    Examples
    --------
    >>> round(breakaway_excess(20e3, 40e3, 1.75))
    8859
    """
    return breakaway_torque - pitch_torque(preload, pitch)
