"""Prevailing torques of locking nuts by standard, in N·mm."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.mechanics.names import unknown_name
from preloadmc.mechanics.thread import Thread

NMM_PER_LBF_INCH = 4.4482216152605 * 25.4


@dataclass(frozen=True, slots=True)
class PrevailingTorque:
    """Limits of a prevailing torque [N·mm]; None where the source has none.

    Parameters
    ----------
    largest_first_assembly : float or None
        Largest on first assembly.
    smallest_first_removal, smallest_fifth_removal : float or None
        Smallest on the first and on the fifth removal.
    source : str
        Standard, with its mark.
    """

    largest_first_assembly: float | None
    smallest_first_removal: float | None
    smallest_fifth_removal: float | None
    source: str


_ISO_SOURCE = "ISO 2320, classes 5 and 8 (value from memory)"
_ARMY_SOURCE = "US Army TM 9-6115-604-34, Table 1-3, minimum prevailing torque"

# Nominal diameter: first assembly at most, first and fifth removal at least, N·m.
_ISO = {
    "M6": (3.0, 0.45, 0.30),
    "M8": (6.0, 0.85, 0.60),
    "M10": (10.5, 1.5, 1.0),
    "M12": (15.5, 2.3, 1.6),
    "M16": (32.0, 4.5, 3.0),
    "M20": (54.0, 7.5, 5.3),
}
# Nominal size: smallest prevailing torque of all-metal and of nylon-insert nuts, lbf·in.
_INCH = {
    "1/4": (4.0, 4.0),
    "5/16": (5.0, 5.0),
    "3/8": (12.0, 9.0),
    "7/16": (15.0, 12.0),
    "1/2": (20.0, 15.0),
    "5/8": (34.0, 28.0),
    "3/4": (51.0, 43.0),
}
NUT_KINDS = ("all-metal", "insert")


def prevailing_torque(thread: Thread, nut_kind: str) -> PrevailingTorque:
    """Limits of the prevailing torque of a locking nut.

    Parameters
    ----------
    thread : Thread
        Thread of the nut; the tables go by its nominal size.
    nut_kind : {"all-metal", "insert"}
        How the nut locks: deformed thread, or non-metallic insert.

    Returns
    -------
    PrevailingTorque
        ISO 2320 for metric sizes (both kinds alike), the US Army's minima for inch sizes.

    Raises
    ------
    ValueError
        An unknown kind, or a size that the tables do not hold.

    Examples
    --------
    >>> from preloadmc.mechanics.thread import thread
    >>> prevailing_torque(thread("M12"), "insert").smallest_fifth_removal
    1600.0
    """
    if nut_kind not in NUT_KINDS:
        raise unknown_name("kind of locking nut", nut_kind, NUT_KINDS)
    size = thread.designation.split("x")[0].split("-")[0]
    if size in _ISO:
        assembly, first, fifth = (torque * 1e3 for torque in _ISO[size])
        return PrevailingTorque(assembly, first, fifth, _ISO_SOURCE)
    if size in _INCH:
        smallest = _INCH[size][NUT_KINDS.index(nut_kind)] * NMM_PER_LBF_INCH
        return PrevailingTorque(None, smallest, None, _ARMY_SOURCE)
    raise unknown_name("size of a locking nut", size, (*_ISO, *_INCH))
