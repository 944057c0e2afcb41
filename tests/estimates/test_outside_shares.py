"""Shares of samples that a level does not suit: against counting, and the binomial law."""

import math

import numpy as np
import pytest
from scipy.special import ndtr

from preloadmc.estimates.mixture import Mixture, NormalAround
from preloadmc.estimates.outside_shares import LEAST_SHARE, OutsideShares, upper_quantile
from preloadmc.estimates.probability import clopper_pearson

LOWER = np.array([[1.0, 2.0, 3.0, 9.0, -np.inf]])
UPPER = np.array([[4.0, 5.0, np.inf, 8.0, 0.5]])


def test_plain_shares_are_counts_with_exact_intervals():
    shares = OutsideShares.of(LOWER, UPPER, None)
    levels = np.array([0.2, 1.0, 2.5, 4.5, 5.0, 20.0])
    misses = [4, 4, 3, 3, 3, 4]
    curve = shares.curve(levels)
    assert list(curve.value) == [miss / 5 for miss in misses]
    for place, miss in enumerate(misses):
        assert (curve.low[place], curve.high[place]) == pytest.approx(
            clopper_pearson(miss, 5, 0.95)
        )
        found = shares.probability(levels[place], model_calls=7)
        assert (found.misses, found.method, found.model_calls) == (miss, "plain", 7)


def test_one_outside_of_twenty():
    # Clopper-Pearson, exact: 1 of 20 is 0.1265 to 24.873 %.
    shares = OutsideShares.of(np.arange(1.0, 21.0)[None], np.full((1, 20), np.inf), None)
    curve = shares.curve(np.array([19.5]))
    assert (curve.value[0], curve.low[0], curve.high[0]) == pytest.approx(
        (0.05, 0.001265, 0.24873), rel=1e-3
    )


def test_plain_shares_of_none_and_of_all():
    shares = OutsideShares.of(np.full((1, 8), 2.0), np.full((1, 8), 3.0), None)
    assert shares.probability(2.5, model_calls=8).bound == "upper"
    assert list(shares.curve(np.array([1.0, 2.5, 4.0])).value) == [1.0, 0.0, 1.0]
    curve = shares.curve(np.array([1.0]))
    assert (curve.low[0], curve.high[0]) == pytest.approx(clopper_pearson(8, 8, 0.95))


def normal_ends(rng, batches=16, n=2000):
    """A sample of X normal about both ends of (-4, 4), weighted, with suits [X - 4, X + 4]."""
    mixture = Mixture(
        1,
        tuple(NormalAround(np.array([c]), np.empty((0, 1)), np.empty(0)) for c in (-4.0, 4.0)),
        np.array([0.45, 0.45]),
    )
    z = np.concatenate([mixture.sample(n, rng) for _ in range(batches)])
    x = z[:, 0].reshape(batches, n)
    return x, mixture.weights(z).reshape(batches, n)


@pytest.mark.statistical
def test_weighted_shares_cover_the_normal_law(seed):
    levels = np.array([-0.5, 0.0, 1.0, 3.0, 4.0, 6.0])
    exact = ndtr(-(levels + 4.0)) + ndtr(levels - 4.0)
    inside = np.zeros(len(levels))
    apart = np.zeros(len(levels))
    for each in range(60):
        x, weights = normal_ends(np.random.default_rng([seed, each]))
        curve = OutsideShares.of(x - 4.0, x + 4.0, weights).curve(levels)
        inside += (curve.low <= exact) & (exact <= curve.high)
        apart += (curve.low <= 1.3 * exact) & (1.3 * exact <= curve.high)
        assert curve.value == pytest.approx(exact, rel=0.25)
    # 60 intervals of 95 %: 50 or fewer inside has a probability of 1e-4 or less a level.
    assert (inside > 50).all()
    assert (apart[:4] < 50).all()


def test_a_level_that_no_sample_reaches_is_bounded_by_the_last_that_some_reach(seed):
    x, weights = normal_ends(np.random.default_rng(seed))
    shares = OutsideShares.of(x, np.full_like(x, np.inf), weights)
    curve = shares.curve(np.array([0.0, 4.0, 12.0]))
    assert curve.value[2] == 0.0
    assert LEAST_SHARE <= curve.high[2] < 1e-5
    found = shares.probability(12.0, model_calls=1)
    assert (found.bound, found.value, found.reliable) == ("upper", 0.0, True)


def test_a_share_near_one_is_known_from_what_plain_draws_tell(seed):
    x, weights = normal_ends(np.random.default_rng(seed))
    shares = OutsideShares.of(x, np.full_like(x, np.inf), weights)
    curve = shares.curve(np.array([-11.0]))
    assert curve.value[0] == pytest.approx(1.0)
    assert 0.99 < curve.low[0] < 1.0 - 1e-4


def test_an_end_without_scatter_is_certain(seed):
    x, weights = normal_ends(np.random.default_rng(seed))
    shares = OutsideShares.of(np.full_like(x, -np.inf), np.full_like(x, 2.0), weights)
    curve = shares.curve(np.array([1.9, 2.1]))
    assert list(curve.value) == [0.0, 1.0]
    assert curve.high[0] == LEAST_SHARE


def test_bad_weights_are_told():
    """Of 1000 draws that weigh 1, one that misses weighs a tenth of all, and 3 little."""
    weights, lower = np.ones((2, 500)), np.zeros((2, 500))
    lower[0, :4] = 5.0
    weights[0, :4] = [100.0, 0.1, 0.1, 0.1]
    shares = OutsideShares.of(lower, np.full_like(lower, np.inf), weights)
    found = shares.probability(1.0, model_calls=1)
    assert not found.reliable
    for words in ("only 1 effective", "one miss carries 100 %", "batches scatter too much"):
        assert words in found.note


def test_good_weights_are_not_doubted(seed):
    x, weights = normal_ends(np.random.default_rng(seed))
    found = OutsideShares.of(x - 4.0, x + 4.0, weights).probability(0.0, model_calls=1)
    assert (found.reliable, found.note, found.bound) == (True, "", None)
    assert found.value == pytest.approx(2.0 * ndtr(-4.0), rel=0.1)


def test_no_level_suits_where_the_ends_cross():
    shares = OutsideShares.of(np.array([[5.0]]), np.array([[4.0]]), None)
    assert list(shares.curve(np.array([1.0, 4.5, 9.0])).value) == [1.0, 1.0, 1.0]


@pytest.mark.parametrize(
    ("share", "level"), [(0.05, 9.0), (0.2, 8.0), (0.25, 7.5), (0.9, 1.0), (1.0, 0.0), (1.5, 0.0)]
)
def test_quantiles_from_above(share, level):
    ends = np.arange(10.0)
    assert upper_quantile(ends, np.ones(10), share) == pytest.approx(level)


def test_quantiles_of_equal_and_infinite_ends():
    ends = np.array([math.inf, math.inf, 1.0, 1.0])
    assert upper_quantile(ends, np.ones(4), 0.3) == math.inf
    assert upper_quantile(ends, np.ones(4), 0.9) == 1.0
