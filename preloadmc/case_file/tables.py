"""A TOML table read key by key: every problem is collected, none stops the reading."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Any

from preloadmc.errors import Problem
from preloadmc.units import Dimension, format_quantity, parse_quantity


class Problems:
    """The problems of one file, in the order found."""

    def __init__(self) -> None:
        self.found: list[Problem] = []

    def add(self, path: str, given: object, allowed: str) -> None:
        """Note a problem; ``given`` is shown as written, shortened where long."""
        text = "" if given is None else repr(given) if isinstance(given, str) else str(given)
        problem = Problem(path, text if len(text) <= 80 else text[:77] + "...", allowed)
        if problem not in self.found:
            self.found.append(problem)

    def has(self, *paths: str) -> bool:
        """Return whether a problem was found at any of the paths."""
        return any(problem.path in paths for problem in self.found)


def nearest(word: str, allowed: Iterable[str]) -> str:
    """Return '; nearest: x' for the allowed word most like ``word``, or an empty text."""
    near = get_close_matches(word.lower(), [a.lower() for a in allowed], n=1, cutoff=0.5)
    return f"; nearest: '{near[0]}'" if near else ""


class Table:
    """One table of the file with its path. Keys that nobody asked for are problems at ``close``."""

    def __init__(self, data: Mapping[str, Any], path: str, problems: Problems) -> None:
        self.data = data
        self.path = path
        self.problems = problems
        self._known: dict[str, None] = {}

    def __contains__(self, key: str) -> bool:
        self._known[key] = None
        return key in self.data

    def at(self, key: str) -> str:
        """Return the path of ``key``."""
        return f"{self.path}.{key}" if self.path else key

    def raw(self, key: str) -> Any:
        """Return what the file holds under ``key``, or None."""
        return self.data[key] if key in self else None

    def problem(self, key: str, allowed: str) -> None:
        """Note a problem with what stands under ``key``."""
        self.problems.add(self.at(key) if key else self.path, self.data.get(key), allowed)

    def missing(self, key: str, allowed: str) -> None:
        """Note that ``key`` is needed and absent."""
        self.problems.add(self.at(key), None, f"missing; {allowed}")

    def table(self, key: str) -> Table:
        """Return the table under ``key``; an absent one reads as empty."""
        value = self.raw(key)
        if value is not None and not isinstance(value, Mapping):
            self.problem(key, "a table of keys")
            value = None
        return Table(value or {}, self.at(key), self.problems)

    def tables(self, key: str) -> list[Table]:
        """Return the array of tables under ``key``; each is named by its place from 1."""
        value = self.raw(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(item, Mapping) for item in value):
            self.problem(key, f"an array of tables, each under its own [[{self.at(key)}]]")
            return []
        return [
            Table(item, f"{self.at(key)}[{place}]", self.problems)
            for place, item in enumerate(value, 1)
        ]

    def text(self, key: str, what: str, default: str = "") -> str:
        """Return a text; a missing one is the default."""
        value = self.raw(key)
        if value is None:
            return default
        if not isinstance(value, str) or not value.strip():
            self.problem(key, f"{what}, as text")
            return default
        return value.strip()

    def choice(self, key: str, allowed: tuple[str, ...], default: str | None) -> str | None:
        """Return one of the allowed words; no default means the key is needed."""
        value = self.raw(key)
        if value is None:
            if default is None:
                self.missing(key, f"one of {_listed(allowed)}")
            return default
        word = str(value)
        if word not in allowed:
            self.problem(key, f"one of {_listed(allowed)}{nearest(word, allowed)}")
            return None
        return word

    def quantity(
        self,
        key: str,
        dimension: Dimension,
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
    ) -> float | None:
        """Return a quantity in internal units, or None where absent or noted as a problem.

        ``low`` and ``high`` are allowed themselves, ``above`` is not.
        """
        value = self.raw(key)
        if value is None:
            return None
        try:
            number = parse_quantity(value, dimension)
        except ValueError as error:
            self.problem(key, str(error))
            return None
        for bound, words, broken in (
            (above, "above", above is not None and number <= above),
            (low, "at least", low is not None and number < low),
            (high, "at most", high is not None and number > high),
        ):
            if bound is not None and broken:
                limit = format_quantity(bound, dimension) if bound else "0"
                self.problem(key, f"{dimension.with_article} {words} {limit}")
                return None
        return number

    def whole_number(self, key: str, low: int, high: int) -> int | None:
        """Return a whole number within bounds, or None."""
        value = self.raw(key)
        if value is None:
            return None
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            self.problem(key, f"a whole number from {low} to {high}")
            return None
        return value

    def close(self, *also_known: str) -> None:
        """Note every key that nobody asked for."""
        known = (*self._known, *also_known)
        for key in self.data:
            if key not in known:
                self.problems.add(
                    self.at(key), None, f"unknown key{nearest(key, known)}; known: {_listed(known)}"
                )


def _listed(words: Iterable[str]) -> str:
    return ", ".join(f"'{word}'" for word in words)
