"""A derivation as text: its chapters, then the margins of all limits."""

from __future__ import annotations

from dataclasses import replace

from preloadmc.questions.bounds import bounds
from preloadmc.questions.check import check
from preloadmc.questions.derive import Derivation
from preloadmc.report.text.blocks import (
    Chapters,
    Paragraph,
    Report,
    Section,
    Table,
    render_text,
)
from preloadmc.report.text.bounds import bounds_chapters, bounds_sections
from preloadmc.report.text.case import caution_section
from preloadmc.units import format_number, format_quantity


def derive_text(derivation: Derivation, system: str = "metric") -> str:
    """Return a derivation as text, with the deterministic check that the case states."""
    found = bounds(derivation)
    (bounded,) = bounds_sections(found, system)
    steps = bounds_chapters(found, system)
    sections = (
        *derivation_sections(derivation, system),
        replace(bounded, blocks=(*bounded.blocks, steps)),
        caution_section(),
    )
    warnings = check(derivation.case).warnings
    return render_text(Report(derivation.case.title, sections, warnings=warnings))


def derivation_sections(derivation: Derivation, system: str = "metric") -> tuple[Section, ...]:
    """Return the chapters with their steps, then the margins of all limits."""
    opening = Paragraph(
        "Every input at its mean; loads and limits per fastener. This is one joint of many: what "
        "scatter makes of it is the result of a run."
    )
    rows = tuple(
        (
            margin.limit.name,
            margin.limit.state,
            format_quantity(margin.reference, margin.dimension, system),
            format_quantity(margin.value, margin.dimension, system),
            "-" if margin.share is None else f"{format_number(100 * margin.share, 3)} %",
        )
        for margin in derivation.margins
    )
    header = ("limit at nominal values", "state", "bound", "margin", "share")
    explained = Paragraph(
        "A margin below zero is a miss; its share is of the bound, the least or the most allowed."
    )
    return (
        Section(
            "Derivation at nominal values",
            (opening, Chapters(derivation.chapters, system)),
            titled=True,
        ),
        Section("Margins at nominal values", (Table(header, rows, words=2), explained)),
    )
