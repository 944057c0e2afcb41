"""A law from tests: as the law of the next value, and given its parameters."""

import math

import numpy as np
import pytest
from numpy.random import default_rng
from numpy.testing import assert_allclose
from scipy import stats
from scipy.integrate import quad

from preloadmc.chance.extreme_knowledge import ExtremeTests
from preloadmc.chance.laws import Gumbel, Normal, Weibull
from preloadmc.chance.normal_knowledge import LotTests, NormalTests
from preloadmc.chance.sampling_table import sampled
from preloadmc.chance.tested_law import Tested

FRICTIONS = (0.118, 0.12, 0.125, 0.13, 0.131, 0.14)
LOGS = tuple(math.log(value) for value in FRICTIONS)
LOTS = ([0.12, 0.125, 0.131, 0.14, 0.136, 0.122], list("aabbcc"))
IN_LOTS = LotTests.of(*LOTS)
LOTS_OF_LOGS = LotTests.of([math.log(value) for value in LOTS[0]], LOTS[1])

LAWS = {
    "normal": Tested.normal(NormalTests(0.13, 0.012, 6)),
    "normal, three tests": Tested.normal(NormalTests(0.13, 0.012, 3)),
    "normal with a measuring error": Tested.normal(NormalTests(0.13, 0.012, 6, 0.009)),
    "lognormal": Tested.lognormal(NormalTests(-2.0, 0.09, 6)),
    "lognormal in lots": Tested.lognormal(LOTS_OF_LOGS),
    "weibull": Tested.weibull(ExtremeTests(LOGS, smallest=True)),
    "gumbel": Tested.gumbel(ExtremeTests(FRICTIONS)),
}
every_law = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)


@every_law
def test_values_rise_and_are_finite_to_twelve(law):
    values = law.from_normal(np.linspace(-12.0, 12.0, 2401))
    assert np.isfinite(values).all()
    assert (np.diff(values) >= 0.0).all()
    near = law.from_normal(np.linspace(-3.0, 3.0, 601))
    assert (np.diff(near) > 0.0).all()
    if law.is_log:
        assert values[0] > 0.0


@every_law
def test_values_have_the_share_of_their_normal_number(law):
    # As far as a logarithm goes before it is cut off.
    z = np.linspace(-4.0, 4.0, 81)
    x = law.from_normal(z)
    assert_allclose(law.to_normal(x), z, atol=1e-6)
    assert_allclose(law.cdf(x), stats.norm.cdf(z), rtol=1e-5)
    assert_allclose(law.sf(x), stats.norm.sf(z), rtol=1e-5)
    assert law.quantile(0.25) == pytest.approx(law.from_normal(np.array([-0.6744897501960817]))[0])
    # What sampling reads from a table.
    assert_allclose(sampled(law, z), x, rtol=1e-6)


@every_law
def test_density_integrates_to_the_share_between(law):
    low, high = (law.quantile(p) for p in (0.02, 0.9))
    share, _ = quad(law.density, low, high, epsabs=1e-10)
    assert share == pytest.approx(0.88, abs=1e-7)


@every_law
def test_given_parameters_there_and_back(law):
    location, scale = law.knowledge.parameters(np.zeros((1, law.knowledge.columns)))
    z = np.linspace(-6.0, 6.0, 25)
    values = law.given(z, location, scale)
    assert_allclose(law.normal_given(values, location, scale), z, rtol=1e-9, atol=1e-9)
    assert (values > 0.0).all() or not law.is_log


@every_law
@pytest.mark.statistical
def test_values_given_what_is_drawn_are_the_next_value(law, seed):
    rng = default_rng([seed, len(law.source)])
    draws = 50_000
    parameters = law.knowledge.parameters(rng.standard_normal((draws, law.knowledge.columns)))
    values = law.given(rng.standard_normal(draws), *parameters)
    for p in (1e-3, 0.05, 0.5, 0.95, 0.999):
        low, high = stats.binom.interval(1.0 - 1e-5, draws, p)
        assert low <= (values < law.quantile(p)).sum() <= high
        # The fitted law lacks most of the tail beyond: it is told from the next value there.
        fitted = (values < law.fitted.quantile(p)).sum()
        assert p in (0.05, 0.5, 0.95) or not low <= fitted <= high


def test_few_tests_are_the_fitted_law_when_they_are_many():
    z = np.linspace(-3.0, 3.0, 13)
    for name in ("normal", "lognormal"):
        law = LAWS[name].with_tests(900_000)
        assert law.tests == 900_000
        assert_allclose(law.from_normal(z), law.fitted.from_normal(z), rtol=1e-4)


def test_what_is_fitted():
    assert Tested.normal(NormalTests(0.13, 0.012, 6)).best_estimate() == Normal(0.13, 0.012)
    lognormal = LAWS["lognormal"].fitted
    assert (lognormal.log_mean, lognormal.log_sd) == pytest.approx((-2.0, 0.09))
    # Maximum likelihood by scipy.stats; a Gumbel law has the s.d. pi b / sqrt 6.
    mode, scale = stats.gumbel_r.fit(np.array(FRICTIONS))
    gumbel = LAWS["gumbel"].fitted
    assert isinstance(gumbel, Gumbel)
    assert (gumbel.mode, gumbel.scale) == pytest.approx((mode, scale), rel=1e-5)
    shape, _, scale = stats.weibull_min.fit(np.array(FRICTIONS), floc=0.0)
    weibull = LAWS["weibull"].fitted
    assert isinstance(weibull, Weibull)
    assert (weibull.shape, weibull.scale) == pytest.approx((shape, scale), rel=1e-4)
    # Less what the measuring error makes of the scatter; both parts of that over all lots.
    measured = LAWS["normal with a measuring error"]
    assert measured.sd == pytest.approx(math.sqrt(0.012**2 - 0.009**2))
    assert Tested.normal(IN_LOTS).sd == pytest.approx(math.hypot(*IN_LOTS.likely))
    # An error of all that is seen leaves no scatter: a hundredth stands in.
    assert Tested.normal(NormalTests(0.13, 0.012, 6, 0.0125)).sd == pytest.approx(0.00012)


@every_law
def test_moments_and_support_are_those_of_the_fitted_law(law):
    assert (law.mean, law.sd, law.support) == (law.fitted.mean, law.fitted.sd, law.fitted.support)
    assert law.is_smooth


@every_law
def test_a_multiple(law):
    twice = law.scaled(2.0)
    z = np.linspace(-5.0, 5.0, 21)
    assert_allclose(twice.from_normal(z), 2.0 * law.from_normal(z), rtol=1e-6)
    assert twice.mean == pytest.approx(2.0 * law.mean)
    assert (twice.tests, twice.source, twice.price) == (law.tests, law.source, law.price)
    with pytest.raises(ValueError, match="factor is 0: it must be above zero"):
        law.scaled(0.0)


@every_law
def test_an_offset(law):
    moved = law.shifted(0.5)
    assert moved.mean == pytest.approx(law.mean + 0.5)
    assert moved.sd == pytest.approx(law.sd)
    assert law.shifted(0.0).mean == law.mean
    # A logarithm that was tested tells nothing of a quantity that begins elsewhere.
    assert isinstance(moved, Tested) is not law.is_log
    if not law.is_log:
        z = np.linspace(-5.0, 5.0, 21)
        assert_allclose(moved.from_normal(z), law.from_normal(z) + 0.5, rtol=1e-6)


@pytest.mark.parametrize("name", LAWS)
def test_half_the_scatter_about_the_same_mean(name):
    law = LAWS[name]
    half = law.scaled_spread(0.5)
    assert isinstance(half, Tested)
    assert half.mean == pytest.approx(law.mean)
    assert half.sd == pytest.approx(0.5 * law.sd, rel=1e-6)
    # What is known goes along: the law fitted to it is the same.
    again = getattr(Tested, name.split()[0].strip(","))(half.knowledge).fitted
    z = np.linspace(-3.0, 3.0, 7)
    assert_allclose(half.fitted.from_normal(z), again.from_normal(z), rtol=1e-6)
    assert law.scaled_spread(0.0).mean == law.mean


def test_below_zero_there_is_no_logarithm():
    law = LAWS["lognormal"]
    x = np.array([-1.0, 0.0, 0.13])
    assert law.cdf(x)[:2].tolist() == [0.0, 0.0]
    assert law.sf(x)[:2].tolist() == [1.0, 1.0]
    assert law.density(x)[:2].tolist() == [0.0, 0.0]
    assert 0.0 < law.cdf(0.13) < 1.0
    # The law of ln x by Student's: P(X < x) at ln x.
    t = (math.log(0.13) + 2.0) / (0.09 * math.sqrt(1.0 + 1.0 / 6.0))
    assert law.cdf(0.13) == pytest.approx(stats.t.cdf(t, 5))
    slope = (law.cdf(0.13001) - law.cdf(0.12999)) / 2e-5
    assert law.density(0.13) == pytest.approx(slope, rel=1e-5)
