"""Probabilities of several models on common draws, and the differences between them.

Plain samples count the misses of all models in pairs. What they leave open is drawn from one
mixture around the design points of all models, so that small differences of small
probabilities are resolved too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtrit

from preloadmc.estimates.common_draws import WeightedDraws, weighted_draws
from preloadmc.estimates.event_points import Model
from preloadmc.estimates.importance import Batches
from preloadmc.estimates.margins import CountedMargins
from preloadmc.estimates.plain import FirstLook
from preloadmc.estimates.probability import (
    Difference,
    Probability,
    from_counts,
    paired_difference,
)
from preloadmc.units import Array

Map = Callable[[Callable[[int], "CommonCounts"], Iterable[int]], Iterable["CommonCounts"]]


@dataclass(frozen=True, slots=True, eq=False)
class CommonCounts:
    """Misses of k models on n common plain samples, counted in pairs.

    ``pairs[e, i, j]`` is the number of samples in which event e happened in the models i and j
    alike, hence ``pairs[e, i, i]`` that of model i.
    """

    n: int
    pairs: NDArray[np.int64]

    @classmethod
    def of(cls, models: Sequence[Model], z: Array) -> CommonCounts:
        """Counts of one block of common samples."""
        events, n = len(models[0].events), len(z)
        flags = np.zeros((events, len(models), n), dtype=bool)
        for i, model in enumerate(models):
            missed = CountedMargins(model.margins)(z) < 0.0
            for event, columns in enumerate(model.events):
                flags[event, i] = missed[:, list(columns)].any(axis=1)
        pairs = np.empty((events, len(models), len(models)), dtype=np.int64)
        for found, happened in zip(pairs, flags, strict=True):
            rows = happened[:, happened.any(axis=0)].astype(float)
            found[:] = np.rint(rows @ rows.T)
        return cls(n, pairs)

    def __add__(self, other: CommonCounts) -> CommonCounts:
        """Counts of both sets of samples together."""
        return CommonCounts(self.n + other.n, self.pairs + other.pairs)

    def misses(self, event: int, model: int) -> int:
        """Samples in which the event happened in a model."""
        return int(self.pairs[event, model, model])

    def discordant(self, event: int, a: int, b: int) -> tuple[int, int]:
        """Samples in which the event happened in model a alone, and in model b alone."""
        both = int(self.pairs[event, a, b])
        return self.misses(event, a) - both, self.misses(event, b) - both

    def difference(self, event: int, a: int, b: int, confidence: float) -> Difference:
        """Probability in model a minus that in model b."""
        only_a, only_b = self.discordant(event, a, b)
        both = int(self.pairs[event, a, b])
        return paired_difference(both, only_a, only_b, self.n - both - only_a - only_b, confidence)


@dataclass(frozen=True, slots=True)
class Ratio:
    """Probability of one model over that of another, on common samples, with its interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class PairedEstimates:
    """Probabilities of every event in every model, and their differences, on common draws.

    ``weighted`` are the draws of a mixture for what plain samples left open; None where they
    left nothing. ``model_calls`` counts those of all models together.
    """

    confidence: float
    counts: CommonCounts
    weighted: WeightedDraws | None
    model_calls: int

    def probability(self, event: int, model: int) -> Probability:
        """Probability of an event in a model."""
        counts, weighted = self.counts, self.weighted
        plain = from_counts(counts.misses(event, model), counts.n, self.confidence)
        if weighted is None or (event, model) not in weighted.place:
            return plain
        found = weighted.probability((event, model), self.confidence)
        if found.bound is not None:  # no draw missed: plain samples bound it best
            return plain
        if doubt := weighted.doubts.get((event, model)):
            return weighted.seconds[event, model].settled(found, doubt)
        look = FirstLook(counts.misses(event, model), counts.n)
        if look.contradicts(found):
            return found.noted(look.words(), reliable=False)
        return found

    def difference(self, event: int, a: int, b: int) -> Difference:
        """Probability of an event in model a minus that in model b.

        Both rare: from the common draws of the mixture, to which a model without a design point
        adds what misses it has there. Otherwise from the plain samples.
        """
        parts = self._parts(event, a, b)
        if parts is None:
            return self.counts.difference(event, a, b, self.confidence)
        return parts.difference(0, 1, confidence=self.confidence)

    def ratio(self, event: int, a: int, b: int) -> Ratio | None:
        """Probability of an event in model a over that in model b; None where b has no misses.

        The logarithm of a ratio of paired counts has the variance (b + c)/(m_a m_b), with b and
        c the discordant samples and m the misses (J. M. Nam, W. C. Blackwelder, Statistics in
        Medicine 21 (2002) 689, Wald form); weighted, the scatter between batches tells.
        """
        one, other = self.probability(event, a), self.probability(event, b)
        if other.value == 0.0:
            return None
        if one.value == 0.0:
            return Ratio(0.0, 0.0, one.high / max(other.low, 1e-300))
        value = one.value / other.value
        parts = self._parts(event, a, b)
        means = None if parts is None else parts.means
        # The common draws may have seen no miss of a model whose probability is known otherwise.
        if means is not None and (means.mean(axis=1) > 0.0).all():
            gaps = means[0] / means[0].mean() - means[1] / means[1].mean()
            quantile = float(stdtrit(gaps.size - 1, 0.5 + self.confidence / 2.0))
            below = above = quantile * float(gaps.std(ddof=1)) / math.sqrt(gaps.size)
        elif one.misses is not None and other.misses is not None:
            discordant = sum(self.counts.discordant(event, a, b))
            variance = discordant / (one.misses * other.misses)
            below = above = float(ndtri(0.5 + self.confidence / 2.0)) * math.sqrt(variance)
        else:  # one is rare, the other not: their draws are separate
            below = math.hypot(_log(one.value, one.low), _log(other.high, other.value))
            above = math.hypot(_log(one.high, one.value), _log(other.value, other.low))
        return Ratio(value, value * math.exp(-below), value * math.exp(min(above, 700.0)))

    def never_apart(self, event: int, a: int, b: int) -> bool:
        """Whether no draw told the two models apart."""
        parts = self._parts(event, a, b)
        if parts is None:
            return self.counts.discordant(event, a, b) == (0, 0)
        return bool(np.array_equal(parts.parts[0], parts.parts[1]))

    def narrowing(self, event: int, a: int, b: int) -> float:
        """How many times less the difference scatters than between separate draws.

        The ratio of the standard error of a difference of two independent estimates of as many
        draws each to that on common draws; infinite where no draw told the two apart.
        """
        if self.never_apart(event, a, b):
            return math.inf
        parts = self._parts(event, a, b)
        if parts is not None:
            one, other = parts.parts
            return math.sqrt(float((one.var() + other.var()) / (one - other).var()))
        counts = self.counts
        only_a, only_b = counts.discordant(event, a, b)
        separate = sum(
            misses * (1.0 - misses / counts.n)
            for misses in (counts.misses(event, a), counts.misses(event, b))
        )
        together = only_a + only_b - (only_a - only_b) ** 2 / counts.n
        # Missed in every draw by one and in none by the other: neither scatters.
        return math.sqrt(separate / together) if together > 0.0 else 1.0

    def _parts(self, event: int, a: int, b: int) -> Batches | None:
        """The weighted misses of two models; None where plain samples tell."""
        weighted = self.weighted
        pairs = {(event, a), (event, b)}
        if weighted is None or not pairs <= weighted.place.keys() - weighted.rejected:
            return None
        rows = [weighted.place[event, a], weighted.place[event, b]]
        batches = weighted.batches
        return Batches(batches.parts[rows], tuple(batches.samples[row] for row in rows))


def _log(larger: float, smaller: float) -> float:
    return math.log(larger / smaller) if smaller > 0.0 else math.inf


def paired_estimates(
    models: Sequence[Model],
    d: int,
    *,
    block: Callable[[int], Array],
    rng: np.random.Generator,
    first: int,
    most: int,
    precision: float,
    confidence: float = 0.95,
    negligible: float = 0.0,
    budget: int = 200_000,
    cross_check: bool = True,
    map_: Map = map,
) -> PairedEstimates:
    """Estimate the probability of every event in every model on common draws.

    Parameters
    ----------
    models : sequence of Model
        All with the same number of events.
    d : int
        Number of columns of z.
    block : callable
        From k = 0, 1, 2 ... to the k-th block of plain samples, shape (n, d).
    rng : numpy.random.Generator
        For searches and the draws of mixtures.
    first, most : int
        Blocks to begin with, and the most; they double while more of them may resolve what is
        open.
    precision : float
        Wanted half-width of each interval over its value. A difference to the first model is
        wanted to the same share of the larger value, unless it is resolved before.
    negligible : float
        Share of the first model's probability below which another needs no precision. None is
        needed below 1e-10, nor where no way to a miss was found.
    budget : int
        Most draws of a mixture, each evaluated by every rare model.
    cross_check : bool
        False saves the second estimate of each rare event.
    map_ : callable
        As `map`; one that works in threads gives the same result.

    Raises
    ------
    NotFiniteError
        A margin came out NaN or infinite.
    """
    counts, done = _counted(models, block, 0, first, map_), first
    while (wanted := _wanted(models, counts, done, precision, confidence, most)) > done:
        counts, done = counts + _counted(models, block, done, wanted, map_), wanted
    rare = _rare(models, counts, precision, confidence) if d > 0 else []
    looks = {(event, i): FirstLook(counts.misses(event, i), counts.n) for event, i in rare}
    weighted = weighted_draws(
        models,
        looks,
        d,
        precision=precision,
        confidence=confidence,
        negligible=negligible,
        budget=budget,
        cross_check=cross_check,
        rng=rng,
    )
    calls = counts.n * len(models)
    if weighted is not None:
        calls += sum(searched + weighted.batches.draws for searched in weighted.searched.values())
        calls += sum(second.calls for second in weighted.seconds.values())
    return PairedEstimates(confidence, counts, weighted, calls)


def _counted(
    models: Sequence[Model], block: Callable[[int], Array], start: int, stop: int, map_: Map
) -> CommonCounts:
    parts = iter(map_(lambda k: CommonCounts.of(models, block(k)), range(start, stop)))
    total = next(parts)
    for part in parts:
        total = total + part
    return total


def _rare(
    models: Sequence[Model], counts: CommonCounts, precision: float, confidence: float
) -> list[tuple[int, int]]:
    """The (event, model) that plain samples leave open, where a design point can be."""
    return [
        (event, i)
        for event in range(len(models[0].events))
        for i, model in enumerate(models)
        if model.smooth
        and model.events[event]
        and _half_width(counts, event, i, confidence) > precision
    ]


def _half_width(counts: CommonCounts, event: int, model: int, confidence: float) -> float:
    """Half of the interval over the value, by plain samples alone."""
    return from_counts(counts.misses(event, model), counts.n, confidence).relative_half_width


def _wanted(
    models: Sequence[Model],
    counts: CommonCounts,
    done: int,
    precision: float,
    confidence: float,
    most: int,
) -> int:
    """Blocks to go to: as many as there are where no more would do or be enough."""
    for event in range(len(models[0].events)):
        for i, model in enumerate(models):
            if not model.events[event] or _half_width(counts, event, i, confidence) <= precision:
                continue
            needed = FirstLook(counts.misses(event, i), counts.n).wanted(precision, confidence)
            # Without a design point there is nothing but plain samples. Elsewhere they are wasted
            # where all of them would not reach the precision: the mixture takes over.
            if not model.smooth or needed <= counts.n / done * most:
                return min(2 * done, most)
    return done
