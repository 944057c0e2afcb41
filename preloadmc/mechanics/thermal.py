"""Preload at another temperature: unequal growth of parts and fastener, and softer materials."""

from __future__ import annotations

from collections.abc import Sequence

from preloadmc.units import FloatLike


def thermal_growth(
    expansions: Sequence[FloatLike],
    lengths: Sequence[FloatLike],
    temperature_changes: Sequence[FloatLike],
) -> FloatLike:
    """Free growth of a stack of layers, or of the segments of a fastener.

    Parameters
    ----------
    expansions, lengths, temperature_changes : sequence of float or ndarray
        For each layer the coefficient of expansion [1/K], the length at assembly [mm] and the
        change of its temperature from the assembly temperature [K].

    Returns
    -------
    float or ndarray
        ``sum alpha_i l_i dT_i`` [mm].

    Examples
    --------
    >>> round(thermal_growth([23.6e-6, 11.7e-6], [30.0, 10.0], [80.0, 80.0]), 5)
    0.066
    """
    growth: FloatLike = 0.0
    for expansion, length, change in zip(expansions, lengths, temperature_changes, strict=True):
        growth = growth + expansion * length * change
    return growth


def preload_at_temperature(
    preload: FloatLike,
    assembly_compliance: FloatLike,
    compliance: FloatLike,
    clamped_growth: FloatLike,
    fastener_growth: FloatLike,
) -> FloatLike:
    """Preload of an elastic joint after fastener and parts change temperature.

    Parameters
    ----------
    preload : float or ndarray
        Preload at the assembly temperature [N].
    assembly_compliance, compliance : float or ndarray
        ``delta_S + delta_P`` at the assembly temperature and at the state's temperatures [mm/N].
    clamped_growth, fastener_growth : float or ndarray
        Free growth of the clamped stack and of the fastener over the grip [mm], see
        `thermal_growth`.

    Returns
    -------
    float or ndarray
        ``F delta(T_assembly)/delta(T) + (growth_P - growth_S)/delta(T)`` [N].

    Notes
    -----
    VDI 2230-1:2003, Sec. 5.4.2.3 (section from memory); the same spring form stands in the Bell
    Helicopter Structural Design Manual (1977). Elastic: neither yield nor creep.

    Examples
    --------
    Steel M10 (58 mm², 205 GPa) through 40 mm of aluminium sleeve (300 mm², 70 GPa), 80 K warmer:
    closed form 7227 N more.

    >>> fastener, sleeve = 40 / (205e3 * 58), 40 / (70e3 * 300)
    >>> growth = thermal_growth([23.6e-6], [40.0], [80.0])
    >>> stretch = thermal_growth([11.7e-6], [40.0], [80.0])
    >>> round(preload_at_temperature(0.0, fastener + sleeve, fastener + sleeve, growth, stretch))
    7227
    """
    return (preload * assembly_compliance + clamped_growth - fastener_growth) / compliance
