"""Friction coefficients from a torque-tension test that measures the thread torque as well."""

from __future__ import annotations

import math

from preloadmc.mechanics.tightening import (
    COS_HALF_FLANK_ANGLE,
    linear_thread_torque_per_preload,
)
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
        ``cos 30° tan rho'`` with ``tan(phi + rho') = 2 T_th/(F d2)``: the inverse of
        `tightening.thread_torque_per_preload`.

    Examples
    --------
    >>> round(thread_friction_from_torque(41_540.0, 40_000.0, 1.75, 10.863), 4)
    0.12
    """
    lead = pitch / (math.pi * pitch_diameter)
    whole = 2 * thread_torque / (preload * pitch_diameter)
    return COS_HALF_FLANK_ANGLE * (whole - lead) / (1 + whole * lead)


def thread_friction_from_linear(
    linear_friction: FloatLike, pitch: FloatLike, pitch_diameter: FloatLike
) -> FloatLike:
    """Thread friction of a test that was evaluated by the linear thread torque of ISO 16047.

    Parameters
    ----------
    linear_friction : float or ndarray
        ``(T_th/F - P/(2 pi)) / (0.577 d2)`` as a test report gives it: ISO 16047:2005 (formula
        from memory).
    pitch, pitch_diameter : float or ndarray
        P and d2 of the thread that was tested [mm].

    Returns
    -------
    float or ndarray
        The friction that `tightening.thread_torque_per_preload` turns into the torque measured.

    Examples
    --------
    M12: a reported 0.1212 is 0.12.

    >>> round(thread_friction_from_linear(0.1212, 1.75, 10.863), 4)
    0.12
    """
    torque = linear_thread_torque_per_preload(pitch, pitch_diameter, linear_friction)
    return thread_friction_from_torque(torque, 1.0, pitch, pitch_diameter)


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
