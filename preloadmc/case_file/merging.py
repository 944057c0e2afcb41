"""What an alternative or a suspect changes: its tables merged into those of the case."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from preloadmc.case_file.field import FieldList
from preloadmc.case_file.sections.tightening import METHOD
from preloadmc.joint import METHODS

# What a change states in place of a table to take that of the case away.
TAKEN_AWAY = {"securing": "none"}
_PREVAILING = "prevailing_torque"


def merged(
    case: Mapping[str, Any], change: Mapping[str, Any], fields: FieldList, path: str = ""
) -> dict[str, Any]:
    """Return the tables of a case with those of a change merged in.

    Whole tables merge key by key; a quantity, a law or a list replaces what stood there, and
    ``securing = "none"`` takes the whole table away.

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
        for replaced in _replaced(f"{path}.{key}", case.get(key), change[key], fields):
            if replaced not in change:
                result.pop(replaced, None)
    for key, value in change.items():
        inside = f"{path}.{key}" if path else key
        before = result.get(key)
        if inside in TAKEN_AWAY and value == TAKEN_AWAY[inside]:
            result.pop(key, None)
        elif inside in fields.tables and isinstance(before, Mapping) and isinstance(value, Mapping):
            result[key] = merged(before, value, fields, inside)
        else:
            result[key] = value
    return result


def changes_method(case: Mapping[str, Any], change: Mapping[str, Any]) -> bool:
    """Return whether a change states another tightening method than the case has."""
    before, after = (
        METHOD.find(section.get("method")) if isinstance(section, Mapping) else None
        for section in (tables.get("tightening") for tables in (case, change))
    )
    return after is not None and before is not None and after != before


def doubts_of_change(case: Mapping[str, Any], change: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what a reader must be warned of in a change, beside what its own tables say.

    The torque ratio of a securing element holds for the seat that it was measured on, and a
    prevailing torque belongs to the element that has it.
    """
    return (*_doubts_of_ratio(case, change), *_doubts_of_prevailing_torque(case, change))


def _doubts_of_prevailing_torque(
    case: Mapping[str, Any], change: Mapping[str, Any]
) -> tuple[str, ...]:
    torque = _key(case, "tightening", _PREVAILING)
    removed = change.get("securing") == TAKEN_AWAY["securing"] and "securing" in case
    if torque is None or not removed or _key(change, "tightening", _PREVAILING) is not None:
        return ()
    return (
        f"the securing element is taken away and tightening.{_PREVAILING} ({torque}) of the case "
        'stays: state it here, "0 N·m" for a plain nut.',
    )


def _doubts_of_ratio(case: Mapping[str, Any], change: Mapping[str, Any]) -> tuple[str, ...]:
    ratio = _key(case, "securing", "torque_ratio")
    frictions = [
        key
        for key in ("bearing", "nut_factor", "total")
        if _key(change, "friction", key) not in (None, _key(case, "friction", key))
    ]
    if ratio is None or not frictions or "securing" in change:
        return ()
    return (
        f"securing.torque_ratio ({ratio}) was stated for the friction of the case; here friction."
        f"{frictions[0]} is another: state the torque ratio on that seat.",
    )


def _key(tables: Mapping[str, Any], section: str, key: str) -> Any:
    table = tables.get(section)
    return table.get(key) if isinstance(table, Mapping) else None


def _replaced(path: str, before: Any, after: Any, fields: FieldList) -> Collection[str]:
    """Return the keys of the same table that fall away where a change states ``path``."""
    if path == "securing.element":
        return fields.tables["securing"].keys() - {"element"}
    if path == "tightening.method":
        return _of_another_method(before, after)
    table, _, key = path.rpartition(".")
    row = fields.tables[table].get(key) if table in fields.tables else None
    return () if row is None else row.replaces


def _of_another_method(before: Any, after: Any) -> Collection[str]:
    """Return the keys of [tightening] that fall away where one method takes the place of another.

    Those are what any method controls, since a set value belongs to its method. The bias and
    scatter of the tool stay where both methods set the same quantity (`Method.scatter_about`): the
    case then has them from the tool that it knows. Where they set another quantity they fall away,
    and the case asks for those of the new method's tool. What the tool monitors falls away where
    the other method monitors something else.
    """
    old, new = (METHODS.get(METHOD.find(name) or "") for name in (before, after))
    if before == after or (old is not None and old is new) or (old is None and before is not None):
        return ()  # of a method that is refused, nothing is known
    controlled = {control.key for method in METHODS.values() for control in method.controls}
    if old is None or new is None:
        return controlled | {"bias", "tool", "accept"}
    replaced = (
        controlled if old.scatter_about == new.scatter_about else {*controlled, "bias", "tool"}
    )
    return replaced if old.monitors == new.monitors else {*replaced, "accept"}
