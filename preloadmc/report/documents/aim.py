"""What aiming found as a JSON document: settings in N, mm, N·mm, rad."""

from __future__ import annotations

from typing import Any

import numpy as np

from preloadmc.case import Case
from preloadmc.estimates.outside_shares import ShareCurve
from preloadmc.questions.aim import AimResult, AllowedScatter, JudgedSetting, SettingPoint
from preloadmc.report.documents.document import document_head, document_tail
from preloadmc.report.documents.estimates import probability_document
from preloadmc.report.documents.judgement import (
    judged_document,
    limits_document,
    of_joint_document,
    unknown_document,
)

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
    requirement, allowed = result.case.requirement, result.room
    return {
        **document_head(result.case, result.seed),
        **aim_mark(result.case, result.seed, result.system),
        "answer": list(result.answer),
        "setting": {
            "input": setting.input,
            "unit": setting.dimension.internal,
            "scatter": "in proportion" if setting.in_proportion else "unchanged",
            "present": _judged(result.present),
            "to_set": None if result.to_set is None else _judged(result.to_set),
            "least_missed": _judged(result.looked_at) if result.to_set is None else None,
            "best": _point(result.best),
            "best_regardless_of_allowed": found.best_regardless_of_allowed,
            "interval": None if found.interval is None else list(found.interval),
            "interval_limits": None
            if result.interval_limits is None
            else [_judged(end) for end in result.interval_limits],
            "closed_by": {
                end: {"setting": closed.setting, "limits": list(closed.limits)}
                for end, closed in (("low", found.low_end), ("high", found.high_end))
            },
            "verdict": found.verdict,
            "allowed_under": requirement.allowed_under,
            "allowed_over": requirement.allowed_over,
        },
        "weighting": {
            "weights": dict(result.weighting.weights),
            "words": result.weighting.words,
        },
        "verification": {
            "seed": verification.seed,
            "confirmed": verification.confirmed,
            "limits": limits_document(verification.judged),
            **{
                side.name: {**judged_document(side), "agrees": agrees}
                for side, agrees in zip(verification.judged.sides, verification.agrees, strict=True)
            },
        },
        "room": None if allowed is None else [_scatter(each) for each in allowed.sources],
        "border": None
        if allowed is None
        else [
            {"tool": point.tool, "friction": point.friction, "just_met": point.just_met}
            for point in allowed.border
        ],
        "curve": {
            "setting": result.under.levels[::_EVERY].tolist(),
            **{name: _curve(curve) for name, curve in result.curve.items()},
        },
        "draws": result.draws,
        "model_calls": result.model_calls,
        **document_tail(result.case, result.warnings),
    }


def _point(point: SettingPoint) -> dict[str, Any]:
    return {
        "setting": point.setting,
        "under_preload": probability_document(point.under_preload),
        "over_preload": probability_document(point.over_preload),
        "outside_window": probability_document(point.outside_window),
        **{name: probability_document(each) for name, each in point.others.items()},
    }


def _judged(at: JudgedSetting) -> dict[str, Any]:
    return {
        "setting": at.setting,
        **{side.name: judged_document(side) for side in at.judged.outcomes},
        "verdict": at.judged.verdict,
        **of_joint_document(at.judged),
        "limits": limits_document(at.judged),
        "not_judged": unknown_document(at.judged),
    }


def _curve(curve: ShareCurve) -> dict[str, list[float]]:
    parts = {"probability": curve.value, "low": curve.low, "high": curve.high}
    return {name: np.asarray(part)[::_EVERY].tolist() for name, part in parts.items()}


def _scatter(allowed: AllowedScatter) -> dict[str, Any]:
    return {
        "scatter": allowed.scatter,
        "verdict": allowed.verdict,
        "factor": allowed.factor,
        "low": allowed.low,
        "high": allowed.high,
        "inputs": [
            {
                "name": each.name,
                "mean": each.mean,
                "sd_now": each.sd_now,
                "sd_at_most": each.sd_at_most,
            }
            for each in allowed.inputs
        ],
    }
