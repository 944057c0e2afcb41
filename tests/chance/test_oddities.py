"""Oddities of test series: other library, published critical values, and drawn series."""

import itertools
import math

import numpy as np
import pytest
from numpy.random import default_rng
from scipy import stats

from preloadmc.chance.fitting import fitted
from preloadmc.chance.laws import Gumbel, LogNormal, Normal, Weibull
from preloadmc.chance.oddities import drift, farthest_value, lot_difference


def test_lots_as_another_library_compares_them(seed):
    rng = default_rng(seed)
    groups = [mean + rng.standard_normal(n) for mean, n in ((0.0, 3), (1.5, 8), (0.5, 5))]
    lots = [str(i) for i, group in enumerate(groups) for _ in group]
    found = lot_difference(np.concatenate(groups), lots)
    assert found.p_value == pytest.approx(float(stats.f_oneway(*groups).pvalue))
    two = lot_difference(np.concatenate(groups[:2]), lots[:11])
    assert two.p_value == pytest.approx(float(stats.ttest_ind(*groups[:2]).pvalue))
    pooled = math.sqrt((2 * np.var(groups[0], ddof=1) + 7 * np.var(groups[1], ddof=1)) / 9)
    assert two.sd_within == pytest.approx(pooled)


@pytest.mark.parametrize(
    "values",
    [
        [3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0, 5.0, 3.0, 5.0, 8.0],
        [9.0, 8.0, 7.0, 7.0, 6.0, 8.0, 5.0, 4.0, 4.0],
    ],
)
def test_drift_as_another_library_has_it(values):
    found = drift(np.array(values))
    other = stats.spearmanr(values, np.arange(len(values)))
    assert found.rank_correlation == pytest.approx(other.statistic)
    assert found.p_value == pytest.approx(other.pvalue)


def test_drift_of_few_tests_is_exact():
    values = [2.0, 1.0, 3.0, 3.0, 5.0]
    found = drift(np.array(values))
    other = stats.permutation_test(
        (values,),
        lambda order: abs(stats.spearmanr(order, range(5)).statistic) + 1e-9,
        permutation_type="pairings",
        alternative="greater",
        vectorized=False,
        n_resamples=math.inf,
    )
    assert found.rank_correlation == pytest.approx(other.statistic)
    assert found.p_value == pytest.approx(other.pvalue)


@pytest.mark.published
@pytest.mark.parametrize(
    ("n", "critical", "error"), [(7, 0.786, 0.0), (8, 0.738, 0.0), (9, 0.700, 0.008)]
)
def test_published_critical_rank_correlations(n, critical, error):
    # Two-sided 5 % points of Spearman's r (J. H. Zar, Biostatistical Analysis, Table B.20; values
    # from memory): the smallest r with a p-value of 5 % or less. r = 1 - 6 D/(n³ - n).
    def p_at(r):
        orders = np.array(
            list(itertools.islice(itertools.permutations(range(n)), 4000)), dtype=float
        )
        found = 1.0 - 6.0 * np.sum(np.square(orders - np.arange(n)), axis=1) / (n**3 - n)
        return drift(orders[np.argmin(np.abs(found - r))])

    at, next_lower = p_at(critical), p_at(critical - 12.0 / (n**3 - n))
    assert at.rank_correlation == pytest.approx(critical, abs=5e-4)
    assert at.p_value <= 0.05 < next_lower.p_value + error


def test_drift_without_a_break():
    # In perfect order only two of n! orders are as far out.
    for n in (8, 9, 12):
        rising, falling = drift(np.arange(float(n))), drift(-np.arange(float(n)))
        assert (rising.rank_correlation, falling.rank_correlation) == pytest.approx((1.0, -1.0))
        assert rising.p_value == falling.p_value == pytest.approx(2.0 / math.factorial(n))


@pytest.mark.statistical
@pytest.mark.parametrize("n", [7, 9, 15])
def test_series_without_drift_are_rarely_called_odd(n, seed):
    rng, series = default_rng(seed), 600
    samples = rng.standard_normal((series, n))
    p = np.array([drift(values).p_value for values in samples])
    for share in (0.05, 0.5):
        assert stats.binomtest(int(np.sum(p <= share)), series, share).pvalue > 1e-4
    p = np.array([drift(values).p_value for values in samples + np.linspace(0.0, 3.0, n)])
    assert stats.binomtest(int(np.sum(p <= 0.05)), series, 0.05).pvalue < 1e-4


# NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1 (values from memory): eight readings
# of a mass spectrometer.
READINGS = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])


@pytest.mark.published
def test_reading_far_from_the_others():
    # G = 2.468765; 2.032 is the critical value of the one-sided test at 5 %: 10 % for both sides.
    g = (READINGS[-1] - READINGS.mean()) / READINGS.std(ddof=1)
    assert g == pytest.approx(2.468765, abs=5e-7)
    found = farthest_value("normal", READINGS)
    assert (found.index, found.value) == (7, 245.57)
    assert found.p_value < 1e-4
    # Moved in until G is 2.032: with a the deviation of the last from the mean of the others,
    # G² = a² 7²/8² / ((S + a² 7/8)/7), S the others' sum of squares.
    rest = READINGS[:-1]
    s = float(np.sum(np.square(rest - rest.mean())))
    a = math.sqrt(2.032**2 * s / 7 / ((7 / 8) ** 2 - 2.032**2 / 8))
    moved = np.append(rest, rest.mean() + a)
    assert farthest_value("normal", moved).p_value == pytest.approx(0.10, abs=2e-3)


def test_what_one_value_decides():
    found = farthest_value("normal", READINGS)
    rest = READINGS[:-1]
    z = float(stats.norm.ppf(0.999))
    both = [(v.mean() - z * v.std(ddof=1), v.mean() + z * v.std(ddof=1)) for v in (READINGS, rest)]
    assert found.quantiles == pytest.approx(both[0])
    assert found.quantiles_without == pytest.approx(both[1])
    low = farthest_value("weibull", READINGS[::-1])
    assert low.quantiles[0] == pytest.approx(fitted("weibull", READINGS).law.quantile(0.001))
    assert low.index == 0
    # All others equal: they say where the value would be without it.
    assert farthest_value("gumbel", np.array([2.0, 2.0, 7.0, 2.0])).quantiles_without == (2.0, 2.0)
    # As far out as one of four values can be.
    assert farthest_value("normal", np.array([2.0, 2.0, 7.0, 2.0])).p_value == 0.0


def test_lognormal_values_are_judged_by_their_logarithms():
    by_law = farthest_value("lognormal", READINGS)
    by_logarithms = farthest_value("normal", np.log(READINGS))
    assert by_law.p_value == pytest.approx(by_logarithms.p_value)
    assert by_law.quantiles == pytest.approx(np.exp(by_logarithms.quantiles))


@pytest.mark.statistical
@pytest.mark.parametrize(
    ("law", "low", "high"),
    [
        # Exact for the first two; the others are approximate.
        (Normal(30.0, 4.0), 0.05, 0.05),
        (LogNormal(0.12, 0.02), 0.05, 0.05),
        (Weibull(6.0, 2.0), 0.03, 0.08),
        (Gumbel(30.0, 4.0), 0.03, 0.08),
    ],
)
def test_series_without_an_odd_value_are_rarely_called_odd(law, low, high, seed):
    series, n = 300, 10
    samples = law.from_normal(default_rng(seed).standard_normal((series, n)))
    count = sum(farthest_value(law.kind, values).p_value <= 0.05 for values in samples)
    assert stats.binomtest(count, series, low, alternative="less").pvalue > 1e-4
    assert stats.binomtest(count, series, high, alternative="greater").pvalue > 1e-4
    samples[:, 3] = law.from_normal(np.array([6.0]))
    count = sum(farthest_value(law.kind, values).p_value <= 0.05 for values in samples)
    assert stats.binomtest(count, series, high, alternative="greater").pvalue < 1e-4


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: drift(np.array([1.0, 2.0])), "takes three values or more, not 2"),
        (lambda: drift(np.full(5, 2.5)), "all 5 values are 2.5: none is out of line"),
        (lambda: farthest_value("normal", np.array([1.0, 2.0])), "three values or more, not 2"),
    ],
)
def test_what_shows_nothing_odd_is_named(call, words):
    with pytest.raises(ValueError, match=words):
        call()
