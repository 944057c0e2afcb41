"""The deterministic check beside the probabilistic one, as text."""

from __future__ import annotations

from preloadmc.judgement.wording import probability_words
from preloadmc.questions.bounds import DIFFERENCE, Bounds, SampledBounds
from preloadmc.report.text.blocks import (
    Block,
    Chapters,
    Paragraph,
    Points,
    Section,
    Table,
)
from preloadmc.steps import Chapter
from preloadmc.units import FORCE, format_number, format_quantity, to_unit

TITLE = "Deterministic check, from a stated scatter"
NOT_STATED = (
    "Deterministic check: none; the case states no scatter of preload for it ([deterministic])."
)


def bounds_sections(
    found: Bounds, system: str, sampled: SampledBounds | None = None, *, explained: bool = True
) -> tuple[Section, ...]:
    """Return the bounds of each approach against the window; with samples, what lies beyond.

    Where ``explained``, with what sets such a bound apart from a probability.
    """
    if not found.approaches:
        return (Section(TITLE, (Paragraph(NOT_STATED),)),)
    unit = FORCE.unit(system)
    rows = tuple(
        (
            approach.name,
            _number(approach.smallest, unit),
            _verdict(approach.meets_minimum),
            _number(approach.largest_assembled, unit),
            _number(approach.largest, unit),
            _verdict(approach.meets_maximum),
        )
        for approach in found.approaches
    )
    header = ("approach", "smallest", "minimum", "assembled", "largest", "maximum")
    bounded = (
        Table(header, rows),
        Paragraph(f"Forces in {unit}, over the joint's life, with nominal losses and states."),
        Points(tuple(f"{approach.name}: {approach.source}." for approach in found.approaches)),
    )
    difference = Paragraph(DIFFERENCE)
    if sampled is None:
        return (Section(TITLE, (*bounded, difference) if explained else bounded, titled=True),)
    return (
        Section(TITLE, bounded, titled=True),
        Section("Sampled beyond the bounds", (*_beyond(sampled, system), difference)),
    )


def bounds_chapters(found: Bounds, system: str) -> Chapters:
    """Return the derivation of each approach."""
    chapters = (Chapter(approach.name, approach.chapter.steps) for approach in found.approaches)
    return Chapters(tuple(chapters), system, counted=False)


def _number(value: float, unit: str) -> str:
    return format_number(to_unit(value, unit, FORCE))


def _verdict(meets: bool | None) -> str:
    return "-" if meets is None else "meets" if meets else "misses"


def _beyond(sampled: SampledBounds, system: str) -> tuple[Block, ...]:
    rows = tuple(
        (item.approach.name, probability_words(item.below), probability_words(item.above))
        for item in sampled.beyond
    )
    low, high = sampled.smallest, sampled.largest
    return (
        Table(("sampled beyond the bounds", "below the smallest", "above the largest"), rows),
        Paragraph(
            "Sampled: 0.1 % of fasteners hold less than "
            f"{format_quantity(low.value, FORCE, system)} at their smallest, 0.1 % more than "
            f"{format_quantity(high.value, FORCE, system)} at their largest."
        ),
    )
