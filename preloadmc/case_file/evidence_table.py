"""Findings in a CSV file, in the dialects that spreadsheets and people write."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping

from preloadmc.case_file.field import Field
from preloadmc.case_file.findings import Row
from preloadmc.case_file.problems import nearest
from preloadmc.case_file.reading import Stated

# Columns whose cells hold numbers, where a comma may stand before the decimals.
_NUMBERS = ("value", "sd", "error", "limit")
_COMMA = re.compile(r"(?<=\d),(?=\d)")
_MAY_DIVIDE_THOUSANDS = re.compile(r"\d,\d{3}(?!\d)")


def table_rows(stated: Stated, name: str, text: str, columns: Mapping[str, Field]) -> Iterator[Row]:
    """Yield the rows of a CSV file, which has the keys of [[evidence]] as its columns.

    Cells are divided by the semicolon or the tab that stands in the header, else by commas. Where
    a semicolon divides them, a comma stands before decimals.

    Parameters
    ----------
    stated : Stated
        Takes the rows, and what is wrong.
    name, text : str
        Of the file.
    columns : mapping of str to Field
        The rows of [[evidence]] by key.
    """
    header_line = next((line for line in text.splitlines() if line.strip()), "")
    divider = next((mark for mark in ";\t" if mark in header_line), ",")
    reader = csv.reader(
        io.StringIO(text, newline=""), strict=True, delimiter=divider, skipinitialspace=True
    )
    header: list[str] = []
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            path = f"{name}, line {reader.line_num}"
            if not header:
                header = [cell.casefold() for cell in _without_empty_end(cells)]
                if not _header_is_known(stated, path, header, columns):
                    return
                continue
            cells = _without_empty_end(cells, len(header))
            if len(cells) != len(header):
                wanted = f"{len(header)} cells, as in the header"
                if len(cells) > len(header) and divider == ",":
                    wanted += "; a decimal comma needs quotes about its cell"
                stated.problems.add(path, f"{len(cells)} cells", wanted)
                continue
            given = {key: cell for key, cell in zip(header, cells, strict=True) if cell}
            finding = Row(stated, path, ", ")
            if _numbers_are_clear(stated, finding, given, divider):
                stated.read_table(given, path, columns, finding.between)
                yield finding
    except csv.Error as error:
        stated.problems.add(f"{name}, line {reader.line_num}", None, f"CSV: {error}")


def _without_empty_end(cells: list[str], least: int = 0) -> list[str]:
    """Return cells without the empty ones at the end, but no fewer than ``least``."""
    count = len(cells)
    while count > least and not cells[count - 1]:
        count -= 1
    return cells[:count]


def _numbers_are_clear(stated: Stated, row: Row, given: dict[str, str], divider: str) -> bool:
    """Put points for decimal commas; note a number that may be read in two ways."""
    clear = True
    for key in _NUMBERS:
        cell = given.get(key, "")
        if len(_COMMA.findall(cell)) != 1:
            continue
        if divider != ";" and _MAY_DIVIDE_THOUSANDS.search(cell):
            words = (
                f"'{_COMMA.sub('.', cell)}' or '{_COMMA.sub('', cell)}': the comma may be either"
            )
            stated.problems.add(row.at(key), cell, words)
            clear = False
        given[key] = _COMMA.sub(".", cell)
    return clear


def _header_is_known(
    stated: Stated, path: str, header: list[str], columns: Mapping[str, Field]
) -> bool:
    """Note unknown, doubled and missing columns; return whether the rows can be read."""
    wrong = False
    seen: set[str] = set()
    for column in header:
        if column in columns and column not in seen:
            seen.add(column)
            continue
        words = f"a column of {', '.join(columns)}{nearest(column, columns)}"
        stated.problems.add(path, column, "each column once" if column in seen else words)
        wrong = True
    for column in ("kind", "value"):
        if column not in seen:
            stated.problems.add(path, None, f"missing; a column '{column}'")
            wrong = True
    return not wrong
