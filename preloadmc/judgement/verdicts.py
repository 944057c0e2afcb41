"""The one judgement: every limit with its probability, what is allowed of it, and the verdict."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from preloadmc.estimates.band import Band
from preloadmc.estimates.probability import Probability
from preloadmc.judgement.acceptance import Screening
from preloadmc.judgement.wording import (
    estimate_words,
    range_words,
    share_text,
    upper_words,
)
from preloadmc.limits import BREAKING, UNDER, Limit
from preloadmc.told import and_words

MEETS, MISSES = "meets", "misses"
NOT_RESOLVED, NOT_JUDGED = "not resolved", "not judged"
UNSURE_STRENGTH = "judged with a strength that may be too high"
# Limits that are not judged: as many are named in a line of an answer.
NAMED_IN_A_LINE = 3
WORTH_SAYING = 1e-3
"""Probability from which an answer speaks of what no allowed probability is stated of."""
LABELS = {
    "under_preload": "under-preload",
    "over_preload": "over-preload",
    "outside_window": "outside the window",
}
JOINT_LABELS = {
    "any_under": "any under-preload",
    "any_over": "any over-preload",
    "any_outside": "any outside the window",
    "fewer_than_k": "too few that hold",
    "total_clamp": "total clamp force",
    "least_clamp": "least clamp force",
    "first_slip": "first slip",
    "slip_capacity": "slip of the whole joint",
}
_SUBJECTS = {
    "under_preload": "too little preload",
    "over_preload": "too much preload",
    "outside_window": "a preload outside the window",
    "any_under": "too little preload in any fastener",
    "any_over": "too much preload in any fastener",
    "any_outside": "a preload outside the window in any fastener",
    "fewer_than_k": "too few fasteners with enough preload",
    "total_clamp": "too small a total clamp force",
    "least_clamp": "too small a clamp force at any fastener",
    "first_slip": "slip at any fastener",
    "slip_capacity": "slip of the whole joint",
}


@dataclass(frozen=True, slots=True)
class Judged:
    """A side of the preload window, or one limit over all its states, as it is judged.

    ``probability`` is that of a miss in any state, ``plain`` what plain samples alone say of it.
    ``allowed`` is the allowed probability, None where none is stated. ``limit`` is the limit in the
    state that governs, None for the sides of the window; ``median_margin_share`` the median margin
    there over what is allowed or can be carried, infinite where nothing is. ``band`` says how far
    the probability may lie off for want of tests; None where tests stand behind no law, and of a
    limit of the window whose sides meet with theirs.
    """

    name: str
    sides: tuple[str, ...]
    probability: Probability
    plain: Probability
    allowed: float | None
    limit: Limit | None = None
    median_margin_share: float = math.inf
    band: Band | None = None

    @property
    def label(self) -> str:
        """Return the words of the trade for it."""
        return LABELS.get(self.name) or JOINT_LABELS.get(self.name, self.name)

    @property
    def subject(self) -> str:
        """Return it as the subject of a sentence: "too little preload", or the limit's name."""
        return _SUBJECTS.get(self.name, self.name)

    @property
    def governing_state(self) -> str:
        """Return the state that governs; empty for a side of the window."""
        return "" if self.limit is None else self.limit.state

    @property
    def is_limit(self) -> bool:
        """Return whether it is a limit, not a side of the window made of several."""
        return self.name not in LABELS and not self.is_of_joint

    @property
    def is_of_joint(self) -> bool:
        """Return whether it is an event of all fasteners of a joint."""
        return self.name in JOINT_LABELS

    @property
    def is_beside(self) -> bool:
        """Return whether it is a limit beside the preload window."""
        return self.is_limit and not self.sides

    @property
    def verdict(self) -> str:
        """Return "meets", "misses", "not resolved" or "not judged".

        It meets where the upper limit of its probability is within what is allowed, and misses
        where the lower limit is above. An estimate that is not reliable resolves nothing; what
        plain samples say for themselves still does. Where laws are known from tests only, both
        limits are those of its band too.
        """
        if self.allowed is None:
            return NOT_JUDGED
        if self.upper <= self.allowed:
            return MEETS
        low = self.known.low if self.band is None else min(self.known.low, self.band.low)
        return MISSES if low > self.allowed else NOT_RESOLVED

    @property
    def upper(self) -> float:
        """Return the upper limit that it is judged by: of sampling and, with tests, of its band."""
        high = self.known.high
        return high if self.band is None else max(high, self.band.upper_high)

    @property
    def wants_tests(self) -> bool:
        """Return whether more tests alone would resolve it: sampling has."""
        if self.band is None or self.verdict != NOT_RESOLVED or self.allowed is None:
            return False
        return not self.known.low <= self.allowed < self.known.high

    @property
    def known(self) -> Probability:
        """Return the estimate, or what plain samples say where that is not reliable."""
        return self.probability if self.probability.reliable else self.plain

    @property
    def is_limited(self) -> bool:
        """Return whether a tabulated law says no more than that it is below its upper limit."""
        return "a table of" in self.probability.note and self.probability.low == 0.0

    @property
    def is_worth_saying(self) -> bool:
        """Return whether an answer speaks of a limit beside the window.

        That is where it is not met or, where nothing is allowed of it, where it is missed often.
        """
        if self.verdict == NOT_JUDGED:
            return self.probability.reliable and self.probability.value > WORTH_SAYING
        return self.verdict != MEETS

    @property
    def verdict_words(self) -> str:
        """Return the verdict with what is allowed: "meets 0.1 %"."""
        if self.allowed is None:
            return NOT_JUDGED
        return f"{self.verdict} {100 * self.allowed:g} %"

    @property
    def words(self) -> str:
        """Return the probability as an answer tells it: one number, without its interval.

        A doubtful one is told as what is known of it.
        """
        if not self.probability.reliable:
            known = range_words(self.known.low, self.known.high)
            return known if self.verdict in (MEETS, MISSES) else f"not resolved: {known}"
        if self.is_limited:
            return estimate_words(replace(self.probability, value=0.0, bound="upper"))
        return estimate_words(self.probability)

    @property
    def limit_words(self) -> str:
        """Return the upper limit of the probability, in brackets; empty where that is told already.

        It is that of sampling or, where laws come from tests, of what those leave open.
        """
        if not self.probability.reliable:
            return ""
        if self.band is not None:
            return f" (with confidence below {share_text(self.sure)})"
        if self.is_limited or self.probability.bound is not None or self.probability.value == 1.0:
            return ""
        high = upper_words(self.probability)
        return f" (upper limit {high})" if high else ""

    @property
    def confidence_words(self) -> str:
        """Return the upper limit for want of tests: "with 95 % confidence below 74 per million".

        Where what is predicted is more than the limit of its band, since a few states of what is
        not known make most of it, that is said in its place.
        """
        assert self.band is not None, "asked for where there is one"
        return f"with {100 * self.band.confidence:g} % confidence below {share_text(self.sure)}"

    @property
    def sure(self) -> float:
        """Return the limit told as sure: that of the band, and no less than what is predicted."""
        assert self.band is not None, "asked for where there is one"
        return max(self.band.upper, self.probability.high if self.probability.reliable else 0.0)

    @property
    def wants_more(self) -> bool | None:
        """Return whether a higher setting helps it: True, False, or None where neither does.

        A fastener that breaks in tightening holds no preload: a lower setting helps.
        """
        if self.limit is None:
            return UNDER in self.sides
        kind = self.limit.kind
        if kind is BREAKING:
            return False
        return kind.rises_with_preload


@dataclass(frozen=True, slots=True)
class Judgement:
    """Every limit of a case, at one setting, as it is judged.

    ``sides`` are too little and too much preload, ``outside`` either; ``limits`` all limits in the
    order of tables, those of the window first; ``unknown`` those that the case does not say enough
    of: what is missing, by their name. All of it holds for every fastener as tightened;
    ``screening`` is what the check at the tool makes of them, None where there is none.
    ``of_joint`` are the events of a joint of several fasteners, empty where the case is of one.
    ``unsure_strength`` are limits judged with a strength that is not known to hold there: with
    which and why, by their name.
    """

    sides: tuple[Judged, Judged]
    outside: Judged
    limits: tuple[Judged, ...]
    unknown: Mapping[str, str]
    screening: Screening | None = None
    of_joint: tuple[Judged, ...] = ()
    unsure_strength: Mapping[str, str] = field(default_factory=dict)

    def __iter__(self) -> Iterator[Judged]:
        """Yield what is held against an allowed probability: of the joint, sides, limits beside."""
        yield from self.of_joint
        yield from self.sides
        yield from self.beside

    @property
    def under(self) -> Judged:
        """Return too little preload."""
        return self.sides[0]

    @property
    def over(self) -> Judged:
        """Return too much preload."""
        return self.sides[1]

    @property
    def outcomes(self) -> tuple[Judged, Judged, Judged]:
        """Return too little, too much, and either."""
        return (*self.sides, self.outside)

    @property
    def beside(self) -> tuple[Judged, ...]:
        """Return the limits beside the preload window."""
        return tuple(each for each in self.limits if each.is_beside)

    def with_verdict(self, verdict: str) -> tuple[Judged, ...]:
        """Return what is held against an allowed probability and has that verdict."""
        return tuple(each for each in self if each.verdict == verdict)

    @property
    def verdict(self) -> str:
        """Return the worst verdict: a side that nothing is allowed of is not met either.

        Nor is a joint of which nothing is allowed.
        """
        of_joint = {each.verdict for each in self.of_joint}
        verdicts = {each.verdict for each in self.sides} | {
            each.verdict for each in self.beside if each.verdict != NOT_JUDGED
        }
        verdicts |= of_joint if of_joint == {NOT_JUDGED} else of_joint - {NOT_JUDGED}
        return next(each for each in (MISSES, NOT_RESOLVED, NOT_JUDGED, MEETS) if each in verdicts)

    def named(self, name: str) -> Judged:
        """Return an outcome or a limit by its name; KeyError if there is none."""
        for each in (*self.outcomes, *self.limits, *self.of_joint):
            if each.name == name:
                return each
        raise KeyError(name)

    def find(self, name: str) -> Judged | None:
        """Return an outcome or a limit by its name; None if there is none."""
        try:
            return self.named(name)
        except KeyError:
            return None

    def governing(self, side: Judged) -> Judged:
        """Return the limit that makes most of a side of the window; a limit is its own.

        That is the one missed most or, where none is, the one that comes nearest.
        """
        if side.is_limit or side in self.of_joint:
            return side
        (name,) = side.sides
        mine = [
            each
            for each in self.limits
            if name in each.sides and each.limit is not None and each.limit.kind is not BREAKING
        ]
        return max(mine, key=lambda each: (each.probability.value, -each.median_margin_share))

    @property
    def upper_limit(self) -> str:
        """Return what too much preload is above: the limit that is missed most or comes nearest."""
        governing = self.governing(self.over)
        assert governing.limit is not None, "limits of the window are judged"
        kind = governing.limit.kind
        if not governing.name.startswith(kind.name):
            return governing.name
        # What makes the name more exact than that of its kind stays with it.
        return (kind.bounds or kind.name) + governing.name.removeprefix(kind.name)

    @property
    def breaking(self) -> float:
        """Return the probability that the fastener breaks in tightening; 0 where it cannot."""
        return max(
            (
                each.probability.value
                for each in self.limits
                if each.limit is not None and each.limit.kind is BREAKING
            ),
            default=0.0,
        )


def state_words(judged: Judgement) -> str:
    """Return what to state where a side of the window is held to nothing."""
    keys = [
        key
        for side, key in zip(judged.sides, ("allowed_under", "allowed_over"), strict=True)
        if side.allowed is None
    ]
    if not keys:
        return (
            "state what is allowed of the joint in [group.allowed], such as any_under and any_over:"
            " without an allowed probability nothing of the joint is met or missed"
        )
    return (
        f"state {and_words(keys)} of [requirement] (1 where it does not matter): without an "
        "allowed probability a side of the window is neither met nor missed"
    )


def unknown_words(judged: Judgement, *, briefly: bool = False) -> str:
    """Return which limits were not judged, or not for sure, in words; empty where all were.

    Where they are told ``briefly`` and are many, some are told by their number.
    """
    parts = []
    for words, found in (
        ("not judged", judged.unknown),
        (UNSURE_STRENGTH, judged.unsure_strength),
    ):
        names = list(found)
        if names:
            parts.append(f"{words}: {and_words(few(names) if briefly else names)}")
    return "; ".join(parts)


def unsure_strength_words(found: Mapping[str, str]) -> list[str]:
    """Return a clause for each limit judged with a strength not known to hold there."""
    return [f"{name} is judged with the strength {words}" for name, words in found.items()]


def few(names: Sequence[str]) -> list[str]:
    """Return names for a line of an answer: of many the first, and how many more there are.

    Examples
    --------
    >>> few(["slip", "yield", "separation"]), few(["slip", "yield", "separation", "stripping"])
    (['slip', 'yield', 'separation'], ['slip', 'yield', '2 more'])
    """
    if len(names) <= NAMED_IN_A_LINE:
        return list(names)
    told = names[: NAMED_IN_A_LINE - 1]
    return [*told, f"{len(names) - len(told)} more"]
