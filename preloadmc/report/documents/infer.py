"""An investigation as a JSON document."""

from __future__ import annotations

import hashlib
import math
from typing import Any

from preloadmc.case import Case
from preloadmc.estimates.model_odds import bayes_factor_words
from preloadmc.evidence import Count, Finding, Reading
from preloadmc.questions.infer import (
    FindingFit,
    FitCheck,
    InferResult,
    OtherCause,
    Verdict,
    infer_answer,
)
from preloadmc.report.documents.document import document_head, document_tail
from preloadmc.report.text.infer import INVESTIGATION_CAUTIONS


def infer_document(result: InferResult) -> dict[str, Any]:
    """Return an investigation as a document: N, mm, N·mm, rad, K, s."""
    evidence = result.evidence
    document = {
        **document_head(result.case, result.seed),
        **infer_mark(result.case, result.seed),
        "answer": list(infer_answer(result)),
        "evidence": {
            "findings": [
                {**_finding(finding), "because_loose": finding.fastener in evidence.selected}
                for finding in evidence.findings
            ],
            "counts": [_finding(count) for count in evidence.counts],
            "loose_below": evidence.loose_below,
            "service_time": evidence.service_time,
            "lot_size": evidence.lot_size,
        },
        "suspects": [
            {
                **_verdict(verdict),
                "probability_at_a_third_of_the_prior": float(result.sensitivity.low[i]),
                "probability_at_three_times_the_prior": float(result.sensitivity.high[i]),
                "probability_at_even_priors": float(result.sensitivity.even[i]),
            }
            for i, verdict in enumerate(result.suspects)
        ],
        "other_cause": _other(result.other_cause),
        "prior_factor_to_lose_lead": result.sensitivity.prior_factor_to_lose_lead,
        "next_measurements": [
            {
                "kind": each.kind,
                "fastener": each.fastener,
                "accuracy": each.accuracy,
                "bits": each.bits,
                "bits_error": each.bits_error,
                "share_of_what_is_open": each.share_of_what_is_open,
            }
            for each in result.next_measurements
        ],
        "particles": result.particles,
        "runs": result.runs,
        **document_tail(result.case, result.warnings),
    }
    document["assumptions"] = [
        {"path": item.path, "value": item.value, "source": item.source}
        for item in result.assumptions
    ]
    document["cautions"] = [*INVESTIGATION_CAUTIONS, *document["cautions"]]
    return document


def infer_mark(case: Case, seed: int) -> dict[str, object]:
    """Return the keys that tell one investigation's document from another's."""
    text = "" if case.investigation is None else case.investigation.evidence.table_text
    return {
        "question": "infer",
        "case_sha256": case.sha256,
        "evidence_sha256": hashlib.sha256(text.encode()).hexdigest(),
        "seed": seed,
        "asked": {},
    }


def _finding(finding: Finding | Count) -> dict[str, Any]:
    if isinstance(finding, Count):
        return {
            "loose": finding.loose,
            "inspected": finding.inspected,
            "limit": finding.limit,
        }
    common: dict[str, Any] = {
        "fastener": finding.fastener,
        "kind": finding.kind,
        "words": finding.words,
    }
    if finding.after is not None:
        common["after"] = finding.after
    if isinstance(finding, Reading):
        return {
            **common,
            "sense": finding.sense,
            "value": finding.value,
            "error": finding.error,
            "instrument": finding.instrument or None,
        }
    return {**common, "seen": finding.seen, "error": finding.error}


def _verdict(verdict: Verdict) -> dict[str, Any]:
    suspect = verdict.suspect
    return {
        "name": suspect.name,
        "source": suspect.source,
        "note": suspect.note,
        "prior": verdict.prior,
        "probability": verdict.probability,
        "error": verdict.error,
        "log_evidence": verdict.log_evidence,
        "bayes_factor_against_design": _factor(verdict.log_bayes_factor),
        "log_bayes_factor": verdict.log_bayes_factor,
        "log_bayes_factor_error": verdict.log_bayes_factor_error,
        "bayes_factor_words": bayes_factor_words(verdict.log_bayes_factor),
        "effective_sample_size": verdict.effective_sample_size,
        "explains_the_evidence": None
        if verdict.fit_check is None
        else verdict.explains_the_evidence,
        "fit_check": None if verdict.fit_check is None else _check(verdict.fit_check),
        "fit": [_fit(each) for each in verdict.fit],
        "inputs": [
            {
                "name": each.name,
                "law_mean": each.law.mean,
                "law_sd": each.law.sd,
                "p05": each.p05,
                "p50": each.p50,
                "p95": each.p95,
            }
            for each in verdict.inputs
        ],
    }


def _check(check: FitCheck) -> dict[str, Any]:
    oddest = check.oddest
    return {
        "chance_of_such_findings": check.chance_of_such_findings,
        "oddest": {
            "kind": oddest.kind or None,
            "figure": oddest.figure,
            "value": oddest.value,
            "p05": oddest.p05,
            "p95": oddest.p95,
        },
    }


def _other(other: OtherCause) -> dict[str, Any]:
    return {
        "log_bayes_factor_of_wide_laws": other.log_bayes_factor_of_wide_laws,
        "log_bayes_factor_error": other.log_bayes_factor_error,
        "fits_better_than_all_named": other.fits_better_than_all_named,
        "unnamed_suspects": [
            {
                "name": each.suspect.name,
                "source": each.suspect.source,
                "note": each.suspect.note,
                "log_bayes_factor_against_best_named": each.log_bayes_factor_against_best_named,
                "log_bayes_factor_error": each.log_bayes_factor_error,
                "fits_as_well": each.fits_as_well,
                "fit_check": _check(each.fit_check),
            }
            for each in other.unnamed_suspects
        ],
    }


def _factor(log_factor: float) -> float | None:
    return math.exp(log_factor) if abs(log_factor) < 700.0 else None


def _fit(fit: FindingFit) -> dict[str, Any]:
    return {
        "finding": _finding(fit.finding),
        "predicts": "chance" if fit.is_chance else "value",
        "p05": fit.p05,
        "p50": fit.p50,
        "p95": fit.p95,
        "position": fit.position,
        "prior_position": fit.prior_position,
    }
