"""Records of vibration tests out of CSV files: one file a test, or a column that names the test."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from preloadmc.case_file import RecordFile
from preloadmc.case_file.csv_headings import folded
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.test_records import TestRecords
from preloadmc.errors import CaseError, UsageError
from preloadmc.questions.decay.vibration_record import MOST_REMAINDER, VibrationRecord
from preloadmc.told import percent
from preloadmc.typed_numbers import comma_in_doubt, has_decimal_comma, with_decimal_point
from preloadmc.units import ANGLE, FORCE, RATIO, Array, dimension_of

# What laboratories head the columns with.
_NAMES = {
    "cycles": ("load cycles", "cycles", "load cycle", "cycle", "number of cycles"),
    "preload": (
        "preload", "remaining preload", "residual preload", "clamp force", "clamping force",
    ),
    "initial": ("initial preload", "initial clamp force"),
    "rotation": ("rotation", "nut rotation", "bolt rotation", "angle", "rotation angle"),
    "test": ("test", "test no", "test no.", "specimen", "run"),
    "element": ("element", "securing element", "securing"),
}  # fmt: skip
_CONDITIONS = (
    "joint", "amplitude", "transverse amplitude", "clamp length", "grip", "frequency", "lubricant",
)  # fmt: skip
# A reading counts as the initial one up to this many cycles.
_AT_START = 1.0
# Beyond this share of the initial preload no unit can be right.
_MOST_SHARE = 1.5


@dataclass
class _Rows:
    """The rows of one test, in the order of the file."""

    element: str = ""
    conditions: tuple[tuple[str, str], ...] = ()
    lines: list[int] = field(default_factory=list)
    cycles: list[float] = field(default_factory=list)
    preload: list[float] = field(default_factory=list)
    rotation: list[float] = field(default_factory=list)
    initial: list[float] = field(default_factory=list)


def vibration_records(
    files: Sequence[RecordFile], where: Mapping[str, str]
) -> tuple[tuple[VibrationRecord, ...], int]:
    """Return the record of each test, in the order of the files, and how many rows lack a value.

    Raises
    ------
    CaseError
        With every problem of the first file that has any.
    UsageError
        If a test stands in two files, or two files have one name.
    """
    found: dict[str, VibrationRecord] = {}
    names: set[str] = set()
    left_out = 0
    for file in files:
        if file.name in names:
            raise UsageError(f"{file.source}: another file is called {file.name} too; rename one")
        names.add(file.name)
        records, gaps = _records_of(file, where)
        left_out += gaps
        for each in records:
            if each.test in found:
                raise UsageError(
                    f"test {each.test} stands in {found[each.test].source} and {each.source}: "
                    "each test has a name of its own"
                )
            found[each.test] = each
    return tuple(found.values()), left_out


def _records_of(file: RecordFile, where: Mapping[str, str]) -> tuple[list[VibrationRecord], int]:
    problems = Problems()
    records = file.records
    records.check(problems)
    _raise(file, problems)
    columns = {meaning: _named(records, names) for meaning, names in _NAMES.items()}
    for meaning, words in (("cycles", "load cycles"), ("preload", "preload")):
        if columns[meaning] is None:
            problems.add(
                f"{file.name}, columns",
                ", ".join(records.names),
                f"a column '{_NAMES[meaning][0]}' with the {words}",
            )
    _raise(file, problems)
    preload_name = columns["preload"]
    assert preload_name is not None, "looked for above"
    is_force = _is_force(records, preload_name)
    dimension = FORCE if is_force else RATIO
    read = {
        "cycles": (RATIO, _of_cycles),
        "preload": (dimension, _of_force if is_force else _of_share),
        "initial": (FORCE, _above_zero),
        "rotation": (ANGLE, None),
    }
    values: dict[str, dict[int, float]] = {}
    for meaning, (of, check) in read.items():
        name = columns[meaning]
        if name is None:
            continue
        column = records.column(
            name, of, problems, "--", where=where, fewest=0, differing=False, check=check
        )
        if column is not None:
            values[meaning] = dict(zip(column.lines, column.values, strict=True))
            if meaning in ("cycles", "preload"):
                values[f"no {meaning}"] = dict.fromkeys(column.empty, 0.0)
    _raise(file, problems)
    tests, left_out = _tests(file, columns, values, problems)
    made = [_record(file, test, rows, is_force, problems) for test, rows in tests.items()]
    if not made:
        problems.add(file.name, None, "a row with load cycles and preload")
    _raise(file, problems)
    return [each for each in made if each is not None], left_out


def _tests(
    file: RecordFile,
    columns: Mapping[str, str | None],
    values: Mapping[str, Mapping[int, float]],
    problems: Problems,
) -> tuple[dict[str, _Rows], int]:
    """Return the rows of each test that have cycles and preload, and how many rows lack one."""
    records = file.records
    both = [line for line in values["cycles"] if line in values["preload"]]
    every = {line for column in values.values() for line in column}
    stem = file.name.rpartition(".")[0] or file.name
    words = {
        meaning: (
            dict.fromkeys(both, "")
            if columns[meaning] is None
            else dict(zip(both, records.words_at(str(columns[meaning]), both), strict=True))
        )
        for meaning in ("test", "element")
    }
    conditions = [name for name in records.names if folded(name) in _CONDITIONS]
    said = {name: dict(zip(both, records.words_at(name, both), strict=True)) for name in conditions}
    units = {each.name: each.unit for each in records.headings}
    found: dict[str, _Rows] = {}
    for line in both:
        test = words["test"][line] or stem
        rows = found.get(test)
        if rows is None:
            stated = tuple(
                (name, _condition(said[name][line], units[name]))
                for name in conditions
                if said[name][line]
            )
            rows = found[test] = _Rows(words["element"][line], stated)
        rows.lines.append(line)
        rows.cycles.append(values["cycles"][line])
        rows.preload.append(values["preload"][line])
        rows.rotation.append(values.get("rotation", {}).get(line, np.nan))
        if line in values.get("initial", {}):
            rows.initial.append(values["initial"][line])
    for test, rows in found.items():
        others = {words["element"][line] for line in rows.lines} - {rows.element}
        if others:
            given = f"'{rows.element}' and '{min(others)}'"
            problems.add(f"{file.name}, test {test}", given, "one element for each test")
    return found, len(every) - len(both)


def _record(
    file: RecordFile, test: str, rows: _Rows, is_force: bool, problems: Problems
) -> VibrationRecord | None:
    """Return the record of one test; None with its problems noted."""
    at = f"{file.name}, test {test}"
    cycles, preload = np.array(rows.cycles), np.array(rows.preload)
    if np.all(cycles <= 0.0):
        problems.add(at, "no cycles above 0", "a reading after 1 load cycle or more")
        return None
    falls = np.flatnonzero(np.diff(cycles) <= 0.0)
    if len(falls):
        k = int(falls[0])
        given = f"{cycles[k + 1]:,.10g} after {cycles[k]:,.10g}"
        words = "load cycles that rise from row to row within a test; is a test named twice?"
        problems.add(f"{file.name}, line {rows.lines[k + 1]}", given, words)
        return None
    initial = rows.initial[0] if rows.initial else None
    if len(set(rows.initial)) > 1:
        problems.add(at, "two initial preloads", "one initial preload for each test")
        return None
    if is_force:
        if initial is None and cycles[0] <= _AT_START:
            initial = float(preload[0])
        if initial is None or initial <= 0.0:
            words = "a preload at 0 cycles, or a column 'initial preload': what is left is a share"
            problems.add(at, f"first reading at {cycles[0]:,.10g} cycles", words)
            return None
        preload = preload / initial
    elif cycles[0] == 0.0 and preload[0] < MOST_REMAINDER:
        words = f"{percent(MOST_REMAINDER)} or more at 0 cycles: shares are of the initial preload"
        problems.add(at, percent(preload[0]), words)
        return None
    rotation: Array = np.array(rows.rotation)
    if cycles[0] > 0.0:
        # Whatever was read first, all the preload was there before the first cycle.
        cycles, preload = np.append(0.0, cycles), np.append(1.0, preload)
        rotation = np.append(np.nan, rotation)
    return VibrationRecord(
        test,
        rows.element,
        cycles,
        preload,
        None if np.all(np.isnan(rotation)) else rotation,
        initial,
        rows.conditions,
        file.source,
    )


def _condition(words: str, unit: str | None) -> str:
    """Return what a cell states, with the unit of its column; a decimal comma as a point."""
    if has_decimal_comma(words) and not comma_in_doubt(words):
        words = with_decimal_point(words)
    return f"{words} {unit or ''}".strip()


def _named(records: TestRecords, names: tuple[str, ...]) -> str | None:
    there = {folded(name): name for name in records.names}
    return next((there[name] for name in names if name in there), None)


def _is_force(records: TestRecords, name: str) -> bool:
    unit = records.unit_of(name)
    try:
        dimension = None if not unit else dimension_of(unit)
    except ValueError:
        return False
    return dimension is not None and dimension.exponents == FORCE.exponents


def _of_cycles(value: float) -> str:
    return "" if value >= 0.0 else "load cycles of 0 or above"


def _above_zero(value: float) -> str:
    return "" if value > 0.0 else "an initial preload above 0"


def _of_force(value: float) -> str:
    return "" if value >= 0.0 else "a preload of 0 or above"


def _of_share(value: float) -> str:
    if value > _MOST_SHARE:
        return "a share of the initial preload; else a unit in the header: 'preload [kN]' or '[%]'"
    return "" if value >= 0.0 else "a share of the initial preload, 0 or above"


def _raise(file: RecordFile, problems: Problems) -> None:
    if problems:
        raise CaseError(file.source, problems.sorted(lambda _: ()))
