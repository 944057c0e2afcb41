"""A comparison as a JSON document."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from preloadmc.case import Case
from preloadmc.questions.compare import Alternative, Amount, CompareResult
from preloadmc.report.documents.acceptance import acceptance_document
from preloadmc.report.documents.control import control_document
from preloadmc.report.documents.document import document_head, document_tail
from preloadmc.report.documents.estimates import difference_document, probability_document
from preloadmc.report.documents.judgement import (
    judged_document,
    limits_document,
    of_joint_document,
    unknown_document,
)
from preloadmc.report.text.changes import change_lines


def compare_document(result: CompareResult) -> dict[str, Any]:
    """Return a comparison as a document: forces in N, costs in the currency of the case."""
    return {
        **document_head(result.case, result.seed),
        **compare_mark(result.case, result.seed, result.precision, at_best=result.at_best),
        "samples": result.samples,
        "model_calls": result.model_calls,
        "columns": list(result.columns),
        "answer": list(result.answer),
        "best": None if result.chosen is None else result.chosen.name,
        "not_told_from_best": _names(result, result.choice.not_told_from_best),
        "meeting": _names(result, result.choice.meeting),
        "nearest": result.alternatives[result.choice.nearest].name,
        "alternatives": [_alternative(result, each) for each in result.alternatives],
        "control": {name: control_document(worth) for name, worth in result.control.items()},
        **document_tail(result.case, result.warnings),
    }


def compare_mark(case: Case, seed: int, precision: float, *, at_best: bool) -> dict[str, object]:
    """Return the keys that tell one comparison's document from another's."""
    return {
        "question": "compare",
        "case_sha256": case.sha256,
        "seed": seed,
        "asked": {"precision": precision, "aim": at_best},
    }


def _names(result: CompareResult, places: Sequence[int]) -> list[str]:
    return [result.alternatives[place].name for place in places]


def _alternative(result: CompareResult, each: Alternative) -> dict[str, Any]:
    return {
        "name": each.name,
        "changes": change_lines(result.first.case, each.case, "metric"),
        "outcomes": {
            outcome.name: {
                **judged_document(outcome),
                **_against_first(each, outcome.name),
            }
            for outcome in each.judged.outcomes
        },
        "setting": {
            "input": each.setting.input,
            "value": each.setting.value,
            "typed": each.setting.typed,
            "best": each.setting.best,
        },
        "verdict": each.verdict,
        **of_joint_document(each.judged),
        "limits": limits_document(each.judged),
        "acceptance": acceptance_document(each.judged.screening),
        "not_judged": unknown_document(each.judged),
        "securing": {
            name: {**probability_document(found), **_against_first(each, name)}
            for name, found in each.securing.items()
        },
        "cost_per_joint": None if each.case.cost is None else each.case.cost.per_joint,
        "tool_per_joint": None if each.case.cost is None else each.case.cost.tool_per_joint,
        "currency": None if each.case.cost is None else each.case.cost.currency,
        "expected_cost": _amount(each.expected_cost),
        "cost_difference_to_first": _amount(each.cost_difference_to_first),
        "dominated_by": list(each.dominated_by),
        "warnings": list(each.warnings),
    }


def _against_first(each: Alternative, name: str) -> dict[str, Any]:
    if name not in each.difference_to_first:
        return {}
    return {
        "difference_to_first": {
            **difference_document(each.difference_to_first[name]),
            "narrowing": each.narrowing[name],
        }
    }


def _amount(amount: Amount | None) -> dict[str, float] | None:
    if amount is None:
        return None
    return {"value": amount.value, "low": amount.low, "high": amount.high}
