"""What a file of test records measures, as far as it is asked for."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.case_file import RecordFile
from preloadmc.case_file.csv_headings import folded
from preloadmc.case_file.problems import nearest
from preloadmc.errors import UsageError
from preloadmc.questions.fit.derived import (
    RIG_COLUMNS,
    TOOL_COLUMNS,
    frictions,
    is_rig,
    tool_errors,
)
from preloadmc.questions.fit.reading import Reader, check_of, input_of, measured, no_scatter
from preloadmc.questions.fit.records import FitQuestion, Measured
from preloadmc.units import RATIO


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Quantities to be fitted, and columns that are not, each with the reason.

    ``lot`` is the column of lots, or None. ``is_rig`` says that torque and preload are there.
    """

    measured: tuple[Measured, ...]
    passed_over: tuple[tuple[str, str], ...]
    lot: str | None
    is_rig: bool


def found_in(file: RecordFile, question: FitQuestion, case: Case | None) -> Found:
    """Return what a file measures, as far as it is asked for.

    Raises
    ------
    CaseError
        With every problem of the file or of the names in the options.
    UsageError
        If an option does not go with the file, or nothing scatters.
    """
    reader = Reader(file, question)
    reader.records.check(reader.problems)
    reader.raise_problems()
    derived = tool_errors(reader)
    has_tool = bool(derived)
    if case is not None:
        derived += frictions(reader, case)
    names = {folded(name) for name in reader.records.names}
    own = {folded(each.name): each for each in derived if folded(each.name) not in names}
    by_name = {**_by_key(own, names), **own}
    column = question.column
    if column is None:
        if question.unit is not None:
            raise UsageError("--unit is of one column: name it by --column")
        raw = (*(RIG_COLUMNS if case is not None else ()), *(TOOL_COLUMNS if has_tool else ()))
        found = [*own.values(), *_numbers(reader, raw)]
    elif folded(column) in by_name:
        found = [by_name[folded(column)]]
    else:
        found = _one(reader, column, tuple(each.name for each in own.values()))
    reader.raise_problems()
    if not found:
        reasons = [f"{name}: {why}" for name, why in reader.passed_over]
        there = "; ".join(reasons or [f"columns {', '.join(reader.records.names)}"])
        raise UsageError(f"{file.source}: no column of numbers that scatter ({there})")
    return Found(tuple(found), tuple(reader.passed_over), reader.lot, is_rig(reader))


def _by_key(own: Mapping[str, Measured], names: Collection[str]) -> dict[str, Measured]:
    """Return derived quantities by their short names in a case file that no column has."""
    keys = {folded(each.input.name.partition(".")[2]): each for each in own.values() if each.input}
    return {key: each for key, each in keys.items() if key not in names}


def groups_of(file: RecordFile, question: FitQuestion, lot: str | None) -> tuple[str, ...]:
    """Return columns of few words by which tests may differ, and no filter has taken."""
    reader = Reader(file, question)
    found = []
    for name in file.records.names:
        is_words = file.records.unit_of(name) is None
        if is_words and not reader.is_taken(name) and folded(name) != folded(lot or ""):
            words = file.records.words_of(name)
            if 1 < len(words) <= len(file.records.rows) // 2:
                found.append(name)
    return tuple(found)


def _one(reader: Reader, column: str, derived: tuple[str, ...]) -> list[Measured]:
    """Return the column that is asked for, or none with its problems noted."""
    names = reader.records.names
    unit = reader.records.unit_of(column)
    if unit is None and derived and reader.named((folded(column),)) is None:
        known = (*names, *derived)
        words = f"a column of {reader.file.name}, or {', '.join(derived)}{nearest(column, known)}"
        reader.problems.add("--column", column, words)
        return []
    if unit == "" and reader.question.unit is not None:
        unit = reader.question.unit
    dimension = reader.dimension(unit)
    if dimension is None:
        if unit:
            raise UsageError(f"column {column!r}: nothing here is measured in {unit}")
        dimension = RATIO  # the cells are words: each is told
    kind = input_of(column, dimension)
    found = reader.column(column, dimension, check_of(column, dimension, kind), alone=True)
    return [] if found is None else [measured(found, dimension, unit or "", kind)]


def _numbers(reader: Reader, raw: tuple[str, ...]) -> list[Measured]:
    """Return every column of numbers that scatter; note why the others are passed over."""
    found = []
    for name in reader.records.names:
        if reader.is_taken(name) or folded(name) in raw:
            continue
        unit = reader.records.unit_of(name)
        dimension = reader.dimension(unit)
        if dimension is None:
            if unit is not None:
                reader.passed_over.append((name, f"nothing here is measured in {unit}"))
            continue
        kind = input_of(name, dimension)
        column = reader.column(name, dimension, check_of(name, dimension, kind))
        if column is None:
            continue
        quantity = measured(column, dimension, unit or "", kind)
        why = no_scatter(quantity.values, dimension)
        if why:
            reader.passed_over.append((name, why))
        else:
            found.append(quantity)
    return found
