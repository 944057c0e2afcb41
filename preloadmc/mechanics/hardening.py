"""The fastener past yield: how far its preload still rises, and how far it has stretched.

The law is bilinear: elastic up to the yield preload, then a straight line to the capacity at the
tensile strength, which is reached at a stated plastic elongation (linear isotropic hardening with
the von Mises criterion; an idealisation of every text on plasticity). Tension and torsion keep
their ratio while a fastener is tightened, so that yield and capacity in terms of preload carry the
hardening of the material over.
"""

from __future__ import annotations

import numpy as np

from preloadmc.units import FloatLike


def elongation_at_capacity(plastic_strain: FloatLike, length: FloatLike) -> FloatLike:
    """Plastic elongation of the fastener when it reaches its tensile strength.

    Parameters
    ----------
    plastic_strain : float or ndarray
        Plastic strain at the tensile strength. The standards give the elongation after fracture,
        which is larger: a generous value.
    length : float or ndarray
        Length of the weakest section within the grip: free thread or waist [mm].

    Returns
    -------
    float or ndarray
        ``strain · length`` [mm].

    Examples
    --------
    >>> round(elongation_at_capacity(0.05, 15.0), 3)
    0.75
    """
    return plastic_strain * length


def preload_past_yield(
    elastic_preload: FloatLike,
    yield_preload: FloatLike,
    capacity: FloatLike,
    total_compliance: FloatLike,
    elongation_at_capacity: FloatLike,
) -> FloatLike:
    """Preload of a fastener that is turned through a stated angle, elastic or beyond.

    Parameters
    ----------
    elastic_preload : float or ndarray
        Preload that the turn would make without yield [N].
    yield_preload, capacity : float or ndarray
        Preload at yield and at the tensile strength, with torsion [N].
    total_compliance : float or ndarray
        delta, what the turn works against [mm/N]: ``delta_S + delta_P``, with
        `torsion.wind_up_compliance` where that is known.
    elongation_at_capacity : float or ndarray
        Plastic elongation at the capacity u_m, above 0 [mm].

    Returns
    -------
    float or ndarray
        F_el up to yield; beyond, the F with ``(F - F_y) delta + (F - F_y)/h = (F_el - F_y) delta``
        and ``h = (F_m - F_y)/u_m``; not above the capacity F_m [N].

    Examples
    --------
    Equal slopes of joint and hardening: half of the excess is kept.

    >>> float(preload_past_yield(60e3, 50e3, 70e3, 1e-5, 0.2))
    55000.0
    """
    hardening = (capacity - yield_preload) / elongation_at_capacity
    stiff = hardening * total_compliance
    past = yield_preload + (elastic_preload - yield_preload) * (stiff / (1 + stiff))
    # Below yield the slope is below one, so that the elastic branch is the smaller.
    limited: FloatLike = np.minimum(np.minimum(elastic_preload, past), capacity)
    return limited


def plastic_elongation_from_excess(
    elastic_preload: FloatLike, preload: FloatLike, total_compliance: FloatLike
) -> FloatLike:
    """Plastic elongation of a fastener that a joint would have stretched to a higher preload.

    Parameters
    ----------
    elastic_preload : float or ndarray
        Preload that a turn, or heat, would make without yield [N].
    preload : float or ndarray
        Preload that is left: `preload_past_yield` after a turn, yield in a hot state [N].
    total_compliance : float or ndarray
        delta that it works against [mm/N]: as `preload_past_yield` takes it for a turn, that of
        the joint at its temperatures for a state.

    Returns
    -------
    float or ndarray
        ``(F_el - F) delta`` [mm]: what is not stored elastically. After a turn, the fastener has
        broken above the elongation at capacity.

    Examples
    --------
    >>> round(plastic_elongation_from_excess(60e3, 55e3, 1e-5), 9)
    0.05
    """
    return (elastic_preload - preload) * total_compliance


def plastic_elongation_from_preload(
    preload: FloatLike,
    yield_preload: FloatLike,
    capacity: FloatLike,
    elongation_at_capacity: FloatLike,
) -> FloatLike:
    """Plastic elongation of a fastener tightened to a preload by torque.

    Parameters
    ----------
    preload : float or ndarray
        Assembled preload, up to the capacity [N].
    yield_preload, capacity : float or ndarray
        Preload at yield and at the tensile strength, with torsion [N].
    elongation_at_capacity : float or ndarray
        u_m [mm].

    Returns
    -------
    float or ndarray
        ``u_m max(F - F_y, 0)/(F_m - F_y)`` [mm].

    Examples
    --------
    >>> float(plastic_elongation_from_preload(60e3, 50e3, 70e3, 0.2))
    0.1
    """
    past: FloatLike = np.maximum(preload - yield_preload, 0.0)
    return past * (elongation_at_capacity / (capacity - yield_preload))
