"""Causes that nobody named: which would fit too, and how well the best named could be beaten."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from preloadmc.case import Suspect
from preloadmc.chance.streams import named_rng
from preloadmc.estimates.model_odds import mean_evidence
from preloadmc.evidence import Evidence
from preloadmc.questions.infer.drawn_lots import DrawnLots
from preloadmc.questions.infer.fit_check import FitCheck, check_fit
from preloadmc.questions.infer.likelihood import SuspectModel, log_largest
from preloadmc.questions.infer.many_fasteners import ManyFasteners
from preloadmc.questions.infer.particles import Pool, Run, pooled
from preloadmc.questions.infer.records import OtherCause, Unnamed
from preloadmc.questions.infer.weighing import short_run
from preloadmc.units import Array

# Lots and fasteners of a rough look, and how far in log evidence a suspect may lie behind there:
# rough is too low by a few where the findings say much.
_ROUGH = (128, 64)
_ROUGHLY_NEAR = 10.0
# Where lots would be too rough, one short run of so many particles, a quarter of them.
_FEW_PARTICLES = 256
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


class RoughLook:
    """A first look at rivals of the suspects named, by lots drawn from the laws of each."""

    def __init__(self, named: Sequence[Suspect], evidence: Evidence, seed: int) -> None:
        self.named = named
        self.evidence = evidence
        self.seed = seed
        self._logs_of_named: list[float] | None = None

    def near(self, rivals: Sequence[Suspect], *, by_prior: bool) -> tuple[Suspect, ...]:
        """Return the rivals that are not far behind the best named; priors count where asked."""
        if not rivals:
            return ()
        if self._logs_of_named is None:
            self._logs_of_named = [self._log_evidence(each) for each in self.named]

        def weight(suspect: Suspect, log_evidence: float) -> float:
            return log_evidence + (math.log(suspect.prior) if by_prior else 0.0)

        best = max(map(weight, self.named, self._logs_of_named))
        return tuple(
            each for each in rivals if weight(each, self._log_evidence(each)) > best - _ROUGHLY_NEAR
        )

    def _log_evidence(self, suspect: Suspect) -> float:
        if _is_of_many(suspect, self.evidence, self.seed):
            run = short_run(suspect, self.evidence, self.seed, 0, _FEW_PARTICLES)
            return run.posterior.log_evidence
        return _of_lots(suspect, self.evidence, self.seed, _ROUGH)[0]


def _of_lots(
    suspect: Suspect, evidence: Evidence, seed: int, size: tuple[int, int]
) -> tuple[float, float]:
    """Return log evidence and its standard error from lots drawn by the suspect's laws."""
    rng = named_rng(seed, f"{size[0]} lots of {suspect.name}")
    return DrawnLots(SuspectModel(suspect, evidence, rng), rng, *size).log_evidence()


def _is_of_many(suspect: Suspect, evidence: Evidence, seed: int) -> bool:
    """Return whether particles are quick, and lots drawn from the laws too rough."""
    rng = named_rng(seed, f"many of {suspect.name}")
    return bool(ManyFasteners(SuspectModel(suspect, evidence, rng), rng).names)


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

    def weighed(suspect: Suspect) -> _Weighed:
        return _weighed(suspect, evidence, seed, particles)

    least = max(best - _NEAR, designed + MORE_THAN_DESIGNED)
    near = sorted(
        (each for each in map(weighed, unnamed) if each.log_evidence > least),
        key=lambda each: -each.log_evidence,
    )[:_MOST_TOLD]
    told = [
        Unnamed(each.suspect, each.log_evidence - best, each.error, _checked(each, evidence, seed))
        for each in near
    ]
    widest = None if any_cause is None else weighed(any_cause)
    other = OtherCause(
        None if widest is None else widest.log_evidence - best,
        0.0 if widest is None else widest.error,
        tuple(told),
    )
    pools = tuple(
        pooled(each.runs or _runs(each.suspect, evidence, seed, particles), seed)
        for each, unnamed_one in zip(near, told, strict=True)
        if unnamed_one.fits_as_well
    )
    return Left(other, pools)


@dataclass(frozen=True, slots=True)
class _Weighed:
    """A suspect's log evidence in the measure of particles, its error, and the runs if made."""

    suspect: Suspect
    log_evidence: float
    error: float
    runs: list[Run]


def _weighed(suspect: Suspect, evidence: Evidence, seed: int, particles: int) -> _Weighed:
    mean, error = -math.inf, math.inf
    if not _is_of_many(suspect, evidence, seed):
        mean, error = _of_lots(suspect, evidence, seed, _CLOSER)
    if error <= _MOST_ERROR:
        return _Weighed(suspect, mean + sum(map(log_largest, evidence.findings)), error, [])
    runs = _runs(suspect, evidence, seed, particles)
    logs: Array = np.array([[run.posterior.log_evidence for run in runs]])
    means, errors = mean_evidence(logs)
    return _Weighed(suspect, float(means[0]), float(errors[0]), runs)


def _checked(weighed: _Weighed, evidence: Evidence, seed: int) -> FitCheck:
    rng = named_rng(seed, f"check of {weighed.suspect.name}")
    return check_fit(SuspectModel(weighed.suspect, evidence, rng), rng)


def _runs(suspect: Suspect, evidence: Evidence, seed: int, particles: int) -> list[Run]:
    return [short_run(suspect, evidence, seed, k, particles) for k in range(_RUNS)]
