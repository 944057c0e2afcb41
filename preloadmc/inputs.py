"""The one list of input names: what each is called, measures and may be."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from preloadmc.units import (
    ANGLE,
    COMPLIANCE,
    FORCE,
    LENGTH,
    RATIO,
    SMALL_LENGTH,
    STRESS,
    TEMPERATURE,
    TORQUE,
    Dimension,
)


@dataclass(frozen=True, slots=True)
class InputGroup:
    """Inputs that one remedy reaches.

    ``together`` is what all inputs of the group are called, ``remedy`` what is done about their
    scatter, as the subject of a sentence.
    """

    name: str
    together: str
    remedy: str

    @property
    def whole(self) -> str:
        """Return what the group is called where it is ranked as one input."""
        return f"{self.name} as a whole"


INPUT_GROUPS: tuple[InputGroup, ...] = (
    InputGroup("tool", "everything of the tool", "a better tool"),
    InputGroup("friction", "all friction", "controlling friction"),
    InputGroup("strength", "fastener strength", "controlling the fastener's strength"),
    InputGroup("stiffness", "all stiffness", "controlling the stiffness"),
    InputGroup("settling", "all settling", "controlling the settling"),
    InputGroup("temperature", "all temperatures", "narrower temperatures"),
    InputGroup("load", "loads and joint friction", "a better known load"),
    InputGroup("requirement", "the stated window", "a better known requirement"),
    InputGroup("loosening", "all loosening", "keeping the nut from turning back"),
    InputGroup("seat", "all of the seats", "controlling the seats"),
)
_GROUP_BY_NAME = {group.name: group for group in INPUT_GROUPS}


@dataclass(frozen=True, slots=True)
class InputKind:
    """One kind of uncertain input; ``*`` in the name stands for a temperature state's name.

    ``group`` is the name of an `InputGroup`. ``sign`` says what values are possible: "positive",
    "not negative" or "any".
    """

    name: str
    label: str
    dimension: Dimension
    group: str
    sign: str = "positive"


# The order is that of the columns of z: appending keeps the columns of older cases.
INPUT_KINDS: tuple[InputKind, ...] = (
    InputKind("tightening.torque", "set torque", TORQUE, "tool"),
    InputKind("tightening.bias", "tool bias", RATIO, "tool", "any"),
    InputKind("tightening.tool", "tool scatter", RATIO, "tool"),
    InputKind("tightening.angle", "set angle", ANGLE, "tool"),
    InputKind("tightening.seating_angle", "seating angle", ANGLE, "tool", "not negative"),
    InputKind("tightening.detector_ratio", "detector ratio", RATIO, "tool"),
    InputKind("tightening.pump_force", "pump force", FORCE, "tool"),
    InputKind("tightening.transfer_ratio", "transfer ratio", RATIO, "tool"),
    InputKind("tightening.elongation", "measured elongation", SMALL_LENGTH, "tool"),
    InputKind("tightening.preload", "stated preload", FORCE, "tool"),
    InputKind("friction.thread", "thread friction", RATIO, "friction"),
    InputKind("friction.bearing", "bearing friction", RATIO, "friction"),
    InputKind("friction.nut_factor", "nut factor", RATIO, "friction"),
    InputKind(
        "tightening.prevailing_torque", "prevailing torque", TORQUE, "friction", "not negative"
    ),
    InputKind("fastener.bearing_diameter", "bearing diameter", LENGTH, "friction"),
    InputKind("fastener.yield_strength", "yield strength", STRESS, "strength"),
    InputKind("fastener.tensile_strength", "tensile strength", STRESS, "strength"),
    InputKind("fastener.plastic_strain", "plastic strain", RATIO, "strength"),
    InputKind("joint.fastener_compliance", "fastener compliance", COMPLIANCE, "stiffness"),
    InputKind("joint.clamped_compliance", "clamped compliance", COMPLIANCE, "stiffness"),
    InputKind("joint.compliance", "joint compliance", COMPLIANCE, "stiffness"),
    InputKind("settling.embedding", "embedding", SMALL_LENGTH, "settling", "not negative"),
    InputKind("settling.relaxation", "relaxation", RATIO, "settling", "not negative"),
    InputKind("temperature.thermal_change", "thermal change", FORCE, "temperature", "any"),
    InputKind("temperature.assembly", "assembly temperature", TEMPERATURE, "temperature"),
    InputKind("temperature.state.*.fastener", "fastener temperature", TEMPERATURE, "temperature"),
    InputKind("temperature.state.*.clamped", "clamped temperature", TEMPERATURE, "temperature"),
    InputKind("temperature.state.*.clamped.*", "temperature of layer", TEMPERATURE, "temperature"),
    InputKind("load.axial", "axial load", FORCE, "load", "any"),
    InputKind("load.transverse", "transverse load", FORCE, "load", "any"),
    InputKind("friction.joint", "joint friction", RATIO, "load"),
    InputKind("temperature.state.*.axial", "axial load", FORCE, "load", "any"),
    InputKind("temperature.state.*.transverse", "transverse load", FORCE, "load", "any"),
    InputKind("temperature.state.*.joint_friction", "joint friction", RATIO, "load"),
    InputKind(
        "requirement.minimum_preload", "minimum preload", FORCE, "requirement", "not negative"
    ),
    InputKind("requirement.maximum_preload", "maximum preload", FORCE, "requirement"),
    InputKind(
        "requirement.maximum_plastic_elongation",
        "maximum plastic elongation",
        SMALL_LENGTH,
        "requirement",
    ),
    InputKind("rotation.angle", "back rotation", ANGLE, "loosening", "not negative"),
    InputKind("missed.share", "share missed in tightening", RATIO, "loosening", "not negative"),
    InputKind(
        "missed.preload_share", "preload of a missed one", RATIO, "loosening", "not negative"
    ),
    InputKind("seat.hardness", "hardness of the seat", RATIO, "seat"),
    InputKind("seat.paint", "chance of paint on the seat", RATIO, "seat", "not negative"),
    InputKind("investigation.breakaway_ratio", "friction at rest over sliding", RATIO, "friction"),
)

_KIND_BY_NAME = {kind.name: kind for kind in INPUT_KINDS}
_STATE_PREFIX = "temperature.state."


def state_input(state: str, quantity: str) -> str:
    """Return the input name of a temperature state's quantity.

    Parameters
    ----------
    state : str
        Name of the temperature state.
    quantity : str
        Key of the quantity in the state, such as "fastener" or "axial".

    Returns
    -------
    str
        Such as "temperature.state.hot.fastener".
    """
    return f"{_STATE_PREFIX}{state}.{quantity}"


def layer_input(state: str, place: int) -> str:
    """Return the input name of one layer's temperature in a state; layers count from 1."""
    return state_input(state, f"clamped.{place}")


def input_kind(name: str) -> InputKind:
    """Return the kind of the input ``name``; KeyError if the list has none.

    Parameters
    ----------
    name : str
        Name of an input; that of a temperature state's quantity holds the state's name.

    Returns
    -------
    InputKind
        Its row of the fixed list: label, dimension, group and sign.
    """
    if name.startswith(_STATE_PREFIX):
        _, quantity, *layer = name[len(_STATE_PREFIX) :].split(".")
        return _KIND_BY_NAME[state_input("*", ".".join([quantity, *("*" for _ in layer)]))]
    return _KIND_BY_NAME[name]


def input_group(name: str) -> InputGroup:
    """Return the group of that name; KeyError if there is none."""
    return _GROUP_BY_NAME[name]


def by_group(names: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Return inputs by the name of their group, both in the order in which they are given.

    Examples
    --------
    >>> by_group(["tightening.tool", "friction.thread", "friction.bearing"])
    {'tool': ('tightening.tool',), 'friction': ('friction.thread', 'friction.bearing')}
    """
    groups: dict[str, tuple[str, ...]] = {}
    for name in names:
        group = input_kind(name).group
        groups[group] = (*groups.get(group, ()), name)
    return groups


def input_label(name: str) -> str:
    """Return the words a reader knows the input by.

    Parameters
    ----------
    name : str
        Name of an input.

    Returns
    -------
    str
        Such as "bearing friction"; with the state's name for a quantity of a temperature state.

    Examples
    --------
    >>> input_label("friction.bearing"), input_label("temperature.state.hot.fastener")
    ('bearing friction', 'fastener temperature, hot')
    """
    label = input_kind(name).label
    if name.startswith(_STATE_PREFIX):
        state, _, *layer = name[len(_STATE_PREFIX) :].split(".")
        return f"{' '.join([label, *layer])}, {state}"
    return label


def input_order(name: str) -> tuple[int, str]:
    """Return the sort key of an input: its place in the fixed list, then the state's name."""
    return INPUT_KINDS.index(input_kind(name)), name
