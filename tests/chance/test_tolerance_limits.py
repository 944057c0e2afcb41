"""Tolerance limits against published factors, closed forms and repeated test series."""

import math

import numpy as np
import pytest
from numpy.random import default_rng
from scipy import stats
from scipy.special import ndtri

from preloadmc.chance.tolerance_limits import (
    distribution_free,
    normal_limits,
    one_sided_factor,
    required_tests,
    required_tests_by_law,
    two_sided_factor,
)

# Twenty unlubricated preloads in kN: J. E. Shigley, C. R. Mischke, R. G. Budynas, Mechanical
# Engineering Design, Table 8-13 (J. C. Blake, H. J. Kurtz, 1965).
PRELOADS = np.array(
    [
        *(23.6, 27.6, 28.0, 29.4, 30.3, 30.7, 32.9, 33.8, 33.8, 33.8),
        *(34.7, 35.6, 35.6, 37.4, 37.8, 37.8, 39.2, 40.0, 40.5, 42.7),
    ]
)


@pytest.mark.published
def test_handbook_example():
    # NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3: n = 43, 90 % at 99 %; one-sided
    # 1.8752 by its closed approximation, two-sided 2.2173 by Howe's. Both are worked out here;
    # the exact factors differ from them in the third digit.
    n, z_content, z_confidence = 43, float(ndtri(0.90)), float(ndtri(0.99))
    a = 1.0 - z_confidence**2 / (2 * (n - 1))
    b = z_content**2 - z_confidence**2 / n
    closed = (z_content + math.sqrt(z_content**2 - a * b)) / a
    assert closed == pytest.approx(1.8752, abs=5e-5)
    howe = float(ndtri(0.95)) * math.sqrt((n - 1) * (1 + 1 / n) / stats.chi2.ppf(0.01, n - 1))
    assert howe == pytest.approx(2.2173, abs=5e-5)

    # The exact ones: non-central t of scipy.stats, and the mean over z by adaptive quadrature.
    exact = stats.nct.ppf(0.99, n - 1, math.sqrt(n) * z_content) / math.sqrt(n)
    assert one_sided_factor(n, 0.90, 0.99) == pytest.approx(exact, rel=1e-6)
    assert one_sided_factor(n, 0.90, 0.99) == pytest.approx(1.87395, abs=5e-6)
    assert two_sided_factor(n, 0.90, 0.99) == pytest.approx(2.22283, abs=5e-6)
    assert one_sided_factor(n, 0.90, 0.99) == pytest.approx(closed, rel=1e-3)
    assert two_sided_factor(n, 0.90, 0.99) == pytest.approx(howe, rel=3e-3)


@pytest.mark.parametrize(
    ("n", "factors"),
    [
        (5, (3.4066, 5.7411, 7.5019, 11.3897)),
        (10, (2.3546, 3.9811, 5.2033, 7.8997)),
        (25, (1.8381, 3.1580, 4.1424, 6.3073)),
        (50, (1.6456, 2.8624, 3.7656, 5.7471)),
    ],
)
def test_one_sided_factors(n, factors):
    # Exact by the non-central t, confidence 95 %, worked out apart from this program.
    found = [one_sided_factor(n, content, 0.95) for content in (0.90, 0.99, 0.999, 0.999999)]
    assert found == pytest.approx(factors, abs=5e-5)


@pytest.mark.parametrize("n", [2, 3, 10, 200, 10_000])
@pytest.mark.parametrize(("content", "confidence"), [(0.5, 0.95), (0.9, 0.5), (0.9999, 0.999)])
def test_two_sided_factor_by_adaptive_quadrature(n, content, confidence):
    # The half-width by the non-central chi-square law of one degree, which is (z + offset)².
    from scipy.integrate import quad

    k = two_sided_factor(n, content, confidence)

    def held(z):
        r = math.sqrt(stats.ncx2.ppf(content, 1, z * z / n))
        return 2 * stats.norm.pdf(z) * stats.chi2.sf((n - 1) * (r / k) ** 2, n - 1)

    assert quad(held, 0.0, 9.0, epsabs=1e-10)[0] == pytest.approx(confidence, abs=1e-7)


def test_many_tests_need_only_the_normal_quantile():
    # k tends to the quantile of the law, by a term of order 1/sqrt(n): 1.645 sqrt((1 + z²/2)/n).
    n, z = 1_000_000, float(ndtri(0.99))
    near = z + 1.6449 * math.sqrt((1 + z * z / 2) / n)
    assert one_sided_factor(n, 0.99, 0.95) == pytest.approx(near, abs=1e-5)
    # Two-sided, the mean no longer matters: the error of the s.d. alone.
    near = float(ndtri(0.995)) * (1 + 1.6449 / math.sqrt(2 * n))
    assert two_sided_factor(n, 0.99, 0.95) == pytest.approx(near, abs=1e-5)


@pytest.mark.statistical
def test_limits_hold_in_their_share_of_series(seed):
    series, n, content, confidence = 20_000, 8, 0.95, 0.90
    values = 10.0 + 2.0 * default_rng(seed).standard_normal((series, n))
    mean, sd = values.mean(axis=1), values.std(axis=1, ddof=1)
    one = one_sided_factor(n, content, confidence) * sd
    two = two_sided_factor(n, content, confidence) * sd
    law = stats.norm(10.0, 2.0)
    lower = np.sum(law.sf(mean - one) >= content)
    upper = np.sum(law.cdf(mean + one) >= content)
    both = np.sum(law.cdf(mean + two) - law.cdf(mean - two) >= content)
    for count in (lower, upper, both):
        assert stats.binomtest(int(count), series, confidence).pvalue > 1e-4
    # Factors 5 % too large or too small would be seen.
    for wrong in (0.95, 1.05):
        count = np.sum(law.sf(mean - wrong * one) >= content)
        assert stats.binomtest(int(count), series, confidence).pvalue < 1e-4


def test_limits_of_twenty_preloads():
    # Mean 34.260 and s.d. 4.9097 kN, divisor n - 1, with the exact factors 1.9260, 2.3960 and
    # 3.2952 of n = 20 and 95 % confidence, worked out apart from this program.
    found = [normal_limits(PRELOADS, content, 0.95).lower for content in (0.90, 0.95, 0.99)]
    assert found == pytest.approx([24.805, 22.498, 18.084], abs=0.01)
    limits = normal_limits(PRELOADS, 0.95, 0.95)
    assert limits.upper + limits.lower == pytest.approx(2 * 34.26)
    assert limits.two_sided[0] < limits.lower
    assert (limits.n, limits.content, limits.confidence) == (20, 0.95, 0.95)


def test_success_runs():
    # n >= ln(1 - confidence)/ln(content): 58.40, 298.07 and 21.85.
    assert required_tests(0.95, 0.95) == 59
    assert required_tests(0.99, 0.95) == 299
    assert required_tests(0.90, 0.90) == 22
    # Ties: 0.5² leaves exactly 25 %.
    assert required_tests(0.5, 0.75) == 2
    assert required_tests(0.5, 0.5) == 1
    # Very small shares: ln(1e-6)/ln(1 - 1e-9).
    assert required_tests(1 - 1e-9, 1 - 1e-6) == pytest.approx(13.8155e9, rel=1e-4)


@pytest.mark.parametrize("misses", [1, 2, 10])
def test_runs_with_misses(misses):
    n = required_tests(0.95, 0.90, misses)
    assert stats.binom.cdf(misses, n, 0.05) <= 0.10 < stats.binom.cdf(misses, n - 1, 0.05)
    # So many misses in n tests leave exactly the claim as Clopper and Pearson's limit.
    limit = stats.binomtest(n - misses, n, alternative="greater").proportion_ci(0.90).low
    assert limit >= 0.95


def test_distribution_free_limits():
    # David and Nagaraja's table values (from memory): 59 tests for one end, 93 for both
    # (or for the second value of one end).
    ordered = np.arange(1.0, 1001.0)
    few = distribution_free(ordered[:58], 0.95, 0.95)
    assert (few.lower, few.upper, few.two_sided) == (None, None, None)
    assert (few.tests_one_sided, few.tests_two_sided) == (59, 93)
    one = distribution_free(ordered[:92][::-1], 0.95, 0.95)
    assert (one.lower, one.upper, one.two_sided) == (1.0, 92.0, None)
    both = distribution_free(ordered[:93], 0.95, 0.95)
    assert (both.lower, both.upper, both.two_sided) == (2.0, 92.0, (1.0, 93.0))
    many = distribution_free(ordered, 0.95, 0.95)
    rank = int(many.lower)
    # Beta law of the share below the r-th of n values: r and n + 1 - r.
    for r, within in ((rank, True), (rank + 1, False)):
        assert (stats.beta.cdf(0.05, r, 1001 - r) >= 0.95) == within
    assert many.upper == 1001.0 - rank
    low, high = many.two_sided
    assert low == 1001.0 - high == rank // 2


def test_tests_by_law():
    for distance in (2.5, 3.0, 4.0, 6.0):
        n = required_tests_by_law(distance, 0.99, 0.95)
        assert one_sided_factor(n, 0.99, 0.95) <= distance < one_sided_factor(n - 1, 0.99, 0.95)
    assert required_tests_by_law(100.0, 0.99, 0.95) == 2
    # The limit at or within the quantile of the law, and barely beyond it.
    assert required_tests_by_law(2.3, 0.99, 0.95) is None
    assert required_tests_by_law(float(ndtri(0.99)), 0.99, 0.95) is None
    assert required_tests_by_law(2.3265, 0.99, 0.95) is None


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: one_sided_factor(1, 0.9, 0.9), "n is 1: it must be 2 tests or more"),
        (lambda: two_sided_factor(5, 1.0, 0.9), "content is 1: it must be from 0.5 to below 1"),
        (lambda: required_tests(0.9, 0.3), "confidence is 0.3: it must be from 0.5 to below 1"),
        (lambda: required_tests(0.9, 0.9, -1), "misses is -1: it must be zero or above"),
    ],
)
def test_impossible_questions_are_named(call, words):
    with pytest.raises(ValueError, match=words):
        call()
