"""The cells of a CSV file, in the dialects that spreadsheets and people write."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

_QUOTED = re.compile(r'"[^"]*"')
# Lines that begin with # are comments, but for the words of spreadsheets for a failed formula.
_COMMENT = re.compile(r"#(?!N/A|[A-Z0-9/]+[!?])")


class NotCsvError(Exception):
    """A file is no CSV: at which line, and why not."""

    def __init__(self, line: int, words: str) -> None:
        super().__init__(f"line {line}: {words}")
        self.line = line
        self.words = words


def divider_of(text: str, *, comments: bool = False) -> str:
    """Return what divides the cells: the semicolon or tab that stands in the header, else a comma.

    Parameters
    ----------
    text : str
        Of the file.
    comments : bool
        Whether lines that begin with # are passed over.

    Examples
    --------
    >>> divider_of("torque;preload"), divider_of("torque,preload")
    (';', ',')
    """
    header = next((line for line in io.StringIO(text, newline="") if _counts(line, comments)), "")
    unquoted = _QUOTED.sub("", header)
    return next((mark for mark in ";\t" if mark in unquoted), ",")


def csv_rows(text: str, divider: str, *, comments: bool = False) -> Iterator[tuple[int, list[str]]]:
    """Yield line and cells of each row that is not empty, without blanks about the cells.

    Parameters
    ----------
    text : str
        Of the file.
    divider : str
        What divides the cells.
    comments : bool
        Whether lines that begin with # are passed over.

    Raises
    ------
    NotCsvError
        Where a row cannot be read.
    """
    number = 0

    def lines() -> Iterator[str]:
        nonlocal number
        for number, line in enumerate(io.StringIO(text, newline=""), 1):  # noqa: B007
            if _counts(line, comments):
                yield line

    reader = csv.reader(lines(), strict=True, delimiter=divider, skipinitialspace=True)
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells):
                yield number, cells
    except csv.Error as error:
        raise NotCsvError(number, f"CSV: {error}") from error


def _counts(line: str, comments: bool) -> bool:
    words = line.lstrip("\ufeff \t\r\n")
    return bool(words) and not (comments and words[0] == "#" and _COMMENT.match(words))


def without_empty_end(cells: list[str], least: int = 0) -> list[str]:
    """Return cells without the empty ones at the end, but no fewer than ``least``."""
    count = len(cells)
    while count > least and not cells[count - 1]:
        count -= 1
    return cells[:count]


def wrong_count(found: int, wanted: int, divider: str) -> tuple[str, str]:
    """Return what was given and what is wanted, of a row with more or fewer cells than the header.

    Examples
    --------
    >>> wrong_count(1, 2, ";")
    ('1 cell', '2 cells, as in the header')
    """
    words = f"{_cells(wanted)}, as in the header"
    if found > wanted and divider == ",":
        words += "; a decimal comma needs quotes about its cell"
    return _cells(found), words


def _cells(count: int) -> str:
    return "1 cell" if count == 1 else f"{count} cells"
