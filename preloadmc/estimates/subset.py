"""Subset simulation: small probabilities without gradients, for jagged or many-input limits.

S.-K. Au, J. L. Beck, Probabilistic Engineering Mechanics 16 (2001) 263. The interval comes from
independent runs: the usual formula for a single run is too optimistic.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.estimates.probability import Probability, multiplied_interval
from preloadmc.units import Array

_LEVEL_SHARE = 0.1  # of S.-K. Au and J. L. Beck: a level is a factor of ten
_MOST_LEVELS = 16  # 1e-16: nothing is asked below
_WANTED_ACCEPTANCE = 0.44  # of I. Papaioannou et al., for the least correlated chains
# Scatter of the mean of ten runs, per square root of the number of levels, above which it is
# doubted: chosen on the benchmark problems.
_UNSTEADY = 0.13


@dataclass(frozen=True, slots=True, eq=False)
class SubsetRuns:
    """Estimates of independent runs, shape (runs,), and their misses with weights.

    `stuck` is the number of runs that found no way down: margins without a slope, or a
    probability below what sixteen levels reach. Such a run counts as zero. `below` is what the
    probability lies under by those that went all the way down, one where any run stopped before.
    """

    estimates: Array
    sample: FailureSample
    stuck: int
    below: float
    draws: int

    @property
    def value(self) -> float:
        """Mean of the runs."""
        return float(self.estimates.mean())

    @property
    def cov(self) -> float:
        """Coefficient of variation of that mean, from the runs' scatter."""
        if self.value == 0.0:
            return math.inf
        runs = len(self.estimates)
        return float(self.estimates.std(ddof=1)) / math.sqrt(runs) / self.value

    @property
    def doubts(self) -> tuple[str, ...]:
        """Reasons not to rely on these runs, in words."""
        found = []
        if self.stuck:
            found.append(f"{self.stuck} of {len(self.estimates)} runs found no way to a miss")
        levels = max(1.0, -math.log10(max(self.value, 1e-300)))
        if _UNSTEADY * math.sqrt(levels) < self.cov < math.inf:
            found.append(f"their mean scatters by {100.0 * self.cov:.0f} %")
        return tuple(found)

    def probability(self, *, confidence: float, model_calls: int) -> Probability:
        """Probability of a miss with the interval value·exp(-+ t cov) of the runs."""
        low, high = multiplied_interval(self.value, self.cov, len(self.estimates) - 1, confidence)
        return Probability(
            self.value,
            low,
            high,
            confidence,
            "subset",
            self.draws,
            model_calls,
            bound=None if self.value > 0.0 else "upper",
            reliable=not self.doubts,
            note="; ".join(self.doubts),
        )


def subset_runs(
    margins: Margins,
    d: int,
    *,
    rng: np.random.Generator,
    runs: int = 10,
    per_level: int = 1000,
) -> SubsetRuns:
    """Independent runs of subset simulation, stepped together so that calls are blocks.

    Each level keeps the tenth of the samples with the smallest margins, each column over its own
    scatter, and grows chains from them by adaptive conditional sampling (I. Papaioannou, W. Betz,
    K. Zwirglmaier, D. Straub, Probabilistic Engineering Mechanics 41 (2015) 89), which works in
    any number of dimensions. All inputs move alike: steps scaled by the seeds' own spread came out
    20 % high with a hundred inputs. Where margins tie, a level keeps all that tie and counts them.
    """
    counted = margins if isinstance(margins, CountedMargins) else CountedMargins(margins)
    before = counted.calls
    seeds = round(_LEVEL_SHARE * per_level)
    z = rng.standard_normal((runs, per_level, d))
    first = counted(z.reshape(-1, d))
    scales = _scales(first)
    y = (first / scales).min(axis=1).reshape(runs, per_level)
    reached = np.ones(runs)
    estimates = np.zeros(runs)
    scale = np.full(runs, 0.6)
    open_runs = np.arange(runs)
    below = 0.0
    misses, weights = [np.empty((0, d))], [np.empty(0)]
    for _ in range(_MOST_LEVELS):
        level = np.partition(y, seeds - 1, axis=1)[:, seeds - 1]
        kept = y <= level[:, None]
        down = level < 0.0
        for i in np.flatnonzero(down):
            missed = y[i] < 0.0
            estimates[open_runs[i]] = reached[i] * missed.mean()
            misses.append(z[i][missed])
            weights.append(np.full(int(missed.sum()), reached[i] / per_level))
        share = kept.mean(axis=1)
        going = ~down & (share < 1.0)
        if not (down | going).all():
            below = 1.0
        open_runs, reached = open_runs[going], (reached * share)[going]
        if open_runs.size == 0:
            break
        z, y, scale = _next_level(
            counted, scales, z[going], y[going], level[going], kept[going], scale[going], seeds, rng
        )
    sample = FailureSample.of(np.concatenate(misses), np.concatenate(weights))
    stuck = int((estimates == 0.0).sum())
    below = max(below, float(reached.max(initial=0.0)))
    return SubsetRuns(estimates, sample, stuck, below, counted.calls - before)


def _scales(margins: Array) -> Array:
    """What the columns of the first margins, shape (n, m), are measured by, shape (m,): their s.d.

    So a level leads to the column that is missed first, whatever the units. A flat column leads
    nowhere: its scale is so small that it counts where it is missed, and nowhere else.
    """
    scales: Array = np.maximum(margins.std(axis=0), 1e-9 * np.abs(margins).max(axis=0))
    return np.where(scales > 0.0, scales, 1.0)


def _next_level(
    counted: CountedMargins,
    scales: Array,
    z: Array,
    y: Array,
    level: Array,
    kept: Array,
    scale: Array,
    seeds: int,
    rng: np.random.Generator,
) -> tuple[Array, Array, Array]:
    """Chains from `seeds` of the kept samples of each run, all runs and chains together."""
    _, per_level, d = z.shape
    # Random numbers below one for the kept, two for the rest: the first in order are random seeds.
    order = np.argsort(np.where(kept, rng.random(kept.shape), 2.0), axis=1)[:, :seeds]
    at = np.take_along_axis(z, order[:, :, None], axis=1)
    y_at = np.take_along_axis(y, order, axis=1)
    states, margins = [at], [y_at]
    for step in range(1, per_level // seeds):
        move = scale[:, None, None]
        trial = np.sqrt(1.0 - move * move) * at + move * rng.standard_normal(at.shape)
        y_trial = (counted(trial.reshape(-1, d)) / scales).min(axis=1).reshape(y_at.shape)
        accepted = y_trial <= level[:, None]
        at = np.where(accepted[:, :, None], trial, at)
        y_at = np.where(accepted, y_trial, y_at)
        states.append(at)
        margins.append(y_at)
        # Ever smaller corrections, so that the chains forget that they were tuned.
        scale = scale * np.exp((accepted.mean(axis=1) - _WANTED_ACCEPTANCE) / math.sqrt(step))
        scale = np.clip(scale, 0.02, 1.0)
    return np.concatenate(states, axis=1), np.concatenate(margins, axis=1), scale
