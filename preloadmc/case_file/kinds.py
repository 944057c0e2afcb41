"""Kinds of values that a key may have: each says what is allowed and reads what is given.

The records here are named tuples: classes are made at every start, and a dataclass takes 0.7 ms.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Collection, Mapping
from typing import Any, NamedTuple, Protocol

from preloadmc.case_file.problems import UNPRINTABLE, Problems, listed, nearest
from preloadmc.units import Dimension, format_quantity, parse_quantity

# A name stands in headings, legends and columns of tables.
LONGEST_NAME = 100
# What says more than a name: a note, a source, the path of a file.
LONGEST_NOTE = 1000
# Items of a list that says no other number; a case is a page or two of text.
MOST_ITEMS = 200


class Kind(Protocol):
    """What a key's value may be."""

    @property
    def allowed(self) -> str:
        """What is allowed, as a noun with its article."""

    def read(self, given: Any, path: str, problems: Problems) -> object:
        """Return the value in internal units, or None with the problem noted."""


class Quantity(NamedTuple):
    """A quantity within bounds: ``low`` and ``high`` are allowed themselves, ``above`` is not."""

    dimension: Dimension
    low: float | None = None
    high: float | None = None
    above: float | None = None

    @property
    def allowed(self) -> str:
        """What is allowed."""
        bounds = (self._words(word, bound) for word, bound, _ in self._bounds if bound is not None)
        return f"{self.dimension.with_article} {', '.join(bounds)}".rstrip()

    def read(self, given: Any, path: str, problems: Problems) -> float | None:
        """Return the quantity in N, mm, MPa, K, rad, s."""
        try:
            number = parse_quantity(given, self.dimension)
        except ValueError as error:
            problems.add(path, given, str(error))
            return None
        for word, bound, holds in self._bounds:
            if bound is not None and not holds(number, bound):
                words = f"{self.dimension.with_article} {self._words(word, bound)}"
                problems.add(path, given, words)
                return None
        return number

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


class Word(NamedTuple):
    """One of some words."""

    words: Collection[str]

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"one of {listed(self.words)}"

    def read(self, given: Any, path: str, problems: Problems) -> str | None:
        """Return the word."""
        word = str(given)
        if word not in self.words:
            problems.add(path, given, f"{self.allowed}{nearest(word, self.words)}")
            return None
        return word


class SpokenWord(NamedTuple):
    """One of some words in any letter case, or another word for it.

    ``words`` are those that are read, each with what it stands for.
    """

    words: Mapping[str, str]

    @classmethod
    def of(cls, words: Collection[str], **others: str) -> SpokenWord:
        """Return the kind of these words and of ``others``, each with what it stands for."""
        return cls({**{word: word for word in words}, **others})

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"one of {listed(dict.fromkeys(self.words.values()))}"

    def read(self, given: Any, path: str, problems: Problems) -> str | None:
        """Return what the word stands for."""
        word = " ".join(str(given).casefold().split())
        if word not in self.words:
            problems.add(path, given, f"{self.allowed}{nearest(word, self.words.values())}")
            return None
        return self.words[word]


class QuantityOrWord(NamedTuple):
    """A quantity, or a word in its place."""

    quantity: Quantity
    word: str

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"{self.quantity.allowed}, or '{self.word}'"

    def read(self, given: Any, path: str, problems: Problems) -> float | str | None:
        """Return the quantity or the word."""
        return self.word if given == self.word else self.quantity.read(given, path, problems)


class Text(NamedTuple):
    """A line of text that is not blank; where ``or_number``, a bare number is read as its text."""

    what: str
    or_number: bool = False
    longest: int = LONGEST_NAME

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return self.what

    def read(self, given: Any, path: str, problems: Problems) -> str | None:
        """Return the text without blanks about it."""
        if self.or_number and isinstance(given, int | float) and not isinstance(given, bool):
            return str(given)
        if not isinstance(given, str) or not given.strip():
            problems.add(path, given, f"{self.what}, as text")
            return None
        text = given.strip()
        if len(text) > self.longest:
            problems.add(path, given, f"{self.what}, at most {self.longest:,} characters long")
            return None
        if UNPRINTABLE.search(text):
            problems.add(path, given, f"{self.what}, in one line and without control characters")
            return None
        return text


class Named(NamedTuple):
    """The name of a row of a shipped table, which is looked up."""

    what: str
    look_up: Callable[[str], object]

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return self.what

    def read(self, given: Any, path: str, problems: Problems) -> object:
        """Return the row of the table."""
        name = Text(self.what).read(given, path, problems)
        if name is None:
            return None
        try:
            return self.look_up(name)
        except ValueError as error:
            problems.add(path, given, str(error))
            return None


class Whole(NamedTuple):
    """A whole number within bounds."""

    low: int
    high: int

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"a whole number from {self.low} to {self.high}"

    def read(self, given: Any, path: str, problems: Problems) -> int | None:
        """Return the number."""
        if (
            isinstance(given, int)
            and not isinstance(given, bool)
            and self.low <= given <= self.high
        ):
            return given
        problems.add(path, given, self.allowed)
        return None


class Flag:
    """True or false."""

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return "true or false"

    def read(self, given: Any, path: str, problems: Problems) -> bool | None:
        """Return the flag."""
        if isinstance(given, bool):
            return given
        problems.add(path, given, self.allowed)
        return None


class Table(NamedTuple):
    """A table whose keys are rows of their own.

    ``changes_case``: every other key of it is a section of the case, which it changes. Where it is
    one of a list, that has at most ``most`` of them.
    """

    changes_case: bool = False
    most: int = MOST_ITEMS

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return "a table of keys"

    def read(self, given: Any, path: str, problems: Problems) -> Mapping[str, Any] | None:
        """Return the table."""
        if isinstance(given, Mapping):
            return given
        problems.add(path, given, self.allowed)
        return None
