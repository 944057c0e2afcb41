"""The shipped suspects: tables that a case may name, each with its source."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, NamedTuple

from preloadmc.case_file.problems import listed, nearest
from preloadmc.case_file.word_kinds import all_words_of

# The shipped suspect that stands for a cause that nobody named; none to name in a case file.
ANY_CAUSE = "any cause"


class ShippedSuspect(NamedTuple):
    """A suspect of the library: the tables that it overrides, with source and note."""

    name: str
    tables: Mapping[str, Any]
    source: str
    note: str


def library() -> Mapping[str, Mapping[str, Any]]:
    """Return the shipped suspects by name, as the tables they override."""
    return {name: entry for name, entry in _library().items() if name != ANY_CAUSE}


@cache
def _library() -> dict[str, Any]:
    text = files("preloadmc.case_file").joinpath("suspects.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def shipped_suspect(name: str) -> ShippedSuspect:
    """Return a suspect of the library; ValueError if it has none of that name."""
    entry = library().get(name)
    if entry is None:
        near = nearest(name, library(), 3) or f", such as {listed([*library()][:3])}"
        raise ValueError(f"a shipped suspect{near}; {all_words_of('library')}")
    return _suspect(name, entry)


def any_cause() -> ShippedSuspect:
    """Return the suspect of laws so wide that few causes lie outside."""
    return _suspect(ANY_CAUSE, _library()[ANY_CAUSE])


def _suspect(name: str, entry: Mapping[str, Any]) -> ShippedSuspect:
    tables = {key: value for key, value in entry.items() if key not in ("source", "note")}
    return ShippedSuspect(name, tables, entry["source"], entry["note"])
