"""The JSON Schema of a case file, made of the rows that read it."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.case_file.field import Field, FieldList, Form
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.kinds import HALF_WIDTH, MOST_ITEMS, Shape, Table, defined
from preloadmc.case_file.law_keys import law_definitions, law_shape
from preloadmc.case_file.law_kind import LawOf
from preloadmc.case_file.merging import TAKEN_AWAY
from preloadmc.case_file.quantity_pattern import odd_pattern, quantity_pattern, units_of
from preloadmc.case_file.typed_spreads import SIGN
from preloadmc.typed_numbers import LONGEST_QUANTITY
from preloadmc.units import DIMENSIONS, TEMPERATURE

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_DESCRIPTION = (
    "What may stand in a case file of preloadmc: keys, kinds of values, units, words. What belongs "
    "together, which sizes are possible and what files say is judged by the program alone: "
    "preloadmc check CASE."
)

_ODD_UNIT, _HALF_WIDTH = "quantity in a unit of many factors", "half width with its sign"


def case_schema() -> Shape:
    """Return the JSON Schema (draft 2020-12) of a case file.

    Whatever `load_case` reads validates. What it refuses for its shape does not: an unknown key, a
    wrong type, a word that is none of those allowed, a unit of another dimension.
    """
    return _Schema(all_fields()).whole()


class _Schema:
    """The schema of a list of keys."""

    def __init__(self, fields: FieldList) -> None:
        self.fields = fields

    def whole(self) -> Shape:
        """Return the whole schema."""
        definitions = {
            **dict(_quantity_shapes()),
            **law_definitions(),
            **{
                row.kind.law_name: law_shape(row.kind.input.dimension, bool(row.kind.input.about))
                for row in self.fields
                if isinstance(row.kind, LawOf)
            },
            **{
                _changed(section): self._changed_section(row)
                for section, row in self.fields.tables[""].items()
                if any(section not in keeps for keeps in self._kept())
            },
        }
        return {
            "$schema": DIALECT,
            "title": "Case file of preloadmc",
            "description": _DESCRIPTION,
            **self._table("", whole=True),
            "$defs": {name.replace(" ", "-"): shape for name, shape in definitions.items()},
        }

    def _kept(self) -> Iterator[tuple[str, ...]]:
        """Yield the sections that each change of a case keeps."""
        for row in self.fields:
            if isinstance(row.kind, Table) and row.kind.changes_case:
                yield tuple(row.kind.keeps)

    def _table(self, path: str, *, whole: bool) -> Shape:
        """Return the shape of a table; where it is not ``whole``, a case fills in what it lacks."""
        rows = self.fields.tables[path]
        shape: Shape = {
            "type": "object",
            "properties": {key: self._value(row, whole=whole) for key, row in rows.items()},
            "additionalProperties": False,
        }
        needed = [key for key, row in rows.items() if whole and self._is_needed(row)]
        return {**shape, "required": needed} if needed else shape

    def _is_needed(self, row: Field) -> bool:
        """Return whether a row must be stated, or something in its table."""
        if isinstance(row.kind, Table) and not row.is_list:
            return any(self._is_needed(each) for each in self.fields.tables[row.path].values())
        return row.needed

    def _value(self, row: Field, *, whole: bool) -> Shape:
        """Return the shape of what stands under one key."""
        if not isinstance(row.kind, Table):
            shape = _one_of([self._single(row), *self._in_lists(row)])
        elif row.is_list:
            items = self._items(row, row.kind)
            shape = {"type": "array", "items": items, "maxItems": row.kind.most}
        else:
            shape = self._table(row.path, whole=whole)
        return {"description": _words(row), **shape}

    def _single(self, row: Field) -> Shape:
        forms = [_form_shape(form) for form in self.fields.forms.get(row.path, ())]
        return _one_of([_list_of(row.kind.shape) if row.is_list else row.kind.shape, *forms])

    def _in_lists(self, row: Field) -> Iterator[Shape]:
        """Yield the shape of a list, where the key may hold one in place of a value."""
        if row.path in self.fields.lists:
            yield _list_of(self.fields.lists[row.path].kind.shape)

    def _items(self, row: Field, kind: Table) -> Shape:
        """Return the shape of the items of an array of tables."""
        shape = self._table(row.path, whole=True)
        if kind.changes_case:
            sections = {
                section: defined(_changed(section))
                for section in self.fields.tables[""]
                if section not in kind.keeps
            }
            shape["properties"] = {**sections, **shape["properties"]}
        return shape

    def _changed_section(self, row: Field) -> Shape:
        """Return the shape of a section where something changes the case."""
        shape = self._value(row, whole=False)
        if row.path not in TAKEN_AWAY:
            return shape
        words = shape.pop("description")
        return {"description": words, "anyOf": [shape, {"const": TAKEN_AWAY[row.path]}]}


def _changed(section: str) -> str:
    return f"change of {section}"


def _form_shape(form: Form) -> Shape:
    return {
        "type": "object",
        "properties": {
            row.key: {"description": _words(row), **row.kind.shape} for row in form.fields
        },
        "required": [row.key for row in form.fields if row.needed or row.key == form.key],
        "additionalProperties": False,
    }


def _list_of(shape: Shape) -> Shape:
    return {"type": "array", "items": shape, "maxItems": MOST_ITEMS}


def _one_of(shapes: list[Shape]) -> Shape:
    """Return that one of some shapes holds."""
    flat: list[Shape] = []
    for shape in shapes:
        flat += shape["anyOf"] if [*shape] == ["anyOf"] else [shape]
    return flat[0] if len(flat) == 1 else {"anyOf": flat}


def _words(row: Field) -> str:
    """Return what a key is, with its default and an example."""
    words = [row.meaning]
    if not isinstance(row.kind, Table):
        words.append(row.kind.allowed)
    if row.default is not None:
        words.append(f"default {row.default.with_source}")
    if row.example:
        words.append(f"example: {row.key} = {row.example}")
    return "; ".join(words)


def _quantity_shapes() -> Iterator[tuple[str, Shape]]:
    """Yield the shape of every quantity: text with its unit, for a ratio also a bare number."""
    yield _ODD_UNIT, {"type": "string", "pattern": odd_pattern(), "maxLength": LONGEST_QUANTITY}
    yield _HALF_WIDTH, {"type": "string", "pattern": f"^{SIGN}"}
    for dimension in DIMENSIONS.values():
        text = {
            "type": "string",
            "pattern": quantity_pattern(dimension),
            "maxLength": LONGEST_QUANTITY,
        }
        shapes = [text] if dimension is TEMPERATURE else [text, defined(_ODD_UNIT)]
        is_ratio = not any(dimension.exponents)
        units = ", ".join(units_of(dimension))
        what = f"{dimension.with_article}: a number, or text with {units}"
        words = what if is_ratio else f"{dimension.with_article}, as text with {units}"
        half_width = f"{dimension.name}{HALF_WIDTH}"
        yield half_width, {"anyOf": [*([{"type": "number"}] if is_ratio else []), *shapes]}
        yield (
            dimension.name,
            {"description": words, **defined(half_width), "not": defined(_HALF_WIDTH)},
        )
