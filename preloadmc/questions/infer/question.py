"""Why did they come loose? Probabilities of the suspects, given what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Assumption, Case, Suspect
from preloadmc.case_file import load_pairs
from preloadmc.chance.dependence import partly_shared
from preloadmc.chance.laws import Law
from preloadmc.chance.streams import named_rng
from preloadmc.engine import Progress
from preloadmc.errors import EstimateError, UsageError
from preloadmc.estimates.model_odds import ModelOdds, model_odds
from preloadmc.evidence import Evidence
from preloadmc.questions.check import check
from preloadmc.questions.infer.fit import FindingFit, fit_of, is_explained
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.next_measurement import Candidate, rank_measurements
from preloadmc.questions.infer.particles import (
    SHORT_SWEEPS,
    SWEEPS,
    Pool,
    Run,
    pooled,
    run_particles,
)
from preloadmc.questions.infer.prior_sensitivity import PriorSensitivity, prior_sensitivity
from preloadmc.units import Array

# Particles of a run and runs of a suspect to begin with: both grow where a claim needs more.
PARTICLES = 256
RUNS = 6
# A suspect this far behind in log posterior weight after two short runs gets no others: it has less
# than one part in a million.
FAR_BEHIND = 15.0
# Joints that show whether a suspect can turn a fastener at all.
_SLIP_DRAWS = 4096
# A first look at a suspect: so many runs of a part of the particles, enough to see it far behind.
_SHORT_RUNS = 2
_SHORT_SHARE = 4
# Who is shown in full: at least this probable, at most so many, for a reader's sake.
LEADING = 0.05
MOST_LEADING = 3
# A suspect counts for the claim from this probability on; then its evidence must be known to this
# relative standard error, and the effective sample size to this many particles: enough for odds
# whose order of size is what is asked (engineering judgement).
COUNTS_FROM = 0.01
MOST_EVIDENCE_ERROR = 0.5
LEAST_EFFECTIVE = 200.0
# Times that the particles are doubled before the claim is given up.
_DOUBLINGS = 2


@dataclass(frozen=True, slots=True)
class InputPosterior:
    """An input under one suspect: its law, and 5, 50, 95 % for this lot after the evidence."""

    name: str
    law: Law
    low: float
    median: float
    high: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the evidence makes of one suspect.

    ``probability`` among the suspects named, with the Monte Carlo standard ``error``; ``prior``
    as a probability; ``log_factor`` the log Bayes factor against the joint as designed, with its
    standard error. ``effective`` is the effective sample size; ``fits`` and ``inputs`` are empty
    for those that are not shown in full, ``explained`` is then None.
    """

    suspect: Suspect
    prior: float
    probability: float
    error: float
    log_evidence: float
    log_factor: float
    log_factor_error: float
    effective: float
    fits: tuple[FindingFit, ...]
    explained: bool | None
    inputs: tuple[InputPosterior, ...]


@dataclass(frozen=True, slots=True)
class InferResult:
    """The answer of an investigation; verdicts stand in order of probability."""

    case: Case
    evidence: Evidence
    seed: int
    pairs: bool
    particles: int
    runs: int
    verdicts: tuple[Verdict, ...]
    sensitivity: PriorSensitivity
    measurements: tuple[Candidate, ...]
    assumptions: tuple[Assumption, ...]
    warnings: tuple[str, ...]

    @property
    def case_as_designed(self) -> Suspect:
        """Return the suspect that is the joint as designed."""
        assert self.case.investigation is not None, "only an investigated case has a result"
        return self.case.investigation.suspects[0]

    @property
    def leading(self) -> tuple[Verdict, ...]:
        """Return the verdicts that are shown in full."""
        return tuple(verdict for verdict in self.verdicts if verdict.explained is not None)


def infer(
    case: Case,
    *,
    seed: int | None = None,
    pairs: bool = False,
    particles: int = PARTICLES,
    runs: int = RUNS,
    progress: Progress | None = None,
) -> InferResult:
    """Weigh the suspects of a case by its evidence.

    Parameters
    ----------
    case : Case
        With evidence and suspects.
    seed : int, optional
        That of the case unless given.
    pairs : bool
        Whether two suspects may be at work together; prior odds of a pair are the product of the
        odds of the two.
    particles, runs : int
        Particles of each run, and independent runs of each suspect, at least 2; both grow by
        themselves before a claim is given up.
    progress : callable, optional
        Told the runs done and planned.

    Raises
    ------
    UsageError
        If the case has no evidence, or fewer than two runs are asked for.
    EstimateError
        If the effective sample size collapses: no probability can be claimed.
    """
    investigation = case.investigation
    if investigation is None:
        raise UsageError(f"{case.source}: holds no evidence; add [[evidence]] and [[suspect]]")
    if runs < _SHORT_RUNS or particles < 64:
        raise UsageError("at least 2 runs of at least 64 particles are needed")
    seed = case.sampling.seed if seed is None else seed
    suspects = (*investigation.suspects, *(load_pairs(case) if pairs else ()))
    prior = np.array([suspect.prior for suspect in suspects])
    weighing = Weighing(suspects, prior, investigation.evidence, seed, particles, runs, progress)
    odds, pools = weighing.weigh()
    order = [int(place) for place in np.argsort(-odds.probability, kind="stable")]
    leading = [i for i in order if odds.probability[i] >= LEADING][:MOST_LEADING]
    designed = 0
    verdicts = []
    for i in order:
        shown = i in leading
        fits = fit_of(pools[i], named_rng(seed, f"fit of {suspects[i].name}")) if shown else ()
        verdicts.append(
            Verdict(
                suspects[i],
                float(prior[i] / prior.sum()),
                float(odds.probability[i]),
                float(odds.error[i]),
                float(odds.log_evidence[i]),
                float(odds.log_evidence[i] - odds.log_evidence[designed]),
                float(np.hypot(odds.log_evidence_error[i], odds.log_evidence_error[designed])),
                pools[i].effective,
                fits,
                is_explained(fits) if shown else None,
                _inputs(pools[i], seed) if shown else (),
            )
        )
    ordered = odds.probability[order]
    measurements = rank_measurements(
        [pools[i] for i in order],
        ordered,
        investigation.evidence,
        named_rng(seed, "next measurement"),
    )
    return InferResult(
        case,
        investigation.evidence,
        seed,
        pairs,
        weighing.particles,
        weighing.most_runs,
        tuple(verdicts),
        prior_sensitivity(ordered, prior[order]),
        measurements,
        (*case.assumptions, *investigation.assumptions),
        (
            *check(case).warnings,
            *investigation.warnings,
            *_idle_warnings(suspects, investigation.evidence, seed),
            *_warnings(verdicts),
        ),
    )


class Weighing:
    """Runs of all suspects: more of them where they matter, until the claim holds."""

    def __init__(
        self,
        suspects: tuple[Suspect, ...],
        prior: Array,
        evidence: Evidence,
        seed: int,
        particles: int,
        runs: int,
        progress: Progress | None,
    ) -> None:
        self.suspects = suspects
        self.prior = prior
        self.evidence = evidence
        self.seed = seed
        self.particles = particles
        self.most_runs = runs
        self.progress = progress
        self.runs: list[list[Run]] = [[] for _ in suspects]
        self.done = 0
        self.planned = 0

    def weigh(self) -> tuple[ModelOdds, list[Pool]]:
        """Return the odds with the pooled particles of each suspect."""
        self._screen()
        trouble = [(i, "") for i in self._near()]
        for doubling in range(_DOUBLINGS + 1):
            if doubling:
                self.particles *= 2
            for i, _ in trouble:
                self.runs[i] = [self._run(i, k) for k in range(self.most_runs)]
            odds = self._odds()
            pools = [pooled(runs, self.seed) for runs in self.runs]
            trouble = self._trouble(odds, pools)
            if not trouble:
                return odds, pools
        words = "; ".join(f"{self.suspects[i].name}: {why}" for i, why in trouble)
        raise EstimateError(
            f"no probability can be claimed, the samples collapse even with {self.particles} "
            f"particles a run ({words}). Wider measuring errors, fewer findings, or laws that come "
            "nearer to what was found would help."
        )

    def _screen(self) -> None:
        """Give every suspect two short runs."""
        self.planned = len(self.suspects) * (_SHORT_RUNS + self.most_runs)
        for i in range(len(self.suspects)):
            self.runs[i] = [self._run(i, k, short=True) for k in range(_SHORT_RUNS)]
        near = self._near()
        self.planned = len(self.suspects) * _SHORT_RUNS + len(near) * self.most_runs

    def _run(self, i: int, number: int, *, short: bool = False) -> Run:
        particles = max(self.particles // _SHORT_SHARE, 32) if short else self.particles
        sweeps = SHORT_SWEEPS if short else SWEEPS
        run = run_particles(self.suspects[i], self.evidence, self.seed, number, particles, sweeps)
        self.done += 1
        if self.progress is not None:
            self.progress(self.done, max(self.done, self.planned))
        return run

    def _logs(self, i: int) -> Array:
        return np.array([run.posterior.log_evidence for run in self.runs[i]])

    def _near(self) -> list[int]:
        """Return the suspects that are not far behind the first."""
        with np.errstate(divide="ignore"):
            best = np.array([self._logs(i).max() for i in range(len(self.runs))])
            best += np.log(self.prior)
        if not np.isfinite(best.max()):
            raise EstimateError("no suspect makes what was found possible at all")
        return [i for i in range(len(self.runs)) if best[i] > best.max() - FAR_BEHIND]

    def _odds(self) -> ModelOdds:
        most = max(len(runs) for runs in self.runs)
        # Those far behind have fewer runs, which stand in for the rest: they weigh nothing.
        logs = [np.resize(self._logs(i), most) for i in range(len(self.suspects))]
        return model_odds(np.array(logs), self.prior)

    def _trouble(self, odds: ModelOdds, pools: list[Pool]) -> list[tuple[int, str]]:
        """Return the suspects whose particles do not carry the claim, and why."""
        found = []
        for i, pool in enumerate(pools):
            if odds.probability[i] + 3.0 * odds.error[i] < COUNTS_FROM:
                continue
            if pool.trouble:
                found.append((i, pool.trouble))
            elif odds.log_evidence_error[i] > MOST_EVIDENCE_ERROR:
                words = f"its evidence is known to {100 * odds.log_evidence_error[i]:.0f} % only"
                found.append((i, words))
            elif pool.effective < min(LEAST_EFFECTIVE, 0.5 * self.particles * self.most_runs):
                found.append((i, f"effective sample size {pool.effective:.0f}"))
        return found


def _inputs(pool: Pool, seed: int) -> tuple[InputPosterior, ...]:
    """Return every input that scatters, for another fastener of the same lot."""
    model = pool.model
    rng = named_rng(seed, f"inputs of {model.suspect.name}")
    v = rng.standard_normal(pool.common.shape)
    values = model.inspect(partly_shared(pool.common, v, model.fractions)).values
    laws = {**model.suspect.case.laws, **model.suspect.traces}
    found = []
    for name in model.columns:
        low, median, high = np.quantile(np.asarray(values[name]), [0.05, 0.5, 0.95])
        found.append(InputPosterior(name, laws[name], float(low), float(median), float(high)))
    return tuple(found)


def _idle_warnings(suspects: Sequence[Suspect], evidence: Evidence, seed: int) -> list[str]:
    """Warn of suspects that would turn a fastener, in a case whose parts never slip."""
    found = []
    for suspect in suspects:
        if not any(path.startswith("rotation.") for path in suspect.changes):
            continue
        rng = named_rng(seed, f"slip of {suspect.name}")
        model = SuspectModel(suspect, evidence, rng)
        inspection = model.inspect(rng.standard_normal((_SLIP_DRAWS, len(model.columns))))
        found_on = filter(None, (inspection.tightened, inspection.missed))
        if not any(np.any(np.asarray(each.turned) > 0.0) for each in found_on):
            found.append(
                f"'{suspect.name}' has no effect here: in {_SLIP_DRAWS:,} joints by its own "
                "laws no fastener turns back, since no parts slip or the securing element holds."
            )
    return found


def _warnings(verdicts: list[Verdict]) -> list[str]:
    leading = [verdict for verdict in verdicts if verdict.explained is not None]
    names = ", ".join(f"'{verdict.suspect.name}'" for verdict in leading)
    if not any(verdict.explained for verdict in leading):
        return [
            f"No suspect explains the evidence ({names}): some of what was found lies far outside "
            "what each predicts. The probabilities only say which is least bad; look for a cause "
            "that is not on the list, or for an error in the findings."
        ]
    if not leading[0].explained:
        return [f"The leading suspect '{leading[0].suspect.name}' does not explain all findings."]
    return []
