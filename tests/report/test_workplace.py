"""The hidden place beside a report: by which way it is replaced, and what killed runs leave."""

import multiprocessing
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from killed_writer import files, number_of, without_exchange

from preloadmc.errors import PreloadError
from preloadmc.report import workplace
from preloadmc.report.folder import check_folder, write_folder

WRITER = Path(__file__).parent / "killed_writer.py"
WAYS = ("exchange", "two renames")


def listed(folder):
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture(params=WAYS)
def way(request, monkeypatch):
    """Either way to replace a folder."""
    if request.param == "two renames":
        monkeypatch.setattr(workplace, "exchange", without_exchange)
    return request.param


def test_this_system_exchanges(tmp_path, monkeypatch):
    told = []
    exchange = workplace.exchange

    def watched(one, other):
        told.append(exchange(one, other))
        return told[-1]

    monkeypatch.setattr(workplace, "exchange", watched)
    write_folder(tmp_path / "joint", files(1))
    assert told == []
    write_folder(tmp_path / "joint", files(2))
    assert told == [sys.platform == "linux"]


def test_an_interrupt_while_the_place_is_made_leaves_nothing(tmp_path, monkeypatch):
    made = Path.mkdir

    def interrupted(path, *args, **options):
        made(path, *args, **options)
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "mkdir", interrupted)
    with pytest.raises(KeyboardInterrupt), workplace.workplace(tmp_path / "joint"):
        pass
    assert listed(tmp_path) == []


def test_an_exchange(tmp_path):
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        (tmp_path / name / name).touch()
    assert workplace.exchange(tmp_path / "a", tmp_path / "b") is True
    assert (listed(tmp_path / "a"), listed(tmp_path / "b")) == (["b"], ["a"])
    with pytest.raises(FileNotFoundError):
        workplace.exchange(tmp_path / "a", tmp_path / "none")
    # renameat2(2): a folder cannot be put below itself, EINVAL, which a file system without
    # exchange says too.
    assert workplace.exchange(tmp_path, tmp_path / "a") is False


def test_both_ways_replace(tmp_path, way):
    for number in (1, 2):
        write_folder(tmp_path / "joint", files(number))
        assert number_of(tmp_path / "joint") == number
        assert listed(tmp_path) == ["joint"]


class Killed(BaseException):
    """Ends a write as a kill does: nothing is cleared away after it."""


def killed_at(monkeypatch, tmp_path, number, action):
    """Write a report, and die at the given call of an action of the workplace."""
    calls = []
    true_action = getattr(workplace.Path, action)

    def dying(self, *others):
        calls.append(self)
        if len(calls) == number:
            raise Killed
        return true_action(self, *others)

    with monkeypatch.context() as patch:
        patch.setattr(workplace, "_cleared", lambda place: [])
        patch.setattr(workplace, "_clear_dead", lambda parent: None)
        patch.setattr(workplace, "_started", lambda process: "1")  # of another process
        patch.setattr(workplace.Path, action, dying)
        try:
            write_folder(tmp_path / "joint", files(2))
        except Killed:
            return True
    return False


@pytest.mark.parametrize("next_run", [check_folder, write_folder])
def test_a_run_killed_at_any_step_is_cleared_away_by_the_next(tmp_path, monkeypatch, way, next_run):
    died = []
    for action in ("write_bytes", "rename"):
        for number in range(1, 9):
            write_folder(tmp_path / "joint", files(1))
            died.append(killed_at(monkeypatch, tmp_path, number, action))
            assert len(listed(tmp_path)) == (2 if (tmp_path / "joint").exists() else 1)
            if next_run is check_folder:
                check_folder(tmp_path / "joint", {"number": 0}, overwrite=True)
                assert number_of(tmp_path / "joint") in (1, 2)
            else:
                write_folder(tmp_path / "joint", files(3))
                assert number_of(tmp_path / "joint") == 3
            assert listed(tmp_path) == ["joint"]
    # Seven files with the manifest; the rename of what was made, and the two of the old way.
    assert sum(died) == 7 + (1 if way == "exchange" else 3)


def test_a_write_beside_brings_a_report_back_that_is_between_two_renames(tmp_path, monkeypatch):
    monkeypatch.setattr(workplace, "exchange", without_exchange)
    write_folder(tmp_path / "joint", files(1))
    assert killed_at(monkeypatch, tmp_path, 3, "rename")
    assert not (tmp_path / "joint").exists()
    write_folder(tmp_path / "other", files(5))
    assert listed(tmp_path) == ["joint", "other"]
    assert number_of(tmp_path / "joint") == 1


def test_an_error_between_two_renames_brings_the_old_report_back(tmp_path, monkeypatch):
    write_folder(tmp_path / "joint", files(1))
    rename, calls = Path.rename, []

    def failing(self, target):
        calls.append(self)
        if len(calls) == 3:
            raise OSError(5, "Input/output error")
        return rename(self, target)

    monkeypatch.setattr(workplace, "exchange", without_exchange)
    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(PreloadError, match="cannot be written: Input/output error"):
        write_folder(tmp_path / "joint", files(2))
    assert (number_of(tmp_path / "joint"), listed(tmp_path)) == (1, ["joint"])


def test_what_only_looks_like_a_leftover_is_let_be(tmp_path):
    (tmp_path / ".preloadmc-notes").mkdir()
    (tmp_path / ".preloadmc-1-2-file").write_text("mine")
    mine = tmp_path / ".preloadmc-1-2-mine"
    mine.mkdir()
    (mine / "notes.txt").write_text("mine")
    write_folder(tmp_path / "joint", files(1))
    assert (mine / "notes.txt").read_text() == "mine"
    assert len(listed(tmp_path)) == 4


def test_work_of_a_living_process_is_let_be(tmp_path):
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as process:
        started = workplace._started(process.pid)
        live = tmp_path / f".preloadmc-{process.pid}-{started}-abc"
        reused = tmp_path / f".preloadmc-{process.pid}-{int(started) - 1}-abc"
        for place in (live, reused):
            (place / "making").mkdir(parents=True)
        write_folder(tmp_path / "joint", files(1))
        assert listed(tmp_path) == [live.name, "joint"]
        process.kill()
        process.wait()
    write_folder(tmp_path / "joint", files(1))
    assert listed(tmp_path) == ["joint"]


def test_a_run_that_does_not_end(tmp_path, monkeypatch):
    monkeypatch.setattr(workplace, "LONGEST_WAIT", 0.05)
    with (
        workplace.turn(tmp_path),
        pytest.raises(PreloadError, match="another run has been writing here for 0 s"),
    ):
        write_folder(tmp_path / "joint", files(1))


def write_many(folder, number):
    for each in range(15):
        write_folder(folder, files(100 * number + each))


@pytest.mark.parametrize("how_many", [4])
def test_several_runs_at_once(tmp_path, way, how_many):
    # Forked, so that they replace in the way of this test.
    context = multiprocessing.get_context("fork")
    folder = tmp_path / "joint"
    runs = [context.Process(target=write_many, args=(folder, n)) for n in range(how_many)]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    assert [run.exitcode for run in runs] == [0] * how_many
    assert number_of(folder) % 100 == 14
    assert listed(tmp_path) == ["joint"]


@pytest.mark.slow
@pytest.mark.parametrize("way_of_writing", WAYS)
def test_kills_at_random_times(tmp_path, record_property, way_of_writing):
    """500 kills: 250 each way, every fifth by SIGTERM."""
    draw = random.Random(20)
    folder = tmp_path / "joint"
    before = -1
    lost = leftovers = after = 0
    for kill in range(250):
        command = [sys.executable, str(WRITER), str(folder), way_of_writing, str(1000 * kill)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout.readline() == "ready\n"
            time.sleep(draw.uniform(0.0, 0.3))
            process.send_signal(signal.SIGTERM if kill % 5 == 0 else signal.SIGKILL)
        leftovers += any(name.startswith(".") for name in listed(tmp_path))
        lost += before >= 0 and not folder.exists()
        # The next check meets what is left.
        check_folder(folder, {}, overwrite=True)
        after += len([name for name in listed(tmp_path) if name != "joint"])
        if folder.exists():
            number = number_of(folder)
            assert number >= before
            before = number
    record_property("kills that left something", leftovers)
    record_property("kills between two renames", lost)
    assert after == 0
    assert before > 0
    assert leftovers > 50
    assert (lost == 0) == (way_of_writing == "exchange")
    assert listed(tmp_path) == ["joint"]
