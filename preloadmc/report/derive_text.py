"""A derivation as text: each step in symbols, in numbers, and its result."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from preloadmc.questions.derivation import Chapter, Derivation, NominalMargin, Step
from preloadmc.report.case_text import caution_lines
from preloadmc.report.tables import WIDTH, aligned, paragraph
from preloadmc.units import format_quantity

_INDENT = "   "
_UNIT = re.compile(r"(\d) (?=[^\d\s+·/=-])")


def derive_text(derivation: Derivation, system: str = "metric") -> str:
    """Return a derivation as text."""
    lines = [
        *paragraph(derivation.case.title),
        "",
        *derivation_lines(derivation, system),
        "",
        *caution_lines(),
    ]
    return "\n".join(lines) + "\n"


def derivation_lines(derivation: Derivation, system: str = "metric") -> list[str]:
    """Return the chapters with their steps, then the margins of all limits."""
    lines = [
        "Derivation at nominal values",
        *paragraph(
            "Every input at its mean; loads and limits per fastener. This is one joint of many: "
            "what scatter makes of it is the result of a run."
        ),
    ]
    place = 0
    for chapter in derivation.chapters:
        lines += ["", chapter.title, "-" * len(chapter.title), *step_lines(chapter, system, place)]
        place += len(chapter.steps)
    return [*lines, "", *_margin_lines(derivation.margins, system)]


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


def _margin_lines(margins: Sequence[NominalMargin], system: str) -> list[str]:
    rows = [
        (
            margin.limit.name,
            margin.limit.state,
            format_quantity(margin.reference, margin.dimension, system),
            format_quantity(margin.value, margin.dimension, system),
            "-" if margin.share is None else f"{100 * margin.share:.3g} %",
        )
        for margin in margins
    ]
    lines = aligned(("limit at nominal values", "state", "bound", "margin", "share"), rows, words=2)
    return [
        *lines,
        *paragraph(
            "A margin below zero is a miss; its share is of the bound, the least or the most "
            "allowed."
        ),
    ]
