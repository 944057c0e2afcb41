"""Securing elements as data: what they do to torque, seats and loosening, each with its source."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.mechanics.names import unknown_name

LOOSENING_RULES = ("no slip", "prevailing torque", "ramp", "breakaway torque")

VIBRATION_TEST = (
    "performance under vibration is decided by a standard transverse-vibration test"
    " (DIN 25201-4, ISO 16130)"
)
_PRACTICE = "common practice, no published source"


@dataclass(frozen=True, slots=True)
class SecuringElement:
    """A securing element.

    Parameters
    ----------
    name : str
        Name to ask for.
    torque_ratio : float
        Tightening torque over that of a plain zinc-plated dry seat for the same preload, where
        practice states one; 1 where the frictions and the prevailing torque of the case tell.
    extra_interfaces : int
        Interfaces that it adds to those that embed.
    needs_prevailing_torque : bool
        The case must state the prevailing torque.
    needs_breakaway_torque : bool
        The case must state the breakaway torque of the cured bond.
    largest_seat_hardness : float or None
        Rockwell C hardness that the seat may not exceed, for the teeth to bite.
    own_hardness : float or None
        Rockwell C hardness of the element.
    loosening : str
        What holds the nut when the parts slip, one of `LOOSENING_RULES`: "no slip" (nothing does:
        slip of the parts must not happen), "prevailing torque"
        (`loosening.preload_held_by_prevailing_torque`), "ramp" (`loosening.ramp_excess`),
        "breakaway torque" (`loosening.breakaway_excess`).
    note : str
        What a reader must know.
    source : str
        Where it is from.
    """

    name: str
    torque_ratio: float
    extra_interfaces: int
    needs_prevailing_torque: bool
    needs_breakaway_torque: bool
    largest_seat_hardness: float | None
    own_hardness: float | None
    loosening: str
    note: str
    source: str


_JUNKER = "self-loosening by transverse slip: Junker, SAE paper 690055 (1969) (from memory)"

_ELEMENTS = (
    SecuringElement(
        name="none",
        torque_ratio=1.0,
        extra_interfaces=0,
        needs_prevailing_torque=False,
        needs_breakaway_torque=False,
        largest_seat_hardness=None,
        own_hardness=None,
        loosening="no slip",
        note="slip of the parts lets the pitch torque turn the nut back",
        source=_JUNKER,
    ),
    SecuringElement(
        name="prevailing-torque nut",
        torque_ratio=1.0,
        extra_interfaces=0,
        needs_prevailing_torque=True,
        needs_breakaway_torque=False,
        largest_seat_hardness=None,
        own_hardness=None,
        loosening="prevailing torque",
        note=(
            "keeps the nut on and assures no more preload than 2 pi T_p/P, with the worn T_p; none"
            f" where an axial load acts while the parts slip; {VIBRATION_TEST}"
        ),
        source="S. Eccles, PhD thesis, University of Central Lancashire, 2010",
    ),
    SecuringElement(
        name="spring washer",
        torque_ratio=1.0,
        extra_interfaces=1,
        needs_prevailing_torque=False,
        needs_breakaway_torque=False,
        largest_seat_hardness=None,
        own_hardness=None,
        loosening="no slip",
        note=f"assures no preload under transverse slip; {VIBRATION_TEST}",
        source="Izumi et al., 2005 (spring washers speed loosening up)",
    ),
    SecuringElement(
        name="double nut",
        torque_ratio=1.0,
        extra_interfaces=1,
        needs_prevailing_torque=False,
        needs_breakaway_torque=False,
        largest_seat_hardness=None,
        own_hardness=None,
        loosening="no slip",
        note=f"resists only where the two nuts are locked against each other; {VIBRATION_TEST}",
        source="Izumi et al., 2005",
    ),
    SecuringElement(
        name="serrated washer",
        torque_ratio=1.0,
        extra_interfaces=1,
        needs_prevailing_torque=False,
        needs_breakaway_torque=False,
        largest_seat_hardness=None,
        own_hardness=None,
        loosening="no slip",
        note=(
            "raises bearing friction, tightening and release torque, and damages the seat: state"
            f" its friction; {VIBRATION_TEST}"
        ),
        source=_PRACTICE,
    ),
    SecuringElement(
        name="serrated flange",
        torque_ratio=1.0,
        extra_interfaces=0,
        needs_prevailing_torque=False,
        needs_breakaway_torque=False,
        largest_seat_hardness=None,
        own_hardness=None,
        loosening="no slip",
        note=(
            "raises bearing friction on a larger diameter, tightening and release torque, and"
            f" damages the seat: state its friction and bearing diameter; {VIBRATION_TEST}"
        ),
        source=_PRACTICE,
    ),
    SecuringElement(
        name="wedge-locking washers",
        torque_ratio=1.2,
        extra_interfaces=2,
        needs_prevailing_torque=False,
        needs_breakaway_torque=False,
        largest_seat_hardness=45.0,
        own_hardness=48.0,
        loosening="ramp",
        note=(
            "a pair with ramps steeper than the thread: a nut that turns back raises the preload;"
            " about 20 % more torque than on a plain zinc-plated dry seat; the seat must be softer"
            f" than the teeth; {VIBRATION_TEST}"
        ),
        source=_PRACTICE,
    ),
    SecuringElement(
        name="adhesive",
        torque_ratio=1.0,
        extra_interfaces=0,
        needs_prevailing_torque=False,
        needs_breakaway_torque=True,
        largest_seat_hardness=None,
        own_hardness=None,
        loosening="breakaway torque",
        note=(
            "thread friction while wet is that of the adhesive; the bond holds below its"
            f" temperature limit only; {VIBRATION_TEST}"
        ),
        source=_PRACTICE,
    ),
)
_BY_NAME = {element.name: element for element in _ELEMENTS}


def securing_element(name: str) -> SecuringElement:
    """Securing element by name.

    Parameters
    ----------
    name : str
        One of `known_securing_elements`; the letter case does not matter.

    Returns
    -------
    SecuringElement

    Raises
    ------
    ValueError
        No such element, with the nearest names.

    Examples
    --------
    >>> securing_element("spring washer").extra_interfaces
    1
    """
    found = _BY_NAME.get(" ".join(name.casefold().split()))
    if found is None:
        raise unknown_name("securing element", name.strip(), known_securing_elements())
    return found


def known_securing_elements() -> tuple[str, ...]:
    """Names of every securing element."""
    return tuple(_BY_NAME)
