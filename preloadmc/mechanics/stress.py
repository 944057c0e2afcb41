"""Tension with torsion: the preload at which the fastener yields, or breaks, while tightened."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.mechanics.tightening import thread_torque_per_preload
from preloadmc.units import FloatLike

# Torque over shear stress: pi d³/16 elastic (first yield at the surface), pi d³/12 fully plastic.
_PLASTIC_SECTION = 12.0
_ELASTIC_SECTION = 16.0


def yield_preload(
    stress_area: FloatLike,
    stress_diameter: FloatLike,
    pitch: FloatLike,
    pitch_diameter: FloatLike,
    thread_friction: FloatLike,
    yield_strength: FloatLike,
    prevailing_torque: FloatLike,
    torsion_share: FloatLike,
) -> FloatLike:
    """Preload at which tension and torsion together reach yield over the whole section.

    Parameters
    ----------
    stress_area, stress_diameter : float or ndarray
        Smallest section: As [mm²] and d0 [mm].
    pitch, pitch_diameter : float or ndarray
        P and d2 [mm].
    thread_friction : float or ndarray
        mu_t.
    yield_strength : float or ndarray
        Rp0.2 [MPa].
    prevailing_torque : float or ndarray
        T_p, carried by the shank [N·mm].
    torsion_share : float or ndarray
        Share of the thread torque that twists the section: 1 while tightening, 0.5 in later
        states (from memory of VDI 2230), 0 for hydraulic tensioning.

    Returns
    -------
    float or ndarray
        F [N] that solves ``(F/As)² + 3 tau² = Rp0.2²`` with the shear stress of a fully plastic
        circle, ``tau = share · 12 T_th/(pi d0³)``, and
        ``T_th = F d2/2 tan(phi + rho') + T_p``. Where the prevailing torque alone
        would twist the section to yield, a value of zero or less.

    Notes
    -----
    With T_p = 0, full torsion and the linear thread torque it is the expression of
    VDI 2230-1:2003 (from memory)::

        As Rp0.2 / sqrt(1 + 3 [1.5 d2/d0 (P/(pi d2) + 1.155 mu_t)]²)

    which is higher, on the unsafe side: by 0.1 to 0.2 % for friction 0.12, by 0.5 to 1.2 % for 0.3.
    Of the 54 preloads printed for fine threads from M8 to M24 (VDI 2230:2001) the form used here
    meets 51 to the last digit, the linear one 32.

    With the tensile strength in place of yield it is where the fastener breaks while it is
    tightened. Between yield and that capacity the torque equation is equilibrium and holds
    unchanged; beyond it no preload balances the torque. The equivalent (von Mises) stress at
    fracture is taken as Rm, an idealisation: tests of threads under tension with torsion scatter
    about it.

    Examples
    --------
    VDI 2230-1:2003, Table A2 (fine threads): M10x1.25, class 8.8, mu = 0.12, 90 % of 640 MPa:
    31.6 kN.

    >>> round(float(yield_preload(61.20, 8.827, 1.25, 9.188, 0.12, 0.9 * 640, 0.0, 1.0)), -2)
    31600.0
    """
    # Root F of F² + (c (F b + T_p))² = (As R)², c = sqrt(3) share As 12/(pi d0³), b = T_th/F.
    scale = (math.sqrt(3) * _PLASTIC_SECTION / math.pi) * torsion_share * stress_area
    scale = scale / (stress_diameter * stress_diameter * stress_diameter)
    # In place on fresh arrays from here on: this runs once for every sample.
    twist = scale * thread_torque_per_preload(pitch, pitch_diameter, thread_friction)
    root = stress_area * yield_strength
    if isinstance(prevailing_torque, int | float) and prevailing_torque == 0:
        twist *= twist
        twist += 1
        twist **= 0.5
        root /= twist
        return root
    still = scale * prevailing_torque
    quadratic = twist * twist
    quadratic += 1
    root *= root
    root *= quadratic
    root -= still * still
    # Below zero the prevailing torque alone exceeds the section: the preload stays finite there.
    root = np.maximum(root, 0.0)
    root **= 0.5
    twist *= still
    root -= twist
    root /= quadratic
    return root


def equivalent_stress(
    tension: FloatLike,
    thread_torque: FloatLike,
    stress_area: FloatLike,
    stress_diameter: FloatLike,
    torsion_share: FloatLike,
) -> FloatLike:
    """Von Mises stress of the smallest section, torsion taken over a fully plastic circle.

    Parameters
    ----------
    tension : float or ndarray
        Fastener force [N].
    thread_torque : float or ndarray
        Torque of tightening in the shank [N·mm].
    stress_area, stress_diameter : float or ndarray
        As [mm²] and d0 [mm].
    torsion_share : float or ndarray
        Share of that torque still in the shank: 1 while tightening, 0.5 later (from memory of
        VDI 2230).

    Returns
    -------
    float or ndarray
        ``sqrt((F/As)² + 3 (share · 12 T_th/(pi d0³))²)`` [MPa].

    Notes
    -----
    The same criterion as `yield_preload`, so that both reach yield together. For service see
    `surface_stress`, which is the higher one.

    Examples
    --------
    Shigley, 9th ed., Ex. 8-3a, p. 439 (no torsion): 25 kip on 0.373 in² is 67.02 kpsi.

    >>> round(float(equivalent_stress(25.0, 0.0, 0.373, 0.689, 0.0)), 2)
    67.02
    """
    return _combined_stress(
        _PLASTIC_SECTION, tension, thread_torque, stress_area, stress_diameter, torsion_share
    )


def surface_stress(
    tension: FloatLike,
    thread_torque: FloatLike,
    stress_area: FloatLike,
    stress_diameter: FloatLike,
    torsion_share: FloatLike,
) -> FloatLike:
    """Von Mises stress at the surface of the smallest section: elastic torsion.

    Parameters
    ----------
    tension, thread_torque, stress_area, stress_diameter, torsion_share : float or ndarray
        As for `equivalent_stress`.

    Returns
    -------
    float or ndarray
        ``sqrt((F/As)² + 3 (share · 16 T_th/(pi d0³))²)`` [MPa].

    Notes
    -----
    VDI 2230-1:2003, step R8 (from memory), with half the torque of tightening in service. At the
    same share 2 to 3 % above `equivalent_stress` at ordinary friction: the more cautious of the
    two, for a fastener that is loaded again and again.

    Examples
    --------
    Torsion alone, full share: sqrt(3) times the shear stress ``16 T/(pi d³)``.

    >>> round(float(surface_stress(0.0, 41_245.0, 84.27, 10.358, 1.0)))
    327
    """
    return _combined_stress(
        _ELASTIC_SECTION, tension, thread_torque, stress_area, stress_diameter, torsion_share
    )


def tension_at_surface_stress(
    stress: FloatLike,
    thread_torque: FloatLike,
    stress_area: FloatLike,
    stress_diameter: FloatLike,
    torsion_share: FloatLike,
) -> FloatLike:
    """Fastener force at which `surface_stress` reaches a stress: its inverse.

    Parameters
    ----------
    stress : float or ndarray
        R, such as the yield strength [MPa].
    thread_torque, stress_area, stress_diameter, torsion_share : float or ndarray
        As for `equivalent_stress`.

    Returns
    -------
    float or ndarray
        ``As sqrt(R² - 3 (share · 16 T_th/(pi d0³))²)`` [N]; 0 where torsion alone reaches R.

    Examples
    --------
    A shear stress of 60/sqrt(3) MPa leaves 80 of 100 MPa to tension.

    >>> torque = 60 / 3**0.5 * 3.141592653589793 * 10**3 / 16
    >>> round(float(tension_at_surface_stress(100.0, torque, 50.0, 10.0, 1.0)), 9)
    4000.0
    """
    shear = torsion_share * _ELASTIC_SECTION * thread_torque / (math.pi * stress_diameter**3)
    tension: FloatLike = stress_area * np.sqrt(np.maximum(stress * stress - 3 * shear * shear, 0.0))
    return tension


def _combined_stress(
    section: float,
    tension: FloatLike,
    thread_torque: FloatLike,
    stress_area: FloatLike,
    stress_diameter: FloatLike,
    torsion_share: FloatLike,
) -> FloatLike:
    shear = torsion_share * section * thread_torque / (math.pi * stress_diameter**3)
    normal = tension / stress_area
    stress: FloatLike = np.sqrt(normal * normal + 3 * shear * shear)
    return stress
