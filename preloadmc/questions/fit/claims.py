"""Claims: how many tests show that a share of all values meets a limit, and whether these do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from scipy.special import betaincinv, ndtri

from preloadmc.chance.fitting import OF_LOGARITHMS, OF_SMALLEST
from preloadmc.chance.limits_by_law import share_shown
from preloadmc.chance.tolerance_limits import required_tests, required_tests_by_law
from preloadmc.errors import UsageError
from preloadmc.questions.fit.records import FitQuestion, Measured, ShownClaim
from preloadmc.units import parse_quantity

# Distances of a limit from the mean, in s.d., for which the tests by a normal law are told.
DISTANCES = (2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0)
_MORE_MISSES = 3


@dataclass(frozen=True, slots=True)
class ClaimPlan:
    """How many tests show that a share of all meets a limit, before any test is made.

    ``by_count`` has the tests by the number that may miss, ``by_law`` those by the distance of the
    limit from the mean in s.d. if a normal law holds, None where no number of tests shows it.
    """

    content: float
    confidence: float
    misses: int
    by_count: dict[int, int]
    by_law: dict[float, int | None]

    @property
    def tests(self) -> int:
        """Return the number of tests with the misses that are allowed."""
        return self.by_count[self.misses]

    @property
    def least_distance(self) -> float:
        """Return the distance in s.d. at or below which no number of tests shows the claim."""
        return float(ndtri(self.content))


def plan_claim(content: float, confidence: float, misses: int = 0) -> ClaimPlan:
    """Return how many tests show a claim, whatever the law, and by a normal law.

    Parameters
    ----------
    content : float
        Share of all that meets the limit, from 0.5 to below 1.
    confidence : float
        From 0.5 to below 1.
    misses : int
        Tests that may miss the limit.

    Examples
    --------
    >>> plan_claim(0.95, 0.95).tests
    59
    """
    by_count = {
        count: required_tests(content, confidence, count)
        for count in range(misses, misses + _MORE_MISSES)
    }
    by_law = {
        distance: required_tests_by_law(distance, content, confidence) for distance in DISTANCES
    }
    return ClaimPlan(content, confidence, misses, by_count, by_law)


def shown_claims(
    measured: Measured, kind: str, others: Sequence[str], question: FitQuestion, rng: Generator
) -> tuple[ShownClaim, ...]:
    """Return whether the tests show the claims that are asked about.

    ``kind`` is the law taken, ``others`` those that are possible besides.
    """
    found = []
    for option, given in (("at-least", question.at_least), ("at-most", question.at_most)):
        if given is None:
            continue
        try:
            limit = parse_quantity(given, measured.dimension)
        except ValueError as error:
            raise UsageError(f"--{option} {given!r}: {error}") from error
        found.append(_shown(measured, kind, others, question, limit, option == "at-least", rng))
    return tuple(found)


def _shown(
    measured: Measured,
    kind: str,
    others: Sequence[str],
    question: FitQuestion,
    limit: float,
    is_least: bool,
    rng: Generator,
) -> ShownClaim:
    values, content, confidence = measured.values, question.content, question.confidence
    n = measured.n
    distance = _distance(measured, kind, limit, is_least)
    misses = int(np.sum(values < limit if is_least else values > limit))
    return ShownClaim(
        limit,
        is_least,
        content,
        confidence,
        misses,
        distance,
        share_shown(kind, values, limit, is_least, confidence, rng),
        {each: share_shown(each, values, limit, is_least, confidence, rng) for each in others},
        share_shown_by_count(n, misses, confidence),
        None if distance is None else required_tests_by_law(distance, content, confidence),
        required_tests(content, confidence, misses),
    )


def share_shown_by_count(n: int, misses: int, confidence: float) -> float:
    """Return the share of all that meets a limit, as n tests with some misses show it.

    The lower limit of Clopper and Pearson, Biometrika 26 (1934) 404; n is fixed beforehand.

    Examples
    --------
    Without a miss it is the n-th root of one less the confidence:

    >>> round(share_shown_by_count(59, 0, 0.95), 4), round(0.05 ** (1 / 59), 4)
    (0.9505, 0.9505)
    """
    if misses == n:
        return 0.0
    return float(1.0 - betaincinv(misses + 1, n - misses, confidence))


def _distance(measured: Measured, kind: str, limit: float, is_least: bool) -> float | None:
    """Return the distance of a limit from the mean in s.d., above 0 on the good side.

    None for laws without a scale on which they are normal, and limits that are not on it.
    """
    values = measured.values
    if kind in OF_SMALLEST or (kind in OF_LOGARITHMS and limit <= 0.0):
        return None
    if kind in OF_LOGARITHMS:
        values, limit = np.log(values), float(np.log(limit))
    distance = (float(np.mean(values)) - limit) / float(np.std(values, ddof=1))
    return distance if is_least else -distance
