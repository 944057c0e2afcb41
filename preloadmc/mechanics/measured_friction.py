"""Friction coefficients from a torque-tension test that measures the thread torque as well."""

from __future__ import annotations

import math

from preloadmc.mechanics.tightening import thread_friction_arm
from preloadmc.units import FloatLike


def thread_friction_from_torque(
    thread_torque: FloatLike, preload: FloatLike, pitch: FloatLike, pitch_diameter: FloatLike
) -> FloatLike:
    """Thread friction from a measured thread torque.

    Parameters
    ----------
    thread_torque : float or ndarray
        Torque carried by the shank, T_th [N·mm].
    preload : float or ndarray
        F [N].
    pitch, pitch_diameter : float or ndarray
        P and d2 [mm].

    Returns
    -------
    float or ndarray
        ``(T_th/F - P/(2 pi)) / (0.577 d2)``, ISO 16047:2005 (formula from memory).

    Examples
    --------
    >>> round(thread_friction_from_torque(41_244.0, 40_000.0, 1.75, 10.863), 3)
    0.12
    """
    return (thread_torque / preload - pitch / (2 * math.pi)) / thread_friction_arm(pitch_diameter)


def bearing_friction_from_torque(
    bearing_torque: FloatLike, preload: FloatLike, bearing_diameter: FloatLike
) -> FloatLike:
    """Bearing friction from a measured torque under the turned head or nut.

    Parameters
    ----------
    bearing_torque : float or ndarray
        Tightening torque less thread torque, T_b [N·mm].
    preload : float or ndarray
        F [N].
    bearing_diameter : float or ndarray
        Db [mm].

    Returns
    -------
    float or ndarray
        ``T_b / (0.5 Db F)``, ISO 16047:2005 (formula from memory).

    Examples
    --------
    >>> round(bearing_friction_from_torque(36_156.0, 40_000.0, 15.065), 4)
    0.12
    """
    return bearing_torque / (bearing_diameter / 2 * preload)
