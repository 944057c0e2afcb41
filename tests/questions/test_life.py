"""The joint over its service: against closed forms, quadrature and a simulation in plain numpy."""

import math

import numpy as np
import pytest
from scipy.special import ndtr
from scipy.stats import lognorm

from preloadmc import run
from preloadmc.joint import evaluate
from preloadmc.units import TIME, parse_quantity

DAY = 86400.0
YEAR = 365.25 * DAY
HOUR = 3600.0
F0, MINIMUM = 40e3, 30e3
RATE, COV = 0.03, 0.4
PAINT = {
    "name": "paint",
    "rate": {"law": "lognormal", "mean": RATE, "cov": COV},
    "reference": "1 h",
}
# A preload that is known, and loses an uncertain share each decade.
CREEPING = {
    "friction": {"thread": 0.12},
    "fastener.property_class": None,
    "settling.embedding": "0 um",
    "settling.relaxation": "0 %",
    "tightening": {"method": "stated scatter", "preload": "40 kN"},
    "settling.over_time": [PAINT],
    "requirement": {
        "minimum_preload": "30 kN",
        "maximum_preload": "80 kN",
        "allowed_under": "1 %",
    },
    "sampling": {"samples": 4000, "seed": 7},
}


def rate_law():
    sd = math.sqrt(math.log1p(COV**2))
    return lognorm(sd, scale=RATE / math.sqrt(1 + COV**2))


def too_creepy(time, needed=MINIMUM, held=F0, reference=HOUR):
    """How likely creep leaves less than is needed, of a preload that is known."""
    return rate_law().sf((1 - needed / held) / math.log10(1 + time / reference))


def agrees(judged, exact, within=0.05):
    found = judged.probability
    assert found.low <= exact <= found.high, (found, exact)
    if found.bound is None:
        assert found.value == pytest.approx(exact, rel=within)


def test_a_rate_that_is_known_by_its_law(make_case):
    # Held to so little, each probability asks for its own estimate.
    requirement = {**CREEPING["requirement"], "allowed_under": 1e-8}
    case = make_case({**CREEPING, "requirement": requirement})
    life = run(case, seed=3, until=20 * YEAR, samples=200_000).life
    assert [each.words for each in life.points] == [
        "1 h",
        "1 day",
        "30 days",
        "1 year",
        "10 years",
        "20 years",
    ]
    for point in life.points:
        exact = too_creepy(point.time)
        agrees(point.under, exact, within=0.2)
        # Preload only falls: what was too little by then still is.
        assert point.by_then == point.under
        assert point.over.probability.high < 1e-4
    # From a millionth to several per cent.
    assert too_creepy(life.points[1].time) < 1e-6
    assert too_creepy(life.points[-1].time) > 0.05


@pytest.mark.slow
def test_the_longest_interval_keeps_what_is_allowed(make_case):
    life = run(make_case(CREEPING), seed=3, until=20 * YEAR).life
    # Solved for the time at which it is the allowed 1 %.
    exact = HOUR * (10 ** (0.25 / rate_law().ppf(0.99)) - 1)
    assert not life.all_along
    assert 0.75 * exact < life.longest <= exact
    # A preload is stated, and no torque that would turn the fastener on.
    assert (life.first_retightening, life.at_longest) == (None, None)
    assert life.untried == "'stated scatter' does not tighten what is tight already"
    assert run(make_case(CREEPING), seed=3, until=HOUR).life.all_along


# Aluminium with a steel fastener, cold in its first year, which then ends; creep takes more after.
COLD_YEAR = {
    "fastener.material": "steel",
    "clamped": [{"material": "aluminium 6082", "thickness": "40 mm"}],
    "temperature": {
        "assembly": "20 degC",
        "state": [
            {
                "name": "cold",
                "fastener": "-30 degC",
                "clamped": "-30 degC",
                "start": "0 h",
                "duration": "1 year",
            }
        ],
    },
}


def test_what_was_loose_in_its_first_year_counts_by_then_and_not_at_the_end(make_case):
    case = make_case({**CREEPING, **COLD_YEAR, "service.times": ["30 d", "1 year", "1.5 years"]})
    # What is left in the cold is linear in what has settled: two joints without creep tell it.
    x = {**case.means, "settling.over_time.paint.rate": 0.0}
    less, more = (
        float(evaluate(case.joint, {**x, "tightening.preload": held}).named("cold").preload)
        for held in (MINIMUM, F0)
    )
    needed = MINIMUM + (MINIMUM - less) / (more - less) * (F0 - MINIMUM)
    assert needed > MINIMUM + 1e3
    life = run(case, seed=3, samples=200_000).life
    cold = {time: too_creepy(time, needed) for time in (30 * DAY, YEAR)}
    first, year, end = life.points
    agrees(first.under, cold[30 * DAY])
    agrees(year.under, cold[YEAR])
    assert year.by_then.probability.value == pytest.approx(cold[YEAR], rel=0.05)
    agrees(end.under, too_creepy(1.5 * YEAR))
    agrees(end.by_then, max(cold[YEAR], too_creepy(1.5 * YEAR)))
    assert end.by_then.probability.low > 2 * end.under.probability.high


# Torque of 77.4 N·m with a known nut factor and a normal tool: F1 = F (1 + e1).
K, D, TORQUE, TOOL = 0.16, 12.0, 77.4e3, 0.06
F = TORQUE / (K * D)
CHANGE, LOSS = 0.05, 0.04
RETIGHTENED = {
    "friction": {"nut_factor": K, "change_per_tightening": CHANGE},
    "fastener.property_class": None,
    "settling.embedding": "0 um",
    "settling.relaxation": "0 %",
    "tightening.tool": {"law": "normal", "sd": TOOL},
    "settling.over_time": [{"name": "paint", "rate": LOSS, "reference": "1 h"}],
    "service.times": ["999 h", "9999 h"],
    "service.action": [{"at": "999 h", "do": "retighten"}],
    "requirement": {"maximum_preload": "80 kN", "allowed_under": "1 %"},
    "sampling": {"samples": 4000, "seed": 7},
}


def two_tightenings(minimum):
    """Probabilities of too little before the retightening, at the end, and of either.

    3 decades are gone at 999 hours and one more by 9999. F1 (1 - 4 L) is held at the end, or
    F2 (1 - L) where F2 is more than F1 (1 - 3 L). Over the normal law of the first tool on a grid.
    """
    z = np.linspace(-8.0, 8.0, 200_001)
    weights = np.exp(-0.5 * z**2)
    weights /= weights.sum()
    first, again = F * (1 + TOOL * z), F / (1 + CHANGE)
    before = first * (1 - 3 * LOSS) < minimum
    held = ndtr((first * (1 - 3 * LOSS) / again - 1) / TOOL)
    enough = ndtr((minimum / (1 - LOSS) / again - 1) / TOOL)
    end = np.maximum(enough - held, 0.0) + held * (first * (1 - 4 * LOSS) < minimum)
    return weights @ before, weights @ end, weights @ np.where(before, 1.0, end)


def shares(minimum):
    """The same of a million joints drawn one by one."""
    rng = np.random.default_rng(5)
    first, again = F * (1 + TOOL * rng.standard_normal((2, 1_000_000)))
    again /= 1 + CHANGE
    held = first * (1 - 3 * LOSS)
    end = np.where(again > held, again * (1 - LOSS), first * (1 - 4 * LOSS))
    before, under = held < minimum, end < minimum
    return before.mean(), under.mean(), (before | under).mean()


@pytest.mark.parametrize("minimum", [30e3, pytest.param(34.5e3, marks=pytest.mark.slow)])
def test_two_tightenings_by_quadrature(make_case, minimum):
    exact = two_tightenings(minimum)
    assert shares(minimum) == pytest.approx(exact, rel=0.02, abs=2e-5)
    asked = {"minimum_preload": f"{minimum} N", "allowed_under": 1e-7}
    case = make_case({**RETIGHTENED, "requirement": {**RETIGHTENED["requirement"], **asked}})
    life = run(case, seed=3, samples=100_000).life
    first, last = life.points
    found = first.by_then, last.under, last.by_then
    for judged, probability in zip(found, exact, strict=True):
        agrees(judged, probability)
    without = ndtr((minimum / (F * (1 - 4 * LOSS)) - 1) / TOOL)
    agrees(life.without, without)
    # A check of the check: the three differ.
    assert exact[1] < 0.9 * exact[0] < 0.9 * exact[2] < without


@pytest.mark.slow
def test_a_retightening_that_was_tried_is_the_one_that_is_stated(make_case):
    stated = {**RETIGHTENED, "requirement.minimum_preload": "30 kN"}
    tried = run(make_case({**stated, "service.action": None}), seed=3).life.at_longest
    hours = tried.time / HOUR
    action = [{"at": f"{hours!r} h", "do": "retighten"}]
    life = run(make_case({**stated, "service.action": action}), seed=3, samples=100_000).life
    a, b = tried.under.probability, life.points[-1].by_then.probability
    assert max(a.low, b.low) <= min(a.high, b.high), (a, b)
    assert tried.time == pytest.approx(parse_quantity(f"{hours!r} h", TIME))


SD, PASS = 0.03, 66.5e3


def checked_joints(n=1_000_000):
    """A check of the tightened joints, one by one in plain numpy."""
    rng = np.random.default_rng(11)
    held = F * (1 + TOOL * rng.standard_normal(n)) * (1 - 3 * LOSS)
    reads = held * K * D * (1 + SD * rng.standard_normal(n))
    return reads, held < 34e3


def test_what_a_check_reads_finds_and_passes(make_case):
    check = {
        "at": "999 h",
        "do": "check",
        "pass_torque": "66.5 N·m",
        "reading": {"law": "normal", "sd": SD},
    }
    case = make_case(
        {
            **RETIGHTENED,
            "requirement.minimum_preload": "34 kN",
            "requirement.allowed_under": None,
            "service.times": ["9999 h"],
            "service.action": [check],
            "cost": {"per_check": 2, "per_retightening": 5, "per_under": 100},
        }
    )
    result = run(case, seed=3, samples=131_072)
    (found,) = result.life.checks
    reads, loose = checked_joints()
    turns = reads < PASS
    assert found.good == pytest.approx(np.quantile(reads[~loose], (0.05, 0.5, 0.95)), rel=2e-3)
    for share, of in (
        (found.loose, loose),
        (found.turned, turns),
        (found.false_alarms, turns[~loose]),
        (found.passed, ~turns[loose]),
        (found.passed_at_low, (reads >= found.good[0])[loose]),
    ):
        assert share.low <= of.mean() <= share.high
    assert 0.05 < found.false_alarms.value < found.turned.value < 0.5
    assert 0.001 < found.passed.value < 0.2
    # Each is checked, and those that turn are retightened.
    under = result.life.points[-1].by_then.probability.value
    exact = 2 + 5 * found.turned.value + 100 * under
    assert result.life.expected_cost == pytest.approx(exact)


@pytest.mark.slow
def test_one_thread_or_two_give_the_same_bits(make_case):
    case = make_case({**RETIGHTENED, "requirement.minimum_preload": "30 kN"})
    one, two = (run(case, samples=2000, threads=threads) for threads in (1, 2))
    assert one.life.points == two.life.points
    assert np.array_equal(one.life.bands, two.life.bands)
    assert one.life.longest == two.life.longest
