"""A tool described as it is bought and tested, turned into the law of its factor 1 + e."""

from __future__ import annotations

import csv
import io
import math

import numpy as np

from preloadmc.case_file.content import TABLE_PATH
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field, Form
from preloadmc.case_file.kinds import Quantity
from preloadmc.case_file.law_kind import SharedScatter
from preloadmc.case_file.law_table import COVERAGE
from preloadmc.case_file.word_kinds import LONGEST_NOTE, Text, Word
from preloadmc.chance import spreads
from preloadmc.chance.laws import Law, Normal, Uniform
from preloadmc.units import RATIO, TORQUE, parse_quantity

_FEWEST_RUNDOWNS = 5
_TOOL = "tightening.tool"
_TOLERANCE, _COVERAGE = f"{_TOOL}.tolerance", f"{_TOOL}.coverage"
_CM, _CMK, _SHIFT = f"{_TOOL}.cm", f"{_TOOL}.cmk", f"{_TOOL}.shift"
_RUNDOWNS, _TARGET = f"{_TOOL}.rundowns", f"{_TOOL}.target"


def _from_tolerance(draft: Draft) -> Law | None:
    """Return the law of a tool by its tolerance, as ISO 6789 states a class."""
    tolerance = draft.stated.get(_TOLERANCE, float)
    coverage = draft.stated.get(_COVERAGE, str)
    if tolerance is None or coverage is None:
        return None
    if coverage == spreads.RECTANGULAR:
        return Uniform(1.0 - tolerance, 1.0 + tolerance)
    return Normal(1.0, spreads.sd_from_half_width(tolerance, coverage))


def _from_capability(draft: Draft) -> Law | None:
    """Return the law of a tool by Cm and Cmk within a tolerance."""
    stated = draft.stated
    tolerance, cmk = stated.get(_TOLERANCE, float), stated.get(_CMK, float)
    cm = stated.get(_CM, float)
    shift = stated.get(_SHIFT, str)
    if tolerance is None or cmk is None or (cm is None and _CM in stated):
        return None
    if cm is None:
        cm = cmk
    if cm < cmk:
        stated.problem(_CM, "Cm, which is never below Cmk")
        return None
    if cm > cmk and shift is None:
        if _SHIFT not in stated:
            stated.missing(
                _SHIFT, "'low' or 'high': to which side the mean lies off, as Cmk < Cm says"
            )
        return None
    off = tolerance * (1.0 - cmk / cm) * (-1.0 if shift == "low" else 1.0)
    sd = tolerance / (3.0 * cm)
    draft.assume(
        _TOOL,
        f"normal, mean {100 * off:+.2g} % off, s.d. {100 * sd:.3g} %, from Cm {cm:g}, Cmk {cmk:g}",
        "Cm = tolerance/(3 s), Cmk = (tolerance - |offset|)/(3 s)",
    )
    return Normal(1.0 + off, sd)


def _from_rundowns(draft: Draft) -> Law | None:
    """Return the law of a tool by the torques of its rundowns on a hard and a soft joint."""
    target = draft.stated.get(_TARGET, float)
    name = draft.stated.get(_RUNDOWNS, str)
    if target is None or name is None:
        return None
    found = _read_rundowns(draft, name)
    if found is None:
        return None
    hard, soft = found["hard"], found["soft"]
    high = max(float(each.mean() + 3.0 * each.std(ddof=1)) for each in (hard, soft))
    low = min(float(each.mean() - 3.0 * each.std(ddof=1)) for each in (hard, soft))
    shift = abs(float(hard.mean() - soft.mean()))
    mean, sd = 0.5 * (high + low) / target, (high - low) / 6.0 / target
    draft.assume(
        _TOOL,
        f"normal, mean {100 * (mean - 1.0):+.2g} % off, s.d. {100 * sd:.3g} %: combined scatter "
        f"{100 * (high - low) / (0.5 * (high + low)):.3g} % of the mean, mean shift "
        f"{100 * shift / target:.2g} %, {len(hard)} hard and {len(soft)} soft rundowns",
        "ISO 5393, combined range read as 6 s.d. (formulas from memory)",
    )
    return Normal(mean, sd)


def _read_rundowns(draft: Draft, name: str) -> dict[str, np.ndarray] | None:
    """Return the torques [N·mm] of the hard and the soft joint, or None with problems noted."""
    stated = draft.stated
    torques: dict[str, list[float]] = {"hard": [], "soft": []}
    text = draft.table(_RUNDOWNS)
    if text is None:
        return None
    try:
        rows = list(csv.DictReader(io.StringIO(text, newline="")))
    except csv.Error as error:
        stated.problem(_RUNDOWNS, f"a CSV file with columns joint and torque: {error}")
        return None
    for line, row in enumerate(rows, 2):
        joint, torque = (row.get("joint") or "").strip(), row.get("torque") or ""
        try:
            if joint not in torques:
                raise ValueError("joint 'hard' or 'soft'")
            value = parse_quantity(torque, TORQUE)
            if not (math.isfinite(value) and value > 0.0):
                raise ValueError("a torque above 0")
            torques[joint].append(value)
        except ValueError as error:
            stated.problems.add(f"{name}, line {line}", f"{joint}, {torque}", str(error))
            return None
    for joint, values in torques.items():
        if len(values) < _FEWEST_RUNDOWNS or len(set(values)) < 2:
            stated.problem(
                _RUNDOWNS, f"at least {_FEWEST_RUNDOWNS} differing rundowns of the {joint} joint"
            )
            return None
    return {joint: np.array(values) for joint, values in torques.items()}


_TOLERANCE_ROW = Field(
    _TOLERANCE,
    Quantity(RATIO, above=0.0, high=0.9, both_ways=True),
    "tolerance of the tool about its set value",
    '"6 %"',
    needed=True,
)
_SHARED_ROW = Field(
    f"{_TOOL}.shared",
    SharedScatter(),
    "scatter that several fasteners have in common",
    '{ by = "tool", fraction = 0.8 }',
)
# The key that names a CSV file.
RUNDOWNS = _RUNDOWNS.rpartition(".")[2]
FORMS = (
    Form(
        _TOOL,
        "rundowns",
        (
            Field(
                _RUNDOWNS,
                Text(TABLE_PATH, longest=LONGEST_NOTE),
                "torques of rundowns on a hard and a soft joint, a CSV file",
                '"rundowns.csv"',
            ),
            Field(
                _TARGET,
                Quantity(TORQUE, above=0.0),
                "set torque of the rundowns",
                '"50 N·m"',
                needed=True,
            ),
            _SHARED_ROW,
        ),
        _from_rundowns,
    ),
    Form(
        _TOOL,
        "cmk",
        (
            _TOLERANCE_ROW,
            Field(_CMK, Quantity(RATIO, above=0.0), "capability Cmk within the tolerance", "1.2"),
            Field(_CM, Quantity(RATIO, above=0.0), "capability Cm, if above Cmk", "1.4"),
            Field(
                _SHIFT,
                Word(("low", "high")),
                "side to which the mean lies off, where Cmk is below Cm",
                '"high"',
            ),
            _SHARED_ROW,
        ),
        _from_capability,
    ),
    Form(
        _TOOL,
        "tolerance",
        (
            _TOLERANCE_ROW,
            Field(_COVERAGE, COVERAGE, "how the tolerance is meant", '"2 sd"', needed=True),
            _SHARED_ROW,
        ),
        _from_tolerance,
        "; in a law it is called half_width",
    ),
)
