"""A hidden place beside a file or folder, where the new one is made and put in place at once."""

from __future__ import annotations

import errno
import itertools
import os
import re
import secrets
import shutil
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from preloadmc.errors import PreloadError, UsageError
from preloadmc.report.manifest import remove_own

try:
    import fcntl
except ImportError:  # no such locks on this system
    fcntl = None  # type: ignore[assignment]

# A write takes less than a second; after this another run is taken to be stuck.
LONGEST_WAIT = 60.0
_BETWEEN_TRIES = 0.01
_MAKING, _MADE, _OLD = "making", "made", "old"
_PLACE = re.compile(r"\.preloadmc-(\d+)-(\d+)-\w+")
# renameat2(2): paths from the current folder, and the flag that exchanges them.
_FROM_HERE, _EXCHANGE = -100, 2
_NOT_OFFERED = (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP)


class Workplace:
    """A hidden folder beside ``target``; its name has the process and when that started.

    What is in `making` is half-made; in `made` lies the finished folder, and after an exchange the
    one that it replaced; in `old` the replaced one where the system cannot exchange.
    """

    def __init__(self, target: Path) -> None:
        self.target = target
        process = f"{os.getpid()}-{_started(os.getpid())}"
        self.folder = target.parent / f".preloadmc-{process}-{secrets.token_hex(4)}"

    def make(self) -> None:
        """Make the folder, for this user alone."""
        self.folder.mkdir(mode=0o700)
        (self.folder / _MAKING).mkdir()

    @property
    def making(self) -> Path:
        """Return where to make what is to be put in place."""
        return self.folder / _MAKING / self.target.name

    def put_folder(self) -> None:
        """Put the folder that was made in place of the target, or where there is none."""
        made = self.folder / _MADE / self.target.name
        if self.target.exists():
            shutil.copymode(self.target, self.making)
        _sync_tree(self.making)
        self.making.parent.rename(made.parent)
        if not self.target.exists():
            made.rename(self.target)
        elif not exchange(made, self.target):
            old = self.folder / _OLD / self.target.name
            old.parent.mkdir()
            self.target.rename(old)
            made.rename(self.target)
        _sync(self.target.parent)

    def put_file(self) -> None:
        """Put the file that was made in place of the target, or where there is none.

        It takes the permissions of the file that it replaces, and its owner where that is allowed.
        """
        with suppress(FileNotFoundError):
            before = self.target.stat()
            with suppress(OSError):
                os.chown(self.making, before.st_uid, before.st_gid)
            self.making.chmod(stat.S_IMODE(before.st_mode))
        _sync(self.making)
        self.making.replace(self.target)
        _sync(self.target.parent)


@contextmanager
def workplace(target: Path) -> Iterator[Workplace]:
    """Yield a place to make a file or folder in; leave nothing of it behind.

    What dead runs left in the same folder is taken away first, and other runs that write there
    wait.

    Raises
    ------
    PreloadError
        If another run does not come to an end, or if somebody put a file into the old folder
        while it was being replaced: it is then kept beside the new one.
    """
    with turn(target.parent):
        _clear_dead(target.parent)
        place = Workplace(target)
        try:
            # Its name is known before it is there: an interrupt meanwhile leaves nothing either.
            place.make()
            yield place
        finally:
            kept = _cleared(place.folder)
        if kept:
            raise PreloadError(
                f"{target}: written, but the old folder was changed meanwhile and is kept as "
                f"{', '.join(map(str, kept))}"
            )


def check_writable(target: Path) -> None:
    """Try to make what is to be made, with a long name in it; nothing is left of it.

    Raises
    ------
    OSError, PreloadError
        If it cannot be made.
    """
    there = next(parent for parent in target.parents if parent.exists())
    # In a folder with the sticky bit, such as /tmp, others' files cannot be moved.
    if target.exists() and there.stat().st_mode & stat.S_ISVTX:
        may = (0, there.stat().st_uid, target.stat().st_uid)
        if os.geteuid() not in may:
            raise PermissionError(errno.EPERM, "it belongs to another user")
    with workplace(there / target.relative_to(there).parts[0]) as place:
        made = place.making.parent / target.relative_to(there)
        made.mkdir(parents=True)
        (made / ("x" * 100)).touch()


def followed(path: Path) -> Path:
    """Return where a path leads, links followed; UsageError where a link leads nowhere."""
    for each in (path.absolute(), *path.absolute().parents):
        if each.is_symlink() and not each.exists():
            raise UsageError(f"{each}: is a link that leads nowhere")
    return Path(os.path.realpath(path))


def exchange(one: Path, other: Path) -> bool:
    """Exchange two paths at once; return False where the system does not offer that."""
    import ctypes

    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    rename.argtypes = (ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_uint)
    paths = (_FROM_HERE, os.fsencode(one), _FROM_HERE, os.fsencode(other))
    if rename(*paths, _EXCHANGE) == 0:
        return True
    code = ctypes.get_errno()
    if code in _NOT_OFFERED:
        return False
    raise OSError(code, os.strerror(code), str(other))


@contextmanager
def turn(folder: Path) -> Iterator[None]:
    """Hold the lock of a folder, for which other runs wait; the system frees it if a run dies.

    Where folders have no locks, runs do not wait for each other.
    """
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        last = time.monotonic() + LONGEST_WAIT
        while not locked(handle):
            if time.monotonic() > last:
                raise PreloadError(
                    f"{folder}: another run has been writing here for {LONGEST_WAIT:.0f} s"
                )
            time.sleep(_BETWEEN_TRIES)
        yield
    finally:
        os.close(handle)


def locked(handle: int) -> bool:
    """Lock an open folder; return False where another run has it. It may have no locks."""
    if fcntl is None:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        pass
    return True


def _clear_dead(parent: Path) -> None:
    """Take away what runs that are no more left in a folder; a report between two renames returns.

    Somebody else's that cannot be removed stays.
    """
    for place in parent.glob(".preloadmc-*"):
        found = _PLACE.fullmatch(place.name)
        if found and not place.is_symlink() and not _is_running(int(found[1]), found[2]):
            _cleared(place)


def _cleared(place: Path) -> list[Path]:
    """Remove a workplace; return where a folder in it is kept that has more than a report in it."""
    kept = []
    with suppress(OSError):
        old = [path for way in (_OLD, _MADE) if (place / way).is_dir()
               for path in (place / way).iterdir()]  # fmt: skip
        for path in old:
            target = place.parent / path.name
            if path.parent.name == _OLD and not target.exists():
                path.rename(target)
            elif not path.is_dir() or not remove_own(path):
                kept.append(_free_name(target))
                path.rename(kept[-1])
        shutil.rmtree(place / _MAKING, ignore_errors=True)
        for way in (_OLD, _MADE):
            with suppress(FileNotFoundError):
                (place / way).rmdir()
        place.rmdir()
    return kept


def _free_name(target: Path) -> Path:
    names = (target.with_name(f"{target.name}.kept-{n}") for n in itertools.count(1))
    return next(name for name in names if not os.path.lexists(name))


def _started(process: int) -> str:
    """Return when a process started, as the system counts; "0" where it is not known to run."""
    try:
        text = Path(f"/proc/{process}/stat").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return "0"
    # proc_pid_stat(5): after the name in brackets the state is field 3, the start field 22.
    fields = text.rpartition(")")[2].split()
    return "0" if fields[0] in ("Z", "X") else fields[19]


def _is_running(process: int, started: str) -> bool:
    if Path("/proc/self/stat").exists():
        return _started(process) == started
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        pass
    return True


def _sync_tree(folder: Path) -> None:
    """Have all files of a folder on the disk before they replace others."""
    for path in folder.rglob("*"):
        _sync(path)
    _sync(folder)


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:
        if not path.is_dir():  # not every file system offers it for folders
            raise
    finally:
        os.close(handle)
