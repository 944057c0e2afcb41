"""A fit of test records, and the plan of a claim, as JSON documents.

Values are in N, mm, MPa, N·mm, K, rad, s (``unit_inside``), whatever unit the file writes
(``unit``). Each of ``quantities`` has

- ``mean``, ``sd`` with ``_low`` and ``_high``, ``cov``;
- ``laws``: every law fitted, the best first, with ``aicc``, ``distance`` (Anderson and Darling's
  A²), ``p_value``, ``unlikely`` and its quantiles at 0.1 and 99.9 %;
- ``law``, the one taken, and ``case``, the table that states it in a case file (``tests_case`` with
  the tests themselves, null for what follows from several columns);
- ``limits`` by law and ``limits_by_count`` whatever the law (null where too few tests);
- ``lots``, ``drift``, ``farthest``, ``groups``: what may be odd, with p-values;
- ``claims``: what is shown of each limit asked about, by law and by count, and how many tests in
  all would show it.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from preloadmc import __version__
from preloadmc.case import Case
from preloadmc.case_file import RecordFile
from preloadmc.chance.oddities import FAR_SHARES
from preloadmc.questions.fit import (
    ClaimPlan,
    FitQuestion,
    FitResult,
    QuantityFit,
    file_table,
    plan_answer,
    summary_table,
)
from preloadmc.report.documents.document import SCHEMA
from preloadmc.report.text.cautions import CAUTIONS


def fit_document(result: FitResult) -> dict[str, Any]:
    """Return a fit as a document."""
    return {
        "schema": SCHEMA,
        "preloadmc": __version__,
        "tests": result.file.source,
        **fit_mark(result.file, result.question, result.case, result.seed),
        "answer": list(result.answer),
        "lot": result.lot,
        "quantities": [_quantity(result, each) for each in result.quantities],
        "friction_correlation": None
        if result.friction_correlation is None
        else asdict(result.friction_correlation),
        "not_fitted": [{"column": name, "why": why} for name, why in result.not_fitted],
        "warnings": list(result.warnings),
        "cautions": list(CAUTIONS),
    }


def fit_mark(
    file: RecordFile, question: FitQuestion, case: Case | None, seed: int
) -> dict[str, object]:
    """Return the keys that tell one fit's document from another's: tests, case and options."""
    return {
        "question": "fit",
        "tests_sha256": file.sha256,
        "case_sha256": None if case is None else case.sha256,
        "seed": seed,
        "asked": {**asdict(question), "where": dict(question.where)},
    }


def plan_document(plan: ClaimPlan) -> dict[str, Any]:
    """Return how many tests a claim takes as a document."""
    return {
        "schema": SCHEMA,
        "preloadmc": __version__,
        "question": "fit",
        "answer": list(plan_answer(plan)),
        "content": plan.content,
        "confidence": plan.confidence,
        "misses": plan.misses,
        "tests": plan.tests,
        "by_count": [{"misses": misses, "tests": n} for misses, n in plan.by_count.items()],
        "by_normal_law": [{"distance": away, "tests": n} for away, n in plan.by_law.items()],
        "cautions": list(CAUTIONS),
    }


def _quantity(result: FitResult, fit: QuantityFit) -> dict[str, Any]:
    measured, moments = fit.measured, fit.moments
    return {
        "name": measured.name,
        "input": None if measured.input is None else measured.input.name,
        "source": measured.source or None,
        "unit": measured.unit,
        "unit_inside": measured.dimension.internal,
        "tests": measured.n,
        "left_out": measured.left_out,
        **{key: value for key, value in asdict(moments).items() if key != "n"},
        "law": fit.chosen.law,
        "laws": [
            {
                "law": each.law,
                "aicc": each.fit.aicc,
                "log_likelihood": each.fit.log_likelihood,
                "distance": each.distance,
                "p_value": each.p_value,
                "unlikely": each.unlikely,
                "mean": each.fit.law.mean,
                "sd": each.fit.law.sd,
                "quantiles": [[p, each.fit.law.quantile(p)] for p in FAR_SHARES],
            }
            for each in fit.laws
        ],
        "limits": _limits(fit.limits),
        "limits_by_count": _limits(fit.limits_by_count),
        "lots": _lots(fit),
        "drift": None if fit.drift is None else asdict(fit.drift),
        "farthest": _farthest(fit),
        "groups": [
            {
                "column": group.column,
                "tests": dict(group.counts),
                "difference": None if group.difference is None else asdict(group.difference),
            }
            for group in fit.groups
        ],
        "capability": None if fit.capability is None else asdict(fit.capability),
        "claims": [
            {
                **asdict(claim),
                "shown_by_law": claim.shown_by_law,
                "shown_by_count": claim.shown_by_count,
            }
            for claim in fit.claims
        ],
        "case": summary_table(fit),
        "tests_case": file_table(result, fit),
    }


def _limits(limits: Any) -> dict[str, Any]:
    return {key: _listed(value) for key, value in asdict(limits).items()}


def _lots(fit: QuantityFit) -> dict[str, Any] | None:
    if fit.lots is None or fit.table is None:
        return None
    return {**asdict(fit.lots), **{k: _listed(v) for k, v in asdict(fit.table).items()}}


def _farthest(fit: QuantityFit) -> dict[str, Any] | None:
    if fit.farthest is None:
        return None
    found = {key: _listed(value) for key, value in asdict(fit.farthest).items()}
    return {"line": fit.measured.lines[fit.farthest.index], **found}


def _listed(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value
