"""The second estimate that one by importance sampling is held against.

Plain samples where they saw enough misses, else subset simulation: neither knows of design points,
so that neither misses what a search for them missed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.importance import BATCHES
from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.estimates.plain import ENOUGH, FirstLook, look
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.estimates.subset import SubsetRuns, subset_runs

# Chosen on the benchmark problems, so that a wrong estimate is flagged and a sound one seldom is.
_SIGMAS = 3.3  # a check further off than this disagrees: one sound estimate in a thousand
_LEAST_COV = 0.05  # of subset simulation, which has a bias of its own
_BEYOND = 1e-15  # what lies lower is beyond the levels of subset simulation
_TELLING = 50  # misses of plain samples that need no check beside them: known to about 30 %
_DECISIVE = 15  # misses for which plain samples are drawn to settle a disagreement
ROUNDS = 2
"""Times that its misses may start further searches."""

SAMPLES = 1000
"""Per level and run of subset simulation, to begin with."""


@dataclass(frozen=True, slots=True, eq=False)
class SecondEstimate:
    """What plain samples and subset simulation see of the same misses.

    `runs` are None where the plain samples tell enough; `per_level` are the samples of each level
    and run; `calls` are those made beside the plain samples that were there before.
    """

    margins: Margins
    d: int
    look: FirstLook
    runs: SubsetRuns | None
    per_level: int
    calls: int

    @classmethod
    def of(
        cls, margins: Margins, d: int, look: FirstLook, value: float, *, rng: np.random.Generator
    ) -> SecondEstimate:
        """Check an estimate of that value.

        Parameters
        ----------
        margins : callable
            From z, shape (n, d), to margins, shape (n, m).
        d : int
            Number of columns of z.
        look : FirstLook
            Plain samples seen before; subset simulation where few of their misses are known.
        value : float
            The estimate: the rarer, the more samples.
        rng : numpy.random.Generator
            For the runs.
        """
        # Scatter and bias grow with the number of levels.
        levels = -math.log10(value) if value > 0.0 else 0.0
        per_level = 10 * round(0.1 * SAMPLES * max(1.0, levels / 4.5))
        second = cls(margins, d, look, None, per_level, 0)
        # Counts alone do not lead to the misses that an estimate lacks, nor show that it lacks any.
        return second if look.known >= _TELLING else second._with_runs(per_level, rng)

    def larger(self, value: float, budget: int, *, rng: np.random.Generator) -> SecondEstimate:
        """A better check, as a disagreement deserves; plain samples too where they would tell.

        Parameters
        ----------
        value : float
            The estimate that is checked.
        budget : int
            Most plain samples.
        rng : numpy.random.Generator
            For runs and samples.
        """
        better = self
        if max(value, self.value) * budget >= _DECISIVE and budget > self.look.samples:
            counted = CountedMargins(self.margins)
            seen = look(counted, self.d, budget, rng=rng)
            better = SecondEstimate(
                self.margins, self.d, seen, self.runs, self.per_level, self.calls + budget
            )
        return better._with_runs(3 * self.per_level, rng)

    def _with_runs(self, per_level: int, rng: np.random.Generator) -> SecondEstimate:
        runs = subset_runs(self.margins, self.d, per_level=per_level, rng=rng)
        return SecondEstimate(
            self.margins, self.d, self.look, runs, per_level, self.calls + runs.draws
        )

    @property
    def value(self) -> float:
        """The probability that it finds."""
        if self.runs is None or self._plain_tells_more:
            return self.look.misses / self.look.samples
        return self.runs.value

    @property
    def samples(self) -> tuple[FailureSample, ...]:
        """Misses of each estimator, where they are known."""
        found = [] if self.runs is None else [self.runs.sample]
        if self.look.seen is not None and len(self.look.seen):
            found.append(FailureSample.of(self.look.seen, np.ones(len(self.look.seen))))
        return tuple(found)

    def probability(self, confidence: float) -> Probability:
        """What is shown of it beside the estimate that it checks."""
        if self.runs is None or self._plain_tells_more:
            return from_counts(self.look.misses, self.look.samples, confidence)
        return self.runs.probability(confidence=confidence, model_calls=self.runs.draws)

    def doubt(self, estimate: Probability) -> str:
        """What it says against an estimate, in words; empty where nothing.

        Runs that are in doubt themselves cannot contradict a sound estimate by seeing less than it,
        only leave it unconfirmed by seeing more, or nothing.
        """
        if self.look.contradicts(estimate):
            return self.look.words()
        if self.runs is None or self._plain_tells_more:
            return ""
        if self.runs.doubts:
            too_rare = self.runs.value == 0.0 and self.runs.below < _BEYOND
            if (too_rare and estimate.high < _BEYOND) or 0.0 < self.runs.value <= estimate.high:
                return ""
            return f"not confirmed by subset simulation: {'; '.join(self.runs.doubts)}"
        words = f"subset simulation disagrees: {self.runs.value:.3g}"
        if estimate.value == 0.0:
            return words
        apart = abs(math.log(estimate.value / self.runs.value))
        quantile = float(stdtrit(BATCHES - 1, 0.5 + estimate.confidence / 2.0))
        own = math.log(estimate.high / estimate.value) / quantile
        return words if apart > _SIGMAS * math.hypot(own, max(self.runs.cov, _LEAST_COV)) else ""

    def better_founded(self, estimate: Probability) -> str:
        """The method that stands after a disagreement: "plain", "subset" or "importance".

        Draws of a mixture that are weighted well cannot find too much, only too little. Plain
        samples stand against an estimate that they contradict, and in place of two in doubt.
        """
        contradicted = self.look.misses >= ENOUGH and self.look.contradicts(estimate)
        if contradicted or (not estimate.reliable and self._plain_tells_more):
            return "plain"
        found_more = self.runs is not None and self.runs.value > estimate.value
        return "subset" if found_more or not estimate.reliable else "importance"

    def settled(self, estimate: Probability, doubt: str) -> Probability:
        """What stands after a disagreement, noted."""
        instead = self.better_founded(estimate)
        if instead == "importance" or (instead == "subset" and self.runs is None):
            return estimate.noted(doubt, reliable=False)
        if instead == "plain":
            found = from_counts(self.look.misses, self.look.samples, estimate.confidence)
        else:
            assert self.runs is not None
            found = self.runs.probability(
                confidence=estimate.confidence, model_calls=self.runs.draws
            )
        return found.noted(given_up(estimate, doubt))

    @property
    def _plain_tells_more(self) -> bool:
        """Whether plain samples, which nothing misleads, put subset simulation in doubt."""
        if self.runs is None or self.look.misses < ENOUGH:
            return False
        runs = self.runs.probability(confidence=0.95, model_calls=0)
        return bool(self.runs.doubts) or self.look.contradicts(runs)


def given_up(estimate: Probability, doubt: str) -> str:
    """That importance sampling does not stand, in words."""
    return f"importance sampling was given up at {estimate.value:.3g} ({doubt})"
