"""Causes that nobody named: which would fit too, and how well the best named could be beaten."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from preloadmc.case import Suspect
from preloadmc.chance.streams import named_rng
from preloadmc.evidence import Evidence
from preloadmc.questions.infer.drawn_lots import DrawnLots
from preloadmc.questions.infer.fit_check import check_fit
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.particles import Pool, pooled
from preloadmc.questions.infer.records import OtherCause, Unnamed
from preloadmc.questions.infer.weighing import short_run
from preloadmc.units import Array

# Lots and fasteners of a rough look, and how far in log evidence a suspect may lie behind there:
# rough is too low by a few where the findings say much.
_ROUGH = (256, 96)
_ROUGHLY_NEAR = 12.0
# Short runs of an unnamed suspect that comes near, and how near it must come to be told.
_RUNS = 4
_NEAR = 5.0
# So many are told at most, for a reader's sake.
_MOST_TOLD = 3


def rough_log_evidence(suspect: Suspect, evidence: Evidence, seed: int) -> float:
    """Return the log evidence of a suspect from lots drawn by its laws: quick and rough."""
    rng = named_rng(seed, f"rough look at {suspect.name}")
    lots = DrawnLots(SuspectModel(suspect, evidence, rng), rng, *_ROUGH)
    return lots.log_evidence(evidence.findings, evidence.counts)


def roughly_near(
    rivals: Sequence[Suspect], named: Sequence[Suspect], evidence: Evidence, seed: int
) -> tuple[Suspect, ...]:
    """Return the rivals that are not far behind the best of those named, by a rough look."""
    best = max(rough_log_evidence(each, evidence, seed) for each in named)
    return tuple(
        each for each in rivals if rough_log_evidence(each, evidence, seed) > best - _ROUGHLY_NEAR
    )


@dataclass(frozen=True, slots=True)
class Left:
    """What was found of the causes left out, and the particles of those that fit as well."""

    other: OtherCause
    pools: tuple[Pool, ...]


def weigh_others(
    unnamed: Sequence[Suspect],
    any_cause: Suspect | None,
    best: float,
    evidence: Evidence,
    *,
    seed: int,
    particles: int,
) -> Left:
    """Weigh causes that nobody named against the best of those named.

    Parameters
    ----------
    unnamed : sequence of Suspect
        Shipped suspects that came near in a rough look.
    any_cause : Suspect or None
        The one of wide laws.
    best : float
        Log evidence of the best suspect named.
    evidence : Evidence
        What was found.
    seed, particles : int
        As for `infer`.
    """
    told: list[tuple[Unnamed, Pool]] = []
    for suspect in unnamed:
        log_evidence, error, pool = _evidence_of(suspect, evidence, seed, particles)
        if log_evidence < best - _NEAR:
            continue
        check = check_fit(pool.model, named_rng(seed, f"check of {suspect.name}"))
        told.append((Unnamed(suspect, log_evidence - best, error, check), pool))
    told.sort(key=lambda each: -each[0].log_factor)
    told = told[:_MOST_TOLD]
    factor, factor_error = None, 0.0
    if any_cause is not None:
        log_evidence, factor_error, _ = _evidence_of(any_cause, evidence, seed, particles)
        factor = log_evidence - best
    other = OtherCause(factor, factor_error, tuple(each for each, _ in told))
    return Left(other, tuple(pool for each, pool in told if each.fits_as_well))


def _evidence_of(
    suspect: Suspect, evidence: Evidence, seed: int, particles: int
) -> tuple[float, float, Pool]:
    """Return log evidence, its error, and particles of a suspect."""
    runs = [short_run(suspect, evidence, seed, k, particles) for k in range(_RUNS)]
    logs: Array = np.array([run.posterior.log_evidence for run in runs])
    mean = float(logsumexp(logs) - np.log(_RUNS))
    relative = np.exp(logs - mean) if np.isfinite(mean) else np.zeros(_RUNS)
    error = float(relative.std(ddof=1)) / np.sqrt(_RUNS)
    return mean, float(error), pooled(runs, seed)
