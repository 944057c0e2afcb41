"""The one list of inputs: what each is called, measures, may be, and is where nobody states it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

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

NOT_GIVEN = "not given in the case file"
# Endings of the inputs that load a fastener along and across its axis, on itself or by its group.
ALONG = (".axial", ".bending_moment")
ACROSS = (".transverse", ".torsional_moment")


@dataclass(frozen=True, slots=True)
class Default:
    """What holds where a case file does not state a value.

    ``words`` say it among the assumptions; they are empty where it is no assumption worth a line.
    """

    value: object
    words: str = ""
    source: str = NOT_GIVEN

    @property
    def with_source(self) -> str:
        """Return the words, with the source where there is one."""
        return self.words if self.source == NOT_GIVEN else f"{self.words} ({self.source})"


@dataclass(frozen=True, slots=True)
class InputGroup:
    """Inputs that one remedy reaches.

    ``together`` is what all inputs of the group are called, ``remedy`` what is done about their
    scatter, as the subject of a sentence, and ``remedy_of_one`` the same for one input, whose
    label goes into its braces.
    """

    name: str
    together: str
    remedy: str
    remedy_of_one: str = "controlling {}"

    @property
    def whole(self) -> str:
        """Return what the group is called where it is ranked as one input."""
        return f"{self.name} as a whole"


INPUT_GROUPS: tuple[InputGroup, ...] = (
    InputGroup("tool", "everything of the tool", "a better tool", "a better tool"),
    InputGroup("friction", "all friction", "controlling friction"),
    InputGroup("strength", "fastener strength", "controlling the fastener's strength"),
    InputGroup("stiffness", "all stiffness", "controlling the stiffness"),
    InputGroup("settling", "all settling", "controlling the settling"),
    InputGroup("temperature", "all temperatures", "narrower temperatures", "a narrower {}"),
    InputGroup("load", "all loads", "narrower loads", "a narrower {}"),
    InputGroup("faces", "friction between the parts", "controlling joint friction"),
    InputGroup("requirement", "the stated window", "a better known window", "a better known {}"),
    InputGroup("loosening", "all loosening", "keeping the fastener from turning back"),
    InputGroup("seat", "all of the seats", "controlling the seats"),
)
_GROUP_BY_NAME = {group.name: group for group in INPUT_GROUPS}


@dataclass(frozen=True, slots=True)
class InputKind:
    """One kind of uncertain input, which is a key of the case file at the same path.

    ``*`` in the name stands for a temperature state's name or the place of a layer. ``group`` is
    the name of an `InputGroup`; empty for what no limit depends on. ``sign`` says what values are
    possible: "positive", "not negative" or "any"; ``is_share`` that none is above 1. ``about`` is
    added to what the file states: 1 where that is a scatter about a set value, which is then read
    as a factor.
    ``example`` is as it would be typed. ``needs`` names the input that must stand beside it;
    empty for none. ``replaces`` are keys of its table that fall away where an alternative states
    this one: they say the same in another way.
    """

    name: str
    label: str
    dimension: Dimension
    group: str
    sign: str = "positive"
    meaning: str = field(kw_only=True)
    example: str = field(kw_only=True)
    default: Default | None = field(default=None, kw_only=True)
    is_share: bool = field(default=False, kw_only=True)
    about: float = field(default=0.0, kw_only=True)
    needs: str = field(default="", kw_only=True)
    replaces: tuple[str, ...] = field(default=(), kw_only=True)


# One row, one input, and its key in the case file. The order is that of the columns of z:
# appending keeps the columns of older cases.
# fmt: off
_ROWS = (
    InputKind("tightening.torque", "set torque", TORQUE, "tool",
              meaning="torque that the tool is set to", example='"84 N·m"'),
    InputKind("tightening.bias", "tool bias", RATIO, "tool", "any",
              meaning="share by which the tool is off its set value on the average",
              example='"-2 %"', default=Default(0.0, "0: no tool bias")),
    InputKind("tightening.tool", "tool scatter", RATIO, "tool", about=1.0,
              meaning="scatter of the tool about its set value",
              example='{ law = "normal", cov = "6 %" }',
              default=Default(1.0, "none: the tool repeats exactly")),
    InputKind("tightening.angle", "set angle", ANGLE, "tool",
              meaning="angle turned on from the snug torque", example='"75 deg"'),
    InputKind("tightening.seating_angle", "seating angle", ANGLE, "tool", "not negative",
              meaning="part of the angle that only seats the joint", example='"4 deg"'),
    InputKind("tightening.detector_ratio", "detector ratio", RATIO, "tool",
              meaning="preload at which the tool senses yield, over the true yield preload",
              example='{ law = "triangular", low = 0.96, mode = 1.0, high = 1.06 }'),
    InputKind("tightening.pump_force", "pump force", FORCE, "tool",
              meaning="force of the tensioner: pressure times piston area", example='"116 kN"'),
    InputKind("tightening.transfer_ratio", "transfer ratio", RATIO, "tool",
              meaning="preload left over force applied, for this grip",
              example='{ law = "normal", mean = 0.8, cov = "4 %" }'),
    InputKind("tightening.elongation", "measured elongation", SMALL_LENGTH, "tool",
              meaning="elongation of the fastener at which tightening stops",
              example='"110 um"'),
    InputKind("tightening.preload", "stated preload", FORCE, "tool",
              meaning="assembled preload with all its scatter",
              example='{ law = "normal", mean = "35 kN", cov = "12 %" }'),
    InputKind("friction.thread", "thread friction", RATIO, "friction",
              meaning="coefficient of friction in the thread",
              example='{ law = "lognormal", mean = 0.13, cov = "12 %" }',
              replaces=("nut_factor", "total")),
    InputKind("friction.bearing", "bearing friction", RATIO, "friction",
              meaning="coefficient of friction under the side that is turned, head or nut",
              example='{ law = "lognormal", mean = 0.13, cov = "12 %" }',
              replaces=("nut_factor", "total")),
    InputKind("friction.nut_factor", "nut factor", RATIO, "friction",
              meaning="torque over diameter times preload, in place of both frictions",
              example='{ law = "lognormal", mean = 0.18, cov = "10 %" }',
              replaces=("thread", "bearing", "correlation", "total")),
    InputKind("tightening.prevailing_torque", "prevailing torque", TORQUE, "friction",
              "not negative", meaning="torque that turns the fastener before it clamps",
              example='"4 N·m"', default=Default(0.0, "0: none")),
    InputKind("fastener.bearing_diameter", "bearing diameter", LENGTH, "friction",
              meaning="effective diameter of the friction under the side that is turned",
              example='"15 mm"'),
    InputKind("fastener.yield_strength", "yield strength", STRESS, "strength",
              meaning="yield strength or 0.2 % proof stress, in place of a property class",
              example='"940 MPa"'),
    InputKind("fastener.tensile_strength", "tensile strength", STRESS, "strength",
              meaning="tensile strength, in place of a property class", example='"1040 MPa"'),
    InputKind("fastener.plastic_strain", "plastic strain", RATIO, "strength",
              meaning="plastic strain at the tensile strength, from a tensile test",
              example='"6 %"'),
    InputKind("joint.fastener_compliance", "fastener compliance", COMPLIANCE, "stiffness",
              meaning="compliance of the fastener, in place of that from its shape",
              example='"3 um/kN"', replaces=("compliance",)),
    InputKind("joint.clamped_compliance", "clamped compliance", COMPLIANCE, "stiffness",
              meaning="compliance of the clamped layers, in place of that from their shape",
              example='"1 um/kN"', replaces=("compliance",)),
    InputKind("joint.compliance", "joint compliance", COMPLIANCE, "stiffness",
              meaning="compliance of fastener and layers together, as measured",
              example='{ law = "normal", mean = "4 um/kN", cov = "8 %" }',
              replaces=("fastener_compliance", "clamped_compliance")),
    InputKind("settling.embedding", "embedding", SMALL_LENGTH, "settling", "not negative",
              meaning="length lost as rough faces settle, over all interfaces",
              example='{ law = "lognormal", mean = "8 um", cov = "30 %" }',
              default=Default(0.0, "0: nothing embeds")),
    InputKind("settling.relaxation", "relaxation", RATIO, "settling", "not negative", is_share=True,
              meaning="share of the preload lost by creep and relaxation", example='"5 %"',
              default=Default(0.0, "0: nothing relaxes")),
    InputKind("temperature.thermal_change", "thermal change", FORCE, "temperature", "any",
              meaning="change of preload in service as measured, in place of states",
              example='"-0.8 kN"', replaces=("state",)),
    InputKind("temperature.assembly", "assembly temperature", TEMPERATURE, "temperature",
              meaning="temperature at assembly", example='"20 degC"'),
    InputKind("temperature.state.*.fastener", "fastener temperature", TEMPERATURE, "temperature",
              meaning="temperature of the fastener in this state", example='"95 degC"'),
    InputKind("temperature.state.*.clamped", "clamped temperature", TEMPERATURE, "temperature",
              meaning="temperature of the clamped layers in this state", example='"120 degC"'),
    InputKind("temperature.state.*.clamped.*", "temperature of layer", TEMPERATURE, "temperature",
              meaning="temperature of each layer in this state, from the head on",
              example='["120 degC", "95 degC"]'),
    InputKind("load.axial", "axial load", FORCE, "load", "any",
              meaning="load on one fastener along its axis", example='"6 kN"'),
    InputKind("load.transverse", "transverse load", FORCE, "load", "any",
              meaning="load on one fastener across its axis", example='"3 kN"'),
    InputKind("friction.joint", "joint friction", RATIO, "faces",
              meaning="coefficient of friction between the clamped parts", example="0.20"),
    InputKind("temperature.state.*.axial", "axial load", FORCE, "load", "any",
              meaning="axial load in this state, in place of that of [load]", example='"9 kN"'),
    InputKind("temperature.state.*.transverse", "transverse load", FORCE, "load", "any",
              meaning="transverse load in this state, in place of that of [load]",
              example='"4 kN"'),
    InputKind("temperature.state.*.joint_friction", "joint friction", RATIO, "faces",
              meaning="friction between the parts in this state, in place of that of [friction]",
              example="0.18"),
    InputKind("requirement.minimum_preload", "minimum preload", FORCE, "requirement",
              "not negative", meaning="least preload that the joint needs", example='"28 kN"'),
    InputKind("requirement.minimum_clamp", "minimum clamp force", FORCE, "requirement",
              "not negative",
              meaning="least clamp force between the parts, under the axial load of each state",
              example='"12 kN"'),
    InputKind("requirement.maximum_preload", "maximum preload", FORCE, "requirement",
              meaning="largest preload that the joint bears", example='"62 kN"'),
    InputKind("requirement.maximum_plastic_elongation", "maximum plastic elongation",
              SMALL_LENGTH, "requirement",
              meaning="largest plastic elongation, for methods that pass yield",
              example='"200 um"'),
    InputKind("rotation.angle", "back rotation", ANGLE, "loosening", "not negative",
              meaning="angle by which the fastener turns back in service", example='"30 deg"'),
    InputKind("missed.share", "share missed in tightening", RATIO, "loosening", "not negative",
              is_share=True, meaning="share of fasteners run down and never tightened",
              example='"20 %"', needs="missed.preload_share"),
    InputKind("missed.preload_share", "preload of a missed one", RATIO, "loosening",
              "not negative", is_share=True,
              meaning="share of its preload that a missed fastener holds",
              example='{ law = "uniform", low = "0 %", high = "15 %" }'),
    InputKind("seat.hardness", "hardness of the seat", RATIO, "seat",
              meaning="hardness of the seat, on the scale of the findings", example="180"),
    InputKind("seat.paint", "chance of paint on the seat", RATIO, "seat", "not negative",
              is_share=True, meaning="chance that there is paint under a head or nut",
              example='"2 %"'),
    InputKind("investigation.breakaway_ratio", "friction at rest over sliding", RATIO, "friction",
              meaning="friction at rest over sliding friction, where a torque was found",
              example='{ law = "normal", mean = 1.05, sd = 0.05 }',
              default=Default(1.0, "1: as in tightening")),
    InputKind("tightening.accept.reading", "reading at the tool", RATIO, "", about=1.0,
              meaning="error of what the tool reads of the quantity that it monitors",
              example='{ law = "normal", sd = "1 %" }',
              default=Default(1.0, "none: the tool reads exactly what it monitors")),
    InputKind("friction.total", "total friction", RATIO, "friction",
              meaning="one coefficient of friction in the thread and under the turned side alike, "
              "as coatings are specified",
              example='{ law = "uniform", low = 0.09, high = 0.14 }',
              replaces=("thread", "bearing", "nut_factor", "correlation")),
    InputKind("setting.error", "error of the setting", RATIO, "tool", about=1.0,
              meaning="share by which the tool was set off what was asked of it",
              example='"-26 %"'),
    InputKind("missed.torque_share", "torque of a missed one", RATIO, "loosening",
              "not negative", is_share=True, needs="missed.share",
              meaning="share of its torque that a missed fastener took: that of its preload, or "
              "more where its thread was jammed", example='"100 %"'),
    InputKind("rotation.overload", "overload across the joint", RATIO, "loosening",
              meaning="transverse load in service over that of the case", example="3"),
    InputKind("seat.washer", "chance of another washer", RATIO, "seat", "not negative",
              is_share=True, meaning="chance that the washer is another than on the drawing",
              example='"2 %"'),
    InputKind("investigation.prevailing_torque", "prevailing torque when inspected", TORQUE,
              "friction", "not negative",
              meaning="prevailing torque of a fastener that is turned in the inspection",
              example='{ law = "uniform", low = "2 N·m", high = "6 N·m" }'),
    InputKind("group.axial", "axial load on the joint", FORCE, "load", "any",
              meaning="load on all fasteners together along their axes", example='"96 kN"'),
    InputKind("group.transverse", "transverse load on the joint", FORCE, "load", "any",
              meaning="load on all fasteners together across their axes, through their centroid",
              example='"30 kN"'),
    InputKind("group.bending_moment", "bending moment on the joint", TORQUE, "load", "any",
              meaning="moment that opens the joint on one side", example='"2 kN·m"'),
    InputKind("group.torsional_moment", "torsional moment on the joint", TORQUE, "load", "any",
              meaning="moment about the axis of the joint, which turns the parts on each other",
              example='"1.5 kN·m"'),
    InputKind("group.minimum_total_clamp", "minimum total clamp force", FORCE, "requirement",
              meaning="least clamp force of all fasteners together, under the load of each state",
              example='"250 kN"'),
    InputKind("fatigue.endurance_limit", "endurance limit", STRESS, "strength",
              meaning="stress amplitude on As that the thread bears for ever",
              example='{ law = "lognormal", mean = "50 MPa", cov = "8 %" }'),
    InputKind("settling.over_time.*.rate", "creep", RATIO, "settling", "not negative",
              is_share=True, meaning="share of the preload lost in each decade of time",
              example='{ law = "lognormal", mean = "3 %", cov = "40 %" }'),
    InputKind("friction.change_per_tightening", "change of friction per tightening", RATIO,
              "friction", "any",
              meaning="share by which each tightening changes the friction of thread and bearing",
              example='"5 %"'),
    InputKind("service.action.*.reading", "reading of the check", RATIO, "", about=1.0,
              meaning="error of the torque wrench that checks",
              example='{ law = "normal", sd = "3 %" }',
              default=Default(1.0, "none: the wrench reads exactly")),
    InputKind("service.action.*.breakaway_ratio", "friction at rest over sliding, in the check",
              RATIO, "", meaning="friction at rest over sliding friction, where a torque checks",
              example='{ law = "normal", mean = 1.05, sd = 0.05 }',
              default=Default(1.0, "1: as in tightening")),
    InputKind("securing.remaining", "preload kept where the parts slip", RATIO, "loosening",
              "not negative",
              meaning="share of its preload that the fastener keeps over the slip cycles of "
              "service, from transverse-vibration tests; above 1 counts as 1",
              example='{ law = "normal", mean = "83 %", sd = "4 %", tests = 8 }'),
)
# fmt: on
INPUT_KINDS: dict[str, InputKind] = {row.name: row for row in _ROWS}

# The one input that is no key: each instrument has its own, described by its name and spread.
INSTRUMENT_ERROR = InputKind(
    "instrument.*",
    "own error of instrument",
    RATIO,
    "",
    "any",
    meaning="error that all readings of one instrument share, as a share of the value",
    example='"3 %"',
)

_STATE_PREFIX = "temperature.state."
_INSTRUMENT_PREFIX = "instrument."
_AGAIN_PREFIX = "again."
# Inputs of tables in arrays: what stands between both is a name, or a place.
_IN_ARRAYS = {"settling.over_time.": "creep", "service.action.": "action"}


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


def state_quantities() -> tuple[str, ...]:
    """Return what a temperature state may have of its own; ``.*`` is for each layer."""
    own = state_input("*", "")
    return tuple(name.removeprefix(own) for name in INPUT_KINDS if name.startswith(own))


def layer_input(state: str, place: int) -> str:
    """Return the input name of one layer's temperature in a state; layers count from 1."""
    return state_input(state, f"clamped.{place}")


def instrument_input(instrument: str) -> str:
    """Return the input name of an instrument's own error."""
    return f"{_INSTRUMENT_PREFIX}{instrument}"


def again_input(action: int, name: str) -> str:
    """Return the name of an input that an action of service draws anew; these count from 1."""
    return f"{_AGAIN_PREFIX}{action}.{name}"


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
        return INPUT_KINDS[state_input("*", ".".join([quantity, *("*" for _ in layer)]))]
    if name.startswith(_INSTRUMENT_PREFIX):
        return INSTRUMENT_ERROR
    if name.startswith(_AGAIN_PREFIX):
        return input_kind(name.split(".", 2)[2])
    for prefix in _IN_ARRAYS:
        if name.startswith(prefix):
            return INPUT_KINDS[f"{prefix}*.{name.rpartition('.')[2]}"]
    return INPUT_KINDS[name]


def input_group(name: str) -> InputGroup:
    """Return the group of that name; KeyError if there is none."""
    return _GROUP_BY_NAME[name]


def by_group(names: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Return inputs by the name of their group, both in the order in which they are given.

    Those that no limit depends on are in none.

    Examples
    --------
    >>> by_group(["tightening.tool", "friction.thread", "friction.bearing"])
    {'tool': ('tightening.tool',), 'friction': ('friction.thread', 'friction.bearing')}
    """
    groups: dict[str, tuple[str, ...]] = {}
    for name in names:
        group = input_kind(name).group
        if group:
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
    if name.startswith(_INSTRUMENT_PREFIX):
        return f"{label} {name.removeprefix(_INSTRUMENT_PREFIX)}"
    if name.startswith(_AGAIN_PREFIX):
        _, action, again = name.split(".", 2)
        return f"{input_label(again)}, action {action}"
    for prefix, what in _IN_ARRAYS.items():
        if name.startswith(prefix):
            own = name[len(prefix) :].rpartition(".")[0]
            return f"{label}, {own}" if what == "creep" else f"{label}, action {own}"
    return label


def input_order(name: str) -> tuple[int, str]:
    """Return the sort key of an input: its place in the fixed list, then the state's name."""
    place = list(INPUT_KINDS).index(input_kind(name).name)
    # What is drawn anew comes behind all else.
    return (place + len(INPUT_KINDS) if name.startswith(_AGAIN_PREFIX) else place), name
