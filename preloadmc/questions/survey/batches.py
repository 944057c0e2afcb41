"""Many items shared out to workers in batches of a measured size; what fails is narrowed down."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass
from itertools import islice
from typing import Any, TypeVar

from preloadmc.errors import PreloadError
from preloadmc.questions.survey.workers import Answer, Task, WorkerLostError, Workers

T = TypeVar("T")
R = TypeVar("R")

# Small, since nothing is known of the items yet; a batch costs a cluster some 3 ms.
_FIRST_SIZE = 4
# Items that come cheap at first (refused ones) must not make a batch of minutes of the next ones.
_GROWTH = 8
_LARGEST = 2000
_TRIES_OF_A_BATCH = 2
_TRIES_OF_AN_ITEM = 3
# One bad item among the first fails some seven times. If that many tries fail and none succeeds,
# the fault is not theirs.
_HOPELESS = 30
# Workers of a cluster come and go, s.
_BETWEEN_LOOKS = 1.0


@dataclass(frozen=True, slots=True)
class _Batch:
    items: list[Any]
    failures: int = 0

    @property
    def halves(self) -> tuple[_Batch, ...]:
        """Return the two halves: what failed with them counts for larger ones, not for an item."""
        middle = len(self.items) // 2
        return tuple(
            _Batch(half, 0 if len(half) == 1 else _TRIES_OF_A_BATCH - 1)
            for half in (self.items[:middle], self.items[middle:])
        )


def in_batches(
    workers: Workers,
    function: Callable[[Any, list[T]], list[R]],
    payload: object,
    items: Iterable[T],
    *,
    done: Callable[[list[T], list[R]], None],
    failed: Callable[[T, str], None],
    seconds: float = 2.0,
) -> None:
    """Compute ``function(payload, batch)`` for all items; memory does not grow with their number.

    A batch whose function raises, or whose worker dies, is tried again, then halved until the item
    is found: it is given up after three failures alone, of which the last was with no other batch
    running where workers died. All other items are done.

    Parameters
    ----------
    workers : Workers
        The outcome does not depend on which, if the function does not depend on the batch.
    function : callable
        Of a module that workers can import: the payload and a list of items in, a result for each
        item out.
    payload : object
        What all batches share; it is pickled once.
    items : iterable
        Anything that pickle takes; it is asked for as workers get free.
    done : callable
        Is called in this process with the items of a batch and their results, in any order.
    failed : callable
        Is called in this process with an item and what happened, in words.
    seconds : float
        How long a batch is to take, s. Batches have 1 to 2,000 items.

    Raises
    ------
    PreloadError
        If no worker is left, or if the first items all fail.
    """
    task = Task.of(function, payload)
    waiting = iter(items)
    again: deque[_Batch] = deque()
    alone: deque[_Batch] = deque()
    running: dict[Future[Answer], _Batch] = {}
    size = _FIRST_SIZE
    failures, is_any_done = 0, False
    try:
        while True:
            while len(running) < workers.count:
                if again:
                    batch = again.popleft()
                elif fresh := list(islice(waiting, size)):
                    batch = _Batch(fresh)
                elif alone and not running:
                    batch = alone.popleft()
                else:
                    break
                running[workers.submit(task, batch.items)] = batch
            if not running:
                return
            for future in wait(running, _BETWEEN_LOOKS, FIRST_COMPLETED).done:
                batch = running.pop(future)
                answer, words, died = _outcome(future)
                failures += answer is None
                if answer is not None:
                    is_any_done = True
                    size = _next_size(len(batch.items), answer.seconds, seconds)
                    done(batch.items, answer.results)
                elif len(batch.items) > 1:
                    tried = batch.failures + max(died, 1)
                    is_again = tried < _TRIES_OF_A_BATCH
                    again.extend((_Batch(batch.items, tried),) if is_again else batch.halves)
                elif batch.failures + 1 < _TRIES_OF_AN_ITEM:
                    next_try = _Batch(batch.items, batch.failures + 1)
                    is_last = next_try.failures == _TRIES_OF_AN_ITEM - 1
                    (alone if died and is_last else again).append(next_try)
                else:
                    failed(batch.items[0], f"tried {_TRIES_OF_AN_ITEM} times: {words}")
                if not is_any_done and failures >= _HOPELESS:
                    raise PreloadError(f"stopped: the first {failures} tries failed; {words}")
    finally:
        for future in running:
            future.cancel()


def _outcome(future: Future[Answer]) -> tuple[Answer | None, str, int]:
    """Return the answer, or None with what happened in words and how many workers died of it."""
    try:
        answer = future.result()
    except WorkerLostError as error:
        return None, str(error), error.times
    return (None, answer.raised, 0) if answer.raised else (answer, "", 0)


def _next_size(items: int, took: float, seconds: float) -> int:
    """Return how many items make a batch of the given time, by what a batch took, both in s."""
    fitting = int(items * seconds / max(took, 1e-6))
    return max(1, min(fitting, _GROWTH * items, _LARGEST))
