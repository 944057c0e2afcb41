"""A file of test records, read whole: its text, its rows, and what tells it from another."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath

from preloadmc.case_file.content import file_content
from preloadmc.case_file.problems import UNPRINTABLE
from preloadmc.case_file.test_records import LARGEST_RECORDS, TestRecords, read_records
from preloadmc.errors import CaseError, Problem


@dataclass(frozen=True, slots=True, eq=False)
class RecordFile:
    """A file of test records; ``source`` is its path as given."""

    source: str
    text: str
    sha256: str
    records: TestRecords

    @property
    def name(self) -> str:
        """Return its name without its folder."""
        return PurePath(self.source).name

    @property
    def files(self) -> Mapping[str, str]:
        """Return the text of the file by its path from its folder."""
        return {self.name: self.text}


def load_records(path: str | Path) -> RecordFile:
    """Read a CSV file of test records.

    Parameters
    ----------
    path : str or Path
        A CSV file in UTF-8 with a header and a row for each test.

    Raises
    ------
    CaseError
        If it cannot be read, is far too large, or no text in UTF-8.
    """
    path = Path(path)
    try:
        content = file_content(path, LARGEST_RECORDS + 1)
    except OSError as error:
        raise _unusable(path, f"a CSV file that can be read: {error.strerror}") from error
    if len(content) > LARGEST_RECORDS:
        words = f"at most {LARGEST_RECORDS:,} bytes; take a sample of the rows, drawn at random"
        raise _unusable(path, words)
    if UNPRINTABLE.search(path.name):
        raise _unusable(path, "a file with a name of printable characters is needed")
    try:
        text = content.decode("utf-8-sig")
        str(path).encode()  # the name stands in every report
    except UnicodeError as error:
        words = "text in UTF-8 ('CSV UTF-8' in a spreadsheet's list of formats)"
        raise _unusable(path, words) from error
    digest = hashlib.sha256(content).hexdigest()
    return RecordFile(str(path), text, digest, read_records(text, path.name))


def _unusable(path: Path, words: str) -> CaseError:
    return CaseError(str(path), (Problem("file", "", words),))
