"""The check at the tool as a part of documents."""

from __future__ import annotations

from typing import Any

from preloadmc.estimates.probability import Probability
from preloadmc.joint import MONITORED
from preloadmc.judgement.acceptance import Screening
from preloadmc.report.documents.estimates import probability_document, quantiles_document


def acceptance_document(found: Screening | None) -> dict[str, Any] | None:
    """Return what the check makes of a case, forces in N; None where there is none."""
    if found is None:
        return None
    window = found.acceptance
    return {
        "monitored": window.monitored,
        "unit": MONITORED[window.monitored].internal,
        "window": [window.low, window.high],
        "threshold": window.threshold,
        "rejected": _document(found.rejected),
        "good_rejected": _document(found.good_rejected),
        "bad_passed": _document(found.bad_passed),
        "tightenings": found.tightenings if found.misses else None,
        "accepted": {
            **{name: _document(probability) for name, probability in found.misses.items()},
            "preload": {
                name: {
                    "mean": stage.mean,
                    "sd": stage.sd,
                    **quantiles_document(stage.quantiles),
                }
                for name, stage in found.preload.items()
            },
        },
    }


def _document(probability: Probability | None) -> dict[str, Any] | None:
    return None if probability is None else probability_document(probability)
