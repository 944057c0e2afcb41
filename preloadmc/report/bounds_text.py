"""The deterministic check beside the probabilistic one, as text and as a document."""

from __future__ import annotations

from typing import Any

from preloadmc.engine import Kept
from preloadmc.questions.bounds import DIFFERENCE, Approach, Bounds, beyond, tails
from preloadmc.questions.derivation import Chapter
from preloadmc.questions.wording import probability_words
from preloadmc.report.blocks import (
    Block,
    Chapters,
    Paragraph,
    Points,
    Section,
    Table,
)
from preloadmc.report.probability_document import probability_document
from preloadmc.units import FORCE, format_number, format_quantity, to_unit

TITLE = "Deterministic check, from a stated scatter"
NOT_STATED = (
    "Deterministic check: none; the case states no scatter of preload for it ([deterministic])."
)


def bounds_sections(found: Bounds, system: str, kept: Kept | None = None) -> tuple[Section, ...]:
    """Return the bounds of each approach against the window; with samples, what lies beyond."""
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
    if kept is None:
        return (Section(TITLE, (*bounded, difference), titled=True),)
    return (
        Section(TITLE, bounded, titled=True),
        Section("Sampled beyond the bounds", (*_beyond(found, kept, system), difference)),
    )


def bounds_chapters(found: Bounds, system: str) -> Chapters:
    """Return the derivation of each approach."""
    chapters = (Chapter(approach.name, approach.chapter.steps) for approach in found.approaches)
    return Chapters(tuple(chapters), system, counted=False)


def _number(value: float, unit: str) -> str:
    return format_number(to_unit(value, unit, FORCE))


def _verdict(meets: bool | None) -> str:
    return "-" if meets is None else "meets" if meets else "misses"


def _beyond(found: Bounds, kept: Kept, system: str) -> tuple[Block, ...]:
    rows = tuple(
        (item.approach.name, probability_words(item.below), probability_words(item.above))
        for item in beyond(found, kept)
    )
    low, high = tails(kept)
    return (
        Table(("sampled beyond the bounds", "below the smallest", "above the largest"), rows),
        Paragraph(
            f"Sampled: 0.1 % of joints hold less than {format_quantity(low.value, FORCE, system)} "
            f"at their smallest, 0.1 % more than {format_quantity(high.value, FORCE, system)} at "
            "their largest."
        ),
    )


def bounds_document(found: Bounds, kept: Kept) -> dict[str, Any] | None:
    """Return the check as a document, forces in N; None where the case states no scatter."""
    if not found.approaches:
        return None
    low, high = tails(kept)
    return {
        "approaches": [
            {
                **_approach(item.approach),
                "below_smallest": probability_document(item.below),
                "above_largest": probability_document(item.above),
            }
            for item in beyond(found, kept)
        ],
        "sampled": {"residual_p001": low.value, "largest_p999": high.value},
        "difference": DIFFERENCE,
        "unit": "N",
    }


def _approach(approach: Approach) -> dict[str, Any]:
    window = approach.window
    return {
        "name": approach.name,
        "source": approach.source,
        "smallest_assembled": approach.smallest_assembled,
        "largest_assembled": approach.largest_assembled,
        "smallest": approach.smallest,
        "largest": approach.largest,
        "needed": window.needed,
        "most_assembled": window.most_assembled,
        "most_later": window.most_later,
        "meets_minimum": approach.meets_minimum,
        "meets_maximum": approach.meets_maximum,
    }
