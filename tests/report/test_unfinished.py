"""Finished rows on the disk: whole after kills and full disks, resumed under the same mark only."""

import errno
import json
import os
import tracemalloc
import zlib

import pytest

from preloadmc.errors import PreloadError, UsageError
from preloadmc.report import unfinished
from preloadmc.report.unfinished import Unfinished

SUM = "a" * 64
MARK = {"preloadmc": "0.1.0", "register": SUM, "templates": {"drive.toml": SUM}, "seed": 7}


def row(number):
    return {"key": f"{number:032x}", "joint": f"µ {number}", "share": number / 7}


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "reports" / "line"


@pytest.fixture
def rows_file(folder):
    return folder.with_name("line.unfinished") / "rows.txt"


def test_rows_come_back_in_any_order(folder, rows_file):
    with Unfinished.begin(folder, MARK) as store:
        assert list(store.rows_in(store.keys)) == []
        store.add(row(number) for number in (3, 1))
        store.add([])
        store.add([row(2)])
        assert [found["joint"] for found in store.rows_in(store.keys)] == ["µ 3", "µ 1", "µ 2"]
        order = [row(number)["key"] for number in (1, 2, 3, 1)]
        assert list(store.rows_in(order)) == [row(1), row(2), row(3), row(1)]
        assert store.keys == {row(number)["key"] for number in (1, 2, 3)}
        with pytest.raises(KeyError):
            list(store.rows_in(["other"]))
        with pytest.raises(ValueError, match=r"row 0+2 is finished already"):
            store.add([row(4), row(2)])
    assert rows_file.read_bytes().count(b"\n") == 3
    with Unfinished.resume(folder, MARK) as store:
        assert list(store.rows_in(store.keys)) == [row(3), row(1), row(2)]
        store.add([row(4)])
        assert list(store.rows_in([row(4)["key"], row(1)["key"]])) == [row(4), row(1)]


def test_removed_when_the_report_stands(folder):
    store = Unfinished.begin(folder, MARK)
    store.add([row(1)])
    store.remove()
    assert list(folder.parent.iterdir()) == []
    with pytest.raises(UsageError, match=r"line\.unfinished: holds no unfinished survey"):
        Unfinished.resume(folder, MARK)


def test_what_others_put_there_stays(folder, rows_file):
    store = Unfinished.begin(folder, MARK)
    (rows_file.parent / "notes.txt").write_text("mine")
    store.remove()
    assert [path.name for path in rows_file.parent.iterdir()] == ["notes.txt"]
    for overwrite in (False, True):
        with pytest.raises(UsageError, match="holds something else than an unfinished survey"):
            Unfinished.begin(folder, MARK, overwrite)


def test_rows_are_not_begun_over_unless_asked(folder):
    with Unfinished.begin(folder, MARK) as store:
        store.add([row(1)])
    words = "go on with --resume, or name another folder, or drop it with --overwrite"
    with pytest.raises(UsageError, match=words):
        Unfinished.begin(folder, MARK)
    with Unfinished.resume(folder, MARK) as store:
        assert len(store.keys) == 1
    with Unfinished.begin(folder, {"seed": 8}, overwrite=True) as store:
        assert list(store.rows_in(store.keys)) == []
    with Unfinished.resume(folder, {"seed": 8}) as store:
        assert len(store.keys) == 0


@pytest.mark.parametrize("ask", [Unfinished.begin, Unfinished.resume])
def test_two_surveys_at_once_are_refused(folder, ask):
    with (
        Unfinished.begin(folder, MARK),
        pytest.raises(UsageError, match="another survey is writing there"),
    ):
        ask(folder, MARK)
    Unfinished.resume(folder, MARK).close()


def test_every_change_of_the_mark_is_told(folder):
    Unfinished.begin(folder, {**MARK, "old": 1}).close()
    changed = {
        "preloadmc": "0.2.0",
        "register": "b" * 64,
        "templates": {"drive.toml": "b" * 64, "roller.toml": SUM},
        "seed": 7,
    }
    with pytest.raises(UsageError) as caught:
        Unfinished.resume(folder, changed)
    head, *lines = str(caught.value).split("\n")
    assert head.endswith("line.unfinished: cannot be resumed; begin again with --overwrite")
    assert lines == [
        "  - old: no longer there",
        "  - preloadmc: changed since the survey began (0.1.0, now 0.2.0)",
        "  - register: changed since the survey began",
        "  - templates: drive.toml: changed since the survey began",
        "  - templates: roller.toml: was not there when the survey began",
    ]


@pytest.mark.parametrize("cut", range(1, 60, 7))
def test_a_line_that_was_cut_off_is_dropped(folder, rows_file, cut):
    with Unfinished.begin(folder, MARK) as store:
        store.add([row(1), row(2)])
    content = rows_file.read_bytes()
    rows_file.write_bytes(content[:-cut])
    with Unfinished.resume(folder, MARK) as store:
        assert list(store.rows_in(store.keys)) == [row(1)]
        store.add([row(2)])
    assert rows_file.read_bytes() == content


def with_sum(text):
    """A line as it is kept: its checksum (CRC-32, as zlib has it) before it."""
    return b"%08x %b\n" % (zlib.crc32(text), text)


@pytest.mark.parametrize(
    "line",
    [
        b'{"key": \n',
        b"\n",
        b"\0\0\0\n",
        b"\xff\n",
        with_sum(b'{"joint": "a"}'),
        with_sum(json.dumps(row(1)).encode()),
        with_sum(json.dumps(row(2)).encode()).replace(b"joint", b"Joint"),
    ],
)
def test_another_damage_is_refused(folder, rows_file, line):
    with Unfinished.begin(folder, MARK) as store:
        store.add([row(1)])
    rows_file.write_bytes(rows_file.read_bytes() + line)
    with pytest.raises(PreloadError, match=r"line 2 is damaged; begin again with --overwrite"):
        Unfinished.resume(folder, MARK)
    # It is not kept locked, either.
    Unfinished.begin(folder, MARK, overwrite=True).close()


def test_a_damaged_mark_is_refused(folder, rows_file):
    Unfinished.begin(folder, MARK).close()
    (rows_file.parent / "mark.json").write_text("{")
    with pytest.raises(PreloadError, match=r"mark\.json: is damaged"):
        Unfinished.resume(folder, MARK)


def test_a_begin_that_was_killed_is_begun_again(folder, rows_file):
    rows_file.parent.mkdir(parents=True)
    (rows_file.parent / "mark.json.new").write_text("{")
    with Unfinished.begin(folder, MARK) as store:
        store.add([row(1)])
    assert sorted(path.name for path in rows_file.parent.iterdir()) == ["mark.json", "rows.txt"]


def test_a_full_disk_keeps_what_was_written_whole(folder, rows_file, monkeypatch):
    left = [250]
    write = os.write

    def until_full(handle, data):
        """A disk with so many bytes left: the last piece that fits is written, as systems do."""
        if not left[0]:
            raise OSError(errno.ENOSPC, "No space left on device")
        count = write(handle, bytes(data[: left[0]]))
        left[0] -= count
        return count

    with Unfinished.begin(folder, MARK) as store:
        monkeypatch.setattr(unfinished.os, "write", until_full)
        store.add([row(1)])
        store.add([row(2)])
        whole = rows_file.read_bytes()
        words = (
            "cannot be written: No space left on device; the 2 rows finished before are there, "
            "go on with --resume"
        )
        with pytest.raises(PreloadError, match=words):
            store.add([row(3), row(4)])
        assert left == [0]
        assert rows_file.read_bytes() == whole
        assert len(store.keys) == 2
    monkeypatch.undo()
    with Unfinished.resume(folder, MARK) as store:
        assert list(store.rows_in(store.keys)) == [row(1), row(2)]


def test_the_disk_is_synced_at_most_once_a_second(folder, monkeypatch):
    now, synced = [1000.0], []
    monkeypatch.setattr(unfinished.time, "monotonic", lambda: now[0])
    with Unfinished.begin(folder, MARK) as store:
        monkeypatch.setattr(unfinished.os, "fsync", lambda handle: synced.append(now[0]))
        for number in range(100):
            now[0] += 0.1
            store.add([row(number)])
        assert 9 <= len(synced) <= 10
    assert synced[-1] == now[0]


def test_of_a_row_little_is_held_in_memory(folder):
    with Unfinished.begin(folder, MARK) as store:
        for first in range(0, 10_000, 1000):
            store.add({**row(number), "text": "x" * 2000} for number in range(first, first + 1000))
    tracemalloc.start()
    try:
        with Unfinished.resume(folder, MARK) as store:
            held, most = tracemalloc.get_traced_memory()
            assert len(store.keys) == 10_000
    finally:
        tracemalloc.stop()
    # A key of 32 letters and a place: 81 + 32 bytes in CPython, and some 100 for both in a dict;
    # a row has 2,100.
    assert held / 10_000 < 300
    assert most / 10_000 < 400


def test_numbers_that_json_does_not_hold_are_refused(folder, rows_file):
    with Unfinished.begin(folder, MARK) as store:
        with pytest.raises(ValueError, match="not JSON compliant"):
            store.add([row(1), {"key": "a", "share": float("nan")}])
        assert (rows_file.read_bytes(), len(store.keys)) == (b"", 0)


def test_a_place_that_cannot_be_is_told(folder, rows_file):
    rows_file.parent.parent.mkdir(parents=True)
    rows_file.parent.write_text("a file")
    with pytest.raises(UsageError, match=r"line\.unfinished: is a file"):
        Unfinished.begin(folder, MARK)
    with pytest.raises(UsageError, match="holds no unfinished survey"):
        Unfinished.resume(folder, MARK)
