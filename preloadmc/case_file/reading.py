"""The one pass over a case file: every row looks up its value, what no row knows is unknown."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, TypeVar

from preloadmc.case_file import ranges
from preloadmc.case_file.field import Field, FieldList, Form
from preloadmc.case_file.kinds import MOST_ITEMS, Table
from preloadmc.case_file.law_kind import StatedLaw
from preloadmc.case_file.problems import Problems

T = TypeVar("T")


def read(
    data: Mapping[str, Any],
    fields: FieldList,
    problems: Problems,
    sections: Collection[str] | None = None,
) -> Stated:
    """Return what the tables of a file state.

    Parameters
    ----------
    data : mapping
        The tables of a file, or of a case that something changes.
    fields : FieldList
        Every key that may stand in it.
    problems : Problems
        Takes what is wrong.
    sections : collection of str or None
        The keys at the top that may stand in it, where not all may.
    """
    stated = Stated(fields, problems)
    rows = fields.tables[""]
    if sections is not None:
        rows = {key: rows[key] for key in sections}
    stated.read_table(data, "", rows)
    return stated


class Stated:
    """What a file states, by path: as it was given, and as a value in internal units.

    ``unusual`` says by path what joints do not usually have.
    """

    def __init__(self, fields: FieldList, problems: Problems) -> None:
        self.fields = fields
        self.problems = problems
        self._looked_up: dict[str, Field] = {}
        self._given: dict[str, Any] = {}
        self._values: dict[str, object] = {}
        self._forms: dict[str, Form] = {}
        self.unusual: dict[str, str] = {}

    def __contains__(self, path: str) -> bool:
        """Return whether the file states something there, be it right or wrong."""
        return path in self._given

    def given(self, path: str) -> Any:
        """Return what the file holds there, or None."""
        return self._given.get(path)

    def has_table(self, path: str) -> bool:
        """Return whether the file states anything in a table."""
        given = self._given.get(path)
        return isinstance(given, Mapping) and bool(given)

    def field(self, path: str) -> Field:
        """Return the row that looked a path up; KeyError if none did."""
        return self._looked_up[path]

    def get(self, path: str, kind: type[T]) -> T | None:
        """Return the value there, or its default; None where neither is known."""
        default = self._looked_up[path].default
        value = self._values.get(path, None if default is None else default.value)
        assert value is None or isinstance(value, kind), f"{path} is no {kind.__name__}"
        return value

    def known(self, path: str, kind: type[T]) -> T:
        """Return the value there, or the default that its row has."""
        value = self.get(path, kind)
        assert value is not None, f"{path} has no default"
        return value

    def law(self, path: str) -> StatedLaw | None:
        """Return the law that an input is stated as; None where there is none."""
        value = self._values.get(path)
        return value if isinstance(value, StatedLaw) else None

    def form(self, path: str) -> Form | None:
        """Return the other form in which an input is stated; None where it is not."""
        return self._forms.get(path)

    def each(self, path: str) -> Sequence[str]:
        """Return the paths of the items of a list, which may be none."""
        assert path in self._looked_up, f"{path} is no row"
        found = self._values.get(path)
        return found if isinstance(found, list) else ()

    def problem(self, path: str, allowed: str) -> None:
        """Note a problem with what the file holds there."""
        self.problems.add(path, self._given.get(path), allowed)

    def missing(self, path: str, allowed: str) -> None:
        """Note that the file must state something there."""
        self.problems.missing(path, allowed)

    def read_table(
        self, table: Mapping[str, Any], path: str, rows: Mapping[str, Field], between: str = "."
    ) -> None:
        """Let every row of a table look up its value; a key that no row knows is a problem.

        Parameters
        ----------
        table : mapping
            The table as it was given.
        path : str
            Of the table; empty for the whole file.
        rows : mapping of str to Field
            Its rows.
        between : str
            What stands between the paths of table and key.
        """
        for key, row in rows.items():
            place = f"{path}{between}{key}" if path else key
            self._looked_up[place] = row
            if key in table:
                self._read_value(row, place, table[key])
            elif row.needed:
                self.missing(place, row.asked)
            elif isinstance(row.kind, Table) and not row.is_list:
                self.read_table({}, place, self.fields.tables[row.path])
        for key in table:
            if key not in rows:
                self.problems.unknown(f"{path}{between}{key}" if path else key, key, rows)

    def _read_value(self, row: Field, place: str, given: Any) -> None:
        """Read what is given for one row: a value, a table, or a list of either."""
        self._given[place] = given
        if isinstance(given, list):
            row = self.fields.lists.get(row.path, row)
        if not row.is_list:
            self._read_item(row, place, given)
            return
        items = {f"{place}[{n}]": item for n, item in enumerate(self._items(row, place, given), 1)}
        self._values[place] = [*items]
        for item, each in items.items():
            self._given[item] = each
            self._read_item(row, item, each)

    def _items(self, row: Field, place: str, given: Any) -> list[Any]:
        """Return the items of a list; none where a problem is noted."""
        tables = isinstance(row.kind, Table)
        if isinstance(given, list) and not (
            tables and any(not isinstance(item, Mapping) for item in given)
        ):
            most = row.kind.most if isinstance(row.kind, Table) else MOST_ITEMS
            if len(given) > most:
                self.problems.add(place, len(given), f"at most {most:,} of them")
                return []
            return given
        each = f"each under its own [[{place}]]" if tables else row.kind.allowed
        self.problems.add(place, given, f"an array of tables, {each}")
        return []

    def _read_item(self, row: Field, place: str, given: Any) -> None:
        if isinstance(row.kind, Table):
            rows = self.fields.tables[row.path]
            table = row.kind.read(given, place, self.problems) or {}
            if row.kind.changes_case:
                table = {key: value for key, value in table.items() if key in rows}
            self.read_table(table, place, rows)
        elif form := self._other_form(row, given):
            self._forms[place] = form
            self.read_table(given, place, {row.key: row for row in form.fields})
        else:
            value = row.kind.read(given, place, self.problems)
            if value is None:
                return
            if words := ranges.impossible(row, value, given):
                self.problems.add(place, given, words)
                return
            self._values[place] = value
            if words := ranges.unusual(row, value, given):
                self.unusual[place] = words

    def _other_form(self, row: Field, given: Any) -> Form | None:
        if not isinstance(given, Mapping):
            return None
        forms = self.fields.forms.get(row.path, ())
        return next((form for form in forms if form.key in given), None)
