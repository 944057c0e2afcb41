"""The posterior of one suspect: independent runs of particles, pooled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.case import Suspect
from preloadmc.chance.streams import named_rng
from preloadmc.estimates.posterior import Posterior, tempered_posterior
from preloadmc.evidence import Evidence
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.many_fasteners import ManyFasteners
from preloadmc.units import Array

# Rounds of moves at each temperature, of a run that is to carry a claim and of a short one: chosen
# on repeated runs, so that their evidences agree within their errors. Where own numbers are summed
# over, a short run has as many: its moves are of the common numbers alone, and cost little.
SWEEPS = 6
SHORT_SWEEPS = 3
# Particles that are kept of all runs together: more add nothing to the runs' own errors.
POOLED = 1024


@dataclass(frozen=True, slots=True)
class Run:
    """One run of particles with the model that it belongs to.

    ``followed`` is the model of the fasteners that were followed one by one, ``many`` holds the
    others.
    """

    model: SuspectModel
    followed: SuspectModel
    many: ManyFasteners
    posterior: Posterior


@dataclass(frozen=True, slots=True)
class Pool:
    """Particles of all runs, equally likely: common numbers (n, d), fasteners' (fasteners, n, d).

    ``members`` are the fasteners of ``followed``; ``many`` draws the numbers of the others.
    ``effective`` is the effective sample size of the runs' particles before they were drawn from;
    ``trouble`` says what was wrong with a run that counts, or is empty.
    """

    model: SuspectModel
    followed: SuspectModel
    many: ManyFasteners
    common: Array
    members: Array
    effective: float
    trouble: str


def run_particles(
    suspect: Suspect, evidence: Evidence, seed: int, number: int, particles: int, sweeps: int
) -> Run:
    """Make one run; runs of different ``number`` are independent."""
    rng = named_rng(seed, f"suspect {suspect.name}, run {number}, {particles} particles")
    model = SuspectModel(suspect, evidence, rng)
    many = ManyFasteners(model, rng)
    followed = SuspectModel(suspect, many.others, rng) if many.names else model
    posterior = tempered_posterior(
        followed.of_fasteners,
        many.beside(followed.of_lot) if many.names else followed.of_lot,
        model.fractions,
        followed.fasteners,
        particles=particles,
        sweeps=max(sweeps, SWEEPS) if many.names else sweeps,
        rng=rng,
    )
    return Run(model, followed, many, posterior)


def pooled(runs: list[Run], seed: int) -> Pool:
    """Draw equally likely particles from all runs, each run by its evidence."""
    logs = np.array([run.posterior.log_evidence for run in runs])
    model = runs[0].model
    rng = named_rng(seed, f"pool of {model.suspect.name}")
    weights = np.exp(logs - logs.max()) if np.isfinite(logs.max()) else np.ones(len(runs))
    weights /= weights.sum()
    sizes = np.array([len(run.posterior.common) for run in runs])
    effective = 1.0 / float((weights**2 / sizes).sum())
    # Each run gets its share to within one particle, on the mean exactly.
    counts = np.floor(weights * POOLED + rng.random()).astype(int)
    common, members = [], []
    for run, count in zip(runs, counts, strict=True):
        chosen = rng.permutation(np.resize(np.arange(len(run.posterior.common)), count))
        common.append(run.posterior.common[chosen])
        members.append(run.posterior.members[:, chosen])
    trouble = next(
        (
            r.posterior.trouble
            for r, w in zip(runs, weights, strict=True)
            if r.posterior.trouble and w > 0.0
        ),
        "",
    )
    order = rng.permutation(int(counts.sum()))
    return Pool(
        model,
        runs[0].followed,
        runs[0].many,
        np.concatenate(common)[order],
        np.concatenate(members, axis=1)[:, order],
        effective,
        trouble,
    )
