"""The one judgement as a part of documents."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from preloadmc.estimates.band import Band
from preloadmc.judgement.next_tests import NextTests
from preloadmc.judgement.verdicts import Judged, Judgement
from preloadmc.report.documents.estimates import probability_document


def judged_document(judged: Judged) -> dict[str, Any]:
    """Return a side or limit with its probability, what is allowed of it, and the verdict."""
    return {
        **probability_document(judged.probability),
        "allowed": judged.allowed,
        "verdict": judged.verdict,
        **({} if judged.band is None else {"band": _band(judged.band)}),
    }


def limits_document(judged: Judgement) -> list[dict[str, Any]]:
    """Return every limit; ``sides`` are the outcomes of the window that it counts in."""
    return [
        {
            "limit": limit.name,
            "sides": list(limit.sides),
            "governing_state": limit.governing_state,
            **judged_document(limit),
            "median_margin_share": limit.median_margin_share,
        }
        for limit in judged.limits
    ]


def of_joint_document(judged: Judgement) -> dict[str, Any]:
    """Return what is judged of a joint of several fasteners, under its key; else nothing."""
    if not judged.of_joint:
        return {}
    return {"group": {"outcomes": {each.name: judged_document(each) for each in judged.of_joint}}}


def unknown_document(judged: Judgement) -> list[dict[str, str]]:
    """Return the limits that were not judged, and why."""
    return [{"limit": name, "reason": missing} for name, missing in judged.unknown.items()]


def to_test_document(tests: Sequence[NextTests]) -> list[dict[str, Any]]:
    """Return which tests are worth doing, for each limit that they may settle."""
    return [
        {
            "limit": each.event,
            "allowed": each.allowed,
            "upper": each.upper,
            "settled": each.is_settled,
            "inputs": [
                {
                    "name": item.input,
                    "tests": item.tests,
                    "upper_after": {str(more): upper for more, upper in item.limits.items()},
                    "settled_by": item.settles,
                    "price": item.price,
                }
                for item in each.tests
            ],
        }
        for each in tests
    ]


def _band(band: Band) -> dict[str, Any]:
    """Return how far a probability may lie off for want of tests."""
    return {
        "median": band.median,
        "low": band.low,
        "high": band.high,
        "upper": band.upper,
        "upper_low": band.upper_low,
        "upper_high": band.upper_high,
        "confidence": band.confidence,
        "levels": list(band.levels),
        "draws": band.draws,
    }
