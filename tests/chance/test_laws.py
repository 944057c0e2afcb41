"""Every law against scipy.stats, and what holds for all laws."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

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

INF = math.inf

# Preloads [kN] of 20 unlubricated tests at 90 N·m: Shigley's Mechanical Engineering Design,
# 9th ed., Table 8-13, p. 438 (after Blake and Kurtz 1965).
TESTED_PRELOADS = (
    *(23.6, 27.6, 28.0, 29.4, 30.3, 30.7, 32.9, 33.8, 33.8, 33.8),
    *(34.7, 35.6, 35.6, 37.4, 37.8, 37.8, 39.2, 40.0, 40.5, 42.7),
)


def scipy_lognormal(mean, sd, location=0.0):
    s = math.sqrt(math.log1p((sd / (mean - location)) ** 2))
    return stats.lognorm(s, location, (mean - location) * math.exp(-0.5 * s * s))


def scipy_gumbel(mean, sd):
    # The mean lies 0.57722 b above the mode and the s.d. is π b/√6.
    b = sd * math.sqrt(6.0) / math.pi
    return stats.gumbel_r(mean - np.euler_gamma * b, b)


SMOOTH = [
    (Normal(62.0, 7.0), stats.norm(62.0, 7.0)),
    (LogNormal(0.13, 0.0156), scipy_lognormal(0.13, 0.0156)),
    (LogNormal(2.0, 3.0), scipy_lognormal(2.0, 3.0)),
    (LogNormal(293.15, 4.0, 273.15), scipy_lognormal(293.15, 4.0, 273.15)),
    (Uniform(-0.04, 0.04), stats.uniform(-0.04, 0.08)),
    (Triangular(2.0, 3.0, 7.0), stats.triang(0.2, 2.0, 5.0)),
    (Triangular(0.0, 0.0, 3.0), stats.triang(0.0, 0.0, 3.0)),
    (Triangular(-3.0, 0.0, 0.0), stats.triang(1.0, -3.0, 3.0)),
    (TruncatedNormal(1.0, 0.5, 0.2, 3.0), stats.truncnorm(-1.6, 4.0, 1.0, 0.5)),
    (TruncatedNormal(1.0, 0.5, 1.5, 2.0), stats.truncnorm(1.0, 2.0, 1.0, 0.5)),
    (TruncatedNormal(1.0, 0.5, -1.0, 0.5), stats.truncnorm(-4.0, -1.0, 1.0, 0.5)),
    (TruncatedNormal(1.0, 0.5, 0.25, INF), stats.truncnorm(-1.5, INF, 1.0, 0.5)),
    (TruncatedNormal(1.0, 0.1, 0.0, 2.0), stats.truncnorm(-10.0, 10.0, 1.0, 0.1)),
    (Weibull(2.2, 5.0), stats.weibull_min(2.2, 0.0, 5.0)),
    (Weibull(0.8, 5.0, 1.0), stats.weibull_min(0.8, 1.0, 5.0)),
    (Gumbel(1500.0, 350.0), scipy_gumbel(1500.0, 350.0)),
    (Beta(2.0, 3.5, -1.0, 4.0), stats.beta(2.0, 3.5, -1.0, 5.0)),
    (Beta(0.6, 8.0, 0.0, 1.0), stats.beta(0.6, 8.0, 0.0, 1.0)),
]
LAWS_HERE = [law for law, _ in SMOOTH]
STEPS = [Constant(0.15), Tabulated(TESTED_PRELOADS)]

smooth = pytest.mark.parametrize(("law", "reference"), SMOOTH, ids=[str(law) for law in LAWS_HERE])
every_law = pytest.mark.parametrize("law", LAWS_HERE + STEPS, ids=lambda law: str(law)[:40])

Z = np.linspace(-8.0, 8.0, 81)


@smooth
def test_moments_and_support(law, reference):
    assert_allclose([law.mean, law.sd], [reference.mean(), reference.std()], rtol=1e-9)
    assert law.support == pytest.approx(reference.support())


@smooth
def test_values_at_normal_numbers(law, reference):
    below, above = Z[Z <= 0.0], Z[Z > 0.0]
    expected = [reference.ppf(stats.norm.cdf(below)), upper_quantile(reference, above)]
    assert_allclose(law.from_normal(Z), np.concatenate(expected), rtol=1e-9, atol=1e-12 * law.sd)


def upper_quantile(reference, z):
    if reference.dist.name != "truncnorm":
        return reference.isf(stats.norm.sf(z))
    # scipy takes the upper quantile of a truncated normal law from one minus the share: mirror it.
    a, b, mean, sd = reference.args
    return -stats.truncnorm(-b, -a, -mean, sd).ppf(stats.norm.sf(z))


@smooth
def test_probabilities_and_density(law, reference):
    span = law.mean + law.sd * np.linspace(-5.0, 5.0, 41)
    assert_allclose(law.cdf(span), reference.cdf(span), rtol=1e-9, atol=1e-15)
    assert_allclose(law.sf(span), reference.sf(span), rtol=1e-9, atol=1e-15)
    assert_allclose(law.density(span), reference.pdf(span), rtol=1e-9, atol=1e-300)


@pytest.mark.parametrize(
    ("law", "low", "mode", "high"),
    [
        # A triangle of area one over a width w is 2/w high at its mode, and ends at zero.
        (Triangular(2.0, 3.0, 7.0), 0.0, 0.4, 0.0),
        (Triangular(0.0, 0.0, 3.0), 2 / 3, 2 / 3, 0.0),
        (Triangular(-3.0, 0.0, 0.0), 0.0, 2 / 3, 2 / 3),
        (Uniform(1.0, 5.0), 0.25, 0.25, 0.25),
    ],
)
def test_density_at_the_ends_and_beyond(law, low, mode, high):
    a, b = law.support
    middle = getattr(law, "mode", law.mean)
    found = [law.density(x) for x in (a - 1e-9, a, middle, b, b + 1e-9)]
    assert_allclose(found, [0.0, low, mode, high, 0.0], rtol=1e-12)
    assert_allclose(law.density(np.array([a, middle, b])), [low, mode, high], rtol=1e-12)


@smooth
def test_quantiles(law, reference):
    shares = np.array([0.0, 1e-6, 0.01, 0.5, 0.9, 1.0])
    found = [law.quantile(p) for p in shares]
    assert_allclose(found, reference.ppf(shares), rtol=1e-9, atol=1e-12 * law.sd)


@every_law
def test_one_number_gives_one_number(law):
    x = law.quantile(0.4)
    assert isinstance(law.cdf(x), float)
    assert isinstance(law.sf(x), float)
    assert law.cdf(x) + law.sf(x) == pytest.approx(1.0)
    if law.is_smooth:
        assert isinstance(law.density(x), float)
        assert isinstance(law.to_normal(x), float)


@every_law
def test_scaled_and_shifted(law):
    z = np.linspace(-6.0, 6.0, 25)
    moved = law.scaled(2.5).shifted(273.15)
    assert moved.kind == law.kind
    assert moved.mean == pytest.approx(2.5 * law.mean + 273.15)
    assert moved.sd == pytest.approx(2.5 * law.sd)
    assert_allclose(moved.from_normal(z), 2.5 * law.from_normal(z) + 273.15, rtol=1e-12)


@every_law
@pytest.mark.parametrize("factor", [0.1, 0.5, 1.0, 1.3])
def test_scaled_spread_keeps_the_mean(law, factor):
    narrower = law.scaled_spread(factor)
    assert narrower.kind == law.kind
    assert narrower.mean == pytest.approx(law.mean, rel=1e-14, abs=1e-14 * law.sd)
    assert narrower.sd == pytest.approx(factor * law.sd, rel=1e-9)


@every_law
def test_no_spread_is_a_constant_at_the_mean(law):
    assert law.scaled_spread(0.0) == Constant(law.mean)


def test_positive_laws_stay_positive_when_spread_out():
    assert LogNormal(1.0, 0.3).scaled_spread(3.0).support[0] == 0.0
    assert Weibull(2.0, 1.0).scaled_spread(3.0).support[0] == 0.0


@pytest.mark.published
def test_twenty_tests_give_their_mean_back():
    law = Tabulated(TESTED_PRELOADS)
    # Shigley, 9th ed., Table 8-13, p. 438: mean 34.3 kN, s.d. 4.91 kN (divisor n - 1).
    assert law.mean == pytest.approx(34.3, abs=0.05)
    assert law.sd * math.sqrt(20 / 19) == pytest.approx(4.91, abs=0.005)
    # As a law each test has the weight 1/20: divisor n.
    assert law.mean == pytest.approx(34.26, abs=0.005)
    assert law.sd == pytest.approx(4.785, abs=0.0005)


def test_tabulated_repeats_each_value_equally_often():
    law = Tabulated((3.0, 1.0, 2.0, 4.0))
    shares = (np.arange(4000) + 0.5) / 4000
    values, counts = np.unique(law.from_normal(stats.norm.ppf(shares)), return_counts=True)
    assert values.tolist() == [1.0, 2.0, 3.0, 4.0]
    assert counts.tolist() == [1000] * 4
    assert law.from_normal(np.array([-12.0, 12.0])).tolist() == [1.0, 4.0]
    assert (law.cdf(2.0), law.sf(2.0), law.cdf(0.9), law.sf(4.0)) == (0.5, 0.5, 0.0, 0.0)
    assert law.quantile(0.25) == 1.0  # smallest value with a quarter at or below it


@pytest.mark.parametrize("law", STEPS)
def test_step_laws_have_no_density(law):
    assert not law.is_smooth
    with pytest.raises(ValueError, match="no density"):
        law.density(1.0)
    with pytest.raises(ValueError, match="goes in steps"):
        law.to_normal(1.0)


def test_constant_is_reached_from_below_and_above():
    law = Constant(2.0)
    assert (law.cdf(1.9), law.cdf(2.0), law.sf(1.9), law.sf(2.0)) == (0.0, 1.0, 1.0, 0.0)
    assert law.support == (2.0, 2.0)
    assert (law.mean, law.sd) == (2.0, 0.0)


def test_laws_by_their_words():
    assert {law.kind for law in LAWS_HERE + STEPS} == {
        *("normal", "lognormal", "uniform", "triangular", "truncated normal"),
        *("weibull", "gumbel", "beta", "constant", "tabulated"),
    }


# Constructors by moments: closed forms of mean and s.d. taken from the law built.


@pytest.mark.parametrize("cov", [2e-4, 0.01, 0.1, 1.0, 20.0])
def test_weibull_from_moments(cov):
    law = Weibull.from_moments(3.0, 3.0 * cov)
    reference = stats.weibull_min(law.shape, 0.0, law.scale)
    assert law.mean == pytest.approx(3.0, rel=1e-13)
    assert reference.mean() == pytest.approx(3.0, rel=1e-12)
    # scipy takes the variance as a difference of two moments.
    assert reference.std() == pytest.approx(3.0 * cov, rel=1e-12 / cov**2 + 1e-11)


def test_weibull_of_equal_moments_is_the_exponential_law():
    law = Weibull.from_moments(2.0, 2.0)
    assert law.shape == pytest.approx(1.0, rel=1e-12)
    assert Weibull.from_moments(5.0, 2.0, location=3.0).scale == pytest.approx(2.0)


def test_beta_from_moments():
    law = Beta.from_moments(1.2, 0.3, 0.5, 2.5)
    assert (law.mean, law.sd) == pytest.approx((1.2, 0.3))
    # The uniform law is the beta law with both shapes 1.
    flat = Beta.from_moments(0.0, 1.0, -math.sqrt(3), math.sqrt(3))
    assert (flat.alpha, flat.beta) == pytest.approx((1.0, 1.0))


def test_uniform_from_moments_and_around():
    assert Uniform.around(10.0, 0.4) == Uniform(9.6, 10.4)
    law = Uniform.from_moments(10.0, 0.4)
    assert (law.mean, law.sd) == pytest.approx((10.0, 0.4))


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda: Normal(1.0, 0.0), "sd is 0: it must be above zero"),
        (lambda: Normal(math.nan, 1.0), "mean is nan: it must be a finite number"),
        (lambda: Normal(0.0, math.inf), "sd is inf"),
        (lambda: LogNormal(-1.0, 0.1), "mean is -1: it must be above 0"),
        (lambda: LogNormal(1.0, -0.1), "sd is -0.1"),
        (lambda: LogNormal(1.0, 0.1, -INF), "location is -inf"),
        (lambda: Uniform(2.0, 1.0), "low is 2: it must be below high, 1"),
        (lambda: Uniform(-INF, 1.0), "low is -inf: it must be a finite number"),
        (lambda: Uniform(0.0, INF), "high is inf: it must be a finite number"),
        (lambda: Uniform.around(0.0, 0.0), "half_width is 0"),
        (lambda: Uniform.from_moments(0.0, -1.0), "sd is -1"),
        (lambda: Triangular(0.0, 2.0, 1.0), "mode is 2: it must be from low, 0, to high, 1"),
        (lambda: TruncatedNormal(0.0, 1.0, 1.0, 1.0), "low is 1: it must be below high, 1"),
        (lambda: TruncatedNormal(0.0, 1.0, math.nan, 1.0), "low is nan"),
        (lambda: TruncatedNormal(0.0, 1.0, 9.0, 10.0), "must lie between them"),
        (lambda: TruncatedNormal(0.0, 0.0, 0.0, 1.0), "sd is 0"),
        (lambda: TruncatedNormal(INF, 1.0, 0.0, 1.0), "mean is inf"),
        (lambda: Weibull(0.0, 1.0), "shape is 0: it must be from 0.1 to 10000"),
        (lambda: Weibull(1.0, 0.0), "scale is 0"),
        (lambda: Weibull(1.0, 1.0, math.nan), "location is nan"),
        (lambda: Weibull.from_moments(0.0, 1.0), "mean is 0: it must be above the location"),
        (lambda: Weibull.from_moments(1.0, 0.0), "sd is 0: it must be from"),
        (lambda: Gumbel(INF, 1.0), "mean is inf"),
        (lambda: Gumbel(1.0, 0.0), "sd is 0"),
        (lambda: Beta(0.0, 1.0, 0.0, 1.0), "alpha is 0"),
        (lambda: Beta(1.0, 1e9, 0.0, 1.0), "beta is 1e[+]09"),
        (lambda: Beta(1.0, 1.0, 1.0, 0.0), "low is 1"),
        (lambda: Beta.from_moments(2.0, 0.1, 0.0, 1.0), "mean is 2: it must be between low"),
        (lambda: Beta.from_moments(0.5, 0.6, 0.0, 1.0), "sd is 0.6: it must be above zero and"),
        (lambda: Constant(math.nan), "value is nan"),
        (lambda: Tabulated((1.0,)), "values has 1 entries: it must have at least two"),
        (lambda: Tabulated((1.0, math.inf)), "values is inf: it must be all finite numbers"),
        (lambda: Normal(1.0, 1.0).quantile(1.1), "p is 1.1: it must be from 0 to 1"),
        (lambda: Normal(1.0, 1.0).scaled_spread(-1.0), "factor is -1: it must be zero or above"),
    ],
)
def test_impossible_parameters_are_named(build, words):
    with pytest.raises(ValueError, match=words):
        build()


@every_law
def test_a_factor_must_be_above_zero(law):
    with pytest.raises(ValueError, match="factor is 0: it must be above zero"):
        law.scaled(0.0)
