"""Registers as files for tests, and the case of a row as the reader of whole files makes it."""

from __future__ import annotations

import copy
import re
import tomllib
from dataclasses import replace
from pathlib import Path

from preloadmc.case_file import read_case
from preloadmc.case_file.field import FILE_SECTIONS, TRACE_SECTIONS
from preloadmc.case_file.register import RegisterRow

CASES = Path(__file__).parent.parent.parent / "cases"


def row_of(cells, joint="J", problems=()):
    """A row that states some cells."""
    return RegisterRow(2, joint, "", "", cells=tuple(cells.items()), problems=problems)


def read_whole(path, cells, joint="J"):
    """The case of a row, its tables written by hand and read as those of any case file."""
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    data = {key: value for key, value in data.items() if key not in TRACE_SECTIONS + FILE_SECTIONS}
    data = copy.deepcopy(data) | {"name": joint}
    for place, value in cells.items():
        steps = [int(step) - 1 if step.isdigit() else step for step in re.findall(r"\w+", place)]
        table = data
        for step in steps[:-1]:
            table = table[step] if isinstance(step, int) else table.setdefault(step, {})
        table[steps[-1]] = value
    return read_case(data, str(path), "", "")


def without_words(case):
    """A case as it is judged: without its text, and what is said of keys without effect."""
    warnings = tuple(words for words in case.warnings if "has no effect here" not in words)
    # A group has arrays, and is equal to itself alone.
    group = None if case.group is None else repr(case.group)
    return replace(case, text="", sha256="", warnings=warnings, group=group)
