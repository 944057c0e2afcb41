"""A report folder: refused, or replaced as a whole."""

import errno
import json
from pathlib import Path

import pytest

from preloadmc.errors import PreloadError, UsageError
from preloadmc.report.folder import check_folder, write_folder

MADE_BY = {"question": "run", "case_sha256": "abc", "seed": 7}


def report(folder, **changed):
    mark = {"preloadmc": "0.1.0", **MADE_BY, **changed}
    write_folder(folder, {"report.json": json.dumps(mark).encode(), "report.txt": b"old"})
    return folder


def test_a_new_folder_and_its_parents(tmp_path):
    folder = tmp_path / "reports" / "joint"
    check_folder(folder, MADE_BY, overwrite=False)
    assert list(tmp_path.iterdir()) == []  # asking makes nothing
    write_folder(folder, {"report.txt": b"text", "figures/path.svg": b"<svg/>"})
    assert (folder / "report.txt").read_bytes() == b"text"
    assert (folder / "figures" / "path.svg").exists()
    assert [path.name for path in folder.parent.iterdir()] == ["joint"]


def test_an_empty_folder_is_taken(tmp_path):
    check_folder(tmp_path, MADE_BY, overwrite=False)


def test_a_report_of_the_same_case_and_options_is_replaced_as_a_whole(tmp_path):
    folder = report(tmp_path / "joint")
    check_folder(folder, MADE_BY, overwrite=False)
    write_folder(folder, {"report.json": b"{}"})
    assert [path.name for path in folder.iterdir()] == ["report.json"]
    assert [path.name for path in tmp_path.iterdir()] == ["joint"]


@pytest.mark.parametrize("changed", [{"seed": 8}, {"case_sha256": "def"}, {"question": "rank"}])
def test_a_report_of_another_case_or_options_is_refused(tmp_path, changed):
    folder = report(tmp_path / "joint", **changed)
    words = "holds the report of another case or other options; name another folder, or replace"
    with pytest.raises(UsageError, match=words):
        check_folder(folder, MADE_BY, overwrite=False)
    check_folder(folder, MADE_BY, overwrite=True)


@pytest.mark.parametrize("content", [None, b"", b"not json", b"[]", b'{"seed": 7}', b"\xff"])
def test_what_is_no_report_is_never_replaced(tmp_path, content):
    (tmp_path / "thesis.txt").write_text("years of work")
    if content is not None:
        (tmp_path / "report.json").write_bytes(content)
    for overwrite in (False, True):
        with pytest.raises(UsageError, match="holds something else than a report of this program"):
            check_folder(tmp_path, MADE_BY, overwrite)
    assert (tmp_path / "thesis.txt").read_text() == "years of work"


def test_a_file_in_its_place(tmp_path):
    (tmp_path / "joint").write_text("")
    with pytest.raises(UsageError, match="is a file; a folder is needed for the report"):
        check_folder(tmp_path / "joint", MADE_BY, overwrite=True)


def test_below_a_file(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(UsageError, match=r"cannot be made, .*file is not a folder"):
        check_folder(tmp_path / "file" / "joint", MADE_BY, overwrite=False)


def test_where_nothing_can_be_written():
    with pytest.raises(UsageError, match="cannot be written to: "):
        check_folder(Path("/proc/joint"), MADE_BY, overwrite=False)


def test_a_disk_that_fills_up_leaves_the_old_report(tmp_path, monkeypatch):
    folder = report(tmp_path / "joint")
    written = Path.write_bytes

    def full(self, data):
        if self.name == "b.txt":
            raise OSError(errno.ENOSPC, "No space left on device")
        return written(self, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(PreloadError, match="joint: cannot be written: No space left on device"):
        write_folder(folder, {"a.txt": b"", "b.txt": b""})
    assert (folder / "report.txt").read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["joint"]


def test_an_interrupt_leaves_the_old_report(tmp_path, monkeypatch):
    folder = report(tmp_path / "joint")

    def interrupted(self, data):
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "write_bytes", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_folder(folder, {"a.txt": b""})
    assert (folder / "report.txt").read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["joint"]
