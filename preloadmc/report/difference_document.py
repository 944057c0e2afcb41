"""A paired difference as a document: never without its interval."""

from __future__ import annotations

from typing import Any

from preloadmc.estimates.probability import Difference


def difference_document(difference: Difference) -> dict[str, Any]:
    """Return a difference of two probabilities with its interval."""
    return {
        "difference": difference.value,
        "low": difference.low,
        "high": difference.high,
        "confidence": difference.confidence,
        "samples": difference.samples,
        "resolved": difference.resolved,
    }
