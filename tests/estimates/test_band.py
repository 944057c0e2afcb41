"""The band of a probability: quantiles over what is not known, and how well they are known."""

import math

import numpy as np
import pytest
from numpy.random import default_rng
from scipy import stats
from scipy.special import ndtr, ndtri

from preloadmc.chance.normal_knowledge import NormalTests
from preloadmc.estimates.band import DRAWS, Band, band_of, unknown_numbers
from preloadmc.estimates.conditional import Conditional
from preloadmc.estimates.sobol_points import REPLICATES


def conditional(p, error=0.0, plain=0):
    return Conditional(np.asarray(p, dtype=float), error, 1000, plain > 0, plain)


def exact(n, p, seed):
    """Probabilities of a normal quantity below its quantile p as tested, given each draw."""
    at, sd = NormalTests(0.0, 1.0, n).parameters(unknown_numbers(2, default_rng([seed, n])))
    return ndtr((ndtri(p) - at) / sd)


def test_draws_are_even_normal_numbers():
    e = unknown_numbers(3, default_rng(1))
    assert e.shape == (DRAWS, 3)
    for scramble in np.split(e, REPLICATES):
        # Each scramble is even by itself: far closer to the normal law than random numbers, whose
        # largest distance from it is about 1/sqrt(512) = 0.04.
        for column in scramble.T:
            assert stats.kstest(column, "norm").statistic < 0.008
    assert (unknown_numbers(3, default_rng(1)) == e).all()
    assert (unknown_numbers(3, default_rng(2)) != e).any()
    assert unknown_numbers(1, default_rng(1), 64).shape == (64, 1)


def test_a_band_is_made_of_quantiles():
    p = np.linspace(0.0, 0.4096, DRAWS)
    band = band_of(conditional(default_rng(1).permutation(p)), 0.9)
    # Of an even spread from 0 to 0.4096.
    assert band.median == pytest.approx(0.2048)
    assert (band.low, band.high) == pytest.approx((0.05 * 0.4096, 0.95 * 0.4096))
    assert band.upper == pytest.approx(0.9 * 0.4096)
    assert (band.confidence, band.draws, band.model_calls) == (0.9, DRAWS, 1000)
    assert band.levels == ("knowledge",)


@pytest.mark.statistical
@pytest.mark.parametrize(("n", "factor"), [(5, 5.7411), (25, 3.1580)])
def test_its_own_interval_covers(n, factor, seed):
    # P(X < -k s) has the 95 % limit 1e-2 where k is the one-sided tolerance factor of content 99 %
    # (non-central t).
    covered = 0
    widths = []
    for k in range(40):
        band = band_of(conditional(exact(n, float(ndtr(-factor)), 100 * seed + k)), 0.95)
        covered += band.upper_low <= 1e-2 <= band.upper_high
        widths.append(math.log(band.upper_high / band.upper_low))
    # At 95 %, fewer than 33 of 40 come once in 1e3; an interval half as wide would cover 72 %.
    assert covered >= 33
    assert 0.0 < np.median(widths) < 0.25


def test_the_error_of_a_common_factor_widens_it():
    p = exact(10, 1e-3, 1)
    sharp, blunt = (band_of(conditional(p, error), 0.95) for error in (0.0, 0.3))
    assert blunt.upper == sharp.upper
    # Student's quantile of 7 degrees is 2.3646; both errors add by squares.
    spread = math.log(sharp.upper_high / sharp.upper) / 2.3646
    wide = math.log(blunt.upper_high / blunt.upper) / 2.3646
    assert wide == pytest.approx(math.hypot(spread, 0.3), rel=1e-3)
    assert blunt.upper_low == pytest.approx(blunt.upper**2 / blunt.upper_high)
    hopeless = band_of(conditional(p, 1e6), 0.95)
    assert (hopeless.upper_low, hopeless.upper_high) == (pytest.approx(0.0, abs=1e-300), 1.0)


def test_probabilities_that_do_not_differ():
    # Scatter from scramble to scramble is none where all are equal.
    band = band_of(conditional(np.full(DRAWS, 0.25)), 0.95)
    assert (band.low, band.median, band.high, band.upper) == (0.25,) * 4
    assert (band.upper_low, band.upper_high) == (0.25, 0.25)
    none = band_of(conditional(np.zeros(DRAWS)), 0.95)
    assert (none.upper, none.upper_high) == (0.0, 0.0)


def test_a_limit_at_the_edge_of_nothing_is_known_badly():
    # A little more than 5 % of draws can miss at all: the limit lies on the first of them.
    p = np.zeros(DRAWS)
    p[::19] = 1e-3
    band = band_of(conditional(default_rng(1).permutation(p)), 0.95)
    assert band.upper == 1e-3
    assert band.upper_high > 5.0 * band.upper


def test_plain_samples_bound_what_they_do_not_tell():
    # 30 draws of 4096 had one miss in 512: their quantile at 95 % is 0, which says nothing.
    p = np.zeros(DRAWS)
    p[:30] = 1.0 / 512.0
    band = band_of(conditional(p, plain=512), 0.95)
    # Markov: the mean over 1 - c. Its limit is the exact one of 30 in 2,097,152 (Clopper and
    # Pearson), by the beta law of scipy.stats; two-sided, so at 2.5 %.
    mean = stats.beta.ppf(0.975, 31, 512 * DRAWS - 30)
    assert band.upper == pytest.approx(mean / 0.05, rel=1e-3)
    assert band.high == pytest.approx(mean / 0.025, rel=1e-3)
    assert (band.low, band.median, band.upper_low) == (0.0, 0.0, 0.0)
    assert band.upper_high == band.upper
    # A true limit may lie that high: 5.1 % of draws with a probability of mean / 0.051.
    assert band.upper > 30.0 / (512 * DRAWS) / 0.051
    # No miss at all in as many samples.
    none = band_of(conditional(np.zeros(DRAWS), plain=512), 0.95)
    assert 0.0 < none.upper < 1e-4
    # With misses enough in each draw the quantile stands.
    some = exact(10, 0.05, 1)
    plain = default_rng(1).binomial(512, some) / 512.0
    told = band_of(conditional(plain, plain=512), 0.95)
    assert told.upper == pytest.approx(np.quantile(some, 0.95), rel=0.05)
    assert told.upper_low > 0.0


def test_a_band_in_disorder_is_refused():
    with pytest.raises(ValueError, match="a band needs 0 <= low <= median <= high <= 1"):
        Band(0.1, 0.2, 0.3, 0.3, 0.95, 0.3, 0.3, 8, 8)
