"""A report folder: refused, or replaced as a whole; never half written."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from preloadmc.errors import PreloadError, UsageError

MARK = "report.json"


def check_folder(folder: Path, made_by: Mapping[str, object], overwrite: bool) -> None:
    """Raise UsageError unless the folder may be written: before the work, not after it.

    An existing folder may be replaced where it is a report of the same case and options, or where
    overwriting was asked for and it is a report at all. ``made_by`` are the keys of the JSON
    document that must agree.
    """
    if not folder.exists():
        parent = next(parent for parent in folder.absolute().parents if parent.exists())
        if not parent.is_dir():
            raise UsageError(f"{folder}: cannot be made, {parent} is not a folder")
        _try_writing(parent)
        return
    if not folder.is_dir():
        raise UsageError(f"{folder}: is a file; a folder is needed for the report")
    _try_writing(folder.absolute().parent)
    if not any(folder.iterdir()):
        return
    found = _mark(folder)
    if found is None:
        raise UsageError(
            f"{folder}: holds something else than a report of this program; name another folder"
        )
    if overwrite or all(found.get(key) == value for key, value in made_by.items()):
        return
    raise UsageError(
        f"{folder}: holds the report of another case or other options; "
        "name another folder, or replace it with --overwrite"
    )


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write all files into a new folder beside the final one, then put it in place at once."""
    folder = folder.absolute()
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder.parent, prefix=f".{folder.name}.") as made:
            fresh = Path(made) / "report"
            for name, content in files.items():
                target = fresh / name
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(content)
            if folder.exists():
                folder.rename(Path(made) / "old")
            fresh.rename(folder)
    except OSError as error:
        raise PreloadError(f"{folder}: cannot be written: {error.strerror}") from error


def _mark(folder: Path) -> dict[str, object] | None:
    try:
        found = json.loads((folder / MARK).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) and "preloadmc" in found else None


def _try_writing(parent: Path) -> None:
    try:
        probe = tempfile.mkdtemp(dir=parent, prefix=".preloadmc.")
    except OSError as error:
        raise UsageError(f"{parent}: cannot be written to: {error.strerror}") from error
    shutil.rmtree(probe)
