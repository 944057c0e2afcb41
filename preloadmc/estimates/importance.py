"""Importance sampling: probabilities and their differences from one mixture.

The interval comes from independent batches, not from the weights of the sample itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.estimates.mixture import Mixture, with_fitted_normal
from preloadmc.estimates.probability import Difference, Probability, multiplied_interval
from preloadmc.units import Array

BATCHES = 16
"""Independent batches behind an interval: 15 degrees of freedom widen it by a tenth, no more."""

# The rest was chosen on the benchmark problems, for few calls and intervals that cover.
_FIRST = 8  # draws per batch to begin with, for one design point
_MOST_FIRST = 64  # and for any number of them
# An estimate of fewer equally weighted misses, or with a heavier one among them, may miss a region
# that is hardly drawn: engineering judgement, held by the coverage of the benchmarks.
_LEAST_EFFECTIVE = 20.0
_LARGEST_SHARE = 0.1
UNSTEADY = 0.3
"""Coefficient of variation above which the batches scatter too much for their own interval."""

_WASTEFUL = 12.0  # variance per draw over the square of the value: a fitted normal may help
_HOPELESS = 400.0  # as bad as plain sampling of a probability of 1/400
_LONG = 2**14  # draws after which hopeless weights have had their chance


@dataclass(frozen=True, slots=True, eq=False)
class Batches:
    """Weighted misses of k limits on common draws: `parts`, shape (k, batches, n).

    `samples[i]` are the misses of limit i, weighted.
    """

    parts: Array
    samples: tuple[FailureSample, ...]

    @property
    def means(self) -> Array:
        """Estimates of each batch, shape (k, batches): independent and unbiased."""
        means: Array = self.parts.mean(axis=2)
        return means

    @property
    def draws(self) -> int:
        """Draws of all batches together."""
        return int(self.parts.shape[1] * self.parts.shape[2])

    def cov(self, limit: int = 0) -> float:
        """Coefficient of variation of an estimate, the larger of two: by batches, by draws."""
        mean = float(self.parts[limit].mean())
        if mean == 0.0:
            return math.inf
        by_batch = float(self.means[limit].std(ddof=1)) / math.sqrt(self.parts.shape[1])
        by_draw = float(self.parts[limit].std(ddof=1)) / math.sqrt(self.draws)
        return max(by_batch, by_draw) / mean

    def probability(self, limit: int = 0, *, confidence: float, model_calls: int) -> Probability:
        """Probability of a miss of one limit; not reliable where the weights say so."""
        value = min(float(self.parts[limit].mean()), 1.0)
        low, high = multiplied_interval(value, self.cov(limit), self.parts.shape[1] - 1, confidence)
        sample = self.samples[limit]
        return weighted_probability(
            value,
            low,
            high,
            confidence=confidence,
            samples=self.draws,
            model_calls=model_calls,
            effective=sample.effective_size,
            largest=sample.largest_share,
            unsteady=self.cov(limit) > UNSTEADY,
        )

    def difference(self, a: int, b: int, *, confidence: float) -> Difference:
        """Probability of limit a minus that of limit b, by batches of common draws."""
        gaps = self.means[a] - self.means[b]
        value = float(gaps.mean())
        half = float(stdtrit(len(gaps) - 1, 0.5 + confidence / 2.0))
        half *= float(gaps.std(ddof=1)) / math.sqrt(len(gaps))
        return Difference(value, value - half, value + half, confidence, self.draws)


def weighted_probability(
    value: float,
    low: float,
    high: float,
    *,
    confidence: float,
    samples: int,
    model_calls: int,
    effective: float,
    largest: float,
    unsteady: bool,
) -> Probability:
    """A probability from weighted misses; not reliable where the weights say so.

    Parameters
    ----------
    value, low, high, confidence, samples, model_calls
        As for `Probability`.
    effective, largest : float
        How many equally weighted misses they are worth, and the share of the heaviest.
    unsteady : bool
        Whether the batches scatter too much.
    """
    doubts = []
    if effective < _LEAST_EFFECTIVE:
        doubts.append(f"only {effective:.0f} effective misses")
    if largest > _LARGEST_SHARE:
        doubts.append(f"one miss carries {100.0 * largest:.0f} % of the sum")
    if unsteady:
        doubts.append("batches scatter too much")
    return Probability(
        value,
        low,
        high,
        confidence,
        "importance",
        samples,
        model_calls,
        bound=None if value > 0.0 else "upper",
        reliable=not doubts,
        note="; ".join(doubts),
    )


def sample_limits(
    limits: Sequence[Margins],
    mixture: Mixture,
    *,
    per_batch: int,
    rng: np.random.Generator,
    batches: int = BATCHES,
) -> Batches:
    """Evaluate several limits on common draws of one mixture.

    The mixture should hold the design points of all of them; then small differences of
    small probabilities are resolved far better than by separate runs.
    """
    z = np.concatenate([mixture.sample(per_batch, rng) for _ in range(batches)])
    weights = mixture.weights(z)
    parts = np.zeros((len(limits), len(z)))
    samples = []
    for part, margins in zip(parts, limits, strict=True):
        missed = CountedMargins(margins).worst(z) < 0.0
        part[missed] = weights[missed]
        samples.append(FailureSample.of(z[missed], weights[missed]))
    return Batches(parts.reshape(len(limits), batches, per_batch), tuple(samples))


def failure_sample(
    margins: Margins, mixture: Mixture, *, size: int, rng: np.random.Generator
) -> FailureSample:
    """Misses among `size` draws from a mixture, weighted to the inputs' own laws."""
    z = mixture.sample(size, rng)
    missed = z[CountedMargins(margins).worst(z) < 0.0]
    return FailureSample.of(missed, mixture.weights(missed))


def importance_batches(
    margins: Margins,
    mixture: Mixture,
    *,
    precision: float,
    confidence: float,
    budget: int,
    rng: np.random.Generator,
) -> tuple[Batches, Mixture]:
    """Draws until the half-width is `precision` of the value; also the mixture they are from.

    Each stage adds the draws that the scatter so far asks for, at least half as many again.
    Where the weights waste draws, the mixture gets once a normal fitted to the misses seen,
    and the draws start anew. Where they waste far too many, sampling ends early.

    Parameters
    ----------
    margins : callable
        From z, shape (n, d), to margins, shape (n, m).
    mixture : Mixture
        What to draw from to begin with.
    precision, confidence : float
        Wanted half-width of the interval over the value, and the interval's confidence.
    budget : int
        Most draws.
    rng : numpy.random.Generator
        For the draws.

    Returns
    -------
    batches : Batches
        Weighted misses of one limit.
    mixture : Mixture
        What they were drawn from.
    """
    quantile = float(stdtrit(BATCHES - 1, 0.5 + confidence / 2.0))
    most = max(budget // BATCHES, _FIRST)
    wanted = min(max(_FIRST, _FIRST * len(mixture.shares) // 2), _MOST_FIRST, most)
    got = sample_limits([margins], mixture, per_batch=wanted, rng=rng)
    fitted = False
    while wanted < most and quantile * got.cov() > precision:
        waste = got.draws * got.cov() ** 2
        if waste > _HOPELESS and got.draws > _LONG:
            break
        # A tenth in reserve; a scatter of few draws above 2 is hardly known and asks for no more.
        needed = 1.1 * wanted * (quantile * min(got.cov(), 2.0) / precision) ** 2
        total = min(math.ceil(max(needed, 1.5 * wanted)), 4 * wanted, most)
        sample = got.samples[0]
        if waste > _WASTEFUL and not fitted and sample.effective_size > 10 + 4 * mixture.d:
            # Draws of another mixture do not join those before: their weights have another scatter.
            mixture, fitted, wanted = with_fitted_normal(mixture, sample), True, total
            got = sample_limits([margins], mixture, per_batch=total, rng=rng)
            continue
        added = sample_limits([margins], mixture, per_batch=total - wanted, rng=rng)
        got, wanted = _joined(got, added, mixture), total
    return got, mixture


def _joined(first: Batches, second: Batches, mixture: Mixture) -> Batches:
    z = np.concatenate([first.samples[0].z, second.samples[0].z])
    parts = np.concatenate([first.parts, second.parts], axis=2)
    return Batches(parts, (FailureSample.of(z, mixture.weights(z)),))
