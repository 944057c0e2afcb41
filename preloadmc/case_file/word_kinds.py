"""Kinds of values that are text: one of some words, a line, the name of a row of a table."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from preloadmc.case_file.kinds import Shape
from preloadmc.case_file.problems import (
    FEW_WORDS,
    UNPRINTABLE,
    Problems,
    listed,
    nearest,
    nearest_words,
)

# A name stands in headings, legends and columns of tables.
LONGEST_NAME = 100
# What says more than a name: a note, a source, the path of a file.
LONGEST_NOTE = 1000


class Word(NamedTuple):
    """One of some words, in any letter case and with or without blanks and hyphens.

    ``others`` are other words for them, each with what it stands for.
    """

    words: Collection[str]
    others: Mapping[str, str] = MappingProxyType({})

    @property
    def allowed(self) -> str:
        """What is allowed."""
        return f"one of {listed(self.words)}"

    @property
    def shape(self) -> Shape:
        """What is allowed, as a JSON Schema."""
        words = map(_folded, (*self.words, *self.others))
        spelled = (_BETWEEN_LETTERS.join(map(_in_any_case, word)) for word in words)
        return _spoken(self.words, spelled, _BETWEEN_LETTERS)

    def find(self, given: object) -> str | None:
        """Return the word that is meant; None where it is none of them."""
        if not isinstance(given, str):
            return None
        if given in self.words:
            return given
        folded = {_folded(word): word for word in self.words}
        folded |= {_folded(word): meant for word, meant in self.others.items()}
        return folded.get(_folded(given))

    def read(self, given: Any, path: str, problems: Problems) -> str | None:
        """Return the word."""
        word = self.find(given)
        if word is None:
            problems.add(path, given, self._refusal(str(given), path.rpartition(".")[2]))
        return word

    def wanted(self, key: str) -> str:
        """Return what is allowed, in short where it is one of many words."""
        if len(self.words) <= FEW_WORDS:
            return self.allowed
        return f"one of {listed([*self.words][:FEW_WORDS])}, ...; {all_words_of(key)}"

    def _refusal(self, given: str, key: str) -> str:
        if len(self.words) <= FEW_WORDS:
            return f"{self.allowed}{nearest(given, self.words)}"
        near = nearest_words(given, self.words, 3)
        if not near:
            return self.wanted(key)
        return f"unknown word; nearest: {listed(near)}; {all_words_of(key)}"


def all_words_of(key: str) -> str:
    """Return where all that a key may be is listed."""
    return f"`preloadmc keys {key}` lists all"


# What may stand between the letters of a word.
_BETWEEN_LETTERS = r"[\s_-]*"


def _folded(word: object) -> str:
    return re.sub(_BETWEEN_LETTERS, "", str(word).casefold())


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
    and blanks may differ from them. ``table`` is what that is called among the shipped tables;
    ``own`` says what to state for what none of them holds.
    """

    what: str
    look_up: Callable[[str], object]
    known: Callable[[], Iterable[str]]
    in_other_words: bool = False
    table: str = ""
    own: str = ""

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
        spelled = (r"\s+".join(_in_any_case(word) for word in name.split()) for name in names)
        return _spoken(names, spelled, r"\s*")

    def read(self, given: Any, path: str, problems: Problems) -> object:
        """Return the row of the table."""
        if self.own and isinstance(given, Mapping):
            problems.add(path, given, f"{self.what}; {self.own}")
            return None
        name = Text(self.what).read(given, path, problems)
        if name is None:
            return None
        try:
            return self.look_up(name)
        except ValueError as error:
            all_of_them = f"`preloadmc tables {self.table}` lists all" if self.table else ""
            words = (str(error), all_of_them, self.own)
            problems.add(path, given, "; ".join(filter(None, words)))
            return None


def _spoken(printed: Iterable[str], spelled: Iterable[str], around: str) -> Shape:
    """Return words as they are printed, or as they are read: a regular expression of each."""
    pattern = rf"^{around}(?:{'|'.join(spelled)}){around}$"
    return {"anyOf": [{"enum": [*printed]}, {"type": "string", "pattern": pattern}]}


def _in_any_case(word: str) -> str:
    """Return a word as a regular expression; those of JSON Schema know no letter case."""
    return "".join(
        f"[{mark.upper()}{mark.lower()}]"
        if mark.upper() != mark.lower()
        else f"\\{mark}"
        if mark in r".^$*+?()[]{}|\/"
        else mark
        for mark in word
    )
