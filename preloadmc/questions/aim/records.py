"""What aiming finds: settings with their probabilities, the interval, what closes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.estimates.outside_shares import ShareCurve
from preloadmc.estimates.probability import Probability
from preloadmc.joint import CHECK
from preloadmc.judgement.edges import Edge
from preloadmc.judgement.estimate import LikeliestMiss
from preloadmc.judgement.verdicts import Judged, Judgement
from preloadmc.over_time import service_of
from preloadmc.questions.aim.allowed_scatter import AllowedScatters
from preloadmc.questions.aim.setting import Setting
from preloadmc.questions.bounds import Bounds
from preloadmc.questions.check import check
from preloadmc.results import Result
from preloadmc.units import Array


@dataclass(frozen=True, slots=True)
class SettingPoint:
    """A setting, in its internal unit, and how likely each side is missed there.

    ``others`` holds by name what else sets an end of the settings, as far as it is known there.
    """

    setting: float
    under_preload: Probability
    over_preload: Probability
    outside_window: Probability
    others: Mapping[str, Probability]


@dataclass(frozen=True, slots=True)
class JudgedSetting:
    """A setting, in its internal unit, with the verdict on every limit there."""

    setting: float
    judged: Judgement


@dataclass(frozen=True, slots=True)
class Weighting:
    """What a miss of each side of the window and of each limit beside it weighs, and why."""

    weights: Mapping[str, float]
    words: str


@dataclass(frozen=True, slots=True)
class End:
    """Where the settings that meet what is allowed end, or would: at a setting, by some limits.

    ``setting`` is None where not even the last setting searched meets the limits. ``limits`` are
    empty where the search ended and no limit did.
    """

    setting: float | None
    limits: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """Where to aim.

    ``best`` has the least weighted miss: of the settings that meet what is allowed where there are
    any. ``best_regardless_of_allowed`` has the least of all settings. ``interval`` holds the
    settings at which the upper limits of all probabilities are within what is allowed, None where
    there is none. ``low_end`` and ``high_end`` say what closes them from below and from above;
    where no setting meets all limits, how far each way the limits would let it go. ``verdict`` is
    one of `judgement.verdicts`. ``misses`` are settings and weighted misses of the search.
    """

    best: float
    best_regardless_of_allowed: float
    interval: tuple[float, float] | None
    low_end: End
    high_end: End
    verdict: str
    misses: tuple[Array, Array]


@dataclass(frozen=True, slots=True)
class Verification:
    """A setting judged anew, from other random numbers than the search.

    ``by_search`` are the estimates of both sides that the search made; ``agrees`` tells for both
    whether the new estimate does with them; ``likeliest`` are the likeliest ways to miss each side,
    None where none was found.
    """

    seed: int
    by_search: tuple[Probability, Probability]
    judged: Judgement
    agrees: tuple[bool, bool]
    likeliest: tuple[LikeliestMiss | None, LikeliestMiss | None]

    @property
    def confirmed(self) -> bool:
        """Return whether both sides agree and neither estimate is in doubt."""
        return all(self.agrees) and all(side.probability.reliable for side in self.judged.sides)


@dataclass(frozen=True, slots=True, eq=False)
class AimResult(Result):
    """Everything aiming found.

    ``present`` is the case as it stands, judged. ``to_set`` is the setting to recommend,
    ``aim.best`` rounded to what is easy to set; None where no setting meets every limit, or none
    can be told to. ``looked_at`` is the same setting or, where there is none, the best compromise;
    ``used`` is the case at that setting, ``window`` the strictest limits there at each stage,
    ``bounds`` its deterministic check. ``interval_limits`` are both ends of the interval, judged.
    ``table`` are settings of note in their order. ``curve`` hold the share of joints that miss each
    side, and each limit beside the window that bounds the settings. ``room`` is None where not both
    allowed probabilities are stated. ``model_calls`` do not count what was judged anew.
    """

    case: Case
    seed: int
    system: str
    setting: Setting
    weighting: Weighting
    present: JudgedSetting
    best: SettingPoint
    aim: Aim
    to_set: JudgedSetting | None
    looked_at: JudgedSetting
    used: Case
    window: tuple[Edge, ...]
    interval_limits: tuple[JudgedSetting, JudgedSetting] | None
    verification: Verification
    bounds: Bounds
    table: tuple[SettingPoint, ...]
    curve: Mapping[str, ShareCurve]
    room: AllowedScatters | None
    answer: tuple[str, str, str]
    draws: int
    model_calls: int

    @property
    def under(self) -> ShareCurve:
        """Return the share of joints with too little preload over the settings."""
        return self.curve["under_preload"]

    @property
    def over(self) -> ShareCurve:
        """Return the share of joints with too much preload over the settings."""
        return self.curve["over_preload"]

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return what a reader should be warned of, at the setting that the result is about."""
        return (*check(self.used).warnings, *self._of_checks)

    @property
    def _of_checks(self) -> tuple[str, ...]:
        if not any(each.does == CHECK for each in service_of(self.used.joint).actions):
            return ()
        return (
            "For settings, checks in service are taken as read alone: which fasteners they have "
            "retightened depends on the setting in steps.",
        )

    @property
    def other_limits(self) -> tuple[Judged, ...]:
        """Return what sets an end of the settings and is no side of the window."""
        names = dict.fromkeys((*self.aim.low_end.limits, *self.aim.high_end.limits))
        judged = self.looked_at.judged
        return tuple(each for name in names if (each := judged.find(name)) not in judged.sides
                     and each is not None)  # fmt: skip

    @property
    def rises_by_breaking(self) -> bool:
        """Return whether too little grows likelier again at high settings: joints that break."""
        return bool(self.under.value[-1] > 2.0 * self.under.value.min())
