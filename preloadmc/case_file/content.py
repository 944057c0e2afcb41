"""The content of a file that somebody names: of a regular file only."""

from __future__ import annotations

import errno
import stat
from pathlib import Path

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
