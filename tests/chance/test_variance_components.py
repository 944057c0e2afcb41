"""Variances between and within lots: a textbook table, closed forms, and drawn lots."""

import numpy as np
import pytest
from numpy.random import default_rng
from scipy import stats

from preloadmc.chance.variance_components import variance_components

# Strength of cloth from four looms: D. C. Montgomery, Design and Analysis of Experiments, Wiley,
# example of a random effect (5th ed., 12-1; values from memory).
LOOMS = np.array(
    [98.0, 97.0, 99.0, 96.0, 91.0, 90.0, 93.0, 92.0, 96.0, 95.0, 97.0, 95.0, 95.0, 96.0, 99.0, 98.0]
)
LOTS = [name for name in "abcd" for _ in range(4)]


@pytest.mark.published
def test_textbook_looms():
    found = variance_components(LOOMS, LOTS)
    # Mean squares 29.73 and 1.90, F = 15.68, variance between looms 6.96.
    assert found.variance_within == pytest.approx(1.90, abs=0.005)
    assert found.f * found.variance_within == pytest.approx(29.73, abs=0.005)
    assert found.f == pytest.approx(15.68, abs=0.005)
    assert found.variance_between == pytest.approx(6.96, abs=0.005)
    assert (found.df_between, found.df_within, found.harmonic_size) == (3, 12, 4.0)
    assert (found.sd_between, found.sd_within) == pytest.approx((2.638, 1.377), abs=0.001)


def test_lots_of_different_sizes():
    # Lots {1, 3}, {5}, {8, 9, 10}: means 2, 5, 9 and within (2 + 0 + 2)/3; 3/(1/2 + 1 + 1/3).
    values = np.array([8.0, 1.0, 9.0, 5.0, 3.0, 10.0])
    found = variance_components(values, ["z", "x", "z", "y", "x", "z"])
    assert (found.lots, found.sizes, found.means) == (("z", "x", "y"), (3, 2, 1), (9.0, 2.0, 5.0))
    assert found.mean == pytest.approx(16.0 / 3.0)
    assert found.variance_within == pytest.approx(4.0 / 3.0)
    assert found.harmonic_size == pytest.approx(18.0 / 11.0)
    # Means 2, 5, 9: their variance is 37/3.
    assert found.variance_between == pytest.approx(37.0 / 3.0 - (4.0 / 3.0) * 11.0 / 18.0)
    f = stats.f_oneway([8.0, 9.0, 10.0], [1.0, 3.0], [5.0]).statistic
    assert found.f == pytest.approx(float(f))


def test_lot_means_that_agree_better_than_chance():
    found = variance_components(np.array([1.0, 3.0, 1.0, 3.0]), ["a", "a", "b", "b"])
    assert (found.variance_between, found.f, found.sd_between) == (0.0, 0.0, 0.0)


@pytest.mark.statistical
def test_variances_are_without_bias(seed):
    # Sizes 2, 3 and 10 with so much between lots that none is ever cut off at zero.
    rng, series, sizes = default_rng(seed), 1500, (2, 3, 10)
    lots = [str(i) for i, size in enumerate(sizes) for _ in range(size)]
    between, within = np.empty(series), np.empty(series)
    for i in range(series):
        means = np.repeat(5.0 * rng.standard_normal(3), sizes)
        found = variance_components(means + 2.0 * rng.standard_normal(15), lots)
        between[i], within[i] = found.variance_between, found.variance_within
    for variance, true in ((between, 25.0), (within, 4.0)):
        error = variance.std(ddof=1) / np.sqrt(series)
        assert abs(variance.mean() - true) < 4.0 * error
        # Half as much again would be seen.
        assert abs(variance.mean() - 1.5 * true) > 4.0 * error


@pytest.mark.parametrize(
    ("values", "lots", "words"),
    [
        ([1.0, 2.0], ["a", "a"], "takes two lots or more, not 1"),
        ([1.0, 2.0], ["a", "b"], "a lot of two tests or more; each has one"),
        ([0.1, 0.1, 0.1, 0.7], ["a", "a", "a", "b"], "no lot shows any scatter"),
    ],
)
def test_what_cannot_be_divided_is_named(values, lots, words):
    with pytest.raises(ValueError, match=words):
        variance_components(np.array(values), lots)
