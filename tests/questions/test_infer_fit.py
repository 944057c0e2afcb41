"""Does a suspect explain what was found? Closed forms, and investigations of known cause.

`INVESTIGATIONS` in the environment sets how many investigations of each kind the slow tests make;
400 of both take some hours.
"""

import os

import forward_model
import numpy as np
import pytest
from scipy.stats import binom, multivariate_normal, norm
from stated import reading, stated_case

from preloadmc.chance.streams import named_rng
from preloadmc.errors import EstimateError
from preloadmc.evidence import BELOW, MEASURED, Reading
from preloadmc.questions.infer.drawn_lots import DrawnLots
from preloadmc.questions.infer.fit_check import check_fit
from preloadmc.questions.infer.likelihood import SuspectModel, log_largest
from preloadmc.questions.infer.question import infer
from preloadmc.questions.infer.simulated import how_reported, simulated

COUNT = int(os.environ.get("INVESTIGATIONS", "48"))
UNNAMED = (
    "tool 28 % low",
    "soft foot",
    "bottomed nuts",
    "wrong set torque",
    "instrument 35 % low",
    "half the lot galling",
)


def model_of(case, place, seed):
    investigation = case.investigation
    rng = named_rng(seed, "model")
    return SuspectModel(investigation.suspects[place], investigation.evidence, rng)


@pytest.mark.statistical
@pytest.mark.parametrize("fraction", [0.1, 0.5])
def test_two_readings_of_a_fastener_are_judged_together(make_case, fraction, seed):
    # Preload N(40, 4), a share of the variance in common. Two readings of fastener 1, error 2, and
    # one of fastener 2: normal with covariance 16 on fastener 1, 16 f between the two.
    values = [33.0, 34.0, 44.0]
    findings = [
        reading(1, f"{values[0]} kN"),
        reading(1, f"{values[1]} kN"),
        reading(2, f"{values[2]} kN"),
    ]
    model = model_of(stated_case(make_case, findings, [], fraction=fraction), 0, seed)
    lots = DrawnLots(model, named_rng(seed, "lots"), 1024, 1024)
    between = 16.0 * fraction
    covariance = np.array([[16, 16, between], [16, 16, between], [between, between, 16]])
    exact = multivariate_normal.logpdf(values, np.full(3, 40.0), covariance + 4.0 * np.eye(3))
    found, error = lots.log_evidence()
    # In newtons: a thousandth of the density for each reading.
    wanted = exact - 3 * np.log(1e3)
    assert found + sum(map(log_largest, model.evidence.findings)) == pytest.approx(wanted, abs=0.15)
    assert error < 0.1
    # By itself each reading is likelier than the two of one fastener are together.
    alone = sum(norm.logpdf(value, 40.0, np.sqrt(20.0)) for value in values)
    assert exact != pytest.approx(alone, abs=0.3)


def below(value):
    return Reading("residual preload", "1", BELOW, value, 60.0, "", "below")


def measured(value):
    return Reading("residual preload", "1", MEASURED, value, 0.05 * value, "", "measured")


def test_the_end_of_the_scale_is_that_of_all_readings_of_a_kind():
    reported = how_reported((measured(30e3), below(3e3), measured(20e3)))
    assert {each.lowest for each in reported.values()} == {3e3}
    assert not any(each.never_read for each in reported.values())
    # One that could not be read would have been read like the others: 5 % of its value.
    assert reported[1].share == pytest.approx(0.05)
    assert reported[0].error == pytest.approx(1.5e3)


def test_a_limit_above_a_value_that_was_read_only_told_a_side():
    reported = how_reported((measured(30e3), below(50e3)))
    assert reported[1].never_read
    assert reported[0].lowest == -np.inf


@pytest.mark.statistical
def test_simulated_inspections_follow_the_law(make_case, seed):
    # N(40, 4) read with error 2: sd sqrt(20); below 35 is reported as "below".
    findings = [reading(1, "41 kN"), reading(2, "below 35 kN", "2 kN")]
    model = model_of(stated_case(make_case, findings, []), 0, seed)
    drawn = simulated(model, 4000, named_rng(seed, "simulated"))
    first = [findings[0] for findings, _ in drawn]
    off_scale = np.mean([each.sense == BELOW for each in first])
    chance = norm.cdf(35, 40, np.sqrt(20.0))
    assert off_scale == pytest.approx(chance, abs=4 * np.sqrt(chance * (1 - chance) / 4000))
    read = np.array([each.value for each in first if each.sense == MEASURED])
    assert read.min() >= 35e3


def test_readings_that_fail_as_often_as_they_should_are_explained(make_case, seed):
    """Half of ten below 3 kN, where half of the lot was missed: no rarity."""
    findings = [
        reading(place, "below 3 kN" if place <= 5 else "40 kN", "2 kN") for place in range(1, 11)
    ]
    missed = {"share": {"law": "uniform", "low": 0.3, "high": 0.7}, "preload_share": 0.02}
    suspects = [{"name": "missed", "missed": missed}]
    case = stated_case(make_case, findings, [], suspect=suspects)
    assert (
        check_fit(model_of(case, 1, seed), named_rng(seed, "check")).chance_of_such_findings > 0.1
    )
    # The joint as designed never makes one.
    designed = check_fit(model_of(case, 0, seed), named_rng(seed, "check"))
    assert not designed.explains
    assert (designed.oddest.figure, designed.oddest.value) == ("not readable", 5.0)
    assert designed.oddest.p95 == 0.0


def test_all_marks_misread_are_not_explained(make_case):
    """Each for itself is no rarity at 5 %; four of them are (0.05^4)."""
    marks = [
        {"fastener": place, "kind": "mark", "value": "turned", "error": 0.05}
        for place in range(1, 5)
    ]
    case = stated_case(make_case, marks, [])
    check = check_fit(model_of(case, 0, 1), named_rng(1, "check"))
    assert not check.explains
    one = stated_case(make_case, [marks[0], *({**m, "value": "not turned"} for m in marks[1:])], [])
    # One of four: P = 1 - 0.95^4 = 19 %.
    assert check_fit(model_of(one, 0, 1), named_rng(1, "check")).explains


def refused_true_causes(make_case, count, seed):
    """How many of so many investigations refuse their true cause."""
    refused = 0
    causes = tuple(forward_model.SUSPECTS)
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        cause = causes[number % len(causes)]
        case = make_case(forward_model.investigation(cause, rng, (cause,)))
        refused += not check_fit(model_of(case, 1, number), rng).explains
    return refused


@pytest.mark.statistical
def test_a_true_cause_is_seldom_refused(make_case, seed):
    # 3 % of four: more than one comes once in 190.
    assert refused_true_causes(make_case, 4, seed) <= 1


@pytest.mark.slow
@pytest.mark.statistical
def test_a_true_cause_is_refused_in_1_to_5_of_100(make_case, seed):
    count = max(COUNT, 100)
    refused = refused_true_causes(make_case, count, seed)
    low, high = binom.ppf([5e-3, 1.0 - 5e-3], count, [0.01, 0.05])
    assert low <= refused <= high


def is_doubted(result):
    """Whether a result says that its causes may not be all."""
    fits = any(verdict.explains_the_evidence for verdict in result.leading)
    return (
        not fits
        or bool(result.other_cause.as_well)
        or result.other_cause.fits_better_than_all_named
    )


@pytest.mark.slow
@pytest.mark.statistical
def test_a_cause_that_nobody_named_is_noticed(make_case, seed):
    """At least 80 %: none explains, an unnamed one fits as well, or wide laws fit better."""
    count = max(COUNT // len(UNNAMED), 4)
    noticed = {}
    for cause in UNNAMED:
        doubted = 0
        for number in range(count):
            rng = np.random.default_rng([seed, number, len(cause)])
            named = ("dry", "paint", "missed")
            case = make_case(forward_model.investigation(cause, rng, named))
            try:
                doubted += is_doubted(infer(case, seed=number, runs=2, particles=64))
            except EstimateError:
                doubted += 1  # it claims no probability
        noticed[cause] = doubted / count
    # A share of 80 % is seen as less than this once in 200 times.
    least = binom.ppf(5e-3, count * len(UNNAMED), 0.8) / (count * len(UNNAMED))
    assert np.mean(list(noticed.values())) >= least, noticed
