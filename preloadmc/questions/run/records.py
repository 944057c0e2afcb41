"""What a run finds."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.estimates.moments import Quantile
from preloadmc.judgement.bands import Bands
from preloadmc.judgement.edges import Edge, Pulled
from preloadmc.judgement.estimate import OutcomeEstimate
from preloadmc.judgement.next_tests import NextTests
from preloadmc.judgement.verdicts import Judged, Judgement
from preloadmc.questions.bounds import SampledBounds
from preloadmc.questions.check import CheckResult
from preloadmc.questions.control import ControlResult
from preloadmc.questions.derive import Derivation
from preloadmc.questions.rank import RankResult
from preloadmc.questions.run.budget import LossBudget
from preloadmc.questions.run.fatigue import FatigueByPreload
from preloadmc.questions.run.life import LifeResult
from preloadmc.questions.run.whole_joint import JointResult
from preloadmc.results import Result
from preloadmc.samples import Samples
from preloadmc.units import Array


@dataclass(frozen=True, slots=True)
class Stage:
    """Preload at one stage of life: moments of all samples, quantiles of the kept ones; N."""

    name: str
    mean: float
    sd: float
    quantiles: tuple[Quantile, ...]

    def quantile(self, p: float) -> float:
        """Return one of the quantiles [N]."""
        return next(q.value for q in self.quantiles if q.p == p)


@dataclass(frozen=True, slots=True)
class Ladder:
    """All limits of a case: those that a preload reaches, from low to high, and the ``others``.

    Each edge is that of the state that governs. Among the others are the limits that ask for no
    preload at all, as where no load acts.
    """

    edges: tuple[Edge, ...]
    others: tuple[Judged, ...]


@dataclass(frozen=True, slots=True)
class RunResult(Result):
    """Everything a run found.

    ``judgement`` holds the verdict on both sides of the window and on every limit. ``loss_budget``
    says where preload goes. ``capability`` is the least mean margin over three standard deviations
    of the limits of each side, "under" and "over": the one-sided capability of the window.
    ``window`` holds the strictest limits at each stage of life, ``ladder`` every limit at the
    preload that reaches it. ``pulled`` is the pump force of a tensioner, with its limits.
    ``ranking`` is None unless asked for, and where the residual preload does not scatter;
    ``control`` where nothing scatters. ``bands`` and ``residual_given`` are None where tests stand
    behind no law; the latter is the residual preload [N] (draws, n) of the same fasteners given
    each of some draws of what is not known. ``tests_worth_doing`` says which tests are worth doing;
    ``group`` is what was found of all fasteners together, None of one alone; ``life`` what was
    found over its service, None where no time of it is stated.
    """

    checked: CheckResult
    seed: int
    asked_samples: int | None
    asked_precision: float | None
    asked_method: str | None
    asked_until: float | None
    samples: Samples
    judgement: Judgement
    estimates: dict[str, OutcomeEstimate]
    preload: tuple[Stage, ...]
    loss_budget: LossBudget
    fatigue_by_preload: FatigueByPreload | None
    capability: dict[str, float]
    window: tuple[Edge, ...]
    pulled: Pulled | None
    ladder: Ladder
    derivation: Derivation
    deterministic: SampledBounds
    ranking: RankResult | None
    control: ControlResult | None
    bands: Bands | None
    residual_given: Array | None
    tests_worth_doing: tuple[NextTests, ...]
    group: JointResult | None
    life: LifeResult | None
    answer: tuple[str, str, str]
    warnings: tuple[str, ...]

    @property
    def case(self) -> Case:
        """Return the case that was run."""
        return self.checked.case

    @property
    def model_calls(self) -> int:
        """Return the model calls behind the outcomes: plain samples, estimates and checks."""
        return self.samples.n + sum(each.model_calls for each in self.estimates.values())

    @property
    def outcomes(self) -> tuple[Judged, Judged, Judged]:
        """Return too little preload, too much, and either."""
        return self.judgement.outcomes

    @property
    def limits(self) -> tuple[Judged, ...]:
        """Return the limits that are judged, those of the window first."""
        return self.judgement.limits

    def outcome(self, name: str) -> Judged:
        """Return "under_preload", "over_preload" or "outside_window"."""
        return next(outcome for outcome in self.outcomes if outcome.name == name)
