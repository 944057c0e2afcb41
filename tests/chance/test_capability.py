"""Capability: closed forms, and intervals over repeated series."""

import numpy as np
import pytest
from numpy.random import default_rng
from scipy import stats

from preloadmc.chance.capability import capability


def test_indices_by_hand():
    # Mean 10 and s.d. 1; limits 2 below and 7 above: Cm = 9/6, Cmk = 2/3.
    found = capability(np.array([9.0, 10.0, 11.0]), 8.0, 17.0)
    assert (found.n, found.cm, found.cmk) == (3, pytest.approx(1.5), pytest.approx(2.0 / 3.0))
    # Cm² (n - 1)/σ² s² is chi-square with two degrees: 0.0506 and 7.3778 at 2.5 and 97.5 %.
    ends = 1.5 * np.sqrt(stats.chi2.ppf((0.025, 0.975), 2) / 2.0)
    assert (found.cm_low, found.cm_high) == pytest.approx(ends)
    # The mean outside the limits.
    assert capability(np.array([9.0, 10.0, 11.0]), 13.0, 17.0).cmk == pytest.approx(-1.0)


@pytest.mark.statistical
def test_intervals_hold_in_their_share_of_series(seed):
    series, n = 1000, 40
    samples = 10.0 + default_rng(seed).standard_normal((series, n))
    found = [capability(values, 5.5, 16.0) for values in samples]
    cm = sum(each.cm_low <= 10.5 / 6.0 <= each.cm_high for each in found)
    cmk = sum(each.cmk_low <= 1.5 <= each.cmk_high for each in found)
    assert stats.binomtest(cm, series, 0.95).pvalue > 1e-4
    # Approximate: it holds 93 to 97 %.
    assert stats.binomtest(cmk, series, 0.93, alternative="less").pvalue > 1e-4
    assert stats.binomtest(cmk, series, 0.97, alternative="greater").pvalue > 1e-4
    # Other values would be seen to be outside.
    wrong = sum(each.cm_low <= 1.1 * 10.5 / 6.0 <= each.cm_high for each in found)
    assert stats.binomtest(wrong, series, 0.95).pvalue < 1e-4
    wrong = sum(each.cmk_low <= 1.3 <= each.cmk_high for each in found)
    assert stats.binomtest(wrong, series, 0.93, alternative="less").pvalue < 1e-4


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: capability(np.array([1.0, 2.0]), 4.0, 4.0), "low is 4: it must be below high, 4"),
        (lambda: capability(np.array([1.0, 1.0]), 0.0, 4.0), "sd is 0: it must be above zero"),
    ],
)
def test_what_has_no_index_is_named(call, words):
    with pytest.raises(ValueError, match=words):
        call()
