"""Rows of the shipped tables by name, or by a word that they have: materials and frictions."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from preloadmc.case_file.new_case.typed import is_number, is_table, table_of, toml, with_points
from preloadmc.case_file.toml_text import inline_toml, toml_key
from preloadmc.case_file.typed_spreads import ends_of
from preloadmc.mechanics.friction_table import (
    friction_class,
    known_friction_classes,
    known_nut_factors,
    nut_factor_range,
)
from preloadmc.mechanics.materials import known_materials, material
from preloadmc.mechanics.names import folded, unknown_name
from preloadmc.units import RATIO, parse_quantity

# Other words for what the tables name.
_ALSO = {"mos2": "molybdenum disulphide", "moly": "molybdenum disulphide", "aluminum": "aluminium"}
# For nut factors that a source gives as one value: NSTS 08307 gives the preload by torque on plated
# fasteners +-30 %, read here as 2 s.d.
_COV = "15 %"
# For the class without an upper end: about as wide as the classes below it.
_OPEN_WIDTH = 0.1


class Friction(NamedTuple):
    """Keys of [friction] with their values in TOML, and the comments that belong to them.

    ``law`` says a row of the tables in words, ``surfaces`` what else the row says, and its source.
    """

    keys: Mapping[str, str]
    comments: tuple[str, ...]
    law: str = ""
    surfaces: str = ""


def material_name(text: str) -> str:
    """Return the name of a material: as the table has it, or the only one with all of the words.

    Raises
    ------
    ValueError
        With the names that have the words, or the nearest.
    """
    try:
        return material(text).name
    except ValueError as error:
        found = _having(text, {name: name for name in known_materials()})
        if len(found) == 1:
            return found[0]
        if found:
            raise ValueError(f"several materials have '{text}': {', '.join(found)}") from None
        if "nearest" in str(error):
            raise
        raise ValueError(f"{_first_words(error)}; known: {', '.join(known_materials())}") from None


def is_unknown_material(text: str) -> bool:
    """Return whether no row is a material of this name or of these words."""
    try:
        material_name(text)
    except ValueError:
        return True
    return False


def friction_answer(text: str) -> str:
    """Return an answer about friction: a row's name, a number, or a table of the case file.

    Raises
    ------
    ValueError
        With the rows that have the word, their laws and sources.
    """
    factor = re.fullmatch(r"(?:k|nut factor)[ =]+([.\d].*)", text, re.IGNORECASE)
    if factor:
        number = with_points(factor[1])
        parse_quantity(number, RATIO)
        return f"{{ nut_factor = {toml(number)} }}"
    if is_table(text):
        return table_of(text)[0]
    if ends := ends_of(text):
        return table_of(f'law = "uniform", low = {ends[0]}, high = {ends[1]}')[0]
    name = " ".join(_ALSO.get(each, each) for each in folded(text).split())
    for row in (*known_nut_factors(), *known_friction_classes()):
        if name == row.casefold():
            return row
    if is_number(text):
        number = with_points(text)
        parse_quantity(number, RATIO)
        return number
    return _friction_row(text)


def friction_of(answer: str) -> Friction:
    """Return what an answer puts under [friction]."""
    if answer.startswith("{"):
        return _of_table(*table_of(answer))
    if answer in known_friction_classes():
        return _of_class(answer)
    if answer in known_nut_factors():
        return _of_nut_factor(answer)
    note = "One value without scatter: friction decides most results, so state a law from tests."
    return Friction({"thread": answer, "bearing": answer}, (note,))


def friction_words(answer: str) -> str:
    """Return an answer with the law of its row, if it names one."""
    law = friction_of(answer).law
    return f"{answer}: {law}" if law else answer


def _row_words(row: str) -> str:
    """Return a row with its law, its surfaces and its source."""
    return f"{friction_words(row)}; {friction_of(row).surfaces}"


def _friction_row(text: str) -> str:
    """Return the only row with all of the words."""
    rows = [*known_friction_classes(), *known_nut_factors()]
    found = _having(text, {row: _row_words(row) for row in rows})
    if len(found) == 1:
        return found[0]
    if found:
        lines = "".join(f"\n{_row_words(row)}" for row in found)
        raise ValueError(f"one of the rows with '{text}', by what stands before its colon:{lines}")
    near = str(unknown_name("lubricant or surface", text, known_nut_factors()))
    near = near.partition("; nearest: ")[2]
    raise ValueError(
        f"a word of the tables (preloadmc tables friction), a class A to E, a number, or a law; no "
        f"row has '{text}'" + (f"; nearest: {near}" if near else "")
    )


def _of_table(text: str, table: Mapping[str, object]) -> Friction:
    if table.get("law") == "constant":
        return Friction({"thread": text, "bearing": text}, ())
    if "law" in table:
        keys = {"thread": text, "bearing": text, "correlation": "0.5"}
        return Friction(keys, (_CORRELATED,))
    return Friction({toml_key(key): inline_toml(value) for key, value in table.items()}, ())


_CORRELATED = (
    "The correlation is that of one lubricant on both surfaces; no published value: try 0 as well."
)


def _of_class(letter: str) -> Friction:
    row = friction_class(letter)
    high = row.high if row.high is not None else row.low + _OPEN_WIDTH
    law = f'{{ law = "uniform", low = {row.low}, high = {high:g} }}'
    comments = [
        f"Friction class {row.name} of {row.source}: {row.surfaces}.",
        "Its range is read as bounds. Replace it by torque-tension tests on the real joint where "
        "failure could hurt someone: friction decides most results.",
    ]
    if row.high is None:
        comments.append(f"The class has no upper end; {high:g} is yours.")
    upper = f"{row.high:.2f}" if row.high is not None else f"{high:g} (no upper end)"
    words = f"{row.low:.2f} to {upper}, uniform"
    keys = {"thread": law, "bearing": law, "correlation": "0.5"}
    return Friction(keys, (*comments, _CORRELATED), words, f"{row.surfaces} ({row.source})")


def _of_nut_factor(name: str) -> Friction:
    row = nut_factor_range(name)
    span = f"{row.low:g} to {row.high:g}"
    if row.low == row.high:
        law = f'{{ law = "lognormal", mean = {row.low:g}, cov = "{_COV}" }}'
        words = f"{row.low:g}, lognormal with a cov of {_COV}"
        note = f"The source gives one value; the cov of {_COV} is an assumption of yours."
    elif row.mean is None:
        law = f'{{ law = "uniform", low = {row.low:g}, high = {row.high:g} }}'
        words = f"{span}, uniform"
        note = "Its range is read as bounds."
    else:
        mode = 3.0 * row.mean - row.low - row.high  # the mean of a triangular law
        law = f'{{ law = "triangular", low = {row.low:g}, mode = {mode:.3g}, high = {row.high:g} }}'
        words = f"{span}, triangular with mean {row.mean:g}"
        note = f"Range and mean {row.mean:g} are the source's; the triangular law is yours."
    comments = (
        f"Nut factor of '{row.surface}': {row.source}.",
        f"{note} Replace it by torque-tension tests on the real joint where failure could hurt "
        "someone: friction decides most results.",
    )
    return Friction({"nut_factor": law}, comments, f"nut factor {words}", row.source)


def _having(text: str, rows: Mapping[str, str]) -> list[str]:
    """Return the names of the rows whose text has all of the words; one letter is no word."""
    words = [word for word in folded(text).replace("-", " ").split() if len(word) > 1]
    return [name for name, row in rows.items() if words and _has_all(row, words)]


def _has_all(row: str, words: Iterable[str]) -> bool:
    plain = folded(row).replace("-", " ")
    return all(word in plain or _ALSO.get(word, word) in plain for word in words)


def _first_words(error: ValueError) -> str:
    return str(error).partition(";")[0]
