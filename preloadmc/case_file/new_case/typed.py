"""Answers as people type them: decimal commas, several in one line, words cut short, laws."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Iterator
from typing import Any

from preloadmc.case_file.new_case.answers import NONE
from preloadmc.case_file.problems import UNPRINTABLE, listed, nearest
from preloadmc.case_file.typed_spreads import law_in_text
from preloadmc.mechanics.names import folded
from preloadmc.told import percent
from preloadmc.typed_numbers import doubt_in_number, split_quantity, with_decimal_point
from preloadmc.units import Dimension, parse_quantity

_NUMBER = re.compile(r"(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?")
_NOTHING = ("", "-", "0", "no", NONE)


def printable(text: str) -> str:
    """Return a text without blanks about it.

    Raises
    ------
    ValueError
        If it holds what no file or line can: control characters, broken UTF-8.
    """
    try:
        text.encode()
    except UnicodeEncodeError:
        raise ValueError("text in UTF-8") from None
    if UNPRINTABLE.search(text.strip()):
        raise ValueError("printable characters, in one line")
    return text.strip()


def with_points(text: str) -> str:
    """Return a text with points in place of decimal commas.

    Raises
    ------
    ValueError
        Where a comma may also group thousands.

    Examples
    --------
    >>> with_points("15,33 mm"), with_points("0,125 in")
    ('15.33 mm', '0.125 in')
    """
    if doubt := doubt_in_number(text):
        raise ValueError(f"a number without doubt, {doubt}")
    return with_decimal_point(text)


def pieces(text: str) -> list[str]:
    """Return the answers of one line: between commas or semicolons, but for decimal commas.

    Examples
    --------
    >>> pieces("steel, 15,5 mm; 34 mm")
    ['steel', '15,5 mm', '34 mm']
    >>> pieces('{ law = "normal", cov = "3 %" }')
    ['{ law = "normal", cov = "3 %" }']
    """
    return [piece.strip() for piece in _cut(text)]


def _cut(text: str) -> Iterator[str]:
    depth, quoted, start = 0, False, 0
    for place, mark in enumerate(text):
        quoted ^= mark == '"'
        if quoted:
            continue
        depth += (mark in "{[") - (mark in "}]")
        decimal = text[place - 1 : place].isdigit() and text[place + 1 : place + 2].isdigit()
        if depth == 0 and (mark == ";" or (mark == "," and not decimal)):
            yield text[start:place]
            start = place + 1
    yield text[start:]


def is_table(text: str) -> bool:
    """Return whether a text is a table as in a case file, such as a law, with or without braces."""
    return text.startswith("{") or "=" in text


def is_number(text: str) -> bool:
    """Return whether a text begins as a number does, so that it is a quantity and no word."""
    return re.match(r"[+-]?\.?\d", text) is not None


def table_of(text: str) -> tuple[str, dict[str, Any]]:
    """Return a table in braces, as text and as its keys.

    Raises
    ------
    ValueError
        If it is none.

    Examples
    --------
    >>> table_of('law = "normal", cov = "3 %"')
    ('{ law = "normal", cov = "3 %" }', {'law': 'normal', 'cov': '3 %'})
    """
    braced = text if text.startswith("{") else f"{{ {text} }}"
    try:
        found = tomllib.loads(f"table = {braced}")
    except (ValueError, RecursionError) as error:
        raise ValueError(
            'a law as in a case file, such as { law = "lognormal", mean = 0.13, cov = "12 %" }: '
            f"{error}"
        ) from None
    table = found["table"]
    assert isinstance(table, dict), "braces hold a table"
    return braced, table


def toml(text: str) -> str:
    """Return an answer as a value of a case file: a law or a bare number as it is, else quoted.

    Examples
    --------
    >>> toml("48 N·m"), toml("0.12"), toml('{ law = "normal", cov = "3 %" }')
    ('"48 N·m"', '0.12', '{ law = "normal", cov = "3 %" }')
    """
    if text.startswith("{") or _NUMBER.fullmatch(text):
        return text
    return quoted(text)


def quoted(text: str) -> str:
    """Return a text in quotes."""
    return json.dumps(text, ensure_ascii=False)


def quantity(text: str, dimension: Dimension) -> str:
    """Return a quantity, or a law of one, as the case file takes it.

    Raises
    ------
    ValueError
        If it is neither, in the words of the reader of case files.
    """
    if is_table(text):
        return table_of(text)[0]
    if spread := law_in_text(text):
        raise ValueError(f"one number, or a law: {spread}")
    text = with_points(text)
    parse_quantity(text, dimension)
    return text


def quantity_or_none(text: str, dimension: Dimension) -> str:
    """Return a quantity, or "none" where the joint has none."""
    return NONE if folded(text) in _NOTHING else quantity(text, dimension)


def share_words(text: str) -> str:
    """Return a share with its percent sign, where it is typed as a bare number.

    Examples
    --------
    >>> share_words("0.1"), share_words("0.1 %"), share_words("1/1000")
    ('10 %', '0.1 %', '0.1 %')
    """
    number, unit = split_quantity(text) or (0.0, "none")
    return text if unit else percent(number)


def word(text: str, words: Iterable[str], others: str = "") -> str:
    """Return one of some words: in any letter case, or its beginning, if no other begins so.

    ``others`` says what else may be answered, for the message.

    Raises
    ------
    ValueError
        With all of them and the nearest.

    Examples
    --------
    >>> word("Hex", ("hexagon", "socket"))
    'hexagon'
    """
    known = [*words]
    given = folded(text.replace("µ", "u").replace("μ", "u"))
    if given in known:
        return given
    begun = [each for each in known if given and each.startswith(given)]
    if len(begun) == 1:
        return begun[0]
    raise ValueError(f"{others}one of {listed(known)}{nearest(given, begun or known)}")
