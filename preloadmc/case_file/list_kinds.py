"""Kinds of values that are lists: of numbers, of points, rows of a matrix, an order."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

from preloadmc.case_file.kinds import MOST_ITEMS, Quantity, Shape, Whole
from preloadmc.case_file.problems import Problems, nearest
from preloadmc.case_file.word_kinds import Word
from preloadmc.units import RATIO

T = TypeVar("T")

# Numbers of a list that a message repeats in other words.
_SHOWN = 4


class Row(NamedTuple):
    """A list of quantities or whole numbers: ``length`` of them, or any number where None."""

    item: Quantity | Whole
    length: int | None = None

    @property
    def allowed(self) -> str:
        """What is allowed."""
        count = "" if self.length is None else f"{self.length} of them, "
        return f"a list, {count}each {self.item.allowed}"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        found = {"type": "array", "items": self.item.shape, "minItems": 1}
        if self.length is not None:
            found |= {"minItems": self.length, "maxItems": self.length}
        return found

    def read(self, given: Any, path: str, problems: Problems) -> tuple[float, ...] | None:
        """Return the numbers in N, mm, MPa, K, rad."""
        right = isinstance(given, list) and 0 < len(given) <= MOST_ITEMS
        if not right or (self.length is not None and len(given) != self.length):
            brackets = "" if self.length else _in_brackets(given)
            problems.add(path, given, f"{self.allowed}{brackets}")
            return None
        if unit := self.unit_left_out(given):
            each = ", ".join(f'"{number} {unit}"' for number in given[:2])
            problems.add(path, given, f"{self.allowed}, with its unit, such as [{each}]")
            return None
        if meant := self._meant(given):
            problems.add(path, given, f"{self.allowed}; is {meant} meant?")
            return None
        return _each(self.item.read, given, path, problems)

    def _meant(self, given: list[Any]) -> str:
        """Return what was likely meant by shares typed in per cent; empty for others."""
        if not isinstance(self.item, Quantity) or self.item.dimension is not RATIO:
            return ""
        numbers = [each for each in given if isinstance(each, int | float)]
        if len(numbers) < len(given) or not 1.0 < max(numbers) <= 100.0:
            return ""
        # A share is at most all: what is above that is per cent, and so are those beside it.
        shown = [f"{number / 100:g}" for number in numbers[:_SHOWN]]
        return f"[{', '.join(shown)}{', ...' if len(numbers) > _SHOWN else ''}]"

    def unit_left_out(self, given: Any) -> str:
        """Return the unit that each of a list of bare numbers needs; empty where none does."""
        if not isinstance(self.item, Quantity) or not isinstance(given, list):
            return ""
        bare = all(isinstance(each, int | float) for each in given)
        return self.item.dimension.metric if bare else ""


def _each(
    read: Callable[[Any, str, Problems], T | None], given: list[Any], path: str, problems: Problems
) -> tuple[T, ...] | None:
    """Read each item of a list; None with the first of its problems noted."""
    own = Problems()
    found = [read(each, f"{path}[{place}]", own) for place, each in enumerate(given, 1)]
    problems.take_first(own)
    known = tuple(each for each in found if each is not None)
    return known if len(known) == len(found) else None


def _in_brackets(given: Any) -> str:
    """Return how what is typed without the brackets of a list is written; empty for a list."""
    if isinstance(given, str):
        parts = (f'"{part.strip()}"' for part in re.split(r",\s+|;", given))
        return f", in brackets: [{', '.join(parts)}]"
    return f", in brackets: [{given}]" if isinstance(given, int | float) else ""


class Rows(NamedTuple):
    """A list of lists of quantities, all of one length."""

    row: Row

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"a list of rows, each {self.row.allowed}"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        return {"type": "array", "items": self.row.shape, "minItems": 1}

    def read(
        self, given: Any, path: str, problems: Problems
    ) -> tuple[tuple[float, ...], ...] | None:
        """Return the rows in N, mm, MPa, K, rad."""
        if not isinstance(given, list) or not 0 < len(given) <= MOST_ITEMS:
            problems.add(path, given, self.allowed)
            return None
        if self.row.unit_left_out(given[0]):
            self.row.read(given[0], f"{path}[1]", problems)  # the others want the same
            return None
        known = _each(self.row.read, given, path, problems)
        if known is not None and len({len(each) for each in known}) > 1:
            problems.add(path, given, f"{self.allowed}, all of one length")
            return None
        return known


class OrderOrWord(NamedTuple):
    """An order of tightening by its name, or the numbers of the fasteners; a list of some at once.

    What is typed is read with fasteners counting from 0.
    """

    word: Word

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return (
            f"{self.word.allowed}, or the numbers of all fasteners in their order, from 1, such as "
            "[1, 5, 3, 7], with those tightened at once in a list of their own: [[1, 5], [3, 7]]"
        )

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        number = {"type": "integer", "minimum": 1}
        step = {"anyOf": [number, {"type": "array", "items": number}]}
        return {"anyOf": [self.word.shape, {"type": "array", "items": step, "minItems": 1}]}

    def read(
        self, given: Any, path: str, problems: Problems
    ) -> str | tuple[tuple[int, ...], ...] | None:
        """Return the name, or the fasteners of each step."""
        if isinstance(given, str):
            word = self.word.find(given)
            if word is None:
                problems.add(path, given, self._refusal(given))
            return word
        if not isinstance(given, list) or not 0 < len(given) <= MOST_ITEMS:
            problems.add(path, given, self.allowed)
            return None
        steps = [each if isinstance(each, list) else [each] for each in given]
        numbers = [number for step in steps for number in step]
        if not all(isinstance(n, int) and not isinstance(n, bool) and n > 0 for n in numbers):
            problems.add(path, given, "whole numbers from 1, without quotes, such as [1, 5, 3, 7]")
            return None
        return tuple(tuple(number - 1 for number in step) for step in steps if step)

    def _refusal(self, given: str) -> str:
        """Return what is said of a text that is no order."""
        numbers = re.findall(r"\d+", given)
        if len(numbers) > 1:
            return f"the numbers of the fasteners as a list: [{', '.join(numbers)}]"
        return (
            f"{self.word.allowed}{nearest(given, self.word.words)}; or the numbers of all "
            "fasteners in their order, such as [1, 5, 3, 7]"
        )
