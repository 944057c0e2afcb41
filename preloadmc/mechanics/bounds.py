"""Largest and smallest preload the deterministic way, from a stated scatter."""

from __future__ import annotations

import numpy as np

from preloadmc.units import FloatLike


def scatter_half_width(scatter_ratio: FloatLike) -> FloatLike:
    """Half-width of the band about its middle that a scatter ratio stands for.

    Parameters
    ----------
    scatter_ratio : float or ndarray
        ``alpha_A = F_max/F_min``.

    Returns
    -------
    float or ndarray
        ``(alpha_A - 1)/(alpha_A + 1)`` of the middle preload.

    Examples
    --------
    VDI 2230-1:2001: alpha_A of 1.2 to 4 is 9 % to 60 %.

    >>> round(scatter_half_width(1.2), 3), round(scatter_half_width(4.0), 3)
    (0.091, 0.6)
    """
    return (scatter_ratio - 1) / (scatter_ratio + 1)


def scatter_ratio_of_half_width(half_width: FloatLike) -> FloatLike:
    """Scatter ratio of a band given by its half-width.

    Parameters
    ----------
    half_width : float or ndarray
        Share of the middle preload, below 1.

    Returns
    -------
    float or ndarray
        ``(1 + u)/(1 - u)``.

    Examples
    --------
    >>> round(scatter_ratio_of_half_width(0.25), 2)
    1.67
    """
    return (1 + half_width) / (1 - half_width)


def smallest_from_scatter_ratio(largest: FloatLike, scatter_ratio: FloatLike) -> FloatLike:
    """Smallest assembled preload where the largest one is what the fastener may carry.

    Parameters
    ----------
    largest : float or ndarray
        F_Mmax [N].
    scatter_ratio : float or ndarray
        alpha_A.

    Returns
    -------
    float or ndarray
        ``F_Mmin = F_Mmax/alpha_A`` [N], VDI 2230-1:2003.

    Examples
    --------
    VDI 2230-1:2015, a worked example: 41.9 kN and 1.8 leave 23.3 kN.

    >>> round(smallest_from_scatter_ratio(41.9, 1.8), 1)
    23.3
    """
    return largest / scatter_ratio


def largest_preload(
    nominal: FloatLike,
    uncertainty: FloatLike,
    control_high: FloatLike,
    thermal_gain: FloatLike,
) -> FloatLike:
    """Largest preload in the manner of NASA-STD-5020.

    Parameters
    ----------
    nominal : float or ndarray
        Nominal assembled preload [N].
    uncertainty : float or ndarray
        Gamma: 0.35 unlubricated or as received, 0.25 lubricated, or from tests.
    control_high : float or ndarray
        Largest over nominal controlled parameter, 1.05 for a torque within 5 %.
    thermal_gain : float or ndarray
        Preload gained with temperature, or zero [N].

    Returns
    -------
    float or ndarray
        ``c_max (1 + Gamma) P_nom + P_thermal`` [N], NASA-STD-5020A, Sec. 4.3 (form from memory).

    Examples
    --------
    >>> round(largest_preload(10e3, 0.25, 1.05, 500.0))
    13625
    """
    return control_high * (1 + uncertainty) * nominal + thermal_gain


def smallest_preload(
    nominal: FloatLike,
    uncertainty: FloatLike,
    control_low: FloatLike,
    averaged_fasteners: FloatLike,
    relaxation_loss: FloatLike,
    creep_loss: FloatLike,
    thermal_loss: FloatLike,
) -> FloatLike:
    """Smallest preload in the manner of NASA-STD-5020.

    Parameters
    ----------
    nominal : float or ndarray
        Nominal assembled preload [N].
    uncertainty : float or ndarray
        Gamma, as for `largest_preload`.
    control_low : float or ndarray
        Smallest over nominal controlled parameter, 0.95 for a torque within 5 %.
    averaged_fasteners : float or ndarray
        1 where separation of one fastener is critical; else the number in the joint n_f, which
        supposes that their errors are independent: a shared lot or tool breaks it.
    relaxation_loss, creep_loss, thermal_loss : float or ndarray
        Preload lost by relaxation (at least 5 % where not tested), creep and temperature [N].

    Returns
    -------
    float or ndarray
        ``c_min (1 - Gamma/sqrt(n_f)) P_nom - P_r - P_c - P_thermal`` [N], NASA-STD-5020A,
        Sec. 4.3 (form from memory).

    Examples
    --------
    >>> round(smallest_preload(10e3, 0.25, 0.95, 1, 356.0, 0.0, 0.0))
    6769
    """
    initial = control_low * (1 - uncertainty / np.sqrt(averaged_fasteners)) * nominal
    return initial - relaxation_loss - creep_loss - thermal_loss
