"""The table behind the beta law: both tails, all shapes."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.special import betainc, expit, log_ndtr, ndtr

from preloadmc.chance.beta_quantile import beta_logit

Z = np.linspace(-12.0, 12.0, 1777)


@pytest.mark.parametrize(
    ("alpha", "beta"),
    [(0.05, 0.05), (0.05, 1e6), (0.3, 2.0), (1.0, 1.0), (1.03125, 0.25), (2.0, 3.0), (80.0, 4e3)],
)
def test_share_below_the_quantile(alpha, beta):
    logit = beta_logit(Z, alpha, beta)
    assert np.all(np.diff(logit) > 0.0)
    below, above = (Z <= 0.0) & (logit < 700), (Z > 0.0) & (logit > -700)
    below &= logit > -700
    above &= logit < 700
    # An error of one part in 10^8 of the distance from the end, times the shape, in the share.
    tolerance = 1e-8 * max(1.0, alpha, beta)
    assert_allclose(betainc(alpha, beta, expit(logit[below])), ndtr(Z[below]), rtol=tolerance)
    assert_allclose(betainc(beta, alpha, expit(-logit[above])), ndtr(-Z[above]), rtol=tolerance)


@pytest.mark.parametrize("beta", [0.2, 1.0, 5.0])
def test_closed_form_with_one_shape_equal_to_one(beta):
    # P(T > t) = (1 - t)^β
    log_rest = log_ndtr(-Z) / beta
    expected = np.log(-np.expm1(log_rest)) - log_rest
    assert_allclose(beta_logit(Z, 1.0, beta), expected, rtol=1e-9, atol=1e-9)
    assert_allclose(beta_logit(Z, beta, 1.0), -expected[::-1], rtol=1e-9, atol=1e-9)


def test_straight_on_beyond_the_table():
    z = np.array([-np.inf, -40.0, -12.5, 12.5, 40.0, np.inf])
    logit = beta_logit(z, 2.0, 3.0)
    assert np.all(np.diff(logit) > 0.0)
    assert logit[[0, -1]].tolist() == [-np.inf, np.inf]
