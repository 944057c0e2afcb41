"""The deterministic check as a part of a run's document."""

from __future__ import annotations

from typing import Any

from preloadmc.questions.bounds import DIFFERENCE, Approach, SampledBounds
from preloadmc.report.documents.estimates import probability_document


def bounds_document(sampled: SampledBounds) -> dict[str, Any] | None:
    """Return the check as a document, forces in N; None where the case states no scatter."""
    if not sampled.beyond:
        return None
    return {
        "approaches": [
            {
                **_approach(item.approach),
                "below_smallest": probability_document(item.below),
                "above_largest": probability_document(item.above),
            }
            for item in sampled.beyond
        ],
        "sampled": {
            "residual_p001": sampled.smallest.value,
            "largest_p999": sampled.largest.value,
        },
        "difference": DIFFERENCE,
        "unit": "N",
    }


def _approach(approach: Approach) -> dict[str, Any]:
    window = approach.window
    return {
        "name": approach.name,
        "source": approach.source,
        "smallest_assembled": approach.smallest_assembled,
        "largest_assembled": approach.largest_assembled,
        "smallest": approach.smallest,
        "largest": approach.largest,
        "needed": window.needed,
        "most_assembled": window.most_assembled,
        "most_later": window.most_later,
        "meets_minimum": approach.meets_minimum,
        "meets_maximum": approach.meets_maximum,
    }
