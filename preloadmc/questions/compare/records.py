"""What a comparison finds: the alternatives, their costs, and which to choose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.estimates.probability import Difference, Probability
from preloadmc.judgement.acceptance import screening_warnings
from preloadmc.judgement.edges import Edge, Pulled
from preloadmc.judgement.estimate import LikeliestMiss
from preloadmc.judgement.headline import telling
from preloadmc.judgement.verdicts import Judgement
from preloadmc.questions.bounds import Bounds
from preloadmc.questions.control import ControlResult
from preloadmc.results import Result
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


@dataclass(frozen=True, slots=True)
class UsedSetting:
    """What an alternative is set to, in the internal unit of the input, and what was typed.

    ``best`` tells that it is the alternative's own best setting, not the one typed.
    """

    input: str
    value: float
    typed: float
    best: bool


@dataclass(frozen=True, slots=True, eq=False)
class Alternative:
    """One alternative: how every limit is judged, what sets it apart from the first, its preload.

    ``securing`` holds the probability of slip of the parts, loosening by that slip and spontaneous
    back-off, as far as they are judged. ``difference_to_first`` to the first and their
    ``narrowing`` (how many times less they scatter than between separate draws) go by the name of
    the outcome, where the draws tell both; they are empty for the first itself. ``dominated_by``
    names the alternatives that are as good in every respect, not dearer, and better in one.
    ``path`` holds the preload [N] of the first joints by stage and "residual", ``window`` the
    strictest limits at each stage; ``pulled`` is the pump force of a tensioner, with its limits.
    """

    case: Case
    setting: UsedSetting
    judged: Judgement
    securing: Mapping[str, Probability]
    difference_to_first: Mapping[str, Difference]
    narrowing: Mapping[str, float]
    expected_cost: Amount | None
    cost_difference_to_first: Amount | None
    dominated_by: tuple[str, ...]
    warnings: tuple[str, ...]
    path: Mapping[str, Array]
    window: tuple[Edge, ...]
    pulled: Pulled | None

    @property
    def name(self) -> str:
        """Return the alternative's name."""
        return self.case.name

    @property
    def verdict(self) -> str:
        """Return the worst verdict of all that is held against an allowed probability."""
        return self.judged.verdict

    @property
    def share_of_allowed(self) -> tuple[float, str]:
        """Return the largest upper limit over what is allowed of it, and of what that is.

        What was never missed counts only where nothing else is known. The share is zero where
        nothing is held against an allowed probability.
        """
        shares = [
            (each.known.high / each.allowed, each.subject)
            for each in telling([each for each in self.judged if each.allowed is not None])
            if each.allowed is not None
        ]
        return max(shares, default=(0.0, ""))


@dataclass(frozen=True, slots=True)
class Choice:
    """Which alternative to choose, by their places.

    ``best`` is None where none meets every limit, or where several do and no costs tell which.
    ``not_told_from_best`` are those that the samples do not tell from the best, ``meeting`` those
    that meet every limit, ``nearest`` the one that comes nearest to it.
    """

    best: int | None
    not_told_from_best: tuple[int, ...]
    meeting: tuple[int, ...]
    nearest: int


@dataclass(frozen=True, slots=True, eq=False)
class CompareResult(Result):
    """The alternatives of a case, the first of which is the case as it stands.

    ``at_best`` tells that every one was to be used at its own best setting. ``control`` holds what
    control of each source of scatter is worth for the first, and for the best or the one nearest to
    meeting every limit, by name; ``likeliest`` the likeliest ways to miss either side with the
    latter, ``bounds`` its deterministic check. ``z`` and ``columns`` are the first joints.
    """

    case: Case
    seed: int
    precision: float
    at_best: bool
    alternatives: tuple[Alternative, ...]
    choice: Choice
    control: Mapping[str, ControlResult]
    likeliest: tuple[LikeliestMiss | None, LikeliestMiss | None]
    bounds: Bounds
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
    def chosen(self) -> Alternative | None:
        """Return the best alternative; None where none is to be chosen."""
        return None if self.choice.best is None else self.alternatives[self.choice.best]

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return what a reader should be warned of; what one alternative adds, with its name."""
        found = dict.fromkeys(self.first.warnings)
        for each in self.alternatives[1:]:
            added = [words for words in each.warnings if words not in found]
            found |= dict.fromkeys(f"{each.name}: {words}" for words in added)
        for each in self.alternatives:
            of = f' with "{each.name}"'
            found |= dict.fromkeys(screening_warnings(each.judged.screening, of))
        return tuple(found)
