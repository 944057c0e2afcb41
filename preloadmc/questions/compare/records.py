"""What a comparison finds: the alternatives, their costs, and which to choose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.estimates.probability import Difference, Probability
from preloadmc.judgement.edges import Edge
from preloadmc.judgement.outcomes import Outcome
from preloadmc.questions.control import ControlResult
from preloadmc.units import Array


@dataclass(frozen=True, slots=True)
class Amount:
    """A cost with its interval, in the currency of the case."""

    value: float
    low: float
    high: float

    @property
    def resolved(self) -> bool:
        """Return whether the interval keeps clear of zero."""
        return self.low > 0.0 or self.high < 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Alternative:
    """One alternative: its outcomes, what sets it apart from the first, and its preload.

    ``outcomes`` are too little, too much, either. ``securing`` holds the probability of slip of
    the parts, loosening by that slip and spontaneous back-off, as far as they are judged.
    ``differences`` to the first and their ``narrowing`` (how many times less they scatter than
    between separate draws) go by the outcome's name, and are empty for the first itself.
    ``dominated_by`` names the alternatives that are as good in every respect and better in one.
    ``path`` holds the preload [N] of the first joints by stage and "residual", ``window`` the
    strictest limits at each stage.
    """

    case: Case
    outcomes: tuple[Outcome, ...]
    securing: Mapping[str, Probability]
    differences: Mapping[str, Difference]
    narrowing: Mapping[str, float]
    expected_cost: Amount | None
    cost_difference: Amount | None
    dominated_by: tuple[str, ...]
    path: Mapping[str, Array]
    window: tuple[Edge, ...]

    @property
    def name(self) -> str:
        """Return the alternative's name."""
        return self.case.name

    def outcome(self, name: str) -> Outcome:
        """Return "under_preload", "over_preload" or "outside_window"."""
        return next(outcome for outcome in self.outcomes if outcome.name == name)

    @property
    def verdict(self) -> str:
        """Return the worse of the verdicts on both sides of the window."""
        verdicts = {outcome.verdict for outcome in self.outcomes[:2]}
        return next(
            verdict
            for verdict in ("misses", "not resolved", "meets", "no target")
            if verdict in verdicts
        )


@dataclass(frozen=True, slots=True, eq=False)
class CompareResult:
    """The alternatives of a case, the first of which is the case as it stands.

    ``best`` is the place of the alternative to choose, ``alike`` the places of those that the
    samples do not tell from it. ``controls`` holds what control of each source of scatter is worth
    for the first and for the best, by name. ``z`` and ``columns`` are the first joints.
    """

    case: Case
    seed: int
    precision: float
    alternatives: tuple[Alternative, ...]
    best: int
    alike: tuple[int, ...]
    controls: Mapping[str, ControlResult]
    columns: tuple[str, ...]
    z: Array
    samples: int
    model_calls: int
    answer: tuple[str, str, str]

    @property
    def first(self) -> Alternative:
        """Return the case as it stands."""
        return self.alternatives[0]

    @property
    def chosen(self) -> Alternative:
        """Return the best alternative."""
        return self.alternatives[self.best]
