"""A run as a JSON document."""

from __future__ import annotations

from typing import Any

from preloadmc.case import Case
from preloadmc.judgement.estimate import OutcomeEstimate
from preloadmc.questions.run import FatigueByPreload, LossBudget, RunResult, Stage
from preloadmc.report.documents.acceptance import acceptance_document
from preloadmc.report.documents.bounds import bounds_document
from preloadmc.report.documents.control import control_document
from preloadmc.report.documents.document import document_head, document_tail
from preloadmc.report.documents.estimates import probability_document, quantiles_document
from preloadmc.report.documents.joint import joint_document
from preloadmc.report.documents.judgement import (
    judged_document,
    limits_document,
    to_test_document,
    unknown_document,
)
from preloadmc.report.documents.life import life_document
from preloadmc.report.documents.rank import dominates_document, ranking_document


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
            result.asked_until,
        ),
        "samples": result.samples.n,
        "model_calls": result.model_calls,
        "answer": list(result.answer),
        "outcomes": {
            outcome.name: {
                **judged_document(outcome),
                **_estimate_document(result.estimates[outcome.name]),
            }
            for outcome in result.outcomes
        },
        **_of_joint(result),
        **life_document(result.life),
        "preload": {stage.name: _stage(stage) for stage in result.preload},
        "loss_budget": _budget(result.loss_budget),
        **_fatigue(result.fatigue_by_preload),
        "verdict": result.judgement.verdict,
        "limits": limits_document(result.judgement),
        "acceptance": acceptance_document(result.judgement.screening),
        "not_judged": unknown_document(result.judgement),
        **(
            {"tests_worth_doing": to_test_document(result.tests_worth_doing)}
            if result.tests_worth_doing
            else {}
        ),
        "capability": result.capability,
        "deterministic": bounds_document(result.deterministic),
        "ranking": None if result.ranking is None else ranking_document(result.ranking),
        "control": None if result.control is None else control_document(result.control),
        **document_tail(result.case, result.warnings),
    }


def run_mark(
    case: Case,
    seed: int,
    samples: int | None,
    precision: float | None,
    method: str | None,
    until: float | None = None,
) -> dict[str, object]:
    """Return the keys that tell one run's document from another's: case and options."""
    return {
        "question": "run",
        "case_sha256": case.sha256,
        "seed": seed,
        "asked": {
            "samples": samples,
            "precision": precision,
            "method": method,
            **({} if until is None else {"until": until}),
        },
    }


def _of_joint(result: RunResult) -> dict[str, Any]:
    """Return the key of the joint as a whole; none where the case is of one fastener."""
    joint = joint_document(result.case, result.group)
    return {} if joint is None else {"group": joint}


def _estimate_document(estimate: OutcomeEstimate) -> dict[str, Any]:
    """Return the check by a second estimator, the likeliest way to miss, and what dominates."""
    check, miss = estimate.check, estimate.likeliest_miss
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


def _fatigue(found: FatigueByPreload | None) -> dict[str, Any]:
    """Return the key of fatigue by preload; none where the case does not judge fatigue."""
    if found is None:
        return {}
    given = {"share": found.share, "under_preload": found.loose, "enough_preload": found.tight}
    documents = {
        name: None if each is None else probability_document(each) for name, each in given.items()
    }
    ratio = None if found.ratio is None else list(found.ratio)
    return {"fatigue_by_preload": {**documents, "ratio": ratio}}


def _stage(stage: Stage) -> dict[str, Any]:
    return {
        "mean": stage.mean,
        "sd": stage.sd,
        **quantiles_document(stage.quantiles),
        "unit": "N",
    }


def _budget(budget: LossBudget) -> dict[str, Any]:
    """Return where preload goes; a run does not model back rotation, which costs nothing here."""
    return {
        "assembled": budget.assembled,
        "losses": [
            {"cause": loss.cause, "state": loss.state or None, "mean": loss.mean, "sd": loss.sd}
            for loss in budget.losses
        ],
        "rotation": 0.0,
        "residual": budget.residual,
        "unit": "N",
    }
