"""What a number of tests tells of a law: where its location and scale may lie.

Every value is ``location + scale w`` with w of the standard law.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from numpy.random import Generator

from preloadmc.units import Array

FEWEST_TESTS = 3
"""With two tests the law of the next value has no mean and hardly a scale."""


class Knowledge(ABC):
    """What is known of location and scale of a law from its tests."""

    __slots__ = ()

    if TYPE_CHECKING:

        @property
        def tests(self) -> int:
            """Number of tests."""

    columns: ClassVar[int] = 2
    """Standard normal numbers that a draw of the parameters takes; the first is of the location."""

    @abstractmethod
    def parameters(self, e: Array) -> tuple[Array, Array]:
        """Return location and scale (n,) at standard normal numbers e (n, columns)."""

    @abstractmethod
    def standard(self, z: Array) -> Array:
        """Return the value of the standard law at each standard normal number."""

    @abstractmethod
    def normal(self, w: Array) -> Array:
        """Return the standard normal number of each value of the standard law."""

    @abstractmethod
    def shares(self, x: Array) -> tuple[Array, Array]:
        """Return the probability that the next value is below, and above, each x (n,)."""

    @abstractmethod
    def density(self, x: Array) -> Array:
        """Return the probability density of the next value at each x (n,)."""

    @abstractmethod
    def unit(self) -> tuple[float, float]:
        """Return a location and a scale that values are counted in, such as mean and s.d."""

    @property
    @abstractmethod
    def common_share(self) -> float:
        """Share of the variance of the next values that all have in common: the location's."""

    @abstractmethod
    def moved(self, factor: float, offset: float) -> Knowledge:
        """Return what is known of ``factor`` times the quantity plus ``offset``."""

    @abstractmethod
    def spread(self, factor: float) -> Knowledge:
        """Return what the same number of tests would tell of a scatter ``factor`` times as wide."""

    @abstractmethod
    def with_tests(self, tests: int) -> Knowledge:
        """Return what so many tests would tell that agree with those made."""

    def to_come(
        self, more: Sequence[int], outcomes: int, rng: Generator
    ) -> dict[int, Sequence[Knowledge]]:
        """Return what would be known after further tests, by their number: outcomes of each.

        Where outcomes cannot be drawn, tests that agree with those made stand in.
        """
        return {count: [self.with_tests(self.tests + count)] for count in more}


def check_tests(tests: int) -> None:
    """Raise ValueError where there are too few tests to tell a scatter."""
    if tests < FEWEST_TESTS:
        raise ValueError(f"{tests} tests: at least {FEWEST_TESTS} are needed to tell a scatter")
