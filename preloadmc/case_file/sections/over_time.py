"""What a joint does over time: creep of [settling], spells of its states, actions of [service]."""

from __future__ import annotations

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table, Whole
from preloadmc.case_file.list_kinds import Row
from preloadmc.case_file.word_kinds import Named, Text, Word
from preloadmc.chance.laws import Constant, LogNormal
from preloadmc.inputs import Default, again_input
from preloadmc.joint import (
    ACTIONS,
    CHECK,
    REPLACE,
    RETIGHTEN,
    Action,
    Creep,
    Method,
    Service,
    Spell,
)
from preloadmc.mechanics.creep import CreepRow, creep_row, known_creep
from preloadmc.over_time import CHANGE, drawn_anew, redrawn, tightens_again
from preloadmc.told import percent
from preloadmc.units import TEMPERATURE, TEMPERATURE_DIFFERENCE, TIME, TORQUE, time_words

_CREEP, _STATE, _ACTION = "settling.over_time", "temperature.state", "service.action"
_TIMES = "service.times"
BEFORE = "tightening.tightened_before"
_TIME = Quantity(TIME, above=0.0)
_OTHER_WORDS = {
    "retorque": RETIGHTEN,
    "inspect": CHECK,
    "audit": CHECK,
    "change": REPLACE,
}
FIELDS = (
    Field(
        f"{_CREEP}[]",
        Table(most=20),
        "preload that creeps away with log time; several of them add",
    ),
    Field(f"{_CREEP}[].name", Text("a name"), "what creeps", '"paint under the head"'),
    Field(
        f"{_CREEP}[].material",
        Named("a row of the table of creep", creep_row, known_creep, table="creep"),
        "guide value of its rate and reference, by what creeps",
        '"painted faces"',
    ),
    Field(
        f"{_CREEP}[].reference",
        _TIME,
        "time from which the loss grows, by rate x log10(1 + t/reference); relaxation is the loss "
        "up to it",
        '"1 h"',
    ),
    Field(
        f"{_CREEP}[].state",
        Text("the name of a temperature state"),
        "the one temperature state in which it creeps",
        '"hot"',
    ),
    Field(
        f"{_CREEP}[].temperature",
        Quantity(TEMPERATURE, above=0.0),
        "temperature at which its rate was found",
        '"100 degC"',
    ),
    Field(
        f"{_CREEP}[].doubling",
        Quantity(TEMPERATURE_DIFFERENCE, above=0.0),
        "rise of temperature that doubles the pace of creep",
        '"10 K"',
    ),
    Field(
        f"{_STATE}[].start", Quantity(TIME, low=0.0), "time of service at which it begins", '"0 h"'
    ),
    Field(f"{_STATE}[].duration", _TIME, "how long it lasts", '"8 h"'),
    Field(f"{_STATE}[].every", _TIME, "time after which it comes again", '"1 day"'),
    Field("service", Table(), "times of service, and what is done in it"),
    Field(
        _TIMES,
        Row(_TIME),
        "times of service at which the preload is judged, rising; the last ends it",
        '["1 day", "1 year", "5 years"]',
    ),
    Field(f"{_ACTION}[]", Table(most=20), "what is done in service, in the order of time"),
    Field(f"{_ACTION}[].at", _TIME, "time of service at which it is done", '"1 year"', needed=True),
    Field(
        f"{_ACTION}[].do", Word(ACTIONS, _OTHER_WORDS), "what is done", '"retighten"', needed=True
    ),
    Field(
        f"{_ACTION}[].pass_torque",
        Quantity(TORQUE, above=0.0),
        "torque of a check at which the fastener must not turn yet; one that does is retightened",
        '"70 N·m"',
        Default(None, "none: it is read, and nothing is done"),
    ),
    Field(
        BEFORE,
        Whole(0, 100),
        "how often the fastener was tightened before",
        "1",
        Default(0, "0: it is new"),
    ),
)


def take_over_time(
    draft: Draft, states: tuple[str, ...], method: Method | None, *, direct: bool
) -> tuple[Service | None, int]:
    """Take creep, spells, times and actions.

    Parameters
    ----------
    draft : Draft
        The case so far, with the laws of all other inputs.
    states : tuple of str
        Its temperature states.
    method : Method or None
        Its tightening method.
    direct : bool
        Whether a thermal change as measured stands for the states.

    Returns
    -------
    Service or None
        None where the case states nothing of time.
    int
        How often the fastener was tightened before.
    """
    stated = draft.stated
    spells = _spells(draft)
    creep = _creep(draft, states, spells)
    actions = _actions(draft, method)
    before = stated.known(BEFORE, int)
    _ask_for_change(draft, before, actions)
    times = stated.get(_TIMES, tuple) or ()
    if list(times) != sorted({*times}):
        stated.problem(_TIMES, "times that rise, each once")
    for action in actions:
        if times and action.at >= times[-1]:
            draft.warnings.append(
                f"{_ACTION}[{action.place}] is done at {time_words(action.at)}, when service ends "
                f"or after: it counts only where --until goes further than {time_words(times[-1])}."
            )
    if not (times or creep or spells or actions):
        return None, before
    named = ("service",) if direct else states
    return Service(times, creep, spells, named, actions), before


def _spells(draft: Draft) -> tuple[Spell, ...]:
    stated = draft.stated
    found = []
    for path in stated.each(_STATE):
        name = stated.get(f"{path}.name", str)
        start = stated.get(f"{path}.start", float)
        duration = stated.get(f"{path}.duration", float)
        every = stated.get(f"{path}.every", float)
        if f"{path}.duration" not in stated:
            for key in ("start", "every"):
                if f"{path}.{key}" in stated:
                    stated.missing(f"{path}.duration", f"how long it lasts, beside {key}")
                    break
            continue
        if f"{path}.start" not in stated and f"{path}.every" not in stated:
            stated.missing(f"{path}.every", "after which it comes again, or start of a single one")
            continue
        if name is None or duration is None or (every is None and f"{path}.every" in stated):
            continue
        if every is not None and duration > every:
            stated.problem(f"{path}.duration", f"at most {time_words(every)}, the time of every")
            continue
        found.append(Spell(name, start or 0.0, duration, every))
    shares = sum(each.duration / each.every for each in found if each.every is not None)
    if shares > 1.0 + 1e-9:
        stated.problems.add(
            _STATE,
            None,
            f"durations that fit in the time: its states take {percent(shares)} of it together",
        )
    return tuple(found)


def _creep(draft: Draft, states: tuple[str, ...], spells: tuple[Spell, ...]) -> tuple[Creep, ...]:
    stated = draft.stated
    found: dict[str, Creep] = {}
    lasting = {each.state for each in spells}
    for place, path in enumerate(stated.each(_CREEP), 1):
        row = stated.get(f"{path}.material", CreepRow)
        name = stated.get(f"{path}.name", str) or (row.name if row else f"creep {place}")
        if "." in name or name in found:
            stated.problem(f"{path}.name", "a unique name without a full stop")
            continue
        state = stated.get(f"{path}.state", str) or ""
        if state and state not in states:
            stated.problem(f"{path}.state", f"one of the states: {', '.join(states) or 'none'}")
            continue
        if state and state not in lasting:
            stated.problem(f"{path}.state", "a state with a duration, in which it creeps")
            continue
        temperature = stated.get(f"{path}.temperature", float)
        doubling = stated.get(f"{path}.doubling", float)
        for key, other in (("temperature", "doubling"), ("doubling", "temperature")):
            if f"{path}.{key}" in stated and f"{path}.{other}" not in stated:
                stated.missing(f"{path}.{other}", f"beside {key}")
        if temperature is not None and "temperature.assembly" not in stated:
            stated.missing("temperature.assembly", "at which it creeps outside of all states")
        reference = stated.get(f"{path}.reference", float)
        kind = Creep(name, reference or 1.0, state, temperature, doubling)
        _take_rate(draft, path, kind, row)
        if reference is None and f"{path}.reference" not in stated:
            if row is None:
                stated.missing(f"{path}.reference", "the time from which the loss grows")
                continue
            draft.assume(f"{path}.reference", time_words(row.reference), row.source)
            kind = Creep(name, row.reference, state, temperature, doubling)
        found[name] = kind
    return tuple(found.values())


def _take_rate(draft: Draft, path: str, kind: Creep, row: CreepRow | None) -> None:
    rate = f"{path}.rate"
    if rate in draft.stated:
        draft.take(rate, kind.rate_input)
    elif row is not None:
        draft.laws[kind.rate_input] = LogNormal(row.rate, row.cov * row.rate)
        words = f"lognormal, mean {percent(row.rate)} a decade, cov {percent(row.cov)}"
        draft.assume(rate, words, row.source)
    else:
        draft.stated.missing(rate, "share lost in each decade of time, or material of the table")


def _actions(draft: Draft, method: Method | None) -> tuple[Action, ...]:
    stated = draft.stated
    found: list[Action] = []
    for place, path in enumerate(stated.each(_ACTION), 1):
        at, does = stated.get(f"{path}.at", float), stated.get(f"{path}.do", str)
        if at is None or does is None:
            continue
        if found and at <= found[-1].at:
            stated.problem(f"{path}.at", f"later than the one before, {time_words(found[-1].at)}")
            continue
        limit = stated.get(f"{path}.pass_torque", float)
        for key in ("pass_torque", "reading", "breakaway_ratio"):
            if does != CHECK and f"{path}.{key}" in stated:
                stated.problem(f"{path}.{key}", "remove it: only a check reads a torque")
        _check_method(draft, path, does, method)
        action = Action(place, at, does, limit, ())
        if does == CHECK:
            draft.assume_default(f"{path}.pass_torque")
            draft.take(f"{path}.reading", action.input("reading"))
            reading = draft.laws.get(action.input("reading"))
            if isinstance(reading, Constant) and reading.value != 1.0:
                draft.warnings.append(
                    f"{path}.reading: one number is an error that every reading has alike; a "
                    'wrench of 4 % is stated as { law = "normal", sd = "2 %" }, if 4 % are two s.d.'
                )
            draft.take(f"{path}.breakaway_ratio", action.input("breakaway_ratio"))
        found.append(Action(place, at, does, limit, _redraw(draft, place, does, method)))
    if found:
        draft.assume(
            _ACTION,
            "what has embedded does not embed again; creep keeps its age, but for a fastener that "
            "is replaced; a torque turns a fastener on only if it asks for more preload",
            "engineering judgement",
        )
    return tuple(found)


def _check_method(draft: Draft, path: str, does: str, method: Method | None) -> None:
    """Only some methods tighten what is tight already."""
    if method is None or does == REPLACE:
        return
    if not tightens_again(method):
        draft.stated.problem(
            f"{path}.do",
            f"replace: '{method.name}' tells nothing of a fastener that is tight already",
        )
    elif does == CHECK and not method.reads_friction:
        draft.stated.problem(f"{path}.do", "a method by torque: the check is one by torque")


def _redraw(draft: Draft, place: int, does: str, method: Method | None) -> tuple[str, ...]:
    """Give each input that an action draws anew a law of its own, as that of assembly."""
    if method is None:
        return ()
    names = redrawn(draft.laws, method, does)
    laws, correlations = drawn_anew(place, names, draft.laws, draft.correlations)
    draft.laws.update(laws)
    draft.correlations.update(correlations)
    for name in names:
        if name in draft.shared:
            draft.shared[again_input(place, name)] = draft.shared[name]
    return names


def _ask_for_change(draft: Draft, before: int, actions: tuple[Action, ...]) -> None:
    """Ask how friction changes, where a fastener is tightened more than once."""
    again = before > 0 or any(each.does in (RETIGHTEN, CHECK) for each in actions)
    if again and CHANGE not in draft.stated:
        draft.stated.missing(
            CHANGE, 'how each tightening changes the friction ("0 %" where it does not)'
        )
