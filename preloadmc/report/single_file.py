"""A single file of output: refused, or written as a whole; never half written."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable
from pathlib import Path

from preloadmc.errors import PreloadError, UsageError
from preloadmc.report.workplace import check_writable, followed, workplace


def check_file(file: Path, overwrite: bool, inputs: Iterable[Path] = ()) -> None:
    """Raise UsageError unless the file may be written: before the work, not after it.

    Parameters
    ----------
    file : Path
        A link to a file is followed: the file is replaced, the link stays.
    overwrite : bool
        Whether an existing file may be replaced.
    inputs : iterable of Path
        Files that are read: none of them may be written, under whatever name.
    """
    try:
        if file.exists():
            mode = file.stat().st_mode
            if stat.S_ISDIR(mode):
                raise UsageError(f"{file}: is a folder; a file is needed")
            if not stat.S_ISREG(mode):
                raise UsageError(f"{file}: is a device, pipe or socket; a file is needed")
            if _is_standard_output(file):
                raise UsageError(f"{file}: is where standard output goes; name another file")
            for path in inputs:
                if file.samefile(path):
                    raise UsageError(f"{file}: is {path}, which is read; name another file")
            if not overwrite:
                raise UsageError(
                    f"{file}: exists; name another file, or replace it with --overwrite"
                )
            if not mode & 0o222 or not os.access(file, os.W_OK):
                raise UsageError(f"{file}: is write-protected; name another file")
        target = followed(file)
        if not target.parent.is_dir():
            raise UsageError(f"{file}: its folder does not exist")
        check_writable(target)
    except OSError as error:
        raise UsageError(f"{file}: cannot be written: {error.strerror}") from error


def _is_standard_output(file: Path) -> bool:
    try:
        return os.path.samestat(file.stat(), os.fstat(1))
    except OSError:  # it is closed
        return False


def write_file(file: Path, content: bytes) -> None:
    """Write a file as a whole or not at all.

    Raises
    ------
    PreloadError
        If it cannot be written; what was there is then as it was.
    """
    try:
        with workplace(followed(file)) as place:
            place.making.write_bytes(content)
            place.put_file()
    except OSError as error:
        raise PreloadError(f"{file}: cannot be written: {error.strerror}") from error
