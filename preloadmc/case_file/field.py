"""The keys of a case file as records, and the list of them that is read, explained and checked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, NamedTuple

from preloadmc.case_file.kinds import Kind, Quantity, Table, Whole
from preloadmc.case_file.list_kinds import Row
from preloadmc.case_file.word_kinds import Word
from preloadmc.chance.laws import Law
from preloadmc.inputs import Default

# Sections of what only evidence shows; the joint's own life knows nothing of them.
TRACE_SECTIONS = ("setting", "rotation", "missed", "seat", "investigation")
# Arrays of a whole file, which are no part of one case.
FILE_SECTIONS = ("evidence", "suspect", "alternative")
# Sorts what has no row of its own after the rows of its table.
_LAST = 1_000_000


class Field(NamedTuple):
    """One key of the case file.

    Parameters
    ----------
    path : str
        Tables and key, joined by full stops; ``[]`` marks a list, each item of this kind.
    kind : Kind
        What its value may be, and how it is read.
    meaning : str
        What it is, in words of the trade.
    example : str
        A value as it would be typed; empty for tables.
    default : Default or None
        What holds where the file does not state it.
    needed : bool
        Whether its table must have it. What is needed only beside something else is checked by
        the section.
    replaces : tuple of str
        Keys of the same table that fall away where a change states this one: they say the same in
        another way, or belong to its value.
    called : tuple of str
        What others call it; such a key is refused with the one that is meant.
    """

    path: str
    kind: Kind
    meaning: str
    example: str = ""
    default: Default | None = None
    needed: bool = False
    replaces: tuple[str, ...] = ()
    called: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """Return the key within its table."""
        return self.path.rpartition(".")[2].removesuffix("[]")

    @property
    def asked(self) -> str:
        """Return what is said where it is needed and missing."""
        if isinstance(self.kind, Quantity | Whole | Row):
            return f"{self.meaning} ({self.kind.allowed})"
        if isinstance(self.kind, Word):
            return f"{self.meaning}: {self.kind.wanted(self.key)}"
        return self.kind.allowed

    @property
    def is_list(self) -> bool:
        """Return whether the key holds a list."""
        return self.path.endswith("[]")


class Form(NamedTuple):
    """Another form in which an input may be stated: a table with keys of its own.

    Parameters
    ----------
    path : str
        The input's name.
    key : str
        The key that tells this form from a law and from other forms.
    fields : tuple of Field
        Its keys.
    law : callable or None
        ``law(draft)`` returns the law that they make, or None with the problem noted. None where
        the form is no law at all, and the section reads it.
    as_law : str
        How a law says the same, as the end of a sentence; empty where none does.
    """

    path: str
    key: str
    fields: tuple[Field, ...]
    law: Callable[[Any], Law | None] | None = None
    as_law: str = ""


class FieldList:
    """Every key of a case file, in the order of the file.

    ``tables`` holds the rows of each table by its path and their key; ``lists`` the row of the
    items where a key may hold one value or a list of them; ``forms`` the other forms of an input.
    """

    def __init__(self, fields: Iterable[Field], forms: Iterable[Form]) -> None:
        self.tables: dict[str, dict[str, Field]] = {"": {}}
        self.lists: dict[str, Field] = {}
        self.forms: dict[str, tuple[Form, ...]] = {}
        for field in fields:
            self._add(field)
        for form in forms:
            self.forms[form.path] = (*self.forms.get(form.path, ()), form)
        self._order = {_plain(field.path): place for place, field in enumerate(self)}

    def __iter__(self) -> Iterator[Field]:
        return self._below("")

    @property
    def of_suspects(self) -> tuple[str, ...]:
        """Return the keys at the top that a case has, with those of its traces."""
        return tuple(key for key in self.tables[""] if key not in FILE_SECTIONS)

    @property
    def of_cases(self) -> tuple[str, ...]:
        """Return the keys at the top that a case has, without those of its traces."""
        return tuple(key for key in self.of_suspects if key not in TRACE_SECTIONS)

    def table_of(self, key: str) -> str:
        """Return the first table of a case that has a key, as its header; empty where none has."""
        for table, rows in self.tables.items():
            if table.partition(".")[0].removesuffix("[]") in self.of_cases and key in rows:
                return f"[[{table[:-2]}]]" if table.endswith("[]") else f"[{table}]"
        return ""

    def place(self, path: str) -> tuple[int, ...]:
        """Return the sort key of a path: the places of its rows, and of its tables in arrays."""
        found: list[int] = []
        walked = ""
        for part in path.partition(" ")[0].split("."):
            name, _, item = part.partition("[")
            walked = f"{walked}.{name}" if walked else name
            if walked not in self._order:
                return (*found, _LAST)
            item = item.removesuffix("]")
            # A key may look like an item; no list of a file has a million of them.
            found += self._order[walked], int(item) if item.isdecimal() and len(item) < 7 else 0
        return tuple(found)

    def _add(self, field: Field) -> None:
        table, _, key = field.path.rpartition(".")
        if table not in self.tables:
            self._add(Field(table, Table(), ""))
        rows = self.tables[table]
        if rows.setdefault(key.removesuffix("[]"), field) is not field:
            self.lists[field.path.removesuffix("[]")] = field
        if isinstance(field.kind, Table):
            self.tables[field.path] = {}

    def _below(self, table: str) -> Iterator[Field]:
        for field in self.tables[table].values():
            yield field
            if field.path in self.lists:
                yield self.lists[field.path]
            if field.path in self.tables:
                yield from self._below(field.path)
            for form in self.forms.get(field.path, ()):
                yield from form.fields


def _plain(path: str) -> str:
    return path.replace("[]", "")
