"""Causes that nobody named: which would fit too, and how well the best named could be beaten."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from preloadmc.case import Suspect
from preloadmc.chance.streams import named_rng
from preloadmc.evidence import Evidence
from preloadmc.questions.infer.drawn_lots import DrawnLots, log_largest
from preloadmc.questions.infer.fit_check import check_fit
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.particles import Pool, Run, pooled
from preloadmc.questions.infer.records import OtherCause, Unnamed
from preloadmc.questions.infer.weighing import short_run
from preloadmc.units import Array

# Lots and fasteners of a rough look, and how far in log evidence a suspect may lie behind there:
# rough is too low by a few where the findings say much.
_ROUGH = (128, 64)
_ROUGHLY_NEAR = 10.0
# Lots and fasteners of a closer look, and the standard error of the log evidence beyond which
# particles are needed: where the findings say much more than the laws.
_CLOSER = (512, 64)
_MOST_ERROR = 0.3
# Short runs of particles, and how near a suspect must come to be told.
_RUNS = 4
_NEAR = 3.0
# What the findings must say for an unnamed suspect against the joint as designed, as a log Bayes
# factor: the least that is more than barely discriminating (see `estimates.model_odds`).
MORE_THAN_DESIGNED = math.log(3.0)
# So many are told at most, for a reader's sake.
_MOST_TOLD = 3


def roughly_near(
    rivals: Sequence[Suspect],
    named: Sequence[Suspect],
    evidence: Evidence,
    seed: int,
    *,
    by_prior: bool,
) -> tuple[Suspect, ...]:
    """Return the rivals that are not far behind the best of those named, by a rough look.

    Prior weights count where asked.
    """

    def weight(suspect: Suspect) -> float:
        log_evidence, _ = _of_lots(suspect, evidence, seed, _ROUGH)
        return log_evidence + (math.log(suspect.prior) if by_prior else 0.0)

    if not rivals:
        return ()
    best = max(weight(each) for each in named)
    return tuple(each for each in rivals if weight(each) > best - _ROUGHLY_NEAR)


def _of_lots(
    suspect: Suspect, evidence: Evidence, seed: int, size: tuple[int, int]
) -> tuple[float, float]:
    """Return log evidence and its standard error from lots drawn by the suspect's laws."""
    rng = named_rng(seed, f"{size[0]} lots of {suspect.name}")
    return DrawnLots(SuspectModel(suspect, evidence, rng), rng, *size).log_evidence()


@dataclass(frozen=True, slots=True)
class Left:
    """What was found of the causes left out, and the particles of those that fit as well."""

    other: OtherCause
    pools: tuple[Pool, ...]


def weigh_others(
    unnamed: Sequence[Suspect],
    any_cause: Suspect | None,
    best: float,
    designed: float,
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
    designed : float
        That of the joint as designed: an unnamed suspect that fits hardly better explains nothing.
    evidence : Evidence
        What was found.
    seed, particles : int
        As for `infer`.
    """
    weighed = [(each, *_evidence_of(each, evidence, seed, particles)) for each in unnamed]
    least = max(best - _NEAR, designed + MORE_THAN_DESIGNED)
    near = sorted((each for each in weighed if each[1] > least), key=lambda each: -each[1])
    told = []
    for suspect, log_evidence, error in near[:_MOST_TOLD]:
        rng = named_rng(seed, f"check of {suspect.name}")
        check = check_fit(SuspectModel(suspect, evidence, rng), rng)
        told.append(Unnamed(suspect, log_evidence - best, error, check))
    factor, factor_error = None, 0.0
    if any_cause is not None:
        log_evidence, factor_error = _evidence_of(any_cause, evidence, seed, particles)
        factor = log_evidence - best
    other = OtherCause(factor, factor_error, tuple(told))
    return Left(
        other,
        tuple(
            pooled(_runs(each.suspect, evidence, seed, particles), seed) for each in other.as_well
        ),
    )


def _evidence_of(
    suspect: Suspect, evidence: Evidence, seed: int, particles: int
) -> tuple[float, float]:
    """Return the log evidence of a suspect, in the measure of particles, and its error."""
    mean, error = _of_lots(suspect, evidence, seed, _CLOSER)
    if error <= _MOST_ERROR:
        return mean + log_largest(evidence.findings), error
    logs: Array = np.array(
        [run.posterior.log_evidence for run in _runs(suspect, evidence, seed, particles)]
    )
    mean = float(logsumexp(logs) - np.log(_RUNS))
    relative = np.exp(logs - mean) if np.isfinite(mean) else np.zeros(_RUNS)
    return mean, float(relative.std(ddof=1)) / math.sqrt(_RUNS)


def _runs(suspect: Suspect, evidence: Evidence, seed: int, particles: int) -> list[Run]:
    return [short_run(suspect, evidence, seed, k, particles) for k in range(_RUNS)]
