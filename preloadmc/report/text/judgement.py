"""The one judgement as text: every limit with what is allowed of it, and what was not judged."""

from __future__ import annotations

import math
from collections.abc import Iterable

from preloadmc.judgement.verdicts import NOT_JUDGED, Judged, Judgement, unsure_strength_words
from preloadmc.judgement.wording import common_unit, probability_words, share_text
from preloadmc.limits import OVER, UNDER
from preloadmc.report.text.blocks import Block, Paragraph, Points, Table
from preloadmc.units import format_number

_SIDE_WORDS = {
    (UNDER,): "(too little)",
    (OVER,): "(too much)",
    (UNDER, OVER): "(both sides)",
}


EXPLAINED = Paragraph(
    "A limit of the preload window counts in too little or too much preload, in brackets, which "
    "are held to what is allowed as a whole. Margin: the median one, as a share of what is allowed "
    "or can be carried. A ? marks an estimate in doubt."
)


def limit_blocks(judged: Judgement) -> tuple[Block, ...]:
    """Return the table of all limits, and what the case does not say enough of to be judged."""
    return (limit_table(judged), EXPLAINED, *unknown_blocks(judged))


def side_table(judged: Judgement) -> Table:
    """Return the table of too little, too much and either."""
    rows = []
    for side in judged.outcomes:
        sure = () if side.band is None else (share_text(side.sure),)
        verdict = "" if side is judged.outside else verdict_words(side)
        rows.append((side.label, doubted_words(side, unit_of(judged.outcomes)), *sure, verdict))
    band = judged.outside.band
    sure = () if band is None else (f"below, at {100 * band.confidence:g} %",)
    return Table(("preload", "probability (95 %)", *sure, "verdict"), tuple(rows))


def joint_table(judged: Judgement) -> Table:
    """Return the table of what is judged of a joint of several fasteners."""
    rows = []
    for each in judged.of_joint:
        sure = () if each.band is None else (share_text(each.sure),)
        words = doubted_words(each, unit_of(judged.of_joint))
        rows.append((each.label, words, *sure, verdict_words(each)))
    band = next((each.band for each in judged.of_joint if each.band is not None), None)
    sure = () if band is None else (f"below, at {100 * band.confidence:g} %",)
    if band is not None:
        rows = [row if len(row) == 4 else (*row[:2], "-", row[2]) for row in rows]
    return Table(("joint", "probability (95 % interval)", *sure, "verdict"), tuple(rows))


def tables_of(judged: Judgement) -> tuple[Table, ...]:
    """Return the table of all limits, behind that of the joint where it has several fasteners."""
    of_joint = (joint_table(judged),) if judged.of_joint else ()
    return (*of_joint, limit_table(judged))


def limit_table(judged: Judgement) -> Table:
    """Return the table of all limits: probability, verdict with what is allowed, median margin."""
    header = ("limit", "governing state", "probability of a miss", "verdict", "margin")
    unit = unit_of(judged.limits)
    return Table(header, tuple(_row(limit, unit) for limit in judged.limits), words=2)


def _row(limit: Judged, unit: str | None) -> tuple[str, ...]:
    return (
        limit.name,
        limit.governing_state,
        doubted_words(limit, unit),
        _SIDE_WORDS.get(limit.sides, limit.verdict_words),
        margin_words(limit, 3),
    )


def margin_words(limit: Judged, digits: int) -> str:
    """Return the median margin in per cent of what is allowed or can be carried."""
    if math.isinf(limit.median_margin_share):
        return "-"
    return f"{format_number(100 * limit.median_margin_share, digits)} %"


def doubted_words(judged: Judged, unit: str | None = None) -> str:
    """Return a probability for a table: with its doubt, where there is one.

    ``unit`` is that of its column (`unit_of`), its own unless given.
    """
    doubt = "" if judged.probability.reliable else " ?"
    return probability_words(judged.probability, unit) + doubt


def unit_of(column: Iterable[Judged]) -> str | None:
    """Return the one unit of a column of probabilities; None where each has its own."""
    return common_unit([each.probability for each in column])


def unknown_blocks(judged: Judgement) -> tuple[Block, ...]:
    """Return which limits were not judged, or not for sure, and why; nothing where all were."""
    blocks: list[Block] = []
    if judged.unknown:
        blocks += [
            Paragraph("Not judged, since the case does not say enough:"),
            Points(tuple(f"{name}: {missing}" for name, missing in judged.unknown.items())),
        ]
    if judged.unsure_strength:
        blocks += [
            Paragraph("Judged with a strength that is not known to hold there:"),
            Points(tuple(unsure_strength_words(judged.unsure_strength))),
        ]
    return tuple(blocks)


def verdict_words(judged: Judged) -> str:
    """Return a verdict with what is allowed: "meets 0.1 %"."""
    if judged.verdict == NOT_JUDGED:
        return f"{NOT_JUDGED}: no allowed probability"
    return judged.verdict_words
