"""The joint under its working load: load factor, clamp force, fastener force, slip."""

from __future__ import annotations

import numpy as np

from preloadmc.units import FloatLike


def load_factor(
    fastener_compliance: FloatLike, clamped_compliance: FloatLike, load_introduction: FloatLike
) -> FloatLike:
    """Share of an axial working load that the fastener takes while the parts stay closed.

    Parameters
    ----------
    fastener_compliance, clamped_compliance : float or ndarray
        delta_S and delta_P [mm/N].
    load_introduction : float or ndarray
        Load introduction factor n: 1 where the load enters under head and nut, less where it
        enters nearer to the interface.

    Returns
    -------
    float or ndarray
        ``Phi = n delta_P/(delta_S + delta_P)``, VDI 2230-1:2003; with n = 1 the stiffness constant
        C of Shigley, 9th ed., eq. (f), p. 436.

    Examples
    --------
    Shigley, 9th ed., Ex. 8-3a, p. 439: 6.5 and 13.8 Mlbf/in give C = 0.320.

    >>> round(load_factor(1 / 6.5, 1 / 13.8, 1.0), 3)
    0.32
    """
    return load_introduction * clamped_compliance / (fastener_compliance + clamped_compliance)


def clamp_force(preload: FloatLike, axial_load: FloatLike, load_factor: FloatLike) -> FloatLike:
    """Force that still presses the parts together under an axial load.

    Parameters
    ----------
    preload, axial_load : float or ndarray
        F and F_A per fastener [N]; a positive load pulls the parts apart.
    load_factor : float or ndarray
        Phi.

    Returns
    -------
    float or ndarray
        ``F_S - F_A`` [N] with `fastener_force`: ``F - (1 - Phi) F_A``, Shigley, 9th ed., eq. 8-25,
        while the parts stay closed, and none once they have separated.

    Examples
    --------
    >>> float(clamp_force(25_000.0, 6_000.0, 0.25)), float(clamp_force(25_000.0, 60_000.0, 0.25))
    (20500.0, 0.0)
    """
    return fastener_force(preload, axial_load, load_factor) - axial_load


def fastener_force(preload: FloatLike, axial_load: FloatLike, load_factor: FloatLike) -> FloatLike:
    """Tension of the fastener under an axial load, with the parts closed or separated.

    Parameters
    ----------
    preload, axial_load : float or ndarray
        F and F_A per fastener [N].
    load_factor : float or ndarray
        Phi.

    Returns
    -------
    float or ndarray
        ``max(F + Phi F_A, F_A, 0)`` [N]: Shigley, 9th ed., eq. 8-24, while the parts stay closed.
        Once they have separated nothing but the fastener carries the load (equilibrium), and a
        fastener that is pressed slack carries none.

    Examples
    --------
    Shigley, 9th ed., Ex. 8-3a, p. 439: 72.17 kpsi on 0.373 in².

    >>> round(float(fastener_force(25.0, 6.0, 0.320)) / 0.373, 2)
    72.17

    A load of 60 kN separates the parts that 25 kN clamped.

    >>> float(fastener_force(25.0, 60.0, 0.320))
    60.0
    """
    force: FloatLike = np.maximum(preload + load_factor * axial_load, np.maximum(axial_load, 0.0))
    return force


def preload_at_fastener_force(
    fastener_force: FloatLike, axial_load: FloatLike, load_factor: FloatLike
) -> FloatLike:
    """Preload at which the fastener reaches a force under an axial load.

    Parameters
    ----------
    fastener_force, axial_load : float or ndarray
        The force to be reached, and F_A [N].
    load_factor : float or ndarray
        Phi.

    Returns
    -------
    float or ndarray
        ``F_S - Phi F_A`` [N], the inverse of `fastener_force`; where the load alone is larger than
        that force, ``F_S - F_A``, below zero: any preload is too much.

    Examples
    --------
    >>> float(preload_at_fastener_force(26.5, 6.0, 0.25))
    25.0
    """
    preload: FloatLike = np.where(
        np.asarray(axial_load) > fastener_force,
        fastener_force - axial_load,
        fastener_force - load_factor * axial_load,
    )
    return preload


def preload_for_no_slip(
    transverse_load: FloatLike,
    joint_friction: FloatLike,
    slip_faces: FloatLike,
    axial_load: FloatLike,
    load_factor: FloatLike,
) -> FloatLike:
    """Smallest preload at which the parts do not slip.

    Parameters
    ----------
    transverse_load, axial_load : float or ndarray
        F_Q and F_A per fastener [N].
    joint_friction, slip_faces : float or ndarray
        mu_joint and the number of interfaces that would have to slip.
    load_factor : float or ndarray
        Phi.

    Returns
    -------
    float or ndarray
        ``F_Q/(mu_joint n) + (1 - Phi) F_A`` [N], VDI 2230-1:2003, step R2 (from memory).

    Examples
    --------
    >>> preload_for_no_slip(3_000.0, 0.25, 1, 4_000.0, 0.25)
    15000.0
    """
    return transverse_load / (joint_friction * slip_faces) + (1 - load_factor) * axial_load


def preload_for_no_separation(axial_load: FloatLike, load_factor: FloatLike) -> FloatLike:
    """Smallest preload at which the parts stay in touch.

    Parameters
    ----------
    axial_load : float or ndarray
        F_A per fastener [N].
    load_factor : float or ndarray
        Phi.

    Returns
    -------
    float or ndarray
        ``(1 - Phi) F_A`` [N], Shigley, 9th ed., eq. 8-30 with a factor of one.

    Examples
    --------
    >>> preload_for_no_separation(80_000.0, 0.25)
    60000.0
    """
    return (1 - load_factor) * axial_load
