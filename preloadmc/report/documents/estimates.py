"""Estimates as documents: never without their interval, method and cost."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from preloadmc.estimates.moments import Quantile
from preloadmc.estimates.probability import Difference, Probability


def probability_document(probability: Probability) -> dict[str, Any]:
    """Return a probability with its interval, method and cost.

    Parameters
    ----------
    probability : Probability
        As an estimator returned it.

    Returns
    -------
    dict
        Keys of the JSON document: value, interval, confidence, method, cost, bound and doubt.
    """
    document: dict[str, Any] = {
        "probability": probability.value,
        "low": probability.low,
        "high": probability.high,
        "confidence": probability.confidence,
        "method": probability.method,
        "samples": probability.samples,
        "model_calls": probability.model_calls,
        "misses": probability.misses,
        "reliable": probability.reliable,
        "beta": probability.beta,
        "per_million": probability.per_million,
    }
    if probability.bound is not None:
        document["bound"] = probability.bound
    if probability.note:
        document["note"] = probability.note
    return document


def quantiles_document(quantiles: Iterable[Quantile]) -> dict[str, float]:
    """Return quantiles with their 95 % intervals: "p01", "p01_low", "p01_high" and so on.

    An end without a bound is null in the file.
    """
    document: dict[str, float] = {}
    for each in quantiles:
        name = f"p{round(100 * each.p):02d}"
        document |= {name: each.value, f"{name}_low": each.low, f"{name}_high": each.high}
    return document


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
