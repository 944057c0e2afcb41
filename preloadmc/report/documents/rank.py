"""A ranking as a JSON document, and as a part of a run's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from preloadmc.case import Case
from preloadmc.estimates.sobol import SobolIndices
from preloadmc.judgement.misses import MissRanking, Unranked
from preloadmc.questions.rank import RankResult
from preloadmc.report.documents.document import document_head, document_tail


def rank_document(result: RankResult) -> dict[str, Any]:
    """Return a ranking as a document."""
    return {
        **document_head(result.case, result.seed),
        **rank_mark(
            result.case,
            result.seed,
            of=result.of,
            groups=result.groups,
            second_order=result.second_order,
            convergence=bool(result.convergence),
        ),
        "answer": list(result.answer),
        "ranking": ranking_document(result),
        **document_tail(result.case, result.warnings),
    }


def rank_mark(
    case: Case,
    seed: int,
    *,
    of: str,
    groups: Sequence[str],
    second_order: bool,
    convergence: bool,
) -> dict[str, object]:
    """Return the keys that tell one ranking's document from another's: case and options."""
    return {
        "question": "rank",
        "case_sha256": case.sha256,
        "seed": seed,
        "asked": {
            "of": of,
            "groups": list(groups),
            "second_order": second_order,
            "convergence": convergence,
        },
    }


def ranking_document(result: RankResult) -> dict[str, Any]:
    """Return what dominates the variance and the misses."""
    indices, shapley = result.indices, result.shapley
    unsettled = indices.ordering.unsettled()
    return {
        "quantity": result.quantity,
        "answer": list(result.answer),
        "confidence": indices.confidence,
        "base_samples": indices.base_samples,
        "replicates": indices.replicates,
        "model_calls": indices.model_calls,
        "inputs": [
            {
                "name": indices.names[place],
                "members": list(result.members[place]),
                **_index(indices, place),
            }
            for place in result.order
        ],
        "order_not_settled": [[indices.names[a], indices.names[b]] for a, b in unsettled],
        "pairs": [
            {"names": list(pair.names), "second": pair.second, "low": pair.low, "high": pair.high}
            for pair in indices.pairs
        ],
        "shapley": {
            "model_calls": shapley.model_calls,
            "samples": shapley.samples,
            "inputs": [
                {
                    "name": shapley.names[place],
                    "members": list(result.ranked[place].members),
                    "share": float(shapley.share[place]),
                    "low": float(shapley.low[place]),
                    "high": float(shapley.high[place]),
                }
                for place in shapley.ordering.places
            ],
        },
        "misses": {outcome: dominates_document(found) for outcome, found in result.misses.items()},
        "convergence": [
            {
                "base_samples": part.base_samples,
                "inputs": [
                    {"name": name, **_index(part, place)} for place, name in enumerate(part.names)
                ],
            }
            for part in result.convergence
        ],
        "all_model_calls": result.all_model_calls,
    }


def dominates_document(found: MissRanking | Unranked) -> dict[str, Any]:
    """Return what dominates the misses of an outcome, or why that cannot be said."""
    if isinstance(found, Unranked):
        return {"inputs": [], "note": found.reason}
    shares = found.shares
    return {
        "measure": "divergence of an input's law given a miss from its own law",
        "confidence": shares.confidence,
        "effective_misses": shares.effective_size,
        "model_calls": found.model_calls,
        "inputs": [
            {
                "name": shares.names[place],
                "members": list(found.ranked[place].members),
                "share": float(shares.share[place]),
                "share_low": float(shares.share_low[place]),
                "share_high": float(shares.share_high[place]),
                "divergence": float(shares.divergence[place]),
                "mean": float(shares.mean[place]),
                "mean_low": float(shares.mean_low[place]),
                "mean_high": float(shares.mean_high[place]),
                "sd": float(shares.sd[place]),
                "sd_low": float(shares.sd_low[place]),
                "sd_high": float(shares.sd_high[place]),
                "cosine": found.cosines[place],
            }
            for place in found.order
        ],
    }


def _index(indices: SobolIndices, place: int) -> dict[str, float]:
    parts = ("first", "first_low", "first_high", "total", "total_low", "total_high")
    return {part: float(getattr(indices, part)[place]) for part in parts}
