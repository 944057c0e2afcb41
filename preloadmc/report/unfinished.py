"""The rows of a survey that are finished, kept beside its report until that stands.

``DIR.unfinished`` beside the report folder ``DIR`` holds ``mark.json``, what the survey was begun
with, and ``rows.txt``, a line for each finished row: a checksum and JSON.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterable, Iterator, KeysView, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Self
from zlib import crc32

from preloadmc.errors import PreloadError, UsageError
from preloadmc.report.workplace import followed, locked

_MARK, _NEW_MARK, _ROWS = "mark.json", "mark.json.new", "rows.txt"
# Rows of this long may be lost where the machine itself fails, s.
_BETWEEN_SYNCS = 1.0
_SHA256_DIGITS, _SUM_DIGITS = 64, 8


class Unfinished:
    """Finished rows on the disk: of a row, its key and its place are held in memory, no more.

    Made by `begin` or `resume`; it has the folder for itself until it is closed or its process
    ends.
    """

    def __init__(self, place: Path, lock: int) -> None:
        self._place = place
        self._lock = lock
        self._file = -1
        self._end = 0
        self._starts: dict[str, int] = {}
        self._synced = time.monotonic()

    @classmethod
    def begin(cls, folder: Path, mark: Mapping[str, Any], overwrite: bool = False) -> Self:
        """Begin a survey.

        Parameters
        ----------
        folder : Path
            Of the report that is to be.
        mark : mapping
            What the rows depend on, as JSON holds it: SHA-256 of files, versions, seed.
        overwrite : bool
            Whether the rows of another survey that was not finished may be removed.

        Raises
        ------
        UsageError
            If rows lie there already, or another survey is at it.
        """
        found = cls._of(folder, is_made=True)
        with found._closed_on_error():
            names = {path.name for path in found._place.iterdir()}
            if names - {_MARK, _NEW_MARK, _ROWS}:
                raise UsageError(
                    f"{found._place}: holds something else than an unfinished survey; "
                    "name another folder for the report"
                )
            if _MARK in names and not overwrite:
                raise UsageError(
                    f"{found._place}: holds an unfinished survey; go on with --resume, "
                    "or name another folder, or drop it with --overwrite"
                )
            # Rows are never there under a mark that is not theirs.
            for name in (_ROWS, _MARK):
                (found._place / name).unlink(missing_ok=True)
            text = json.dumps(mark, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
            new = found._place / _NEW_MARK
            with new.open("wb") as file:
                file.write(text.encode())
                file.flush()
                os.fsync(file.fileno())
            new.replace(found._place / _MARK)
            found._open()
        return found

    @classmethod
    def resume(cls, folder: Path, mark: Mapping[str, Any]) -> Self:
        """Go on with a survey that was begun with the same mark.

        Raises
        ------
        UsageError
            If there is none, or another survey is at it, or anything it depends on has changed.
        PreloadError
            If its rows cannot be read.
        """
        found = cls._of(folder, is_made=False)
        with found._closed_on_error():
            try:
                before = json.loads((found._place / _MARK).read_bytes())
            except FileNotFoundError:
                raise UsageError(f"{found._place}: holds no unfinished survey") from None
            except ValueError:
                before = None
            if not isinstance(before, dict):
                raise PreloadError(f"{found._place / _MARK}: is damaged; begin with --overwrite")
            now = json.loads(json.dumps(mark, allow_nan=False))
            changes = "".join(f"\n  - {each}" for each in _changes(before, now))
            if changes:
                raise UsageError(
                    f"{found._place}: cannot be resumed; begin again with --overwrite{changes}"
                )
            found._open()
            found._find_rows()
        return found

    @property
    def keys(self) -> KeysView[str]:
        """Return the keys of the finished rows."""
        return self._starts.keys()

    def add(self, rows: Iterable[Mapping[str, Any]]) -> None:
        """Add finished rows, each with a ``key`` of its own.

        Raises
        ------
        PreloadError
            If they cannot be written: those before are whole.
        """
        starts: dict[str, int] = {}
        lines = bytearray()
        for row in rows:
            key = row["key"]
            if key in self._starts or key in starts:
                raise ValueError(f"row {key} is finished already")
            starts[key] = self._end + len(lines)
            text = json.dumps(row, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
            lines += _line(text.encode())
        try:
            written = 0
            while written < len(lines):
                written += os.write(self._file, memoryview(lines)[written:])
            if time.monotonic() > self._synced + _BETWEEN_SYNCS:
                self._sync()
        except OSError as error:
            with suppress(OSError):
                os.ftruncate(self._file, self._end)
            raise PreloadError(
                f"{self._place / _ROWS}: cannot be written: {error.strerror}; the "
                f"{len(self._starts)} rows finished before are there, go on with --resume"
            ) from error
        self._end += len(lines)
        self._starts.update(starts)

    def rows_in(self, order: Iterable[str]) -> Iterator[dict[str, Any]]:
        """Yield rows by their keys; KeyError where one is not finished."""
        with (self._place / _ROWS).open("rb") as file:
            for key in order:
                file.seek(self._starts[key])
                yield self._row(file.readline(), f"row {key}")

    def remove(self) -> None:
        """Remove the rows, once the report stands; what else lies in the folder stays."""
        try:
            for name in (_ROWS, _MARK):
                (self._place / name).unlink(missing_ok=True)
            with suppress(OSError):
                self._place.rmdir()
        except OSError as error:
            raise PreloadError(f"{self._place}: cannot be removed: {error.strerror}") from error
        finally:
            self.close()

    def close(self) -> None:
        """Let another survey have the folder."""
        if self._file >= 0:
            with suppress(OSError):
                self._sync()
            os.close(self._file)
        if self._lock >= 0:
            os.close(self._lock)
        self._file = self._lock = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @classmethod
    def _of(cls, folder: Path, is_made: bool) -> Self:
        """Return the store beside a report folder, locked."""
        target = followed(folder)
        place = target.with_name(f"{target.name}.unfinished")
        try:
            if is_made:
                place.mkdir(parents=True, exist_ok=True)
            lock = os.open(place, os.O_RDONLY | os.O_DIRECTORY)
        except (FileNotFoundError, NotADirectoryError) as error:
            raise UsageError(f"{place}: holds no unfinished survey") from error
        except FileExistsError as error:
            raise UsageError(f"{place}: is a file; name another folder for the report") from error
        except OSError as error:
            raise UsageError(f"{place}: cannot be made: {error.strerror}") from error
        if not locked(lock):
            os.close(lock)
            raise UsageError(f"{place}: another survey is writing there; name another folder")
        return cls(place, lock)

    @contextmanager
    def _closed_on_error(self) -> Iterator[None]:
        """Close this, and tell a system's error in words, where its making fails."""
        try:
            yield
        except OSError as error:
            self.close()
            raise PreloadError(f"{self._place}: cannot be used: {error.strerror}") from error
        except BaseException:
            self.close()
            raise

    def _open(self) -> None:
        self._file = os.open(self._place / _ROWS, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o666)

    def _sync(self) -> None:
        os.fsync(self._file)
        self._synced = time.monotonic()

    def _find_rows(self) -> None:
        """Find where each row begins; a last line that was cut off is dropped."""
        path = self._place / _ROWS
        with path.open("rb") as file:
            for number, line in enumerate(file, 1):
                if not line.endswith(b"\n"):
                    os.ftruncate(self._file, self._end)
                    break
                key = self._row(line, f"line {number}").get("key")
                if not isinstance(key, str) or key in self._starts:
                    raise self._damaged(f"line {number}")
                self._starts[key] = self._end
                self._end += len(line)

    def _row(self, line: bytes, where: str) -> dict[str, Any]:
        """Return the row in a line; PreloadError where it is not as it was written."""
        text = line.rstrip(b"\n")[_SUM_DIGITS + 1 :]
        if line != _line(text):
            raise self._damaged(where)
        found: dict[str, Any] = json.loads(text)
        return found

    def _damaged(self, where: str) -> PreloadError:
        path = self._place / _ROWS
        return PreloadError(f"{path}: {where} is damaged; begin again with --overwrite")


def _line(text: bytes) -> bytes:
    """Return a line with its checksum before it."""
    return b"%0*x %b\n" % (_SUM_DIGITS, crc32(text), text)


def _changes(before: Mapping[str, Any], now: Mapping[str, Any], within: str = "") -> Iterator[str]:
    """Yield what differs between two marks, key by key."""
    for key in sorted({*before, *now}):
        one, other = before.get(key), now.get(key)
        name = f"{within}{key}"
        if isinstance(one, dict) and isinstance(other, dict):
            yield from _changes(one, other, f"{name}: ")
        elif key not in now:
            yield f"{name}: no longer there"
        elif key not in before:
            yield f"{name}: was not there when the survey began"
        elif one != other:
            is_told = all(
                isinstance(value, str | int | float) and len(str(value)) < _SHA256_DIGITS
                for value in (one, other)
            )
            told = f" ({one}, now {other})" if is_told else ""
            yield f"{name}: changed since the survey began{told}"
