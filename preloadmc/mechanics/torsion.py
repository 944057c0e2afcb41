"""Wind-up: how far the torque in the thread twists the shank, and what that takes of a turn."""

from __future__ import annotations

import math
from collections.abc import Sequence

from preloadmc.mechanics.fastener import Segment
from preloadmc.units import FloatLike

# Of steel. Fastener metals lie between 0.29 and 0.34, which changes the wind-up by 3 % at most.
POISSON_RATIO = 0.3
POISSON_SOURCE = "EN 1993-1-1:2005, Sec. 3.2.6, for steel (value from memory)"
TWIST_SOURCE = "torsion of round sections, Shigley, 9th ed., eq. 3-35 (number from memory)"


def shear_modulus(modulus: FloatLike, poisson_ratio: float) -> FloatLike:
    """Shear modulus of an isotropic material.

    Parameters
    ----------
    modulus : float or ndarray
        E [MPa].
    poisson_ratio : float
        nu.

    Returns
    -------
    float or ndarray
        ``G = E/(2(1 + nu))`` [MPa].

    Examples
    --------
    EN 1993-1-1:2005, Sec. 3.2.6: about 81 000 MPa for 210 000 MPa and 0.3.

    >>> round(shear_modulus(210e3, 0.3), -3)
    81000.0
    """
    return modulus / (2 * (1 + poisson_ratio))


def torsional_compliance(segments: Sequence[Segment], shear_modulus: FloatLike) -> FloatLike:
    """Twist of the shank between head and engaged thread for each newton millimetre of torque.

    Parameters
    ----------
    segments : sequence of Segment
        Round lengths that the torque passes one after the other: shanks and free thread.
    shear_modulus : float or ndarray
        G [MPa].

    Returns
    -------
    float or ndarray
        ``sum l/(G I_p)`` with ``I_p = pi d⁴/32 = A²/(2 pi)`` [rad/(N·mm)], Shigley, 9th ed.,
        eq. 3-35 (number from memory). Head and engaged thread are left out: the true twist is a
        little larger.

    Examples
    --------
    100 mm of 10 mm under 10 N·m, G = 80 GPa: 0.73 degrees.

    >>> rod = Segment(100.0, math.pi / 4 * 10.0**2)
    >>> round(math.degrees(10e3 * torsional_compliance([rod], 80e3)), 2)
    0.73
    """
    return sum(2 * math.pi * part.length / part.area**2 for part in segments) / shear_modulus


def wind_up_compliance(
    torsional_compliance: FloatLike, thread_torque_per_preload: FloatLike, pitch: FloatLike
) -> FloatLike:
    """Wind-up of the shank, as a compliance beside that of fastener and parts.

    Parameters
    ----------
    torsional_compliance : float or ndarray
        c_T, twist per torque between head and engaged thread [rad/(N·mm)].
    thread_torque_per_preload : float or ndarray
        a, torque in the thread for each newton of preload [mm].
    pitch : float or ndarray
        P [mm].

    Returns
    -------
    float or ndarray
        ``delta_w = c_T a P/(2 pi)`` [mm/N].

    Notes
    -----
    From first principles. Let one end of the fastener be held and the other turned by theta, nut
    against head; which of them turns makes no difference. The torque in the thread,
    ``T = a F + T_p``, twists the length between head and engaged thread by ``c_T T`` the same way
    as the nut turns. The nut runs up the helix by the rest of the turn alone, and what it runs up
    stretches the fastener and presses the parts:

    ``(theta - c_T T) P/(2 pi) = F (delta_S + delta_P)``.

    Between two states of one tightening the constant prevailing torque T_p drops out:

    ``dtheta P/(2 pi) = dF (delta_S + delta_P + c_T a P/(2 pi))``.

    So wind-up acts as one more spring in series. Without thread friction no work is lost and the
    torque times half the turn is the energy of stretch and twist together, which the relation
    meets: ``T theta/2 = F² (delta_S + delta_P)/2 + c_T T²/2`` with ``T = F P/(2 pi)``.

    The twist is elastic. Past yield the shank twists further than this, and the plastic elongation
    that follows from a turn is on the large side.

    Examples
    --------
    M12, 40 mm of free thread, thread friction 0.12 (a = 1.038 mm), G = 78.8 GPa: 0.159 um/kN,
    beside some 3 to 4 um/kN of fastener and parts.

    >>> free = Segment(40.0, 76.25)
    >>> twist = torsional_compliance([free], 78.8e3)
    >>> round(1e6 * wind_up_compliance(twist, 1.038, 1.75), 3)
    0.159
    """
    return torsional_compliance * thread_torque_per_preload * pitch / (2 * math.pi)
