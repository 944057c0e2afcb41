"""Rows shared out to workers: all done once, whatever dies, raises or is interrupted."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from importlib.util import find_spec
from pathlib import Path

import pytest
import survey_rows

from preloadmc import __version__
from preloadmc.errors import PreloadError, UsageError
from preloadmc.questions.survey import batches, cluster
from preloadmc.questions.survey.batches import in_batches
from preloadmc.questions.survey.cluster import cluster_at
from preloadmc.questions.survey.workers import Answer, Task, processes
from preloadmc.report.unfinished import Unfinished

HERE = Path(__file__).parent
linux = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")


def computed(workers, function, payload, items, **options):
    """Results by item, what failed, and the sizes of batches."""
    results, failures, sizes = {}, {}, []

    def done(batch, found):
        sizes.append(len(batch))
        assert not results.keys() & set(batch)
        results.update(zip(batch, found, strict=True))

    def failed(item, words):
        assert item not in failures
        failures[item] = words

    with workers as begun:
        in_batches(begun, function, payload, iter(items), done=done, failed=failed, **options)
    return results, failures, sizes


def state_and_parent(process):
    """The state of a process and who started it, as proc_pid_stat(5) has them; X if it is gone."""
    try:
        state, parent = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[:2]
    except OSError:
        return "X", 0
    return state, int(parent)


def alive(processes_once):
    """Those of some processes that run still."""
    return {each for each in processes_once if state_and_parent(each)[0] not in "ZX"}


def children_of(process):
    """The running children of a process."""
    every = (int(path.name) for path in Path("/proc").glob("[0-9]*"))
    return alive(each for each in every if state_and_parent(each)[1] == process)


def until(condition, seconds=20.0):
    """Wait for a condition."""
    last = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < last, "it did not come about"
        time.sleep(0.02)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_any_number_of_workers_gives_the_same(count):
    results, failures, sizes = computed(processes(count), survey_rows.squares, 7, range(5000))
    assert results == {item: 7 + item * item for item in range(5000)}
    assert failures == {}
    assert max(sizes) == 2000


def test_no_items():
    assert computed(processes(2), survey_rows.squares, 7, []) == ({}, {}, [])


def test_one_worker_is_this_process_and_more_are_children():
    found, _, _ = computed(processes(1), survey_rows.process_and_threads, None, range(3))
    assert {process for process, _ in found.values()} == {os.getpid()}
    found, _, _ = computed(
        processes(2), survey_rows.process_and_threads, None, range(300), seconds=0.01
    )
    assert len({process for process, _ in found.values()} - {os.getpid()}) == 2
    assert {threads for _, threads in found.values()} == {os.environ.get("OMP_NUM_THREADS", "1")}


@pytest.mark.parametrize("count", [1, 2])
def test_what_batches_share_is_read_once_by_each_worker(count, tmp_path):
    payload = survey_rows.Counted(str(tmp_path / "read"))
    results, _, sizes = computed(
        processes(count), survey_rows.file_of, payload, range(3000), seconds=1e-4
    )
    assert set(results.values()) == {payload.file}
    assert len(sizes) > 2 * count
    read = (tmp_path / "read").read_text().split()
    assert len(read) == len(set(read)) <= count


def test_none_is_no_number_of_workers():
    with pytest.raises(UsageError, match=r"workers: at least 1 \(given: 0\)"):
        processes(0)


def test_batches_take_about_the_time_asked():
    # 1 ms an item: 4, 32, then 100 ms are at most 100 items; the machine may be slow, never fast.
    _, _, sizes = computed(processes(1), survey_rows.slow, 0.001, range(600), seconds=0.1)
    assert sizes[:2] == [4, 32]
    assert all(20 <= size <= 100 for size in sizes[2:-1])


def test_items_are_asked_for_as_workers_get_free():
    asked, done = [], []

    def items():
        for item in range(10_000):
            asked.append(item)
            yield item

    def finished(batch, _):
        done.extend(batch)
        # What is asked for and not done: a batch of each worker.
        assert len(asked) - len(done) <= 2000

    with processes(1) as workers:
        in_batches(workers, survey_rows.squares, 0, items(), done=finished, failed=pytest.fail)
    assert sorted(done) == asked


@pytest.mark.parametrize("count", [1, 2])
def test_an_item_at_which_the_function_raises_is_found(count):
    results, failures, _ = computed(processes(count), survey_rows.inverses, 77, range(300))
    assert failures == {77: "tried 3 times: ZeroDivisionError: division by zero"}
    assert results == {item: 1 / (item - 77) for item in range(300) if item != 77}


@pytest.mark.parametrize(
    ("function", "words"),
    [
        (survey_rows.short, "ValueError: 0 results of 1 items"),
        (survey_rows.no_pickle, "pickle"),
    ],
)
def test_results_that_cannot_be_are_told(function, words):
    results, failures, _ = computed(processes(1), function, None, range(2))
    assert results == {}
    assert set(failures) == {0, 1}
    assert words in failures[0]


def test_a_worker_that_dies_once_costs_a_retry(tmp_path):
    payload = (77, str(tmp_path / "died"))
    results, failures, _ = computed(processes(2), survey_rows.deadly, payload, range(300))
    assert (tmp_path / "died").exists()
    assert failures == {}
    assert results == {item: item * item for item in range(300)}


@pytest.mark.slow
def test_an_item_that_always_kills_its_worker_is_found():
    results, failures, _ = computed(processes(2), survey_rows.deadly, (5, None), range(40))
    assert list(failures) == [5]
    assert failures[5].startswith("tried 3 times: its worker process died: killed")
    assert set(results) == set(range(40)) - {5}


def test_where_everything_fails_it_stops(monkeypatch):
    monkeypatch.setattr(batches, "_HOPELESS", 4)
    with pytest.raises(PreloadError, match="the first 4 tries failed; ZeroDivisionError"):
        computed(processes(1), survey_rows.inverses, 0, [0] * 100)


@linux
def test_an_error_while_results_are_taken_leaves_no_process():
    before = children_of(os.getpid())

    def full(batch, results):
        assert len(children_of(os.getpid()) - before) >= 2
        raise PreloadError("disk full")

    with pytest.raises(PreloadError, match="disk full"), processes(2) as workers:
        in_batches(workers, survey_rows.slow, 0.2, range(50), done=full, failed=pytest.fail)
    # The tracker of multiprocessing stays for the next workers.
    until(lambda: len(children_of(os.getpid()) - before) <= 1, 5)


@linux
def test_an_interrupt_stops_the_children_at_once():
    done, children = [], set()
    begun = time.monotonic()

    def interrupt():
        # As the keyboard does: to the children, which ignore it, as well.
        children.update(children_of(os.getpid()))
        for process in (*children, os.getpid()):
            os.kill(process, signal.SIGINT)

    def first(batch, results):
        if not done:
            threading.Timer(0.3, interrupt).start()
        done.extend(batch)

    # After four quick items of each worker, batches of 32 that would take two minutes.
    with pytest.raises(KeyboardInterrupt), processes(2) as workers:
        in_batches(
            workers, survey_rows.slow, 0.1, range(10**6), done=first, failed=pytest.fail,
            seconds=120,
        )  # fmt: skip
    assert time.monotonic() - begun < 15
    assert set(range(4)) & set(done)
    # The tracker of multiprocessing stays for the next workers.
    assert len(children) >= 2
    until(lambda: len(alive(children)) <= len(children) - 2, 5)


@pytest.mark.slow
def test_where_all_workers_die_it_stops(monkeypatch):
    monkeypatch.setattr(batches, "_HOPELESS", 4)
    words = "stopped: the first 4 tries failed; its worker process died"
    with pytest.raises(PreloadError, match=words):
        computed(processes(2), survey_rows.deadly_for_all, None, range(1000))


@linux
@pytest.mark.slow
def test_a_survey_killed_again_and_again_computes_no_finished_row_twice(tmp_path):
    command = [sys.executable, str(HERE / "survey_rows.py"), str(tmp_path), "300"]
    rows = tmp_path / "report.unfinished" / "rows.txt"
    wasted = 0
    for least in (20, 120):
        process = subprocess.Popen(command)
        until(lambda least=least: rows.exists() and rows.read_bytes().count(b"\n") > least)
        children = children_of(process.pid)
        assert len(children) >= 2
        process.kill()
        process.wait()
        until(lambda children=children: not alive(children), 5)
        # What was computed and not handed over: of each of two workers a batch, about 0.05 s of
        # 0.01 s a row, and never above the growth from there.
        logs = sum(path.read_text().count("\n") for path in tmp_path.glob("*.log"))
        lost = logs - rows.read_bytes().count(b"\n") - wasted
        assert 0 <= lost <= 2 * 40
        wasted += lost
    subprocess.run(command, check=True)
    computed_rows = [
        int(line) for path in tmp_path.glob("*.log") for line in path.read_text().splitlines()
    ]
    assert set(computed_rows) == set(range(300))
    assert len(computed_rows) == 300 + wasted
    with Unfinished.resume(tmp_path / "report", {"numbers": 300}) as store:
        found = {row["key"]: row["square"] for row in store.rows_in(store.keys)}
    assert found == {str(item): item * item for item in range(300)}


def test_a_missing_dask_is_told(monkeypatch):
    monkeypatch.setattr(cluster, "find_spec", lambda name: None)
    with pytest.raises(UsageError, match=r"needs Dask: pip install 'preloadmc\[cluster\]'"):
        cluster_at("local")


def test_what_is_no_cluster_is_told(monkeypatch, capfd):
    assert find_spec("distributed")  # it is in the extra `test`
    monkeypatch.setattr(cluster, "_LONGEST_CALL", 0.3)
    with pytest.raises(UsageError, match="nonsense: an address with its port"):
        cluster_at("nonsense")
    for address in ("nonsense:1", "tcp://127.0.0.1:1"):
        with (
            pytest.raises(UsageError, match=f"{address}: no Dask scheduler answers there"),
            cluster_at(address),
        ):
            pass
    assert capfd.readouterr() == ("", "")


def test_dask_is_imported_only_when_asked():
    code = (
        "import sys; from preloadmc.questions.survey import workers, batches, cluster; "
        "cluster.cluster_at('local'); print('distributed' in sys.modules)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout == "False\n"


@pytest.mark.slow
def test_a_cluster_of_this_machine_gives_the_same_and_says_nothing(monkeypatch, tmp_path, capfd):
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(sys.path))
    results, failures, _ = computed(cluster_at("local"), survey_rows.squares, 7, range(5000))
    assert (results, failures) == ({item: 7 + item * item for item in range(5000)}, {})
    _, failures, _ = computed(cluster_at("local"), survey_rows.inverses, 77, range(100))
    assert failures == {77: "tried 3 times: ZeroDivisionError: division by zero"}
    payload = (17, str(tmp_path / "died"))
    results, failures, _ = computed(cluster_at("local"), survey_rows.deadly, payload, range(40))
    assert (len(results), failures) == (40, {})
    results, failures, _ = computed(cluster_at("local"), survey_rows.deadly, (5, None), range(8))
    assert failures == {5: "tried 3 times: the worker that had it died"}
    assert len(results) == 7
    assert capfd.readouterr() == ("", "")


@pytest.mark.slow
def test_a_cluster_elsewhere_whose_workers_join_leave_and_whose_scheduler_goes(
    monkeypatch, tmp_path, capfd
):
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(sys.path))
    file = tmp_path / "scheduler.json"
    options = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    dask = [sys.executable, "-m", "dask"]
    scheduler = [*dask, "scheduler", "--port", "0", "--no-dashboard", "--scheduler-file", str(file)]
    worker = [*dask, "worker", "--nthreads", "1", "--no-dashboard", "--scheduler-file", str(file)]
    started = [subprocess.Popen(scheduler, **options)]
    done = []

    def finished(batch, results):
        done.extend(batch)
        if len(done) > 100 and len(started) == 2:
            started.append(subprocess.Popen(worker, **options))
        if len(done) > 500 and len(started) == 3:
            started[1].terminate()
            started.append(None)
        if len(done) > 800 and started[3] is None:
            started[0].kill()

    try:
        until(lambda: file.exists() and file.read_text().endswith("}"))
        address = json.loads(file.read_text())["address"]
        started.append(subprocess.Popen(worker, **options))
        with monkeypatch.context() as patch:
            patch.setattr("preloadmc.__version__", "0.0.9")
            words = f"preloadmc {__version__}, here 0.0.9; install the same versions there"
            with pytest.raises(UsageError, match=words), cluster_at(address):
                pass
        words = "the connection to the Dask scheduler was lost"
        with pytest.raises(PreloadError, match=words), cluster_at(address) as workers:
            in_batches(
                workers, survey_rows.slow, 0.01, iter(range(10**6)), done=finished,
                failed=pytest.fail, seconds=0.2,
            )  # fmt: skip
    finally:
        for process in started:
            if process is not None:
                process.kill()
                process.wait()
    assert len(done) > 800
    assert len(done) == len(set(done))
    assert capfd.readouterr() == ("", "")


def test_a_task_is_the_same_bytes_for_all_batches():
    task = Task.of(survey_rows.squares, {"template": "x" * 1000})
    assert len(task.content) < 1200
    assert task == Task.of(survey_rows.squares, {"template": "x" * 1000})
    assert task.key != Task.of(survey_rows.squares, {"template": "y" * 1000}).key
    with pytest.raises(EOFError):
        _ = Answer().results
