import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from preloadmc.errors import UsageError
from preloadmc.estimates.probability import (
    Probability,
    clopper_pearson,
    from_counts,
    paired_difference,
)


@pytest.mark.parametrize(
    ("misses", "n", "low", "high"),
    [
        (0, 10, 0.0, 0.30850),
        (1, 20, 0.001265, 0.24873),
        (3, 100, 0.006230, 0.085176),
        (5, 1000, 0.0016254, 0.0116295),
        (10, 100000, 4.7955e-5, 1.83896e-4),
    ],
)
def test_clopper_pearson_closed_form(misses, n, low, high):
    # roots of the binomial tail equations (Clopper and Pearson 1934), from an F table
    assert clopper_pearson(misses, n, 0.95) == pytest.approx((low, high), rel=1e-4, abs=1e-6)


@given(st.integers(1, 10**6), st.floats(0.0, 1.0), st.floats(0.5, 0.999))
def test_clopper_pearson_against_scipy(n, share, confidence):
    misses = round(share * n)
    expected = stats.binomtest(misses, n).proportion_ci(confidence, method="exact")
    assert clopper_pearson(misses, n, confidence) == pytest.approx(
        (expected.low, expected.high), rel=1e-7, abs=1e-12
    )


def test_zero_misses_are_an_upper_bound():
    estimate = from_counts(0, 1000)
    assert estimate.bound == "upper"
    assert (estimate.value, estimate.low) == (0.0, 0.0)
    # two-sided: 3.69/n at 95 %
    assert estimate.high == pytest.approx(1.0 - 0.025 ** (1 / 1000), rel=1e-12)
    assert estimate.high * 1000 == pytest.approx(3.69, abs=0.01)
    assert estimate.relative_half_width == math.inf
    assert estimate.beta == math.inf


def test_counts_carry_sample_size_and_calls():
    estimate = from_counts(100, 10_000, 0.9, model_calls=12_000)
    assert estimate.bound is None
    assert estimate.method == "plain"
    assert (estimate.samples, estimate.model_calls, estimate.misses) == (10_000, 12_000, 100)
    assert estimate.per_million == pytest.approx(1e4)
    assert estimate.relative_half_width == pytest.approx(0.165, abs=0.005)  # 1.645/sqrt(100)
    assert from_counts(10, 10).high == 1.0


@pytest.mark.published
@pytest.mark.parametrize(
    ("p", "beta"), [(4.834e-4, 3.3), (7.235e-5, 3.8), (8.540e-6, 4.3), (9.964e-8, 5.2)]
)
def test_reliability_index(p, beta):
    # EN 1990:2002, C.3: P_f = Phi(-beta)
    estimate = Probability(p, p, p, 0.95, "importance", 1, 1)
    assert estimate.beta == pytest.approx(beta, abs=5e-5)


@pytest.mark.parametrize("bad", [(0.5, 0.6, 0.7), (0.5, 0.4, 0.45), (1.2, 0.1, 1.3), (-1, -2, 1)])
def test_an_impossible_record_cannot_be_built(bad):
    with pytest.raises(ValueError, match="0 <= low <= value <= high <= 1"):
        Probability(*bad, 0.95, "plain", 10, 10)


def test_counts_out_of_range():
    for misses, n in [(-1, 10), (11, 10), (0, 0)]:
        with pytest.raises(ValueError, match="misses must lie between 0 and n"):
            clopper_pearson(misses, n, 0.95)
    with pytest.raises(UsageError, match=r"between 0 and 1, given 1\.0"):
        clopper_pearson(1, 10, 1.0)
    with pytest.raises(ValueError, match="four cells"):
        paired_difference(1, -1, 2, 3)
    with pytest.raises(ValueError, match="four cells"):
        paired_difference(0, 0, 0, 0)


@given(st.integers(0, 500), st.integers(0, 60), st.integers(0, 60), st.integers(1, 5000))
def test_paired_difference_holds_zero_as_mcnemar_does(both, only_a, only_b, neither):
    # at D = 0 the score statistic is McNemar's (b - c)/sqrt(b + c), standard normal
    difference = paired_difference(both, only_a, only_b, neither)
    if only_a == only_b:
        assert not difference.resolved
    else:
        statistic = abs(only_a - only_b) / math.sqrt(only_a + only_b)
        assert difference.resolved == (statistic > stats.norm.ppf(0.975))
    assert difference.low <= difference.value <= difference.high


def test_paired_difference_with_no_discordant_sample():
    # b = c = 0 leaves n D <= z^2 (1 - D), hence D = z^2/(n + z^2)
    n, z2 = 400, stats.norm.ppf(0.975) ** 2
    difference = paired_difference(3, 0, 0, n - 3)
    assert (difference.low, difference.high) == pytest.approx((-z2 / (n + z2), z2 / (n + z2)))


def test_paired_difference_changes_sign_with_its_sides():
    a, b = paired_difference(50, 20, 9, 921), paired_difference(50, 9, 20, 921)
    assert (a.value, a.low, a.high) == pytest.approx((-b.value, -b.high, -b.low))


def test_paired_difference_in_large_samples_is_the_classical_one():
    # (b + c - (b - c)^2/n)/n^2, the multinomial variance of (b - c)/n
    n, b, c = 10**8, 90_000, 60_000
    difference = paired_difference(10**6, b, c, n - 10**6 - b - c)
    half = stats.norm.ppf(0.975) * math.sqrt(b + c - (b - c) ** 2 / n) / n
    assert difference.high - difference.value == pytest.approx(half, rel=1e-2)
    assert difference.value - difference.low == pytest.approx(half, rel=1e-2)
    assert difference.samples == n


@pytest.mark.statistical
def test_paired_difference_covers(seed):
    cells = np.array([0.004, 0.006, 0.002, 0.988])
    rng = np.random.default_rng(seed)
    covered = 0
    for both, only_a, only_b, neither in rng.multinomial(2000, cells, size=1000):
        d = paired_difference(int(both), int(only_a), int(only_b), int(neither))
        covered += d.low <= cells[1] - cells[2] <= d.high
    assert stats.binomtest(covered, 1000, 0.95).pvalue > 1e-3
