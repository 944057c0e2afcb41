"""A case that the rows of a register change: where a cell may stand, and the case of each row."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from contextlib import suppress
from functools import cache
from pathlib import Path, PurePath
from typing import Any, NamedTuple, Protocol

from preloadmc.case import Case
from preloadmc.case_file.content import csv_text
from preloadmc.case_file.draft import LARGEST_TABLE
from preloadmc.case_file.exceptions import with_exceptions
from preloadmc.case_file.field import FILE_SECTIONS, TRACE_SECTIONS, Field, FieldList
from preloadmc.case_file.investigation import is_investigation
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.kinds import Flag, Quantity, QuantityOrWord, Table, Whole
from preloadmc.case_file.law_keys import LAW_KEYS
from preloadmc.case_file.law_kind import LawOf
from preloadmc.case_file.load import load_tables
from preloadmc.case_file.make_case import File, make_case
from preloadmc.case_file.merging import changes_method, merged
from preloadmc.case_file.named_tests import with_named_tests
from preloadmc.case_file.no_effect import keys_without_effect
from preloadmc.case_file.problems import Problems, listed, nearest, nearest_words, shown
from preloadmc.case_file.reading import Stated, read
from preloadmc.case_file.word_kinds import Named, Text, Word
from preloadmc.errors import CaseError, Problem
from preloadmc.units import RATIO, TEMPERATURE, Dimension

# What a case file has beside the joint itself: nothing of it is judged row by row.
_LEFT_OUT = (*TRACE_SECTIONS, *FILE_SECTIONS)
# Of lists there is one row for all items: a part of a path with its number.
_ITEM = re.compile(r"(.+?)\s*\[\s*(\d{1,6})\s*\]")
# Keys that name a file: rows that each read one would have to carry it along.
_FILES = ("tightening.tool.rundowns",)
_NEAREST = 3

# A value as TOML has it.
Value = str | float | int | bool
# What cells hold, and what they measure.
Held = tuple[str, tuple[Dimension, ...]]


class ChangedRow(Protocol):
    """What a template asks of a row."""

    @property
    def joint(self) -> str:
        """Name of the joint."""

    @property
    def cells(self) -> tuple[tuple[str, Value], ...]:
        """Path and value of each cell that is not empty."""

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What is wrong with the row before it is read."""


class Place(NamedTuple):
    """A path of the case file that a column may have: what its cells are, and what they measure.

    ``holds`` is "number", "word" or "flag"; words have no dimensions, and some numbers may have one
    of two.
    """

    path: str
    holds: str
    dimensions: tuple[Dimension, ...] = ()


@cache
def case_fields() -> FieldList:
    """Return every key of a case file, made once."""
    return all_fields()


def place_of(written: str) -> Place:
    """Return the place in a case file that a heading names, in any letter case.

    Raises
    ------
    ValueError
        In plain words: no such key, with the nearest ones, or no key that a row may change.

    Examples
    --------
    >>> place_of("Tightening.Torque").path, place_of("clamped[2].thickness").dimensions[0].name
    ('tightening.torque', 'length')
    """
    fields = case_fields()
    parts = [part.strip() for part in written.casefold().split(".")]
    _check_section(parts)
    table, walked = "", ""
    for n, part in enumerate(parts, 1):
        key, item = split_item(part)
        row = fields.tables[table].get(key)
        if row is None:
            raise ValueError(_unknown(".".join(parts)))
        if item is not None:
            row = fields.lists.get(row.path, row)
        walked = f"{walked}.{key}" if walked else key
        if row.is_list and item is None:
            raise ValueError(f"the number of one of them, such as '{walked}[1]'")
        if item is not None and not row.is_list:
            raise ValueError(f"'{walked}' without a number: there is one only")
        walked += f"[{item}]" if item is not None else ""
        if not isinstance(row.kind, Table):
            return _leaf(row, walked, parts[n:])
        table = row.path
    first = next(key for key in fields.tables[table])
    raise ValueError(f"one of the keys of this table, such as '{walked}.{first}'")


def _check_section(parts: list[str]) -> None:
    section = split_item(parts[0])[0]
    if section == "name":
        raise ValueError("'joint' as the heading of the names of joints")
    if section == "group":
        raise ValueError("nothing of [group]: state it in the template, or a template for each")
    if section in _LEFT_OUT:
        raise ValueError(f"nothing of [{section}]: a row is one joint as it is built")


def split_item(part: str) -> tuple[str, int | None]:
    """Return the key of a part of a path, and the number of the item where it is one of a list.

    Examples
    --------
    >>> split_item("clamped[2]"), split_item("torque")
    (('clamped', 2), ('torque', None))
    """
    found = _ITEM.fullmatch(part)
    return (part, None) if found is None else (found[1], int(found[2]))


def _leaf(row: Field, path: str, below: list[str]) -> Place:
    """Return the place of a key that has a value; of an input it may be a key of its law."""
    if below and isinstance(row.kind, LawOf):
        keys = _keys_of_law(row.path, row.kind.input.dimension)
        key = ".".join(below)
        if key in keys:
            return Place(f"{path}.{key}", *keys[key])
        near = nearest(key, keys, _NEAREST)
        raise ValueError(
            f"no key of a law that a cell can state{near}; `preloadmc keys law` lists all"
        )
    if below:
        raise ValueError(f"'{path}' alone: it has no keys of its own")
    if path in _FILES or not (found := _held(row.kind)):
        raise ValueError("nothing: it takes more than a cell; state it in the template")
    return Place(path, *found)


def _keys_of_law(path: str, dimension: Dimension) -> dict[str, Held]:
    """Return the keys of a law, or of another form of an input, that a cell can state."""
    forms = case_fields().forms.get(path, ())
    kinds: dict[str, object] = {row.key: row.kind for form in forms for row in form.fields}
    kinds |= {key.key: key.value(dimension) for key in LAW_KEYS}
    own = {key: held for key, kind in kinds.items() if (held := _held(kind))}
    # A width may be a share of the mean too, but for those of temperatures.
    ratio: Held = ("number", (RATIO,))
    width = dimension.of_difference
    sd: Held = ("number", (width,) if dimension is TEMPERATURE else (width, RATIO))
    own |= {"sd": sd, "half_width": sd, "cov": ratio, "tests": ratio}
    own |= {"measuring.sd": ("number", (width,)), "measuring.cov": ratio}
    own |= {"shared.by": ("word", ()), "shared.fraction": ratio}
    return {key: held for key, held in own.items() if f"{path}.{key}" not in _FILES}


def _held(kind: object) -> Held | None:
    """Return what a cell of a kind holds, and what it measures; None where it takes more."""
    if isinstance(kind, LawOf):
        return "number", (kind.input.dimension,)
    if isinstance(kind, QuantityOrWord):
        return "number", (kind.quantity.dimension,)
    if isinstance(kind, Quantity):
        return "number", (kind.dimension,)
    if isinstance(kind, Whole):
        return "number", (RATIO,)
    if isinstance(kind, Flag):
        return "flag", ()
    return ("word", ()) if isinstance(kind, Word | Text | Named) else None


def _unknown(written: str) -> str:
    """Return what is said of a key that no row of its table knows."""
    last = written.rpartition(".")[2]
    alike = [path for path in _all_paths() if path.rpartition(".")[2] == last]
    near = {*alike, *nearest_words(written, _all_paths(), _NEAREST)}
    # Those with the very key may be little like a heading that leaves out its table.
    first = nearest_words(written, sorted(near), _NEAREST, likeness=0.0)
    meant = f"; nearest: {listed(first)}" if first else ""
    return f"unknown key{meant}; see `preloadmc keys`, or head it 'note ...' to carry it along"


@cache
def _all_paths() -> tuple[str, ...]:
    """Return every path that a column may have, without the keys of laws."""
    found = []
    for field in case_fields():
        path = field.path.replace("[]", "[1]")
        if _held(field.kind) and path not in _FILES:
            with suppress(ValueError):
                _check_section([path.partition(".")[0]])
                found.append(path)
    return tuple(found)


class Template:
    """A case that rows change; it reads no file once it is made, and may be pickled.

    Parameters
    ----------
    tables : mapping
        Of the case file, with the records of each file of tests that it names.
    file : File
        The case file as it was given, with the texts of those files.
    """

    def __init__(self, tables: Mapping[str, Any], file: File) -> None:
        self.tables = tables
        self.file = file
        self._own = {key: value for key, value in tables.items() if key not in _LEFT_OUT}
        problems = Problems()
        self._stated = read(self._own, case_fields(), problems)
        # What is wrong or missing in a template may come from a row: each is then read whole.
        self._is_whole = not problems

    def __reduce__(self) -> tuple[Any, ...]:
        return Template, (self.tables, self.file)

    @property
    def sha256(self) -> str:
        """Return the SHA-256 of the case file."""
        return self.file.sha256

    @property
    def files(self) -> dict[str, str]:
        """Return the text of the case file and of each that it names, by path from its folder."""
        return {PurePath(self.file.source).name: self.file.text, **self.file.tables}

    @property
    def alternatives(self) -> tuple[str, ...]:
        """Return the names of the alternatives that the case file states."""
        return tuple(
            name for each in self._alternatives if isinstance(name := each.get("name"), str)
        )

    @property
    def _alternatives(self) -> list[Mapping[str, Any]]:
        found = self.tables.get("alternative", [])
        return (
            [each for each in found if isinstance(each, Mapping)] if isinstance(found, list) else []
        )

    def case_of(self, row: ChangedRow, alternative: str | None = None) -> Case:
        """Return the case of a row, named as its joint, without alternatives and findings.

        Parameters
        ----------
        row : ChangedRow
            What it states stands in place of what the template does.
        alternative : str, optional
            Name of one that the template states: its tables are merged into those of the row.

        Raises
        ------
        CaseError
            With every problem of the row at once, its paths as in a case file.
        """
        change = next(
            (each for each in self._alternatives if each.get("name") == alternative), None
        )
        return self._made(row, change)[0]

    def without_effect(self, row: ChangedRow) -> tuple[str, ...]:
        """Return a warning for each key that has no effect in the case of a row.

        Raises
        ------
        CaseError
            As for `case_of`.
        """
        case, stated = self._made(row)
        return keys_without_effect(
            case,
            stated,
            compares=False,
            investigates=is_investigation(self.tables),
            surveyed=True,
        )

    def _made(
        self, row: ChangedRow, change: Mapping[str, Any] | None = None
    ) -> tuple[Case, Stated]:
        problems = Problems()
        # What is wrong already is not missing besides.
        for problem in row.problems:
            problems.misspelt(problem.path)
        data: dict[str, Any] = {**self._own, "name": row.joint}
        changed = {"name": None}
        for path, value in row.cells:
            if words := put(data, path, value):
                problems.add(path, value, words)
            changed[split_item(path.partition(".")[0])[0]] = None
        changed_method = False
        if change is not None:
            own = {key: value for key, value in change.items() if key not in ("name", "setting")}
            changed_method = changes_method(data, own)
            data = merged(data, own, case_fields())
            stated = read(data, case_fields(), problems)
        elif self._is_whole:
            stated = self._stated.changed(data, changed, problems)
        else:
            stated = read(data, case_fields(), problems)
        case = make_case(stated, self.file, changed_method=changed_method)
        case = with_exceptions(case, data, stated, self.file)
        if case is None or problems or row.problems:
            found = problems.sorted(stated.fields.place)
            raise CaseError(self.file.source, (*row.problems, *found), stated.doubts)
        return case, stated


def load_template(path: Path) -> Template:
    """Read a case file as a template; what a row may mend is no problem of it.

    Raises
    ------
    CaseError
        If it cannot be read, or names a file of tests that cannot.
    """
    data, content = load_tables(path)
    problems = Problems()
    tables, texts = with_named_tests(
        {key: value for key, value in data.items() if key not in _LEFT_OUT}, path.parent, problems
    )
    if problems:
        raise CaseError(str(path), problems.sorted(case_fields().place))
    if (name := _rundowns(tables)) is not None:
        # One that cannot be read is told where its key is read.
        with suppress(OSError, ValueError):
            texts[PurePath(name).as_posix()] = csv_text(path.parent, name, LARGEST_TABLE)
    left_out = {key: value for key, value in data.items() if key in _LEFT_OUT}
    text, digest = content.decode("utf-8-sig"), hashlib.sha256(content).hexdigest()
    return Template({**left_out, **tables}, File(str(path), text, digest, texts))


def _rundowns(tables: Mapping[str, Any]) -> str | None:
    found: Any = tables
    for key in _FILES[0].split("."):
        found = found.get(key) if isinstance(found, Mapping) else None
    return found if isinstance(found, str) else None


@cache
def _parts(path: str) -> tuple[tuple[str, int | None], ...]:
    return tuple(map(split_item, path.split(".")))


def put(data: dict[str, Any], path: str, value: Value) -> str:
    """Put a value at its path in tables; return what is wrong in words, or an empty text.

    Tables on the way are made where there are none; those that are there are copied before, so that
    nothing below ``data`` itself changes.

    Examples
    --------
    >>> data = {"friction": {"thread": 0.12}}
    >>> put(data, "friction.bearing.mean", 0.13), data["friction"]["bearing"]
    ('', {'mean': 0.13})
    >>> put(data, "friction.thread.mean", 0.13)
    'a law in the template, such as thread = { law = ..., mean = 0.12, ... }; it states 0.12'
    """
    *way, (last, item) = _parts(path)
    table, walked = data, ""
    for key, number in way:
        walked = f"{walked}.{key}" if walked else key
        found = table.get(key)
        if number is not None:
            if words := _no_item(found, walked, number):
                return words
            found = _copied(table, key, number)
            table[key][number - 1] = found = dict(found) if isinstance(found, Mapping) else found
        elif found is None or isinstance(found, Mapping):
            table[key] = found = dict(found or {})
        if not isinstance(found, dict):
            return _plain(key, last, found)
        table = found
    if item is None:
        table[last] = value
        return ""
    if words := _no_item(table.get(last), path.rpartition("[")[0], item):
        return words
    _copied(table, last, item)
    table[last][item - 1] = value
    return ""


def _copied(table: dict[str, Any], key: str, number: int) -> Any:
    table[key] = [*table[key]]
    return table[key][number - 1]


def _no_item(found: Any, path: str, number: int) -> str:
    count = len(found) if isinstance(found, list) else 0
    return "" if 1 <= number <= count else f"the template has {count or 'none'} of '{path}'"


def _plain(key: str, last: str, found: Any) -> str:
    if isinstance(found, list):
        return f"one of the list in the template, such as '{key}[1]'"
    value = f'"{found}"' if isinstance(found, str) else found
    example = value if last in ("mean", "value", "low", "mode", "high") else "..."
    law = f"law = ..., {last} = {example}, ..."
    return f"a law in the template, such as {key} = {{ {law} }}; it states {shown(found)}"
