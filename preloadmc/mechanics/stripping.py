"""Stripping of the engaged threads: shear areas, and the force at which one side lets go."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.units import FloatLike

TAN_HALF_FLANK_ANGLE = math.tan(math.radians(30.0))

# Of the pitch: what the chamfers take of an engagement, VDI 2230-1:2003 (from memory).
CHAMFERS = 0.8
# Shear over tensile strength of steel; Alexander 1977 and VDI 2230-1:2003 (value from memory).
STEEL_SHEAR_RATIO = 0.6
STEEL_SHEAR_RATIO_SOURCE = "VDI 2230-1:2003, shear over tensile strength (value from memory)"


def effective_engagement(engagement: FloatLike, pitch: FloatLike) -> FloatLike:
    """Length of engagement that carries, less the chamfers.

    Parameters
    ----------
    engagement, pitch : float or ndarray
        Nut height or screwed depth m, and P [mm].

    Returns
    -------
    float or ndarray
        ``m - 0.8 P`` [mm], VDI 2230-1:2003 (from memory).

    Examples
    --------
    >>> effective_engagement(10.8, 1.75)
    9.4
    """
    return engagement - CHAMFERS * pitch


def external_shear_area(
    engagement: FloatLike,
    pitch: FloatLike,
    internal_minor_diameter: FloatLike,
    pitch_diameter: FloatLike,
) -> FloatLike:
    """Area along which the fastener's thread shears off at the nut's minor diameter.

    Parameters
    ----------
    engagement, pitch : float or ndarray
        Effective engagement L_e and P [mm].
    internal_minor_diameter : float or ndarray
        D1 of the nut; its largest for the smallest area [mm].
    pitch_diameter : float or ndarray
        d2 of the fastener; its smallest for the smallest area [mm].

    Returns
    -------
    float or ndarray
        ``pi D1 L_e/P [P/2 + (d2 - D1) tan 30°]`` [mm²].

    Notes
    -----
    FED-STD-H28/2B and ISO 898 practice (E. M. Alexander, SAE paper 770420, 1977); formula from
    memory. Basic diameters give an area that no toleranced thread has: see `tolerance`.

    Examples
    --------
    On the basic profile the tooth is 3/4 of the pitch thick there:

    >>> round(external_shear_area(10.0, 1.75, 10.106, 10.863) / (math.pi * 10.106 * 10.0), 2)
    0.75
    """
    tooth = pitch / 2 + (pitch_diameter - internal_minor_diameter) * TAN_HALF_FLANK_ANGLE
    return math.pi * internal_minor_diameter * engagement / pitch * tooth


def internal_shear_area(
    engagement: FloatLike,
    pitch: FloatLike,
    diameter: FloatLike,
    internal_pitch_diameter: FloatLike,
) -> FloatLike:
    """Area along which the nut's thread shears off at the fastener's major diameter.

    Parameters
    ----------
    engagement, pitch : float or ndarray
        Effective engagement L_e and P [mm].
    diameter : float or ndarray
        d of the fastener; its smallest for the smallest area [mm].
    internal_pitch_diameter : float or ndarray
        D2 of the nut; its largest for the smallest area [mm].

    Returns
    -------
    float or ndarray
        ``pi d L_e/P [P/2 + (d - D2) tan 30°]`` [mm²].

    Notes
    -----
    As `external_shear_area`.

    Examples
    --------
    On the basic profile the tooth is 7/8 of the pitch thick there:

    >>> round(internal_shear_area(10.0, 1.75, 12.0, 10.863) / (math.pi * 12.0 * 10.0), 3)
    0.875
    """
    tooth = pitch / 2 + (diameter - internal_pitch_diameter) * TAN_HALF_FLANK_ANGLE
    return math.pi * diameter * engagement / pitch * tooth


def dilation_factor(width_across_flats: FloatLike, diameter: FloatLike) -> FloatLike:
    """Loss of stripping strength as the nut spreads.

    Parameters
    ----------
    width_across_flats, diameter : float or ndarray
        s of the nut and nominal d [mm].

    Returns
    -------
    float or ndarray
        ``C1 = 3.8 s/d - (s/d)² - 2.61``, for 1.4 <= s/d < 1.9; taken at 1.9 (1.0) for wider parts
        and tapped holes.

    Notes
    -----
    E. M. Alexander, SAE paper 770420 (1977), and VDI 2230-1:2003; from memory.

    Examples
    --------
    >>> round(float(dilation_factor(18.0, 12.0)), 2)
    0.84
    """
    slenderness: FloatLike = np.minimum(width_across_flats / diameter, 1.9)
    return 3.8 * slenderness - slenderness * slenderness - 2.61


def bending_factors(strength_ratio: FloatLike) -> tuple[FloatLike, FloatLike]:
    """Loss of stripping strength as the threads bend under each other.

    Parameters
    ----------
    strength_ratio : float or ndarray
        Shear capacity of the nut's thread over that of the fastener's, ``R_s = R_n A_n/(R_b A_b)``.

    Returns
    -------
    tuple of float or ndarray
        For the fastener's thread C2 (0.897 up to R_s = 1, then ``5.594 - 13.682 R + 14.107 R² -
        6.057 R³ + 0.9353 R⁴`` up to 2.2), for the nut's C3 (``0.728 + 1.769 R - 2.896 R² +
        1.296 R³`` from 0.4 up to 1, then 0.897). Beyond those ends the value at the end.

    Notes
    -----
    E. M. Alexander, SAE paper 770420 (1977), and VDI 2230-1:2003; from memory.

    Examples
    --------
    >>> fastener, nut = bending_factors(1.0)
    >>> round(float(fastener), 3), round(float(nut), 3)
    (0.897, 0.897)
    """
    strong: FloatLike = np.clip(strength_ratio, 1.0, 2.2)
    weak: FloatLike = np.clip(strength_ratio, 0.4, 1.0)
    fastener = 5.594 + strong * (-13.682 + strong * (14.107 + strong * (-6.057 + strong * 0.9353)))
    nut = 0.728 + weak * (1.769 + weak * (-2.896 + weak * 1.296))
    return fastener, nut


def stripping_force(
    external_area: FloatLike,
    internal_area: FloatLike,
    external_shear_strength: FloatLike,
    internal_shear_strength: FloatLike,
    dilation_factor: FloatLike,
) -> FloatLike:
    """Fastener force at which the weaker of the two threads strips.

    Parameters
    ----------
    external_area, internal_area : float or ndarray
        Shear areas of fastener and nut [mm²].
    external_shear_strength, internal_shear_strength : float or ndarray
        Shear strengths of fastener and nut, or of the tapped part [MPa].
    dilation_factor : float or ndarray
        C1.

    Returns
    -------
    float or ndarray
        ``C1 min(C2 tau_b A_b, C3 tau_n A_n)`` [N].

    Notes
    -----
    E. M. Alexander, SAE paper 770420 (1977), and VDI 2230-1:2003, Sec. 5.5.5; from memory.

    Examples
    --------
    >>> round(float(stripping_force(200.0, 260.0, 480.0, 390.0, 0.84)))
    73184
    """
    external = external_area * external_shear_strength
    internal = internal_area * internal_shear_strength
    on_fastener, on_nut = bending_factors(internal / external)
    weaker: FloatLike = np.minimum(on_fastener * external, on_nut * internal)
    return dilation_factor * weaker


def full_engagement(
    breaking_force: FloatLike,
    stripping_force: FloatLike,
    effective_engagement: FloatLike,
    pitch: FloatLike,
) -> FloatLike:
    """Length of engagement from which on the fastener breaks before its thread strips.

    Parameters
    ----------
    breaking_force : float or ndarray
        ``R_m A_0`` of the fastener, with the smallest section A_0 [N].
    stripping_force : float or ndarray
        Force at which the thread strips at some effective engagement [N].
    effective_engagement : float or ndarray
        That engagement L_e [mm].
    pitch : float or ndarray
        P [mm].

    Returns
    -------
    float or ndarray
        ``m = 0.8 P + L_e R_m A_0/F_strip`` [mm].

    Notes
    -----
    Solved from `effective_engagement` and `stripping_force`, and so from their sources: shear
    areas grow with the effective engagement and their ratio, on which C2 and C3 depend, does not.
    So the stripping force is ``F_strip m_e/L_e`` at any other effective engagement m_e, and equals
    ``R_m A_0`` at ``m_e = m - 0.8 P``. A fastener stronger than R_m asks for more.

    Examples
    --------
    An M12 that breaks at 67.4 kN and strips at 45 kN over 8 mm that carry:

    >>> round(full_engagement(67.4e3, 45e3, 8.0, 1.75), 2)
    13.38
    """
    return CHAMFERS * pitch + effective_engagement * breaking_force / stripping_force
