"""Lifetimes with censored runs: published values, closed forms, another library, coverage."""

import math

import numpy as np
import pytest
from scipy import optimize, stats

from preloadmc.chance.censored_lifetimes import LIFETIME_KINDS, fitted_lifetimes

# NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.2: ten of twenty units fail within 500 h.
HOURS = np.array([54, 187, 216, 240, 244, 335, 361, 373, 375, 386] + 10 * [500], dtype=float)
FAILED = np.arange(20) < 10


@pytest.mark.published
def test_the_handbooks_weibull_example():
    # Shape and scale as printed there, from memory.
    fit = fitted_lifetimes("weibull", HOURS, FAILED)
    assert fit.shape == pytest.approx(1.7208, abs=5e-5)
    assert math.exp(fit.location) == pytest.approx(606.5280, abs=5e-3)
    assert (fit.failures, fit.censored) == (10, 10)


@pytest.mark.parametrize("kind", LIFETIME_KINDS)
def test_the_likelihood_is_greatest_there_by_another_way(kind):
    law = {
        "weibull": lambda p: stats.weibull_min(math.exp(p[1]), scale=math.exp(p[0])),
        "lognormal": lambda p: stats.lognorm(math.exp(p[1]), scale=math.exp(p[0])),
    }[kind]

    def loss(p):
        of = law(p)
        return -of.logpdf(HOURS[FAILED]).sum() - of.logsf(HOURS[~FAILED]).sum()

    options = {"xatol": 1e-9, "fatol": 1e-12, "maxiter": 4000}
    best = optimize.minimize(loss, [6.0, 0.0], method="Nelder-Mead", options=options)
    fit = fitted_lifetimes(kind, HOURS, FAILED)
    assert fit.log_likelihood == pytest.approx(-best.fun, abs=1e-8)
    assert fit.location == pytest.approx(best.x[0], rel=1e-6)
    other = math.log(fit.shape) if kind == "weibull" else math.log(fit.scale)
    assert other == pytest.approx(best.x[1], abs=1e-6)
    assert fit.share_below(fit.quantile(0.1)) == pytest.approx(0.1)
    assert fit.share_below(450.0) == pytest.approx(law(best.x).cdf(450.0), abs=1e-6)


@pytest.mark.parametrize("kind", LIFETIME_KINDS)
def test_the_profile_of_a_quantile_by_another_way(kind):
    # Twice the fall of the log likelihood at each end of the interval is 20 ln(1 + t²/19), with
    # the quantile held by a constraint.
    fit = fitted_lifetimes(kind, HOURS, FAILED)
    w = math.log(-math.log(0.9)) if kind == "weibull" else stats.norm.ppf(0.1)
    fall = 20.0 * math.log1p(stats.t.ppf(0.975, 19) ** 2 / 19.0)
    for end in fit.quantile_interval(0.1, 0.95):

        def loss(log_scale, end=end):
            scale = math.exp(log_scale)
            location = math.log(end) - scale * w
            if kind == "weibull":
                of = stats.weibull_min(1.0 / scale, scale=math.exp(location))
            else:
                of = stats.lognorm(scale, scale=math.exp(location))
            return -of.logpdf(HOURS[FAILED]).sum() - of.logsf(HOURS[~FAILED]).sum()

        best = min(loss(each) for each in np.linspace(-1.5, 1.5, 301))
        assert 2.0 * (fit.log_likelihood + best) == pytest.approx(fall, abs=2e-3)


def test_a_lognormal_law_without_censoring_has_closed_forms(seed):
    rng = np.random.default_rng(seed)
    logs = 7.0 + 0.3 * rng.standard_normal(8)
    fit = fitted_lifetimes("lognormal", np.exp(logs), np.full(8, True))
    assert (fit.location, fit.scale) == pytest.approx((np.mean(logs), np.std(logs)), rel=1e-6)
    # Of the median the exact interval of a mean, by Student's law.
    half = stats.t.ppf(0.975, 7) * np.std(logs, ddof=1) / math.sqrt(8)
    low, high = fit.quantile_interval(0.5, 0.95)
    assert math.log(low) == pytest.approx(np.mean(logs) - half, abs=1e-4)
    assert math.log(high) == pytest.approx(np.mean(logs) + half, abs=1e-4)


@pytest.mark.parametrize("kind", LIFETIME_KINDS)
def test_the_unit_of_time_changes_nothing(kind):
    fit, scaled = (fitted_lifetimes(kind, by * HOURS, FAILED) for by in (1.0, 3600.0))
    assert scaled.shape == pytest.approx(fit.shape, rel=1e-6)
    assert scaled.quantile(0.3) == pytest.approx(3600.0 * fit.quantile(0.3), rel=1e-6)
    ends = np.array(fit.quantile_interval(0.1, 0.9))
    assert scaled.quantile_interval(0.1, 0.9) == pytest.approx(3600.0 * ends, rel=1e-4)


def test_what_is_no_set_of_lifetimes_is_refused():
    with pytest.raises(ValueError, match="two different ends of life"):
        fitted_lifetimes("weibull", np.array([3.0, 5.0, 5.0]), np.array([True, False, False]))
    with pytest.raises(ValueError, match="two different ends of life"):
        fitted_lifetimes("weibull", np.array([3.0, 3.0]), np.array([True, True]))
    with pytest.raises(ValueError, match="above 0"):
        fitted_lifetimes("lognormal", np.array([0.0, 3.0]), np.array([True, True]))
    with pytest.raises(ValueError, match="no law of lifetimes is called gumbel"):
        fitted_lifetimes("gumbel", HOURS, FAILED)


@pytest.mark.slow
@pytest.mark.statistical
@pytest.mark.parametrize("kind", LIFETIME_KINDS)
@pytest.mark.parametrize(("n", "share_ended"), [(6, 1.0), (7, 0.5), (14, 0.4)])
def test_intervals_hold_the_quantile_as_often_as_they_say(kind, n, share_ended, seed):
    rng = np.random.default_rng(seed)

    def quantile(share):
        return np.log(-np.log1p(-share)) if kind == "weibull" else stats.norm.ppf(share)

    series, missed, told = 400, 0, 0
    stop = math.inf if share_ended == 1.0 else 7.0 + 0.4 * quantile(share_ended)
    for _ in range(series):
        logs = 7.0 + 0.4 * quantile(rng.uniform(size=n))
        ended = logs < stop
        if np.sum(ended) < 2:
            continue
        told += 1
        fit = fitted_lifetimes(kind, np.exp(np.minimum(logs, stop)), ended)
        low, high = fit.quantile_interval(0.1, 0.9)
        true = math.exp(7.0 + 0.4 * quantile(0.1))
        missed += (low is not None and low > true) or (high is not None and high < true)
    # Asymptotic intervals: 10 of 100 may miss; from 4 to 15 is what few runs make of it.
    assert stats.binomtest(missed, told, 0.15, alternative="greater").pvalue > 1e-3
    assert stats.binomtest(missed, told, 0.03, alternative="less").pvalue > 1e-3
