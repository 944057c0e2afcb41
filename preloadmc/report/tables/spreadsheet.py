"""Tables as files of spreadsheets: CSV, and XLSX by openpyxl where that is installed."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Sequence
from datetime import datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any
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
    writer.writerow(map(_typed, table.columns))
    writer.writerows([_typed(cell) for cell in row] for row in table.rows)
    return text.getvalue().encode()


def _typed(cell: Cell) -> str:
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
    book.properties.creator = f"preloadmc {__version__}"
    book.properties.created = book.properties.modified = datetime(*_DATE[:3])
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
            width = max(len(_typed(cell)) for cell in column) + 2
            letter = get_column_letter(place)
            sheet.column_dimensions[letter].width = min(max(width, _NARROWEST), _WIDEST)
    with io.BytesIO() as made:
        ExcelWriter(book, ZipFile(made, "w")).save()
        return _undated(made)


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


def _undated(made: io.BytesIO) -> bytes:
    """Return an archive with the same date for every file in it."""
    with io.BytesIO() as written:
        with ZipFile(made) as dated, ZipFile(written, "w") as archive:
            for name in dated.namelist():
                entry = ZipInfo(name, _DATE)
                entry.create_system = 3
                archive.writestr(entry, dated.read(name), ZIP_DEFLATED)
        return written.getvalue()
