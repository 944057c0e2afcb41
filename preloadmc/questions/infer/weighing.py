"""Evidences of rival suspects from runs of particles: more runs where they matter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from preloadmc.case import Suspect
from preloadmc.engine import Progress
from preloadmc.errors import EstimateError
from preloadmc.estimates.model_odds import ModelOdds, model_odds
from preloadmc.evidence import Evidence
from preloadmc.questions.infer.particles import (
    SHORT_SWEEPS,
    SWEEPS,
    Pool,
    Run,
    pooled,
    run_particles,
)
from preloadmc.units import Array

# A first look at a suspect: so many runs of a part of the particles, enough to see it far behind.
SHORT_RUNS = 2
_SHORT_SHARE = 4
# A suspect this far behind in log posterior weight after the first look gets no other runs: it has
# less than one part in ten thousand.
FAR_BEHIND = 10.0
# A suspect counts for the claim from this probability on; then its evidence must be known to this
# relative standard error, and the effective sample size to this many particles: enough for odds
# whose order of size is what is asked (engineering judgement).
COUNTS_FROM = 0.01
MOST_EVIDENCE_ERROR = 0.5
LEAST_EFFECTIVE = 200.0
# Two causes at once count from this probability on, and are followed closely from this far behind:
# less so than single ones, since each of the two is followed by itself.
_COMBINED_COUNTS_FROM = 0.02
_COMBINED_FAR_BEHIND = 5.0
# Times that the particles are doubled before the claim is given up.
_DOUBLINGS = 2


def short_run(suspect: Suspect, evidence: Evidence, seed: int, number: int, particles: int) -> Run:
    """Make one run of a first look at a suspect."""
    few = max(particles // _SHORT_SHARE, 32)
    return run_particles(suspect, evidence, seed, number, few, SHORT_SWEEPS)


class Weighing:
    """Runs of all suspects: more of them where they matter, until the claim holds.

    Parameters
    ----------
    suspects : tuple of Suspect
        Rivals, each with its prior weight.
    combined : frozenset of str
        Names of those that are two causes at once: followed less closely, since each of the two is
        followed by itself.
    evidence, seed, particles, runs, progress
        As for `infer`.
    """

    def __init__(
        self,
        suspects: Sequence[Suspect],
        combined: frozenset[str],
        evidence: Evidence,
        *,
        seed: int,
        particles: int,
        runs: int,
        progress: Progress | None,
    ) -> None:
        self.suspects = tuple(suspects)
        self.prior = np.array([suspect.prior for suspect in suspects])
        both = np.array([suspect.name in combined for suspect in suspects])
        self.counts_from = np.where(both, _COMBINED_COUNTS_FROM, COUNTS_FROM)
        self.slack = np.where(both, _COMBINED_FAR_BEHIND, FAR_BEHIND)
        self.evidence = evidence
        self.seed = seed
        self.particles = particles
        self.most_runs = runs
        self.progress = progress
        self.runs: list[list[Run]] = [[] for _ in suspects]
        self.followed: list[int] = [0] * len(self.suspects)
        self.done = 0
        self.planned = 0

    def weigh(self) -> tuple[ModelOdds, list[Pool]]:
        """Return the odds with the pooled particles of each suspect."""
        self._screen()
        wanted = self._near()
        trouble: list[tuple[int, str]] = []
        for doubling in range(_DOUBLINGS + 1):
            if doubling:
                self.particles *= 2
            # Whoever turns out to count is followed too, before the particles are doubled.
            while wanted:
                for i in wanted:
                    self._follow(i)
                odds = self._odds()
                pools = [pooled(runs, self.seed) for runs in self.runs]
                trouble = self._trouble(odds, pools)
                wanted = [i for i, _ in trouble if self.followed[i] < self.particles]
            if not trouble:
                return odds, pools
            wanted = [i for i, _ in trouble]
        words = "; ".join(f"{self.suspects[i].name}: {why}" for i, why in trouble)
        raise EstimateError(
            f"no probability can be claimed, the samples collapse even with {self.particles} "
            f"particles a run ({words}). Wider measuring errors, fewer findings, or laws that come "
            "nearer to what was found would help."
        )

    def _screen(self) -> None:
        """Give every suspect two short runs."""
        self.planned = len(self.suspects) * (SHORT_RUNS + self.most_runs)
        for i, suspect in enumerate(self.suspects):
            for k in range(SHORT_RUNS):
                run = short_run(suspect, self.evidence, self.seed, k, self.particles)
                self.runs[i].append(run)
                self._tell()
        near = self._near()
        self.planned = len(self.suspects) * SHORT_RUNS + len(near) * self.most_runs

    def _follow(self, i: int) -> None:
        """Give a suspect all runs, with as many particles as are now in use."""
        found = []
        for k in range(self.most_runs):
            suspect = self.suspects[i]
            found.append(
                run_particles(suspect, self.evidence, self.seed, k, self.particles, SWEEPS)
            )
            self._tell()
        self.runs[i], self.followed[i] = found, self.particles

    def _tell(self) -> None:
        self.done += 1
        if self.progress is not None:
            self.progress(self.done, max(self.done, self.planned))

    def _logs(self, i: int) -> Array:
        return np.array([run.posterior.log_evidence for run in self.runs[i]])

    def _near(self) -> list[int]:
        """Return the suspects that are not far behind the first."""
        with np.errstate(divide="ignore"):
            best = np.array([self._logs(i).max() for i in range(len(self.runs))])
            best += np.log(self.prior)
        if not np.isfinite(best.max()):
            raise EstimateError("no suspect makes what was found possible at all")
        return [int(i) for i in np.flatnonzero(best > best.max() - self.slack)]

    def _odds(self) -> ModelOdds:
        most = max(len(runs) for runs in self.runs)
        # Those far behind have fewer runs, which stand in for the rest: they weigh nothing.
        logs = [np.resize(self._logs(i), most) for i in range(len(self.suspects))]
        return model_odds(np.array(logs), self.prior)

    def _trouble(self, odds: ModelOdds, pools: list[Pool]) -> list[tuple[int, str]]:
        """Return the suspects whose particles do not carry the claim, and why."""
        found = []
        for i, pool in enumerate(pools):
            if odds.probability[i] + 3.0 * odds.error[i] < self.counts_from[i]:
                continue
            if pool.trouble:
                found.append((i, pool.trouble))
            elif odds.log_evidence_error[i] > MOST_EVIDENCE_ERROR:
                words = f"its evidence is known to {100 * odds.log_evidence_error[i]:.0f} % only"
                found.append((i, words))
            elif pool.effective < min(LEAST_EFFECTIVE, 0.5 * self.particles * self.most_runs):
                found.append((i, f"effective sample size {pool.effective:.0f}"))
        return found
