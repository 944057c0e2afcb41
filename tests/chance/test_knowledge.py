"""What tests tell of location and scale: closed forms, other libraries, simulation."""

import math

import numpy as np
import pytest
from numpy.random import default_rng
from numpy.testing import assert_allclose
from scipy import stats
from scipy.special import ndtr

from preloadmc.chance.extreme_knowledge import ExtremeTests
from preloadmc.chance.normal_knowledge import LotTests, NormalTests, _NormalLaw

# Twenty unlubricated preloads in kN: J. E. Shigley, C. R. Mischke, R. G. Budynas, Mechanical
# Engineering Design, Table 8-13 (J. C. Blake, H. J. Kurtz, 1965).
PRELOADS = (
    *(23.6, 27.6, 28.0, 29.4, 30.3, 30.7, 32.9, 33.8, 33.8, 33.8),
    *(34.7, 35.6, 35.6, 37.4, 37.8, 37.8, 39.2, 40.0, 40.5, 42.7),
)
# Made up: three lots, equally large and not.
BALANCED = ([1.0, 1.2, 1.1, 1.5, 1.4, 1.7, 0.8, 0.9, 1.1], list("aaabbbccc"))
UNBALANCED = ([1.0, 1.2, 1.5, 1.4, 1.7, 1.6, 0.8, 0.9, 1.1], list("aabbbbbcc"))

KNOWN = {
    "normal": NormalTests(1.0, 0.2, 5),
    "with a measuring error": NormalTests(1.0, 0.2, 8, 0.15),
    "lots": LotTests.of(*BALANCED),
    "unequal lots with a measuring error": LotTests.of(*UNBALANCED, 0.1),
    "largest": ExtremeTests(PRELOADS[::3]),
    "smallest": ExtremeTests(PRELOADS[::3], smallest=True),
}
every_kind = pytest.mark.parametrize("known", KNOWN.values(), ids=KNOWN)


@pytest.mark.parametrize(
    ("n", "shares"),
    [
        (5, (0.070964, 0.025990, 0.010871)),
        (10, (0.044449, 0.0093843, 0.0020643)),
        (25, (0.030781, 0.0035620, 0.00032052)),
    ],
)
def test_next_value_by_students_law(n, shares):
    # P(X < mean - k s), k = 2, 3, 4: Student's law with n - 1 degrees of freedom at
    # k / sqrt(1 + 1/n), worked out apart from this program.
    known = NormalTests(10.0, 0.5, n)
    at = 10.0 - 0.5 * np.array([2.0, 3.0, 4.0])
    below, above = known.shares(at)
    assert below == pytest.approx(shares, rel=5e-5)
    # The law is symmetric about the mean.
    assert_allclose(known.shares(20.0 - at)[1], below, rtol=1e-12)
    assert_allclose(above, 1.0 - below, rtol=1e-12)
    # Integrated over the scatter, in place of the closed form.
    assert_allclose(_NormalLaw.shares(known, at)[0], below, rtol=1e-9)
    assert_allclose(_NormalLaw.density(known, at), known.density(at), rtol=1e-9)
    student = stats.t(n - 1, 10.0, 0.5 * math.sqrt(1.0 + 1.0 / n))
    assert_allclose(known.density(at), student.pdf(at), rtol=1e-12)


@pytest.mark.statistical
@pytest.mark.parametrize(
    ("n", "factors"),
    [
        (5, (3.4066, 5.7411, 7.5019, 11.3897)),
        (10, (2.3546, 3.9811, 5.2033, 7.8997)),
        (25, (1.8381, 3.1580, 4.1424, 6.3073)),
        (50, (1.6456, 2.8624, 3.7656, 5.7471)),
    ],
)
def test_upper_limits_are_those_of_tolerance_factors(n, factors, seed):
    # One-sided factors at 95 % by the non-central t, worked out apart from this program: where
    # (mean - L)/s equals the factor, the 95 % limit of P(X < L) is one minus the content.
    draws = 100_000
    at, scale = NormalTests(0.0, 1.0, n).parameters(
        default_rng([seed, n]).standard_normal((draws, 2))
    )
    for content, factor in zip((0.90, 0.99, 0.999, 0.999999), factors, strict=True):
        covered = int((ndtr((-factor - at) / scale) < 1.0 - content).sum())
        low, high = stats.binom.interval(1.0 - 1e-5, draws, 0.95)
        assert low < covered < high
        # A factor 2 % larger or smaller would be told from it.
        more = int((ndtr((-1.02 * factor - at) / scale) < 1.0 - content).sum())
        less = int((ndtr((-0.98 * factor - at) / scale) < 1.0 - content).sum())
        assert not low < less < more < high
    assert more > high


@every_kind
@pytest.mark.statistical
def test_draws_of_the_parameters_make_the_law_of_the_next_value(known, seed):
    draws = 100_000
    rng = default_rng([seed, known.tests])
    at, scale = known.parameters(rng.standard_normal((draws, known.columns)))
    middle, unit = known.unit()
    for x in middle + unit * np.array([-6.0, -2.5, -0.8, 0.4, 2.0, 6.0]):
        u = known.normal((x - at) / scale)
        below, above = known.shares(np.array([x]))
        for found, given in ((below[0], ndtr(u)), (above[0], ndtr(-u))):
            assert abs(found - given.mean()) < 4.5 * given.std() / math.sqrt(draws)
    # Values themselves: their share below three places, by count.
    values = at + scale * known.standard(rng.standard_normal(draws))
    for x in middle + unit * np.array([-1.0, 0.0, 1.0]):
        share = known.shares(np.array([x]))[0][0]
        low, high = stats.binom.interval(1.0 - 1e-5, draws, share)
        assert low <= (values < x).sum() <= high
        # Five per cent more scatter, or a shift by a tenth of it, is noticed.
    moved = (values + 0.1 * unit < x).sum()
    assert not low <= moved <= high


@every_kind
def test_density_is_the_slope_of_the_shares(known):
    middle, unit = known.unit()
    x = middle + unit * np.linspace(-4.0, 4.0, 33)
    step = 1e-4 * unit
    slope = (known.shares(x + step)[0] - known.shares(x - step)[0]) / (2.0 * step)
    assert_allclose(known.density(x), slope, rtol=1e-5, atol=1e-7 / unit)


@every_kind
def test_standard_numbers_there_and_back(known):
    z = np.linspace(-12.0, 12.0, 481)
    w = known.standard(z)
    assert np.isfinite(w).all()
    assert (np.diff(w) > 0.0).all()
    assert_allclose(known.normal(w), z, rtol=1e-9, atol=1e-9)
    far = known.normal(np.array([-1e6, -800.0, 800.0, 1e6]))
    assert np.isfinite(far).all()
    assert (np.diff(far) >= 0.0).all()


@every_kind
def test_parameters_are_finite_far_out(known):
    corners = np.array(np.meshgrid(*([[-12.0, -8.0, 0.0, 8.0, 12.0]] * known.columns)))
    at, scale = known.parameters(corners.reshape(known.columns, -1).T)
    assert np.isfinite(at).all()
    assert np.isfinite(scale).all()
    assert (scale > 0.0).all()


@every_kind
def test_another_unit_moves_the_shares_along(known):
    middle, unit = known.unit()
    x = middle + unit * np.linspace(-3.0, 3.0, 13)
    moved = known.moved(2.5, -4.0)
    for mine, theirs in zip(moved.shares(2.5 * x - 4.0), known.shares(x), strict=True):
        assert_allclose(mine, theirs, rtol=1e-6, atol=1e-12)
    assert moved.unit() == pytest.approx((2.5 * middle - 4.0, 2.5 * unit))
    assert moved.tests == known.tests


@every_kind
def test_a_wider_scatter_keeps_the_middle(known):
    middle, unit = known.unit()
    wide = known.spread(3.0)
    assert wide.unit() == pytest.approx((middle, 3.0 * unit))
    x = unit * np.linspace(-3.0, 3.0, 13)
    assert_allclose(
        wide.shares(middle + 3.0 * x)[0], known.shares(middle + x)[0], rtol=1e-6, atol=1e-12
    )


@every_kind
def test_many_tests_leave_the_law_that_is_seen(known):
    many = known.with_tests(3_000)
    assert many.tests == 3_000
    assert many.unit() == pytest.approx(known.unit(), rel=1e-6)
    middle, unit = known.unit()
    far = np.array([middle - 4.0 * unit, middle + 4.0 * unit])
    assert (many.shares(far)[0][0], many.shares(far)[1][1]) < (
        known.shares(far)[0][0],
        known.shares(far)[1][1],
    )
    at, scale = many.parameters(default_rng(1).standard_normal((200, many.columns)))
    assert at.std() < 0.1 * unit
    assert scale.std() < 0.1 * unit


def test_a_measuring_error_is_taken_out_and_something_is_left(seed):
    # Scatter seen 0.2 of tests with an error of 0.15: sigma^2 = (n-1) s^2/q - 0.15^2, q the
    # chi-square value, where that is positive; simulated by leaving out all others.
    known = NormalTests(1.0, 0.2, 8, 0.15)
    rng = default_rng(seed)
    draws = 100_000
    _, scale = known.parameters(rng.standard_normal((draws, 2)))
    assert (scale > 0.0).all()
    q = rng.chisquare(7, 2 * draws)
    left = 7.0 * 0.2**2 / q - 0.15**2
    other = np.sqrt(left[left > 0.0])
    assert stats.ks_2samp(scale, other).pvalue > 1e-4
    # That is not what is left of the error-free law.
    _, whole = NormalTests(1.0, 0.2, 8).parameters(rng.standard_normal((draws, 2)))
    assert stats.ks_2samp(whole, other).pvalue < 1e-10
    # An error that hardly counts changes nothing.
    e = rng.standard_normal((100, 2))
    plain, small = NormalTests(1.0, 0.2, 8), NormalTests(1.0, 0.2, 8, 1e-7)
    for mine, theirs in zip(small.parameters(e), plain.parameters(e), strict=True):
        assert_allclose(mine, theirs, rtol=1e-9)


@pytest.mark.parametrize(
    "call",
    [
        # P(chi-square of 19 below 19/25) is 6e-11, of 20 below 20/25 2e-11.
        lambda: NormalTests(1.0, 0.1, 20, 0.5),
        lambda: LotTests(1.0, 0.2, 0.1, 4, 24, 6.0, 0.5),
    ],
)
def test_a_scatter_far_below_the_measuring_error_is_refused(call):
    with pytest.raises(ValueError, match="far smaller than the measuring error stated"):
        call()


def test_equal_lots_are_the_one_way_table(seed):
    values, lots = BALANCED
    known = LotTests.of(values, lots)
    groups = [values[:3], values[3:6], values[6:]]
    within = np.mean([np.var(group, ddof=1) for group in groups])
    # Mean squares between and within lots: their ratio is that of scipy's analysis of variance.
    assert known.size * known.mean_sd**2 / known.within_sd**2 == pytest.approx(
        stats.f_oneway(*groups).statistic
    )
    assert known.within_sd**2 == pytest.approx(within)
    assert known.likely[0] ** 2 == pytest.approx(known.mean_sd**2 - within / 3.0)
    # Two chi-squares make the draws, of 2 and of 6 degrees.
    e = default_rng(seed).standard_normal((1000, 3))
    means = 2.0 * known.mean_sd**2 / stats.chi2.ppf(stats.norm.cdf(e[:, 1]), 2)
    own = 6.0 * within / stats.chi2.ppf(stats.norm.cdf(e[:, 2]), 6)
    between = np.maximum(means - own / 3.0, 0.0)
    at, scale = known.parameters(e)
    assert_allclose(scale, np.sqrt(between + own), rtol=1e-9)
    assert_allclose(at, known.mean + e[:, 0] * np.sqrt(means / 3.0), rtol=1e-9)
    assert_allclose(known.fractions(e), between / (between + own), rtol=1e-8, atol=1e-12)
    assert (between == 0.0).any()


def test_unequal_lots_by_simulation(seed):
    # The variance of lot means has the mean between^2 + within^2/size exactly, with the harmonic
    # mean size, and nearly a chi-square law.
    sizes, between, within, times = (2, 4, 10), 0.8, 1.0, 20_000
    rng = default_rng(seed)
    means = between * rng.standard_normal((times, 3))
    means += within * rng.standard_normal((times, 3)) / np.sqrt(sizes)
    lots = [str(lot) for lot in np.repeat(range(3), sizes)]
    known = LotTests.of(rng.standard_normal(16).tolist(), lots)
    assert known.size == pytest.approx(3.0 / (1 / 2 + 1 / 4 + 1 / 10))
    q = 2.0 * means.var(axis=1, ddof=1) / (between**2 + within**2 / known.size)
    assert abs(q.mean() - 2.0) < 4.5 * q.std() / math.sqrt(times)
    # With the arithmetic mean of the sizes it would not be.
    wrong = q * (between**2 + within**2 / known.size) / (between**2 + within**2 * 3.0 / 16.0)
    assert abs(wrong.mean() - 2.0) > 4.5 * wrong.std() / math.sqrt(times)
    for p in (0.05, 0.5, 0.95):
        assert np.quantile(q, p) == pytest.approx(stats.chi2.ppf(p, 2), rel=0.08)


@pytest.mark.parametrize("tests", [30, 300, 5000])
def test_the_scale_from_many_tests_is_nearly_normal(tests):
    # Large samples: ln b has the s.d. sqrt(6/pi^2/n), the inverse of Fisher's information with the
    # mode unknown (J. F. Lawless, Statistical Models and Methods for Lifetime Data, 2003, ch. 5).
    known = ExtremeTests.ideal(0.0, 1.0, tests, smallest=False)
    _, scale = known.parameters(np.array([[0.0, -3.0], [0.0, 3.0]]))
    width = math.log(scale[1] / scale[0]) / 6.0
    assert width == pytest.approx(math.sqrt(6.0 / tests) / math.pi, rel=1.5 / math.sqrt(tests))


def test_further_lots_of_the_same_size():
    known = LotTests.of(*BALANCED)
    more = known.with_tests(18)
    assert (more.lots, more.tests, more.size) == (6, 18, 3.0)
    assert known.with_tests(9) == known


@pytest.mark.published
def test_likeliest_preloads():
    # The fit of scipy.stats, another library, to preloads of the table above.
    for smallest, law in ((False, stats.gumbel_r), (True, stats.gumbel_l)):
        mode, scale = law.fit(np.array(PRELOADS))
        assert ExtremeTests(PRELOADS, smallest).unit() == pytest.approx((mode, scale), rel=1e-5)
    # ... and to their logarithms: a Weibull law of two parameters.
    shape, _, scale = stats.weibull_min.fit(np.array(PRELOADS), floc=0.0)
    logs = tuple(math.log(value) for value in PRELOADS)
    assert ExtremeTests(logs, smallest=True).unit() == pytest.approx(
        (math.log(scale), 1.0 / shape), rel=1e-4
    )


@pytest.mark.parametrize(("count", "smallest"), [(3, True), (7, False)])
def test_location_and_scale_by_integrating_their_posterior(count, smallest):
    # Likelihood times 1/b over a fine grid of mode a and log scale: no step of the closed form.
    values = np.array(PRELOADS[:: 20 // count][:count])
    known = ExtremeTests(tuple(values.tolist()), smallest)
    law = stats.gumbel_l if smallest else stats.gumbel_r
    mode, unit = known.unit()
    modes = mode + unit * np.linspace(-40.0, 40.0, 2001)
    logs = math.log(unit) + np.linspace(-3.0, 4.5, 751)
    a, b = np.meshgrid(modes, np.exp(logs), indexing="ij")
    # In log b the prior 1/b is even.
    with np.errstate(over="ignore"):
        likelihood = sum(law.logpdf(value, a, b) for value in values)
    posterior = np.exp(likelihood + count * math.log(unit))
    of_scale = np.cumsum(posterior.sum(axis=0))
    of_scale /= of_scale[-1]
    for e in (-1.5, -0.5, 0.0, 0.8, 1.6):
        _, scale = known.parameters(np.array([[0.0, e]]))
        below = np.interp(math.log(scale[0]) - 0.5 * (logs[1] - logs[0]), logs, of_scale)
        assert below == pytest.approx(ndtr(e), abs=1e-3)
    # The mode, given a scale of the grid.
    place = 300
    given = np.cumsum(posterior[:, place])
    given /= given[-1]
    near = np.interp(logs[place], *_scale_numbers(known))
    for e in (-1.5, 0.0, 1.5):
        at, scale = known.parameters(np.array([[e, near]]))
        assert scale[0] == pytest.approx(math.exp(logs[place]), rel=1e-6)
        below = np.interp(at[0] - 0.5 * (modes[1] - modes[0]), modes, given)
        assert below == pytest.approx(ndtr(-e if smallest else e), abs=2e-3)


def _scale_numbers(known):
    numbers = np.linspace(-6.0, 6.0, 20_001)
    _, scale = known.parameters(np.column_stack([np.zeros_like(numbers), numbers]))
    return np.log(scale), numbers


@pytest.mark.parametrize("smallest", [False, True])
@pytest.mark.parametrize("tests", [3, 12])
def test_even_tests_have_the_summary_they_stand_for(tests, smallest):
    ideal = ExtremeTests.ideal(7.0, 0.4, tests, smallest)
    assert ideal.tests == tests
    assert ideal.unit() == pytest.approx((7.0, 0.4))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: NormalTests(1.0, 0.1, 2), "2 tests: at least 3 are needed to tell a scatter"),
        (lambda: NormalTests(1.0, 0.0, 5), "tests that are all equal tell no scatter"),
        (lambda: NormalTests(math.nan, 0.1, 5), "mean is nan: it must be a finite number"),
        (lambda: NormalTests(1.0, 0.1, 5, -0.1), "measuring sd is -0.1: it must be zero or above"),
        (lambda: ExtremeTests((1.0, 2.0)), "2 tests: at least 3"),
        (lambda: ExtremeTests((1.0, 1.0, 1.0)), "all tests are equal"),
        (lambda: ExtremeTests((1.0, 2.0, math.inf)), "values is inf"),
        (lambda: LotTests.of([1.0, 2.0, 3.0], list("aaa")), "two lots or more, not 1"),
        (lambda: LotTests.of([1.0, 2.0, 3.0], list("abc")), "a lot of two tests or more"),
        (lambda: LotTests.of([1.0, 2.0, 1.0, 2.0], list("aabb")), "sd of lot means is 0"),
        (lambda: LotTests.of([1.0, 1.0, 2.0, 2.0], list("aabb")), "no lot shows any scatter"),
        (lambda: LotTests(1.0, 0.1, 0.1, 1, 5, 5.0), "lots is 1: it must be two or more"),
        (lambda: LotTests(1.0, 0.1, 0.1, 5, 5, 1.0), "tests is 5: it must be more than the lots"),
    ],
)
def test_what_tells_no_scatter_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.statistical
def test_further_lots_are_drawn_from_what_is_known(seed):
    """The mean of what more lots tell is what is known; its scatter shrinks with their number."""
    rng = np.random.default_rng(seed)
    known = LotTests(10.0, 1.0, 0.5, lots=20, tests=100, size=5.0)
    after = [known.after_more(20, rng) for _ in range(400)]
    assert {(each.lots, each.tests, each.size) for each in after} == {(40, 200, 5.0)}
    # The mean of 40 lots given that of 20: half old, half new. Of 20 new lot means about a true
    # mean that is itself uncertain, var = (1 + 1) 1/20 (and Student's tail, 19/17).
    means = np.array([each.mean for each in after])
    sd = 0.5 * np.sqrt(2.0 / 20.0 * 19.0 / 17.0)
    assert means.mean() == pytest.approx(10.0, abs=4 * sd / np.sqrt(400))
    assert means.std() == pytest.approx(sd, rel=4 / np.sqrt(2 * 400))
    within = np.array([each.within_sd for each in after])
    assert within.mean() == pytest.approx(0.5, rel=0.02)
