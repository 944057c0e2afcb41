"""`from_normal` far out: finite, rising, reversible, exact in both tails, for any parameters."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.special import log_ndtr, ndtr

from preloadmc.chance.laws import (
    Beta,
    Constant,
    Gumbel,
    LogNormal,
    Normal,
    Tabulated,
    Triangular,
    TruncatedNormal,
    Uniform,
    Weibull,
)

means = st.floats(-1e6, 1e6)
sizes = st.floats(1e-6, 1e6)
ratios = st.floats(1e-3, 3.0)
shares = st.one_of(st.just(0.0), st.floats(1e-9, 1.0))
shapes = st.floats(0.1, 200.0)


@st.composite
def truncated_normals(draw):
    mean, sd = draw(means), draw(sizes)
    low, width = draw(st.floats(-8.0, 3.0)), draw(st.floats(0.5, 12.0))
    high = draw(st.sampled_from([mean + max(low + width, -4.0) * sd, math.inf]))
    return TruncatedNormal(mean, sd, mean + low * sd, high)


smooth_laws = st.one_of(
    st.builds(Normal, means, sizes),
    st.builds(lambda mean, cov: LogNormal(mean, cov * mean), sizes, ratios),
    st.builds(lambda mean, cov: Weibull.from_moments(mean, cov * mean), sizes, ratios),
    st.builds(Gumbel, means, sizes),
    st.builds(Uniform.around, means, sizes),
    st.builds(lambda a, b, w: Triangular(a, a + b * w, a + w), means, shares, sizes),
    st.builds(lambda a, b, low, w: Beta(a, b, low, low + w), shapes, shapes, means, sizes),
    truncated_normals(),
)
laws = st.one_of(
    smooth_laws,
    st.builds(Constant, means),
    st.lists(means, min_size=2, max_size=50).map(lambda values: Tabulated(tuple(values))),
)


@settings(deadline=None)
@given(laws, st.lists(st.floats(-12.0, 12.0), min_size=1, max_size=40))
def test_finite_rising_and_within_the_support(law, numbers):
    z = np.sort(np.array([-12.0, *numbers, 12.0]))
    x = law.from_normal(z)
    low, high = law.support
    assert x.shape == z.shape
    assert np.all(np.isfinite(x))
    assert np.all((low <= x) & (x <= high))
    assert np.all(np.diff(x) >= -1e-14 * np.abs(x[1:]) - 1e-13 * law.sd)


@settings(deadline=None)
@given(smooth_laws, st.floats(-5.0, 5.0))
def test_there_and_back(law, z):
    x = law.from_normal(np.array([z]))
    found = law.to_normal(x)[0]
    # A rounding of x by one part in 2^52 is this much of a normal number.
    ends = [abs(end) for end in law.support if math.isfinite(end)]
    size = max(abs(float(x[0])), *ends, 0.0)
    near = float(x[0]) + 1e-15 * size * np.array([-1.0, 0.0, 1.0])
    slope = law.density(near).max() / math.exp(-0.5 * z * z) * math.sqrt(2.0 * math.pi)
    rounding = 1e-15 * size * slope
    assume(rounding < 0.1)  # beyond, x itself has lost z
    assume(float(x[0]) not in law.support)  # so it has at an end
    assert found == pytest.approx(z, abs=1e-9 + rounding)


@pytest.mark.parametrize(
    "law",
    [
        Normal(0.13, 0.01),
        LogNormal(0.13, 0.02),
        Weibull(3.0, 2.0),
        Weibull(0.7, 2.0),
        Gumbel(0.0, 1.0),
        Beta(2.0, 3.0, 0.0, 1.0),
    ],
)
def test_there_and_back_to_twelve(law):
    z = np.linspace(-12.0, 12.0, 97)
    # Next to an upper end x itself cannot hold the distance.
    z = z[law.sf(law.from_normal(z)) > 1e-12] if math.isfinite(law.support[1]) else z
    assert_allclose(law.to_normal(law.from_normal(z)), z, atol=1e-10)


def test_distance_from_an_end_is_exact_far_out():
    """With the end at zero the value is the distance: closed forms in the share q beyond z."""
    z = np.array([3.0, 6.0, 9.0, 12.0])
    q = ndtr(-z)
    half_pi = math.sqrt(0.5 * math.pi)
    for law, distance in [
        (Uniform(0.0, 2.0), 2.0 * q),
        (Triangular(0.0, 0.0, 2.0), 2.0 * q / (1.0 + np.sqrt(1.0 - q))),
        (Triangular(0.0, 2.0, 2.0), 2.0 * np.sqrt(q)),
        (Weibull(2.0, 2.0), 2.0 * np.sqrt(-np.log1p(-q))),
    ]:
        assert_allclose(law.from_normal(-z), distance, rtol=1e-12)
    for law, distance in [
        (Uniform(-2.0, 0.0), 2.0 * q),
        (Triangular(-2.0, 0.0, 0.0), 2.0 * q / (1.0 + np.sqrt(1.0 - q))),
        (Triangular(-2.0, -2.0, 0.0), 2.0 * np.sqrt(q)),
    ]:
        assert_allclose(-law.from_normal(z), distance, rtol=1e-12)
    # Half normal law: the density next to the end is 2 φ(0), hence distance q sqrt(π/2).
    half_normal = TruncatedNormal(0.0, 1.0, 0.0, math.inf)
    assert_allclose(half_normal.from_normal(-z[2:]), q[2:] * half_pi, rtol=1e-12)
    other_half = TruncatedNormal(0.0, 1.0, -math.inf, 0.0)
    assert_allclose(-other_half.from_normal(z[2:]), q[2:] * half_pi, rtol=1e-12)


def test_tails_without_an_end_are_exact_far_out():
    z = np.array([8.5, 10.0, 12.0])
    # P(X > x) = exp(-x) at x = -ln P(Z > z).
    assert_allclose(Weibull(1.0, 1.0).from_normal(z), -log_ndtr(-z), rtol=1e-14)
    gumbel = Gumbel(0.0, 1.0)
    assert_allclose(np.log(gumbel.sf(gumbel.from_normal(z))), log_ndtr(-z), rtol=1e-13)
    # The half normal law has twice the upper tail of the normal one.
    half_normal = TruncatedNormal(0.0, 1.0, 0.0, math.inf)
    assert_allclose(ndtr(-half_normal.from_normal(z)), 0.5 * ndtr(-z), rtol=1e-12)


@settings(deadline=None)
@given(truncated_normals())
def test_truncated_normal_has_no_seam_next_to_an_end(law):
    z = np.linspace(-9.0, 9.0, 2001)
    x = law.from_normal(z)
    size = max(abs(law.parent_mean), abs(law.low), law.parent_sd)
    assert np.all(np.diff(x) >= -1e-14 * size)


@settings(deadline=None)
@given(smooth_laws)
def test_mean_and_sd_are_those_of_the_values(law):
    """Integrate `from_normal` and its square over the normal density."""
    z = np.linspace(-12.0, 12.0, 8001)
    weight = np.exp(-0.5 * z * z)
    weight /= weight.sum()
    x = (law.from_normal(z) - law.mean) / law.sd
    # Corners cost accuracy, and so do parameters that are large beside the spread.
    rounding = 1e-15 * max(abs(end) for end in (law.mean, *law.support) if math.isfinite(end))
    assert float(weight @ x) == pytest.approx(0.0, abs=1e-4 + rounding / law.sd)
    assert float(weight @ (x * x)) == pytest.approx(1.0, abs=1e-3 + rounding / law.sd)
