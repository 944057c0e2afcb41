"""Workers of a Dask cluster: on other machines, or started here for "local"."""

from __future__ import annotations

import logging
import re
import time
import warnings
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Future
from contextlib import ExitStack, contextmanager
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Self

from preloadmc.engine import cores
from preloadmc.errors import PreloadError, UsageError
from preloadmc.questions.survey.workers import (
    Answer,
    Task,
    WorkerLostError,
    Workers,
    answered,
    as_batch,
    loaded,
    no_interrupts_here,
)

if TYPE_CHECKING:
    import distributed

LOCAL = "local"
_WITH_PORT = re.compile(r":\d+/?$")
# To answer when it is called, s.
_LONGEST_CALL = 10.0
# Workers of a queueing system may take minutes to come, and to come back, s.
_LONGEST_WITHOUT_WORKERS = 300.0
_BETWEEN_LOOKS = 1.0
_NOISY = ("distributed", "tornado", "asyncio")
_SILENT = logging.CRITICAL + 1
# Source that workers of this machine run when they start: a traceback of one that is stopped
# while it starts is not logged, but printed.
_NO_STDERR = "import os\nos.dup2(os.open(os.devnull, os.O_WRONLY), 2)\n"


def cluster_at(address: str) -> Workers:
    """Return the workers of a cluster, all that it has at any time.

    Parameters
    ----------
    address : str
        Of its scheduler, such as "tcp://10.0.0.1:8786"; "local" starts a cluster on this machine
        for as long as it is used.

    Raises
    ------
    UsageError
        If Dask is not installed; once it begins, if no scheduler answers there, or if its workers
        have other versions than this process of what makes the numbers.
    """
    if find_spec("distributed") is None:
        raise UsageError(f"{address}: needs Dask: pip install 'preloadmc[cluster]'")
    if address != LOCAL and not _WITH_PORT.search(address):
        raise UsageError(
            f"{address}: an address with its port, such as tcp://10.0.0.1:8786, or '{LOCAL}'"
        )
    return _Cluster(address)


class _Cluster:
    def __init__(self, address: str) -> None:
        self._address = address
        self._stack = ExitStack()
        self._client: distributed.Client | None = None
        self._tasks: dict[str, distributed.Future[Any]] = {}
        self._count, self._looked, self._had_workers = 0, 0.0, 0.0

    def __enter__(self) -> Self:
        with self._stack:
            self._stack.enter_context(_quiet())
            self._client = self._called()
            self._had_workers = time.monotonic()
            self._check_versions()
            self._stack = self._stack.pop_all()
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()

    @property
    def count(self) -> int:
        """Return how many batches the cluster computes at a time; 1 may wait for a worker."""
        now = time.monotonic()
        if now < self._looked + _BETWEEN_LOOKS:
            return max(self._count, 1)
        self._looked = now
        self._count = sum(self._asked(lambda client: client.nthreads()).values())
        if self._count:
            self._had_workers = now
        elif now > self._had_workers + _LONGEST_WITHOUT_WORKERS:
            raise PreloadError(
                f"{self._address}: has had no worker for {_LONGEST_WITHOUT_WORKERS:.0f} s"
            )
        return max(self._count, 1)

    def submit(self, task: Task, items: Sequence[Any]) -> Future[Answer]:
        """Compute a batch; an exception of Dask becomes one of the words here."""
        ours: Future[Answer] = Future()
        ours.set_running_or_notify_cancel()  # from here on only Dask ends it
        batch = as_batch(items)

        def outcome(theirs: distributed.Future[Any]) -> None:
            try:
                ours.set_result(theirs.result())
            except BaseException as error:
                ours.set_exception(self._in_words(error))

        def submitted(client: distributed.Client) -> distributed.Future[Any]:
            # It is a task itself, which Dask computes again where all workers that had it are
            # gone, and hands on from worker to worker.
            if task.key not in self._tasks:
                self._tasks = {task.key: client.submit(loaded, task.content, pure=False)}
            kept = self._tasks[task.key]
            return client.submit(_answer, kept, _versions(), batch, pure=False, retries=0)

        self._asked(submitted).add_done_callback(outcome)
        return ours

    def _called(self) -> distributed.Client:
        """Return the client of the cluster, which is started if it is one of this machine."""
        import dask
        from distributed import Client, LocalCluster

        address: str | LocalCluster = self._address
        if address == LOCAL:
            settings = {
                # One death is enough: what is tried next is decided here.
                "distributed.scheduler.allowed-failures": 0,
                "distributed.scheduler.http.routes": [],
                "distributed.worker.preload": [_NO_STDERR],
                # A worker that is just being replaced at that moment would be given up.
                "distributed.deploy.lost-worker-timeout": "365 days",
            }
            self._stack.enter_context(dask.config.set(settings))
            with no_interrupts_here():
                address = LocalCluster(
                    n_workers=cores(),
                    threads_per_worker=1,
                    dashboard_address="127.0.0.1:0",
                    scheduler_kwargs={"dashboard": False},
                    silence_logs=_SILENT,
                )
            self._stack.callback(address.close, timeout=_LONGEST_CALL)
        try:
            client = Client(address, timeout=_LONGEST_CALL, set_as_default=False)
        except (OSError, ValueError, ImportError) as error:
            raise UsageError(
                f"{self._address}: no Dask scheduler answers there: {error}"
            ) from error
        self._stack.callback(client.close, timeout=1)
        return client

    def _check_versions(self) -> None:
        """Raise UsageError unless all workers have our versions; the first may be waited for."""
        try:
            self._asked(lambda client: client.wait_for_workers(1, timeout=_LONGEST_WITHOUT_WORKERS))
        except TimeoutError:
            raise UsageError(
                f"{self._address}: has no worker, {_LONGEST_WITHOUT_WORKERS:.0f} s after the call"
            ) from None
        ours = _versions()
        found = self._asked(lambda client: client.run(_versions, on_error="return"))
        words = {_different(ours, theirs) for theirs in found.values() if theirs != ours}
        if words:
            raise UsageError(
                f"{self._address}: its workers would not compute as this process does: "
                f"{'; '.join(sorted(words))}; install the same versions there"
            )

    def _asked(self, call: Callable[[distributed.Client], Any]) -> Any:
        """Return what the cluster answers; PreloadError where it is gone."""
        client = self._client
        if client is None or client.status != "running":
            raise self._lost()
        try:
            return call(client)
        except TimeoutError:
            raise
        except (OSError, RuntimeError) as error:  # errors of Dask's connections are of these
            raise self._lost() from error

    def _lost(self) -> PreloadError:
        return PreloadError(f"{self._address}: the connection to the Dask scheduler was lost")

    def _in_words(self, error: BaseException) -> Exception:
        """Return what an exception of Dask means for a batch."""
        from distributed import KilledWorker

        if isinstance(error, KilledWorker):
            times = int(getattr(error, "allowed_failures", 0)) + 1
            return WorkerLostError("the worker that had it died", times)
        if isinstance(error, CancelledError):
            return self._lost()
        if isinstance(error, PreloadError):
            return PreloadError(f"{self._address}: {error}")
        return PreloadError(f"{self._address}: {type(error).__name__}: {error}")


def _versions() -> dict[str, str]:
    """Return the versions on which results depend, of the process that is asked."""
    import numpy
    import scipy

    from preloadmc import __version__

    return {"preloadmc": __version__, "numpy": numpy.__version__, "scipy": scipy.__version__}


def _different(ours: dict[str, str], theirs: dict[str, str] | BaseException) -> str:
    if isinstance(theirs, BaseException):
        return f"{type(theirs).__name__}: {theirs}"
    return ", ".join(
        f"{name} {theirs[name]}, here {ours[name]}" for name in ours if theirs[name] != ours[name]
    )


def _answer(
    kept: tuple[Callable[..., list[Any]], object], versions: dict[str, str], batch: bytes
) -> Answer:
    """Answer a batch on a worker, which may have joined after the others were checked."""
    here = _versions()
    if here != versions:
        raise PreloadError(f"a worker that joined has {_different(versions, here)}")
    return answered(lambda: kept, batch)


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep what Dask logs and warns of from the terminal: what matters is told by exceptions."""
    import distributed  # noqa: F401 - it makes its loggers

    names = [name for name in logging.root.manager.loggerDict if name.split(".")[0] in _NOISY]
    loggers = [logging.getLogger(name) for name in (*_NOISY, *names)]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(_SILENT)
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", module=r"(distributed|dask|tornado)\b")
            yield
    finally:
        for logger, level in zip(loggers, before, strict=True):
            logger.setLevel(level)
