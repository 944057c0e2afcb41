"""Parts of a JSON document as tables: a row for each record, a column for each key."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

Cell = str | float | int | bool | None
Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class DataTable:
    """A table for other programs: numbers are numbers, None is an empty cell."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def data_table(name: str, rows: Iterable[Row], columns: Sequence[str] = ()) -> DataTable:
    """Return rows as a table, with every column that a row has.

    Parameters
    ----------
    name : str
        Name of the table, and of its sheet in a workbook.
    rows : iterable of mapping
        Parts of a JSON document; keys within keys are flattened by `flat`.
    columns : sequence of str
        These come first, and are there where no row has them.

    Returns
    -------
    DataTable

    Examples
    --------
    >>> data_table("room", [{"low": 1.0, "inputs": ["a", "b"]}, {"low": 2.0}], ["high"])
    DataTable(name='room', columns=('high', 'low', 'inputs'), \
rows=((None, 1.0, 'a; b'), (None, 2.0, None)))
    """
    found = [flat(row) for row in rows]
    named = dict.fromkeys([*columns, *(name for row in found for name in row)])
    # A record that some rows have, and others have as null, has the columns of its keys alone.
    above = {name[:place] for name in named for place in range(len(name)) if name[place] == "."}
    names = tuple(name for name in named if name not in above)
    return DataTable(name, names, tuple(tuple(row.get(each) for each in names) for row in found))


def flat(record: Row, before: str = "") -> dict[str, Cell]:
    """Return a record with the path of each value as its key, joined by dots.

    Examples
    --------
    >>> flat({"verdict": "meets", "band": {"low": 1e-6, "levels": ["knowledge"]}})
    {'verdict': 'meets', 'band.low': 1e-06, 'band.levels': 'knowledge'}
    """
    found: dict[str, Cell] = {}
    for key, value in record.items():
        if isinstance(value, Mapping):
            found |= flat(value, f"{before}{key}.")
        else:
            found[f"{before}{key}"] = _cell(value)
    return found


def without(record: Row, *keys: str) -> dict[str, Any]:
    """Return a record without some of its keys, such as those that have a table of their own."""
    return {key: value for key, value in record.items() if key not in keys}


def _cell(value: Any) -> Cell:
    """Return a value as one cell: a list of words or numbers as a text, any other as JSON."""
    if isinstance(value, list):
        if any(isinstance(each, list | dict) for each in value):
            return json.dumps(value, ensure_ascii=False)
        return "; ".join(each if isinstance(each, str) else json.dumps(each) for each in value)
    found: Cell = value
    return found
