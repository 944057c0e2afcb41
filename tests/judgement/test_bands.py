"""How far probabilities of a case may lie off for want of tests, against closed forms.

A nut factor K alone makes the preload: F = T/(K d). With ln K normal from n tests, everything given
what is not known has a closed form.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.random import default_rng
from numpy.testing import assert_allclose
from scipy import stats

from preloadmc.case import Case
from preloadmc.engine import restated
from preloadmc.estimates.band import Band
from preloadmc.estimates.probability import from_counts
from preloadmc.judgement.bands import Bands, bands_of, knowledge_share
from preloadmc.judgement.judge import judge
from preloadmc.judgement.verdicts import Judged

TORQUE, DIAMETER = 77.4e3, 12.0
# cov 10 % about 0.2: s.d. sqrt(ln 1.01) of the logarithm, whose mean is ln 0.2 - s^2/2.
SD = math.sqrt(math.log(1.01))
MIDDLE = math.log(0.2) - 0.5 * SD * SD
TESTED = {"law": "lognormal", "mean": 0.2, "cov": "10 %", "tests": 10}
# One-sided factor of ten tests, content 99 % at 95 % (non-central t, worked out apart).
FACTOR = 3.9811


def preload_at(distance):
    """The preload where ln K is so many s.d. above its mean."""
    return TORQUE / (DIAMETER * math.exp(MIDDLE + distance * SD))


def nut_factor(low=FACTOR, high=-FACTOR, tests=10, **more):
    """Overrides of the base case: limits at so many s.d. of ln K."""
    return {
        "friction": {"nut_factor": {**TESTED, "tests": tests}},
        "requirement": {
            "minimum_preload": f"{preload_at(low)} N",
            "maximum_preload": f"{preload_at(high)} N",
            "allowed_under": "2 %",
            "allowed_over": 1,
        },
        # Yield and breaking lie far above.
        "fastener.yield_strength": "5000 MPa",
        "fastener.tensile_strength": "6000 MPa",
        **more,
    }


@pytest.fixture(scope="module")
def bands(session_case):
    return Bands.of(session_case(nut_factor()), 7)


def exact(bands, distance):
    """P(ln K more than so many s.d. above its mean) given each draw."""
    at, sd = bands.case.parameters(bands.e)["friction.nut_factor"]
    return stats.norm.sf((MIDDLE + distance * SD - at) / sd)


@pytest.mark.statistical
def test_a_band_of_one_tested_law(bands):
    found = bands.conditional("under_preload")
    under = exact(bands, FACTOR)
    near = under > 1e-9
    assert_allclose(found.p[near], under[near], rtol=0.15)
    band = bands.band("under_preload")
    assert band.upper == pytest.approx(1e-2, rel=0.06)
    assert band.upper_low < 1e-2 < band.upper_high
    assert (band.confidence, band.levels) == (0.95, ("knowledge",))
    # By symmetry of ln K the other side has the same.
    assert bands.band("over_preload").upper == pytest.approx(1e-2, rel=0.06)
    # It is searched once.
    assert bands.conditional("under_preload") is found
    # A limit by its name is an event as well.
    assert bands.band("minimum preload").upper == pytest.approx(band.upper, rel=0.05)


@pytest.mark.statistical
def test_its_mean_is_the_probability_predicted(bands):
    # Student's law with 9 degrees at k / sqrt(1 + 1/10).
    predicted = stats.t.sf(FACTOR / math.sqrt(1.1), 9)
    p = bands.conditional("under_preload").p
    # Eight scrambles: the spread of their means tells the error, some 5 %.
    means = p.reshape(8, -1).mean(axis=1)
    assert abs(p.mean() - predicted) < 4.5 * means.std(ddof=1) / math.sqrt(8)
    assert means.std(ddof=1) / math.sqrt(8) < 0.1 * predicted
    law = bands.case.laws["friction.nut_factor"]
    assert law.sf(math.exp(MIDDLE + FACTOR * SD)) == pytest.approx(predicted, rel=1e-9)
    # The law that was fitted would have predicted a sixtieth of it.
    assert stats.norm.sf(FACTOR) < 0.02 * predicted


@pytest.mark.statistical
def test_either_side_of_the_window(bands):
    sides = tuple(from_counts(2122, 1_000_000) for _ in range(2))
    # No fastener is both: the two tails of ln K add, draw by draw.
    whole = exact(bands, FACTOR) + 1.0 - exact(bands, -FACTOR)
    band = bands.band_of_either(from_counts(4244, 1_000_000), sides)
    assert band.upper == pytest.approx(np.quantile(whole, 0.95), rel=0.05)
    # Where all that miss one side miss the other too, half of the sum is what is outside.
    half = bands.band_of_either(from_counts(2122, 1_000_000), sides)
    assert half.upper == pytest.approx(0.5 * band.upper)
    doubted = replace(from_counts(1, 1_000_000), reliable=False)
    assert bands.band_of_either(doubted, sides).upper == band.upper
    none = (from_counts(0, 100), from_counts(0, 100))
    assert bands.band_of_either(from_counts(0, 100), none).upper == band.upper


def test_the_same_seed_draws_the_same(session_case, bands):
    again = Bands.of(bands.case, 7)
    assert (again.e == bands.e).all()
    one, two = (each.conditional("under_preload").p for each in (again, bands))
    assert (one == two).all()
    assert (Bands.of(bands.case, 8).e != bands.e).any()


def test_the_confidence_is_that_of_the_requirement(session_case):
    case = session_case(nut_factor(**{"requirement.confidence": "99 %"}))
    band = bands_of(case, 7).band("under_preload")
    assert band.confidence == 0.99
    # The content of ten tests at k = 3.9811 and 99 %, by the non-central t of scipy.stats.
    k, n = FACTOR, 10
    low, high = 1.0, 6.0
    for _ in range(60):
        z = 0.5 * (low + high)
        covered = stats.nct.cdf(k * math.sqrt(n), n - 1, z * math.sqrt(n)) >= 0.99
        low, high = (z, high) if covered else (low, z)
    assert band.upper == pytest.approx(stats.norm.sf(z), rel=0.15)


def test_without_tests_there_is_none(session_case):
    plain = {"law": "lognormal", "mean": 0.2, "cov": "10 %"}
    assert bands_of(session_case({"friction": {"nut_factor": plain}}), 7) is None


@pytest.mark.statistical
def test_steps_are_sampled_plainly_and_bound_what_they_do_not_tell(session_case):
    # A tabulated set torque goes in steps: no way to a miss is searched for.
    table = {"law": "tabulated", "values": ["77.4 N·m", "77.3 N·m", "77.5 N·m"]}
    near = nut_factor(low=2.0, **{"tightening.torque": table})
    bands = bands_of(session_case(near), 7)
    assert bands.conditional("under_preload").plain_points == 512
    assert bands.band("under_preload").upper == pytest.approx(
        np.quantile(exact(bands, 2.0), 0.95), rel=0.1
    )
    far = bands_of(session_case(nut_factor(low=7.8997, **{"tightening.torque": table})), 7)
    # The factor of ten tests for a content of all but 1e-6.
    upper = np.quantile(exact(far, 7.8997), 0.95)
    assert upper == pytest.approx(1e-6, rel=0.15)
    # Single draws hardly have a miss; the band is wide, and holds it.
    band = far.band("under_preload")
    assert upper < band.upper < 1e-2
    assert band.upper_high == band.upper


def test_what_cannot_be_missed_has_no_band(bands):
    band = bands.band("spontaneous back-off")
    assert (band.upper, band.upper_high) == (0.0, 0.0)


FRICTIONS = {
    "friction.thread": {"law": "lognormal", "mean": 0.13, "cov": "10 %", "tests": 6},
    "friction.bearing": {"law": "gumbel", "mean": 0.13, "cov": "8 %", "tests": 9},
    "tightening.tool": {"law": "normal", "cov": "4 %"},
    "friction.correlation": 0.6,
}


@pytest.mark.statistical
def test_locations_go_along_where_inputs_do(session_case, seed):
    case = session_case(FRICTIONS)
    assert case.unknowns == 4
    rng = default_rng(seed)
    e = rng.standard_normal((20_000, 4))
    drawn = case.parameters(e)
    thread, bearing = drawn["friction.thread"], drawn["friction.bearing"]
    # Given the scale, locations are functions of one normal number each; correlated as stated.
    numbers = (thread[0] - thread[0].mean()) / thread[1]
    assert stats.spearmanr(numbers, bearing[0])[0] > 0.3
    assert abs(stats.spearmanr(thread[1], bearing[1])[0]) < 0.03
    alone = session_case({**FRICTIONS, "friction.correlation": None}).parameters(e)
    assert abs(stats.spearmanr(alone["friction.thread"][0], alone["friction.bearing"][0])[0]) < 0.03


def test_a_point_restated_has_the_same_values(session_case):
    case = session_case(FRICTIONS)
    point = np.array([2.0, -0.5, 1.5])
    parameters = case.parameters(default_rng(1).standard_normal((50, 4)))
    z = restated(case, point, parameters)
    assert z.shape == (50, 3)
    there = case.inputs(point[None, :], case.uncertain)
    again = case.inputs(z, case.uncertain, given=parameters)
    for name in case.uncertain:
        assert_allclose(again[name], np.broadcast_to(there[name], 50), rtol=1e-9)


def test_shares_and_positive_quantities_stay_possible(session_case):
    # Three tests leave much probability below 0 and above 1 of a normal law.
    case: Case = session_case(
        {
            "settling.relaxation": {"law": "normal", "mean": "40 %", "sd": "5 %", "tests": 3},
            "friction.thread": {"law": "normal", "mean": 0.13, "sd": 0.01, "tests": 3},
        }
    )
    z = np.array([[-6.0, -6.0], [0.0, 0.0], [6.0, 6.0]])
    x = case.inputs(z, case.uncertain)
    assert case.laws["settling.relaxation"].from_normal(z[:, 0]).max() > 1.0
    assert x["settling.relaxation"].tolist() == pytest.approx([0.0, 0.4, 1.0])
    # No friction is below 0.0001 or above 10 (bounds of the case file).
    assert x["friction.thread"].tolist() == pytest.approx([1e-4, 0.13, 10.0])


def judged(probability, band, allowed=1e-2):
    return Judged("under_preload", ("under",), probability, probability, allowed, band=band)


def band(low, upper, upper_high=None):
    high = upper_high or upper
    return Band(low, low, high, upper, 0.95, upper, high, 4096, 1000)


@pytest.mark.parametrize(
    ("misses", "limits", "verdict", "wants"),
    [
        # Predicted 10 in 100,000 (48 to 184 per million).
        (10, (1e-6, 5e-3), "meets", False),
        (10, (1e-6, 2e-2), "not resolved", True),
        # The limit is within, but is not known that well itself.
        (10, (1e-6, 9e-3, 1.1e-2), "not resolved", True),
        (10, (1e-6, 1e-2), "meets", False),
        # Predicted 5 %: misses where the lower end is above as well.
        (5000, (2e-2, 1e-1), "misses", False),
        (5000, (1e-3, 1e-1), "not resolved", True),
        # Sampling leaves it open by itself: tests come second.
        (1000, (1e-3, 1e-1), "not resolved", False),
    ],
)
def test_a_verdict_holds_for_both(misses, limits, verdict, wants):
    found = judged(from_counts(misses, 100_000), band(*limits))
    assert (found.verdict, found.wants_tests) == (verdict, wants)
    assert judged(from_counts(misses, 100_000), None).wants_tests is False
    assert judged(from_counts(misses, 100_000), band(*limits), None).wants_tests is False


def test_words_of_a_probability_with_its_band():
    found = judged(from_counts(10, 100_000), band(1e-6, 5e-3))
    assert found.words == "100 per million"
    assert found.limit_words == " (with confidence below 0.5 %)"
    assert found.confidence_words == "with 95 % confidence below 0.5 %"
    # A prediction above the limit of the band is what is told.
    few = judged(from_counts(10, 100_000), band(0.0, 1e-9))
    assert few.confidence_words == "with 95 % confidence below 184 per million"


def test_what_is_for_want_of_tests():
    probability = from_counts(100, 100_000)
    # Squares of the widths of ln p.
    width = math.log(probability.high / probability.low)
    same = band(1e-4, 1e-4 * math.exp(width))
    assert knowledge_share(probability, same) == pytest.approx(0.5)
    assert knowledge_share(probability, band(1e-4, 1e-4 * math.exp(3 * width))) == pytest.approx(
        0.9
    )
    assert knowledge_share(probability, band(0.0, 1e-3)) == 1.0
    assert knowledge_share(from_counts(0, 1000), same) == 1.0


@pytest.mark.parametrize(
    ("allowed", "verdict"), [("2 %", "meets"), ("0.5 %", "not resolved"), ("1e-9", "misses")]
)
def test_a_case_is_judged_by_the_upper_limit(session_case, allowed, verdict):
    # Predicted 0.21 %, with 95 % confidence below 1 %; the low end of the band is 2e-9.
    case = session_case(nut_factor(**{"requirement.allowed_under": allowed}))
    under = judge(case, seed=7).under
    assert under.verdict == verdict
    assert under.band.upper == pytest.approx(1e-2, rel=0.06)
