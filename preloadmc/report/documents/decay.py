"""What vibration tests say as a JSON document.

Preload is a share of the initial one, rotation in rad, force in N. Each of ``elements`` has

- ``remaining``: by ``cycles`` the mean share with ``_low`` and ``_high``, ``sd``, the tests ``n``
  and their ``shares``, ``limit`` (normal law) and ``limit_by_count`` (null where too few tests);
- ``ratings``: each threshold with its source, the tests that reach it, and whether it is shown;
- ``lifetime``: cycles to the remainder by test (``fell`` false: censored), the ``laws``, the one
  taken, its ``quantiles`` with intervals (null: not bounded), and the share shown by count;
- ``phases``: where rotation begins in each test that recorded it (``change`` null: nowhere);
- ``tests``: initial preload, readings and conditions of each.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from preloadmc import __version__
from preloadmc.case_file import RecordFile
from preloadmc.chance.censored_lifetimes import LifetimeFit
from preloadmc.questions.decay import DecayQuestion, DecayResult, ElementDecay
from preloadmc.report.documents.document import SCHEMA
from preloadmc.report.text.cautions import CAUTIONS


def decay_document(result: DecayResult) -> dict[str, Any]:
    """Return what vibration tests say as a document."""
    return {
        "schema": SCHEMA,
        "preloadmc": __version__,
        "sources": [each.source for each in result.sources],
        **decay_mark(result.sources, result.question),
        "answer": list(result.answer),
        "holds_for": result.holds_for,
        "at": list(result.at),
        "thresholds": [asdict(each) for each in result.thresholds],
        "elements": [_element(each) for each in result.elements],
        "differences": [
            {
                "first": each.first,
                "second": each.second,
                "cycles": each.cycles,
                **asdict(each.difference),
                "is_resolved": each.difference.is_resolved,
            }
            for each in result.differences
        ],
        "warnings": list(result.warnings),
        "cautions": list(CAUTIONS),
    }


def decay_mark(sources: Sequence[RecordFile], question: DecayQuestion) -> dict[str, object]:
    """Return the keys that tell one document from another's: tests and options."""
    digest = hashlib.sha256("".join(each.sha256 for each in sources).encode()).hexdigest()
    return {
        "question": "decay",
        "tests_sha256": digest,
        "asked": {**asdict(question), "where": dict(question.where)},
    }


def _element(element: ElementDecay) -> dict[str, Any]:
    life = element.lifetime
    return {
        "element": element.element,
        "remaining": [
            {
                "cycles": each.remaining.cycles,
                "mean": each.remaining.mean,
                "mean_low": each.mean_low,
                "mean_high": each.mean_high,
                "sd": each.remaining.sd,
                "n": each.remaining.n,
                "limit": each.limit,
                "limit_by_count": each.limit_by_count,
                "tests_by_count": each.tests_by_count,
                "shares": dict(each.remaining.shares),
                "ended_before": list(each.remaining.ended_before),
            }
            for each in element.remaining
        ],
        "ratings": [
            {
                "threshold": each.threshold.name,
                "share": each.threshold.share,
                "cycles": each.threshold.cycles,
                "source": each.threshold.source,
                "reach": each.reach,
                "n": each.n,
                "all_reach": each.all_reach,
                "is_shown": each.is_shown,
            }
            for each in element.ratings
        ],
        "lifetime": {
            "cycles": [
                {"test": test, "cycles": cycles, "fell": fell}
                for test, (cycles, fell) in life.cycles.items()
            ],
            "fell": life.fell,
            "law": None if life.chosen is None else life.chosen.kind,
            "laws": [_law(each) for each in life.laws],
            "quantiles": [asdict(each) for each in life.quantiles],
            "counted_at": life.counted_at,
            "by_count": life.by_count,
        },
        "phases": [asdict(each) for each in element.phases],
        "tests": [
            {
                "test": each.test,
                "source": each.source,
                "initial": each.initial,
                "readings": len(each.cycles),
                "last_cycles": each.last_cycles,
                "share_at_end": float(each.share[-1]),
                "conditions": dict(each.conditions),
            }
            for each in element.tests
        ],
    }


def _law(fit: LifetimeFit) -> dict[str, Any]:
    return {
        "law": fit.kind,
        "location": fit.location,
        "scale": fit.scale,
        "shape": fit.shape,
        "log_likelihood": fit.log_likelihood,
    }
