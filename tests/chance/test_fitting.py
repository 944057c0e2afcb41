"""Fits against scipy.stats, goodness of fit against published critical values."""

import math

import numpy as np
import pytest
from numpy.random import default_rng
from scipy import stats

from preloadmc.chance.fitting import (
    FITTED_KINDS,
    anderson_darling,
    fit_p_value,
    fitted,
    moments_with_intervals,
)
from preloadmc.chance.laws import Gumbel, LogNormal, Normal, Uniform, Weibull

# Twenty unlubricated preloads in kN: J. E. Shigley, C. R. Mischke, R. G. Budynas, Mechanical
# Engineering Design, Table 8-13 (J. C. Blake, H. J. Kurtz, 1965).
PRELOADS = np.array(
    [
        *(23.6, 27.6, 28.0, 29.4, 30.3, 30.7, 32.9, 33.8, 33.8, 33.8),
        *(34.7, 35.6, 35.6, 37.4, 37.8, 37.8, 39.2, 40.0, 40.5, 42.7),
    ]
)


@pytest.mark.parametrize(
    ("kind", "law"),
    [
        ("normal", stats.norm(*stats.norm.fit(PRELOADS))),
        ("lognormal", stats.lognorm(*stats.lognorm.fit(PRELOADS, floc=0))),
        ("weibull", stats.weibull_min(*stats.weibull_min.fit(PRELOADS, floc=0))),
        ("gumbel", stats.gumbel_r(*stats.gumbel_r.fit(PRELOADS))),
    ],
)
def test_fits_of_another_library(kind, law):
    found = fitted(kind, PRELOADS)
    likelihood = float(np.sum(law.logpdf(PRELOADS)))
    assert found.log_likelihood == pytest.approx(likelihood, abs=1e-5)
    # Two parameters and n = 20: 2·2 - 2 L + 2·2·3/17.
    assert found.aicc == pytest.approx(4.0 - 2.0 * likelihood + 12.0 / 17.0, abs=1e-4)
    assert (found.kind, found.law.kind, found.n) == (kind, kind, 20)
    if kind in ("weibull", "gumbel"):
        assert found.law.mean == pytest.approx(law.mean(), rel=1e-4)
        assert found.law.sd == pytest.approx(law.std(), rel=1e-3)


def test_normal_and_lognormal_by_their_moments():
    normal, lognormal = fitted("normal", PRELOADS).law, fitted("lognormal", PRELOADS).law
    assert normal.mean == pytest.approx(34.26)
    assert normal.sd == pytest.approx(4.91, abs=0.005)
    logarithms = np.log(PRELOADS)
    assert lognormal.log_mean == pytest.approx(logarithms.mean())
    assert lognormal.log_sd == pytest.approx(logarithms.std(ddof=1))


@pytest.mark.parametrize("kind", ["weibull", "gumbel"])
def test_no_law_nearby_is_likelier(kind):
    law = fitted(kind, PRELOADS).law

    def likelihood(first, second):
        near = (
            Weibull(law.shape * first, law.scale * second)
            if kind == "weibull"
            else Gumbel(law.mean * first, law.sd * second)
        )
        return float(np.sum(np.log(near.density(PRELOADS))))

    best = likelihood(1.0, 1.0)
    assert best == pytest.approx(fitted(kind, PRELOADS).log_likelihood)
    for step in (0.99, 1.01):
        assert likelihood(step, 1.0) < best - 1e-4
        assert likelihood(1.0, step) < best - 1e-4


@pytest.mark.parametrize("kind", FITTED_KINDS)
def test_fits_follow_the_unit(kind):
    small, large = fitted(kind, PRELOADS), fitted(kind, 1000.0 * PRELOADS)
    assert large.law.mean == pytest.approx(1000.0 * small.law.mean)
    assert large.law.sd == pytest.approx(1000.0 * small.law.sd)
    assert large.log_likelihood == pytest.approx(small.log_likelihood - 20 * math.log(1000.0))


@pytest.mark.parametrize(
    "values",
    [
        np.array([1.0, 2.0]),
        np.concatenate([np.full(1000, 5.0), [5.1]]),
        np.concatenate([[0.1], np.full(1000, 5.0)]),
        np.concatenate([[4.0], 5.0 + np.linspace(-1e-6, 1e-6, 100_000)]),  # Newton's steps cycle
    ],
)
def test_likeliest_gumbel_law_of_odd_samples(values):
    # The derivative of the likelihood by the scale b is zero: with w = (mode - x)/b,
    # mean(exp w) = 1 and mean(w exp w) - mean(w) = 1.
    law = fitted("gumbel", values).law
    w = (law.mode - values) / law.scale
    assert np.mean(np.exp(w)) == pytest.approx(1.0, abs=1e-9)
    assert np.mean(w * np.exp(w)) - np.mean(w) == pytest.approx(1.0, abs=1e-9)


def test_too_few_values_for_the_correction():
    assert fitted("normal", PRELOADS[:3]).aicc == math.inf
    four = fitted("normal", PRELOADS[:4])
    assert four.aicc == pytest.approx(4.0 - 2.0 * four.log_likelihood + 12.0)


@pytest.mark.parametrize(
    ("kind", "values", "words"),
    [
        ("cauchy", [1.0, 2.0], 'law is "cauchy": it must be one of normal, lognormal'),
        ("normal", [1.0], "fitted to two values or more, not 1"),
        ("normal", [1.0, math.nan], "finite values only"),
        ("gumbel", [3.0, 3.0, 3.0], "all 3 values are 3: no law fits"),
        ("weibull", [1.0, -0.5], "weibull law needs values above zero, and the smallest is -0.5"),
        ("lognormal", [1.0, 0.0], "lognormal law needs values above zero, and the smallest is 0"),
    ],
)
def test_what_cannot_be_fitted_is_named(kind, values, words):
    with pytest.raises(ValueError, match=words):
        fitted(kind, np.array(values))
    with pytest.raises(ValueError, match=words):
        fit_p_value(kind, np.array(values), default_rng(1))


def test_lognormal_law_of_all_sizes_is_refused():
    with pytest.raises(
        ValueError, match=r"s\.d\. of the logarithm is 48\.8\d+: it must be 20 or less"
    ):
        fitted("lognormal", np.array([1e-15, 1e15]))


def test_anderson_darling_by_hand():
    # Shares 1/4 and 3/4: -2 - [(ln 1/4 + ln 1/4) + 3 (ln 3/4 + ln 3/4)]/2.
    expected = -2.0 - math.log(0.25) - 3.0 * math.log(0.75)
    assert anderson_darling(np.array([3.0, 1.0]), Uniform(0.0, 4.0)) == pytest.approx(expected)
    assert anderson_darling(np.array([5.0, 1.0]), Uniform(0.0, 4.0)) == math.inf


@pytest.mark.published
@pytest.mark.statistical
@pytest.mark.parametrize(
    ("kind", "correction", "critical"),
    [
        # R. B. D'Agostino, M. A. Stephens, Goodness-of-Fit Techniques, Dekker 1986, Tables 4.7
        # and 4.17: upper 5 % points of A² with both parameters fitted (values from memory).
        ("normal", lambda n: 1.0 + 0.75 / n + 2.25 / n**2, 0.752),
        ("lognormal", lambda n: 1.0 + 0.75 / n + 2.25 / n**2, 0.752),
        ("weibull", lambda n: 1.0 + 0.2 / math.sqrt(n), 0.757),
        ("gumbel", lambda n: 1.0 + 0.2 / math.sqrt(n), 0.757),
    ],
)
def test_published_critical_distances(kind, correction, critical, seed):
    law = {
        "normal": Normal(30.0, 4.0),
        "lognormal": LogNormal(0.12, 0.02),
        "weibull": Weibull(6.0, 2.0),
        "gumbel": Gumbel(30.0, 4.0),
    }[kind]
    series, n = 500, 20
    samples = law.from_normal(default_rng(seed).standard_normal((series, n)))
    refitted = [anderson_darling(values, fitted(kind, values).law) for values in samples]
    beyond = int(np.sum(np.array(refitted) * correction(n) > critical))
    assert stats.binomtest(beyond, series, 0.05).pvalue > 1e-4
    # The distances from the law itself are larger, and the test sees it.
    own = np.array([anderson_darling(values, law) for values in samples])
    beyond = int(np.sum(own * correction(n) > critical))
    assert stats.binomtest(beyond, series, 0.05).pvalue < 1e-4


@pytest.mark.statistical
@pytest.mark.parametrize("kind", FITTED_KINDS)
def test_p_values_of_laws_that_hold_are_uniform(kind, seed):
    law = {
        "normal": Normal(30.0, 4.0),
        "lognormal": LogNormal(0.12, 0.02),
        "weibull": Weibull(6.0, 2.0),
        "gumbel": Gumbel(30.0, 4.0),
    }[kind]
    series, rng = 150, default_rng(seed)
    samples = law.from_normal(rng.standard_normal((series, 12)))
    p = np.array([fit_p_value(kind, values, rng, draws=99) for values in samples])
    for share in (0.1, 0.5, 0.9):
        count = int(np.sum(p <= share + 1e-9))
        assert stats.binomtest(count, series, share).pvalue > 1e-4
    # Twelve values of which one is far out do not come from such a law.
    samples[:, 0] = samples[:, 1:].max(axis=1) * 2.0
    p = np.array([fit_p_value(kind, values, rng, draws=99) for values in samples])
    count = int(np.sum(p <= 0.1 + 1e-9))
    assert stats.binomtest(count, series, 0.1).pvalue < 1e-4


@pytest.mark.statistical
def test_p_value_of_another_library(seed):
    values, draws = PRELOADS**3, 1999
    own = fit_p_value("normal", values, default_rng(seed), draws)
    other = stats.goodness_of_fit(
        stats.norm, values, statistic="ad", n_mc_samples=draws, random_state=default_rng(seed + 1)
    )
    other_p = float(other.pvalue)
    sd = math.sqrt(2.0 * other_p * (1.0 - other_p) / draws)
    assert own == pytest.approx(other_p, abs=4.0 * sd)
    # Without refitting nearly every sample would lie as far, or none: far beyond four s.d.
    known = stats.goodness_of_fit(
        stats.norm,
        values,
        known_params={"loc": float(values.mean()), "scale": float(values.std(ddof=1))},
        statistic="ad",
        n_mc_samples=draws,
        random_state=default_rng(seed + 2),
    )
    assert abs(own - float(known.pvalue)) > 4.0 * sd


def test_many_values_are_compared_with_smaller_samples(seed):
    rng = default_rng(seed)
    values = 30.0 + 4.0 * rng.standard_normal(3000)
    assert fit_p_value("normal", values, rng) > 1e-3
    assert fit_p_value("lognormal", values, rng) == 1e-3
    assert fit_p_value("gumbel", values, rng) == 1e-3


def test_moments_of_twenty_preloads():
    found = moments_with_intervals(PRELOADS)
    assert (found.n, found.confidence) == (20, 0.95)
    assert found.mean == pytest.approx(34.26)
    assert found.cov == pytest.approx(0.1433, abs=5e-5)
    low, high = stats.t.interval(0.95, 19, found.mean, found.sd / math.sqrt(20))
    assert (found.mean_low, found.mean_high) == pytest.approx((low, high))
    ends = stats.chi2.ppf((0.975, 0.025), 19)
    assert (found.sd_low, found.sd_high) == pytest.approx(found.sd * np.sqrt(19 / ends))
    assert moments_with_intervals(PRELOADS, 0.5).mean_high < found.mean_high


def test_moments_without_a_mean_or_a_second_value():
    assert moments_with_intervals(np.array([-1.0, 1.0])).cov == math.inf
    with pytest.raises(ValueError, match="takes two values or more, not 1"):
        moments_with_intervals(np.array([1.0]))
