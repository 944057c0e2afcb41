"""The one pass over a case file: every row looks up its value, what no row knows is unknown."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, TypeVar

from preloadmc.case_file import ranges
from preloadmc.case_file.field import Field, FieldList, Form
from preloadmc.case_file.kinds import MOST_ITEMS, Band, Quantity, Table
from preloadmc.case_file.law_kind import LawOf, StatedLaw
from preloadmc.case_file.problems import MISSPELT, Problems, nearest, nearest_words
from preloadmc.typed_numbers import has_decimal_comma, split_quantity, with_decimal_point

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

    ``unusual`` says by path what joints do not usually have, ``understood`` how a number was read
    that is typed with a decimal comma.
    """

    def __init__(self, fields: FieldList, problems: Problems) -> None:
        self.fields = fields
        self.problems = problems
        self._looked_up: dict[str, Field] = {}
        self._given: dict[str, Any] = {}
        self._values: dict[str, object] = {}
        self._forms: dict[str, Form] = {}
        self.unusual: dict[str, str] = {}
        self.understood: dict[str, str] = {}
        self._by_section: tuple[dict[str, dict[str, Any]], ...] = ()

    @property
    def doubts(self) -> tuple[str, ...]:
        """Return a warning for each value that joints do not usually have."""
        return tuple(f"{path}: {words}" for path, words in self.unusual.items())

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

    def changed(
        self, data: Mapping[str, Any], sections: Collection[str], problems: Problems
    ) -> Stated:
        """Return what a file states that differs in some sections; only these are read.

        Parameters
        ----------
        data : mapping
            The tables of the other file.
        sections : collection of str
            The keys at the top that differ.
        problems : Problems
            Takes what is wrong in them.
        """
        if not self._by_section:
            self._by_section = tuple(map(_by_section, self._parts))
        stated = Stated(self.fields, problems)
        for part, own in zip(stated._parts, self._by_section, strict=True):
            for section, found in own.items():
                if section not in sections:
                    part.update(found)
        rows = self.fields.tables[""]
        stated.read_table(
            {key: data[key] for key in sections if key in data},
            "",
            {key: rows[key] for key in sections},
        )
        return stated

    @property
    def _parts(self) -> tuple[dict[str, Any], ...]:
        return (
            self._looked_up,
            self._given,
            self._values,
            self._forms,
            self.unusual,
            self.understood,
        )

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
        before = f"{path}{between}" if path else ""
        self._note_unknown([key for key in table if key not in rows], before, table, rows)
        for key, row in rows.items():
            place = f"{before}{key}"
            self._looked_up[place] = row
            if key in table:
                self._read_value(row, place, table[key])
            elif row.needed:
                self.missing(place, row.asked)
            elif isinstance(row.kind, Table) and not row.is_list:
                self.read_table({}, place, self.fields.tables[row.path])

    def _note_unknown(
        self, keys: Sequence[str], before: str, table: Mapping[str, Any], rows: Mapping[str, Field]
    ) -> None:
        for key in keys:
            self.problems.unknown_row(f"{before}{key}", key, rows, self._meant(key, rows))
            if not self.problems.cut_off:
                called = self._called(key, rows)
                near = [called] if called else nearest_words(key, rows, likeness=MISSPELT)
                for known in near:
                    if known not in table:
                        self.problems.misspelt(f"{before}{known}")

    def _meant(self, key: str, rows: Mapping[str, Field]) -> str:
        """Return what may be meant by an unknown key; empty where nothing but its table can say."""
        if self.problems.cut_off:
            return ""
        if called := self._called(key, rows):
            return f"; here it is called '{called}'"
        near = nearest(key, rows, 3)
        owner = self.fields.table_of(key)
        return f"{near}; it is a key of {owner}" if owner else near

    @staticmethod
    def _called(key: str, rows: Mapping[str, Field]) -> str:
        """Return the key of the row that others call by this one; empty where there is none."""
        return next((row.key for row in rows.values() if key.casefold() in row.called), "")

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
            table = given if isinstance(given, Mapping) else {}
            if table is not given:
                such_as = next(
                    (f"{{ {r.key} = {r.example} }}" for r in rows.values() if r.example), ""
                )
                self.problems.add(place, given, f"{row.kind.allowed}, such as {such_as}")
            if row.kind.changes_case:
                table = {key: value for key, value in table.items() if key in rows}
            self.read_table(table, place, rows)
        elif form := self._other_form(row, given):
            if "law" in given:
                self.problems.add(
                    f"{place}.law",
                    given["law"],
                    f"nothing beside {form.key}: remove one of the two{form.as_law}",
                )
                return
            self._forms[place] = form
            self.read_table(given, place, {row.key: row for row in form.fields})
        elif not self._is_misspelt_form(row, place, given):
            value = row.kind.read(given, place, self.problems)
            if value is None:
                return
            if words := ranges.impossible(row, value, given):
                self.problems.add(place, given, words)
                return
            self._values[place] = value
            self._note_commas(row, place, given)
            if words := ranges.unusual(row, value, given):
                self.unusual[place] = words

    def _note_commas(self, row: Field, place: str, given: Any) -> None:
        """Note each number with a decimal comma, as it was read."""
        if not isinstance(row.kind, Quantity | LawOf | Band):
            return
        texts = {place: given}
        if isinstance(given, Mapping):
            texts = {f"{place}.{key}": text for key, text in given.items()}
        for path, text in texts.items():
            if isinstance(text, str) and has_decimal_comma(text) and split_quantity(text):
                self.understood[path] = with_decimal_point(text.strip())

    def _is_misspelt_form(self, row: Field, place: str, given: Any) -> bool:
        """Return whether the key that tells another form is misspelt, which is noted."""
        if not isinstance(given, Mapping) or "law" in given or self.problems.cut_off:
            return False
        keys = [form.key for form in self.fields.forms.get(row.path, ())]
        found = [key for key in given if nearest_words(key, keys, likeness=MISSPELT)]
        for key in found:
            self.problems.unknown(f"{place}.{key}", key, ["law", *keys])
        return bool(found)

    def _other_form(self, row: Field, given: Any) -> Form | None:
        if not isinstance(given, Mapping):
            return None
        forms = self.fields.forms.get(row.path, ())
        return next((form for form in forms if form.key in given), None)


def _by_section(part: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Return entries by the key at the top that their path begins with."""
    found: dict[str, dict[str, Any]] = {}
    for path, value in part.items():
        section = path.partition(".")[0].partition("[")[0]
        found.setdefault(section, {})[path] = value
    return found
