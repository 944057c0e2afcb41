"""Tightening by another control than torque: angle, yield point, hydraulic force, elongation."""

from __future__ import annotations

import math

from preloadmc.units import FloatLike


def preload_after_angle(
    snug_preload: FloatLike, angle: FloatLike, pitch: FloatLike, total_compliance: FloatLike
) -> FloatLike:
    """Preload after a further turn from snug, as long as the fastener stays elastic.

    Parameters
    ----------
    snug_preload : float or ndarray
        Preload at the snug torque [N].
    angle : float or ndarray
        Further turn of nut against fastener, less what only seats the parts [rad].
    pitch : float or ndarray
        P [mm].
    total_compliance : float or ndarray
        delta, what the turn works against [mm/N]: ``delta_S + delta_P``, with
        `torsion.wind_up_compliance` where that is known.

    Returns
    -------
    float or ndarray
        ``F_snug + angle/(2 pi) · P/delta`` [N]; past yield see `hardening.preload_past_yield`.

    Examples
    --------
    A third of a turn, 2.5 mm pitch, on the bolt and tube of a textbook exercise: 241 MPa.

    >>> bolt, tube = math.pi / 4 * 20**2, math.pi / 4 * (40**2 - 22**2)
    >>> compliance = 350 / (207e3 * bolt) + 350 / (71e3 * tube)
    >>> round(preload_after_angle(0.0, math.radians(120), 2.5, compliance) / bolt)
    241
    """
    return snug_preload + angle / (2 * math.pi) * pitch / total_compliance


def angle_to_preload(
    preload: FloatLike, pitch: FloatLike, total_compliance: FloatLike
) -> FloatLike:
    """Return the turn that makes a preload, as long as the fastener stays elastic [rad].

    The inverse of `preload_after_angle`, with its parameters.

    Examples
    --------
    >>> preload = preload_after_angle(0.0, math.radians(40), 1.75, 5e-6)
    >>> round(math.degrees(angle_to_preload(preload, 1.75, 5e-6)), 9)
    40.0
    """
    return 2 * math.pi * preload * total_compliance / pitch


def preload_at_sensed_yield(yield_preload: FloatLike, detector_ratio: FloatLike) -> FloatLike:
    """Preload at which a yield-sensing tool stops.

    Parameters
    ----------
    yield_preload : float or ndarray
        Preload at yield with torsion [N].
    detector_ratio : float or ndarray
        Where the tool stops, over the true yield preload.

    Returns
    -------
    float or ndarray
        ``ratio · F_y`` [N]: it scatters with yield strength and thread friction, not with bearing
        friction.

    Examples
    --------
    >>> preload_at_sensed_yield(50e3, 1.02)
    51000.0
    """
    return detector_ratio * yield_preload


def preload_from_tensioner(pump_force: FloatLike, transfer_ratio: FloatLike) -> FloatLike:
    """Preload left when a hydraulic tensioner hands its force over to the nut.

    Parameters
    ----------
    pump_force : float or ndarray
        Force of the tensioner: pressure times piston area [N].
    transfer_ratio : float or ndarray
        Preload left over force applied, below one; it falls with shorter grips and must be known
        for the joint.

    Returns
    -------
    float or ndarray
        ``ratio · force`` [N]. The fastener is not twisted; its yield is judged on the pump force.

    Examples
    --------
    >>> preload_from_tensioner(80e3, 0.85)
    68000.0
    """
    return transfer_ratio * pump_force


def preload_from_elongation(elongation: FloatLike, fastener_compliance: FloatLike) -> FloatLike:
    """Preload from a measured elongation of the fastener.

    Parameters
    ----------
    elongation : float or ndarray
        Change of the fastener's length [mm].
    fastener_compliance : float or ndarray
        delta_S over the length that is measured [mm/N].

    Returns
    -------
    float or ndarray
        ``dL/delta_S`` [N], while the fastener is elastic (Shigley, 9th ed., Sec. 8-7,
        ``delta = F l/(A E)``).

    Examples
    --------
    >>> round(preload_from_elongation(0.1, 2.5e-6))
    40000
    """
    return elongation / fastener_compliance
