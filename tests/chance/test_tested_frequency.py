"""How often the upper limit that tests give a probability holds, over repeated test campaigns.

Each campaign draws tests from a known law, draws what they leave unknown by a sequence shifted for
itself (common draws would move a whole cell to one side), and takes the 95 % quantile of the
probability of a miss. For one law of location and scale it is exact for repeated campaigns; where
several laws, or lots, are known from tests it is meant to be at least as high as stated.
"""

import math
import os
import sys
from functools import lru_cache

import numpy as np
import pytest
from numpy.random import default_rng
from scipy.special import ndtr, ndtri
from scipy.stats import binom

from preloadmc.chance.extreme_knowledge import ExtremeTests
from preloadmc.chance.normal_knowledge import LotTests, NormalTests
from preloadmc.chance.tested_law import Tested
from preloadmc.estimates.band import unknown_numbers
from preloadmc.estimates.sobol_points import REPLICATES

CONFIDENCE = 0.95
MISSES = (1e-2, 1e-4, 1e-6)
# 128 in each scramble: the level of the quantile is then known to 0.3 %, and on both sides alike.
DRAWS = 1024
CAMPAIGNS = int(os.environ.get("PRELOADMC_CAMPAIGNS", "2000"))
SOME = 100
# A share of campaigns this rare is taken for a fault.
LEVEL = 1e-4


def normal(values):
    return Tested.normal(NormalTests(values.mean(), values.std(ddof=1), len(values)))


def lognormal(values):
    logs = np.log(values)
    return Tested.lognormal(NormalTests(logs.mean(), logs.std(ddof=1), len(logs)))


def weibull(values):
    return Tested.weibull(ExtremeTests(tuple(np.log(values).tolist()), smallest=True))


def gumbel(values):
    return Tested.gumbel(ExtremeTests(tuple(values.tolist())))


# By law: how tests are drawn, what is made of them, and the limit that is missed below (or above)
# with a probability p. Quantiles: exp(a + s z); scale (-ln(1 - p))^(1/shape); mode - b ln(-ln p).
ONE_LAW = {
    "normal": (
        lambda rng, n: rng.normal(62.0, 7.0, n),
        normal,
        lambda p: 62.0 + 7.0 * ndtri(p),
        False,
    ),
    "lognormal": (
        lambda rng, n: np.exp(rng.normal(-2.0, 0.12, n)),
        lognormal,
        lambda p: np.exp(-2.0 - 0.12 * ndtri(p)),
        True,
    ),
    "weibull, low": (
        lambda rng, n: 0.13 * rng.weibull(9.0, n),
        weibull,
        lambda p: 0.13 * (-np.log1p(-p)) ** (1.0 / 9.0),
        False,
    ),
    "weibull, high": (
        lambda rng, n: 0.13 * rng.weibull(9.0, n),
        weibull,
        lambda p: 0.13 * (-np.log(p)) ** (1.0 / 9.0),
        True,
    ),
    "gumbel, low": (
        lambda rng, n: rng.gumbel(1500.0, 300.0, n),
        gumbel,
        lambda p: 1500.0 - 300.0 * np.log(-np.log(p)),
        False,
    ),
    "gumbel, high": (
        lambda rng, n: rng.gumbel(1500.0, 300.0, n),
        gumbel,
        lambda p: 1500.0 - 300.0 * np.log(-np.log1p(-p)),
        True,
    ),
}


@lru_cache(maxsize=8)
def _bits(columns, seed):
    """The draws of a band in binary digits (scrambles, draws of each, columns)."""
    e = unknown_numbers(columns, default_rng(seed), DRAWS)
    return (ndtr(e) * 2.0**32).astype(np.uint64).reshape(REPLICATES, -1, columns)


def unknowns(columns, rng):
    """Draws of what is not known: each scramble with its binary digits shifted at random.

    That keeps it as even as it is, and takes a tenth of the time of scrambling anew.
    """
    shift = rng.integers(0, 2**32, (REPLICATES, 1, columns), dtype=np.uint64)
    shifted = (_bits(columns, 1) ^ shift).reshape(-1, columns)
    return ndtri((shifted + 0.5) / 2.0**32)


def covered_by_one_law(name, n, campaigns, seed):
    """Shares of campaigns whose limit covers each of `MISSES`; then those of the fitted law."""
    make, fitted, limit_at, is_above = ONE_LAW[name]
    limits = [float(limit_at(p)) for p in MISSES]
    rng = default_rng([seed, n, list(ONE_LAW).index(name)])
    covered, by_fit = np.zeros(len(MISSES)), np.zeros(len(MISSES))
    for _ in range(campaigns):
        law = fitted(make(rng, n))
        parameters = law.knowledge.parameters(unknowns(2, rng))
        for place, (limit, p) in enumerate(zip(limits, MISSES, strict=True)):
            z = law.normal_given(np.array(limit), *parameters)
            covered[place] += np.quantile(ndtr(-z if is_above else z), CONFIDENCE) >= p
            best = law.best_estimate()
            by_fit[place] += (best.sf(limit) if is_above else best.cdf(limit)) >= p
    return covered / campaigns, by_fit / campaigns


# Tests of each law, and the ratio of the s.d. of the second to that of the first.
SUMS = ((5, 5, 1.0), (5, 5, 0.2), (5, 30, 1.0), (5, 30, 3.0), (10, 10, 1.0), (30, 30, 1.0))


def covered_by_a_sum(tests, ratio, campaigns, seed):
    """Shares of campaigns whose limit covers, for the sum of two normal quantities."""
    sds = np.array([1.0, ratio])
    limits = np.hypot(*sds) * ndtri(np.array(MISSES))
    rng = default_rng([seed, *tests, round(1000 * ratio)])
    covered = np.zeros(len(MISSES))
    for _ in range(campaigns):
        laws = [normal(rng.normal(0.0, sd, n)) for sd, n in zip(sds, tests, strict=True)]
        e = unknowns(4, rng)
        one, two = (
            law.knowledge.parameters(e[:, first : first + 2])
            for law, first in zip(laws, (0, 2), strict=True)
        )
        # The sum of two normal quantities is normal.
        z = (limits[:, None] - one[0] - two[0]) / np.hypot(one[1], two[1])
        covered += np.quantile(ndtr(z), CONFIDENCE, axis=1) >= MISSES
    return covered / campaigns


# Tests in each lot, by name.
LOTS = {
    "2 of 5": (5, 5),
    "2 of 3 and 8": (3, 8),
    "3 of 5": (5, 5, 5),
    "3 of 2, 4 and 10": (2, 4, 10),
    "10 of 3": (3,) * 10,
    "10 of 1 to 8": (1, 1, 2, 2, 3, 3, 4, 5, 6, 8),
}
# Share of the variance that is between lots.
BETWEEN = (0.05, 0.5, 0.95)


def covered_by_lots(sizes, between, campaigns, seed):
    """Shares of campaigns whose limit covers, for a fastener of any lot."""
    limits = ndtri(np.array(MISSES))
    rng = default_rng([seed, *sizes, round(100 * between)])
    lots = np.repeat(np.arange(len(sizes)), sizes)
    names = [str(lot) for lot in lots]
    covered = np.zeros(len(MISSES))
    for _ in range(campaigns):
        means = math.sqrt(between) * rng.standard_normal(len(sizes))
        values = means[lots] + math.sqrt(1.0 - between) * rng.standard_normal(len(lots))
        law = Tested.normal(LotTests.of(values.tolist(), names))
        location, scale = law.knowledge.parameters(unknowns(3, rng))
        z = (limits[:, None] - location) / scale
        covered += np.quantile(ndtr(z), CONFIDENCE, axis=1) >= MISSES
    return covered / campaigns


def assert_as_stated(covered, campaigns):
    low, high = binom.interval(1.0 - LEVEL, campaigns, CONFIDENCE)
    assert (covered * campaigns >= low).all()
    assert (covered * campaigns <= high).all()


def assert_at_least(covered, campaigns, share=CONFIDENCE):
    assert (binom.cdf(covered * campaigns, campaigns, share) > LEVEL).all()


@pytest.mark.statistical
@pytest.mark.parametrize("name", ["normal", "weibull, low", "gumbel, high"])
def test_some_campaigns_of_one_law(name, seed):
    covered, by_fit = covered_by_one_law(name, 5, SOME, seed)
    assert_as_stated(covered, SOME)
    # The limit of the fitted law alone holds in about half of the campaigns: that is seen.
    with pytest.raises(AssertionError):
        assert_at_least(by_fit, SOME)


@pytest.mark.statistical
def test_some_campaigns_of_two_laws_and_of_lots(seed):
    assert_at_least(covered_by_a_sum((5, 5), 1.0, SOME, seed), SOME)
    assert_at_least(covered_by_lots(LOTS["3 of 2, 4 and 10"], 0.5, SOME, seed), 150)
    # Campaigns this few tell 84 % from 95 %.
    assert binom.cdf(0.84 * SOME, SOME, CONFIDENCE) < LEVEL


def told(words, covered):
    figures = " | ".join(f"{100 * share:.1f}" for share in covered)
    sys.stdout.write(f"\n| {words} | {figures} |\n")


@pytest.mark.slow
@pytest.mark.statistical
@pytest.mark.parametrize("n", [5, 10, 30])
@pytest.mark.parametrize("name", ONE_LAW)
def test_one_law(name, n, seed):
    covered, by_fit = covered_by_one_law(name, n, CAMPAIGNS, seed)
    told(f"{name} | {n} tests", covered)
    assert_as_stated(covered, CAMPAIGNS)
    assert (by_fit < 0.8).all()


@pytest.mark.slow
@pytest.mark.statistical
@pytest.mark.parametrize(("first", "second", "ratio"), SUMS)
def test_sum_of_two_laws(first, second, ratio, seed):
    covered = covered_by_a_sum((first, second), ratio, CAMPAIGNS, seed)
    told(f"sum, s.d. 1 and {ratio:g} | {first} and {second} tests", covered)
    assert_at_least(covered, CAMPAIGNS)


@pytest.mark.slow
@pytest.mark.statistical
@pytest.mark.parametrize("between", BETWEEN)
@pytest.mark.parametrize("lots", LOTS)
def test_lots(lots, between, seed):
    covered = covered_by_lots(LOTS[lots], between, CAMPAIGNS, seed)
    told(f"lots, {100 * between:g} % between | {lots}", covered)
    # Chi-squares cut off at zero, and the law of lot means where lots are unequal, hold nearly.
    assert_at_least(covered, CAMPAIGNS, 0.94)
