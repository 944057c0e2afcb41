"""The part of a law above zero."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from preloadmc.chance.laws import Constant, Gumbel, LogNormal, Normal, TruncatedNormal, Uniform
from preloadmc.chance.truncation import AboveZero, above_zero

Z = np.linspace(-12.0, 12.0, 49)


@pytest.mark.parametrize(
    "law", [LogNormal(0.13, 0.02), Uniform(0.0, 1.0), Normal(1.0, 0.04), Constant(2.0)]
)
def test_a_law_that_never_falls_to_zero_stays_as_it_is(law):
    assert above_zero(law) is law


@pytest.mark.parametrize(
    ("law", "share"),
    [(Normal(1.0, 0.2), "2.9e-07"), (Constant(0.0), "1"), (Uniform(-1.0, 1.0), "0.5")],
)
def test_a_law_that_often_falls_to_zero_is_refused(law, share):
    with pytest.raises(ValueError, match=f"{share} of the {law.kind} law lies at or below zero"):
        above_zero(law)


@pytest.mark.parametrize("sd", [0.09, 0.1, 0.12, 0.14, 0.166])
def test_normal_is_truncated(sd):
    law = above_zero(Normal(1.0, sd))
    assert law == TruncatedNormal(1.0, sd, 0.0, math.inf)
    assert np.all(law.from_normal(Z) > 0.0)
    # Shares above a value grow by 1/(1 - share cut).
    expected = stats.norm(1.0, sd).isf(stats.norm.sf(Z) * stats.norm.sf(-1.0 / sd))
    assert_allclose(law.from_normal(Z)[Z > -5], expected[Z > -5], rtol=1e-9)


def test_truncated_normal_is_cut_further():
    law = TruncatedNormal(1.0, 0.16, -0.1, 2.0)
    assert above_zero(law) == TruncatedNormal(1.0, 0.16, 0.0, 2.0)


def test_any_other_law_is_cut():
    whole = Gumbel(1.0, 0.35)
    law = above_zero(whole)
    assert isinstance(law, AboveZero)
    cut = float(whole.cdf(0.0))
    assert 0.0 < cut < 1e-9
    x = law.from_normal(Z)
    assert np.all(x > 0.0)
    assert np.all(np.diff(x) >= 0.0)
    upper, lower = Z[Z > 0.0], Z[(Z > -6.0) & (Z <= 0.0)]
    assert_allclose(law.sf(law.from_normal(upper)), stats.norm.sf(upper), rtol=1e-10)
    assert_allclose(law.cdf(law.from_normal(lower)), stats.norm.cdf(lower), rtol=1e-6)
    assert_allclose(law.to_normal(law.from_normal(lower)), lower, atol=1e-6)
    assert (law.cdf(-1.0), law.sf(-1.0), law.density(-1.0)) == (0.0, 1.0, 0.0)
    assert law.density(1.0) == pytest.approx(whole.density(1.0))
    assert (law.mean, law.sd) == (whole.mean, whole.sd)
    assert law.support == (0.0, math.inf)
    assert law.describe_parameters() == whole.describe_parameters()


def test_a_cut_law_scales_and_narrows():
    law = above_zero(Gumbel(1.0, 0.35))
    assert law.scaled(2.0) == AboveZero(Gumbel(2.0, 0.7))
    assert law.scaled_spread(0.5) == Gumbel(1.0, 0.175)
    assert law.scaled_spread(0.0) == Constant(1.0)
    with pytest.raises(ValueError, match="cannot be shifted"):
        law.shifted(1.0)
    with pytest.raises(ValueError, match="factor is 0"):
        law.scaled(0.0)
