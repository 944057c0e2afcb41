"""Which tests are worth doing next: how far more of each would bring the upper limit down.

The probability given what is not known is nearly that of a linear margin: the distance of a miss
moves with the locations of the tested laws, and shrinks as their scales grow. That surface, fitted
to the draws of the band, tells what the limit would be after tests that are not made yet; they are
drawn from what is known now.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from preloadmc.case import Parameters
from preloadmc.chance.knowledge import Knowledge
from preloadmc.chance.normal_knowledge import LotTests
from preloadmc.chance.streams import named_rng
from preloadmc.chance.tested_law import Tested
from preloadmc.engine import conditional_margin_function
from preloadmc.estimates.band import Band
from preloadmc.estimates.design_point import design_points
from preloadmc.inputs import input_label
from preloadmc.judgement.bands import Bands
from preloadmc.judgement.verdicts import MEETS, MISSES, Judged, Judgement
from preloadmc.units import Array

MORE = (5, 10, 20, 50)
"""Further tests that are looked at."""

# Outcomes of tests to come, and draws of what is not known after each: the expected limit is then
# known to about a tenth.
_OUTCOMES = 64
_DRAWS = 1024


@dataclass(frozen=True, slots=True)
class MoreTests:
    """The upper limit of one event after more tests of one input.

    ``limits`` holds the expected upper limit by the number of further tests; ``settles`` is the
    least of these numbers that brings it within what is allowed, None where none does;
    ``price`` is that of one test, None where it is not stated. Where ``in_lots``, the further tests
    are of further lots, as large as those tested.
    """

    input: str
    tests: int
    limits: Mapping[int, float]
    settles: int | None
    price: float | None
    in_lots: bool


@dataclass(frozen=True, slots=True)
class NextTests:
    """What tests are worth doing for one event, the best first.

    ``upper`` is its limit now, and ``is_settled`` whether its verdict hangs on no tests.
    """

    event: str
    label: str
    allowed: float
    upper: float
    is_settled: bool
    tests: tuple[MoreTests, ...]

    @property
    def best(self) -> MoreTests:
        """Return the input to test."""
        return self.tests[0]


def worth_testing(bands: Bands, judged: Judgement) -> tuple[NextTests, ...]:
    """Return which tests are worth doing for each limit that more tests may settle.

    Where there is none, that is the side of the window that is held to the most.
    """
    wanting = [each for each in judged if each.wants_tests and each not in judged.of_joint]
    if not wanting:
        wanting = sorted(judged.sides, key=_held_to, reverse=True)[:1]
    found = (next_tests(bands, each) for each in wanting)
    return tuple(each for each in found if each is not None)


def _held_to(side: Judged) -> float:
    """Return the upper limit of a side over what is allowed of it; zero where nothing is."""
    if side.band is None or side.allowed is None:
        return 0.0
    return side.band.upper / side.allowed


def next_tests(bands: Bands, judged: Judged) -> NextTests | None:
    """Return which tests would bring a probability's upper limit down; None where that is unknown.

    Parameters
    ----------
    bands : Bands
        Of the case that was judged.
    judged : Judged
        A side of the window, or a limit, with its band and what is allowed of it.
    """
    case, band, allowed = bands.case, judged.band, judged.allowed
    if band is None or allowed is None or not case.is_smooth:
        return None
    surface = _Surface.of(bands, judged.name)
    if surface is None:
        return None
    found = [
        _more_of(bands, surface, judged.name, band, allowed, name, law)
        for name, law in case.tested.items()
    ]
    return NextTests(
        judged.name,
        judged.subject,
        allowed,
        band.upper,
        judged.verdict in (MEETS, MISSES),
        _by_worth(found),
    )


def _by_worth(found: Sequence[MoreTests]) -> tuple[MoreTests, ...]:
    """Return the tests that settle first: for the least money where all are priced, else tests."""
    priced = all(each.price is not None for each in found)

    def worth(tests: MoreTests) -> tuple[float, float]:
        each = tests.price if priced and tests.price is not None else 1.0
        cost = math.inf if tests.settles is None else tests.settles * each
        return cost, tests.limits[10]

    return tuple(sorted(found, key=worth))


@dataclass(frozen=True, slots=True, eq=False)
class _Surface:
    """Distance of a miss as a function of the parameters of tested laws.

    ``squares`` are the squared direction cosines of each tested input at the middle of what is
    known, ``numerator`` the coefficients of 1, each location and each log scale.
    """

    names: tuple[str, ...]
    middle: Mapping[str, tuple[float, float]]
    squares: Array
    numerator: Array

    @classmethod
    def of(cls, bands: Bands, event: str) -> _Surface | None:
        """Fit the surface to the draws of a band; None where no way to a miss is known."""
        case = bands.case
        names = tuple(case.tested)
        parameters = case.parameters(np.zeros((1, case.unknowns)))
        given = conditional_margin_function(case, event, parameters)
        points = design_points(
            lambda z: given(z, np.zeros(len(z), dtype=np.intp)),
            len(case.uncertain),
            rng=named_rng(bands.seed, f"tests for {event}"),
        )
        if not points:
            return None
        cosines = dict(zip(case.uncertain, points[0].direction.tolist(), strict=True))
        squares = np.array([cosines[name] ** 2 for name in names])
        middle = {name: (float(at[0]), float(scale[0])) for name, (at, scale) in parameters.items()}
        surface = cls(names, middle, squares, np.zeros(2 * len(names) + 1))
        p = bands.conditional(event).p
        told = (p > 1e-16) & (p < 1.0 - 1e-9)
        if told.sum() < 10 * len(surface.numerator):
            return None
        drawn = {name: (at[told], scale[told]) for name, (at, scale) in bands.parameters.items()}
        design = surface._design(drawn)
        distance = -ndtri(p[told]) * surface._width(drawn)
        numerator: Array = np.asarray(np.linalg.lstsq(design, distance, rcond=None)[0], dtype=float)
        return cls(names, middle, squares, numerator)

    def beta(self, parameters: Parameters) -> Array:
        """Return the distance of a miss (n,) at parameters (n,) of every tested law."""
        distance: Array = self._design(parameters) @ self.numerator / self._width(parameters)
        return distance

    def _design(self, parameters: Parameters) -> Array:
        columns = [np.ones(len(next(iter(parameters.values()))[0]))]
        for name in self.names:
            at, scale = parameters[name]
            middle, width = self.middle[name]
            columns += [(at - middle) / width, np.log(scale / width)]
        return np.column_stack(columns)

    def _width(self, parameters: Parameters) -> Array:
        """Return the s.d. of the margin over that at the middle of what is known."""
        squares = 1.0 - self.squares.sum()
        variance = np.full(len(next(iter(parameters.values()))[0]), squares)
        for name, square in zip(self.names, self.squares, strict=True):
            variance = variance + square * (parameters[name][1] / self.middle[name][1]) ** 2
        width: Array = np.sqrt(np.maximum(variance, 1e-12))
        return width


def _more_of(
    bands: Bands,
    surface: _Surface,
    event: str,
    band: Band,
    allowed: float,
    name: str,
    law: Tested,
) -> MoreTests:
    """Return what more tests of one input would do."""
    rng = named_rng(bands.seed, f"tests of {name} for {event}")
    rows = rng.integers(0, len(bands.e), _DRAWS)
    others = {key: (at[rows], scale[rows]) for key, (at, scale) in bands.parameters.items()}
    e = rng.standard_normal((_DRAWS, law.knowledge.columns))

    def limit(known: Knowledge) -> float:
        beta = surface.beta({**others, name: known.parameters(e)})
        return float(np.quantile(beta, 1.0 - bands.confidence))

    # What the surface misses of the limit now it misses of those to come.
    lacking = -float(ndtri(min(max(band.upper, 1e-300), 1.0 - 1e-12))) - limit(law.knowledge)
    limits = {}
    for more, outcomes in law.knowledge.to_come(MORE, _OUTCOMES, rng).items():
        at = float(np.mean([limit(known) for known in outcomes]))
        limits[more] = float(ndtr(-(at + lacking)))
    settles = next((more for more in MORE if limits[more] <= allowed), None)
    return MoreTests(
        name, law.tests, limits, settles, law.price, isinstance(law.knowledge, LotTests)
    )


def tests_words(tests: NextTests) -> str:
    """Return which tests to do for a limit that is not resolved, as the start of a sentence."""
    best = tests.best
    label = input_label(best.input) + (" in further lots" if best.in_lots else "")
    if best.settles is None:
        return (
            f"whether {tests.label} is within what is allowed is not resolved by the tests made, "
            f"and {MORE[-1]} more of one input are not expected to settle it: testing {label} "
            "helps most; reduce scatter or move the setting (`preloadmc aim`)"
        )
    return (
        f"test more: {best.settles} more tests of {label} are expected to settle whether "
        f"{tests.label} is within what is allowed"
    )
