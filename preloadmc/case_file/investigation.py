"""The investigation of a case file: its evidence and its suspects, checked against each other."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from preloadmc.case import Case, Investigation, Suspect
from preloadmc.case_file.content import TABLE_PATH
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.evidence import evidence_of
from preloadmc.case_file.field import TRACE_SECTIONS, Field
from preloadmc.case_file.findings import INSTRUMENTS, JUDGEMENT
from preloadmc.case_file.kinds import Quantity, Table, Whole
from preloadmc.case_file.make_case import File
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.suspects import suspects_of
from preloadmc.case_file.word_kinds import LONGEST_NOTE, Text, Word
from preloadmc.evidence import (
    COUNT,
    OBSERVATIONS,
    READINGS,
    SELECTIONS,
    WHOLE_LOT,
    BoltCircle,
    Effort,
    Evidence,
    Inspection,
)
from preloadmc.inputs import Default
from preloadmc.joint import evaluate, torque_per_preload
from preloadmc.told import Magnitude
from preloadmc.units import FORCE, LENGTH, RATIO, TIME

_LOOSE_BELOW = "investigation.loose_below"
_FIELDS = (
    Field("investigation", Table(), "how the findings came about, and what they are read with"),
    Field(
        "investigation.evidence",
        Text(TABLE_PATH, longest=LONGEST_NOTE),
        "findings in a CSV file, whose columns are the keys of [[evidence]]",
        '"found.csv"',
    ),
    Field(
        "investigation.selection",
        Word((*SELECTIONS, WHOLE_LOT), {"all inspected": WHOLE_LOT}),
        "why these fasteners were looked at; 'all' where it was the whole lot",
        '"random"',
        Default("random", "random: the fasteners were looked at without regard to looseness"),
    ),
    Field(
        "investigation.after",
        Quantity(TIME, above=0.0),
        "time since tightening of all that was found without a time of its own; a finding 'time in "
        "service' says the same",
        '"2 years"',
    ),
    Field(
        "investigation.lot",
        Whole(1, 1_000_000),
        "number of fasteners in the lot",
        "24",
    ),
    Field(
        f"{INSTRUMENTS}[]",
        Table(),
        "instrument whose own error all its readings share",
    ),
    Field(
        f"{INSTRUMENTS}[].name",
        Text("the name of an instrument", or_number=True),
        "name of the instrument",
        '"gauge A"',
        needed=True,
    ),
    Field(
        f"{INSTRUMENTS}[].bias_sd",
        Quantity(RATIO, above=0.0, high=0.5),
        "its own error as a share of what it reads, one standard deviation",
        '"3 %"',
        needed=True,
    ),
    Field(
        _LOOSE_BELOW,
        Quantity(FORCE, above=0.0),
        "preload below which a joint counts as loose",
        '"20 kN"',
    ),
    Field(
        "investigation.as_designed",
        Quantity(RATIO, above=0.0),
        "weight beforehand of the joint as designed",
        "1",
        Default(1.0, "1: prior weight of the joint as designed"),
    ),
    Field(
        "investigation.two_causes",
        Quantity(RATIO, low=0.0, high=0.9),
        "chance beforehand that two suspects are at work together; 0 looks at single ones alone",
        '"10 %"',
        Default(
            0.1,
            "10 %: chance beforehand that two suspects are at work together",
            "engineering judgement",
        ),
    ),
)


_MEASUREMENT = "investigation.measurement[]"
_EFFORT_FIELDS = (
    Field(_MEASUREMENT, Table(), "what a measurement to come takes, one each kind"),
    Field(
        f"{_MEASUREMENT}.kind",
        Word((*READINGS, *OBSERVATIONS, COUNT)),
        "kind of finding",
        '"residual preload"',
        needed=True,
    ),
    Field(
        f"{_MEASUREMENT}.price",
        Quantity(RATIO, above=0.0),
        "its price; what is worth measuring then goes by information for the price",
        "40",
    ),
    Field(
        f"{_MEASUREMENT}.time",
        Quantity(TIME, above=0.0),
        "time that it takes; used where no price is stated",
        '"20 min"',
    ),
)


_CIRCLE = "investigation.circle"
_INSPECTION_FIELDS = (
    Field(
        "investigation.asset",
        Text("the name of what was inspected"),
        "what was inspected, for the page to hand over",
        '"quarry screen 2, drive side"',
    ),
    Field(
        "investigation.drawing",
        Text("the number of a drawing", or_number=True),
        "drawing of the joint",
        '"4711-02"',
    ),
    Field("investigation.date", Text("a date"), "date of the inspection", '"3 May 2026"'),
    Field("investigation.inspector", Text("a name"), "who inspected", '"J. Miller"'),
    Field(_CIRCLE, Table(), "bolt circle: fasteners 1, 2, 3 ... clockwise from the top"),
    Field(
        f"{_CIRCLE}.fasteners",
        Whole(2, 200),
        "number of fasteners on the circle, which the findings name by their numbers",
        "12",
    ),
    Field(
        f"{_CIRCLE}.diameter",
        Quantity(LENGTH, above=0.0),
        "diameter of the bolt circle",
        '"300 mm"',
    ),
)


FIELDS = (*_FIELDS, *_EFFORT_FIELDS, *_INSPECTION_FIELDS)


def is_investigation(data: Mapping[str, Any]) -> bool:
    """Return whether a file has anything of an investigation."""
    return any(section in data for section in (*TRACE_SECTIONS, "evidence", "suspect"))


def investigation_of(
    data: Mapping[str, Any], stated: Stated, case: Case | None, file: File
) -> Investigation | None:
    """Return evidence and suspects; None with the problems noted.

    Parameters
    ----------
    data : mapping
        The tables of the file.
    stated : Stated
        What they state; takes what is wrong.
    case : Case or None
        The joint as designed; None where it has problems, and those of the rest are wanted too.
    file : File
        The file.
    """
    draft = Draft(stated, file.folder)
    draft.assume_default("investigation.selection")
    draft.assume_default("investigation.as_designed")
    draft.assume_default("investigation.two_causes")
    preload = math.nan if case is None else _preload_as_designed(case)
    evidence = evidence_of(draft, _state_names(stated), preload)
    suspects = suspects_of(data, draft, case, file)
    inspection = _inspection(stated, evidence)
    if case is None:
        return None
    evidence = _with_limits(evidence, case, draft)
    if not stated.problems:
        _check_evidence(evidence, suspects, stated.problems)
    if stated.problems:
        return None
    warnings = draft.warnings
    if len(suspects) == 1:
        warnings.append("no [[suspect]] is named: the joint as designed has no rival.")
    warnings += _time_warnings(evidence, suspects)
    if evidence.undone:
        warnings.append(
            "Turned for a torque, and looked at again later: fastener "
            f"{', '.join(evidence.undone)}. "
            "Torque undoes preload, mark and settling: what came later tells of another tightening."
        )
    if evidence.other_times and any(_turns_untimed(each) for each in suspects):
        draft.assume(
            "rotation.angle",
            "is that of the time of the inspection; at another time slip has turned the nut in "
            "proportion to time",
            JUDGEMENT,
        )
    return Investigation(
        evidence,
        suspects,
        stated.known("investigation.two_causes", float),
        _efforts(stated),
        inspection,
        draft.assumptions,
        tuple(warnings),
    )


def _time_warnings(evidence: Evidence, suspects: tuple[Suspect, ...]) -> list[str]:
    """Return what a time does not do, and what asks for one."""
    creeping = [s.name for s in suspects if s.case.joint.service and s.case.joint.service.creep]
    if evidence.service_time is None:
        return [
            f"'{name}' creeps ([settling] over_time), which shows only where a time is known: "
            "state after of [investigation], or of findings."
            for name in creeping
        ]
    followed = any(s.rotation_time or s.case.joint.service for s in suspects)
    if followed or (evidence.other_times and any(map(_turns_untimed, suspects))):
        return []
    return [
        "The time in service changes nothing here: only a [rotation] that states its own time "
        "(rotation.time, of the case or of a suspect) grows with it, and preload that creeps "
        "([[settling.over_time]])."
    ]


def _turns_untimed(suspect: Suspect) -> bool:
    """Return whether slip turns the nut by an angle that states no time."""
    return "rotation.angle" in suspect.traces and suspect.rotation_time is None


def _efforts(stated: Stated) -> dict[str, Effort]:
    """Return what measurements to come take, by kind."""
    efforts: dict[str, Effort] = {}
    for path in stated.each("investigation.measurement"):
        kind = stated.get(f"{path}.kind", str)
        if kind is None:
            continue
        if kind in efforts:
            stated.problem(f"{path}.kind", "each kind once")
        efforts[kind] = Effort(
            stated.get(f"{path}.price", float), stated.get(f"{path}.time", float)
        )
    return efforts


def _inspection(stated: Stated, evidence: Evidence) -> Inspection:
    """Return what was inspected; a circle with none of the fasteners found on is a problem."""
    count = stated.get(f"{_CIRCLE}.fasteners", int)
    diameter = stated.get(f"{_CIRCLE}.diameter", float)
    circle = None
    if count is not None and diameter is not None:
        circle = BoltCircle(count, diameter)
    elif count is not None or diameter is not None:
        missing = "fasteners" if count is None else "diameter"
        stated.missing(f"{_CIRCLE}.{missing}", "both are needed to draw the circle")
    if circle and evidence.fasteners and not set(circle.names) & set(evidence.fasteners):
        allowed = f"findings on fasteners named 1 to {circle.fasteners}"
        stated.problems.add(_CIRCLE, f"findings on {', '.join(evidence.fasteners[:3])}", allowed)
    asset, drawing, date, inspector = (
        stated.get(f"investigation.{key}", str) or ""
        for key in ("asset", "drawing", "date", "inspector")
    )
    return Inspection(asset, drawing, date, inspector, circle)


def _preload_as_designed(case: Case) -> float:
    """Return the preload after tightening with every input at its mean [N]."""
    return float(evaluate(case.joint, case.means).assembly.preload)


def _state_names(stated: Stated) -> tuple[str, ...]:
    names = (stated.get(f"{state}.name", str) for state in stated.each("temperature.state"))
    return tuple(name for name in names if name is not None)


def _with_limits(evidence: Evidence, case: Case, draft: Draft) -> Evidence:
    """Fill in what loose means where the evidence needs it."""
    needed = evidence.selected or any(math.isnan(count.limit) for count in evidence.counts)
    limit = evidence.loose_below
    if limit is None and needed:
        law = case.laws.get("requirement.minimum_preload")
        if law is None or law.mean <= 0.0:
            draft.stated.missing(_LOOSE_BELOW, "the preload below which a joint counts as loose")
            return evidence
        limit = law.mean
        draft.assume(
            _LOOSE_BELOW,
            (Magnitude(limit, FORCE), ": below the minimum preload counts as loose"),
        )
    counts = tuple(
        replace(count, limit=limit) if math.isnan(count.limit) and limit is not None else count
        for count in evidence.counts
    )
    return replace(evidence, counts=counts, loose_below=limit)


def _check_evidence(evidence: Evidence, suspects: tuple[Suspect, ...], problems: Problems) -> None:
    """Every suspect must say something of every kind that was found."""
    kinds = {finding.kind for finding in evidence.findings}
    if not evidence.findings and not evidence.counts:
        problems.missing("evidence", "findings under [[evidence]], or a CSV file")
    turned = bool(kinds & {"tightening torque", "loosening torque"})
    read = {finding.input: finding.kind for finding in evidence.findings if finding.input}
    for suspect in suspects:
        case = suspect.case
        if turned and torque_per_preload(case.joint, case.means) is None:
            problems.missing("friction", "a torque was found: state thread and bearing")
        if "recorded torque" in kinds and case.joint.method.setting != "torque":
            words = "a torque was recorded: a method that sets the torque alone"
            problems.add("tightening.method", case.joint.method.name, words)
        if "slip mark" in kinds and not case.may_slip:
            words = "a slip mark was looked for: state it, with friction.joint"
            problems.missing("load.transverse", words)
        if "head mark" in kinds and not case.joint.grade:
            problems.missing("fastener.property_class", "a head mark was read: state it")
        known = suspect.traces.keys() | suspect.case.laws.keys()
        for name in sorted(read.keys() - known):
            if read[name] == "temperature":
                problems.add("evidence", name, "a state and part that every suspect has")
            else:
                problems.missing(name, f"{read[name]} was found: state it for the design")
