"""The shipped cases by name, in a clone or as installed."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, files
from pathlib import Path

from preloadmc.case import Case
from preloadmc.case_file.load import load_case
from preloadmc.case_file.parsing import tables_of
from preloadmc.case_file.problems import nearest
from preloadmc.case_file.toml_text import inline_toml
from preloadmc.errors import UsageError

_OF_THE_JOINT = ("fastener", "clamped", "friction", "tightening", "load", "group", "requirement")
# Where an install puts them: `data-files` of pyproject.toml.
INSTALLED = "share/preloadmc/cases/"


def shipped_cases() -> dict[str, Path]:
    """Return the shipped cases by name: those of the clone that is running, or as installed."""
    clone = Path(__file__).parents[3]
    if (clone / "pyproject.toml").is_file() and (clone / "cases").is_dir():
        found = (clone / "cases").glob("*.toml")
    else:
        found = (path for path in _installed() if path.suffix == ".toml")
    return {path.stem: path for path in sorted(found)}


def _installed() -> list[Path]:
    try:
        known = files("preloadmc") or ()
    except PackageNotFoundError:
        return []
    return [Path(str(file.locate())).resolve() for file in known if INSTALLED in file.as_posix()]


def case_like(name: str) -> Case:
    """Return a shipped case by name, or of a case file by its path.

    Raises
    ------
    UsageError
        If there is neither, with the shipped cases.
    CaseError
        With every problem of the file.
    """
    shipped = shipped_cases()
    path = shipped.get(name.removesuffix(".toml"), Path(name))
    if not path.is_file():
        listed = "".join(f"\n  {each}: {_title(file)}" for each, file in shipped.items())
        near = nearest(name, shipped)
        raise UsageError(f"no shipped case or case file '{name}'{near}; shipped:{listed}")
    return load_case(path)


def to_change(case: Case) -> list[str]:
    """Return what a copy of a case states of its joint, a line for each section."""
    found = []
    for section, content in tables_of(case.text).items():
        tables = content if isinstance(content, list) else [content]
        for table in tables:
            if section in _OF_THE_JOINT and isinstance(table, dict):
                header = f"[[{section}]]" if isinstance(content, list) else f"[{section}]"
                words = ", ".join(f"{key} = {inline_toml(value)}" for key, value in table.items())
                found.append(f"{header} {words}")
    return [f"title = {inline_toml(case.title)}", *found]


def _title(path: Path) -> str:
    """Return what a case is about: its first line."""
    return path.read_text(encoding="utf-8").partition("\n")[0].strip("# ")
