"""The headings of columns: a name, and the unit of the numbers below it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from preloadmc.unit_words import unit_factor

# What a header writes where a column has no unit.
_NO_UNIT = ("", "-", "–", "1")
_IN_SQUARE = re.compile(r"(.*?)\s*\[([^\[\]]*)\]")
_IN_ROUND = re.compile(r"(.*?)\s*\(([^()]*)\)")
_AFTER_SLASH = re.compile(r"(.*\S)\s*/\s*([^/\s]\S*(?:/\S+)?)")


@dataclass(frozen=True, slots=True)
class Heading:
    """A column's name and the unit of its numbers: None where the header states none."""

    name: str
    unit: str | None
    whole: str


def heading_of(cell: str) -> Heading:
    """Return name and unit of a column, as its header states them.

    What stands in round brackets or after a slash is a unit only where it can be read as one.

    Examples
    --------
    >>> [heading_of(cell).unit for cell in ("torque [N·m]", "torque / N·m", "friction (thread)")]
    ['N·m', 'N·m', None]
    """
    square = _IN_SQUARE.fullmatch(cell)
    if square is not None and square[1]:
        return Heading(square[1], _unit(square[2]), cell)
    for form in (_IN_ROUND, _AFTER_SLASH):
        match = form.fullmatch(cell)
        if match is not None and match[1] and is_unit(match[2].strip()):
            return Heading(match[1], _unit(match[2]), cell)
    return Heading(cell, None, cell)


def _unit(written: str) -> str:
    return "" if written.strip() in _NO_UNIT else written.strip()


def is_unit(words: str) -> bool:
    """Return whether words are a unit, or say that there is none."""
    if words in _NO_UNIT:
        return True
    try:
        unit_factor(words)
    except ValueError:
        return False
    return True


def folded(words: str) -> str:
    """Return words without what a reader passes over: letter case, underscores, double blanks."""
    return " ".join(words.casefold().replace("_", " ").split())
