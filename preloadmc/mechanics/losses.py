"""Preload lost after tightening: embedding, relaxation, rotation of the nut."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.mechanics.names import unknown_name
from preloadmc.units import FloatLike

EMBEDDING_SOURCE = "VDI 2230-1:2003, Table 5 (value from memory)"

# Embedding in µm, VDI 2230-1:2003, Table 5 (from memory): roughness class Rz and load direction
# -> thread, each head or nut seat, each inner interface.
_EMBEDDING = {
    ("below 10 um", "axial"): (3.0, 2.5, 1.5),
    ("below 10 um", "transverse"): (3.0, 3.0, 2.0),
    ("10 to 40 um", "axial"): (3.0, 3.0, 2.0),
    ("10 to 40 um", "transverse"): (3.0, 4.5, 2.5),
    ("40 to 160 um", "axial"): (3.0, 4.0, 3.0),
    ("40 to 160 um", "transverse"): (3.0, 6.5, 3.5),
}
ROUGHNESS_CLASSES = ("below 10 um", "10 to 40 um", "40 to 160 um")
LOAD_DIRECTIONS = ("axial", "transverse")

MM_PER_MICROMETRE = 1e-3


def embedding_total(
    roughness: str, load_direction: str, threads: int, seats: int, inner_interfaces: int
) -> float:
    """Guide value of embedding over the threads and all interfaces of a joint.

    Parameters
    ----------
    roughness : {"below 10 um", "10 to 40 um", "40 to 160 um"}
        Class of the roughness Rz of the interfaces.
    load_direction : {"axial", "transverse"}
        Direction of the working load; "transverse" also where both act.
    threads : int
        Engaged threads: 1, or 2 for a stud.
    seats : int
        Bearing seats: 2 for a through-bolt with nut, 1 for a fastener in a tapped hole.
    inner_interfaces : int
        Interfaces between the clamped parts, washers included.

    Returns
    -------
    float
        Sum over the threads, the seats and the inner interfaces [mm].

    Raises
    ------
    ValueError
        A word that the table does not know.

    Notes
    -----
    VDI 2230-1:2003, Table 5, values from memory; for bare steel, grip above about one diameter.
    Paint, coatings and soft gaskets come on top.

    Examples
    --------
    Through-bolt, one inner interface, Rz 16 µm, axial load: 3 + 2·3 + 2 = 11 µm.

    >>> round(embedding_total("10 to 40 um", "axial", 1, 2, 1), 6)
    0.011
    """
    if roughness not in ROUGHNESS_CLASSES:
        raise unknown_name("roughness class", roughness, ROUGHNESS_CLASSES)
    if load_direction not in LOAD_DIRECTIONS:
        raise unknown_name("load direction", load_direction, LOAD_DIRECTIONS)
    thread, seat, inner = _EMBEDDING[roughness, load_direction]
    return (threads * thread + seats * seat + inner_interfaces * inner) * MM_PER_MICROMETRE


def embedding_force(embedding: FloatLike, total_compliance: FloatLike) -> FloatLike:
    """Preload lost as the interfaces embed.

    Parameters
    ----------
    embedding : float or ndarray
        Total embedding f_Z over all interfaces [mm].
    total_compliance : float or ndarray
        ``delta_S + delta_P`` [mm/N].

    Returns
    -------
    float or ndarray
        ``F_Z = f_Z / (delta_S + delta_P)`` [N], VDI 2230-1:2003 (form from memory).

    Examples
    --------
    11 µm in the joint of `thermal.preload_at_temperature`: 2088 N.

    >>> round(embedding_force(0.011, 40 / (205e3 * 58) + 40 / (70e3 * 300)))
    2088
    """
    return embedding / total_compliance


def preload_after_settling(
    assembled: FloatLike, embedding_loss: FloatLike, relaxation: FloatLike
) -> FloatLike:
    """Preload of the settled joint.

    Parameters
    ----------
    assembled : float or ndarray
        Assembled preload [N].
    embedding_loss : float or ndarray
        Preload lost by embedding F_Z [N].
    relaxation : float or ndarray
        Share r of the embedded joint's preload that relaxes.

    Returns
    -------
    float or ndarray
        ``(F - F_Z)(1 - r)`` [N], not limited: below zero means that the joint would be loose.

    Examples
    --------
    >>> preload_after_settling(40_000.0, 2_000.0, 0.05)
    36100.0
    """
    return (assembled - embedding_loss) * (1 - relaxation)


def rotation_loss(
    back_rotation: FloatLike, pitch: FloatLike, total_compliance: FloatLike
) -> FloatLike:
    """Preload lost when the nut turns back.

    Parameters
    ----------
    back_rotation : float or ndarray
        Angle turned back relative to the fastener [rad].
    pitch : float or ndarray
        P [mm].
    total_compliance : float or ndarray
        ``delta_S + delta_P`` [mm/N].

    Returns
    -------
    float or ndarray
        ``angle/(2 pi) · P/(delta_S + delta_P)`` [N]: geometry of the helix on an elastic joint.

    Examples
    --------
    10° on pitch 1.75 mm with 5e-6 mm/N:

    >>> import math
    >>> round(rotation_loss(math.radians(10), 1.75, 5e-6))
    9722
    """
    return back_rotation / (2 * math.pi) * pitch / total_compliance


def not_below_zero(preload: FloatLike) -> FloatLike:
    """Preload of a state: a loose joint has none.

    Parameters
    ----------
    preload : float or ndarray
        Preload before the limit [N].

    Returns
    -------
    float or ndarray
        ``max(F, 0)`` [N].

    Examples
    --------
    >>> float(not_below_zero(-3.0))
    0.0
    """
    limited: FloatLike = np.maximum(preload, 0.0)
    return limited
