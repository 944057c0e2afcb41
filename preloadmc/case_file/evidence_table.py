"""Findings in a CSV file, in the dialects that spreadsheets and people write."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from preloadmc.case_file.csv_cells import (
    NotCsvError,
    csv_rows,
    divider_of,
    without_empty_end,
    wrong_count,
)
from preloadmc.case_file.field import Field
from preloadmc.case_file.findings import Row
from preloadmc.case_file.problems import nearest
from preloadmc.case_file.reading import Stated
from preloadmc.typed_numbers import comma_in_doubt, has_decimal_comma, with_decimal_point

# Columns whose cells hold numbers, where a comma may stand before the decimals.
_NUMBERS = ("value", "sd", "error", "limit", "after")


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
    divider = divider_of(text)
    header: list[str] = []
    try:
        for line, cells in csv_rows(text, divider):
            path = f"{name}, line {line}"
            if not header:
                header = [cell.casefold() for cell in without_empty_end(cells)]
                if not _header_is_known(stated, path, header, columns):
                    return
                continue
            filled = without_empty_end(cells, len(header))
            if len(filled) != len(header):
                stated.problems.add(path, *wrong_count(len(filled), len(header), divider))
                continue
            given = {key: cell for key, cell in zip(header, filled, strict=True) if cell}
            finding = Row(stated, path, ", ")
            if _numbers_are_clear(stated, finding, given, divider):
                stated.read_table(given, path, columns, finding.between)
                yield finding
    except NotCsvError as error:
        stated.problems.add(f"{name}, line {error.line}", None, error.words)


def _numbers_are_clear(stated: Stated, row: Row, given: dict[str, str], divider: str) -> bool:
    """Put points for decimal commas; note a number that may be read in two ways."""
    clear = True
    for key in _NUMBERS:
        cell = given.get(key, "")
        if not has_decimal_comma(cell):
            continue
        doubt = comma_in_doubt(cell) if divider != ";" else ""
        if doubt:
            stated.problems.add(row.at(key), cell, doubt)
            clear = False
        given[key] = with_decimal_point(cell)
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
