"""The Gaussian copula: what correlation goes in and what comes out."""

import math

import numpy as np
import openturns as ot
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from preloadmc.chance.dependence import Dependence, induced_correlations, partly_shared
from preloadmc.chance.laws import (
    Beta,
    Constant,
    Gumbel,
    LogNormal,
    Normal,
    Tabulated,
    Triangular,
    Uniform,
    Weibull,
)
from preloadmc.chance.streams import CHUNK, normal_chunk

NAMES = ("torque", "thread friction", "bearing friction", "yield", "tensile")
PAIRS = {("thread friction", "bearing friction"): 0.4, ("tensile", "yield"): -0.8}
RHOS = [-0.9, -0.3, 0.0, 0.4, 0.95]


def lognormal(mean, log_sd):
    return LogNormal(mean, mean * math.sqrt(math.expm1(log_sd * log_sd)))


def test_columns_and_groups():
    dependence = Dependence.from_pairs(NAMES, PAIRS)
    assert dependence.columns == (1, 2, 3, 4)
    assert dependence.groups == (("thread friction", "bearing friction"), ("yield", "tensile"))
    assert dependence.columns


def test_a_chain_of_correlations_is_one_group():
    pairs = {("a", "c"): 0.3, ("c", "e"): 0.3, ("e", "d"): 0.3}
    assert Dependence.from_pairs("abcde", pairs).groups == (("a", "c", "d", "e"),)


@pytest.mark.statistical
def test_correlations_come_out(seed):
    pairs = {("a", "b"): 0.6, ("a", "d"): -0.5, ("b", "d"): 0.1}
    mixed = Dependence.from_pairs("abcd", pairs).mixed(normal_chunk(seed, 0, CHUNK, 4))
    z = np.column_stack([mixed[name] for name in "abd"])
    target = np.array([[1, 0.6, -0.5], [0.6, 1, 0.1], [-0.5, 0.1, 1]])
    # The s.e. of a correlation is at most 1/sqrt(n), that of a variance sqrt(2/n): five of them,
    # far below the smallest correlation asked for.
    assert_allclose(np.cov(z.T), target, atol=5.0 * math.sqrt(2.0 / CHUNK))
    assert 5.0 * math.sqrt(2.0 / CHUNK) < 0.1 / 2


def test_matrix_product_with_the_cholesky_factor(seed):
    z = normal_chunk(seed, 0, 100, 5)
    before = z.copy()
    dependence = Dependence.from_pairs(NAMES, PAIRS)
    mixed = dependence.mixed(z)
    assert list(mixed) == [NAMES[column] for column in dependence.columns]
    for column, expected in (
        (1, z[:, 1]),
        (2, 0.4 * z[:, 1] + math.sqrt(1 - 0.16) * z[:, 2]),
        (3, z[:, 3]),
        (4, -0.8 * z[:, 3] + 0.6 * z[:, 4]),
    ):
        assert_allclose(mixed[NAMES[column]], expected, rtol=1e-13, atol=1e-15)
    assert np.array_equal(z, before)


def test_independent_columns_cost_nothing(seed):
    z = normal_chunk(seed, 0, 10, 5)
    dependence = Dependence.from_pairs(NAMES, {("torque", "yield"): 0.0})
    assert dependence.columns == ()
    assert dependence.groups == ()
    assert dependence.mixed(z) == {}


def test_order_of_pairs_and_names_in_a_pair_is_nothing(seed):
    z = normal_chunk(seed, 0, 10, 5)
    turned = {(b, a): rho for (a, b), rho in reversed(PAIRS.items())}
    one, other = (Dependence.from_pairs(NAMES, pairs).mixed(z) for pairs in (PAIRS, turned))
    assert one.keys() == other.keys()
    assert all(np.array_equal(one[name], other[name]) for name in one)


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ({("a", "x"): 0.1}, "x is correlated but is not an uncertain quantity"),
        ({("a", "a"): 0.1}, "a is correlated with itself"),
        ({("a", "b"): 1.0}, "correlation of a and b is 1: it must be between -1 and 1"),
        ({("a", "b"): 1.05}, "correlation of a and b is 1.05: it must be between -1 and 1"),
        ({("a", "b"): -1.0}, "correlation of a and b is -1: it must be between -1 and 1"),
        ({("a", "b"): -1.05}, "correlation of a and b is -1.05: it must be between -1 and 1"),
        ({("a", "b"): math.nan}, "correlation of a and b is nan"),
        ({("a", "b"): 0.1, ("b", "a"): 0.2}, "correlation of b and a is given twice and differs"),
        (
            {("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9},
            "correlations of a, b, c contradict",
        ),
    ],
)
def test_impossible_correlations_are_named(pairs, words):
    with pytest.raises(ValueError, match=words):
        Dependence.from_pairs("abc", pairs)


# Induced correlations.


@pytest.mark.parametrize("rho", RHOS)
def test_normal_laws_keep_the_correlation(rho):
    linear, rank = induced_correlations(Normal(5.0, 2.0), Normal(0.0, 0.1), rho)
    assert linear == pytest.approx(rho, abs=1e-12)
    assert rank == pytest.approx(6.0 / math.pi * math.asin(rho / 2.0))


@pytest.mark.parametrize("rho", RHOS)
@pytest.mark.parametrize(("s1", "s2"), [(0.1, 0.3), (1.0, 0.5)])
def test_lognormal_laws(rho, s1, s2):
    # Closed form: E[exp(s1 Z1 + s2 Z2)] = exp((s1² + s2²)/2 + ρ s1 s2).
    expected = math.expm1(rho * s1 * s2) / math.sqrt(math.expm1(s1 * s1) * math.expm1(s2 * s2))
    linear, _ = induced_correlations(lognormal(3, s1), lognormal(1, s2), rho)
    assert linear == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("rho", RHOS)
def test_uniform_laws_have_the_rank_correlation(rho):
    # A uniform quantity is a straight line in its rank.
    linear, rank = induced_correlations(Uniform(2.0, 5.0), Uniform(-1.0, 1.0), rho)
    assert linear == pytest.approx(rank, abs=1e-5)


@pytest.mark.parametrize("rho", RHOS[:4])
def test_two_values_split_at_the_median(rho):
    # W. F. Sheppard 1899: P(Z1 > 0, Z2 > 0) = 1/4 + asin(ρ)/(2π), hence correlation 2 asin(ρ)/π.
    law = Tabulated((1.0, 3.0))
    assert induced_correlations(law, law, rho) == pytest.approx([2 * math.asin(rho) / math.pi] * 2)


@pytest.mark.parametrize("rho", RHOS)
def test_two_values_beside_a_normal_law(rho):
    # E[sign(Z1) Z2] = ρ sqrt(2/π).
    linear, rank = induced_correlations(Tabulated((1.0, 3.0)), Normal(7.0, 2.0), rho)
    assert linear == pytest.approx(rho * math.sqrt(2.0 / math.pi), abs=1e-12)
    # Sheppard again, with Z3 independent of both, for the rank Φ(Z2) = P(Z3 < Z2 | Z2).
    expected = math.sqrt(12.0) * math.asin(rho / math.sqrt(2.0)) / math.pi
    assert rank == pytest.approx(expected, abs=1e-5)


def test_tied_values_share_their_rank():
    law, other = Tabulated((1.0, 2.0, 2.0, 5.0)), Tabulated((0.0, 1.0, 2.0))
    # Cell by cell with scipy's bivariate normal probabilities.
    normal = stats.multivariate_normal([0.0, 0.0], [[1.0, 0.7], [0.7, 1.0]])

    def grid(count):
        return np.array([-9.0, *stats.norm.ppf(np.arange(1, count) / count), 9.0])

    below = np.array([[normal.cdf([a, b]) for b in grid(3)] for a in grid(4)])
    cells = np.diff(np.diff(below, axis=0), axis=1)

    def correlation(x, y):
        x, y = x - np.mean(x), y - np.mean(y)
        return x @ cells @ y / (np.std(x) * np.std(y))

    linear, rank = induced_correlations(law, other, 0.7)
    assert linear == pytest.approx(correlation([1, 2, 2, 5], [0, 1, 2]), abs=1e-5)
    assert rank == pytest.approx(correlation([1, 2.5, 2.5, 4], [1, 2, 3]), abs=1e-5)


@pytest.mark.parametrize("rho", [-0.6, 0.4])
@pytest.mark.parametrize(
    ("law", "reference"),
    [
        (Uniform(0.0, 2.0), stats.uniform(0.0, 2.0)),
        (Weibull(2.0, 3.0), stats.weibull_min(2.0, 0.0, 3.0)),
        (Triangular(0.0, 0.2, 1.0), stats.triang(0.2)),
        (Beta(2.0, 3.0, 0.0, 1.0), stats.beta(2.0, 3.0)),
        (Gumbel(np.euler_gamma, math.pi / math.sqrt(6.0)), stats.gumbel_r()),
    ],
    ids=lambda law: str(law)[:8],
)
def test_linear_correlation_by_integration(law, reference, rho):
    """Integrate the product of the quantities over the plane, with scipy's quantiles."""
    z = np.linspace(-8.0, 8.0, 401)
    weight = stats.norm.pdf(z) * (z[1] - z[0])
    x = (reference.ppf(stats.norm.cdf(z)) - reference.mean()) / reference.std()
    # A lognormal of log-s.d. 0.5 given the other's normal number.
    other = np.exp(0.5 * (rho * z[:, None] + math.sqrt(1.0 - rho * rho) * z)) @ weight
    expected = (x * weight) @ other / stats.lognorm(0.5).std()
    linear, _ = induced_correlations(law, lognormal(1.0, 0.5), rho)
    assert linear == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("rho", RHOS)
def test_rank_correlation_against_openturns(rho):
    copula = ot.NormalCopula(ot.CorrelationMatrix([[1.0, rho], [rho, 1.0]]))
    _, rank = induced_correlations(Gumbel(1.0, 0.2), Weibull(2.0, 3.0), rho)
    assert rank == pytest.approx(copula.getSpearmanCorrelation()[0, 1], abs=1e-9)


def test_a_constant_is_correlated_with_nothing():
    with pytest.raises(ValueError, match="a constant is correlated with nothing"):
        induced_correlations(Constant(1.0), Normal(0.0, 1.0), 0.5)
    with pytest.raises(ValueError, match="correlation is 1: it must be between"):
        induced_correlations(Normal(0.0, 1.0), Normal(0.0, 1.0), 1.0)


def test_partly_shared_normals_keep_unit_variance_and_correlate_by_the_fraction():
    """sqrt(f) u + sqrt(1 - f) v: with f = 0.36, 0.6 u + 0.8 v; 0.6² + 0.8² = 1 is the variance, and
    0.6² = f the covariance of two fasteners, whose own numbers are apart."""
    columns = np.array([0.36, 0.0, 1.0])
    unit, none = np.ones((1, 3)), np.zeros((1, 3))
    of_shared = partly_shared(unit, none, columns)
    of_own = partly_shared(none, unit, columns)
    assert_allclose(of_shared, [[0.6, 0.0, 1.0]], rtol=1e-15)
    assert_allclose(of_own, [[0.8, 1.0, 0.0]], rtol=1e-15)
    assert_allclose(of_shared**2 + of_own**2, 1.0, rtol=1e-15)
    lots = partly_shared(np.ones((4, 1, 3)), np.zeros((5, 3)), columns)
    assert lots.shape == (4, 5, 3)
