"""Posterior probabilities of rival explanations from their evidences, with Monte Carlo error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from preloadmc.units import Array

# R. E. Kass, A. E. Raftery, "Bayes factors", J. Am. Statist. Assoc. 90 (1995) 773-795, section 3.2:
# the largest Bayes factor that the words go with.
KASS_RAFTERY = (
    (3.0, "barely discriminating"),
    (20.0, "positive"),
    (150.0, "strong"),
    (np.inf, "very strong"),
)


@dataclass(frozen=True, slots=True)
class ModelOdds:
    """Probabilities of k rivals. Arrays (k,).

    ``error`` is the Monte Carlo standard error of ``probability`` by the jackknife over the runs,
    ``log_evidence_error`` that of ``log_evidence``.
    """

    probability: Array
    error: Array
    log_evidence: Array
    log_evidence_error: Array


def model_odds(log_evidences: Array, prior: Array) -> ModelOdds:
    """Combine independent runs into posterior probabilities.

    Parameters
    ----------
    log_evidences : ndarray (k, runs)
        Log of unbiased estimates of each rival's evidence, at least two runs each.
    prior : ndarray (k,)
        Prior weights; they need not add to one.

    Returns
    -------
    ModelOdds
        Evidences are averaged over the runs, then weighted by the prior. Where one run alone holds
        nearly all of an evidence, the error of its logarithm is about one.

    Examples
    --------
    Two rivals at even prior odds, evidences 3 to 1, no scatter between runs:

    >>> model_odds(np.log(np.array([[3.0, 3.0], [1.0, 1.0]])), np.array([1.0, 1.0])).probability
    array([0.75, 0.25])
    """
    runs = log_evidences.shape[1]
    log_mean, log_error = mean_evidence(log_evidences)
    probability = _probabilities(log_mean, prior)
    without = np.array(
        [
            _probabilities(_log_mean(np.delete(log_evidences, run, axis=1)), prior)
            for run in range(runs)
        ]
    )
    spread = np.square(without - without.mean(axis=0)).sum(axis=0)
    error = np.sqrt((runs - 1) / runs * spread)
    return ModelOdds(probability, error, log_mean, log_error)


def mean_evidence(log_evidences: Array) -> tuple[Array, Array]:
    """Return the log of the mean of independent estimates, and its standard error.

    Parameters
    ----------
    log_evidences : ndarray (k, runs)
        Logs of unbiased estimates, at least two runs each.

    Returns
    -------
    log_mean, error : ndarray (k,)
        The error of a logarithm is that of the mean over the mean.
    """
    log_mean = _log_mean(log_evidences)
    safe = np.where(np.isfinite(log_mean), log_mean, 0.0)
    relative = np.exp(log_evidences - safe[:, None])
    error: Array = relative.std(axis=1, ddof=1) / np.sqrt(log_evidences.shape[1])
    return log_mean, error


def bayes_factor_words(log_factor: float) -> str:
    """Return a Bayes factor in the words of Kass and Raftery (1995).

    Examples
    --------
    >>> bayes_factor_words(np.log(12.0)), bayes_factor_words(-np.log(200.0))
    ('positive evidence for', 'very strong evidence against')
    """
    with np.errstate(over="ignore"):
        factor = float(np.exp(abs(log_factor)))
    words = next(words for largest, words in KASS_RAFTERY if factor <= largest)
    if words == KASS_RAFTERY[0][1]:
        return words
    return f"{words} evidence {'for' if log_factor > 0 else 'against'}"


def _log_mean(log_values: Array) -> Array:
    with np.errstate(divide="ignore"):
        mean: Array = logsumexp(log_values, axis=1) - np.log(log_values.shape[1])
    return mean


def _probabilities(log_evidence: Array, prior: Array) -> Array:
    with np.errstate(divide="ignore"):
        weights = log_evidence + np.log(prior)
    shares: Array = np.exp(weights - logsumexp(weights))
    return shares
