"""Files of tests that a case names where a law stands: read before the tables are."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path, PurePath
from typing import Any

from preloadmc.case_file.content import UnsuitableError, csv_text
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.test_records import LARGEST_RECORDS, TestRecords, read_records

TESTS = "tests"


class NamedTests(str):
    """The name of a file of tests as a case file states it, with the records in it."""

    __slots__ = ("records",)
    records: TestRecords


def with_named_tests(
    data: Mapping[str, Any], folder: Path, problems: Problems
) -> tuple[dict[str, Any], dict[str, str]]:
    """Return tables in which each name of a file of tests carries its records, and the texts.

    Parameters
    ----------
    data : mapping
        Tables of a case file as given.
    folder : Path
        Where the files lie.
    problems : Problems
        Takes what is wrong with a file, at the key that names it.

    Returns
    -------
    dict, dict of str to str
        The tables, and the text of each file by its path from the folder.
    """
    files = _Files(folder, problems)
    return {key: files.within(value, key) for key, value in data.items()}, files.texts


class _Files:
    """The files of one case: each is read once."""

    def __init__(self, folder: Path, problems: Problems) -> None:
        self.folder = folder
        self.problems = problems
        self.texts: dict[str, str] = {}
        self._records: dict[str, TestRecords] = {}

    def within(self, value: Any, path: str) -> Any:
        """Return a value with the names in it; those outside of a law are left alone."""
        if isinstance(value, list):
            return [self.within(item, f"{path}[{n}]") for n, item in enumerate(value, 1)]
        if not isinstance(value, Mapping):
            return value
        found = {key: self.within(item, f"{path}.{key}") for key, item in value.items()}
        name = value.get(TESTS)
        if "law" in value and isinstance(name, str):
            records = self._of(name, f"{path}.{TESTS}")
            if records is not None:
                found[TESTS] = NamedTests(name)
                found[TESTS].records = records
        return found

    def _of(self, name: str, path: str) -> TestRecords | None:
        if name.strip().isdigit():
            self.problems.add(path, name, f"the number of tests without quotes: {name.strip()}")
            return None
        key = PurePath(name).as_posix()
        if key not in self._records:
            try:
                self.texts[key] = csv_text(self.folder, name, LARGEST_RECORDS)
            except UnsuitableError as error:
                self.problems.add(path, name, str(error))
                return None
            except OSError as error:
                words = f"a CSV file that can be read: {error.strerror}; or the number of tests"
                self.problems.add(path, name, words)
                return None
            except ValueError:  # also a name that no file can have
                words = "a CSV file in UTF-8 ('CSV UTF-8' in a spreadsheet's list of formats)"
                self.problems.add(path, name, words)
                return None
            self._records[key] = read_records(self.texts[key], key)
        return self._records[key]
