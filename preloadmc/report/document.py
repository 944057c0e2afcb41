"""Results as JSON documents."""

from __future__ import annotations

import json
import math
from typing import Any

from preloadmc import __version__
from preloadmc.case import Case
from preloadmc.questions.bounds import bounds
from preloadmc.questions.run import RunResult, Stage
from preloadmc.questions.tails import OutcomeEstimate
from preloadmc.report.bounds_text import bounds_document
from preloadmc.report.cautions import CAUTIONS, INTERVALS
from preloadmc.report.control_text import control_document
from preloadmc.report.probability_document import probability_document
from preloadmc.report.ranking_document import dominates_document, ranking_document

SCHEMA = 1


def run_document(result: RunResult) -> dict[str, Any]:
    """Return a run as a document: forces in N."""
    return {
        **document_head(result.case, result.seed),
        **run_mark(
            result.case,
            result.seed,
            result.asked_samples,
            result.asked_precision,
            result.asked_method,
        ),
        "samples": result.samples.n,
        "answer": list(result.answer),
        "outcomes": {
            outcome.name: {
                **probability_document(outcome.probability),
                "allowed": outcome.allowed,
                "verdict": outcome.verdict,
                **_behind(result.estimates[outcome.name]),
            }
            for outcome in result.outcomes
        },
        "preload": {stage.name: _stage(stage) for stage in result.stages},
        "limits": [
            {
                "limit": limit.name,
                "sides": list(limit.sides),
                "governing_state": limit.state,
                **probability_document(limit.probability),
                "median_margin_share": limit.median_share,
            }
            for limit in result.limits
        ],
        "capability": result.capability,
        "deterministic": bounds_document(bounds(result.case), result.samples.kept),
        "ranking": None if result.ranking is None else ranking_document(result.ranking),
        "control": None if result.control is None else control_document(result.control),
        "warnings": list(result.warnings),
        **document_tail(result.case),
    }


def run_mark(
    case: Case, seed: int, samples: int | None, precision: float | None, method: str | None
) -> dict[str, object]:
    """Return the keys that tell one run's document from another's: case and options."""
    return {
        "question": "run",
        "case_sha256": case.sha256,
        "seed": seed,
        "asked": {"samples": samples, "precision": precision, "method": method},
    }


def _behind(estimate: OutcomeEstimate) -> dict[str, Any]:
    """Return the check by a second estimator, the likeliest way to miss, and what dominates."""
    check, miss = estimate.check, estimate.likeliest
    return {
        "check": None
        if check is None
        else {**probability_document(check), "model_calls": estimate.check_calls},
        "likeliest_miss": None
        if miss is None
        else {
            "limit": miss.limit,
            "state": miss.state,
            "beta": miss.beta,
            "inputs": [
                {"name": item.name, "value": item.value, "mean": item.mean, "z": item.z}
                for item in miss.inputs
            ],
        },
        "dominates": dominates_document(estimate.dominates),
    }


def as_json(document: dict[str, Any]) -> str:
    """Return the document as JSON text; a number that JSON does not know is null."""
    return json.dumps(_finite(document), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_finite(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def document_head(case: Case, seed: int) -> dict[str, Any]:
    """Return what every document begins with: program, case and seed."""
    return {
        "schema": SCHEMA,
        "preloadmc": __version__,
        "case": case.source,
        "title": case.title,
        "case_sha256": case.sha256,
        "seed": seed,
    }


def document_tail(case: Case) -> dict[str, Any]:
    """Return what every document ends with: assumptions, what intervals mean, cautions."""
    return {
        "assumptions": [
            {"path": item.path, "value": item.value, "source": item.source}
            for item in case.assumptions
        ],
        "intervals": INTERVALS,
        "cautions": list(CAUTIONS),
    }


def _stage(stage: Stage) -> dict[str, Any]:
    return {
        "mean": stage.mean,
        "sd": stage.sd,
        **{f"p{round(100 * q.p):02d}": q.value for q in stage.quantiles},
        "unit": "N",
    }
