"""A report folder: refused, or replaced as a whole."""

import errno
import hashlib
import json
import re
from pathlib import Path

import pytest

from preloadmc.errors import PreloadError, UsageError
from preloadmc.report import workplace
from preloadmc.report.folder import check_folder, write_folder
from preloadmc.report.manifest import manifest_of

MADE_BY = {"question": "run", "case_sha256": "abc", "seed": 7}


def report(folder, **changed):
    mark = {"preloadmc": "0.1.0", **MADE_BY, **changed}
    files = {"report.json": json.dumps(mark).encode(), "report.txt": b"old"}
    write_folder(folder, {**files, "inputs/case.toml": b"case"})
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
    assert {path.name for path in folder.iterdir()} == {"report.json", "manifest.json"}
    assert [path.name for path in tmp_path.iterdir()] == ["joint"]


@pytest.mark.parametrize("changed", [{"seed": 8}, {"case_sha256": "def"}, {"question": "rank"}])
def test_a_report_of_another_case_or_options_is_refused(tmp_path, changed):
    folder = report(tmp_path / "joint", **changed)
    words = "holds the report of another case or other options; name another folder, or replace"
    with pytest.raises(UsageError, match=words):
        check_folder(folder, MADE_BY, overwrite=False)
    check_folder(folder, MADE_BY, overwrite=True)


def added_file(folder):
    (folder / "notes.txt").write_text("mine")
    return "holds what is not of the report: notes.txt"


def added_in_a_subfolder(folder):
    (folder / "inputs" / "mine").write_text("mine")
    return "holds what is not of the report: inputs/mine"


def added_hidden_file(folder):
    (folder / ".mine").write_text("mine")
    return "holds what is not of the report: .mine"


def added_empty_folder(folder):
    (folder / "empty").mkdir()
    return "holds what is not of the report: empty/"


def added_link(folder):
    (folder / "link").symlink_to("nowhere")
    return "holds what is not of the report: link"


def added_many(folder):
    for number in range(7):
        (folder / f"mine-{number}").write_text("mine")
    return "mine-0, mine-1, mine-2, mine-3, mine-4 and 2 more"


def changed_by_hand(folder):
    (folder / "report.txt").write_text("my words")
    return "was changed since it was written: report.txt"


def turned_into_a_link(folder):
    (folder / "report.txt").rename(folder.parent / "kept.txt")
    (folder / "report.txt").symlink_to(folder.parent / "kept.txt")
    return "was changed since it was written: report.txt"


def turned_into_a_folder(folder):
    (folder / "report.txt").unlink()
    (folder / "report.txt").mkdir()
    return "holds what is not of the report: report.txt/"


def no_manifest(folder):
    (folder / "manifest.json").unlink()
    return "holds a report without a readable manifest.json, as older versions wrote it"


def other_manifest(folder):
    path = folder / "manifest.json"
    path.write_text(json.dumps(json.loads(path.read_text())))
    return "holds a report without a readable manifest.json"


def everything(folder):
    return {
        path.relative_to(folder): path.read_bytes() if path.is_file() else path.is_dir()
        for path in folder.rglob("*")
    }


@pytest.mark.parametrize(
    "touch",
    [
        added_file,
        added_in_a_subfolder,
        added_hidden_file,
        added_empty_folder,
        added_link,
        added_many,
        changed_by_hand,
        turned_into_a_link,
        turned_into_a_folder,
        no_manifest,
        other_manifest,
    ],
)
def test_what_a_person_did_to_a_report_is_never_lost(tmp_path, touch):
    folder = report(tmp_path / "joint")
    words = re.escape(touch(folder))
    before = everything(tmp_path)
    for overwrite in (False, True):
        with pytest.raises(UsageError, match=words):
            check_folder(folder, MADE_BY, overwrite)
    # Also where it was done while the work was going on.
    with pytest.raises(PreloadError, match=words):
        write_folder(folder, {"report.json": b"{}"})
    assert everything(tmp_path) == before


def test_a_manifest_that_names_files_elsewhere_removes_none(tmp_path):
    (tmp_path / "joint.toml").write_text("mine")
    folder = tmp_path / "joint"
    folder.mkdir()
    (folder / "manifest.json").write_bytes(
        manifest_of({"../joint.toml": hashlib.sha256(b"mine").hexdigest()})
    )
    write_folder(folder, {"report.json": b"{}"})
    assert (tmp_path / "joint.toml").read_text() == "mine"


def test_a_file_of_the_report_that_was_deleted_is_no_loss(tmp_path):
    folder = report(tmp_path / "joint")
    (folder / "inputs" / "case.toml").unlink()
    check_folder(folder, MADE_BY, overwrite=False)
    write_folder(folder, {"report.json": b"{}"})
    assert not (folder / "inputs").exists()


def test_what_appears_in_the_moment_of_replacing_is_kept(tmp_path, monkeypatch):
    folder = report(tmp_path / "joint")
    exchange = workplace.exchange

    def late(made, target):
        added_file(target)
        return exchange(made, target)

    monkeypatch.setattr(workplace, "exchange", late)
    with pytest.raises(PreloadError, match="written, but the old folder was changed meanwhile"):
        write_folder(folder, {"report.json": b"{}"})
    assert (folder / "report.json").read_bytes() == b"{}"
    assert (tmp_path / "joint.kept-1" / "notes.txt").read_text() == "mine"
    assert (tmp_path / "joint.kept-1" / "report.txt").read_bytes() == b"old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["joint", "joint.kept-1"]


def test_the_manifest_lists_every_file(tmp_path):
    folder = report(tmp_path / "joint")
    listed = json.loads((folder / "manifest.json").read_text())["files"]
    assert listed == {
        name: hashlib.sha256((folder / name).read_bytes()).hexdigest()
        for name in ("report.json", "report.txt", "inputs/case.toml")
    }


def test_a_link_to_a_folder_is_followed(tmp_path):
    folder = report(tmp_path / "joint")
    link = tmp_path / "link"
    link.symlink_to("joint")
    check_folder(link, MADE_BY, overwrite=False)
    write_folder(link, {"report.json": b"{}"})
    assert link.is_symlink()
    assert (folder / "report.json").read_bytes() == b"{}"


def test_links_that_lead_nowhere(tmp_path):
    (tmp_path / "link").symlink_to("nowhere")
    (tmp_path / "circle").symlink_to("circle")
    for name in ("link", "link/joint", "circle"):
        with pytest.raises(UsageError, match="is a link that leads nowhere"):
            check_folder(tmp_path / name, MADE_BY, overwrite=True)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["circle", "link"]


@pytest.mark.parametrize("name", ["x" * 300, "x" * 300 + "/joint", "/".join(["x" * 200] * 25)])
def test_names_that_are_too_long_are_refused_before_the_work(tmp_path, name):
    with pytest.raises(UsageError, match="cannot be written: File name too long"):
        check_folder(tmp_path / name, MADE_BY, overwrite=False)
    assert list(tmp_path.iterdir()) == []


def test_the_longest_name(tmp_path):
    # 255 bytes: the longest name of a file in the usual file systems of Linux.
    folder = tmp_path / ("x" * 255)
    check_folder(folder, MADE_BY, overwrite=False)
    report(folder)
    report(folder)
    assert list(tmp_path.iterdir()) == [folder]


def test_the_folder_of_what_is_read_and_that_of_the_caller(tmp_path, monkeypatch):
    folder = report(tmp_path / "joint")
    read = folder / "inputs" / "case.toml"
    (tmp_path / "link").symlink_to(read)
    for path in (read, tmp_path / "link"):
        with pytest.raises(UsageError, match="which is read; name another folder"):
            check_folder(folder, MADE_BY, True, [path])
    monkeypatch.chdir(folder / "inputs")
    for path in (folder, Path(".."), Path()):
        with pytest.raises(UsageError, match="is the current folder or around it"):
            check_folder(path, MADE_BY, overwrite=True)


def test_a_mount_point(monkeypatch):
    monkeypatch.setattr("os.path.ismount", lambda path: True)
    with pytest.raises(UsageError, match="is a mount point; name a folder in it"):
        check_folder(Path("/sys"), MADE_BY, overwrite=True)


def test_permissions_of_the_folder_stay(tmp_path):
    folder = report(tmp_path / "joint")
    folder.chmod(0o2770)
    report(folder)
    assert folder.stat().st_mode & 0o7777 == 0o2770


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
    with pytest.raises(UsageError, match="joint: cannot be written: "):
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
