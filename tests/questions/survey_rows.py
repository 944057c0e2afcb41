"""Functions of rows that workers of a survey import: right, slow, failing, deadly ones."""

import os
import signal
import sys
import time
from pathlib import Path

from preloadmc.questions.survey.batches import in_batches
from preloadmc.questions.survey.workers import processes
from preloadmc.report.unfinished import Unfinished


def squares(payload, items):
    """The square of each number plus the payload."""
    return [payload + item * item for item in items]


def logged(payload, items):
    """Squares, each written into a file of this process when it is computed, after a while."""
    folder, seconds = payload
    for item in items:
        time.sleep(seconds)
        with (Path(folder) / f"{os.getpid()}.log").open("a") as file:
            file.write(f"{item}\n")
    return [item * item for item in items]


def file_of(payload, items):
    """The file of the payload, for each item."""
    return [payload.file for _ in items]


def slow(payload, items):
    """Squares, after a time for each."""
    time.sleep(payload * len(items))
    return [item * item for item in items]


def inverses(payload, items):
    """1 / (item - payload): it raises at the payload."""
    return [1 / (item - payload) for item in items]


def short(payload, items):
    """One result too few."""
    return items[1:]


def no_pickle(payload, items):
    """Results that pickle does not take."""
    return [lambda: None for _ in items]


def deadly(payload, items):
    """Squares; one item kills its worker, until a file is there if one is named."""
    bad, flag = payload
    if bad in items and not (flag and Path(flag).exists()):
        if flag:
            Path(flag).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return squares(0, items)


def deadly_for_all(payload, items):
    """It ends every worker."""
    os._exit(7)


def process_and_threads(payload, items):
    """Where each item is computed, and with how many threads of linear algebra."""
    time.sleep(0.02)
    return [(os.getpid(), os.environ.get("OMP_NUM_THREADS")) for _ in items]


class Counted:
    """A payload that writes down each time a worker reads it."""

    def __init__(self, file):
        self.file = file

    def __setstate__(self, state):
        self.__dict__.update(state)
        with Path(self.file).open("a") as file:
            file.write(f"{os.getpid()}\n")


def survey(folder, count):
    """Go on with a survey of numbers, or begin it: the process that a test kills."""
    mark = {"numbers": count}
    place = folder / "report.unfinished" / "mark.json"
    store = (Unfinished.resume if place.exists() else Unfinished.begin)(folder / "report", mark)
    with store, processes(2) as workers:
        in_batches(
            workers,
            logged,
            (str(folder), 0.01),
            (item for item in range(count) if str(item) not in store.keys),
            done=lambda items, results: store.add(
                {"key": str(item), "square": square}
                for item, square in zip(items, results, strict=True)
            ),
            failed=print,
            seconds=0.05,
        )


if __name__ == "__main__":
    survey(Path(sys.argv[1]), int(sys.argv[2]))
