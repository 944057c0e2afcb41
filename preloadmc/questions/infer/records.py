"""What an investigation finds: records."""

from __future__ import annotations

import math
from dataclasses import dataclass

from preloadmc.case import Assumption, Case, Suspect
from preloadmc.case_file import After
from preloadmc.chance.laws import Law
from preloadmc.evidence import Evidence
from preloadmc.questions.infer.fit import FindingFit
from preloadmc.questions.infer.fit_check import FitCheck
from preloadmc.questions.infer.next_measurement import Candidate
from preloadmc.questions.infer.prior_sensitivity import PriorSensitivity
from preloadmc.results import Result

# A suspect that was not named fits as well where the findings hardly speak against it: less than
# R. E. Kass and A. E. Raftery's least odds of 3 (see `estimates.model_odds`).
_AS_WELL = math.log(3.0)


@dataclass(frozen=True, slots=True)
class InputPosterior:
    """An input under one suspect: its law, and 5, 50, 95 % for this lot after the evidence.

    ``common`` is the share of the variance left that the fasteners of the lot have in common.
    """

    name: str
    law: Law
    p05: float
    p50: float
    p95: float
    common: float

    @property
    def after(self) -> After:
        """Return the law beside what the evidence made of it, as the joint as found has it."""
        return After(self.law, self.p05, self.p50, self.p95, self.common)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the evidence makes of one suspect.

    ``probability`` among the suspects named, with the Monte Carlo standard ``error``; ``prior`` as
    a probability; ``log_bayes_factor`` the log Bayes factor against the joint as designed, with its
    standard error. ``effective_sample_size`` is the effective sample size; ``fit`` and ``inputs``
    are empty for those that are not shown in full, ``fit_check`` is then None.
    """

    suspect: Suspect
    prior: float
    probability: float
    error: float
    log_evidence: float
    log_bayes_factor: float
    log_bayes_factor_error: float
    effective_sample_size: float
    fit: tuple[FindingFit, ...]
    fit_check: FitCheck | None
    inputs: tuple[InputPosterior, ...]

    @property
    def explains_the_evidence(self) -> bool:
        """Return whether the suspect is shown in full and makes such findings often enough."""
        return self.fit_check is not None and self.fit_check.explains


@dataclass(frozen=True, slots=True)
class Unnamed:
    """A shipped suspect that nobody named.

    ``log_bayes_factor_against_best_named`` is its log Bayes factor against the best of those named,
    with its standard ``log_bayes_factor_error``; ``fit_check`` tells whether it explains the
    findings.
    """

    suspect: Suspect
    log_bayes_factor_against_best_named: float
    log_bayes_factor_error: float
    fit_check: FitCheck

    @property
    def fits_as_well(self) -> bool:
        """Return whether the findings speak no more against it than against the best named."""
        return self.fit_check.explains and self.log_bayes_factor_against_best_named >= -_AS_WELL


@dataclass(frozen=True, slots=True)
class OtherCause:
    """How well the best suspect named could be beaten by a cause that nobody named.

    ``log_bayes_factor_of_wide_laws`` is the log Bayes factor of laws so wide that few causes lie
    outside against the best suspect named, with its standard ``log_bayes_factor_error``; None where
    no such laws apply. ``unnamed_suspects`` are the shipped suspects that come near, the best
    first.
    """

    log_bayes_factor_of_wide_laws: float | None
    log_bayes_factor_error: float
    unnamed_suspects: tuple[Unnamed, ...]

    @property
    def as_well(self) -> tuple[Unnamed, ...]:
        """Return the unnamed suspects that fit as well as the best named."""
        return tuple(each for each in self.unnamed_suspects if each.fits_as_well)

    @property
    def fits_better_than_all_named(self) -> bool:
        """Return whether laws that explain nearly anything fit better than the best named."""
        return (
            self.log_bayes_factor_of_wide_laws is not None
            and self.log_bayes_factor_of_wide_laws > _AS_WELL
        )


@dataclass(frozen=True, slots=True)
class InferResult(Result):
    """The answer of an investigation; verdicts stand in order of probability."""

    case: Case
    evidence: Evidence
    seed: int
    particles: int
    runs: int
    suspects: tuple[Verdict, ...]
    sensitivity: PriorSensitivity
    other_cause: OtherCause
    next_measurements: tuple[Candidate, ...]
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
        return tuple(verdict for verdict in self.suspects if verdict.fit_check is not None)

    @property
    def is_sure(self) -> bool:
        """Return whether the leader explains the findings and no cause left out does as well."""
        first = self.suspects[0]
        return (
            first.explains_the_evidence
            and not self.other_cause.as_well
            and not self.other_cause.fits_better_than_all_named
        )
