"""What every JSON document has: its head, its tail, and how it becomes text."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from preloadmc import __version__
from preloadmc.case import Case
from preloadmc.report.text.cautions import CAUTIONS, INTERVALS

SCHEMA = 1


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


def document_tail(case: Case, warnings: Sequence[str]) -> dict[str, Any]:
    """Return what every document ends with: warnings, assumptions, intervals, cautions."""
    return {
        "warnings": list(warnings),
        "assumptions": [
            {"path": item.path, "value": item.value, "source": item.source}
            for item in case.assumptions
        ],
        "intervals": INTERVALS,
        "cautions": list(CAUTIONS),
    }
