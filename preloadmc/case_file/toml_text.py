"""Tables as the text of a case file: sections under headers, laws in one line, comments beside."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from preloadmc.case_file.field import FILE_SECTIONS, FieldList

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(tables: Mapping[str, Any], fields: FieldList, comments: Mapping[str, str]) -> str:
    """Return tables as TOML, in the order in which they stand.

    Parameters
    ----------
    tables : mapping
        As `parsing.tables_of` returns them.
    fields : FieldList
        Tells a section, which gets its header, from the table of a law.
    comments : mapping of str to str
        What stands beside the value of a path, such as "temperature.state[1].fastener".
    """
    return "\n".join(_lines(tables, "", "", fields, comments)).strip() + "\n"


def _lines(
    table: Mapping[str, Any], header: str, path: str, fields: FieldList, comments: Mapping[str, str]
) -> Iterator[str]:
    """Yield the lines of one table: its values first, since a header ends it."""
    below = {
        key: value
        for key, value in table.items()
        if _is_section(f"{path}.{key}" if path else key, value, fields)
    }
    for key, value in table.items():
        if key not in below:
            beside = comments.get(f"{path}.{key}" if path else key, "")
            yield f"{toml_key(key)} = {inline_toml(value)}" + (f"  # {beside}" if beside else "")
    for key, value in below.items():
        inner_header = f"{header}.{toml_key(key)}" if header else toml_key(key)
        inner = f"{path}.{key}" if path else key
        if isinstance(value, Mapping):
            yield from ("", f"[{inner_header}]")
            yield from _lines(value, inner_header, inner, fields, comments)
            continue
        for place, item in enumerate(value, 1):
            yield from ("", f"[[{inner_header}]]")
            yield from _lines(item, inner_header, f"{inner}[{place}]", fields, comments)


def _is_section(path: str, value: Any, fields: FieldList) -> bool:
    plain = re.sub(r"\[\d+\]", "[]", path)
    for section in FILE_SECTIONS:  # the items of these hold the sections of a case
        plain = plain.removeprefix(f"{section}[].")
    if isinstance(value, list):
        tables = f"{plain}[]" in fields.tables
        return tables and bool(value) and all(isinstance(item, Mapping) for item in value)
    return isinstance(value, Mapping) and plain in fields.tables


def toml_key(key: str) -> str:
    """Return a key as it is typed, in quotes where it needs them."""
    return key if _BARE.fullmatch(key) else json.dumps(key, ensure_ascii=False)


def inline_toml(value: Any) -> str:
    """Return a value as it stands after its key, in one line.

    Examples
    --------
    >>> inline_toml({"law": "normal", "mean": 0.13})
    '{ law = "normal", mean = 0.13 }'
    """
    if isinstance(value, Mapping):
        return (
            "{ " + ", ".join(f"{toml_key(k)} = {inline_toml(v)}" for k, v in value.items()) + " }"
        )
    if isinstance(value, list):
        return "[" + ", ".join(inline_toml(item) for item in value) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return str(value).lower() if isinstance(value, bool) else str(value)
