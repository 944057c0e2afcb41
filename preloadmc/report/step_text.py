"""Steps of a derivation as text: in symbols, in numbers, and the result."""

from __future__ import annotations

import re
import textwrap

from preloadmc.questions.derivation import Chapter, Step
from preloadmc.report.tables import WIDTH

_INDENT = "   "
_UNIT = re.compile(r"(\d) (?=[^\d\s+·/=-])")


def step_lines(chapter: Chapter, system: str, before: int = 0) -> list[str]:
    """Return the numbered steps of a chapter; a formula or source is said once in a row."""
    lines: list[str] = []
    formula = source = ""
    for place, step in enumerate(chapter.steps, before + 1):
        lines += _step(place, step, system, step.in_symbols != formula, step.source != source)
        formula, source = step.in_symbols, step.source
    return lines


def _step(place: int, step: Step, system: str, says_formula: bool, says_source: bool) -> list[str]:
    lines = _wrapped(f"{place}. {step.title}", "", _INDENT)
    start, more = f"{_INDENT}{step.symbol} = ", f"{_INDENT}{' ' * len(step.symbol)} = "
    if step.formula:
        if says_formula:
            lines += _wrapped(step.in_symbols, start, more[:-2] + "  ")
            start = more
        lines += _wrapped(step.in_numbers(system), start, more[:-2] + "  ")
        start = more
    lines.append(f"{start}{step.result(system)}")
    if step.note:
        lines += _wrapped(step.note, _INDENT, _INDENT)
    if says_source:
        lines += _wrapped(f"[{step.source}]", _INDENT, _INDENT)
    return lines


def _wrapped(text: str, first: str, more: str) -> list[str]:
    # A unit stays with its number.
    glued = _UNIT.sub("\\1\u00a0", text)
    lines = textwrap.wrap(
        glued, WIDTH, initial_indent=first, subsequent_indent=more, break_on_hyphens=False
    )
    return [line.replace("\u00a0", " ") for line in lines]
