"""Why did they come loose? Probabilities of the suspects, given what was found."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from preloadmc.case import Case, Suspect
from preloadmc.case_file import load_rivals
from preloadmc.chance.dependence import partly_shared
from preloadmc.chance.streams import named_rng
from preloadmc.engine import Progress
from preloadmc.errors import UsageError
from preloadmc.estimates.model_odds import ModelOdds
from preloadmc.evidence import Evidence
from preloadmc.questions.check import check
from preloadmc.questions.infer.fit import fit_of
from preloadmc.questions.infer.fit_check import check_fit
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.next_measurement import rank_measurements
from preloadmc.questions.infer.other_cause import RoughLook, weigh_others
from preloadmc.questions.infer.particles import Pool
from preloadmc.questions.infer.prior_sensitivity import prior_sensitivity
from preloadmc.questions.infer.records import InferResult, InputPosterior, OtherCause, Verdict
from preloadmc.questions.infer.weighing import SHORT_RUNS, Weighing
from preloadmc.units import Array

# Particles of a run and runs of a suspect to begin with: both grow where a claim needs more.
PARTICLES = 256
RUNS = 6
# Joints that show whether a suspect can turn a fastener at all.
_SLIP_DRAWS = 4096
# Who is shown in full: at least this probable, at most so many, for a reader's sake.
LEADING = 0.05
MOST_LEADING = 3


def infer(
    case: Case,
    *,
    seed: int | None = None,
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
    if runs < SHORT_RUNS or particles < 64:
        raise UsageError("at least 2 runs of at least 64 particles are needed")
    seed = case.sampling.seed if seed is None else seed
    evidence, singles = investigation.evidence, investigation.suspects
    rivals = load_rivals(case)
    rough = RoughLook(singles, evidence, seed)
    pairs = rough.near(rivals.pairs, by_prior=True)
    suspects = (*singles, *pairs)
    weighing = Weighing(
        suspects,
        frozenset(pair.name for pair in pairs),
        evidence,
        seed=seed,
        particles=particles,
        runs=runs,
        progress=progress,
    )
    odds, pools = weighing.weigh()
    left = weigh_others(
        rough.near(rivals.unnamed, by_prior=False),
        rivals.any_cause,
        float(odds.log_evidence.max()),
        float(odds.log_evidence[0]),
        evidence,
        seed=seed,
        particles=particles,
    )
    prior = weighing.prior
    order = [int(place) for place in np.argsort(-odds.probability, kind="stable")]
    leading = [i for i in order if odds.probability[i] >= LEADING][:MOST_LEADING]
    designed = 0
    verdicts = []
    for i in order:
        shown, name = i in leading, suspects[i].name
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
                fit_of(pools[i], named_rng(seed, f"fit of {name}")) if shown else (),
                check_fit(pools[i].model, named_rng(seed, f"check of {name}")) if shown else None,
                _inputs(pools[i], seed) if shown else (),
            )
        )
    ordered = odds.probability[order]
    # An unnamed suspect that fits as well is to be told apart too: as if it had been named, with
    # the mean weight of those named.
    weights = [*ordered, *_weights_of(left.other, odds, prior)]
    measurements = rank_measurements(
        [*(pools[i] for i in order), *left.pools],
        np.array(weights) / sum(weights),
        evidence,
        investigation.efforts,
        named_rng(seed, "next measurement"),
    )
    return InferResult(
        case,
        evidence,
        seed,
        weighing.particles,
        weighing.most_runs,
        tuple(verdicts),
        prior_sensitivity(ordered, prior[order], np.array(order) < len(singles)),
        left.other,
        measurements,
        (*case.assumptions, *investigation.assumptions),
        (
            *check(case).warnings,
            *investigation.warnings,
            *_idle_warnings(singles, evidence, seed),
            *_warnings(verdicts, left.other),
        ),
    )


def _weights_of(other: OtherCause, odds: ModelOdds, prior: Array) -> list[float]:
    """Return what the unnamed that fit as well would weigh beside the probabilities of those named.

    A probability is a prior weight times an evidence, in the measure of the best suspect named.
    """
    place = int(np.argmax(odds.log_evidence))
    each_weight = float(odds.probability[place]) / float(prior[place])
    return [
        float(prior.mean()) * each_weight * math.exp(unnamed.log_bayes_factor_against_best_named)
        for unnamed in other.as_well
    ]


def _inputs(pool: Pool, seed: int) -> tuple[InputPosterior, ...]:
    """Return every input that scatters, for another fastener of the same lot."""
    model = pool.model
    rng = named_rng(seed, f"inputs of {model.suspect.name}")
    v = rng.standard_normal(pool.common.shape)
    values = model.inspect(partly_shared(pool.common, v, model.fractions)).values
    laws = {**model.suspect.case.laws, **model.suspect.traces}
    # What the evidence leaves open of the lot, beside what each fastener has of its own.
    of_lot = model.fractions * pool.common.var(axis=0)
    common = of_lot / np.maximum(of_lot + 1.0 - model.fractions, 1e-300)
    found = []
    for name, share in zip(model.columns, common, strict=True):
        low, median, high = (
            float(q) for q in np.quantile(np.asarray(values[name]), [0.05, 0.5, 0.95])
        )
        found.append(
            InputPosterior(name, laws[name], low, median, high, float(np.clip(share, 0.0, 1.0)))
        )
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


def _warnings(verdicts: list[Verdict], other: OtherCause) -> list[str]:
    leading = [verdict for verdict in verdicts if verdict.fit_check is not None]
    names = ", ".join(f"'{verdict.suspect.name}'" for verdict in leading)
    found = []
    if not any(verdict.explains_the_evidence for verdict in leading):
        found.append(
            f"No suspect explains the findings ({names}): what was found is odder than nearly all "
            "that each would make. The probabilities only say which is least bad; look for a cause "
            "that is not on the list, or for an error in the findings."
        )
    elif not leading[0].explains_the_evidence:
        found.append(
            f"The leading suspect '{leading[0].suspect.name}' does not explain the findings."
        )
    if other.as_well:
        names = ", ".join(f"'{each.suspect.name}'" for each in other.as_well)
        found.append(
            f"Shipped suspects that were not named fit the findings as well ({names}): name each "
            "with its own prior weight, or say why it cannot be."
        )
    if other.fits_better_than_all_named and not other.as_well:
        found.append(
            "A cause that nobody named may be at work: laws so wide that they explain nearly "
            "anything fit the findings better than every suspect named."
        )
    return found
