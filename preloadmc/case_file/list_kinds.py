"""Kinds of values that are lists: of quantities, of points, rows of a matrix, an order."""

from __future__ import annotations

from typing import Any, NamedTuple

from preloadmc.case_file.kinds import MOST_ITEMS, Quantity, Shape, Whole, Word
from preloadmc.case_file.problems import Problems


class Row(NamedTuple):
    """A list of numbers of one kind: ``length`` of them, or any number where None."""

    each: Quantity | Whole
    length: int | None = None

    @property
    def allowed(self) -> str:
        """What is allowed."""
        count = "" if self.length is None else f"{self.length} of them, "
        return f"a list, {count}each {self.each.allowed}"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        found = {"type": "array", "items": self.each.shape, "minItems": 1}
        if self.length is not None:
            found |= {"minItems": self.length, "maxItems": self.length}
        return found

    def read(self, given: Any, path: str, problems: Problems) -> tuple[float, ...] | None:
        """Return the numbers in N, mm, MPa, K, rad."""
        right = isinstance(given, list) and 0 < len(given) <= MOST_ITEMS
        if not right or (self.length is not None and len(given) != self.length):
            problems.add(path, given, self.allowed)
            return None
        found = [
            self.each.read(each, f"{path}[{place}]", problems)
            for place, each in enumerate(given, 1)
        ]
        known = tuple(each for each in found if each is not None)
        return known if len(known) == len(found) else None


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
        found = [
            self.row.read(each, f"{path}[{place}]", problems) for place, each in enumerate(given, 1)
        ]
        known = tuple(each for each in found if each is not None)
        if len(known) != len(found):
            return None
        if len({len(each) for each in known}) > 1:
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
            if given in self.word.words:
                return given
            problems.add(path, given, self.allowed)
            return None
        if not isinstance(given, list) or not 0 < len(given) <= MOST_ITEMS:
            problems.add(path, given, self.allowed)
            return None
        steps = [each if isinstance(each, list) else [each] for each in given]
        numbers = [number for step in steps for number in step]
        if not all(isinstance(n, int) and not isinstance(n, bool) and n > 0 for n in numbers):
            problems.add(path, given, self.allowed)
            return None
        return tuple(tuple(number - 1 for number in step) for step in steps if step)
