"""What an alternative or a suspect changes: its tables merged into those of the case."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from preloadmc.case_file.field import FieldList
from preloadmc.joint import METHODS


def merged(
    case: Mapping[str, Any], change: Mapping[str, Any], fields: FieldList, path: str = ""
) -> dict[str, Any]:
    """Return the tables of a case with those of a change merged in.

    Whole tables merge key by key; a quantity, a law or a list replaces what stood there.

    Parameters
    ----------
    case, change : mapping
        Tables as they stand in a file.
    fields : FieldList
        Tells a table of keys from the table of a law.
    path : str
        Of the tables; empty for all of them.
    """
    result = dict(case)
    for key in change:
        for replaced in _replaced(f"{path}.{key}", fields):
            if replaced not in change:
                result.pop(replaced, None)
    for key, value in change.items():
        inside = f"{path}.{key}" if path else key
        before = result.get(key)
        if inside in fields.tables and isinstance(before, Mapping) and isinstance(value, Mapping):
            result[key] = merged(before, value, fields, inside)
        else:
            result[key] = value
    return result


def _replaced(path: str, fields: FieldList) -> Collection[str]:
    """Return the keys of the same table that fall away where a change states ``path``."""
    if path == "securing.element":
        return fields.tables["securing"].keys() - {"element"}
    if path == "tightening.method":
        return {"bias", "tool"}.union(
            control.key for method in METHODS.values() for control in method.controls
        )
    table, _, key = path.rpartition(".")
    row = fields.tables[table].get(key) if table in fields.tables else None
    return () if row is None else row.replaces
