"""A survey as a JSON document, without its rows: those are in register.jsonl, one a line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from preloadmc import __version__
from preloadmc.engine import OUTSIDE
from preloadmc.questions.survey import (
    ANY_LIMIT,
    Document,
    SurveyResult,
    TriedChange,
    miss_numbers,
)
from preloadmc.report.documents.document import SCHEMA
from preloadmc.report.text.cautions import CAUTIONS, INTERVALS
from preloadmc.report.text.survey import NOT_KNOWN
from preloadmc.report.text.survey_rows import SurveyRows, survey_rows, worst_limit


def survey_document(result: SurveyResult, rows: SurveyRows | None = None) -> dict[str, Any]:
    """Return a survey as a document."""
    rows = survey_rows(result) if rows is None else rows
    by_key = {row["key"]: row for row in rows.first}
    return {
        "schema": SCHEMA,
        "preloadmc": __version__,
        "survey": result.source,
        **survey_mark(result.sha256, result.templates, result.seed, aimed=result.aimed),
        "answer": list(result.answer),
        "joints": result.joints,
        "counts": dict(result.counts),
        "alone": {"rows": result.alone, "methods": dict(rows.methods)},
        "not_reliable": rows.doubted,
        "expected": {name: asdict(each) for name, each in result.expected.items()},
        "spread": {
            "independent": asdict(result.independent),
            "shared": None if result.shared is None else asdict(result.shared),
        },
        "sharing": dict(result.sharing),
        "parts": [asdict(each) for each in result.parts],
        "tried_on": result.tried_on,
        "changes": [_change(result, each) for each in result.changes],
        "worst": [
            _worst(place, each, by_key.get(each["key"]))
            for place, each in enumerate(result.worst, 1)
        ],
        "not_judged": _reasons(rows.unknown),
        "unsure_strength": _reasons(rows.unsure),
        "warnings": list(result.warnings),
        "not_known": list(NOT_KNOWN),
        "intervals": INTERVALS,
        "cautions": list(CAUTIONS),
    }


def survey_mark(
    sha256: str, templates: Mapping[str, str], seed: int, *, aimed: bool
) -> dict[str, object]:
    """Return the keys that tell one survey's document from another's: files and options.

    Parameters
    ----------
    sha256 : str
        Of the register.
    templates : mapping
        Name and SHA-256 of each template.
    seed : int
        Of all random numbers.
    aimed : bool
        Whether the best setting of each joint is searched.
    """
    return {
        "question": "survey",
        "survey_sha256": sha256,
        "templates": dict(sorted(templates.items())),
        "seed": seed,
        "asked": {"aim": aimed},
    }


def _change(result: SurveyResult, each: TriedChange) -> dict[str, Any]:
    return {
        "change": each.change.words,
        **asdict(each.change),
        "applies": each.applies,
        "before": asdict(result.expected[ANY_LIMIT]),
        "expected": asdict(each.expected),
        "difference": asdict(each.difference),
        "missed": each.missed,
        "is_advised": each.is_advised,
    }


def _worst(rank: int, each: Document, row: Document | None) -> dict[str, Any]:
    """Return a joint at high risk with its probability in the survey and its own answer."""
    found: dict[str, Any] = {"rank": rank, "joint": each["joint"], "key": each["key"]}
    if row is not None:
        value, low, high = miss_numbers(row, OUTSIDE)
        worst = worst_limit(row)
        found |= {
            "line": row["line"],
            "probability": value,
            "low": low,
            "high": high,
            "verdict": row["verdict"],
            "limit": None if worst is None else worst.name,
            "state": None if worst is None else worst.state,
        }
    return {**found, "answer": list(each["answer"])}


def _reasons(found: Mapping[tuple[str, str], int]) -> list[dict[str, Any]]:
    told = sorted(found.items(), key=lambda item: (-item[1], item[0]))
    return [{"limit": name, "reason": why, "joints": n} for (name, why), n in told]
