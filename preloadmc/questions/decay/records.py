"""What is asked of records of vibration tests, and what is found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from preloadmc.case_file import RecordFile
from preloadmc.chance.censored_lifetimes import LifetimeFit
from preloadmc.chance.change_point import ChangePoint
from preloadmc.chance.two_means import MeanDifference
from preloadmc.questions.decay.rating import Rating, Threshold
from preloadmc.questions.decay.vibration_record import VibrationRecord
from preloadmc.results import Result

CONTENT, CONFIDENCE = 0.99, 0.95
# The least share that the open standard asks for after its cycles, and the usual --remainder.
REMAINDER = 0.8
# Shares of all that have fallen below, of which a lifetime is told.
LIFE_SHARES = (0.1, 0.5)


@dataclass(frozen=True, slots=True)
class DecayQuestion:
    """What is asked of the records.

    ``at`` are load cycles, none for the usual ones; ``remainder`` is the share of preload that ends
    a lifetime, ``law`` its law, or None for the likelier one. ``thresholds`` are typed ones, as
    given. ``where`` holds words by column. ``content`` is the share of all that a tolerance limit
    holds, with ``confidence``.
    """

    at: tuple[float, ...] = ()
    remainder: float = REMAINDER
    law: str | None = None
    thresholds: tuple[str, ...] = ()
    where: Mapping[str, str] = field(default_factory=dict)
    content: float = CONTENT
    confidence: float = CONFIDENCE


@dataclass(frozen=True, slots=True)
class RemainingPreload:
    """Share of the initial preload left after some cycles, across the tests of one element.

    ``shares`` has that of each of the ``n`` tests which reach the cycles, by its name; ``sd`` is
    None for one test. ``ended_before`` are the tests that were stopped earlier with preload left.
    """

    cycles: float
    shares: Mapping[str, float]
    ended_before: tuple[str, ...]

    @property
    def n(self) -> int:
        """Number of tests."""
        return len(self.shares)

    @property
    def mean(self) -> float:
        """Mean share."""
        return float(np.mean(list(self.shares.values())))

    @property
    def sd(self) -> float | None:
        """Standard deviation across the tests; None for one test."""
        return float(np.std(list(self.shares.values()), ddof=1)) if self.n > 1 else None


@dataclass(frozen=True, slots=True)
class RemainingLimit:
    """Remaining preload with the limit that a share of all keeps at least.

    ``limit`` is the one-sided tolerance limit by a normal law, not below 0, None for one test;
    ``limit_by_count`` holds whatever the law, None where that takes more tests, which are
    ``tests_by_count``. ``mean_low`` and ``mean_high`` are the ends of the interval of the mean.
    """

    remaining: RemainingPreload
    limit: float | None
    limit_by_count: float | None
    tests_by_count: int
    mean_low: float | None
    mean_high: float | None


@dataclass(frozen=True, slots=True)
class LifeQuantile:
    """Cycles by which a ``share`` of all have fallen below the remainder, with the interval."""

    share: float
    cycles: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, eq=False)
class ElementLifetime:
    """Cycles to the remainder as a lifetime.

    ``cycles`` has those of each test by its name, and whether it fell below (else it is counted as
    censored). ``laws`` are those that could be fitted, the likelier first; ``chosen`` is None where
    fewer than two tests fell below. ``by_count`` is the largest share of all that falls below
    within ``counted_at`` cycles, with the confidence and whatever the law.
    """

    cycles: Mapping[str, tuple[float, bool]]
    laws: tuple[LifetimeFit, ...]
    chosen: LifetimeFit | None
    quantiles: tuple[LifeQuantile, ...]
    counted_at: float
    by_count: float

    @property
    def fell(self) -> int:
        """Number of tests that fell below the remainder."""
        return sum(fell for _, fell in self.cycles.values())


@dataclass(frozen=True, slots=True)
class TestPhases:
    """Settling without rotation, then rotation, in one test with recorded rotation.

    ``change`` is None where no rotation was found; ``share_at_change`` is the preload left there.
    """

    __test__ = False  # no test case, whatever a test runner thinks of its name

    test: str
    change: ChangePoint | None
    share_at_change: float | None
    share_at_end: float


@dataclass(frozen=True, slots=True, eq=False)
class ElementDecay:
    """What the tests of one securing element say.

    ``remaining`` has a row for each of the asked cycles that a test reaches, ``phases`` one for
    each test with rotation, ``ratings`` one for each threshold that can be looked at.
    """

    element: str
    tests: tuple[VibrationRecord, ...]
    remaining: tuple[RemainingLimit, ...]
    lifetime: ElementLifetime
    phases: tuple[TestPhases, ...]
    ratings: tuple[Rating, ...]

    @property
    def name(self) -> str:
        """Return the element, or words for tests that state none."""
        return self.element or "tested element"

    def remaining_at(self, cycles: float) -> RemainingPreload:
        """Return the share of the initial preload left after some load cycles.

        Parameters
        ----------
        cycles : float
            Load cycles, 0 or above.

        Returns
        -------
        RemainingPreload
            With mean, s.d. and number of tests.

        Raises
        ------
        ValueError
            If no test reaches that many cycles.
        """
        return remaining_of(self.element, self.tests, cycles)


def remaining_of(
    element: str, tests: tuple[VibrationRecord, ...], cycles: float
) -> RemainingPreload:
    """Return what the tests of an element keep; ValueError where none reaches the cycles."""
    found = {each.test: each.share_at(cycles) for each in tests}
    shares = {test: share for test, share in found.items() if share is not None}
    if not shares:
        raise ValueError(f"no test of {element or 'the records'} reaches {cycles:.0f} cycles")
    return RemainingPreload(cycles, shares, tuple(t for t, share in found.items() if share is None))


@dataclass(frozen=True, slots=True)
class ElementDifference:
    """What a second element keeps more than a first after some cycles, as a share."""

    first: str
    second: str
    cycles: float
    difference: MeanDifference


@dataclass(frozen=True, slots=True, eq=False)
class DecayResult(Result):
    """What records of vibration tests say of each securing element.

    ``at`` are the cycles looked at; ``holds_for`` says in words for what the tests hold.
    """

    sources: tuple[RecordFile, ...]
    question: DecayQuestion
    at: tuple[float, ...]
    elements: tuple[ElementDecay, ...]
    differences: tuple[ElementDifference, ...]
    thresholds: tuple[Threshold, ...]
    holds_for: str
    answer: tuple[str, str, str]
    warnings: tuple[str, ...]

    @property
    def files(self) -> dict[str, str]:
        """Return the text of each file that was read, by the path of its copy in a report."""
        return {name: text for file in self.sources for name, text in file.files.items()}
