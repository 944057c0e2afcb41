"""Kinds of values that a key may have: each says what is allowed and reads what is given.

The records here are named tuples: classes are made at every start, and a dataclass takes 0.7 ms.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any, NamedTuple, Protocol

from preloadmc.case_file.problems import UNPRINTABLE, Problems, listed, nearest
from preloadmc.units import RATIO, Dimension, format_quantity, parse_quantity

# A name stands in headings, legends and columns of tables.
LONGEST_NAME = 100
# What says more than a name: a note, a source, the path of a file.
LONGEST_NOTE = 1000
# Items of a list that says no other number; a case is a page or two of text.
MOST_ITEMS = 200


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

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema; its bounds hold for bare numbers alone."""
        named = defined(self.dimension.name)
        if self.dimension.name != RATIO.name:
            return named
        bounds = {"exclusiveMinimum": self.above, "minimum": self.low, "maximum": self.high}
        return {**named, **{word: bound for word, bound in bounds.items() if bound is not None}}

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


class Word(NamedTuple):
    """One of some words."""

    words: Collection[str]

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"one of {listed(self.words)}"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        return {"enum": [*self.words]}

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

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        return _spoken(dict.fromkeys(self.words.values()), self.words)

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

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        return {"anyOf": [self.quantity.shape, {"const": self.word}]}

    def read(self, given: Any, path: str, problems: Problems) -> float | str | None:
        """Return the quantity or the word."""
        return self.word if given == self.word else self.quantity.read(given, path, problems)


class Text(NamedTuple):
    """A line of text that is not blank; where ``or_number``, a bare number is read as its text.

    ``known`` returns texts that are likely, as they are printed.
    """

    what: str
    or_number: bool = False
    longest: int = LONGEST_NAME
    known: Callable[[], Iterable[str]] = tuple

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return self.what

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        types = ["string", "number"] if self.or_number else "string"
        shape = {"type": types, "pattern": r"\S"}
        likely = [*self.known()]
        return {"anyOf": [{"enum": likely}, shape]} if likely else shape

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
    """The name of a row of a shipped table, which is looked up.

    ``known`` returns the names as they are printed; where ``in_other_words``, more than letter case
    and blanks may differ from them.
    """

    what: str
    look_up: Callable[[str], object]
    known: Callable[[], Iterable[str]]
    in_other_words: bool = False

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return self.what

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        if self.in_other_words:
            return Text(self.what, known=self.known).shape
        names = [*self.known()]
        return _spoken(names, names)

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

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high}

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


def _spoken(printed: Iterable[str], read: Iterable[str]) -> Shape:
    """Return words as they are printed, or as they are read in any letter case and with blanks."""
    spelled = "|".join(_in_any_case(word) for word in read)
    return {
        "anyOf": [{"enum": [*printed]}, {"type": "string", "pattern": rf"^\s*(?:{spelled})\s*$"}]
    }


def _in_any_case(word: str) -> str:
    """Return a word as a regular expression; those of JSON Schema know no letter case."""
    return "".join(
        f"[{mark.upper()}{mark.lower()}]"
        if mark.upper() != mark.lower()
        else {" ": r"\s+"}.get(mark, f"\\{mark}" if mark in r".^$*+?()[]{}|\/" else mark)
        for mark in word
    )
