"""The problems of one file, each with its path, what was given and what is allowed."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import replace
from difflib import get_close_matches
from reprlib import Repr

from preloadmc.errors import Problem

# What was given is shown on one line.
LONGEST_SHOWN = 80
# Nobody mends more in one go; finding the nearest word to each of many takes long.
MOST_PROBLEMS = 200
# A longer list of words is shortened to the nearest ones.
FEW_WORDS = 7
# From this likeness on, 0 to 1, an unknown key is taken for a known one with a slip of the finger.
MISSPELT = 0.75
# Characters that would break a line, hide, or turn the order of what stands beside them (Unicode
# controls, line and paragraph separators, bidirectional marks and overrides, noncharacters that no
# XML may hold).
UNPRINTABLE = re.compile(
    "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufffe\uffff]"
)


class _Shown(Repr):
    """Values as they are shown: short, however large they are."""

    def __init__(self) -> None:
        super().__init__()
        self.maxstring = self.maxother = LONGEST_SHOWN
        self.maxlist = self.maxdict = 10

    def repr_int(self, value: int, level: int) -> str:
        """Return a whole number, or that it is too long to be shown."""
        del level
        return str(value) if value.bit_length() <= 256 else "a number of more than 77 digits"

    def repr_instance(self, value: object, level: int) -> str:
        """Return a value of any other kind, such as a date."""
        del level
        return str(value)


_SHOWN = _Shown()


def shown(given: object) -> str:
    """Return what was given as written, on one line, shortened where long.

    Examples
    --------
    >>> shown("84 N·m"), shown([1, 2]), shown("x" * 1000) == f"'{'x' * 76}..."
    ("'84 N·m'", '[1, 2]', True)
    """
    if isinstance(given, str):
        text = repr(given[:LONGEST_SHOWN])
        shortened = len(given) > LONGEST_SHOWN or len(text) > LONGEST_SHOWN
    else:
        text = _SHOWN.repr(given)
        shortened = len(text) > LONGEST_SHOWN
    # Marks that turn the order of writing are printable to Python.
    text = UNPRINTABLE.sub(lambda mark: f"\\u{ord(mark[0]):04x}", text)
    return f"{text[: LONGEST_SHOWN - 3]}..." if shortened else text


class Problems:
    """The problems of one file, each once; ``cut_off`` tells whether there are more of them."""

    def __init__(self) -> None:
        self._found: dict[Problem, None] = {}
        self._misspelt: set[str] = set()
        self.cut_off = False

    def __bool__(self) -> bool:
        return bool(self._found)

    def add(self, path: str, given: object, allowed: str) -> None:
        """Note a problem; ``given`` is shown as written, shortened where long."""
        self._note(Problem(path, "" if given is None else shown(given), allowed))

    def missing(self, path: str, allowed: str) -> None:
        """Note that a key is needed and absent, unless what was typed for it is noted already."""
        if not self.at(path):
            self.add(path, None, f"missing; {allowed}")

    def misspelt(self, path: str) -> None:
        """Take a path as stated wrongly, by a key that is unknown and much like it."""
        self._misspelt.add(path)

    def unknown(self, path: str, key: str, known: Collection[str], meant: str = "") -> None:
        """Note a key that is none of those known in its table; ``meant`` says what it may be."""
        words = "" if self.cut_off else meant or nearest(key, known)
        self.add(path, None, f"unknown key{words}; known: {listed(known)}")

    def unknown_row(self, path: str, key: str, rows: Collection[str], meant: str) -> None:
        """Note a key that is no row of its table, of which there may be many."""
        if len(rows) <= FEW_WORDS:
            self.unknown(path, key, rows, meant)
        else:
            self.add(path, None, f"unknown key{meant}; see `preloadmc keys`")

    def take(self, others: Problems, within: str, name: str) -> None:
        """Take what is new in the problems of a change of the case.

        They were found ``within`` its table, which is told by its ``name`` too.
        """
        for problem in others._found:
            if problem not in self._found:
                self._note(replace(problem, path=f"{within}.{problem.path}", of=name))
        self.cut_off = self.cut_off or others.cut_off

    def at(self, *paths: str) -> bool:
        """Return whether a problem was found at any of the paths or below it."""
        found = [*(problem.path for problem in self._found), *self._misspelt]
        return any(
            each.startswith(path) and each[len(path) : len(path) + 1] in ("", ".", "[")
            for each in found
            for path in paths
        )

    def take_first(self, others: Problems) -> None:
        """Take the first of the problems of one list, and how many there are: they are alike."""
        first, *more = [*others._found, None]
        if first is None:
            return
        count = len(more) - 1
        if count:
            entries = "entry is" if count == 1 else "entries are"
            words = f"{first.allowed}; {count} other {entries} wrong too"
            first = replace(first, allowed=words)
        self._note(first)

    def sorted(self, place: Callable[[str], tuple[int, ...]]) -> tuple[Problem, ...]:
        """Return the problems in the order of their keys, as ``place`` tells it."""
        found = sorted(self._found, key=lambda problem: place(problem.path))
        if self.cut_off:
            words = f"these are the first {MOST_PROBLEMS} problems: mend them to see the rest"
            found.append(Problem("file", "", words))
        return tuple(found)

    def _note(self, problem: Problem) -> None:
        if problem in self._found:
            return
        if len(self._found) >= MOST_PROBLEMS:
            self.cut_off = True
        else:
            self._found[problem] = None


def listed(words: Iterable[str]) -> str:
    """Return words in quotes for a message."""
    return ", ".join(f"'{word}'" for word in words)


def nearest(word: str, allowed: Iterable[str], most: int = 1) -> str:
    """Return '; nearest: x' for the allowed words most like ``word``, or an empty text."""
    near = nearest_words(word, allowed, most)
    return f"; nearest: {listed(near)}" if near else ""


def nearest_words(
    word: str, allowed: Iterable[str], most: int = 1, likeness: float = 0.5
) -> list[str]:
    """Return the allowed words most like ``word``, in any letter case, the nearest first."""
    known = {each.lower(): each for each in allowed}
    # A word that is twice as long as any allowed one is like none of them.
    if len(word) > 2 * max(map(len, known), default=0):
        return []
    return [known[each] for each in get_close_matches(word.lower(), known, n=most, cutoff=likeness)]
