"""The sections [temperature] and [load]: the states of the joint's life, and what it carries."""

from __future__ import annotations

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Flag, Quantity, Table, Whole
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.word_kinds import Text
from preloadmc.inputs import ACROSS, ALONG, Default, state_input, state_quantities
from preloadmc.units import RATIO

_FACES, _INTRODUCTION = "load.slip_faces", "load.load_introduction"
FIELDS = (
    Field("temperature", Table(), "temperatures of the parts, not of the air"),
    Field(
        "temperature.state[]",
        Table(),
        "state of service with temperatures and loads of its own",
        replaces=("thermal_change",),
    ),
    Field(
        "temperature.state[].name",
        Text("a name for the state"),
        "name of the state",
        '"hot"',
        needed=True,
    ),
    Field(
        "temperature.state[].once",
        Flag(),
        "whether the state comes a single time, in its place among the others, which repeat",
        "true",
        Default(False, "false: it comes again and again"),
    ),
    Field("load", Table(), "loads on one fastener"),
    Field(
        _FACES,
        Whole(1, 20),
        "number of interfaces that would slip together",
        "1",
        Default(1, "1: one interface slips"),
    ),
    Field(
        _INTRODUCTION,
        Quantity(RATIO, above=0.0, high=1.0),
        "share of the grip between the points where an axial load enters",
        "0.5",
        Default(
            1.0, "1: the load enters at the ends of the grip", "the largest share for the fastener"
        ),
    ),
)
# Names that states of every joint's life have already.
_TAKEN = ("settled", "assembled", "assembly", "service", "residual")
# What names of later states have between state and time.
_AFTER = " after "


def take_states(draft: Draft) -> tuple[tuple[str, ...], frozenset[str]]:
    """Take the laws of every temperature state.

    Returns
    -------
    tuple of str
        The states' names.
    frozenset of str
        Those of the states that come a single time.
    """
    stated = draft.stated
    states = stated.each("temperature.state")
    if states and "temperature.thermal_change" in stated:
        stated.problem("temperature.state", "either a thermal_change as measured, or states")
    if states:
        _check_states(stated)
    names: dict[str, None] = {}
    once: set[str] = set()
    for state in states:
        name = stated.get(f"{state}.name", str)
        if name is None:
            continue
        if name in _TAKEN:
            stated.problem(
                f"{state}.name", f"another name: the program has {', '.join(_TAKEN)} of its own"
            )
        elif name in names:
            stated.problem(f"{state}.name", "a unique name")
        elif "." in name or _AFTER in name:
            stated.problem(f"{state}.name", "a name without a full stop and without 'after'")
        else:
            names[name] = None
            _take_state(draft, state, name)
            if stated.known(f"{state}.once", bool):
                once.add(name)
    if names:
        draft.assume(
            "temperature.state",
            "the states come again and again in any order, the settled joint among them"
            + (f"; once only: {', '.join(sorted(once))}" if once else ""),
            "engineering judgement: what yields in one is missing in all that come after it",
        )
    return tuple(names), frozenset(once)


def _check_states(stated: Stated) -> None:
    """States need what grows between them, and each part's own stiffness."""
    if "temperature.assembly" not in stated:
        stated.missing("temperature.assembly", "the temperature at assembly")
    if "joint.compliance" in stated:
        stated.problems.add(
            "joint.compliance",
            None,
            "fastener_compliance and clamped_compliance apart: each softens with its own "
            "temperature, so their total is not enough",
        )
    if not stated.each("clamped") and not stated.problems.at("clamped"):
        stated.missing("clamped", "a temperature state needs the [[clamped]] layers that grow")


def _take_state(draft: Draft, state: str, name: str) -> None:
    """Take every input that a state may have, and ask for its temperatures."""
    stated = draft.stated
    for part in ("fastener", "clamped"):
        if f"{state}.{part}" not in stated:
            stated.missing(f"{state}.{part}", "the temperature of the part")
    layers = len(stated.each("clamped"))
    apart = stated.given(f"{state}.clamped")
    if isinstance(apart, list) and len(apart) != layers:
        words = f"one temperature for all, or a list of {layers}, one a layer"
        stated.problem(f"{state}.clamped", words)
    for quantity in state_quantities():
        key, _, of_layers = quantity.partition(".")
        if of_layers:
            for place, item in enumerate(stated.each(f"{state}.{key}"), 1):
                draft.take(item, state_input(name, f"{key}.{place}"))
        else:
            draft.take(f"{state}.{key}", state_input(name, key))


def load_facts(draft: Draft) -> tuple[int, float]:
    """Return how many interfaces slip together, and where along the grip an axial load enters."""
    stated = draft.stated
    for endings, path in ((ACROSS, _FACES), (ALONG, _INTRODUCTION)):
        if draft.has_law(*endings):
            draft.assume_default(path)
    return stated.known(_FACES, int), stated.known(_INTRODUCTION, float)
