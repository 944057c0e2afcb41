"""Tables as files of spreadsheets: CSV, and XLSX by openpyxl where that is installed."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from importlib.util import find_spec
from pathlib import Path
from shutil import copyfileobj
from tempfile import TemporaryFile
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from preloadmc import __version__
from preloadmc.errors import UsageError
from preloadmc.report.tables.data_table import Cell, DataTable

# A text that begins so is read as a formula by spreadsheets.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
# The earliest date that a zip archive knows: the same result makes the same bytes on any day.
_DATE = (1980, 1, 1, 0, 0, 0)
# XML 1.0 has no sign for these.
_NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
# Columns as wide as their longest cell, in characters, between these.
_NARROWEST, _WIDEST = 8, 60
# More does not go into a cell of a workbook.
_MOST_SIGNS = 32_767
# Bytes that are copied at once; from so many on, a file in an archive may need the long format.
_PIECE = 1 << 16
_LARGE = 1 << 30


def check_kind(file: Path) -> None:
    """Raise UsageError unless the name's ending says what can be written."""
    kind = file.suffix.lower()
    if kind not in (".csv", ".xlsx"):
        raise UsageError(f"{file}: a table is written as .csv or .xlsx")
    if kind == ".xlsx" and find_spec("openpyxl") is None:
        raise UsageError(
            f"{file}: needs openpyxl: pip install 'preloadmc[xlsx]', or name a .csv file"
        )


def spreadsheet(file: Path, tables: Sequence[DataTable]) -> bytes:
    """Return the content of a file of its kind: as CSV the first table, as XLSX all of them."""
    return workbook(tables) if file.suffix.lower() == ".xlsx" else csv_table(tables[0])


def csv_table(table: DataTable) -> bytes:
    """Return a table as CSV in UTF-8; a text that a spreadsheet takes for a formula after a '.

    Examples
    --------
    >>> print(csv_table(DataTable("run", ("name", "low"), (("=1+1", -1e-7),))).decode())
    name,low
    '=1+1,-1e-07
    <BLANKLINE>
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(map(csv_cell, table.columns))
    writer.writerows([csv_cell(cell) for cell in row] for row in table.rows)
    return text.getvalue().encode()


def csv_cell(cell: Cell) -> str:
    """Return a cell of a CSV file: a text that a spreadsheet takes for a formula after a '."""
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(_FORMULA) else cell
    return "" if cell is None else json.dumps(cell)


def workbook(tables: Sequence[DataTable]) -> bytes:
    """Return tables as the sheets of a workbook (ISO/IEC 29500), each with its header frozen."""
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter
    from openpyxl.writer.excel import ExcelWriter

    book = Workbook()
    book.remove(book.active)
    _sign(book)
    bold = Font(bold=True)
    for table in tables:
        sheet = book.create_sheet(table.name)
        for line, cells in enumerate((table.columns, *table.rows), 1):
            for place, cell in enumerate(cells, 1):
                if cell not in (None, ""):
                    _fill(sheet.cell(line, place), cell)
                if line == 1:
                    sheet.cell(line, place).font = bold
        sheet.freeze_panes = "A2"
        for place, column in enumerate(zip(table.columns, *table.rows, strict=True), 1):
            width = max(len(csv_cell(cell)) for cell in column) + 2
            letter = get_column_letter(place)
            sheet.column_dimensions[letter].width = min(max(width, _NARROWEST), _WIDEST)
    with io.BytesIO() as made, io.BytesIO() as written:
        ExcelWriter(book, ZipFile(made, "w")).save()
        _undated(made, written)
        return written.getvalue()


def streamed_workbook(
    sheets: Iterable[tuple[str, Sequence[str], Iterable[Sequence[Cell]]]],
) -> Iterator[bytes]:
    """Yield the pieces of a workbook whose rows come one by one: they are never all in memory.

    Parameters
    ----------
    sheets : iterable of (str, sequence of str, iterable of sequence of cells)
        Name, columns and rows of each. Columns are as wide as their headings.
    """
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter
    from openpyxl.writer.excel import ExcelWriter

    book = Workbook(write_only=True)
    _sign(book)
    bold = Font(bold=True)
    for name, columns, rows in sheets:
        sheet = book.create_sheet(name)
        sheet.freeze_panes = "A2"
        for place, column in enumerate(columns, 1):
            width = min(max(len(column) + 2, _NARROWEST), _WIDEST)
            sheet.column_dimensions[get_column_letter(place)].width = width
        heading = [WriteOnlyCell(sheet) for _ in columns]
        for place, column in zip(heading, columns, strict=True):
            _fill(place, column)
            place.font = bold
        sheet.append(heading)
        # A row is written when it is appended, so that the next one can use its places.
        numbers = [WriteOnlyCell(sheet) for _ in columns]
        for cells in rows:
            filled: list[Any] = [None if cell == "" else cell for cell in cells]
            for at, cell in enumerate(filled):
                if isinstance(cell, str):
                    filled[at] = WriteOnlyCell(sheet)
                    _fill(filled[at], cell)
                elif isinstance(cell, float):
                    filled[at] = numbers[at]
                    _fill(numbers[at], cell)
            sheet.append(filled)
    with TemporaryFile() as made, TemporaryFile() as written:
        ExcelWriter(book, ZipFile(made, "w")).save()
        _undated(made, written)
        written.seek(0)
        while piece := written.read(_PIECE):
            yield piece


def _sign(book: Any) -> None:
    book.properties.creator = f"preloadmc {__version__}"
    book.properties.created = book.properties.modified = datetime(*_DATE[:3])


def _fill(place: Any, cell: Cell) -> None:
    """Put a value into a cell of a sheet: a text is one, whatever it begins with."""
    if isinstance(cell, bool):
        place.value = cell
    elif isinstance(cell, str):
        place.value = _NO_XML.sub("\ufffd", cell)[:_MOST_SIGNS]
        place.data_type = "s"
        place.quotePrefix = cell.startswith(_FORMULA)
    else:
        # A number of its own openpyxl would write with 16 digits, one too few for some.
        place.value = json.dumps(cell)
        place.data_type = "n"


def _undated(made: IO[bytes], written: IO[bytes]) -> None:
    """Write an archive anew with the same date for every file in it."""
    with ZipFile(made) as dated, ZipFile(written, "w") as archive:
        for name in dated.namelist():
            entry = ZipInfo(name, _DATE)
            entry.create_system = 3
            entry.compress_type = ZIP_DEFLATED
            # Its size is needed before it is known: a long sheet may pass two gigabytes.
            with (
                dated.open(name) as source,
                archive.open(entry, "w", force_zip64=dated.getinfo(name).file_size > _LARGE) as to,
            ):
                copyfileobj(source, to, _PIECE)
