"""Where batches of rows are computed: in this process, or in child processes of this machine.

A batch goes to a worker as bytes and its results come back as bytes; what all batches share (the
function and its payload) is made of its bytes once by each worker and kept there. `cluster.py` has
workers on other machines.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import pickle
import queue
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from types import TracebackType
from typing import Any, Protocol, Self

from preloadmc.engine import cores
from preloadmc.errors import PreloadError, UsageError

# A fresh interpreter: a fork would copy locks of the threads of numpy's linear algebra as they
# are, without the threads that would free them.
_SPAWN = multiprocessing.get_context("spawn")
# Each child has one core: threads of linear algebra in each would stand in each other's way.
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True, slots=True)
class Task:
    """What all batches share, as bytes: a function ``(payload, items) -> results``, its payload."""

    content: bytes
    key: str

    @classmethod
    def of(cls, function: Callable[[Any, list[Any]], list[Any]], payload: object) -> Task:
        """Return the task of a function that workers can import, and a payload for pickle."""
        content = pickle.dumps((function, payload), pickle.HIGHEST_PROTOCOL)
        return cls(content, hashlib.sha256(content).hexdigest())


@dataclass(frozen=True, slots=True)
class Answer:
    """What a worker made of a batch: results as bytes and seconds, or what was raised in words."""

    content: bytes = b""
    seconds: float = 0.0
    raised: str = ""

    @property
    def results(self) -> list[Any]:
        """Return one result for each item."""
        found: list[Any] = pickle.loads(self.content)
        return found


class WorkerLostError(Exception):
    """A worker ended while it had a batch; ``times`` says how many workers the batch has ended."""

    def __init__(self, words: str, times: int = 1) -> None:
        super().__init__(words)
        self.times = times


class Workers(Protocol):
    """Workers of one kind; a context manager, at whose end none of them is left."""

    @property
    def count(self) -> int:
        """Return how many batches are computed at a time now; PreloadError if none ever will be."""

    def submit(self, task: Task, items: Sequence[Any]) -> Future[Answer]:
        """Compute a batch; the future may raise WorkerLostError."""

    def __enter__(self) -> Self:
        """Begin."""

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop all workers at once, whatever they do."""


def processes(count: int | None = None) -> Workers:
    """Return workers on this machine: this process for one, else as many child processes.

    Parameters
    ----------
    count : int, optional
        Unless given, one for each core that this process may use.
    """
    count = cores() if count is None else count
    if count < 1:
        raise UsageError(f"workers: at least 1 (given: {count})")
    return _ThisProcess() if count == 1 else _Processes(count)


def loaded(content: bytes) -> tuple[Callable[[Any, list[Any]], list[Any]], object]:
    """Return the function of a task and its payload: what a worker keeps."""
    found: tuple[Callable[[Any, list[Any]], list[Any]], object] = pickle.loads(content)
    return found


def answered(task: Callable[[], tuple[Callable[..., list[Any]], object]], batch: bytes) -> Answer:
    """Return what a worker makes of a batch; an exception becomes words.

    Parameters
    ----------
    task : callable
        Returns what the worker keeps of the task.
    batch : bytes
        The items, pickled.
    """
    begun = time.perf_counter()
    try:
        function, payload = task()
        items = pickle.loads(batch)
        results = function(payload, items)
        if len(results) != len(items):
            raise ValueError(f"{len(results)} results of {len(items)} items")
        content = pickle.dumps(results, pickle.HIGHEST_PROTOCOL)
    except Exception as error:
        return Answer(raised=" ".join(f"{type(error).__name__}: {error}".split()))
    return Answer(content, time.perf_counter() - begun)


def as_batch(items: Sequence[Any]) -> bytes:
    """Return items as bytes."""
    return pickle.dumps(list(items), pickle.HIGHEST_PROTOCOL)


@contextmanager
def no_interrupts_here() -> Iterator[None]:
    """Keep SIGINT from this thread, and for good from processes and threads that it starts.

    Interrupts of the keyboard go to all processes of a terminal; this one alone decides on them.
    """
    if not hasattr(signal, "pthread_sigmask"):  # not every system has it
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class _ThisProcess:
    """One worker: this process."""

    count = 1

    def __init__(self) -> None:
        self._kept: dict[str, tuple[Callable[..., list[Any]], object]] = {}

    def submit(self, task: Task, items: Sequence[Any]) -> Future[Answer]:
        future: Future[Answer] = Future()
        future.set_result(answered(partial(_kept, self._kept, task), as_batch(items)))
        return future

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._kept.clear()


class _Processes:
    """Pools of one child process each, so that one that dies breaks its own batch alone."""

    def __init__(self, count: int) -> None:
        self.count = count
        self._free: queue.SimpleQueue[ProcessPoolExecutor] = queue.SimpleQueue()
        self._begun = {child.pid for child in multiprocessing.active_children()}
        for _ in range(count):
            self._free.put(_pool())

    def submit(self, task: Task, items: Sequence[Any]) -> Future[Answer]:
        found: Future[Answer] = Future()
        found.set_running_or_notify_cancel()  # from here on only its pool ends it
        pool = self._free.get()
        try:
            # The child starts with its first batch.
            with no_interrupts_here(), _one_thread():
                answer = pool.submit(_answered_here, task, as_batch(items))
        except OSError as error:
            raise PreloadError(
                f"a worker process cannot be started: {error.strerror}; ask for fewer workers"
            ) from error

        def passed_on(done: Future[Answer]) -> None:
            error = done.exception()
            if error is None:
                self._free.put(pool)
                found.set_result(done.result())
                return
            pool.shutdown(wait=False)
            self._free.put(_pool())
            words = "its worker process died: killed, or out of memory"
            found.set_exception(
                WorkerLostError(words) if isinstance(error, BrokenExecutor) else error
            )

        answer.add_done_callback(passed_on)
        return found

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        # What they compute is no longer wanted; a pool itself would wait for it.
        for child in multiprocessing.active_children():
            if child.pid not in self._begun:
                child.kill()
        while not self._free.empty():
            self._free.get().shutdown(cancel_futures=True)


def _pool() -> ProcessPoolExecutor:
    return ProcessPoolExecutor(1, mp_context=_SPAWN, initializer=_begin_child)


def _begin_child() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """End this child when its parent is gone, however that ended."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


_KEPT: dict[str, tuple[Callable[..., list[Any]], object]] = {}


def _answered_here(task: Task, batch: bytes) -> Answer:
    """Return what a child makes of a batch."""
    return answered(partial(_kept, _KEPT, task), batch)


def _kept(
    kept: dict[str, tuple[Callable[..., list[Any]], object]], task: Task
) -> tuple[Callable[..., list[Any]], object]:
    """Return a task as loaded, once; the one before is dropped."""
    if task.key not in kept:
        found = loaded(task.content)
        kept.clear()
        kept[task.key] = found
    return kept[task.key]


@contextmanager
def _one_thread() -> Iterator[None]:
    """Have processes that are started use one thread, where their user did not say otherwise."""
    added = [name for name in _ONE_THREAD if name not in os.environ]
    os.environ.update(dict.fromkeys(added, "1"))
    try:
        yield
    finally:
        for name in added:
            del os.environ[name]
