"""Tolerance limits by law: against the normal law's factors, and by repeated test series."""

import math

import numpy as np
import pytest
from scipy import stats

from preloadmc.chance.fitting import fitted_scale, located
from preloadmc.chance.limits_by_law import limits_by_law, share_shown
from preloadmc.chance.tolerance_limits import one_sided_factor


@pytest.mark.parametrize(
    # Exact one-sided factors at 95 %, non-central t, as `tolerance_limits` has them.
    ("n", "content", "factor"),
    [(5, 0.90, 3.4066), (10, 0.99, 3.9811), (25, 0.999, 4.1424), (50, 0.999999, 5.7471)],
)
def test_the_share_shown_is_the_content_of_the_factor(n, content, factor):
    values = np.linspace(-1.0, 1.0, n)
    limit = -factor * values.std(ddof=1)
    rng = np.random.default_rng(1)
    for sign, is_least in ((1.0, True), (-1.0, False)):
        shown = share_shown("normal", values, sign * limit, is_least, 0.95, rng)
        # Half a unit of the factor's last digit moves the normal number of the share as much.
        assert stats.norm.ppf(shown) == pytest.approx(stats.norm.ppf(content), abs=1e-4)


def test_a_lognormal_law_by_its_logarithms():
    values = np.exp(np.linspace(-1.0, 1.0, 12))
    rng = np.random.default_rng(1)
    found = limits_by_law("lognormal", values, 0.99, 0.95, rng)
    k = one_sided_factor(12, 0.99, 0.95)
    sd = np.log(values).std(ddof=1)
    assert found.lower == pytest.approx(math.exp(-k * sd))
    assert found.upper == pytest.approx(math.exp(k * sd))
    assert share_shown("lognormal", values, found.lower, True, 0.95, rng) == pytest.approx(
        0.99, abs=1e-6
    )
    assert share_shown("lognormal", values, -1.0, True, 0.95, rng) == 1.0
    assert share_shown("lognormal", values, 0.0, False, 0.95, rng) == 0.0


def test_two_tests_far_apart_have_no_upper_limit():
    values = np.array([1e-9, 1e9])
    assert limits_by_law("lognormal", values, 0.99, 0.95, np.random.default_rng(1)).upper == np.inf
    assert limits_by_law("weibull", values, 0.99, 0.95, np.random.default_rng(1)).upper == np.inf


@pytest.mark.statistical
@pytest.mark.parametrize("kind", ["weibull", "gumbel"])
@pytest.mark.parametrize("n", [5, 25])
def test_simulated_limits_hold_as_often_as_they_say(kind, n, seed):
    # How many scales of the law found a limit lies from its location depends on n alone: worked
    # out from one series, it is held against series of its own law of location 0 and scale 1.
    rng = np.random.default_rng(seed)
    values = rng.weibull(3.0, n) if kind == "weibull" else rng.gumbel(size=n)
    found = limits_by_law(kind, values, 0.99, 0.90, rng)
    y = fitted_scale(kind, values)
    location, scale = (each[0] for each in located(kind, y[np.newaxis]))
    ends = np.array([found.lower, found.upper, *found.two_sided])
    k = (fitted_scale(kind, ends) - location) / scale
    series = 4000
    off, ratio = located(kind, np.log(rng.standard_exponential((series, n))))
    below = -np.expm1(-np.exp(off + ratio * k[:, np.newaxis]))  # share of the law below each
    if kind == "gumbel":  # of values with their sign changed
        below = 1.0 - below
    lower, upper, low, high = below
    for holds in (lower <= 0.01, upper >= 0.99, high - low >= 0.99):
        # The 20,000 simulated series behind the limits leave 0.2 points.
        assert np.mean(holds) == pytest.approx(0.90, abs=5 * math.sqrt(0.09 / series) + 0.01)
    # The normal law's factor would not do.
    assert abs(k[0]) != pytest.approx(one_sided_factor(n, 0.99, 0.90), rel=0.05)


@pytest.mark.parametrize("kind", ["weibull", "gumbel"])
@pytest.mark.parametrize("is_least", [True, False])
def test_the_share_shown_at_a_simulated_limit_is_its_content(kind, is_least):
    values = 1.0 + np.random.default_rng(2).weibull(3.0, 20)
    found = limits_by_law(kind, values, 0.99, 0.95, np.random.default_rng(3))
    limit = found.lower if is_least else found.upper
    # The same draws: exact but for the interpolation between them.
    shown = share_shown(kind, values, limit, is_least, 0.95, np.random.default_rng(3))
    assert shown == pytest.approx(0.99, abs=1e-5)


def test_large_series_are_off_by_less():
    rng = np.random.default_rng(4)
    # The same series over and over leaves the law found and makes it more certain.
    values = rng.weibull(3.0, 100)
    few, many = (
        limits_by_law("weibull", np.tile(values, times), 0.99, 0.95, rng) for times in (1, 64)
    )
    best = stats.weibull_min(*stats.weibull_min.fit(values, floc=0.0)).ppf(0.01)
    assert few.lower < many.lower < best
    # 64 times as many tests leave an eighth of the room; 500 values are simulated in place of 6400.
    assert best - many.lower == pytest.approx((best - few.lower) / 8.0, rel=0.25)
