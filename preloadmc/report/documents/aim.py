"""What aiming found as a JSON document: settings in N, mm, N·mm, rad."""

from __future__ import annotations

from typing import Any

import numpy as np

from preloadmc.case import Case
from preloadmc.estimates.outside_shares import ShareCurve
from preloadmc.questions.aim import AimResult, AllowedScatter, SettingPoint
from preloadmc.report.documents.document import document_head, document_tail
from preloadmc.report.documents.estimates import probability_document

# The curve is written at every eighth setting.
_EVERY = 8


def aim_mark(case: Case, seed: int, system: str) -> dict[str, object]:
    """Return the keys that tell one document from another's: case and options."""
    return {
        "question": "aim",
        "case_sha256": case.sha256,
        "seed": seed,
        "asked": {"units": system},
    }


def aim_document(result: AimResult) -> dict[str, Any]:
    """Return what aiming found as a document."""
    setting, found, verification = result.setting, result.aim, result.verification
    requirement, allowed = result.case.requirement, result.allowed_scatter
    return {
        **document_head(result.case, result.seed),
        **aim_mark(result.case, result.seed, result.system),
        "answer": list(result.answer),
        "setting": {
            "input": setting.name,
            "unit": setting.dimension.internal,
            "scatter": "in proportion" if setting.in_proportion else "unchanged",
            "present": _point(result.present),
            "to_set": _point(result.to_set),
            "best": _point(result.best),
            "best_regardless_of_allowed": found.best_regardless,
            "interval": None if found.interval is None else list(found.interval),
            "verdict": found.verdict,
            "allowed_under": requirement.allowed_under,
            "allowed_over": requirement.allowed_over,
        },
        "weighting": {
            "under": result.weighting.under,
            "over": result.weighting.over,
            "words": result.weighting.words,
        },
        "limits": [
            {
                "limit": each.limit.name,
                "state": each.limit.state,
                "sides": list(each.limit.sides),
                "probability": each.share,
            }
            for each in result.limits
        ],
        "verification": {
            "seed": verification.seed,
            "confirmed": verification.confirmed,
            **{
                outcome.name: {**probability_document(outcome.probability), "agrees": agrees}
                for outcome, agrees in zip(verification.outcomes, verification.agrees, strict=True)
            },
        },
        "room": None if allowed is None else [_scatter(each) for each in allowed.sources],
        "border": None
        if allowed is None
        else [
            {"tool": point.tool, "friction": point.friction, "just_met": point.just}
            for point in allowed.border
        ],
        "curve": {
            "setting": result.under.levels[::_EVERY].tolist(),
            "under_preload": _curve(result.under),
            "over_preload": _curve(result.over),
        },
        "draws": result.draws,
        "model_calls": result.model_calls,
        **document_tail(result.case),
    }


def _point(point: SettingPoint) -> dict[str, Any]:
    return {
        "setting": point.setting,
        "under_preload": probability_document(point.under),
        "over_preload": probability_document(point.over),
        "outside_window": probability_document(point.outside),
    }


def _curve(curve: ShareCurve) -> dict[str, list[float]]:
    parts = {"probability": curve.value, "low": curve.low, "high": curve.high}
    return {name: np.asarray(part)[::_EVERY].tolist() for name, part in parts.items()}


def _scatter(allowed: AllowedScatter) -> dict[str, Any]:
    return {
        "scatter": allowed.label,
        "verdict": allowed.verdict,
        "factor": allowed.factor,
        "low": allowed.low,
        "high": allowed.high,
        "inputs": [
            {"name": each.name, "mean": each.mean, "sd_now": each.now, "sd_at_most": each.most}
            for each in allowed.spreads
        ],
    }
