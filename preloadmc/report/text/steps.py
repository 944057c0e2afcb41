"""Steps of a derivation as text: in symbols, in numbers, and the result."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from preloadmc.report.text.tables import paragraph
from preloadmc.steps import Chapter

_INDENT = "   "


@dataclass(frozen=True, slots=True)
class StepWords:
    """One step in words: ``symbol = in_symbols = in_numbers = result``.

    What is empty is not said: formula and source of the step before, the numbers of a value as
    stated.
    """

    place: int
    title: str
    symbol: str
    in_symbols: str
    in_numbers: str
    result: str
    note: str
    source: str


def step_words(chapter: Chapter, system: str, before: int = 0) -> tuple[StepWords, ...]:
    """Return the numbered steps of a chapter; a formula or source is said once in a row."""
    found = []
    formula = source = ""
    for place, step in enumerate(chapter.steps, before + 1):
        found.append(
            StepWords(
                place,
                step.title,
                step.symbol,
                "" if step.in_symbols == formula else step.in_symbols,
                step.in_numbers(system),
                step.result(system),
                step.note,
                "" if step.source == source else step.source,
            )
        )
        formula, source = step.in_symbols, step.source
    return tuple(found)


def step_lines(steps: Iterable[StepWords]) -> list[str]:
    """Return the steps as lines of text."""
    return [line for step in steps for line in _step(step)]


def _step(step: StepWords) -> list[str]:
    lines = _wrapped(f"{step.place}. {step.title}", "", _INDENT)
    start, more = f"{_INDENT}{step.symbol} = ", f"{_INDENT}{' ' * len(step.symbol)} = "
    for formula in (step.in_symbols, step.in_numbers):
        if formula:
            lines += _wrapped(formula, start, more[:-2] + "  ")
            start = more
    lines.append(f"{start}{step.result}")
    if step.note:
        lines += _wrapped(step.note, _INDENT, _INDENT)
    if step.source:
        lines += _wrapped(f"[{step.source}]", _INDENT, _INDENT)
    return lines


def _wrapped(text: str, first: str, more: str) -> list[str]:
    return paragraph(text, more, first=first)
