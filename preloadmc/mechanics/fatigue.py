"""Fatigue of the thread under an axial load that comes again and again: amplitude and endurance."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.mechanics.names import unknown_name
from preloadmc.units import FloatLike

VDI_SOURCE = "VDI 2230-1:2003, step R9 (from memory)"
TABLE_SOURCE = "Shigley, 9th ed., Table 8-17 (values from memory)"
# Cycles from which a steel thread bears for ever what it bears at all, VDI 2230-1:2003 (from
# memory).
ENDURANCE_CYCLES = 2e6
# Fewer are fatigue with plastic strain, for which no such line holds (VDI 2230-1:2003, from
# memory).
FEWEST_CYCLES = 10_000
# The rule for threads rolled after heat treatment holds for mean forces above this share of yield
# (VDI 2230-1:2003, from memory).
LEAST_MEAN_SHARE = 0.3

KPSI = 6.894757293168361
# Class or grade -> sizes above and up to [mm], fully corrected endurance limit [MPa].
_FULLY_CORRECTED = {
    "SAE J429 grade 5": ((0.25 * 25.4, 25.4, 18.6 * KPSI), (1.125 * 25.4, 38.1, 16.3 * KPSI)),
    "SAE J429 grade 7": ((0.25 * 25.4, 38.1, 20.6 * KPSI),),
    "SAE J429 grade 8": ((0.25 * 25.4, 38.1, 23.2 * KPSI),),
    "8.8": ((16.0, 36.0, 129.0),),
    "9.8": ((1.6, 16.0, 140.0),),
    "10.9": ((5.0, 36.0, 162.0),),
    "12.9": ((1.6, 36.0, 190.0),),
}


def stress_amplitude(
    largest_force: FloatLike, smallest_force: FloatLike, stress_area: FloatLike
) -> FloatLike:
    """Stress amplitude of a thread between both ends of a load range.

    Parameters
    ----------
    largest_force, smallest_force : float or ndarray
        Force of the fastener at either end of the load range [N], in any order.
    stress_area : float or ndarray
        As of the thread [mm²].

    Returns
    -------
    float or ndarray
        ``|F_So - F_Su|/(2 As)`` [MPa], Shigley, 9th ed., Sec. 8-11, and VDI 2230-1:2003, step R9
        (from memory). Older rules take the core section A_d3, which makes amplitude and limit
        larger alike.

    Examples
    --------
    Shigley, 9th ed., Problem 8-37: C 0.33 of 80 kN on 561 mm² beside 252.45 kN.

    >>> round(float(stress_amplitude(252_450 + 0.33 * 80_000, 252_450, 561.0)), 2)
    23.53
    """
    amplitude: FloatLike = np.abs(largest_force - smallest_force) / (2 * stress_area)
    return amplitude


def rolled_before_heat_treatment(diameter: FloatLike) -> FloatLike:
    """Endurance limit of a thread that is rolled before its heat treatment.

    Parameters
    ----------
    diameter : float or ndarray
        Nominal diameter d of the thread [mm].

    Returns
    -------
    float or ndarray
        ``sigma_ASV = 0.85 (150/d + 45)`` [MPa] on As, as an amplitude at any mean stress:
        VDI 2230-1:2003, step R9 (from memory), for classes 8.8 to 12.9.

    Examples
    --------
    >>> round(rolled_before_heat_treatment(10.0), 2)
    51.0
    """
    return 0.85 * (150.0 / diameter + 45.0)


def rolled_after_factor(mean_force: FloatLike, yield_force: FloatLike) -> FloatLike:
    """Endurance limit of a thread rolled after heat treatment over that of one rolled before.

    Parameters
    ----------
    mean_force : float or ndarray
        F_Sm, mean of the fastener's force over the load range [N].
    yield_force : float or ndarray
        F_0.2min: smallest yield strength times As [N].

    Returns
    -------
    float or ndarray
        ``2 - F_Sm/F_0.2min``, VDI 2230-1:2003, step R9 (from memory), for a share F_Sm/F_0.2min
        of 0.3 and more; below that as at 0.3.

    Examples
    --------
    >>> float(rolled_after_factor(70e3, 100e3)), float(rolled_after_factor(10e3, 100e3))
    (1.3, 1.7)
    """
    return 2.0 - np.maximum(mean_force / yield_force, LEAST_MEAN_SHARE)


def finite_life_factor(cycles: float, slope: float) -> float:
    """Amplitude that a thread bears for a number of cycles over its endurance limit.

    Parameters
    ----------
    cycles : float
        N, 10,000 or more.
    slope : float
        k, inverse slope of the line of amplitude against cycles, on logarithmic axes.

    Returns
    -------
    float
        ``(2e6/N)^(1/k)``, and 1 from 2e6 cycles on. VDI 2230-1:2003, step R9 (from memory): k = 3
        for threads rolled before heat treatment, 6 after it.

    Examples
    --------
    >>> round(finite_life_factor(250_000, 3.0), 12), finite_life_factor(1e7, 3.0)
    (2.0, 1.0)
    """
    return math.pow(max(ENDURANCE_CYCLES / cycles, 1.0), 1.0 / slope)


def goodman_amplitude(
    endurance_limit: FloatLike, tensile_strength: FloatLike, mean_stress: FloatLike
) -> FloatLike:
    """Amplitude that a thread bears at a mean stress, by the line of Goodman.

    Parameters
    ----------
    endurance_limit, tensile_strength, mean_stress : float or ndarray
        S_e under an alternating load, S_ut and sigma_m [MPa].

    Returns
    -------
    float or ndarray
        ``S_e (1 - sigma_m/S_ut)`` [MPa], Shigley, 9th ed., Sec. 8-11; below zero beyond S_ut.

    Examples
    --------
    >>> goodman_amplitude(129.0, 830.0, 415.0)
    64.5
    """
    return endurance_limit * (1.0 - mean_stress / tensile_strength)


def gerber_amplitude(
    endurance_limit: FloatLike, tensile_strength: FloatLike, mean_stress: FloatLike
) -> FloatLike:
    """Amplitude that a thread bears at a mean stress, by the parabola of Gerber.

    Parameters
    ----------
    endurance_limit, tensile_strength, mean_stress : float or ndarray
        S_e under an alternating load, S_ut and sigma_m [MPa].

    Returns
    -------
    float or ndarray
        ``S_e (1 - (sigma_m/S_ut)²)`` [MPa], Shigley, 9th ed., Sec. 8-11; below zero beyond S_ut.

    Examples
    --------
    Shigley, 9th ed., Problem 8-37: S_a 77.0 MPa where preload makes 450 MPa and the load adds as
    much to mean as to amplitude.

    >>> round(gerber_amplitude(129.0, 830.0, 450.0 + 77.0), 1)
    77.0
    """
    return endurance_limit * (1.0 - (mean_stress / tensile_strength) ** 2)


def fully_corrected_limit(grade: str, diameter: float) -> float:
    """Fully corrected endurance limit of a rolled thread under an alternating axial load.

    Parameters
    ----------
    grade : str
        Property class or grade, as `grades.grade` names it.
    diameter : float
        Nominal diameter [mm].

    Returns
    -------
    float
        S_e [MPa], with the notch of the thread in it: Shigley, 9th ed., Table 8-17 (from memory).

    Raises
    ------
    ValueError
        The table does not have the class, or not in that size.

    Examples
    --------
    >>> fully_corrected_limit("8.8", 30.0), round(fully_corrected_limit("SAE J429 grade 8", 19.05))
    (129.0, 160)
    """
    if grade not in _FULLY_CORRECTED:
        raise unknown_name("class or grade", grade, tuple(_FULLY_CORRECTED))
    rows = _FULLY_CORRECTED[grade]
    for least, most, limit in rows:
        if least - 1e-9 <= diameter <= most + 1e-9:
            return limit
    sizes = " and ".join(f"{least:.4g} to {most:.4g} mm" for least, most, _ in rows)
    raise ValueError(f"the table has {grade} from {sizes}, not {diameter:g} mm")


def fully_corrected_rows() -> tuple[tuple[str, float, float, float], ...]:
    """Rows of the table: class or grade, smallest and largest diameter [mm], limit [MPa]."""
    return tuple((name, *row) for name, rows in _FULLY_CORRECTED.items() for row in rows)
