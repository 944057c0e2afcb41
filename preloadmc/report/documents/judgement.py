"""The one judgement as a part of documents."""

from __future__ import annotations

from typing import Any

from preloadmc.judgement.verdicts import Judged, Judgement
from preloadmc.report.documents.estimates import probability_document


def judged_document(judged: Judged) -> dict[str, Any]:
    """Return a side or limit with its probability, what is allowed of it, and the verdict."""
    return {
        **probability_document(judged.probability),
        "allowed": judged.allowed,
        "verdict": judged.verdict,
    }


def limits_document(judged: Judgement) -> list[dict[str, Any]]:
    """Return every limit; ``sides`` are the outcomes of the window that it counts in."""
    return [
        {
            "limit": limit.name,
            "sides": list(limit.sides),
            "governing_state": limit.state,
            **judged_document(limit),
            "median_margin_share": limit.median_share,
        }
        for limit in judged.limits
    ]


def unknown_document(judged: Judgement) -> list[dict[str, str]]:
    """Return the limits that were not judged, and why."""
    return [{"limit": name, "reason": missing} for name, missing in judged.unknown.items()]
