"""The check at the tool: rejects and what passes, against closed forms by hand."""

import math
from dataclasses import replace

import pytest
from scipy.stats import norm

from preloadmc import check, compare, derive, run
from preloadmc.case_file.load import load_case
from preloadmc.chance.laws import Constant
from preloadmc.engine import sample
from preloadmc.errors import CaseError
from preloadmc.judgement.acceptance import screening
from preloadmc.judgement.wording import probability_words
from preloadmc.report.documents.run import run_document
from preloadmc.report.text.compare import compare_text
from preloadmc.report.text.run import run_text

# M12 with mu = 0.12 on a bearing diameter of 15.065 mm (mean of 16.63 and 13.5 mm), by hand:
# B = d2/2 tan(phi + rho') + 0.12·15.065/2 = 1.942 mm with d2 = 12 - 0.649519·1.75 = 10.863 mm,
# tan phi = 1.75/(pi·d2) and tan rho' = 0.12/cos 30°; 77.4 N·m make 39.8 kN.
D2 = 12 - 0.649519 * 1.75
ANGLES = math.atan(1.75 / (math.pi * D2)), math.atan(0.12 / math.cos(math.pi / 6))
BRACKET = D2 / 2 * math.tan(sum(ANGLES)) + 0.12 * 15.065 / 2
PRELOAD = 77.4e3 / BRACKET
COMPLIANCE = 4e-6  # 3 and 1 µm/kN of the base case [mm/N]
TURN = 360.0 * COMPLIANCE / 1.75  # deg for each newton
SEATED = {"tightening.seating_angle": "2 deg", "tightening.tool": {"law": "normal", "sd": "5 %"}}


def found(case):
    drawn = sample(case, seed=3, samples=200_000, precision=None)
    return screening(case.joint.acceptance, drawn)


def watched(make_case, low, high, **more):
    accept = {"angle": [f"{low} deg", f"{high} deg"], **more}
    return make_case({**SEATED, "tightening.accept": accept})


def within(probability, value):
    assert probability.low < value < probability.high


def test_a_watched_angle_is_a_window_of_preload(make_case):
    # The angle is 2 deg + TURN·F, with F normal about 40 kN with 5 %.
    low, high = 2.0 + TURN * 38.5e3, 2.0 + TURN * 43e3
    checked = found(watched(make_case, low, high))
    z_low, z_high = (force / PRELOAD / 0.05 - 1 / 0.05 for force in (38.5e3, 43e3))
    within(checked.rejected, 1.0 - norm.cdf(z_high) + norm.cdf(z_low))
    stage = checked.preload["assembled"]
    assert stage.quantiles[0].value > 38.5e3
    assert stage.quantiles[-1].value < 43e3


def test_the_threshold_takes_its_preload_off(make_case):
    # From 20 N·m on: the first 20/77.4 of the nominal preload is not counted.
    start = 20e3 / BRACKET
    low, high = 2.0 + TURN * (38.5e3 - start), 2.0 + TURN * (43e3 - start)
    from_contact = found(watched(make_case, 2.0 + TURN * 38.5e3, 2.0 + TURN * 43e3))
    from_threshold = found(watched(make_case, low, high, threshold="20 N·m"))
    assert from_threshold.rejected.value == pytest.approx(from_contact.rejected.value, abs=2e-5)


def test_a_reading_error_lets_bad_ones_pass_and_rejects_good_ones(make_case):
    # Bad is below 38 kN. Exact readings reject these alone; with 2 % they do so only mostly.
    accept = {"angle": [f"{TURN * 38e3} deg", "180 deg"]}
    base = {
        "tightening.seating_angle": "0 deg",
        "tightening.tool": {"law": "normal", "sd": "5 %"},
        "requirement.minimum_preload": "38 kN",
        "requirement.maximum_preload": "60 kN",
    }
    exact = found(make_case({**base, "tightening.accept": accept}))
    below = norm.cdf((38e3 / PRELOAD - 1.0) / 0.05)
    within(exact.rejected, below)
    assert exact.bad_passed.value == 0.0
    assert exact.good_rejected.value == 0.0
    blurred = found(
        make_case(
            {**base, "tightening.accept": {**accept, "reading": {"law": "normal", "sd": "2 %"}}}
        )
    )
    # By quadrature: accepted where F·r > 38 kN, r normal about 1 with 2 %.
    from scipy.integrate import quad

    def density(force):
        passes = norm.sf((38e3 / force - 1.0) / 0.02)
        return norm.pdf(force, PRELOAD, 0.05 * PRELOAD) * passes

    passed = quad(density, 30e3, 38e3)[0]
    kept = quad(density, 38e3, 55e3)[0]
    within(blurred.bad_passed, passed / below)
    within(blurred.good_rejected, 1.0 - kept / (1.0 - below))
    within(blurred.misses["under_preload"], passed / (passed + kept))
    assert blurred.tightenings == pytest.approx(1.0 / (passed + kept), rel=0.01)


def test_a_watched_torque_is_a_window_of_friction(make_case):
    # Angle and stiffness are exact: 20 N·m make F_s, the turn adds to it; the final torque is
    # F·B with B normal through the friction under the head alone.
    bearing = {"law": "normal", "mean": 0.12, "sd": 0.012}
    case = make_case(
        {
            "friction.bearing": bearing,
            "tightening": {
                "method": "torque then angle",
                "torque": "0.001 N·m",
                "angle": "30 deg",
                "seating_angle": "0 deg",
                "accept": {"torque": ["55 N·m", "75 N·m"]},
            },
        }
    )
    preload = 30.0 / TURN
    arm = BRACKET - 0.12 * 15.065 / 2
    cut = [(torque / preload - arm) / (15.065 / 2) for torque in (55e3, 75e3)]
    z = [(mu - 0.12) / 0.012 for mu in cut]
    within(found(case).rejected, norm.cdf(z[0]) + norm.sf(z[1]))


def test_nothing_accepted_is_said(make_case):
    case = watched(make_case, 100, 120)
    checked = found(case)
    assert checked.rejected.value == 1.0
    assert checked.misses == {}
    assert math.isinf(checked.tightenings)
    result = run(case, samples=2_000)
    assert "No sample is accepted." in " ".join(run_text(result).split())
    assert run_document(result)["acceptance"]["tightenings"] is None


def test_no_check_is_no_section(make_case):
    result = run(make_case(SEATED | {"tightening.seating_angle": None}), samples=2_000)
    assert result.judgement.screening is None
    assert "check at the tool" not in run_text(result)


def test_the_result_does_not_depend_on_threads(make_case):
    case = watched(make_case, 30, 36)
    first, second = (
        sample(case, seed=3, samples=150_000, precision=None, threads=threads).accepted
        for threads in (1, 3)
    )
    assert first == second


def test_run_and_derivation_tell_the_check(make_case):
    case = watched(make_case, 30, 36, threshold="10 N·m")
    text = " ".join(run_text(run(case, samples=20_000)).split())
    assert "Accepted: angle from 30 deg to 36 deg, counted from 10 N·m." in text
    assert "rejected, of all tightenings" in text
    assert (
        "Every verdict of this report holds for fasteners as tightened, before the check." in text
    )
    step = next(
        step
        for chapter in derive(case).chapters
        for step in chapter.steps
        if step.symbol == "θ_end"
    )
    turned = 2.0 + TURN * (PRELOAD - 10e3 / BRACKET)
    assert math.degrees(step.value) == pytest.approx(turned, rel=1e-4)


def test_compare_shows_the_check_of_each_alternative(write_case):
    path = write_case(
        {
            **SEATED,
            "tightening.accept": {"angle": ["30 deg", "36 deg"]},
            "alternative": [
                {"name": "wider", "tightening": {"accept": {"angle": ["20 deg", "50 deg"]}}},
                {
                    "name": "sensed",
                    "fastener": {"plastic_strain": "6 %"},
                    "tightening": {"method": "stated scatter", "preload": "40 kN"},
                },
            ],
        }
    )
    result = compare(load_case(path))
    text = compare_text(result)
    assert "outside, of those accepted" in text
    wider = result.alternatives[1].judged.screening
    assert wider.acceptance.low == pytest.approx(math.radians(20))
    # What another method monitors falls away with the method.
    assert result.alternatives[2].judged.screening is None


@pytest.mark.parametrize(
    ("accept", "words"),
    [
        ({"angle": ["36 deg", "30 deg"]}, "accept.angle: a list of two, the lower one first"),
        ({"angle": "30 deg"}, "accept.angle: a list of two"),
        ({"torque": ["60 N·m", "80 N·m"]}, "accept.torque: remove it: with 'torque' the tool"),
        ({"threshold": "5 N·m"}, "accept.threshold: the window that it belongs to"),
        ({"angle": ["30 deg", "36 kN"]}, "accept.angle[2]: "),
    ],
)
def test_a_wrong_check_is_told(make_case, accept, words):
    with pytest.raises(CaseError) as caught:
        make_case({"tightening.accept": accept})
    assert words in str(caught.value)


def test_what_is_assumed_of_the_check(make_case):
    case = make_case(
        {"tightening.accept": {"angle": ["30 deg", "36 deg"]}, "tightening.tool": "0 %"}
    )
    assumed = {item.path: item.value for item in case.assumptions}
    assert assumed["tightening.accept.threshold"].startswith("0: the angle counts from the")
    assert assumed["tightening.accept.reading"].startswith("none: the tool reads exactly")
    assert assumed["tightening.seating_angle"].startswith("uniform, 0 to 5 deg, a guide")
    # Without a check none of these is an input.
    assert "tightening.accept.reading" not in make_case().laws
    assert any("it makes the angle that the tool checks" in words for words in check(case).warnings)


def test_a_fastener_that_breaks_is_not_accepted(make_case):
    # 300 N·m, 155 kN, break every one (capacity 77.8 kN), whatever the window.
    case = watched(make_case, 0, 3600)
    broken = replace(case, laws={**case.laws, "tightening.torque": Constant(300e3)})
    assert found(broken).rejected.value == 1.0
    assert found(case).rejected.value == 0.0


def test_a_check_that_rejects_much_is_warned_of_and_told(make_case):
    allowed = {"requirement.allowed_under": 0.5, "requirement.allowed_over": 0.5}
    accept = {"angle": ["34.9 deg", "180 deg"]}
    case = make_case({**SEATED, **allowed, "tightening.accept": accept})
    result = run(case, samples=20_000)
    share = probability_words(result.judgement.screening.rejected)
    told = share.partition(" (")[0]
    assert f"; the check at the tool rejects {told} of tightenings" in result.answer[2]
    assert any(
        words.startswith(f"The check at the tool rejects {share}") for words in result.warnings
    )


def test_rejects_cost_what_they_are_said_to(write_case):
    alternative = {"name": "checked", "tightening": {"accept": {"angle": ["34.9 deg", "180 deg"]}}}
    cost = {"per_joint": 1.0, "per_reject": 3.0}
    path = write_case({**SEATED, "tightening.seating_angle": None, "cost": cost})
    plain = load_case(path)
    assert plain.joint.acceptance is None
    path = write_case(
        {
            **SEATED,
            "tightening.seating_angle": None,
            "cost": cost,
            "alternative": [alternative],
        }
    )
    result = compare(load_case(path))
    first, checked = result.alternatives
    rejected = checked.judged.screening.rejected.value
    assert 0.1 < rejected < 0.9
    # r/(1 - r) tightenings are rejected for each one accepted.
    expected = 1.0 + 3.0 * rejected / (1.0 - rejected)
    assert first.expected_cost.value == pytest.approx(1.0)
    assert checked.expected_cost.value == pytest.approx(expected)
    assert checked.cost_difference_to_first.value == pytest.approx(expected - 1.0)
    assert any('with "checked" rejects' in words for words in result.warnings)
