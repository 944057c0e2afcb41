"""The columns of a register: what their headings name, and the values of the cells below."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from preloadmc.case_file.csv_headings import folded, heading_of
from preloadmc.case_file.problems import UNPRINTABLE, Problems, shown
from preloadmc.case_file.register.table import Cell, Unread
from preloadmc.case_file.register.template import Place, Value, place_of
from preloadmc.errors import CaseError, Problem
from preloadmc.typed_numbers import (
    comma_in_doubt,
    has_decimal_comma,
    split_quantity,
    with_decimal_point,
)
from preloadmc.units import Dimension, unit_scale

# A case file has some 250 keys.
_MOST_COLUMNS = 300
# Columns that tell of the row itself, or are carried along.
JOINT, CASE, LOT, TOOL, NOTE = "joint", "case", "lot", "tool", "note"
_NUMBER = re.compile(r"[+-]?(?:\d{1,15}(\.\d{0,15})?|(\.\d{1,15}))([eE][+-]?\d{1,3})?", re.ASCII)
# What a spreadsheet shows for a failed formula.
_FAILED = re.compile(r"#(?:N/A|[A-Z0-9/]+[!?])")
_FLAGS = {"true": True, "false": False}


# What people type into cells that they leave empty.
BLANKS = ("-", "–", "—", "n/a", "na", "?", "none", "unknown")
# Between these a comma may stand before decimals, and a point divide thousands.
_NO_COMMAS = (";", "\t")
_MAY_BE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(?:\.\d{3})+(?![\d.,])")


class Column(NamedTuple):
    """A column: what it is, or else the place of its cells with the unit of their numbers."""

    path: str
    place: Place | None = None
    unit: str | None = None


def columns_of(path: Path, line: int, header: Sequence[Cell]) -> list[Column]:
    """Return the columns of a header.

    Raises
    ------
    CaseError
        With every heading that is wrong.
    """
    names = [cell_text(cell) for cell in header]
    while names and not names[-1]:
        names.pop()
    problems = Problems()
    where = f"line {line}"
    if len(names) > _MOST_COLUMNS:
        problems.add(where, f"{len(names)} columns", f"at most {_MOST_COLUMNS}")
        raise CaseError(str(path), problems.sorted(lambda _: ()))
    columns: list[Column] = []
    for name in names:
        try:
            columns.append(_column(name))
        except ValueError as error:
            problems.add(where, name or None, str(error))
    count = Counter(column.path for column in columns)
    for each, times in count.items():
        above = [other for other in count if each.startswith(f"{other}.")]
        if times > 1:
            problems.add(where, each, "each column once")
        elif above:
            problems.add(where, each, f"this column or '{above[0]}', which replaces all below it")
    if problems and not columns:
        words = (
            "this is to be the header: a path of the case file above each column, such as "
            "'tightening.torque [N·m]'"
        )
        raise CaseError(str(path), (Problem(where, shown(names[0]), words),))
    if problems:
        raise CaseError(str(path), problems.sorted(lambda _: ()))
    return columns


def _column(written: str) -> Column:
    """Return the column below a heading; ValueError in words where there is none such."""
    if not written:
        raise ValueError("missing; a heading above each column")
    plain = folded(written)
    if plain in (JOINT, CASE, LOT, TOOL):
        return Column(plain)
    if plain == NOTE or plain.startswith(f"{NOTE} "):
        return Column(" ".join((NOTE, *UNPRINTABLE.sub(" ", written).split()[1:])))
    heading = heading_of(written)
    place = place_of(heading.name)
    if heading.unit is not None:
        _check_unit(place, heading.unit)
    return Column(place.path, place, heading.unit)


def _check_unit(place: Place, unit: str) -> None:
    if not place.dimensions:
        if unit:
            raise ValueError(f"'{place.path}' without a unit: its cells are words")
        return
    refused = []
    for dimension in place.dimensions:
        try:
            unit_scale(unit, dimension)
        except ValueError as error:
            refused.append(error)
        else:
            return
    raise refused[0]


def cell_text(cell: Cell) -> str:
    """Return what a cell shows."""
    if isinstance(cell, Unread):
        return cell.given
    return "" if cell is None else str(cell).strip()


def value_of(column: Column, place: Place, cell: Cell, divider: str) -> tuple[str, Value] | Problem:
    """Return path and value of a cell that is not empty, or what is wrong with it."""
    if isinstance(cell, Unread):
        return Problem(column.path, shown(cell.given), cell.words)
    if isinstance(cell, str) and _FAILED.fullmatch(cell):
        return Problem(column.path, shown(cell), "a value; the formula of this cell has failed")
    assert cell is not None, "empty cells are passed over"
    try:
        if place.holds == "number":
            return column.path, _number(column, place, cell, divider)
    except ValueError as error:
        return Problem(column.path, shown(cell), str(error))
    if place.holds == "flag" and isinstance(cell, str):
        return column.path, _FLAGS.get(cell.casefold(), cell)
    # A property class, say, which a sheet holds as a number.
    word = place.holds == "word" and not isinstance(cell, bool | str)
    return column.path, f"{cell}" if word else cell


def _number(column: Column, place: Place, cell: Value, divider: str) -> Value:
    """Return a number with its unit as a TOML value; words are left to the reader of cases."""
    if isinstance(cell, bool):
        return cell
    if not isinstance(cell, str):
        return f"{cell!r} {column.unit}" if column.unit else cell
    text = cell
    if text.casefold() in BLANKS:
        raise ValueError("a number; leave the cell empty for the value of the template")
    if divider in _NO_COMMAS and _MAY_BE_THOUSANDS.match(text):
        number = text.split()[0]
        raise ValueError(
            f"one of two: '{number}0' if its point stands before decimals, "
            f"'{number.replace('.', '')}' if it divides thousands"
        )
    if has_decimal_comma(text) and split_quantity(with_decimal_point(text)) is not None:
        # Where semicolons divide the cells, a comma stands before the decimals.
        if divider != ";" and (doubt := comma_in_doubt(text)):
            raise ValueError(doubt)
        text = with_decimal_point(text)
    plain = _NUMBER.fullmatch(text)
    if plain is not None:
        if column.unit:
            return f"{text} {column.unit}"
        return float(text) if any(plain.groups()) else int(text)
    if column.unit is None:
        return text
    split = split_quantity(text)
    if split is None:
        raise ValueError(f"a number{_in_unit(column.unit)}")
    if not split[1]:
        return f"{text} {column.unit}" if column.unit else text
    if not any(_are_one(split[1], column.unit, each) for each in place.dimensions):
        raise ValueError(f"a number{_in_unit(column.unit)}, as its heading says")
    return text


def _in_unit(unit: str) -> str:
    return f" in {unit}" if unit else " without a unit"


def _are_one(unit: str, other: str, dimension: Dimension) -> bool:
    try:
        return unit_scale(unit, dimension) == unit_scale(other, dimension)
    except ValueError:
        return False
