"""A derivation as text: its chapters, then the margins of all limits."""

from __future__ import annotations

from collections.abc import Sequence

from preloadmc.questions.bounds import bounds
from preloadmc.questions.derivation import Derivation, NominalMargin
from preloadmc.report.bounds_text import bounds_lines, bounds_steps
from preloadmc.report.case_text import caution_lines
from preloadmc.report.step_text import step_lines
from preloadmc.report.tables import aligned, paragraph
from preloadmc.units import format_quantity


def derive_text(derivation: Derivation, system: str = "metric") -> str:
    """Return a derivation as text, with the deterministic check that the case states."""
    found = bounds(derivation.case)
    lines = [
        *paragraph(derivation.case.title),
        "",
        *derivation_lines(derivation, system),
        "",
        *bounds_lines(found, system),
        *bounds_steps(found, system),
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
