"""Columns of a file of test records, read for one question with its filter and its lots."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from preloadmc.case_file import RecordFile
from preloadmc.case_file.csv_headings import folded
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.test_records import TestColumn, TestRecords
from preloadmc.errors import CaseError, UsageError
from preloadmc.inputs import INPUT_KINDS, InputKind
from preloadmc.questions.fit.records import FitQuestion, Measured
from preloadmc.units import RATIO, Array, Dimension, dimension_of

_LOT = ("lot", "batch", "charge", "los")
# Groups of inputs that a laboratory measures by themselves.
_MEASURED_GROUPS = ("friction", "strength", "stiffness", "settling")

Check = Callable[[float], str]


class Reader:
    """Reads the columns of one file; ``problems`` and ``passed_over`` fill as it goes."""

    def __init__(self, file: RecordFile, question: FitQuestion) -> None:
        self.file = file
        self.question = question
        self.problems = Problems()
        self.passed_over: list[tuple[str, str]] = []
        self.lot = question.lot or self.named(_LOT)

    @property
    def records(self) -> TestRecords:
        """Return the rows of the file."""
        return self.file.records

    def raise_problems(self) -> None:
        """Raise CaseError with every problem so far."""
        if self.problems:
            raise CaseError(self.file.source, self.problems.sorted(lambda _: ()))

    def named(self, names: tuple[str, ...]) -> str | None:
        """Return the column that has one of some names."""
        there = {folded(name): name for name in self.records.names}
        return next((there[name] for name in names if name in there), None)

    def is_taken(self, name: str) -> bool:
        """Return whether a column says which tests are meant, or which lot they are of."""
        taken = (*self.question.where, self.lot or "")
        return folded(name) in {folded(each) for each in taken}

    def dimension(self, unit: str | None) -> Dimension | None:
        """Return what a unit measures; None for words, or where nothing here is measured so."""
        if unit is None:
            return None
        try:
            return dimension_of(unit)
        except ValueError as error:
            raise UsageError(f"--unit: {error}") from error

    def column(
        self, name: str, dimension: Dimension, check: Check | None, *, alone: bool = False
    ) -> TestColumn | None:
        """Return one column; one that is asked for ``alone`` must scatter."""
        return self.records.column(
            name,
            dimension,
            self.problems,
            "--",
            where=self.question.where,
            lot=self.lot,
            unit=self.question.unit,
            fewest=2 if alone else 0,
            differing=alone,
            check=check,
        )

    def together(
        self, columns: Mapping[str, tuple[str | None, Dimension]]
    ) -> tuple[dict[str, Array], TestColumn, int] | None:
        """Return columns by their meaning, for the tests that have a value above 0 in each.

        Parameters
        ----------
        columns : mapping of str to (str or None, Dimension)
            Name and dimension of a column by its meaning; None for one that the file lacks.

        Returns
        -------
        tuple or None
            The values by meaning, the last column on these tests, and how many tests lack a value;
            None with the problems noted.
        """
        read: dict[str, TestColumn] = {}
        for meaning, (name, dimension) in columns.items():
            if name is not None:
                column = self.column(name, dimension, above_zero(meaning))
                if column is None:
                    return None
                read[meaning] = column
        lines = set.intersection(*(set(column.lines) for column in read.values()))
        on_these = {meaning: _on_lines(column, lines) for meaning, column in read.items()}
        every = {line for column in read.values() for line in (*column.lines, *column.empty)}
        values = {meaning: np.array(column.values) for meaning, column in on_these.items()}
        return values, list(on_these.values())[-1], len(every) - len(lines)


def _on_lines(column: TestColumn, lines: set[int]) -> TestColumn:
    places = [place for place, line in enumerate(column.lines) if line in lines]
    return TestColumn(
        column.name,
        tuple(column.values[place] for place in places),
        tuple(column.lines[place] for place in places),
        None if column.lots is None else tuple(column.lots[place] for place in places),
        column.empty,
    )


def measured(
    column: TestColumn, dimension: Dimension, unit: str, kind: InputKind | None
) -> Measured:
    """Return a column of the file as a quantity."""
    return Measured(
        column.name,
        dimension,
        unit,
        np.array(column.values),
        column.lines,
        column.lots,
        "",
        kind,
        len(column.empty),
    )


def input_of(name: str, dimension: Dimension) -> InputKind | None:
    """Return the input of a case that a column is by its name; None where it is none.

    Examples
    --------
    >>> input_of("thread", RATIO).name, input_of("bearing friction", RATIO).name
    ('friction.thread', 'friction.bearing')
    >>> from preloadmc.units import TORQUE
    >>> input_of("thread", TORQUE) is None
    True
    """
    for kind in INPUT_KINDS.values():
        section, _, key = kind.name.partition(".")
        names = {kind.label, kind.name}
        if section == "friction":
            names.add(folded(key))
        same = kind.dimension.exponents == dimension.exponents
        if same and kind.group in _MEASURED_GROUPS and folded(name) in names:
            return kind
    return None


def check_of(name: str, dimension: Dimension, kind: InputKind | None) -> Check | None:
    """Return what says whether a value of a column is possible, where that is known."""
    if kind is None:
        is_friction = dimension.exponents == RATIO.exponents and "friction" in folded(name)
        return above_zero("a friction") if is_friction else None
    if kind.sign == "positive":
        return above_zero(kind.label)
    return lambda value: f"{kind.label} of 0 or above" if value < 0.0 else ""


def above_zero(what: str) -> Check:
    """Return what says that a value is not above 0."""
    return lambda value: "" if value > 0.0 else f"{what} above 0"


def no_scatter(values: Array, dimension: Dimension) -> str:
    """Return why values are not worth a law; empty where they are.

    Examples
    --------
    >>> no_scatter(np.array([1.0, 2.0, 3.0]), RATIO), no_scatter(np.array([0.12, 0.13]), RATIO)
    ('it counts the rows', '')
    """
    if len(values) < 2:
        return "fewer than 2 values"
    if values.min() == values.max():
        return "all values are equal"
    if dimension is RATIO and np.all(np.diff(values) == 1.0):
        return "it counts the rows"
    return ""
