"""Shares of a miss against closed forms: linear limits, two symmetric points, groups."""

import math

import numpy as np
import pytest
from scipy.special import log_ndtr, ndtr, ndtri

from preloadmc.errors import EstimateError
from preloadmc.estimates import miss_shares as module
from preloadmc.estimates.design_point import design_points
from preloadmc.estimates.importance import failure_sample
from preloadmc.estimates.miss_shares import LEAST_EFFECTIVE, miss_shares
from preloadmc.estimates.mixture import around, standard_normal
from preloadmc.estimates.subset import subset_runs

# Limit g = beta - a.z, |a| = 1. Given a miss, a.z is a standard normal beyond beta, and what is
# across it is as without a miss. Hence the density of z_i given a miss is, in proportion to the
# normal one, Phi((a_i z - beta)/sqrt(1 - a_i^2))/Phi(-beta); for a_i = 1 the divergence is -ln p.


def divergence(a, beta, sides=1):
    """Closed form as one quadrature; `sides` = 2 for misses beyond beta in either direction."""
    if abs(a) > 1.0 - 1e-12:
        return -math.log(sides * ndtr(-beta))
    z = np.linspace(-14.0, 14.0, 100_001)
    across = math.sqrt(1.0 - a * a)
    log_ratio = log_ndtr((a * z - beta) / across)
    if sides == 2:
        log_ratio = np.logaddexp(log_ratio, log_ndtr((-a * z - beta) / across))
    log_ratio -= log_ndtr(-beta) + math.log(sides)
    density = np.exp(log_ratio - 0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return float(np.sum(density * log_ratio) * (z[1] - z[0]))


def shares_of(a, beta, sides=1):
    exact = np.array([divergence(each, beta, sides) for each in a])
    return exact / exact.sum()


def unit(*a):
    return np.array(a) / np.linalg.norm(a)


def misses(a, beta, rng, size=3000, sides=1):
    """A weighted sample in random order from the mixture around the design points."""

    def margins(z):
        along = z @ a
        return np.column_stack([beta - along, beta + along][:sides])

    points = design_points(margins, len(a), rng=np.random.default_rng(0))
    found = failure_sample(margins, around(points, [None] * len(points)), size=size, rng=rng)
    order = rng.permutation(len(found.z))
    return found.z[order], found.weights[order]


def named(a):
    return [f"x{i}" for i in range(len(a))]


@pytest.mark.statistical
def test_intervals_of_mean_and_spread_are_those_of_a_normal_sample(seed):
    # Weighted misses of n = 1/sum w² equal ones, in each input normal with s.d. 2: the standard
    # errors of mean and s.d. are 2/sqrt(n) and 2/sqrt(2 n). Student's 97.5 % quantile of 19 degrees
    # of freedom is 2.093. A half width itself scatters by 1/sqrt(2 · 19), 16 %, and the mean of 25
    # by 3.2 %: 13 % is four times that.
    rng = np.random.default_rng(seed)
    z, weights = 2.0 * rng.standard_normal((2000, 25)), rng.uniform(0.2, 1.8, 2000)
    weights /= weights.sum()
    found = miss_shares(z, weights, named(range(25)))
    error = 2.0 * math.sqrt(weights @ weights)
    of_mean, of_sd = found.mean_high - found.mean_low, found.sd_high - found.sd_low
    assert of_mean.mean() / 2.0 == pytest.approx(2.093 * error, rel=0.13)
    assert of_sd.mean() / 2.0 == pytest.approx(2.093 * error / math.sqrt(2.0), rel=0.13)


LINEAR = [
    pytest.param(unit(0.9, 0.4, 0.1, 0.0), -float(ndtri(1e-2)), id="1e-2"),
    pytest.param(unit(0.9, 0.4, 0.1, 0.0), -float(ndtri(1e-6)), id="1e-6"),
    pytest.param(unit(1.0, 1.0, -1.0, 1.0), -float(ndtri(1e-6)), id="equal, 1e-6"),
    pytest.param(unit(0.99, 0.14), -float(ndtri(1e-6)), id="one alone, 1e-6"),
    # R - S with R ~ N(4, 1), S ~ N(2, 1): beta = 2/sqrt(2)
    pytest.param(unit(-1.0, 1.0), math.sqrt(2.0), id="R-S"),
]


@pytest.mark.statistical
@pytest.mark.parametrize(("a", "beta"), LINEAR)
def test_linear_limits(a, beta, seed):
    exact = shares_of(a, beta)
    covered, found, runs = np.zeros(len(a)), [], 30
    for run in range(runs):
        rng = np.random.default_rng(seed + run)
        result = miss_shares(*misses(a, beta, rng), named(a))
        assert result.share.sum() == pytest.approx(1.0)
        covered += (result.share_low <= exact) & (exact <= result.share_high)
        found.append(result.divergence)
        # within a few points, from some hundreds of effective misses
        assert 250 < result.effective_size < 2000
        assert (result.share_high - result.share_low < 0.11).all()
    # a binomial(30, 0.95) falls below 24 with probability 1e-3
    assert (covered >= 24).all()
    # nearly unbiased: the mean over the runs within four of its standard errors and 1 % of all
    expected = np.array([divergence(each, beta) for each in a])
    off = np.abs(np.mean(found, axis=0) - expected)
    error = np.std(found, axis=0) / math.sqrt(runs)
    assert (off < 4.0 * error + 0.01 * expected.sum()).all()


@pytest.mark.statistical
@pytest.mark.parametrize("p", [1e-2, 1e-6])
def test_two_symmetric_points(p, seed):
    a, beta = unit(0.8, 0.6, 0.0), -float(ndtri(p))
    rng = np.random.default_rng(seed)
    result = miss_shares(*misses(a, beta, rng, size=12_000, sides=2), named(a))
    exact = shares_of(a, beta, sides=2)
    assert result.share == pytest.approx(exact, abs=0.03)
    # the normal law of the same mean and s.d. would see far less of such misses
    normal = 0.5 * (result.sd**2 - 1.0) - np.log(result.sd)
    assert result.divergence[0] > 1.1 * normal[0]
    assert np.abs(result.mean).max() < 0.3
    assert result.sd[0] > result.sd[1] > 2.0 * 0.6


@pytest.mark.statistical
def test_shift_and_narrowing(seed):
    # a.z beyond beta has mean m = phi(beta)/Phi(-beta) and variance 1 + m (beta - m)
    a, beta = unit(2.0, -1.0, 0.0), 3.0
    result = miss_shares(*misses(a, beta, np.random.default_rng(seed), 20_000), named(a))
    m = math.exp(-0.5 * beta * beta) / math.sqrt(2.0 * math.pi) / ndtr(-beta)
    mean, sd = a * m, np.sqrt(1.0 + a * a * m * (beta - m))
    half_mean, half_sd = result.mean_high - result.mean, result.sd_high - result.sd
    assert (np.abs(result.mean - mean) < 2.0 * half_mean).all()
    assert (np.abs(result.sd - sd) < 2.0 * half_sd).all()
    assert (half_mean < 0.05).all()
    assert (half_sd < 0.05).all()
    assert result.sd[0] < 0.6 < result.sd[2]


@pytest.mark.statistical
def test_plain_misses_and_those_of_subset_simulation(seed):
    a, beta = unit(0.9, 0.4, 0.1), -float(ndtri(1e-2))
    exact = shares_of(a, beta)

    def margins(z):
        return (beta - z @ a)[:, None]

    rng = np.random.default_rng(seed)
    plain = failure_sample(margins, standard_normal(3), size=100_000, rng=rng)
    result = miss_shares(plain.z, plain.weights, named(a))
    assert result.share == pytest.approx(exact, abs=0.04)
    rare = -float(ndtri(1e-6))

    def rarely(z):
        return (rare - z @ a)[:, None]

    chains = subset_runs(rarely, 3, rng=rng, per_level=2000).sample
    result = miss_shares(chains.z, chains.weights, named(a), blocks=10)
    exact = shares_of(a, rare)
    half = result.share_high - result.share
    assert (np.abs(result.share - exact) < 2.0 * half + 1e-3).all()


@pytest.mark.statistical
def test_a_group_is_as_far_as_the_combination_it_acts_through(seed):
    a, beta = unit(0.7, 0.5, 0.4, 0.1), 4.0
    z, weights = misses(a, beta, np.random.default_rng(seed), 12_000)
    groups = [[1, 0], [2], [3]]
    result = miss_shares(z, weights, ["both", "x2", "x3"], groups=groups)
    exact = shares_of([math.hypot(a[0], a[1]), a[2], a[3]], beta)
    assert result.share == pytest.approx(exact, abs=0.015)
    assert np.isnan(result.mean[0])
    assert np.isfinite(result.mean[1:]).all()


@pytest.mark.statistical
def test_a_group_of_correlated_inputs(seed):
    # own normals v = L z: with the group whitened the limit is linear again; z_2 alone is as before
    rho, a, beta = -0.6, unit(0.7, 0.5, 0.5), 4.0
    z, weights = misses(a, beta, np.random.default_rng(seed), 12_000)
    correlation = np.array([[1.0, rho, 0.0], [rho, 1.0, 0.0], [0.0, 0.0, 1.0]])
    own = z @ np.linalg.cholesky(correlation).T
    result = miss_shares(
        own, weights, ["both", "x2"], groups=[[0, 1], [2]], correlation=correlation
    )
    exact = shares_of([math.hypot(a[0], a[1]), a[2]], beta)
    assert result.share == pytest.approx(exact, abs=0.015)
    # singly, an input is as far as its correlation with a.z carries it
    single = miss_shares(own, weights, named(a))
    exact = shares_of([a[0], rho * a[0] + math.sqrt(1 - rho * rho) * a[1], a[2]], beta)
    assert single.share == pytest.approx(exact, abs=0.015)


@pytest.mark.statistical
def test_a_group_whose_axes_depend_on_each_other_given_a_miss(seed):
    # Given a miss, (z0, z1) is normal with correlation r and unit variances: its divergence is
    # -ln(1 - r^2)/2, and nothing of either input alone tells.
    rng, r = np.random.default_rng(seed), 0.8
    z = rng.standard_normal((4000, 3))
    z[:, 1] = r * z[:, 0] + math.sqrt(1.0 - r * r) * z[:, 1]
    weights = np.full(4000, 1.0 / 4000)
    result = miss_shares(z, weights, ["both", "x2"], groups=[[0, 1], [2]])
    assert result.divergence[0] == pytest.approx(-0.5 * math.log(1.0 - r * r), abs=0.08)
    assert result.share[0] == pytest.approx(1.0, abs=0.01)


def test_the_order_of_columns_does_not_matter():
    a = unit(0.9, 0.4, 0.1)
    z, weights = misses(a, 3.0, np.random.default_rng(1))
    one = miss_shares(z, weights, ["a", "b", "c"])
    other = miss_shares(z[:, ::-1], weights, ["c", "b", "a"])
    assert one.share == pytest.approx(other.share[::-1], rel=1e-9)
    assert one.ordering.places == (0, 1, 2)
    assert one.ordering.unsettled() == ()
    assert other.ordering.places == (2, 1, 0)


def test_what_cannot_be_said():
    rng = np.random.default_rng(2)
    few, weights = rng.standard_normal((30, 2)), np.full(30, 1 / 30)
    with pytest.raises(
        EstimateError, match=f"only 30 effective misses, where {LEAST_EFFECTIVE:.0f}"
    ):
        miss_shares(few, weights, ["a", "b"])
    with pytest.raises(EstimateError, match="only 0 effective"):
        miss_shares(np.empty((0, 2)), np.empty(0), ["a", "b"])
    alike, weights = rng.standard_normal((2000, 2)), np.full(2000, 1 / 2000)
    with pytest.raises(EstimateError, match="a miss says nothing of any input"):
        miss_shares(alike, weights, ["a", "b"])
    with pytest.raises(EstimateError, match="the misses hardly differ"):
        miss_shares(np.round(alike), weights, ["a", "b"])


def test_a_fit_that_does_not_end_is_said(monkeypatch):
    monkeypatch.setattr(module, "_STEPS", 1)
    z, weights = misses(unit(1.0, 1.0), 3.0, np.random.default_rng(1))
    with pytest.raises(EstimateError, match="could not be fitted"):
        miss_shares(z, weights, ["a", "b"])
