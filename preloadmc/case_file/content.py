"""The content of a file that somebody names: of a regular file only."""

from __future__ import annotations

import errno
import stat
from pathlib import Path, PurePath

TABLE_PATH = "the path of a CSV file in the folder of the case file or below it"


def file_content(path: Path, most: int) -> bytes:
    """Return the content of a file, as far as its first ``most`` bytes.

    Raises
    ------
    OSError
        If it cannot be read, or is no regular file: a pipe may never come to an end.
    """
    if not stat.S_ISREG(path.stat().st_mode):
        raise OSError(errno.EINVAL, "it is no regular file (a folder, device, pipe or socket)")
    with path.open("rb") as file:
        return file.read(most)


class UnsuitableError(ValueError):
    """A file that a case file may not name: what is wanted in its place, in words."""


def csv_text(folder: Path, name: str, most: int) -> str:
    """Return the text of a CSV file that a case file names, by its path from the folder.

    Raises
    ------
    UnsuitableError
        If it lies elsewhere, or has more than ``most`` bytes.
    OSError
        If it cannot be read.
    ValueError
        If it is no text in UTF-8, or no file can have such a name.
    """
    # A report keeps copies of what it read, each in its place beside the case file.
    if PurePath(name).is_absolute() or ".." in PurePath(name).parts:
        raise UnsuitableError(TABLE_PATH)
    content = file_content(folder / name, most + 1)
    if len(content) > most:
        raise UnsuitableError(f"a CSV file of at most {most:,} bytes")
    return content.decode("utf-8-sig")
