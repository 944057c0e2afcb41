"""The list of the files that a report folder was written with: what in it may be removed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from preloadmc import __version__

MANIFEST = "manifest.json"


@dataclass(frozen=True, slots=True)
class Contents:
    """What lies in a report folder, each by its path from there.

    ``own`` are files just as the report was written, the manifest among them, and
    ``own_folders`` those that hold such; ``added`` is whatever else lies there, also hidden files,
    links and empty folders; ``changed`` are files of the report with other content now.
    """

    own: tuple[str, ...]
    own_folders: tuple[str, ...]
    added: tuple[str, ...]
    changed: tuple[str, ...]

    @property
    def is_own(self) -> bool:
        """Return whether nothing lies there but what the report was written with."""
        return not self.added and not self.changed


def manifest_of(sums: Mapping[str, str]) -> bytes:
    """Return the manifest of a report, of the SHA-256 of each file by its name."""
    return _manifest_text(__version__, sums)


def contents(folder: Path) -> Contents:
    """Return what lies in a folder; without a readable manifest everything was added."""
    sums = _sums(folder)
    parents = {str(parent) for name in sums for parent in PurePosixPath(name).parents}
    own: list[str] = []
    own_folders: list[str] = []
    added: list[str] = []
    changed: list[str] = []
    waiting = [""]
    while waiting:
        within = waiting.pop()
        for path in sorted((folder / within).iterdir()):
            name = within + path.name
            is_file = path.is_file() and not path.is_symlink()
            if path.is_dir() and not path.is_symlink() and name in parents:
                own_folders.append(name)
                waiting.append(f"{name}/")
            elif is_file and sums and name == MANIFEST:
                own.append(name)
            elif name not in sums or path.is_dir():
                added.append(f"{name}/" if path.is_dir() else name)
            elif is_file and _sum(path) == sums[name]:
                own.append(name)
            else:
                changed.append(name)
    return Contents(tuple(own), tuple(own_folders), tuple(added), tuple(changed))


def has_manifest(folder: Path) -> bool:
    """Return whether a folder has a manifest as this program writes it."""
    return bool(_sums(folder))


def remove_own(folder: Path) -> bool:
    """Remove a folder if nothing lies there but its report; return whether it is gone.

    The manifest goes last, so that a removal cut short can be taken up again.
    """
    found = contents(folder)
    if not found.is_own:
        return False
    try:
        for name in found.own:
            if name != MANIFEST:
                (folder / name).unlink()
        for name in sorted(found.own_folders, reverse=True):
            (folder / name).rmdir()
        (folder / MANIFEST).unlink(missing_ok=True)
        folder.rmdir()
    except OSError:
        return False
    return True


def _sum(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _manifest_text(version: str, sums: Mapping[str, str]) -> bytes:
    document = {"preloadmc": version, "files": dict(sorted(sums.items()))}
    return (json.dumps(document, indent=2, ensure_ascii=False) + "\n").encode()


def _sums(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of each file by name; empty unless the manifest is as it was written."""
    try:
        content = (folder / MANIFEST).read_bytes()
        document = json.loads(content)
        version, sums = document["preloadmc"], document["files"]
        is_as_written = content == _manifest_text(version, sums)
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return {}
    return dict(sums) if is_as_written else {}
