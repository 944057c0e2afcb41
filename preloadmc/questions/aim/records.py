"""What aiming finds: settings with their probabilities, the interval, the verification."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.estimates.outside_shares import ShareCurve
from preloadmc.estimates.probability import Probability
from preloadmc.judgement.estimate import LikeliestMiss
from preloadmc.judgement.outcomes import Outcome
from preloadmc.limits import Limit
from preloadmc.questions.aim.allowed_scatter import AllowedScatters
from preloadmc.questions.aim.setting import Setting
from preloadmc.questions.check import check
from preloadmc.units import Array

MEETS, MISSES, NOT_RESOLVED, NO_TARGET = "meets", "misses", "not resolved", "no target"


@dataclass(frozen=True, slots=True)
class SettingPoint:
    """A setting, in its internal unit, and how likely each outcome is there."""

    setting: float
    under: Probability
    over: Probability
    outside: Probability


@dataclass(frozen=True, slots=True)
class Weighting:
    """What a miss of each side weighs, and why."""

    under: float
    over: float
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """Where to aim.

    ``best`` has the least weighted miss: of the settings that meet what is allowed where there
    are any. ``best_regardless`` has the least of all settings. ``interval`` holds the settings at
    which the upper limits of both probabilities are within what is allowed. ``verdict`` is "meets",
    "misses" where no setting can, "not resolved" or "no target". ``misses`` are settings and
    weighted misses of the curve.
    """

    best: float
    best_regardless: float
    interval: tuple[float, float] | None
    verdict: str
    misses: tuple[Array, Array]


@dataclass(frozen=True, slots=True)
class LimitShare:
    """A limit of the window and the share of joints that miss it at the setting."""

    limit: Limit
    share: float


@dataclass(frozen=True, slots=True)
class Verification:
    """Under- and over-preload at the setting, estimated anew; whether that agrees.

    ``likeliest`` are the likeliest ways to miss each side, None where none was found.
    """

    seed: int
    outcomes: tuple[Outcome, Outcome]
    agrees: tuple[bool, bool]
    likeliest: tuple[LikeliestMiss | None, LikeliestMiss | None]

    @property
    def confirmed(self) -> bool:
        """Return whether both sides agree and neither estimate is in doubt."""
        return all(self.agrees) and all(o.probability.reliable for o in self.outcomes)


@dataclass(frozen=True, slots=True, eq=False)
class AimResult:
    """Everything aiming found.

    ``to_set`` is ``aim.best`` rounded to what is easy to set. ``table`` are settings of note in
    their order, ``limits`` what is missed at ``to_set``, most often first. ``under`` and
    ``over`` are curves over the settings. ``allowed_scatter`` is None where
    not both allowed probabilities are stated. ``model_calls`` do not count the verification.
    """

    case: Case
    seed: int
    system: str
    setting: Setting
    weighting: Weighting
    present: SettingPoint
    best: SettingPoint
    aim: Aim
    to_set: SettingPoint
    verification: Verification
    table: tuple[SettingPoint, ...]
    under: ShareCurve
    over: ShareCurve
    limits: tuple[LimitShare, ...]
    allowed_scatter: AllowedScatters | None
    answer: tuple[str, str, str]
    draws: int
    model_calls: int

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return what a reader should be warned of, of the case and at nominal values."""
        return check(self.case).warnings

    @property
    def rises_by_breaking(self) -> bool:
        """Return whether too little grows likelier again at high settings: joints that break."""
        return bool(self.under.value[-1] > 2.0 * self.under.value.min())
