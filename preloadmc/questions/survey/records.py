"""What a survey finds of a register as a whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, KeysView, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from preloadmc.questions.survey.changes import Change
from preloadmc.results import Result
from preloadmc.units import Array

Document = dict[str, Any]


class RowStore(Protocol):
    """Where rows that are finished are kept."""

    @property
    def keys(self) -> KeysView[str]:
        """Return the keys of the rows that are finished."""

    def add(self, rows: Iterable[Document]) -> None:
        """Keep rows."""

    def rows_in(self, keys: Iterable[str]) -> Iterator[Document]:
        """Yield rows in the order of keys."""


@dataclass(frozen=True, slots=True)
class Expected:
    """How many joints are expected to miss, with its 95 % interval of sampling error."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Spread:
    """How many joints will miss: mean, s.d., and the numbers not exceeded with 5, 50, 95 %."""

    mean: float
    sd: float
    low: int
    median: int
    high: int


@dataclass(frozen=True, slots=True)
class Part:
    """The joints of one lot, tool or template: how many, and their expected misses."""

    by: str
    name: str
    joints: int
    expected: float


@dataclass(frozen=True, slots=True)
class TriedChange:
    """A change of all joints: expected misses before and after, and their difference.

    ``expected`` is of any limit. ``applies`` is on how many of the joints it was tried on it acts;
    ``missed`` how many of all joints miss what is allowed after it. ``is_advised`` says that it
    lowers the misses beyond sampling error, not of a few joints alone, and that no joint misses
    what it does not miss now.
    """

    change: Change
    applies: int
    expected: Expected
    difference: Expected
    missed: float
    is_advised: bool


@dataclass(frozen=True, slots=True, eq=False)
class SurveyResult(Result):
    """A register as it is judged.

    ``counts`` are rows by status and by verdict; ``expected`` by outcome and of any limit; ``risk``
    (n,) is how likely each row of ``order`` misses any. ``independent`` and
    ``shared`` say how many will miss without and with what lots and tools share, and ``shares`` by
    what and with how many joints. ``order`` (n,) are places of judged rows, those at highest risk
    first; ``keys`` the keys of all rows in the order of the register. ``alone`` is how many rows
    were judged by themselves; ``worst`` the answers of the rows at highest risk.
    """

    source: str
    sha256: str
    templates: Mapping[str, str]
    files: Mapping[str, str]
    seed: int
    aimed: bool
    keys: tuple[str, ...]
    order: tuple[int, ...]
    risk: Array
    store: RowStore
    counts: Mapping[str, int]
    expected: Mapping[str, Expected]
    independent: Spread
    shared: Spread | None
    sharing: Mapping[str, int]
    parts: tuple[Part, ...]
    changes: tuple[TriedChange, ...]
    tried_on: int
    alone: int
    worst: tuple[Document, ...]
    answer: tuple[str, str, str]
    warnings: tuple[str, ...] = ()

    @property
    def joints(self) -> int:
        """Return how many rows the register has."""
        return len(self.keys)

    def rows(self) -> Iterator[Document]:
        """Yield all rows, those at highest risk first; then those that were not judged."""
        places = {*self.order}
        rest = [place for place in range(len(self.keys)) if place not in places]
        return self.store.rows_in([self.keys[place] for place in (*self.order, *rest)])
