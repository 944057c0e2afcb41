"""The torque equation: what a tightening torque makes of preload, and what of friction."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from preloadmc.units import FloatLike

COS_HALF_FLANK_ANGLE = math.cos(math.radians(30.0))
TORQUE_EQUATION = "Shigley, 9th ed., eq. 8-26"


def bearing_diameter_uniform_wear(
    outer_diameter: FloatLike, inner_diameter: FloatLike
) -> FloatLike:
    """Effective diameter of bearing friction under a worn-in (uniform wear) ring.

    Parameters
    ----------
    outer_diameter, inner_diameter : float or ndarray
        Ring that carries the head or nut, Do and Di [mm].

    Returns
    -------
    float or ndarray
        ``Db = (Do + Di)/2`` [mm], ISO 16047:2005 and VDI 2230-1:2003 (D_Km).

    Examples
    --------
    >>> bearing_diameter_uniform_wear(16.63, 13.5)
    15.065
    """
    return (outer_diameter + inner_diameter) / 2


def countersunk_seat_friction(bearing_friction: FloatLike, seat_half_angle: FloatLike) -> FloatLike:
    """Bearing friction that a conical seat shows in the torque equation.

    Parameters
    ----------
    bearing_friction : float or ndarray
        Friction coefficient of the seat.
    seat_half_angle : float or ndarray
        Half of the cone's included angle [rad], above 0 and at most pi/2 (a flat seat).

    Returns
    -------
    float or ndarray
        ``mu_b / sin(half angle)``: the seat's normal force exceeds the preload by that factor.

    Examples
    --------
    A 90° countersink adds 41 %:

    >>> round(float(countersunk_seat_friction(0.10, 0.7853981633974483)), 4)
    0.1414
    """
    return bearing_friction / np.sin(seat_half_angle)


def thread_torque_per_preload(
    pitch: FloatLike, pitch_diameter: FloatLike, thread_friction: FloatLike
) -> FloatLike:
    """Torque in the thread for each newton of preload, while the nut is turned on.

    Parameters
    ----------
    pitch, pitch_diameter : float or ndarray
        P and d2 [mm].
    thread_friction : float or ndarray
        mu_t; negative while the nut is turned back (see `release_torque_per_preload`).

    Returns
    -------
    float or ndarray
        ``d2/2 tan(phi + rho')`` [mm], with ``tan phi = P/(pi d2)`` and
        ``tan rho' = mu_t / cos 30°``.

    Notes
    -----
    Equilibrium of the nut on its thread with all force at the pitch diameter: Shigley, 9th ed.,
    eq. 8-5 (number from memory) and the thread's part of eq. 8-26. The flank angle is that of the
    axial plane; square to the thread it is a little smaller, which would lower the friction term
    by the factor ``sqrt(1 - sin² 30° sin² phi)``: 0.03 % for an M12, 0.07 % at most among the
    threads of this program.

    The linear form of ISO 16047, `linear_thread_torque_per_preload`, leaves out the product
    ``tan phi tan rho'`` in the denominator. It is lower by as much: 0.7 % for an M12 with friction
    0.12, 2.4 % with friction 0.4.

    Examples
    --------
    >>> round(thread_torque_per_preload(1.75, 10.863, 0.12), 4)
    1.0385
    """
    lead = pitch / (math.pi * pitch_diameter)
    friction = thread_friction / COS_HALF_FLANK_ANGLE
    return pitch_diameter / 2 * (lead + friction) / (1 - lead * friction)


def linear_thread_torque_per_preload(
    pitch: FloatLike, pitch_diameter: FloatLike, thread_friction: FloatLike
) -> FloatLike:
    """Torque in the thread for each newton of preload as ISO 16047 and VDI 2230-1 write it.

    Parameters
    ----------
    pitch, pitch_diameter, thread_friction : float or ndarray
        As in `thread_torque_per_preload`.

    Returns
    -------
    float or ndarray
        ``P/(2 pi) + mu_t d2/(2 cos 30°)`` [mm], ISO 16047:2005 (with ``0.577 d2 mu_t``) and
        VDI 2230-1:2003.

    Notes
    -----
    Only for values that a source computed so. It is lower than `thread_torque_per_preload`, which
    says how much.

    Examples
    --------
    >>> round(linear_thread_torque_per_preload(1.75, 10.863, 0.12), 4)
    1.0311
    """
    return pitch / (2 * math.pi) + thread_friction * pitch_diameter / (2 * COS_HALF_FLANK_ANGLE)


def torque_per_preload(
    pitch: FloatLike,
    pitch_diameter: FloatLike,
    thread_friction: FloatLike,
    bearing_friction: FloatLike,
    bearing_diameter: FloatLike,
) -> FloatLike:
    """Tightening torque for each newton of preload.

    Parameters
    ----------
    pitch, pitch_diameter, bearing_diameter : float or ndarray
        P, d2 and Db [mm].
    thread_friction, bearing_friction : float or ndarray
        mu_t and mu_b.

    Returns
    -------
    float or ndarray
        ``d2/2 tan(phi + rho') + mu_b Db/2`` [mm].

    Notes
    -----
    Shigley, 9th ed., eq. 8-26, which sets Db to 1.25 d; see `thread_torque_per_preload`. With the
    linear thread torque of ISO 16047:2005 and VDI 2230-1:2003, eq. 5.4/18 (equation number from
    memory), it is lower, and the preload of a torque higher: by 0.4 % for an M12 with friction
    0.12, by 0.1 to 1.2 % for most threads and friction of 0.08 to 0.4.

    Examples
    --------
    M12 with friction 0.12: nut factor 0.162.

    >>> round(torque_per_preload(1.75, 10.863, 0.12, 0.12, 15.065) / 12, 5)
    0.16187
    """
    return (
        thread_torque_per_preload(pitch, pitch_diameter, thread_friction)
        + bearing_friction * bearing_diameter / 2
    )


def torque_per_preload_from_nut_factor(nut_factor: FloatLike, diameter: FloatLike) -> FloatLike:
    """Tightening torque for each newton of preload from a nut factor.

    Parameters
    ----------
    nut_factor : float or ndarray
        K of ``T = K F d``.
    diameter : float or ndarray
        Nominal diameter d [mm].

    Returns
    -------
    float or ndarray
        ``K d`` [mm], Shigley, 9th ed., eq. 8-27.

    Examples
    --------
    Shigley, 9th ed., Ex. 8-3b, p. 440: 3750 lbf·in for 25 kip on 3/4 in at K = 0.2.

    >>> round(25_000 * torque_per_preload_from_nut_factor(0.2, 0.75), 6)
    3750.0
    """
    return nut_factor * diameter


def preload_from_torque(
    torque: FloatLike, torque_per_preload: FloatLike, prevailing_torque: FloatLike
) -> FloatLike:
    """Preload that a tightening torque makes.

    Parameters
    ----------
    torque, prevailing_torque : float or ndarray
        Tightening torque T and the part T_p of it that turns the nut without preload [N·mm].
    torque_per_preload : float or ndarray
        The bracket of the torque equation [mm].

    Returns
    -------
    float or ndarray
        ``(T - T_p) / bracket`` [N]. Not limited by yield; negative where the torque cannot turn
        the nut against its prevailing torque, which is no preload at all.

    Examples
    --------
    Mechanical Fastening, Joining, and Assembly, p. 85: 48.5 lbf·in on 0.190 in at K = 0.20 make
    1275 lbf.

    >>> round(preload_from_torque(48.45, 0.20 * 0.190, 0.0))
    1275
    """
    return (torque - prevailing_torque) / torque_per_preload


def equal_friction_from_torque_per_preload(
    torque_per_preload: FloatLike,
    pitch: FloatLike,
    pitch_diameter: FloatLike,
    bearing_diameter: FloatLike,
) -> FloatLike:
    """Friction coefficient that, equal in thread and seat, explains a torque per preload.

    Parameters
    ----------
    torque_per_preload : float or ndarray
        The bracket of the torque equation [mm].
    pitch, pitch_diameter, bearing_diameter : float or ndarray
        P, d2 and Db [mm].

    Returns
    -------
    float or ndarray
        The root of ``d2/2 tan(phi + rho') + mu Db/2 = bracket``, which is quadratic in mu;
        negative where the bracket is below the pitch term, which no friction explains.

    Examples
    --------
    M12 with a bracket of 0.16187 · 12 mm has a total friction of 0.12:

    >>> round(float(equal_friction_from_torque_per_preload(0.16187 * 12, 1.75, 10.863, 15.065)), 4)
    0.12
    """
    # k (t + q mu)/(1 - t q mu) + h mu = B with t = tan phi, q = 1/cos 30° is
    # h t q mu² - (k q + h + B t q) mu + (B - k t) = 0. The smaller root is the one below the
    # friction 1/(t q), at which no torque turns the nut any more.
    k, h = pitch_diameter / 2, bearing_diameter / 2
    lead = pitch / (math.pi * pitch_diameter)
    steep = lead / COS_HALF_FLANK_ANGLE
    linear = k / COS_HALF_FLANK_ANGLE + h + torque_per_preload * steep
    constant = torque_per_preload - k * lead
    root: FloatLike = np.sqrt(linear * linear - 4 * h * steep * constant)
    return 2 * constant / (linear + root)


def total_friction(
    torque: FloatLike,
    preload: FloatLike,
    pitch: FloatLike,
    pitch_diameter: FloatLike,
    bearing_diameter: FloatLike,
) -> FloatLike:
    """Total friction coefficient of a torque-tension test.

    Parameters
    ----------
    torque : float or ndarray
        Tightening torque T less any prevailing torque [N·mm].
    preload : float or ndarray
        F measured at that torque [N].
    pitch, pitch_diameter, bearing_diameter : float or ndarray
        P, d2 and Db [mm].

    Returns
    -------
    float or ndarray
        The friction, equal in thread and seat, that explains T/F.

    Notes
    -----
    ISO 16047:2005 evaluates it by its linear thread torque (formula from memory),
    ``(T/F - P/(2 pi)) / (0.577 d2 + 0.5 Db)``, which comes out 0.2 to 0.8 % higher for coarse
    threads and friction of 0.08 to 0.2: 0.1213 in the example.

    Examples
    --------
    M12 tightened to 43 kN by 84 N·m:

    >>> round(float(total_friction(84_000.0, 43_000.0, 1.75, 10.863, 15.065)), 4)
    0.1208
    """
    return equal_friction_from_torque_per_preload(
        torque / preload, pitch, pitch_diameter, bearing_diameter
    )


def thread_torque(
    preload: FloatLike,
    pitch: FloatLike,
    pitch_diameter: FloatLike,
    thread_friction: FloatLike,
    prevailing_torque: FloatLike,
) -> FloatLike:
    """Torque that twists the shank while the nut or head is turned.

    Parameters
    ----------
    preload : float or ndarray
        F [N].
    pitch, pitch_diameter : float or ndarray
        P and d2 [mm].
    thread_friction : float or ndarray
        mu_t.
    prevailing_torque : float or ndarray
        T_p [N·mm], which acts in the thread as well.

    Returns
    -------
    float or ndarray
        ``F d2/2 tan(phi + rho') + T_p`` [N·mm].

    Examples
    --------
    >>> round(thread_torque(40_000.0, 1.75, 10.863, 0.12, 0.0))
    41540
    """
    arm = thread_torque_per_preload(pitch, pitch_diameter, thread_friction)
    return preload * arm + prevailing_torque


def release_torque_per_preload(
    torque_per_preload: FloatLike,
    pitch: FloatLike,
    pitch_diameter: FloatLike,
    thread_friction: FloatLike,
) -> FloatLike:
    """Torque that turns a tightened nut back, for each newton of preload.

    Parameters
    ----------
    torque_per_preload : float or ndarray
        The bracket of the torque equation [mm].
    pitch, pitch_diameter : float or ndarray
        P and d2 [mm].
    thread_friction : float or ndarray
        mu_t.

    Returns
    -------
    float or ndarray
        The bracket with ``d2/2 tan(rho' - phi)`` in place of ``d2/2 tan(rho' + phi)`` [mm];
        negative where the joint backs off by itself.

    Notes
    -----
    Shigley, 9th ed., eqs. 8-1 and 8-2. The linear form, ``P/pi`` off the linear bracket, is 0.2 %
    higher for an M12 with friction 0.12 and 0.7 % higher with friction 0.3. Friction at rest may
    differ from friction while turning.

    Examples
    --------
    M12, friction 0.12: 71 % of the tightening torque.

    >>> bracket = torque_per_preload(1.75, 10.863, 0.12, 0.12, 15.065)
    >>> round(release_torque_per_preload(bracket, 1.75, 10.863, 0.12) / bracket, 3)
    0.708
    """
    on = thread_torque_per_preload(pitch, pitch_diameter, thread_friction)
    back = -thread_torque_per_preload(pitch, pitch_diameter, -thread_friction)
    return torque_per_preload - on + back


@dataclass(frozen=True, slots=True)
class TorqueShares:
    """Parts of the tightening torque (without prevailing torque) that sum to one."""

    pitch: FloatLike
    thread: FloatLike
    bearing: FloatLike


def torque_shares(
    torque_per_preload: FloatLike,
    pitch: FloatLike,
    pitch_diameter: FloatLike,
    thread_friction: FloatLike,
) -> TorqueShares:
    """How the torque divides: stretching the fastener, thread friction, bearing friction.

    Parameters
    ----------
    torque_per_preload : float or ndarray
        The bracket of the torque equation [mm].
    pitch, pitch_diameter : float or ndarray
        P and d2 [mm].
    thread_friction : float or ndarray
        mu_t.

    Returns
    -------
    TorqueShares
        ``P/(2 pi)`` over the bracket, what `thread_torque_per_preload` has beyond it, and the rest.

    Examples
    --------
    >>> bracket = torque_per_preload(1.75, 10.863, 0.12, 0.12, 15.065)
    >>> shares = torque_shares(bracket, 1.75, 10.863, 0.12)
    >>> round(shares.pitch, 4), round(shares.thread, 4), round(shares.bearing, 4)
    (0.1434, 0.3913, 0.4653)
    """
    of_pitch = pitch / (2 * math.pi) / torque_per_preload
    of_thread = (
        thread_torque_per_preload(pitch, pitch_diameter, thread_friction) / torque_per_preload
        - of_pitch
    )
    return TorqueShares(of_pitch, of_thread, 1.0 - of_pitch - of_thread)
