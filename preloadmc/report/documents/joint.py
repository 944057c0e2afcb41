"""The joint as a whole as a part of a run's document: forces in N, fasteners from 1."""

from __future__ import annotations

from typing import Any

from preloadmc.case import Case
from preloadmc.judgement.joint_events import JudgedEvent
from preloadmc.questions.run import JOINT_QUANTILES, JointResult
from preloadmc.report.documents.estimates import probability_document
from preloadmc.report.documents.judgement import judged_document
from preloadmc.report.text.joint import pass_name
from preloadmc.units import Array


def joint_document(case: Case, result: JointResult | None) -> dict[str, Any] | None:
    """Return the joint as a whole; None where the case is of one fastener."""
    group = case.group
    if result is None or group is None:
        return None
    facts, lots = group.facts, result.lots
    return {
        "fasteners": group.n,
        "governing": group.governing + 1,
        "weakest": result.weakest_place + 1,
        "at_least": group.at_least,
        "outcomes": {each.event.name: _event(each) for each in result.judged.events},
        "in_common": {
            name: {"by": group.levels[name], "fraction": fraction}
            for name, fraction in group.fractions.items()
        },
        "positions": None if facts.positions is None else facts.positions.tolist(),
        "residual": _by_fastener(result.residual),
        "passes": [
            {
                "pass": pass_name(facts, place),
                "preload": _by_fastener(quantiles),
                "spread": {"p50": float(spread[0]), "p95": float(spread[1])},
            }
            for place, (quantiles, spread) in enumerate(
                zip(result.passes, result.spreads, strict=True)
            )
        ],
        "orders": [
            {
                "order": each.order,
                "sequence": [
                    [[n + 1 for n in step] for step in order] for _, order in each.sequence
                ],
                "last_round": each.last_round,
                "tools_at_once": each.tools_at_once,
                "least_left": each.least_left,
                "spread": each.spread,
                "passes_until_even": each.passes_until_even,
                "stated": each.stated,
            }
            for each in result.orders
        ],
        "lots": None
        if lots is None
        else {
            "event": lots.event,
            "asked": lots.asked,
            "share_of_lots": lots.share_of_lots,
            "p05": lots.quantiles[0],
            "p50": lots.quantiles[1],
            "p95": lots.quantiles[2],
            "differ_by": list(lots.differ_by),
        },
        "unit": "N",
    }


def _event(each: JudgedEvent) -> dict[str, Any]:
    return {
        **judged_document(each.judged),
        "check": None if each.check is None else probability_document(each.check),
        "independent": each.independent,
        "all_common": each.all_common,
        "common_share": each.common_share,
        "by_fastener": None
        if each.by_fastener is None
        else [probability_document(single) for single in each.by_fastener],
    }


def _by_fastener(quantiles: Array) -> dict[str, list[float]]:
    return {
        f"p{round(100 * p):02d}": row.tolist()
        for p, row in zip(JOINT_QUANTILES, quantiles, strict=True)
    }
