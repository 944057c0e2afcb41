"""How far a probability may lie from what is predicted, for want of tests: its band.

Draws of what is not known come as scrambles of a Sobol' sequence; the band is made of quantiles of
the probability over all of them, and their scatter from scramble to scramble is its own error.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from preloadmc.estimates.conditional import Conditional
from preloadmc.estimates.probability import from_counts
from preloadmc.estimates.sobol_points import REPLICATES, sobol_sequence
from preloadmc.units import Array

DRAWS = 4096
"""Draws of what is not known: the upper limit of a probability near 1e-6 from five tests is then
known to a few per cent."""

# Misses among plain samples of one draw, from which their number tells its probability.
_FEWEST_MISSES = 10


@dataclass(frozen=True, slots=True)
class Band:
    """A probability over what is not known: median, and limits at a confidence.

    ``low`` and ``high`` are the ends of the two-sided band, ``upper`` is the one-sided limit: with
    the confidence stated, the true probability is below it. ``upper_low`` and ``upper_high``
    enclose ``upper`` at 95 %, as far as the draws tell it. ``levels`` names what the draws are of.
    """

    median: float
    low: float
    high: float
    upper: float
    confidence: float
    upper_low: float
    upper_high: float
    draws: int
    model_calls: int
    levels: tuple[str, ...] = ("knowledge",)

    def __post_init__(self) -> None:
        if not 0.0 <= self.low <= self.median <= self.high <= 1.0:
            raise ValueError("a band needs 0 <= low <= median <= high <= 1")


def unknown_numbers(columns: int, rng: np.random.Generator, draws: int = DRAWS) -> Array:
    """Return normal numbers e (draws, columns): one scramble of a Sobol' sequence after another."""
    each = draws // REPLICATES
    return np.concatenate([sobol_sequence(columns, rng)(each) for _ in range(REPLICATES)])


def band_of(found: Conditional, confidence: float) -> Band:
    """Return the band of probabilities given each draw, those of `unknown_numbers` in order.

    Parameters
    ----------
    found : Conditional
        Probabilities p(e).
    confidence : float
        Of the two-sided band and of the one-sided limit.
    """
    p = found.p
    half = 0.5 * (1.0 - confidence)
    low, median, high, upper = np.quantile(p, [half, 0.5, 1.0 - half, confidence])
    if found.plain_points and upper * found.plain_points < _FEWEST_MISSES:
        return _bounded(found, confidence)
    spread = _relative_error(p, upper, confidence)
    error = math.hypot(spread, found.relative_error)
    factor = math.exp(min(float(stdtrit(REPLICATES - 1, 0.975)) * error, 700.0))
    return Band(
        float(median),
        float(low),
        float(high),
        float(upper),
        confidence,
        float(upper / factor),
        float(min(upper * factor, 1.0)),
        len(p),
        found.model_calls,
    )


def _bounded(found: Conditional, confidence: float) -> Band:
    """Return a band whose upper ends the mean of all draws bounds, where single ones tell nothing.

    No more than the mean over ``1 - c`` is exceeded by a share ``1 - c`` of draws (Markov's
    inequality); the mean is known from the misses of all draws together.
    """
    samples = found.plain_points * len(found.p)
    misses = round(float(found.p.sum()) * found.plain_points)
    mean = from_counts(misses, samples).high
    half = 0.5 * (1.0 - confidence)
    upper, high = min(mean / (1.0 - confidence), 1.0), min(mean / half, 1.0)
    return Band(
        float(np.median(found.p)),
        float(np.quantile(found.p, half)),
        high,
        upper,
        confidence,
        0.0,
        upper,
        len(found.p),
        found.model_calls,
    )


def _relative_error(p: Array, upper: float, confidence: float) -> float:
    """Return the standard error of a quantile over its value, from scramble to scramble.

    Each scramble tells the share of its draws that lie below the quantile; the slope of the
    quantile turns the scatter of that share into one of its value.
    """
    if upper <= 0.0:
        return 0.0
    parts = p.reshape(REPLICATES, -1)
    # Told by order: a share is even where values are equal.
    share = (parts < upper).mean(axis=1) + 0.5 * (parts == upper).mean(axis=1)
    error = float(share.std(ddof=1)) / math.sqrt(REPLICATES)
    step = max(0.25 * (1.0 - confidence), 2.0 * error)
    before, after = np.quantile(p, [max(confidence - step, 0.0), min(confidence + step, 1.0)])
    if before <= 0.0:
        return 1.0
    slope = math.log(float(after) / float(before)) / (2.0 * step)
    return slope * error
