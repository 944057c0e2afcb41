"""The text report of a ranking."""

from __future__ import annotations

from preloadmc.questions.rank import RankResult
from preloadmc.questions.wording import share_words
from preloadmc.report.case_text import caution_lines
from preloadmc.report.tables import aligned, paragraph


def ranking_lines(result: RankResult) -> list[str]:
    """Return the table of Sobol' indices of the residual preload, and what they cost."""
    indices = result.indices
    rows = [
        (
            indices.names[place],
            share_words(indices.first[place], indices.first_low[place], indices.first_high[place]),
            share_words(indices.total[place], indices.total_low[place], indices.total_high[place]),
        )
        for place in result.order
    ]
    lines = aligned(("scatter of the residual preload", "first index", "total index"), rows)
    together = [members for members in result.members if len(members) > 1]
    if together:
        lines += paragraph(
            "Correlated inputs are ranked together as one group: a share of the variance belongs "
            "to none of them alone."
        )
    lines += paragraph(
        f"Sobol' indices with 95 % intervals, {indices.base_samples:,} base samples, "
        f"{indices.model_calls:,} model calls, seed {result.seed}."
    )
    return lines


def rank_text(result: RankResult) -> str:
    """Return the report of a ranking as text."""
    lines = [*paragraph(result.case.title), "", *ranking_lines(result), "", *caution_lines()]
    return "\n".join(lines) + "\n"
