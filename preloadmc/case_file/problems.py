"""The problems of one file, each with its path, what was given and what is allowed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import replace
from difflib import get_close_matches

from preloadmc.errors import Problem

# What was given is shown on one line.
LONGEST_SHOWN = 80


class Problems:
    """The problems of one file, each once."""

    def __init__(self) -> None:
        self._found: dict[Problem, None] = {}

    def __bool__(self) -> bool:
        return bool(self._found)

    def add(self, path: str, given: object, allowed: str) -> None:
        """Note a problem; ``given`` is shown as written, shortened where long."""
        text = "" if given is None else repr(given) if isinstance(given, str) else str(given)
        if len(text) > LONGEST_SHOWN:
            text = f"{text[: LONGEST_SHOWN - 3]}..."
        self._found[Problem(path, text, allowed)] = None

    def missing(self, path: str, allowed: str) -> None:
        """Note that a key is needed and absent."""
        self.add(path, None, f"missing; {allowed}")

    def unknown(self, path: str, key: str, known: Collection[str]) -> None:
        """Note a key that is none of those known in its table."""
        self.add(path, None, f"unknown key{nearest(key, known)}; known: {listed(known)}")

    def take(self, others: Problems, within: str) -> None:
        """Take what is new in the problems of a change of the case, as found ``within`` it."""
        for problem in others._found:
            if problem not in self._found:
                self._found[replace(problem, path=f"{within}.{problem.path}")] = None

    def at(self, *paths: str) -> bool:
        """Return whether a problem was found at any of the paths or below it."""
        return any(
            problem.path.startswith(path)
            and problem.path[len(path) : len(path) + 1] in ("", ".", "[")
            for problem in self._found
            for path in paths
        )

    def sorted(self, place: Callable[[str], tuple[int, ...]]) -> tuple[Problem, ...]:
        """Return the problems in the order of their keys, as ``place`` tells it."""
        return tuple(sorted(self._found, key=lambda problem: place(problem.path)))


def listed(words: Iterable[str]) -> str:
    """Return words in quotes for a message."""
    return ", ".join(f"'{word}'" for word in words)


def nearest(word: str, allowed: Iterable[str]) -> str:
    """Return '; nearest: x' for the allowed word most like ``word``, or an empty text."""
    near = get_close_matches(word.lower(), [a.lower() for a in allowed], n=1, cutoff=0.5)
    return f"; nearest: '{near[0]}'" if near else ""
