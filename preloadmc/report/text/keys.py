"""The keys of the case file as text: all in short, or some in full."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from preloadmc.case_file.field import Field, FieldList, Form
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.kinds import Band, Quantity, QuantityOrWord, Table
from preloadmc.case_file.law_keys import LAW_KEYS, ONE_SPREAD, law_ways
from preloadmc.case_file.law_kind import LawOf
from preloadmc.case_file.law_table import BESIDE_NUMBERS, SPREADS
from preloadmc.case_file.quantity_pattern import units_of
from preloadmc.case_file.toml_text import toml_key
from preloadmc.case_file.word_kinds import Named, Text
from preloadmc.errors import UsageError
from preloadmc.report.text.tables import WIDTH
from preloadmc.units import RATIO, TEMPERATURE, Dimension

LAW = "law"
_OPENING = (
    "The keys of a case file. A path with [] is one of an array of tables: clamped[].thickness is "
    "thickness under [[clamped]]. In full: preloadmc keys WORD. How to state a law: preloadmc keys "
    "law."
)
_LAWS_OPENING = (
    "In place of a value that may be a law stands a table, such as thread = { law = "
    '"lognormal", mean = 0.13, cov = "12 %" }. Its quantities have the units of that value. These '
    "are the ways to state a law:"
)
_LAWS_HEADING = "{ law = ... } in place of a value"
# What a value of a law's table is of, where no key says it.
_OWN = Dimension("quantity", RATIO.exponents, "", "")
_GAP = "  "
_WIDEST_PATH = 40
_NARROWEST = 16


@dataclass(frozen=True, slots=True)
class _Key:
    """One key: under which heading it stands, what is said of it, and an example in lines."""

    heading: str
    path: str
    meaning: str
    facts: tuple[tuple[str, str], ...]
    example: tuple[str, ...]

    @property
    def searched(self) -> str:
        """Return all that a word may be found in."""
        allowed = " ".join(words for label, words in self.facts if label in ("allowed", "names"))
        plain = self.path.replace("[]", "")
        return f"{self.path} {plain} {self.meaning} {allowed}".casefold()


def keys_text(words: Sequence[str] = (), width: int = WIDTH) -> str:
    """Return the keys of the case file as text.

    Parameters
    ----------
    words : sequence of str
        What path, meaning or allowed values of a key must have, in any letter case; none for all
        keys in short, "law" alone for how to state a law.
    width : int
        Of the terminal, in columns.

    Raises
    ------
    UsageError
        If no key has all the words, with the nearest to each.
    """
    wanted = " ".join(words).casefold().split()
    keys = [*_all_keys()]
    if not wanted:
        lines = [*_wrapped(_OPENING, width), *_in_short(keys, width)]
    elif wanted == [LAW]:
        lines = [*_how_to_state_a_law(width), *_in_short([*_law_keys()], width)]
    else:
        found = [key for key in keys if all(word in key.searched for word in wanted)]
        if not found:
            raise UsageError(_not_found(wanted, keys))
        lines = [line for key in found for line in (*_in_full(key, width), "")][:-1]
    return "\n".join(lines) + "\n"


def _all_keys() -> Iterator[_Key]:
    fields = all_fields()
    seen = set()
    for row in fields:
        if row.path not in seen:  # several forms of an input may have one key
            seen.add(row.path)
            yield _Key(
                _heading(row, fields),
                row.path,
                row.meaning,
                tuple(_facts(row, fields)),
                tuple(_example(row, fields)),
            )
    yield from _law_keys()


def _law_keys() -> Iterator[_Key]:
    for key in LAW_KEYS:
        facts = [("allowed", key.value(_OWN).allowed), ("stands in", "the table of a law")]
        if key.default:
            facts.append(("default", key.default))
        yield _Key(
            _LAWS_HEADING, key.key, key.meaning, tuple(facts), (f"{key.key} = {key.example}",)
        )


def _heading(row: Field, fields: FieldList) -> str:
    """Return the header of the section that a row is of, with what it is; empty at the top."""
    top = fields.tables[""][row.path.partition(".")[0].removesuffix("[]")]
    return f"{_header(top.path)}  {top.meaning}" if isinstance(top.kind, Table) else ""


def _header(table: str) -> str:
    """Return the header of a table as it stands in a file."""
    name = table.replace("[]", "")
    return f"[[{name}]]" if table.endswith("[]") else f"[{name}]"


def _facts(row: Field, fields: FieldList) -> Iterator[tuple[str, str]]:
    """Yield what is said of a key, each under its label."""
    if isinstance(row.kind, Table):
        yield "keys", ", ".join(fields.tables[row.path])
        return
    yield "allowed", row.kind.allowed
    if isinstance(row.kind, Named | Text) and (names := ", ".join(row.kind.known())):
        yield "names", names
    if (dimension := _dimension(row)) is not None:
        yield "units", _units(dimension)
    for form in fields.forms.get(row.path, ()):
        yield "or", f"a table of {', '.join(each.key for each in form.fields)}"
    if row.needed:
        yield "needed", "yes"
    if row.default is not None:
        yield "default", row.default.with_source


def _dimension(row: Field) -> Dimension | None:
    """Return what the values of a key measure; None where they are words or counts."""
    kind = row.kind
    if isinstance(kind, LawOf):
        return kind.input.dimension
    if isinstance(kind, Band | QuantityOrWord):
        kind = kind.quantity
    return kind.dimension if isinstance(kind, Quantity) else None


def _units(dimension: Dimension) -> str:
    units = ", ".join(units_of(dimension))
    if not any(dimension.exponents):
        return f"none, or {units}"
    others = "" if dimension is TEMPERATURE else "; other products and quotients of units"
    return f"{units}{others}"


def _example(row: Field, fields: FieldList) -> Iterator[str]:
    """Yield the lines of an example, from the header of the table on."""
    if isinstance(row.kind, Table):
        yield _header(row.path)
        return
    table, _, _ = row.path.rpartition(".")
    form = next((each for each in fields.forms.get(table, ()) if row in each.fields), None)
    stated = [_stated(row.key, row.example)]
    if form is not None:
        stated = [*_needed_beside(row, form)]
        around, _, key = table.rpartition(".")
        in_one_line = _stated(key, f"{{ {', '.join(stated)} }}")
        if len(in_one_line) <= WIDTH - len(2 * _GAP):
            table, stated = around, [in_one_line]
    if table:
        yield _header(table)
    yield from stated


def _needed_beside(row: Field, form: Form) -> Iterator[str]:
    """Yield what a form must state, and one row of it."""
    for each in form.fields:
        if each.needed or each.key == form.key or each == row:
            yield _stated(each.key, each.example)


def _stated(key: str, value: str) -> str:
    return f"{toml_key(key)} = {value}"


def _in_short(keys: Iterable[_Key], width: int) -> Iterator[str]:
    """Yield a line for each key, under the header of its section."""
    sections: dict[str, list[_Key]] = {}
    for key in keys:
        sections.setdefault(key.heading, []).append(key)
    for heading, members in sections.items():
        yield ""
        yield from _wrapped(heading, width)
        shown = [key for key in members if not heading.startswith(f"{_header(key.path)}  ")]
        yield from _columns([(key.path, key.meaning) for key in shown], width)


def _columns(rows: Sequence[tuple[str, str]], width: int) -> Iterator[str]:
    """Yield two columns, of which the second is wrapped; too long a first one has its own line."""
    first = min(max((len(left) for left, _ in rows), default=0), _WIDEST_PATH, width // 2)
    indent = _GAP + " " * first + _GAP
    for left, right in rows:
        lines = _wrapped(right, width, indent, indent)
        if len(left) > first:
            yield f"{_GAP}{left}"
        else:
            lines[0] = f"{_GAP}{left.ljust(first)}{lines[0][len(indent) - len(_GAP) :]}"
        yield from lines


def _in_full(key: _Key, width: int) -> Iterator[str]:
    yield key.path
    yield from _wrapped(key.meaning, width, _GAP, _GAP)
    for label, words in key.facts:
        yield from _wrapped(f"{label}: {words}", width, _GAP, 2 * _GAP)
    yield f"{_GAP}example:"
    yield from (f"{2 * _GAP}{line}" for line in key.example)


def _how_to_state_a_law(width: int) -> Iterator[str]:
    yield from _wrapped(_LAWS_OPENING, width)
    yield ""
    beside = (*BESIDE_NUMBERS, *SPREADS, "coverage")
    rows = []
    for way in law_ways():
        also = [key for key in way.may if key not in (*way.needed, *beside)]
        needed = ", ".join(f"tests ({way.of})" if way.of else key for key in way.needed)
        rows.append((", ".join(way.laws), needed + (f"; also {', '.join(also)}" if also else "")))
    yield from _columns(rows, width)
    yield ""
    yield from _wrapped(
        f"{ONE_SPREAD.capitalize()}: {', '.join(SPREADS)}; coverage goes with half_width and "
        "scatter_ratio. Beside the numbers of any law: shared. Beside those that tests can stand "
        "behind: how many tests they are from (tests), or are worth (as_good_as), and test_price.",
        width,
    )


def _not_found(wanted: Sequence[str], keys: Sequence[_Key]) -> str:
    """Return what is said where no key has all the words."""
    unknown = [word for word in wanted if not any(word in key.searched for key in keys)]
    if not unknown:
        return f"no key has all of {' and '.join(map(repr, wanted))}; ask for fewer words"
    known = {word for key in keys for word in re.findall(r"[^\W\d_]{3,}", key.searched)}
    known |= {key.path.rpartition(".")[2].removesuffix("[]") for key in keys}
    said = []
    for word in unknown:
        near = get_close_matches(word, sorted(known), n=3, cutoff=0.6)
        said.append(f"no key has {word!r}" + (f"; nearest: {', '.join(near)}" if near else ""))
    return "; ".join(said) + ". All keys: preloadmc keys"


def _wrapped(text: str, width: int, first: str = "", others: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        max(width, len(others) + _NARROWEST),
        initial_indent=first,
        subsequent_indent=others,
        break_on_hyphens=False,
        break_long_words=False,
    )
