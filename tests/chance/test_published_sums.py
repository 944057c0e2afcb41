"""Sums of quantities whose distribution is published, and laws against OpenTURNS."""

import math

import numpy as np
import openturns as ot
import pytest
from numpy.testing import assert_allclose
from scipy.special import ndtr

from preloadmc.chance.laws import (
    Beta,
    Gumbel,
    LogNormal,
    Normal,
    Triangular,
    TruncatedNormal,
    Uniform,
    Weibull,
)
from preloadmc.chance.streams import CHUNK, normal_chunk

RECTANGULAR = Uniform.from_moments(0.0, 1.0)


@pytest.mark.published
@pytest.mark.statistical
@pytest.mark.parametrize(
    ("laws", "uncertainty", "ends", "half_digit", "density", "other"),
    [
        # JCGM 101:2008, 9.2.2 to 9.2.4 (values from memory): standard uncertainty and shortest 95 %
        # interval of the sum of four quantities with mean 0.
        ([Normal(0.0, 1.0)] * 4, 2.00, 3.92, 0.005, 0.029, 3.88),
        ([RECTANGULAR] * 4, 2.00, 3.88, 0.005, 0.030, 3.92),
        ([RECTANGULAR] * 3 + [RECTANGULAR.scaled(10.0)], 10.1, 17.0, 0.05, 0.015, 19.9),
    ],
    ids=["normal", "rectangular", "one rectangular dominates"],
)
def test_sum_of_four(laws, uncertainty, ends, half_digit, density, other, seed):
    chunks = 16
    total = np.empty((chunks, CHUNK))
    for k in range(chunks):
        z = normal_chunk(seed, k, CHUNK, 4)
        total[k] = sum(law.from_normal(z[:, i]) for i, law in enumerate(laws))
    n = total.size
    low, high = np.quantile(total, [0.025, 0.975])
    # Five s.e. of a quantile, from the density of the sum there, and of a standard deviation.
    error = 5.0 * math.sqrt(0.025 * 0.975 / n) / density
    assert [low, high] == pytest.approx([-ends, ends], abs=half_digit + error)
    assert np.std(total) == pytest.approx(
        uncertainty, abs=half_digit + 5.0 * uncertainty / math.sqrt(2.0 * n)
    )
    # What the other law would give, normal for rectangular or the reverse, is told apart.
    assert half_digit + error < abs(other - ends)


@pytest.mark.parametrize(
    ("law", "reference"),
    [
        (LogNormal(0.13, 0.0156), ot.LogNormalMuSigma(0.13, 0.0156, 0.0).getDistribution()),
        (Triangular(2.0, 3.0, 7.0), ot.Triangular(2.0, 3.0, 7.0)),
        (TruncatedNormal(1.0, 0.5, 0.2, 3.0), ot.TruncatedNormal(1.0, 0.5, 0.2, 3.0)),
        (Weibull(2.2, 5.0, 1.0), ot.WeibullMin(5.0, 2.2, 1.0)),
        (Weibull.from_moments(5.0, 1.0), ot.WeibullMinMuSigma(5.0, 1.0, 0.0).getDistribution()),
        (Gumbel(1500.0, 350.0), ot.GumbelMuSigma(1500.0, 350.0).getDistribution()),
        (Beta(2.0, 3.5, -1.0, 4.0), ot.Beta(2.0, 3.5, -1.0, 4.0)),
        (
            Beta.from_moments(1.2, 0.3, 0.5, 2.5),
            ot.BetaMuSigma(1.2, 0.3, 0.5, 2.5).getDistribution(),
        ),
    ],
    ids=lambda law: str(law)[:30],
)
def test_laws_against_openturns(law, reference):
    z = np.array([-6.0, -3.0, -1.0, 0.0, 1.0, 3.0, 6.0])
    below = [reference.computeQuantile(ndtr(u))[0] for u in z[z <= 0.0]]
    above = [reference.computeQuantile(ndtr(-u), True)[0] for u in z[z > 0.0]]
    assert_allclose(law.from_normal(z), below + above, rtol=1e-7)
    assert law.mean == pytest.approx(reference.getMean()[0], rel=1e-9)
    assert law.sd == pytest.approx(reference.getStandardDeviation()[0], rel=1e-7)
