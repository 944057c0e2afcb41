"""The rows of a register as cells, from CSV or from the first sheet of an XLSX file."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from itertools import islice
from pathlib import Path
from typing import Any

from preloadmc.case_file.content import file_content
from preloadmc.case_file.csv_cells import NotCsvError, csv_rows, divider_of
from preloadmc.case_file.problems import UNPRINTABLE
from preloadmc.errors import CaseError, Problem

MOST_ROWS = 1_000_000
# Rows of 256 characters; what is far larger is another file.
_LARGEST = 256 * MOST_ROWS
# How files begin that are archives, and those of older spreadsheets.
_ARCHIVE, _OLD = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
# The type of a cell that holds a formula.
_FORMULA = "f"
NO_RESULT = "a formula without its result: open the file in a spreadsheet and save it"


# Parts of a number format that are shown as they stand.
_AS_TYPED = re.compile(r'"[^"]*"|\\.|_.')


@dataclass(frozen=True, slots=True)
class Unread:
    """A cell that is no value: what it shows, and what is wrong with it."""

    given: str
    words: str


Cell = str | float | int | bool | Unread | None


@dataclass(frozen=True, slots=True)
class RegisterTable:
    """The rows that are not empty, each with its line, the header first.

    ``divider`` stands between the cells of a CSV file; it is empty for XLSX.
    """

    divider: str
    rows: Iterator[tuple[int, list[Cell]]]


def register_content(path: Path) -> bytes:
    """Return the content of a file.

    Raises
    ------
    CaseError
        If it cannot be read or is far too large.
    """
    try:
        if path.is_dir():
            raise unusable(path, "a folder was given; a register is needed")
        content = file_content(path, _LARGEST + 1)
        str(path).encode()  # the name stands in every report
    except OSError as error:
        raise unusable(path, f"cannot be read: {error.strerror}") from error
    except ValueError as error:  # also a name that no file can have
        raise unusable(path, "a file with a name in UTF-8 is needed") from error
    if UNPRINTABLE.search(path.name):
        raise unusable(path, "a file with a name of printable characters is needed")
    if len(content) > _LARGEST:
        raise unusable(path, f"larger than {_LARGEST:,} bytes: not a register")
    return content


def register_table(path: Path, content: bytes) -> RegisterTable:
    """Return the rows of a register.

    Raises
    ------
    CaseError
        If it is no CSV in UTF-8 and no XLSX; for some faults not before its rows are read.
    """
    if path.suffix.lower() == ".xlsx":
        return RegisterTable("", _within_bounds(path, _sheet_rows(path, content)))
    if content.startswith(_ARCHIVE):
        raise unusable(path, "an XLSX file, it seems: its name must end in .xlsx")
    if content.startswith(_OLD):
        raise unusable(path, "a file of an older spreadsheet: save it as XLSX, or as CSV UTF-8")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        words = "text in UTF-8 is needed ('CSV UTF-8' in a spreadsheet's list of formats)"
        raise unusable(path, words) from error
    divider = divider_of(text)
    return RegisterTable(divider, _within_bounds(path, _csv_rows(path, text, divider)))


def unusable(path: Path, words: str, where: str = "file") -> CaseError:
    """Return the error of a register that cannot be read at all."""
    return CaseError(str(path), (Problem(where, "", words),))


def _within_bounds(
    path: Path, rows: Iterator[tuple[int, list[Cell]]]
) -> Iterator[tuple[int, list[Cell]]]:
    yield from islice(rows, MOST_ROWS + 1)  # the header is one of them
    if next(rows, None) is not None:
        raise unusable(path, f"at most {MOST_ROWS:,} rows: make several registers of them")


def _csv_rows(path: Path, text: str, divider: str) -> Iterator[tuple[int, list[Cell]]]:
    try:
        for line, cells in csv_rows(text, divider):
            yield line, [*cells]
    except NotCsvError as error:
        raise unusable(path, error.words, f"line {error.line}") from error


def _sheet_rows(path: Path, content: bytes) -> Iterator[tuple[int, list[Cell]]]:
    if find_spec("openpyxl") is None:
        raise unusable(path, "needs openpyxl: pip install 'preloadmc[xlsx]', or save it as CSV")
    try:
        with warnings.catch_warnings():
            # Of what it leaves out of a workbook: styles, checks of entries, and the like.
            warnings.simplefilter("ignore")
            values = _cells_by_row(content, results=True)
            formulas = _cells_by_row(content, results=False)
            read = 0
            for line, row in enumerate(values, 1):
                cells = [_cell(each) for each in row]
                # Where a result is missing the cell looks empty, and is so among the formulas.
                if None in cells:
                    beside = next(islice(formulas, line - 1 - read, None), ())
                    read = line
                    cells = [_or_formula(*both) for both in zip(cells, beside, strict=False)]
                if any(cell is not None for cell in cells):
                    yield line, cells
    except Exception as error:  # whatever a damaged archive makes of its reader
        raise unusable(path, "an XLSX workbook that can be read is needed") from error


def _cells_by_row(content: bytes, *, results: bool) -> Iterator[tuple[Any, ...]]:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(content), read_only=True, data_only=results)
    seen = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    sheet = (seen or book.worksheets)[0]
    sheet.reset_dimensions()  # some programs state none, or those of another sheet
    yield from sheet.iter_rows()


def _cell(cell: Any) -> Cell:
    value = cell.value
    if value is None:
        return None
    if isinstance(value, str):
        return value.strip() or None
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        # A sign that is quoted or escaped is shown, but makes no per cent of the number.
        if "%" in _AS_TYPED.sub("", cell.number_format):
            return f"{100.0 * value:.15g} %"  # as the sheet shows it
        return int(value) if float(value).is_integer() and abs(value) < 1e15 else float(value)
    words = "a number or text, no date: give its cells the format 'text' and type it again"
    return Unread(str(value), words)


def _or_formula(cell: Cell, beside: Any) -> Cell:
    if cell is None and beside.data_type == _FORMULA:
        return Unread(str(beside.value), NO_RESULT)
    return cell
