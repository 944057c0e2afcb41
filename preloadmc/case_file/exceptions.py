"""Fasteners of a joint that differ: [[group.exception]] tables, each a case of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from preloadmc.case import Case
from preloadmc.case_file.governing_fastener import governed
from preloadmc.case_file.make_case import File, make_case
from preloadmc.case_file.merging import changes_method, merged
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.reading import Stated, read
from preloadmc.case_file.sections.group import FASTENERS, NOT_OF_EXCEPTIONS

_EXCEPTIONS = "group.exception"


def with_exceptions(
    case: Case | None, data: Mapping[str, Any], stated: Stated, file: File
) -> Case | None:
    """Return a case with the fasteners of its joint that differ; problems are noted.

    Parameters
    ----------
    case : Case or None
        The case without them; None where it has problems.
    data : mapping
        Its tables.
    stated : Stated
        What they state.
    file : File
        The file as it was given.
    """
    if not stated.each(_EXCEPTIONS):
        return case
    n = stated.get(FASTENERS, int)
    fields = stated.fields
    sections = fields.of_cases
    own = {key: data[key] for key in sections if key in data}
    taken: set[int] = set()
    found = []
    for path in stated.each(_EXCEPTIONS):
        numbers = _numbers(stated, path, n, taken)
        change = {key: value for key, value in stated.given(path).items() if key != "fasteners"}
        refused = [key for key in NOT_OF_EXCEPTIONS if key in change]
        for key in refused:
            stated.problem(f"{path}.{key}", "remove it: the fasteners of a joint have it in common")
        if numbers is None or refused:
            continue
        taken |= set(numbers)
        problems = Problems()
        tables = read(merged(own, change, fields), fields, problems, sections)
        made = make_case(tables, file, changed_method=changes_method(own, change))
        stated.problems.take(problems, path, "")
        if made is not None:
            found.append((numbers, made))
    if case is None or case.group is None:
        return case
    return governed(replace(case, group=replace(case.group, exceptions=tuple(found))))


def _numbers(stated: Stated, path: str, n: int | None, taken: set[int]) -> tuple[int, ...] | None:
    """Return the fasteners of an exception from 0; None with the problem noted."""
    numbers = stated.get(f"{path}.fasteners", tuple)
    if numbers is None:
        return None
    if len(set(numbers)) < len(numbers) or (n is not None and max(numbers) > n):
        most = "that of the fasteners" if n is None else n
        stated.problem(f"{path}.fasteners", f"numbers from 1 to {most}, each once")
        return None
    again = sorted(set(numbers) & {fastener + 1 for fastener in taken})
    if again:
        named = ", ".join(map(str, again))
        stated.problem(f"{path}.fasteners", f"fasteners of no other exception; {named} has one")
        return None
    return tuple(number - 1 for number in numbers)
