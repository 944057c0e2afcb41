"""The one judgement as text: every limit with what is allowed of it, and what was not judged."""

from __future__ import annotations

import math

from preloadmc.judgement.verdicts import NOT_JUDGED, Judged, Judgement
from preloadmc.judgement.wording import probability_words, share_text
from preloadmc.limits import OVER, UNDER
from preloadmc.report.text.blocks import Block, Paragraph, Points, Table

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
        rows.append((side.label, doubted_words(side), *sure, verdict))
    band = judged.outside.band
    sure = () if band is None else (f"below, at {100 * band.confidence:g} %",)
    return Table(("preload", "probability (95 %)", *sure, "verdict"), tuple(rows))


def joint_table(judged: Judgement) -> Table:
    """Return the table of what is judged of a joint of several fasteners."""
    rows = []
    for each in judged.of_joint:
        sure = () if each.band is None else (share_text(each.sure),)
        rows.append((each.label, doubted_words(each), *sure, verdict_words(each)))
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
    return Table(header, tuple(_row(limit) for limit in judged.limits), words=2)


def _row(limit: Judged) -> tuple[str, ...]:
    return (
        limit.name,
        limit.state,
        doubted_words(limit),
        _SIDE_WORDS.get(limit.sides, limit.verdict_words),
        "-" if math.isinf(limit.median_share) else f"{100 * limit.median_share:.3g} %",
    )


def doubted_words(judged: Judged) -> str:
    """Return a probability for a table: with its doubt, where there is one."""
    return probability_words(judged.probability) + ("" if judged.probability.reliable else " ?")


def unknown_blocks(judged: Judgement) -> tuple[Block, ...]:
    """Return which limits were not judged, and why; nothing where every one was."""
    if not judged.unknown:
        return ()
    return (
        Paragraph("Not judged, since the case does not say enough:"),
        Points(tuple(f"{name}: {missing}" for name, missing in judged.unknown.items())),
    )


def verdict_words(judged: Judged) -> str:
    """Return a verdict with what is allowed: "meets 0.001"."""
    if judged.verdict == NOT_JUDGED:
        return f"{NOT_JUDGED}: no allowed probability"
    return judged.verdict_words
