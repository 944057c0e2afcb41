"""Securing elements as data: what they do to seats and loosening, each with its source.

Torque ratio, ramp angle and hardness belong to a product: the case states them with their source.
"""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.mechanics.names import folded, row_named

VIBRATION_TEST = (
    "performance under vibration is decided by a standard transverse-vibration test"
    " (DIN 25201-4, ISO 16130)"
)
POSITIVE_LOCK = "positive lock"
_PRACTICE = "common practice, no published source"


@dataclass(frozen=True, slots=True)
class SecuringElement:
    """A securing element.

    Parameters
    ----------
    name : str
        Name to ask for.
    extra_interfaces : int
        Interfaces that it adds to those that embed.
    loosening : str
        What holds the nut when the parts slip, by rule: "no slip" (nothing does:
        slip of the parts must not happen), "prevailing torque"
        (`loosening.preload_held_by_prevailing_torque`), "ramp" (`loosening.ramp_excess`),
        "breakaway torque" (`loosening.breakaway_excess`), "positive lock" (it cannot come off, and
        turns back by the play of its lock: no preload is assured).
    note : str
        What a reader must know.
    source : str
        Where it is from.
    """

    name: str
    extra_interfaces: int
    loosening: str
    note: str
    source: str

    @property
    def keeps_nut(self) -> bool:
        """Return whether its rule keeps the nut from turning off when the parts slip."""
        return self.loosening != "no slip"


_JUNKER = "self-loosening by transverse slip: Junker, SAE paper 690055 (1969) (from memory)"


def _positive_lock(name: str, how: str, interfaces: int = 0) -> SecuringElement:
    """Return a lock by shape: it keeps the fastener on, whatever preload is left."""
    note = (
        f"{how}: keeps the fastener on and assures no preload, which settling and the play of the "
        f"lock can take; {VIBRATION_TEST}"
    )
    return SecuringElement(name, interfaces, POSITIVE_LOCK, note, _PRACTICE)


_ELEMENTS = (
    SecuringElement(
        name="none",
        extra_interfaces=0,
        loosening="no slip",
        note="slip of the parts lets the pitch torque turn the fastener back",
        source=_JUNKER,
    ),
    SecuringElement(
        name="prevailing-torque nut",
        extra_interfaces=0,
        loosening="prevailing torque",
        note=(
            "keeps the nut on and assures no more preload than 2 pi T_p/P, with the worn T_p; none"
            f" where an axial load acts while the parts slip; {VIBRATION_TEST}"
        ),
        source="S. Eccles, PhD thesis, University of Central Lancashire, 2010",
    ),
    SecuringElement(
        name="spring washer",
        extra_interfaces=1,
        loosening="no slip",
        note=f"assures no preload under transverse slip; {VIBRATION_TEST}",
        source="Izumi et al., 2005 (spring washers speed loosening up)",
    ),
    SecuringElement(
        name="double nut",
        extra_interfaces=1,
        loosening="no slip",
        note=f"resists only where the two nuts are locked against each other; {VIBRATION_TEST}",
        source="Izumi et al., 2005",
    ),
    SecuringElement(
        name="serrated washer",
        extra_interfaces=1,
        loosening="no slip",
        note=(
            "raises bearing friction, tightening and release torque, and damages the seat: state"
            f" its friction; {VIBRATION_TEST}"
        ),
        source=_PRACTICE,
    ),
    SecuringElement(
        name="serrated flange",
        extra_interfaces=0,
        loosening="no slip",
        note=(
            "raises bearing friction on a larger diameter, tightening and release torque, and"
            f" damages the seat: state its friction and bearing diameter; {VIBRATION_TEST}"
        ),
        source=_PRACTICE,
    ),
    SecuringElement(
        name="wedge-locking washers",
        extra_interfaces=2,
        loosening="ramp",
        note=(
            "a pair with ramps steeper than the thread: turning back raises the preload,"
            " as long as the teeth are harder than their seats; its seats ask more torque: state"
            f" their friction or a torque ratio; {VIBRATION_TEST}"
        ),
        source=_PRACTICE,
    ),
    SecuringElement(
        name="adhesive",
        extra_interfaces=0,
        loosening="breakaway torque",
        note=(
            "thread friction while wet is that of the adhesive; the bond holds below its"
            f" temperature limit only; {VIBRATION_TEST}"
        ),
        source=_PRACTICE,
    ),
    _positive_lock("locking wire", "wire through drilled heads, pulled tight"),
    _positive_lock(
        "tab washer",
        "tabs bent on a flat and over an edge, a soft seat",
        1,
    ),
    _positive_lock("castle nut with pin", "a pin through the fastener and a slot of the nut"),
)
_BY_NAME = {folded(element.name): element for element in _ELEMENTS}


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
    return row_named("securing element", name, _BY_NAME, known_securing_elements())


def known_securing_elements() -> tuple[str, ...]:
    """Names of every securing element."""
    return tuple(element.name for element in _ELEMENTS)
