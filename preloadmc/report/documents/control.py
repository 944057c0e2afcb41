"""The value of control as a part of other documents."""

from __future__ import annotations

from typing import Any

from preloadmc.estimates.paired import Ratio
from preloadmc.questions.control import Changed, ControlResult
from preloadmc.report.documents.estimates import difference_document, probability_document


def control_document(result: ControlResult) -> dict[str, Any]:
    """Return the value of control as a document."""
    return {
        "seed": result.seed,
        "samples": result.samples,
        "draws": result.draws,
        "methods": {name: list(result.methods(name)) for name in result.as_is},
        "model_calls": result.model_calls,
        "as_is": {name: probability_document(found) for name, found in result.as_is.items()},
        "sources": [
            {
                "source": source.source,
                "inputs": list(source.inputs),
                "kind": source.kind or None,
                "halved": _changed(source.halved),
                "removed": _changed(source.removed),
            }
            for source in result.sources
        ],
        "bias_corrected": None
        if result.bias_corrected is None
        else _changed(result.bias_corrected),
        "losses": [
            {"loss": lever.loss, "halved": _changed(lever.halved)} for lever in result.losses
        ],
    }


def _changed(changed: Changed) -> dict[str, Any]:
    return {
        name: {
            **probability_document(found),
            "difference": difference_document(changed.differences[name]),
            "misses_left": _ratio(changed.misses_left.get(name)),
        }
        for name, found in changed.probabilities.items()
    }


def _ratio(ratio: Ratio | None) -> dict[str, float] | None:
    if ratio is None:
        return None
    return {"value": ratio.value, "low": ratio.low, "high": ratio.high}
