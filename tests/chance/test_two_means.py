"""The difference of two means, against scipy; how many tests separate them, by simulation."""

import numpy as np
import pytest
from scipy import stats

from preloadmc.chance.two_means import POWER, mean_difference, separating_tests


def test_the_interval_is_welchs(seed):
    rng = np.random.default_rng(seed)
    first, second = rng.normal(0.8, 0.03, 6), rng.normal(0.7, 0.12, 9)
    found = mean_difference(first, second, 0.95)
    other = stats.ttest_ind(second, first, equal_var=False)
    ends = other.confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((ends.low, ends.high))
    assert found.degrees == pytest.approx(other.df)
    assert found.value == pytest.approx(np.mean(second) - np.mean(first))
    assert found.is_resolved == (other.pvalue < 0.05)


def test_series_without_scatter():
    apart = mean_difference(np.array([1.0, 1.0]), np.array([2.0, 2.0]), 0.95)
    assert (apart.value, apart.low, apart.high, apart.tests_to_separate) == (1.0, 1.0, 1.0, 2)
    alike = mean_difference(np.array([1.0, 1.0]), np.array([1.0, 1.0]), 0.95)
    assert not alike.is_resolved
    assert alike.tests_to_separate is None
    with pytest.raises(ValueError, match="tests of the second is 1"):
        mean_difference(np.array([1.0, 1.0]), np.array([1.0]), 0.95)


def test_next_to_no_difference_takes_more_tests_than_anybody_makes():
    assert separating_tests(1e-6, (1.0, 1.0), 0.95) is None
    assert separating_tests(-0.5, (1.0, 1.0), 0.95) == separating_tests(0.5, (1.0, 1.0), 0.95)
    assert separating_tests(1e6, (1.0, 1.0), 0.95) == 2


@pytest.mark.statistical
def test_so_many_tests_separate_as_often_as_planned(seed):
    rng = np.random.default_rng(seed)
    sds, apart = (0.03, 0.10), 0.08
    n = separating_tests(apart, sds, 0.95)

    def separated(n, series=4000):
        first = rng.normal(0.0, sds[0], (series, n))
        second = rng.normal(apart, sds[1], (series, n))
        p = stats.ttest_ind(second, first, axis=1, equal_var=False).pvalue
        return int(np.sum(p < 0.05)), series

    # Degrees are those of the true s.d.: within 2 of 100 of the planned share.
    few = stats.binomtest(*separated(n), POWER - 0.02, alternative="less").pvalue
    assert few > 1e-4
    assert stats.binomtest(*separated(n // 2), POWER - 0.02, alternative="less").pvalue < 1e-4
