"""A ranking as a JSON document of its own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from preloadmc.case import Case
from preloadmc.questions.rank import RankResult
from preloadmc.report.document import document_head, document_tail
from preloadmc.report.ranking_document import ranking_document


def rank_document(result: RankResult) -> dict[str, Any]:
    """Return a ranking as a document."""
    return {
        **document_head(result.case, result.seed),
        **rank_mark(
            result.case,
            result.seed,
            of=result.of,
            groups=result.groups,
            second_order=result.second_order,
            convergence=bool(result.convergence),
        ),
        "answer": list(result.answer),
        "ranking": ranking_document(result),
        **document_tail(result.case),
    }


def rank_mark(
    case: Case,
    seed: int,
    *,
    of: str,
    groups: Sequence[str],
    second_order: bool,
    convergence: bool,
) -> dict[str, object]:
    """Return the keys that tell one ranking's document from another's: case and options."""
    return {
        "question": "rank",
        "case_sha256": case.sha256,
        "seed": seed,
        "asked": {
            "of": of,
            "groups": list(groups),
            "second_order": second_order,
            "convergence": convergence,
        },
    }
