"""Kinds of values that a key may have: each says what is allowed and reads what is given.

The records here are named tuples: classes are made at every start, and a dataclass takes 0.7 ms.
"""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Collection, Mapping
from typing import Any, NamedTuple, Protocol

from preloadmc.case_file.problems import (
    Problems,
)
from preloadmc.case_file.typed_spreads import one_number_of, without_sign
from preloadmc.typed_numbers import number_pattern, split_quantity
from preloadmc.units import RATIO, Dimension, format_quantity, parse_quantity

# Signs, and common codes of ISO 4217.
_CURRENCY = (
    "[€$£¥]|EUR|USD|GBP|CHF|JPY|CNY|INR|CAD|AUD|SEK|NOK|DKK|PLN|CZK|HUF|BRL|KRW|euros?|dollars?"
)
_AMOUNT = re.compile(
    rf"\s*(?P<before>{_CURRENCY})?\s*(?P<number>\d[\d_]*(?:[.,]\d+)?)(?:,-)?"
    rf"\s*(?P<after>{_CURRENCY})?\s*"
)
_CHANCE = re.compile(r"\s*(\d+)\s+(?:in|of|out of|per)\s+(\d+)\s*")
# Items of a list that says no other number; a case is a page or two of text.
MOST_ITEMS = 200


# Behind the name of a dimension where ± may stand before the quantity.
HALF_WIDTH = " or half width"

# What is allowed, as a JSON Schema.
Shape = dict[str, Any]


class Value(Protocol):
    """What a value may be."""

    @property
    def allowed(self) -> str:
        """What is allowed, as a noun with its article."""

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema: all that is read validates.

        Definitions are named as `schema.case_schema` names them.
        """


class Kind(Value, Protocol):
    """What a key's value may be."""

    def read(self, given: Any, path: str, problems: Problems) -> object:
        """Return the value in internal units, or None with the problem noted."""


class Quantity(NamedTuple):
    """A quantity within bounds: ``low`` and ``high`` are allowed themselves, ``above`` is not.

    Before one that goes ``both_ways``, as a half width does, may stand ±.
    """

    dimension: Dimension
    low: float | None = None
    high: float | None = None
    above: float | None = None
    both_ways: bool = False

    @property
    def allowed(self) -> str:
        """What is allowed."""
        bounds = (self._words(word, bound) for word, bound, _ in self._bounds if bound is not None)
        return f"{self.dimension.with_article} {', '.join(bounds)}".rstrip()

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema; its bounds hold for bare numbers alone."""
        named = defined(self.dimension.name + (HALF_WIDTH if self.both_ways else ""))
        if self.dimension.name != RATIO.name:
            return named
        bounds = {"exclusiveMinimum": self.above, "minimum": self.low, "maximum": self.high}
        return {**named, **{word: bound for word, bound in bounds.items() if bound is not None}}

    def read(self, given: Any, path: str, problems: Problems) -> float | None:
        """Return the quantity in N, mm, MPa, K, rad, s."""
        text = without_sign(given) if self.both_ways else given
        if words := one_number_of(text) or self._meant_by_words(text):
            problems.add(path, given, words)
            return None
        try:
            number = parse_quantity(text, self.dimension)
        except ValueError as error:
            problems.add(path, given, str(error))
            return None
        for word, bound, holds in self._bounds:
            if bound is not None and not holds(number, bound):
                words = f"{self.dimension.with_article} {self._words(word, bound)}"
                problems.add(path, given, f"{words}{self._meant(text, number)}")
                return None
        return number

    def _meant_by_words(self, text: object) -> str:
        """Return how an amount of money or a chance in words is to be written; empty for others."""
        if self.dimension is not RATIO or not isinstance(text, str):
            return ""
        if amount := _AMOUNT.fullmatch(text):
            currency = amount["before"] or amount["after"]
            if currency:
                alone = amount["number"].replace(",", ".")
                return f'{alone} alone, with currency = "{currency}" once in [cost]'
        if chance := _CHANCE.fullmatch(text):
            return f"'{chance[1]}/{chance[2]}', for {chance[1]} in {chance[2]}"
        return ""

    def _meant(self, text: object, number: float) -> str:
        """Return what was likely meant by a ratio out of bounds: its percent sign is forgotten."""
        if self.dimension is not RATIO or (isinstance(text, str) and text.rstrip().endswith("%")):
            return ""
        within = all(
            bound is None or holds(number / 100, bound) for _, bound, holds in self._bounds
        )
        return f"; is {number:g} % meant?" if within and number > 1.0 else ""

    @property
    def _bounds(self) -> tuple[tuple[str, float | None, Callable[[float, float], bool]], ...]:
        return (
            ("above", self.above, operator.gt),
            ("at least", self.low, operator.ge),
            ("at most", self.high, operator.le),
        )

    def _words(self, word: str, bound: float) -> str:
        return f"{word} {format_quantity(bound, self.dimension) if bound else 0}"


class Band(NamedTuple):
    """Two quantities, the lower one first."""

    quantity: Quantity

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"a list of two, the lower one first, each {self.quantity.allowed}"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        return {"type": "array", "items": self.quantity.shape, "minItems": 2, "maxItems": 2}

    def read(self, given: Any, path: str, problems: Problems) -> tuple[float, float] | None:
        """Return both quantities in N, mm, MPa, K, rad, s."""
        if not isinstance(given, list) or len(given) != 2:
            problems.add(path, given, self.allowed)
            return None
        low, high = (
            self.quantity.read(each, f"{path}[{place}]", problems)
            for place, each in enumerate(given, 1)
        )
        if low is None or high is None:
            return None
        if not low < high:
            problems.add(path, given, self.allowed)
            return None
        return low, high


class QuantityOrWord(NamedTuple):
    """A quantity, or a word in its place."""

    quantity: Quantity
    word: str

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"{self.quantity.allowed}, or '{self.word}'"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        return {"anyOf": [self.quantity.shape, {"const": self.word}]}

    def read(self, given: Any, path: str, problems: Problems) -> float | str | None:
        """Return the quantity or the word."""
        return self.word if given == self.word else self.quantity.read(given, path, problems)


class Whole(NamedTuple):
    """A whole number within bounds."""

    low: int
    high: int

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"a whole number from {self.low} to {self.high}"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema; its bounds hold for bare numbers alone."""
        return {"anyOf": [self.bare_shape, {"type": "string", "pattern": number_pattern()}]}

    @property
    def bare_shape(self) -> Shape:
        """What is allowed where no text is, as a JSON Schema."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high}

    def read(self, given: Any, path: str, problems: Problems) -> int | None:
        """Return the number, also where it is typed as 1e6 or as text."""
        number = given
        if isinstance(given, str):
            split = split_quantity(given)
            number = split[0] if split is not None and not split[1] else None
        if isinstance(number, float) and number.is_integer():
            number = int(number)
        if (
            isinstance(number, int)
            and not isinstance(number, bool)
            and self.low <= number <= self.high
        ):
            return number
        problems.add(path, given, self.allowed)
        return None


class Flag:
    """True or false."""

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return "true or false"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        return {"type": "boolean"}

    def read(self, given: Any, path: str, problems: Problems) -> bool | None:
        """Return the flag."""
        if isinstance(given, bool):
            return given
        problems.add(path, given, self.allowed)
        return None


class Table(NamedTuple):
    """A table whose keys are rows of their own.

    ``changes_case``: every other key of it is a section of the case, which it changes, apart from
    those that it ``keeps``. Where it is one of a list, that has at most ``most`` of them.
    """

    changes_case: bool = False
    most: int = MOST_ITEMS
    keeps: Collection[str] = ()

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return "a table of keys"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema, without its keys."""
        return {"type": "object"}

    def read(self, given: Any, path: str, problems: Problems) -> Mapping[str, Any] | None:
        """Return the table."""
        if isinstance(given, Mapping):
            return given
        problems.add(path, given, self.allowed)
        return None


def defined(name: str) -> Shape:
    """Return what stands for a definition of the schema, by its name without blanks."""
    return {"$ref": f"#/$defs/{name.replace(' ', '-')}"}
