"""How many joints of a register will miss, which ones, and what single change helps most?"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, KeysView, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preloadmc.case_file.register import Register, RegisterRow
from preloadmc.chance.streams import named_rng
from preloadmc.errors import PreloadError
from preloadmc.judgement.rows_together import ANY_LIMIT
from preloadmc.questions.run import run
from preloadmc.questions.survey.answer import survey_answer
from preloadmc.questions.survey.batches import in_batches
from preloadmc.questions.survey.changes import Change, Trial, changes_of, tried_batch
from preloadmc.questions.survey.judged import Survey, failed_row, judged_batch
from preloadmc.questions.survey.records import (
    Document,
    Expected,
    RowStore,
    SurveyResult,
    TriedChange,
)
from preloadmc.questions.survey.totals import (
    EVENTS,
    Totals,
    expected_of,
    few_at_highest_risk,
)
from preloadmc.questions.survey.workers import Workers, processes
from preloadmc.units import Array

DEFAULT_SEED = 1
WORST = 20
# Rows that changes are tried on: of more, a sample by how much each may matter.
TRIED = 300
_NORMAL_95 = 1.96
# A change that helps takes at least so much of the risk of joints beside the few at highest risk.
_HELPS = 0.05

Progress = Callable[[int, int], None]


class MemoryStore:
    """Rows that are finished, in memory."""

    def __init__(self) -> None:
        self._rows: dict[str, Document] = {}

    @property
    def keys(self) -> KeysView[str]:
        """Return the keys of the rows that are finished."""
        return self._rows.keys()

    def add(self, rows: Iterable[Document]) -> None:
        """Keep rows."""
        self._rows.update((row["key"], row) for row in rows)

    def rows_in(self, keys: Iterable[str]) -> Iterator[Document]:
        """Yield rows in the order of keys."""
        for key in keys:
            yield self._rows[key]


def survey(
    register: Register,
    *,
    seed: int | None = None,
    aimed: bool = False,
    worst: int = WORST,
    workers: Workers | None = None,
    store: RowStore | None = None,
    progress: Progress | None = None,
) -> SurveyResult:
    """Judge every joint of a register, and say what single change would lower the misses most.

    Parameters
    ----------
    register : Register
        As `load_register` returned it.
    seed : int, optional
        Of all random numbers; 1 unless given.
    aimed : bool
        Whether to search the best setting of each joint, which takes some sixty times as long.
    worst : int
        How many of the joints at highest risk are run by themselves, for their answers.
    workers : Workers, optional
        Where batches are computed; this process unless given. The numbers do not depend on it.
    store : RowStore, optional
        Keeps finished rows; those in it already are not computed again.
    progress : callable, optional
        Told the rows done and all rows.

    Returns
    -------
    SurveyResult
    """
    task = Survey(register.templates, DEFAULT_SEED if seed is None else seed, aimed)
    store = MemoryStore() if store is None else store
    with processes(1) if workers is None else workers as engine:
        _judge(engine, task, register.rows, store, progress)
        totals = Totals()
        by_key = {row.key: row for row in register.rows}
        # In the order of keys: sums are then the same to the last digit, however rows are ordered.
        for document in store.rows_in(sorted(by_key)):
            totals.add(document)
        order = totals.order()
        changes, tried_on = _try_changes(engine, task, totals, by_key)
        first = [by_key[totals.keys[place]] for place in order[:worst]]
        answers = _answers(engine, task, first)
    place_of = {row.key: place for place, row in enumerate(register.rows)}
    result = SurveyResult(
        source=register.source,
        sha256=register.sha256,
        templates={name: each.sha256 for name, each in register.templates.items()},
        files=register.files,
        seed=task.seed,
        aimed=aimed,
        keys=tuple(row.key for row in register.rows),
        order=tuple(place_of[totals.keys[place]] for place in order),
        risk=totals.risk[order],
        store=store,
        counts={**totals.statuses, **totals.verdicts},
        expected=totals.expected(),
        independent=totals.independent(),
        shared=totals.shared(named_rng(task.seed, "what lots and tools share")),
        sharing=totals.sharing(),
        parts=totals.parts(),
        changes=changes,
        tried_on=tried_on,
        alone=totals.alone,
        worst=tuple(answers),
        answer=("", "", ""),
        warnings=(*_left_empty(register), *_without_effect(register)),
    )
    return replace(result, answer=survey_answer(result))


def _left_empty(register: Register) -> Iterator[str]:
    """Yield what rows leave to the template: a cell may be empty by mistake."""
    rows = len(register.rows)
    for path, count in register.empty.items():
        are = "row leaves" if count == 1 else "rows leave"
        yield f"{path}: {count:,} of {rows:,} {are} it empty, and the template's value holds."


def _without_effect(register: Register) -> tuple[str, ...]:
    """Return a warning for each key of a template that has no effect, by a row of it."""
    found: list[str] = []
    tried: set[str] = set()
    for row in register.rows:
        if row.case in tried or row.case not in register.templates:
            continue
        try:
            words = register.templates[row.case].without_effect(row)
        except PreloadError:
            continue  # another row may be right
        tried.add(row.case)
        found += (f"{row.case}: {each}" for each in words)
        if len(tried) == len(register.templates):
            break
    return tuple(found)


def _judge(
    engine: Workers,
    task: Survey,
    rows: Sequence[RegisterRow],
    store: RowStore,
    progress: Progress | None,
) -> None:
    left = [row for row in rows if row.key not in store.keys]
    count = len(rows) - len(left)

    def done(batch: list[RegisterRow], found: list[Document]) -> None:
        nonlocal count
        store.add(found)
        count += len(batch)
        if progress is not None:
            progress(count, len(rows))

    def failed(row: RegisterRow, words: str) -> None:
        done([row], [failed_row(row, words)])

    in_batches(engine, judged_batch, task, iter(left), done=done, failed=failed)


def _try_changes(
    engine: Workers, task: Survey, totals: Totals, rows: dict[str, RegisterRow]
) -> tuple[tuple[TriedChange, ...], int]:
    """Return each change with what it makes of the misses, the best first, and on how many rows."""
    n = len(totals.keys)
    if n == 0:
        return (), 0
    changes = changes_of([*task.templates.values()])
    rng = named_rng(task.seed, "rows that changes are tried on")
    places, weights = _sample(totals.risk, rng)
    found: dict[str, list[Document | None]] = {}
    chosen = np.unique(places)

    def done(batch: list[Trial], results: list[list[Document | None]]) -> None:
        found.update((trial.row.key, each) for trial, each in zip(batch, results, strict=True))

    trials = (Trial(rows[totals.keys[place]], changes) for place in chosen)
    in_batches(engine, tried_batch, task, trials, done=done, failed=lambda trial, words: None)
    nothing: list[Document | None] = [None] * len(changes)
    of_places = [found.get(totals.keys[place], nothing) for place in places]
    tried = [
        _tried(change, [each[m] for each in of_places], places, weights, totals)
        for m, change in enumerate(changes)
    ]
    if task.aimed:
        # Where no setting meets every limit none is recommended: those stay as they are.
        best = [
            {**each, "misses": False} if each is not None and each["to_set"] is not None else None
            for each in totals.best
        ]
        own = Change("own setting", "")
        tried.append(_tried(own, best, np.arange(n), np.ones(n), totals))
    acting = [each for each in tried if each.applies]
    return tuple(sorted(acting, key=lambda each: each.difference.value)), len(chosen)


def _sample(risk: Array, rng: np.random.Generator) -> tuple[NDArray[np.intp], Array]:
    """Return places of rows to try changes on, and how many rows each stands for."""
    n = len(risk)
    if n <= TRIED:
        return np.arange(n), np.ones(n)
    # Half by what they add to the misses now, half evenly: a change may spoil any of them.
    chance = 0.5 / n + 0.5 * risk / max(float(risk.sum()), 1e-300)
    chance /= chance.sum()
    places = rng.choice(n, size=TRIED, p=chance)
    return places, 1.0 / (TRIED * chance[places])


def _tried(
    change: Change,
    found: Sequence[Document | None],
    places: NDArray[np.intp],
    weights: Array,
    totals: Totals,
) -> TriedChange:
    """Return what a change makes of the whole register, from the rows it was tried on.

    ``found`` is of each place; None where the change does not act on that row.
    """
    risk, misses = totals.risk, totals.misses
    acted = np.array([each is not None for each in found])
    gaps, more = np.zeros(len(found)), np.zeros(len(found))
    for n, (each, place) in enumerate(zip(found, places, strict=True)):
        if each is not None:
            gaps[n] = weights[n] * (each["probability"] - risk[place])
            more[n] = weights[n] * (each["misses"] - misses[place])
    difference = float(gaps.sum())
    value = max(float(risk.sum()) + difference, 0.0)
    if np.any(weights != 1.0):  # of a sample of rows its choice scatters
        reach = of_all = _NORMAL_95 * float(np.std(gaps, ddof=1)) * math.sqrt(len(places))
    else:  # of all rows their own estimates alone do, before the change and after it
        own = totals.events[:, EVENTS.index(ANY_LIMIT)]
        numbers = np.array([
            own[place] if each is None else (each["probability"], each["low"], each["high"])
            for each, place in zip(found, places, strict=True)
        ])  # fmt: skip
        reach = math.hypot(_reach(own[places[acted]]), _reach(numbers[acted]))
        of_all = _reach(numbers)
    # A few joints far off must not decide what is done to all: it is to help the others too.
    rest = ~np.isin(places, few_at_highest_risk(risk))
    helped = float(gaps[rest].sum()) < -_HELPS * float(np.sum((weights * risk[places])[rest]))
    return TriedChange(
        change,
        int(acted.sum()),
        Expected(value, max(value - of_all, 0.0), value + of_all),
        Expected(difference, difference - reach, difference + reach),
        float(misses.sum()) + float(more.sum()),
        difference + reach < 0.0 and helped and not np.any(more > 0.0),
    )


def _reach(numbers: Array) -> float:
    """Return half the interval of a sum of probabilities, from value, low and high of each."""
    found = expected_of(numbers.reshape(-1, 3))
    return found.high - found.value


def _answers(engine: Workers, task: Survey, rows: Sequence[RegisterRow]) -> list[Document]:
    found: dict[str, Document] = {}

    def done(batch: list[RegisterRow], results: list[Document]) -> None:
        found.update((row.key, each) for row, each in zip(batch, results, strict=True))

    def failed(row: RegisterRow, words: str) -> None:
        found[row.key] = {"key": row.key, "joint": row.joint, "answer": [words]}

    in_batches(engine, answered_batch, task, iter(rows), done=done, failed=failed)
    return [found[row.key] for row in rows]


def answered_batch(task: Survey, rows: Sequence[RegisterRow]) -> list[Document]:
    """Return the three lines that a run of each row by itself answers."""
    found: list[Document] = []
    for row in rows:
        case = task.templates[row.case].case_of(row)
        try:
            lines: Sequence[Any] = run(case, seed=task.seed, threads=1).answer
        except PreloadError as error:
            lines = [str(error)]
        found.append({"key": row.key, "joint": row.joint, "answer": list(lines)})
    return found
