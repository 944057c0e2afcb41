"""Where batches of rows are computed: in this process, or in child processes of this machine.

A batch goes to a worker as bytes and its results come back as bytes; what all batches share (the
function and its payload) goes to each worker once and is kept there. `cluster.py` has workers on
other machines.
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
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Any, Protocol, Self

from preloadmc.engine import cores
from preloadmc.errors import PreloadError, UsageError

# A fresh interpreter: a fork would copy locks of the threads of numpy's linear algebra as they
# are, without the threads that would free them.
_SPAWN = multiprocessing.get_context("spawn")
# Each child has one core: threads of linear algebra in each would stand in each other's way.
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
# Memory may be short for a moment; a fault of the installation is there at every start.
_STARTS = 3


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
    """Child processes, each with a thread here that waits for it: one that dies is replaced.

    No pool of the standard library: there one dead process breaks the batches of all others, and
    by which signal it ended is not told.
    """

    def __init__(self, count: int) -> None:
        self.count = count
        # Starting and reaping of processes is not safe between threads.
        self._lock = threading.Lock()
        self._is_closed = False
        self._alive: set[_Child] = set()
        self._idle: queue.SimpleQueue[_Child | None] = queue.SimpleQueue()
        for _ in range(count):
            self._idle.put(None)
        self._threads = ThreadPoolExecutor(count, "survey")

    def submit(self, task: Task, items: Sequence[Any]) -> Future[Answer]:
        return self._threads.submit(self._answer, task, as_batch(items))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._is_closed = True
            for child in self._alive:
                child.process.kill()
        self._threads.shutdown(cancel_futures=True)
        for child in self._alive:
            child.process.join()

    def _answer(self, task: Task, batch: bytes) -> Answer:
        child = self._idle.get()
        try:
            child = child or self._started()
            return child.answer(task, batch)
        except (EOFError, OSError):
            if child is None:  # what failed is a start
                raise
            words = f"its worker process {self._end(child)}"
            child = None
            raise WorkerLostError(words) from None
        finally:
            self._idle.put(child)

    def _started(self) -> _Child:
        for _ in range(_STARTS):
            with self._lock:
                if self._is_closed:
                    raise WorkerLostError("the workers were stopped")
                try:
                    with no_interrupts_here(), _one_thread():
                        child = _Child()
                except OSError as error:
                    raise PreloadError(
                        f"a worker process cannot be started: {error.strerror}; "
                        "ask for fewer workers"
                    ) from error
                self._alive.add(child)
            try:
                child.wait_until_up()
            except (EOFError, OSError):
                words = self._end(child)
            else:
                return child
        raise PreloadError(f"a worker process cannot be started: it {words}, {_STARTS} times")

    def _end(self, child: _Child) -> str:
        """Return how a child ended; it is dead, or about to be."""
        child.connection.close()
        child.process.kill()
        with self._lock:
            child.process.join()
            if not self._is_closed:
                self._alive.discard(child)
        return _how_it_ended(child.process.exitcode or 0)


class _Child:
    """A child process and the pipe to it."""

    def __init__(self) -> None:
        self.connection, theirs = _SPAWN.Pipe()
        self.process = _SPAWN.Process(target=_serve, args=(theirs,), daemon=True)
        self._has = ""
        try:
            self.process.start()
        finally:
            theirs.close()

    def wait_until_up(self) -> None:
        """Return when the child has started; EOFError if it ends before."""
        self.connection.recv_bytes()

    def answer(self, task: Task, batch: bytes) -> Answer:
        """Return what the child makes of a batch; EOFError or OSError if it ends before."""
        content = None if self._has == task.key else task.content
        self.connection.send((task.key, content, batch))
        self._has = task.key
        found: Answer = self.connection.recv()
        return found


def _serve(connection: Connection) -> None:
    """Answer batch after batch: the life of a child."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    connection.send_bytes(b"up")
    kept: dict[str, tuple[Callable[..., list[Any]], object]] = {}
    while True:
        try:
            key, content, batch = connection.recv()
        except EOFError:
            return
        task = Task(content or b"", key)
        connection.send(answered(partial(_kept, kept, task), batch))


def _end_with_parent() -> None:
    """End this child when its parent is gone, however that ended."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


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


def _how_it_ended(code: int) -> str:
    if code >= 0:
        return f"ended with exit code {code}"
    why = ", as the system does where memory runs out" if code == -signal.SIGKILL else ""
    return f"was killed by signal {-code}{why}"
