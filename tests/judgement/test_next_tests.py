"""Which tests are worth doing next: limits to be expected, against simulated test series."""

import math
from dataclasses import replace

import numpy as np
import pytest
from judgements import MEETS, judgement
from numpy.random import default_rng
from scipy import stats

from preloadmc.estimates.probability import from_counts
from preloadmc.judgement.bands import Bands
from preloadmc.judgement.next_tests import MORE, next_tests, worth_testing
from preloadmc.judgement.next_tests import tests_words as words_of
from preloadmc.judgement.verdicts import Judged

# F = T/(K d) with ln K normal from ten tests, as in the tests of bands: s.d. sqrt(ln 1.01).
SD = math.sqrt(math.log(1.01))
MIDDLE = math.log(0.2) - 0.5 * SD * SD
FACTOR = 3.9811
MINIMUM = 77.4e3 / (12.0 * math.exp(MIDDLE + FACTOR * SD))


def nut_factor(minimum=MINIMUM, **more):
    law = {"law": "lognormal", "mean": 0.2, "cov": "10 %", "tests": 10, **more.pop("law", {})}
    return {
        "friction": {"nut_factor": law},
        "requirement": {
            "minimum_preload": f"{minimum} N",
            "maximum_preload": "200 kN",
            "allowed_under": "0.5 %",
            "allowed_over": 1,
        },
        "fastener.yield_strength": "5000 MPa",
        "fastener.tensile_strength": "6000 MPa",
        **more,
    }


FRICTIONS = {
    "friction.thread": {
        "law": "lognormal", "mean": 0.13, "cov": "6 %", "tests": 5, "test_price": 100,
    },
    "friction.bearing": {
        "law": "lognormal", "mean": 0.13, "cov": "8 %", "tests": 9, "test_price": 1,
    },
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "requirement.allowed_under": "0.1 %",
    "requirement.allowed_over": 1,
}  # fmt: skip


def asked(case, allowed=None):
    """What is worth testing for too little preload, by the band alone."""
    bands = Bands.of(case, 7)
    predicted = from_counts(212, 100_000)
    allowed = case.requirement.allowed_under if allowed is None else allowed
    side = Judged("under_preload", ("under",), predicted, predicted, allowed)
    return next_tests(bands, replace(side, band=bands.band("under_preload")))


@pytest.fixture(scope="module")
def found(session_case):
    return asked(session_case(nut_factor()))


def simulated(more, times=200):
    """Mean distance of the upper limit after so many further tests, by the tolerance factor.

    Parameters as ten tests leave them; new tests from these; then the 95 % limit z of P(ln K > k),
    which is that where the one-sided factor of all tests equals their distance: nct of scipy.
    """
    rng = default_rng(1)
    sd = SD * np.sqrt(9.0 / rng.chisquare(9, times))
    mean = MIDDLE + rng.standard_normal(times) * sd / math.sqrt(10.0)
    n = 10 + more
    new = mean[:, None] + sd[:, None] * rng.standard_normal((times, more))
    # Ten made-up tests with the mean and s.d. stated, and the new ones beside them.
    old = np.linspace(-1.0, 1.0, 10)
    old = MIDDLE + SD * old / old.std(ddof=1)
    all_tests = np.concatenate([np.broadcast_to(old, (times, 10)), new], axis=1)
    limit = MIDDLE + FACTOR * SD
    k = (limit - all_tests.mean(axis=1)) / all_tests.std(axis=1, ddof=1)
    low, high = np.full(times, -5.0), np.full(times, 12.0)
    for _ in range(20):
        z = 0.5 * (low + high)
        covered = stats.nct.cdf(k * math.sqrt(n), n - 1, z * math.sqrt(n)) >= 0.95
        low, high = np.where(covered, z, low), np.where(covered, high, z)
    return z.mean(), z.std()


@pytest.mark.statistical
@pytest.mark.parametrize("more", [5, 20])
def test_limits_to_be_expected(found, more):
    assert found.upper == pytest.approx(1e-2, rel=0.06)
    (tests,) = found.tests
    beta = -stats.norm.ppf(tests.limits[more])
    mean, sd = simulated(more)
    # 64 outcomes stand for all; the surface of a margin in one quantity is exact.
    assert abs(beta - mean) < 4.5 * sd / math.sqrt(64) + 0.03
    # Not what it is now, nor what certainty would give.
    assert 2.33 + 0.1 < beta < FACTOR - 0.1


def test_what_is_told_of_each_input(found):
    (tests,) = found.tests
    assert (found.event, found.label) == ("under_preload", "too little preload")
    assert (found.allowed, found.is_settled) == (0.005, False)
    assert (tests.input, tests.tests, tests.price) == ("friction.nut_factor", 10, None)
    assert tuple(tests.limits) == MORE
    # Each further test helps.
    limits = list(tests.limits.values())
    assert limits == sorted(limits, reverse=True)
    assert tests.settles == next(more for more in MORE if tests.limits[more] <= 0.005)
    assert found.best is tests


def test_words_where_tests_settle_it(found):
    assert words_of(found).startswith(
        f"test more: {found.best.settles} more tests of nut factor are expected to settle whether "
        "too little preload is within what is allowed"
    )


def test_words_where_none_do(session_case):
    hopeless = asked(session_case(nut_factor()), 1e-9)
    assert hopeless.best.settles is None
    words = words_of(hopeless)
    assert "is not resolved by the tests made, and 50 more of one input are not expected" in words
    assert "testing nut factor helps most" in words


def test_the_cheapest_that_settles_comes_first(session_case):
    case = session_case(FRICTIONS)
    found = asked(case)
    assert {each.input for each in found.tests} == {"friction.thread", "friction.bearing"}
    costs = [
        math.inf if each.settles is None else each.settles * each.price for each in found.tests
    ]
    assert costs == sorted(costs)
    assert [each.tests for each in sorted(found.tests, key=lambda each: each.input)] == [9, 5]


@pytest.mark.parametrize(("kind", "cov"), [("gumbel", "5 %"), ("weibull", "8 %")])
def test_laws_of_extremes(session_case, kind, cov):
    law = {"law": kind, "cov": cov, "tests": 8}
    (tests,) = asked(session_case(nut_factor(29_300.0, law=law)), 1e-12).tests
    limits = list(tests.limits.values())
    assert all(0.0 < limit < 1.0 for limit in limits)
    assert limits[-1] < limits[0]


def test_more_lots(make_case, tmp_path):
    # Four lots of three, made up.
    values = (
        (0.18, 0.183, 0.187), (0.2, 0.206, 0.201), (0.211, 0.22, 0.214), (0.197, 0.19, 0.192),
    )  # fmt: skip
    rows = [f"{lot},{value}" for lot, of in zip("abcd", values, strict=True) for value in of]
    (tmp_path / "lots.csv").write_text("\n".join(["lot,K", *rows]), encoding="utf-8")
    table = {"law": "lognormal", "tests": "lots.csv", "column": "K", "lot": "lot"}
    case = make_case({**nut_factor(26_000.0), "friction": {"nut_factor": table}})
    found = asked(case)
    (tests,) = found.tests
    assert tests.tests == 12
    # Sixteen more lots of three leave the law nearly as it was fitted.
    law = case.laws["friction.nut_factor"]
    fitted = law.fitted.sf(77.4e3 / (12.0 * 26_000.0))
    assert fitted < tests.limits[50] < 0.5 * found.upper


def test_no_band_nothing_allowed_or_steps(session_case):
    case = session_case(nut_factor())
    bands = Bands.of(case, 7)
    predicted = from_counts(212, 100_000)
    side = Judged("under_preload", ("under",), predicted, predicted, 0.005)
    assert next_tests(bands, side) is None
    band = bands.band("under_preload")
    assert next_tests(bands, replace(side, band=band, allowed=None)) is None
    table = {"law": "tabulated", "values": ["77.4 N·m", "77.3 N·m"]}
    steps = Bands.of(session_case(nut_factor(**{"tightening.torque": table})), 7)
    assert next_tests(steps, replace(side, band=band)) is None
    # No way to a miss is known; nor is one so far off that next to no draw reaches it.
    none = Judged("spontaneous back-off", (), predicted, predicted, 0.005, band=band)
    assert next_tests(bands, none) is None
    far = 77.4e3 / (12.0 * math.exp(MIDDLE + 8.4 * SD))
    sure = Bands.of(session_case(nut_factor(far, law={"tests": 100_000})), 7)
    assert next_tests(sure, replace(side, band=band)) is None


def test_what_a_judgement_wants_tested(session_case):
    bands = Bands.of(session_case(nut_factor()), 7)
    band = bands.band("under_preload")

    def judged(under, allowed):
        made = judgement(under, MEETS, allowed=(allowed, 1.0))
        sides = tuple(
            replace(side, band=band if side is made.under else bands.band("over_preload"))
            for side in made.sides
        )
        return worth_testing(bands, replace(made, sides=sides))

    # Predicted 100 per million; with 95 % confidence below 1 %.
    (one,) = judged(MEETS, 5e-3)
    assert (one.event, one.allowed, one.is_settled) == ("under_preload", 5e-3, False)
    # Where nothing hangs on tests, the side that is held to the most is told of.
    (one,) = judged(MEETS, 3e-2)
    assert (one.event, one.is_settled) == ("under_preload", True)
    # Without an allowed probability there is nothing to settle.
    free = judgement(MEETS, MEETS, allowed=(None, None))
    assert worth_testing(bands, free) == ()
