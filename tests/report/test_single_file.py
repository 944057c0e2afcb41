"""A single file of output: refused before the work, or written as a whole."""

import errno
import os
import socket
from pathlib import Path

import pytest

from preloadmc.errors import PreloadError, UsageError
from preloadmc.report.single_file import check_file, write_file


def listed(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_new_file_has_the_usual_permissions(tmp_path):
    file = tmp_path / "out.json"
    check_file(file, overwrite=False)
    assert listed(tmp_path) == []  # asking makes nothing
    write_file(file, b"{}")
    mask = os.umask(0)
    os.umask(mask)
    assert (file.read_bytes(), file.stat().st_mode & 0o777) == (b"{}", 0o666 & ~mask)
    assert listed(tmp_path) == ["out.json"]


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o666, 0o755])
def test_permissions_and_owner_stay(tmp_path, mode):
    file = tmp_path / "out.json"
    file.write_bytes(b"old")
    if os.geteuid() == 0:
        os.chown(file, 65534, 65534)
    file.chmod(mode)
    before = file.stat()
    check_file(file, overwrite=True)
    write_file(file, b"new")
    after = file.stat()
    assert file.read_bytes() == b"new"
    assert (after.st_mode, after.st_uid, after.st_gid) == (
        before.st_mode,
        before.st_uid,
        before.st_gid,
    )


def test_a_link_stays_and_what_it_leads_to_is_replaced(tmp_path):
    (tmp_path / "there").mkdir()
    file = tmp_path / "there" / "out.json"
    file.write_bytes(b"old")
    link = tmp_path / "link"
    link.symlink_to("there/out.json")
    check_file(link, overwrite=True)
    write_file(link, b"new")
    assert (link.is_symlink(), file.read_bytes()) == (True, b"new")
    assert (listed(tmp_path), listed(tmp_path / "there")) == (["link", "there"], ["out.json"])


def a_pipe(path):
    os.mkfifo(path)


def a_socket(path):
    with socket.socket(socket.AF_UNIX) as opened:
        opened.bind(str(path))


def a_link_to_a_device(path):
    path.symlink_to("/dev/null")


@pytest.mark.parametrize("make", [a_pipe, a_socket, a_link_to_a_device])
def test_what_is_no_file(tmp_path, monkeypatch, make):
    monkeypatch.chdir(tmp_path)  # the path of a socket is short
    make(Path("out.json"))
    with pytest.raises(UsageError, match=r"out.json: is a device, pipe or socket; a file is need"):
        check_file(Path("out.json"), overwrite=True)
    assert listed(tmp_path) == ["out.json"]


def test_a_folder(tmp_path):
    with pytest.raises(UsageError, match="is a folder; a file is needed"):
        check_file(tmp_path, overwrite=True)


@pytest.mark.parametrize("target", ["nowhere", "link", "none/out.json"])
def test_a_link_that_leads_nowhere(tmp_path, target):
    (tmp_path / "link").symlink_to(target)
    with pytest.raises(UsageError, match="is a link that leads nowhere"):
        check_file(tmp_path / "link", overwrite=True)
    assert listed(tmp_path) == ["link"]


@pytest.mark.parametrize("overwrite", [False, True])
def test_what_is_read_is_not_written_under_any_name(tmp_path, monkeypatch, overwrite):
    monkeypatch.chdir(tmp_path)
    read = Path("joint.toml")
    read.write_bytes(b"case")
    Path("link").symlink_to("joint.toml")
    Path("hard").hardlink_to(read)
    Path("folder").symlink_to(".")
    for name in ("joint.toml", "./folder/joint.toml", "link", "hard", f"{tmp_path}/joint.toml"):
        with pytest.raises(UsageError, match=r"is joint.toml, which is read; name another file"):
            check_file(Path(name), overwrite, [read])


def test_too_long(tmp_path):
    for name in ("x" * 256, "/".join(["x" * 200] * 25)):
        with pytest.raises(UsageError, match="cannot be written: File name too long"):
            check_file(tmp_path / name, overwrite=False)
    # 255 bytes: the longest name of a file in the usual file systems of Linux.
    file = tmp_path / ("x" * 255)
    check_file(file, overwrite=False)
    write_file(file, b"")
    assert listed(tmp_path) == [file.name]


def test_a_protected_file(tmp_path):
    file = tmp_path / "out.json"
    file.write_bytes(b"old")
    file.chmod(0o444)
    with pytest.raises(UsageError, match="is write-protected; name another file"):
        check_file(file, overwrite=True)


def test_the_file_of_another_user_in_a_folder_for_all(tmp_path, monkeypatch):
    file = tmp_path / "out.json"
    file.write_bytes(b"old")
    tmp_path.chmod(0o1777)
    check_file(file, overwrite=True)
    monkeypatch.setattr("os.geteuid", lambda: file.stat().st_uid + 1)
    with pytest.raises(UsageError, match="cannot be written: it belongs to another user"):
        check_file(file, overwrite=True)


def test_a_disk_that_fills_up_leaves_the_old_file(tmp_path, monkeypatch):
    file = tmp_path / "out.json"
    file.write_bytes(b"old")

    def full(self, data):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(PreloadError, match=r"out.json: cannot be written: No space left"):
        write_file(file, b"new")
    assert (file.read_bytes(), listed(tmp_path)) == (b"old", ["out.json"])
