"""What follows from several columns: friction of a torque-tension rig, errors of a tool."""

from __future__ import annotations

import numpy as np

from preloadmc.case import Case
from preloadmc.case_file.test_records import TestColumn
from preloadmc.errors import UsageError
from preloadmc.inputs import INPUT_KINDS
from preloadmc.mechanics.measured_friction import (
    bearing_friction_from_torque,
    thread_friction_from_torque,
)
from preloadmc.mechanics.tightening import total_friction
from preloadmc.questions.fit.reading import Reader, no_scatter
from preloadmc.questions.fit.records import Measured
from preloadmc.units import FORCE, PERCENT, RATIO, TORQUE, Array, format_number, to_unit

# Columns that are read by their names, each with the names it may have.
_TORQUE = ("torque", "tightening torque")
_PRELOAD = ("preload", "clamp force")
_THREAD_TORQUE = ("thread torque",)
_BEARING_TORQUE = ("bearing torque",)
_PREVAILING = ("prevailing torque",)
_SET, _READING = ("set", "set torque", "set value"), ("reading",)
RIG_COLUMNS = (*_TORQUE, *_PRELOAD, *_THREAD_TORQUE, *_BEARING_TORQUE, *_PREVAILING)
TOOL_COLUMNS = (*_SET, *_READING)
TOOL_ERROR = "error of the tool"
_RIG = (
    "torque over preload as in ISO 16047, by the exact torque equation; its linear one gives a "
    "friction that is up to 1 % higher"
)


def is_rig(reader: Reader) -> bool:
    """Return whether a file has what a torque-tension rig records."""
    return reader.named(_TORQUE) is not None and reader.named(_PRELOAD) is not None


def tool_errors(reader: Reader) -> list[Measured]:
    """Return the error of each reading as a share of its set value; none without such columns.

    Tests at several set values are lots of their own, unless the file has lots.
    """
    setting, reading = reader.named(_SET), reader.named(_READING)
    if setting is None or reading is None:
        return []
    unit = reader.records.unit_of(setting)
    dimension = reader.dimension(reader.records.unit_of(reading)) or TORQUE
    found = reader.together({"set": (setting, dimension), "reading": (reading, dimension)})
    if found is None:
        return []
    values, column, missing = found
    lots = column.lots
    if lots is None and len(set(values["set"])) > 1:
        written = (format_number(to_unit(each, unit or "", dimension)) for each in values["set"])
        lots = tuple(f"{number} {unit or ''}".strip() for number in written)
    errors = values["reading"] / values["set"] - 1.0
    kind = INPUT_KINDS["tightening.tool"]
    why = no_scatter(errors, PERCENT)
    if why:
        reader.passed_over.append((TOOL_ERROR, why))
        return []
    source = f"'{reading}' over '{setting}', less 1"
    return [Measured(TOOL_ERROR, PERCENT, "%", errors, column.lines, lots, source, kind, missing)]


def frictions(reader: Reader, case: Case) -> list[Measured]:
    """Return frictions and nut factor of each test of a rig, with the geometry of a case.

    Raises
    ------
    UsageError
        If the file has no torque or no preload.
    """
    if not is_rig(reader):
        there = ", ".join(reader.records.names) or "none"
        raise UsageError(
            f"--case: columns 'torque' and 'preload' go with it; {reader.file.name} has {there}"
        )
    thread_torque = reader.named(_THREAD_TORQUE)
    found = reader.together(
        {
            "thread torque": (thread_torque, TORQUE),
            "bearing torque": (None if thread_torque else reader.named(_BEARING_TORQUE), TORQUE),
            "prevailing torque": (reader.named(_PREVAILING), TORQUE),
            "torque": (reader.named(_TORQUE), TORQUE),
            "preload": (reader.named(_PRELOAD), FORCE),
        }
    )
    if found is None:
        return []
    values, column, missing = found
    measured = []
    thread = case.joint.thread
    source = f"{_RIG}; {thread.designation}"
    diameter = case.means.get("fastener.bearing_diameter")
    if diameter is not None:
        source += f", bearing diameter {format_number(diameter)} mm"
    for key, numbers in _of_rig(reader, case, values).items():
        kind = INPUT_KINDS[key]
        _note_impossible(reader, kind.label, column, numbers)
        why = no_scatter(numbers, FORCE)
        if why:
            reader.passed_over.append((kind.label, why))
            continue
        measured.append(
            Measured(
                kind.label, RATIO, "", numbers, column.lines, column.lots, source, kind, missing
            )
        )
    return measured


def _of_rig(reader: Reader, case: Case, values: dict[str, Array]) -> dict[str, Array]:
    """Return frictions and nut factor by the key of a case; say what cannot be had."""
    thread = case.joint.thread
    preload = values["preload"]
    prevailing = values.get("prevailing torque", np.zeros_like(preload))
    whole = values["torque"] - prevailing
    in_thread = None
    if "thread torque" in values:
        in_thread = values["thread torque"] - prevailing
    elif "bearing torque" in values:
        in_thread = whole - values["bearing torque"]
    else:
        words = "needs a column 'thread torque' or 'bearing torque'"
        reader.passed_over += [("thread friction", words), ("bearing friction", words)]
    diameter = case.means.get("fastener.bearing_diameter")
    if diameter is None:
        words = f"{case.source} states no bearing diameter"
        reader.passed_over += [("bearing friction", words), ("total friction", words)]
    else:
        diameter *= case.joint.seat_factor  # friction of a countersunk seat acts on a longer arm
    found = {}
    if in_thread is not None:
        found["friction.thread"] = thread_friction_from_torque(
            in_thread, preload, thread.pitch, thread.pitch_diameter
        )
        if diameter is not None:
            found["friction.bearing"] = bearing_friction_from_torque(
                whole - in_thread, preload, diameter
            )
    if diameter is not None:
        found["friction.total"] = total_friction(
            whole, preload, thread.pitch, thread.pitch_diameter, diameter
        )
    found["friction.nut_factor"] = whole / (preload * thread.diameter)
    return {key: np.asarray(numbers) for key, numbers in found.items()}


def _note_impossible(reader: Reader, label: str, column: TestColumn, numbers: Array) -> None:
    """Note each test whose torques and preload no friction explains."""
    for line, value in zip(column.lines, numbers, strict=True):
        if not value > 0.0:
            words = (
                f"torques and preload that leave a {label} above 0; it comes out at {value:.3g}: "
                "are the thread of the case, the columns and their units right?"
            )
            reader.problems.add(f"{reader.file.name}, line {line}", None, words)
