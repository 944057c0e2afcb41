import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from preloadmc.errors import NotFiniteError
from preloadmc.estimates.moments import RunningMoments, quantile_with_interval

values = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=50)


@given(values, values)
def test_merged_moments_are_those_of_the_whole(first, second):
    merged = RunningMoments.of(np.array(first)).merge(RunningMoments.of(np.array(second)))
    whole = np.array(first + second)
    assert merged.n == whole.size
    assert merged.mean == pytest.approx(whole.mean(), rel=1e-9, abs=1e-6)
    assert merged.variance == pytest.approx(whole.var(ddof=1), rel=1e-9, abs=1e-6)
    assert (merged.minimum, merged.maximum) == (whole.min(), whole.max())


@pytest.mark.published
def test_digits_survive_a_large_offset():
    # NIST StRD univariate data set "NumAcc4": mean 10000000.2, s.d. 0.1 (certified, exact)
    data = np.array([10000000.2] + [10000000.1, 10000000.3] * 500)
    moments = RunningMoments.of(data[:400]).merge(RunningMoments.of(data[400:]))
    assert moments.mean == pytest.approx(10000000.2, rel=1e-15)
    assert moments.sd == pytest.approx(0.1, rel=1e-7)


def test_a_single_value_has_no_spread():
    assert RunningMoments.of(np.array([3.0])).sd == 0.0


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_value_that_is_not_finite_raises(bad):
    with pytest.raises(NotFiniteError, match="NaN or infinite"):
        RunningMoments.of(np.array([1.0, bad]))


def test_empty_sets_are_refused():
    with pytest.raises(ValueError, match="at least one value"):
        RunningMoments.of(np.array([]))
    with pytest.raises(ValueError, match="at least one value"):
        quantile_with_interval(np.array([]), 0.5)
    with pytest.raises(ValueError, match="0 < p < 1"):
        quantile_with_interval(np.array([1.0]), 1.0)


@pytest.mark.published
def test_median_ranks_for_a_hundred():
    # order statistics 40 and 61 hold the median of 100 with 96.5 % (David and Nagaraja,
    # Order Statistics, 3rd ed., section 7.1: the binomial sum), checked by that sum here
    quantile = quantile_with_interval(np.arange(1.0, 101.0), 0.5)
    assert (quantile.low, quantile.high) == (40.0, 61.0)
    assert stats.binom.cdf(60, 100, 0.5) - stats.binom.cdf(39, 100, 0.5) >= 0.95
    assert stats.binom.cdf(59, 100, 0.5) - stats.binom.cdf(40, 100, 0.5) < 0.95


# confidences at which no binomial sum ties with the tail
@given(
    st.integers(1, 400), st.floats(0.001, 0.999), st.sampled_from([0.5017, 0.9013, 0.9503, 0.9907])
)
def test_quantile_against_scipy(n, p, confidence):
    data = np.arange(1.0, n + 1.0)
    quantile = quantile_with_interval(data, p, confidence)
    expected = stats.quantile_test(data, q=data[0], p=p).confidence_interval(confidence)
    low = -math.inf if math.isnan(expected.low) else expected.low
    high = math.inf if math.isnan(expected.high) else expected.high
    assert (quantile.low, quantile.high) == (low, high)


def test_a_small_sample_gives_no_bound_far_out():
    quantile = quantile_with_interval(np.arange(10.0), 0.01)
    assert quantile.low == -math.inf
    assert quantile_with_interval(np.arange(10.0), 0.99).high == math.inf
