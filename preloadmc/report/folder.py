"""A report folder: refused, or replaced as a whole; never half written."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path

from preloadmc.errors import PreloadError, UsageError
from preloadmc.report.manifest import MANIFEST, contents, has_manifest, manifest_of
from preloadmc.report.workplace import check_writable, followed, turn, workplace

MARK = "report.json"
# Where a report keeps copies of the files that its command reads.
INPUTS = "inputs"
_NAMED = 5
# What is written into a file: all of it, or its pieces.
Content = bytes | Iterable[bytes]


def check_folder(
    folder: Path, made_by: Mapping[str, object], overwrite: bool, inputs: Iterable[Path] = ()
) -> None:
    """Raise UsageError unless the folder may be written: before the work, not after it.

    A report may be replaced where it is one of the same case and options, or where overwriting was
    asked for; never where anything else lies in its folder, or a file of it was changed by hand.

    Parameters
    ----------
    folder : Path
        A link to a folder is followed.
    made_by : mapping
        The keys of the JSON document that must agree.
    overwrite : bool
        Whether a report of another case or other options may be replaced.
    inputs : iterable of Path
        Files that are read for the report: they may not lie in its folder.
    """
    try:
        target = followed(folder)
        there = next(parent for parent in target.parents if parent.exists())
        if not there.is_dir():
            raise UsageError(f"{folder}: cannot be made, {there} is not a folder")
        if target.exists():
            _check_place(folder, target, inputs)
        check_writable(target)
        if not target.exists():
            return
        with turn(target.parent):
            words = _refusal(target)
            found = _mark(target)
    except OSError as error:
        raise UsageError(f"{folder}: cannot be written: {error.strerror}") from error
    if words:
        raise UsageError(f"{folder}: {words}")
    same = all(found.get(key) == value for key, value in made_by.items())
    if has_manifest(target) and not overwrite and not same:
        raise UsageError(
            f"{folder}: holds the report of another case or other options; "
            "name another folder, or replace it with --overwrite"
        )


def write_folder(folder: Path, files: Mapping[str, Content]) -> None:
    """Write a report with its manifest in a place beside the folder, then put it there at once.

    A long file comes in pieces, which are written as they come.

    Raises
    ------
    PreloadError
        If it cannot be written, or if by now the folder holds something else; it is as it was.
    """
    try:
        target = followed(folder)
        target.parent.mkdir(parents=True, exist_ok=True)
        with workplace(target) as place:
            words = _refusal(target) if target.exists() else ""
            if words:
                raise PreloadError(f"{folder}: {words}")
            place.making.mkdir()
            sums = {name: _written(place.making / name, each) for name, each in files.items()}
            (place.making / MANIFEST).write_bytes(manifest_of(sums))
            place.put_folder()
    except OSError as error:
        raise PreloadError(f"{folder}: cannot be written: {error.strerror}") from error


def _written(path: Path, content: Content) -> str:
    """Write a file and return its SHA-256."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if isinstance(content, bytes):
        path.write_bytes(content)
        return hashlib.sha256(content).hexdigest()
    found = hashlib.sha256()
    with path.open("wb") as file:
        for piece in content:
            found.update(piece)
            file.write(piece)
    return found.hexdigest()


def _check_place(folder: Path, target: Path, inputs: Iterable[Path]) -> None:
    """Raise UsageError where an existing folder cannot be replaced, whatever it holds."""
    if not target.is_dir():
        raise UsageError(f"{folder}: is a file; a folder is needed for the report")
    for path in inputs:
        if any(parent.samefile(target) for parent in path.resolve().parents):
            raise UsageError(f"{folder}: holds {path}, which is read; name another folder")
    if Path.cwd().is_relative_to(target):
        raise UsageError(f"{folder}: is the current folder or around it; name another folder")
    if os.path.ismount(target):
        raise UsageError(f"{folder}: is a mount point; name a folder in it")
    if not os.access(target, os.W_OK | os.X_OK):
        raise UsageError(f"{folder}: cannot be written to: no permission")


def _refusal(target: Path) -> str:
    """Return why what lies in a folder keeps it from being replaced; empty where nothing does."""
    found = contents(target)
    if found.is_own:
        return ""
    if not has_manifest(target):
        if "preloadmc" not in _mark(target):
            return "holds something else than a report of this program; name another folder"
        return (
            f"holds a report without a readable {MANIFEST}, as older versions wrote it: which "
            "files are the program's own is not known; move it away, or name another folder"
        )
    parts = []
    if found.added:
        parts.append(f"holds what is not of the report: {_named(found.added)}")
    if found.changed:
        parts.append(f"was changed since it was written: {_named(found.changed)}")
    return f"{'; '.join(parts)}; move that away, or name another folder"


def _named(names: tuple[str, ...]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def _mark(folder: Path) -> dict[str, object]:
    """Return the JSON document of a report; empty where there is none."""
    try:
        found = json.loads((folder / MARK).read_bytes())
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}
