"""Test records: columns of numbers and words in a CSV file, as a laboratory writes them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from preloadmc.case_file.csv_cells import (
    NotCsvError,
    csv_rows,
    divider_of,
    without_empty_end,
    wrong_count,
)
from preloadmc.case_file.csv_headings import Heading, folded, heading_of, is_unit
from preloadmc.case_file.problems import Problems, listed, nearest
from preloadmc.typed_numbers import (
    comma_in_doubt,
    has_decimal_comma,
    split_quantity,
    with_decimal_point,
)
from preloadmc.unit_words import unit_factor
from preloadmc.units import LARGEST, SMALLEST, Dimension, unit_scale

# A machine that records every tightening of a year stays below.
MOST_LINES = 1_000_000
# Lines of 64 characters.
LARGEST_RECORDS = 64 * MOST_LINES
# Cells that tell whether a column is one of numbers.
_LOOKED_AT = 1000
# Values of a column that are named where a filter leaves nothing.
_NAMED = 8
# What is read without looking for a unit, for speed.
_PLAIN = re.compile(r"[+-]?\d{1,15}(?:\.\d{1,15})?", re.ASCII).fullmatch

Check = Callable[[float], str]
# Where, what was given, what is allowed.
Fault = tuple[str, str | None, str]


@dataclass(frozen=True, slots=True)
class TestColumn:
    """The values of one column, each with its line in the file, in the order of the file.

    ``values`` are in N, mm, MPa, N·mm, K, rad, s. ``lots`` has the word of each value's lot, or is
    None without a column of lots. ``empty`` are the lines without a value, which are left out.
    """

    __test__ = False  # no test case, whatever a test runner thinks of its name

    name: str
    values: tuple[float, ...]
    lines: tuple[int, ...]
    lots: tuple[str, ...] | None
    empty: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class TestRecords:
    """The rows of a file of test records; `read_records` makes them.

    ``faults`` are the problems of the file as a whole, which `column` and `check` hand on.
    """

    __test__ = False

    file: str
    headings: tuple[Heading, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    divider: str
    faults: tuple[Fault, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of the columns, without their units."""
        return tuple(heading.name for heading in self.headings if heading.name)

    def check(self, problems: Problems) -> bool:
        """Note the problems of the file as a whole; return whether there are none."""
        for path, given, allowed in self.faults:
            problems.add(path, given, allowed)
        return not self.faults

    def unit_of(self, heading: str) -> str | None:
        """Return the unit of a column of numbers: of its header, or of its first number.

        An empty text is the unit of bare numbers; None says that most of the cells are words, or
        that there is no such column.
        """
        place = self._place(heading)
        if place is None:
            return None
        filled = (cells[place] for _, cells in self.rows if cells[place])
        seen = [split_quantity(_with_point(cell)) for cell in islice(filled, _LOOKED_AT)]
        units = [split[1] for split in seen if split is not None and is_unit(split[1])]
        if 2 * len(units) <= len(seen):
            return None
        stated = self.headings[place].unit
        return units[0] if stated is None else stated

    def column(
        self,
        heading: str,
        dimension: Dimension,
        problems: Problems,
        path: str = "",
        *,
        where: Mapping[str, str] | None = None,
        lot: str | None = None,
        unit: str | None = None,
        fewest: int = 2,
        differing: bool = True,
        check: Check | None = None,
    ) -> TestColumn | None:
        """Return the values of one column; None with every problem noted.

        Parameters
        ----------
        heading : str
            Name of the column, in any letter case, with or without its unit.
        dimension : Dimension
            What its numbers measure.
        problems : Problems
            Takes what is wrong, in the file with line and column.
        path : str
            Stands before the words "column", "where", "lot" in problems: "friction.thread." or
            "--".
        where : mapping of str to str, optional
            Words by column: rows with other words are left out.
        lot : str, optional
            Name of the column that says which lot a test is of.
        unit : str, optional
            Of the numbers where neither the header nor the cells state one.
        fewest : int
            How many tests there must be.
        differing : bool
            Whether a column of equal values is refused.
        check : callable, optional
            Says what is wrong with a value, in words; empty for nothing.
        """
        if not self.check(problems):
            return None
        place = self._known(heading, f"{path}column", problems)
        rows = self._chosen(where or {}, f"{path}where", problems)
        lots = None if lot is None else self._known(lot, f"{path}lot", problems)
        if place is None or rows is None or (lot is not None and lots is None):
            return None
        found = _Reading(self, place, dimension, unit, problems)
        for line, cells in rows:
            found.read(line, cells[place], check)
            if lots is not None and not cells[lots]:
                problems.add(self._at(line, lots), None, "the lot of this test; the cell is empty")
                found.failed = True
            if problems.cut_off:
                return None
        if found.failed or not found.one_way():
            return None
        values = tuple(found.values)
        at = f"{self.file}, {self.headings[place].name}"
        if len(values) < fewest:
            words = f"at least {fewest} tests, or there is no scatter to see"
            given = f"{len(values)} test{'s' * (len(values) > 1)}" if values else "no test"
            problems.add(at, given, words)
            return None
        if differing and values and min(values) == max(values):
            words = f"values that differ: all {len(values)} are equal, so there is no scatter"
            problems.add(at, None, words)
            return None
        kept = set(found.lines)
        named = None if lots is None else tuple(c[lots] for line, c in rows if line in kept)
        return TestColumn(
            self.headings[place].name, values, tuple(found.lines), named, tuple(found.empty)
        )

    def words_of(self, heading: str) -> dict[str, int]:
        """Return the words of a column, as first written, each with the number of its rows."""
        place = self._place(heading)
        assert place is not None, "the column is there"
        count = Counter(folded(cells[place]) for _, cells in self.rows)
        first: dict[str, str] = {}
        for _, cells in self.rows:
            first.setdefault(folded(cells[place]), cells[place])
        return {first[word]: number for word, number in count.items()}

    def words_at(self, heading: str, lines: Sequence[int]) -> tuple[str, ...]:
        """Return the words of a column on some lines, each as it is first written."""
        place = self._place(heading)
        assert place is not None, "the column is there"
        first = {folded(word): word for word in self.words_of(heading)}
        on_line = dict(self.rows)
        return tuple(first[folded(on_line[line][place])] for line in lines)

    def _place(self, heading: str) -> int | None:
        wanted = folded(heading)
        for place, known in enumerate(self.headings):
            if known.name and wanted in (folded(known.name), folded(known.whole)):
                return place
        return None

    def _known(self, heading: str, path: str, problems: Problems) -> int | None:
        """Return the place of a column; None where there is none, which is noted."""
        place = self._place(heading)
        if place is None:
            words = f"a column of {self.file}: {listed(self.names)}{nearest(heading, self.names)}"
            problems.add(path, heading, words)
        return place

    def _chosen(
        self, where: Mapping[str, str], path: str, problems: Problems
    ) -> list[tuple[int, tuple[str, ...]]] | None:
        """Return the rows that a filter leaves; None where it leaves none, which is noted."""
        wanted = {}
        for heading, word in where.items():
            place = self._known(heading, path, problems)
            if place is None:
                return None
            wanted[place] = folded(word)
        rows = list(self.rows)
        for place, word in wanted.items():
            left = [row for row in rows if folded(row[1][place]) == word]
            if not left:
                name = self.headings[place].name
                there = self.words_of(name)
                named = ", ".join(f"'{w}' ({n})" for w, n in list(there.items())[:_NAMED])
                more = f" and {len(there) - _NAMED} more" if len(there) > _NAMED else ""
                words = f"a group that is not empty; the column '{name}' has {named}{more}"
                given = " and ".join(f"{key} = {value}" for key, value in where.items())
                problems.add(path, given, words)
                return None
            rows = left
        return rows

    def _at(self, line: int, place: int) -> str:
        return f"{self.file}, line {line}, {self.headings[place].name}"


class _Reading:
    """The cells of one column, read one by one.

    A comma that may divide thousands stands before decimals where semicolons divide the cells, or
    where another cell of the column leaves no doubt.
    """

    def __init__(
        self,
        records: TestRecords,
        place: int,
        dimension: Dimension,
        unit: str | None,
        problems: Problems,
    ) -> None:
        self.records = records
        self.place = place
        self.heading = records.headings[place]
        self.dimension = dimension
        self.problems = problems
        self.values: list[float] = []
        self.lines: list[int] = []
        self.empty: list[int] = []
        self.failed = False
        self._bare: int | None = None
        self._with_unit: int | None = None
        self._unit = unit if self.heading.unit is None else self.heading.unit
        cells = [cells[place] for _, cells in records.rows]
        self._commas_are_clear = records.divider == ";" or any(
            has_decimal_comma(cell) and not comma_in_doubt(cell) for cell in cells
        )
        self._has_commas = any(has_decimal_comma(cell) for cell in cells)
        self._scales: dict[str, tuple[float, float] | None] = {}

    def read(self, line: int, cell: str, check: Check | None) -> None:
        """Take one cell; what is wrong with it is noted."""
        if not cell:
            self.empty.append(line)
            return
        if has_decimal_comma(cell) and not self._commas_are_clear:
            doubt = comma_in_doubt(cell)
            self._problem(line, cell, f"{doubt}; divide the cells by semicolons, or write a point")
            return
        if self._has_commas and "." in cell and split_quantity(cell) is not None:
            words = "a comma before the decimals, as in other cells of the column"
            self._problem(line, cell, words)
            return
        split = (float(cell), "") if _PLAIN(cell) else split_quantity(_with_point(cell))
        if split is None:
            self._problem(line, cell, f"a number{self._hint(cell)}")
            return
        number, unit = split
        if unit and self._with_unit is None:
            self._with_unit = line
        if not unit and self._bare is None:
            self._bare = line
        if unit and self.heading.unit is not None:
            words = "no unit in the cell: the header states one"
            self._problem(line, cell, words)
            return
        scale = self._scale(line, cell, unit or self._unit or "")
        if scale is None:
            return
        value = scale[0] + scale[1] * number
        if value and not SMALLEST <= abs(value) <= LARGEST:
            words = f"{self.dimension.with_article} of a size that something has"
        else:
            words = check(value) if check is not None else ""
        if words:
            self._problem(line, cell, words)
            return
        self.values.append(value)
        self.lines.append(line)

    def one_way(self) -> bool:
        """Return whether all numbers of the column have a unit or none has; note if not."""
        if self._bare is None or self._with_unit is None:
            return True
        at = f"{self.records.file}, {self.heading.name}"
        words = f"units in all cells or in none; line {self._with_unit} has one, line {self._bare} "
        self.problems.add(at, None, f"{words}has none")
        return False

    def _scale(self, line: int, cell: str, unit: str) -> tuple[float, float] | None:
        """Return zero and size of a unit in internal units; None with the problem noted, once."""
        if unit in self._scales:
            scale = self._scales[unit]
            self.failed = self.failed or scale is None
            return scale
        try:
            self._scales[unit] = unit_scale(unit, self.dimension)
        except ValueError as error:
            words, given = str(error), cell
            if not unit:
                such_as = self.dimension.metric
                words += f" (in the header: '{self.heading.name} [{such_as}]', or in the cells)"
            elif self.heading.unit is not None:
                given = self.heading.whole
            self._problem(line, given, words)
            self._scales[unit] = None
        return self._scales[unit]

    def _problem(self, line: int, given: str, words: str) -> None:
        self.failed = True
        self.problems.add(self.records._at(line, self.place), given, words)

    def _hint(self, cell: str) -> str:
        """Return what may be meant by a cell that is no number."""
        try:
            unit_factor(cell)
        except ValueError:
            return "; leave the cell empty where there is no value"
        return f"; a unit stands in the header, as in '{self.heading.name} [{cell}]'"


def read_records(text: str, name: str) -> TestRecords:
    """Return the rows of a CSV file of test records; its problems come with the first column read.

    Cells are divided by the semicolon or the tab that stands in the header, else by commas. Units
    stand in the header, as in "torque [N·m]", "torque (N·m)" or "torque / N·m", or in the cells.
    Lines that are empty or begin with # are passed over.

    Parameters
    ----------
    text, name : str
        Of the file.
    """
    text = text.removeprefix("\ufeff")
    divider = divider_of(text, comments=True)
    headings: tuple[Heading, ...] = ()
    rows: list[tuple[int, tuple[str, ...]]] = []
    # A million rows take their time; ten million would take the memory as well.
    if text.count("\n") > MOST_LINES:
        words = f"at most {MOST_LINES:,} lines; take a sample of them, drawn at random"
        return TestRecords(
            name, (), (), divider, ((name, f"{text.count(chr(10)):,} lines", words),)
        )
    found: list[Fault] = []
    try:
        for line, cells in csv_rows(text, divider, comments=True):
            if not headings:
                headings = _headings(name, line, without_empty_end(cells), found)
                continue
            filled = without_empty_end(cells, len(headings))
            if len(filled) != len(headings):
                given, words = wrong_count(len(filled), len(headings), divider)
                if len(headings) == 1:
                    words += " (lines above the header begin with #)"
                found.append((f"{name}, line {line}", given, words))
                continue
            rows.append((line, tuple(filled)))
    except NotCsvError as error:
        found.append((f"{name}, line {error.line}", None, error.words))
    if not found and not rows:
        found.append((name, None, "a CSV file with a header and a row for each test"))
    return TestRecords(name, headings, tuple(rows), divider, tuple(found))


def _headings(file: str, line: int, cells: list[str], found: list[Fault]) -> tuple[Heading, ...]:
    """Return the columns of a header; a name that stands twice is noted."""
    headings = tuple(heading_of(cell) for cell in cells)
    count = Counter(folded(heading.name) for heading in headings if heading.name)
    for heading in headings:
        if count[folded(heading.name)] > 1:
            found.append((f"{file}, line {line}", heading.whole, "each column once"))
    return headings


def _with_point(cell: str) -> str:
    return with_decimal_point(cell) if has_decimal_comma(cell) else cell
