"""Aiming within every limit: what is recommended, what closes the settings, and in which words."""

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from closed_joints import (
    LOG_MEAN,
    LOG_SD,
    MAXIMUM,
    MINIMUM,
    SPREAD,
    WIDTH,
    K,
    crushed_joint,
    lognormal_joint,
)
from scipy.special import ndtr, ndtri

from preloadmc import aim, load_case
from preloadmc.questions.aim.answer import setting_words
from preloadmc.questions.aim.question import find_setting
from preloadmc.questions.aim.records import Aim, End
from preloadmc.questions.aim.search import rounded_setting
from preloadmc.report.documents.aim import aim_document
from preloadmc.report.documents.document import as_json
from preloadmc.report.text.aim import aim_text
from preloadmc.report.text.screen import render_screen
from preloadmc.report.text.screens import aim_screen
from preloadmc.units import TORQUE

LAYER = {"material": "steel", "thickness": "20 mm", "limiting_pressure": "500 MPa"}
FRICTION = {"law": "lognormal", "mean": 0.12, "cov": "10 %"}
# Slip asks for 74 N·m, the seats bear 56 N·m.
SLIP_AND_CRUSH = {
    "friction.thread": FRICTION,
    "friction.bearing": FRICTION,
    "friction.joint": {"law": "normal", "mean": 0.2, "cov": "8 %"},
    "load.transverse": "5 kN",
    "clamped": [LAYER, LAYER],
    "requirement.minimum_preload": "15 kN",
    "requirement.allowed_under": 1e-4,
    "requirement.allowed_over": 1e-4,
}


@pytest.fixture
def lognormal(make_case):
    """A function that returns the lognormal joint with what is allowed of each side."""
    return lambda *allowed, **more: lognormal_joint(make_case, *allowed, **more)


def test_no_setting_is_recommended_between_slip_and_a_crushed_seat(make_case):
    result = aim(make_case(SLIP_AND_CRUSH))
    assert result.to_set is None
    assert (result.aim.verdict, result.aim.interval) == ("misses", None)
    low, high = result.aim.low_end, result.aim.high_end
    assert (low.limits, high.limits) == (("slip",), ("pressure under head", "pressure under nut"))
    assert high.setting < result.looked_at.setting < low.setting
    needs, bears = (setting_words(result.setting, end.setting, "metric") for end in (low, high))
    assert result.answer[1].startswith(
        f"What limits: no set torque meets every limit: slip is within what is allowed only from "
        f"{needs} up, pressure under head and pressure under nut only up to {bears}; all scatter "
        "together would have to shrink."
    )
    words = result.answer[2]
    # Each scatter alone would have to shrink too far; a twentieth less than the lower end of what
    # all of it together may be, so that a run confirms it.
    together = result.room.of("all scatter together")
    assert all(each.factor < 0.2 for each in result.room.sources if each is not together)
    assert words.startswith(
        "What to set: no set torque meets every limit; it would take all scatter together at "
        f"{0.95 * together.low:.2g} times today's, or more friction between the parts, more "
        "fasteners or a smaller transverse load, or a larger bearing face, a hardened washer or a "
        "harder part; weighted misses are least at about "
        f"{setting_words(result.setting, result.looked_at.setting, 'metric')}, which is no "
        "recommendation."
    )
    setting = aim_document(result)["setting"]
    assert (setting["to_set"], setting["interval"], setting["interval_limits"]) == (None,) * 3
    least = setting["least_missed"]
    assert least["setting"] == result.looked_at.setting
    verdicts = {each["limit"]: each["verdict"] for each in least["limits"]}
    assert {name for name, verdict in verdicts.items() if verdict == "misses"} == {
        "slip",
        "pressure under head",
        "pressure under nut",
    }
    assert setting["closed_by"] == {
        "low": {"setting": low.setting, "limits": list(low.limits)},
        "high": {"setting": high.setting, "limits": list(high.limits)},
    }


CRUSHED = 52e3
ALLOWED = {
    "requirement.allowed_under": 1e-3,
    "requirement.allowed_over": 1e-3,
    "requirement.allowed": {"pressure": 1e-4},
}


def crushed_ends():
    """Means with F = F0 (1 + c z): 30 kN is missed by 1e-3, and the crushing force by 1e-4.

    By 1e-3 the stated maximum of 60 kN would allow 52.0 kN, more than the seats do.
    """
    low = 30e3 / (1.0 + SPREAD * ndtri(1e-3))
    high = CRUSHED / (1.0 - SPREAD * ndtri(1e-4))
    assert high < 60e3 / (1.0 - SPREAD * ndtri(1e-3))
    return low, high


def test_at_both_ends_the_upper_limits_are_within_what_is_allowed(make_case):
    result = aim(crushed_joint(make_case, CRUSHED, **ALLOWED))
    low, high = crushed_ends()
    ends = result.aim.interval
    assert low <= ends[0] < 1.004 * low
    assert 0.996 * high < ends[1] <= high
    assert result.aim.low_end == End(ends[0], ("under_preload",))
    assert result.aim.high_end == End(ends[1], ("pressure under head", "pressure under nut"))
    exact = {
        "under_preload": lambda mean: ndtr((30e3 / mean - 1.0) / SPREAD),
        "over_preload": lambda mean: ndtr((1.0 - 60e3 / mean) / SPREAD),
        "pressure under head": lambda mean: ndtr((1.0 - CRUSHED / mean) / SPREAD),
        "pressure under nut": lambda mean: ndtr((1.0 - CRUSHED / mean) / SPREAD),
    }
    for end, judged in zip(ends, result.interval_limits, strict=True):
        assert judged.setting == end
        assert {each.name for each in judged.judged} == {*exact, "spontaneous back-off"}
        for each in judged.judged:
            assert each.probability.high <= each.allowed
            assert each.verdict == "meets"
        for name, share in exact.items():
            assert share(end) <= judged.judged.named(name).allowed
    # What closes an end is nearly used up there, by its own limit and not by another's. Levels are
    # 0.09 % apart, 0.02 standard deviations: 8 % of a probability of 1e-4.
    closing = (
        result.interval_limits[0].judged.named("under_preload"),
        result.interval_limits[1].judged.named("pressure under nut"),
    )
    for each in closing:
        assert each.probability.high > 0.85 * each.allowed
    ends = [setting_words(result.setting, end, "metric") for end in result.aim.interval]
    assert result.answer[1].startswith(
        f"What limits: the lower end, {ends[0]}, is set by too little preload (minimum preload, "
        f"settled); the upper end, {ends[1]}, is set by pressure under head and pressure under nut"
    )


def test_settings_are_listed_with_the_limit_that_sets_an_end(make_case):
    result = aim(crushed_joint(make_case, CRUSHED, **ALLOWED))
    names = ("pressure under head", "pressure under nut")
    assert tuple(each.name for each in result.other_limits) == names
    for point in result.table:
        assert set(point.others) == set(names)
        exact = ndtr((1.0 - CRUSHED / point.setting) / SPREAD)
        if 1e-12 < exact < 0.1:
            # Four standard errors, where the interval is 1.96 of them.
            half = point.others[names[0]].high - point.others[names[0]].value
            assert abs(point.others[names[0]].value - exact) < 2.1 * half
    shown = render_screen(aim_screen(result))
    (header,) = [line for line in shown.splitlines() if "too little  " in line]
    assert header.split("  ")[-1].strip() == "pressure under head"
    (row,) = [line for line in shown.splitlines() if " highest " in line]
    # The upper end is where 1e-4 are crushed, within the search's step.
    assert re.fullmatch(r".*  \d\d per million", row)
    assert max(map(len, shown.splitlines())) <= 80
    header = next(line for line in aim_text(result).splitlines() if "too much" in line)
    assert "pressure under" in header


def test_the_document_lists_every_limit_where_it_is_judged(make_case):
    result = aim(crushed_joint(make_case, CRUSHED, **ALLOWED))
    setting = json.loads(as_json(aim_document(result)))["setting"]
    assert setting["least_missed"] is None
    names = {"minimum preload", "maximum preload", "pressure under head", "pressure under nut"}
    low, high = setting["interval_limits"]
    for at, where in (
        (setting["to_set"], result.to_set.setting),
        (low, setting["interval"][0]),
        (high, setting["interval"][1]),
    ):
        assert at["setting"] == where
        assert at["verdict"] == "meets"
        listed = {each["limit"]: each for each in at["limits"]}
        assert names <= set(listed)
        assert listed["minimum preload"]["allowed"] == 1e-3
        for name in ("pressure under head", "pressure under nut"):
            assert listed[name]["allowed"] == 1e-4
            assert listed[name]["verdict"] == "meets"
            assert listed[name]["high"] <= listed[name]["allowed"]
        assert {each["limit"] for each in at["not_judged"]} == {"thread stripping"}


@pytest.mark.parametrize("named", [{}, {"requirement.allowed_other": 1e-3}])
def test_without_allowed_probabilities_nothing_is_recommended(lognormal, named):
    result = aim(lognormal(**named))
    assert result.to_set is None
    assert (result.aim.verdict, result.aim.interval, result.room) == (
        "not judged",
        None,
        None,
    )
    for judged in (result.present.judged, result.looked_at.judged, result.verification.judged):
        assert {side.verdict for side in judged.sides} == {"not judged"}
        if not named:
            assert {each.verdict for each in judged} == {"not judged"}
    assert result.weighting.words.startswith("both sides alike")
    assert result.answer[1] == (
        "What limits: neither side of the preload window has an allowed probability."
    )
    assert result.answer[2].startswith(
        "What to set: nothing is recommended: state allowed_under and allowed_over of "
        "[requirement] (1 where it does not matter): without an allowed probability a side of the "
        "window is neither met nor missed; weighted misses are least at about "
    )
    assert result.answer[2].endswith(" N·m, which is no recommendation.")
    middle = math.sqrt(MINIMUM * MAXIMUM) * math.exp(LOG_MEAN)
    assert result.aim.best == pytest.approx(middle, rel=0.01)
    text = aim_text(result)
    assert "to recommend" not in text
    assert "tolerates is not told: it takes allowed_under" in " ".join(text.split())


def test_what_was_not_judged_stands_beside_a_recommendation(make_case):
    """One side alone matters: far above the window, broken fasteners hold too little."""
    case = {
        "friction.thread": FRICTION,
        "friction.bearing": FRICTION,
        "tightening.tool": {"law": "normal", "cov": "3 %"},
    }
    allowed = {"requirement.allowed_under": 1e-4, "requirement.allowed_over": 1}
    result = aim(make_case({**case, **allowed}))
    ends = [setting_words(result.setting, end, "metric") for end in result.aim.interval]
    assert result.answer[1] == (
        f"What limits: the lower end, {ends[0]}, is set by too little preload (minimum preload, "
        f"settled); the upper end, {ends[1]}, is set by too little preload (breaking in "
        "tightening); the scatter of tool and friction together may grow."
    )
    assert result.answer[2].endswith(
        ": it meets every limit judged, as does any set torque between those ends (not judged: "
        "pressure under head, pressure under nut and thread stripping), the scatter of the tool "
        "counted in."
    )


@pytest.mark.slow
def test_a_limit_that_no_setting_changes(make_case):
    """A friction this low does not hold the thread: release torque per preload falls with it.

    No less scatter is advised, which is not looked at for such a limit.
    """
    low = {"law": "lognormal", "mean": 0.03, "cov": "20 %"}
    case = {
        **SLIP_AND_CRUSH,
        "load.transverse": None,
        "clamped": None,
        "friction.thread": low,
        "friction.bearing": low,
        "requirement.allowed": {"spontaneous back-off": 1e-3},
    }
    result = aim(make_case(case))
    assert result.to_set is None
    assert result.answer[1] == "What limits: spontaneous back-off is missed at every set torque."
    assert result.answer[2].startswith(
        "What to set: no set torque meets every limit; it would take more friction in thread and "
        "seat, or a finer thread; weighted misses are least at about "
    )
    eased = aim(make_case({**case, "requirement.allowed": {"spontaneous back-off": 1e-2}}))
    assert eased.to_set is not None


@pytest.mark.parametrize("minimum", [29, 26])
def test_an_end_moves_inwards_to_where_a_limit_that_runs_both_ways_meets(make_case, minimum):
    """A bond of 8 N·m holds the nut below 2 pi T/P = 28.7 kN, no slip above 3 kN/0.1 = 30 kN.

    So loosening is missed between the two, and the window begins between them or below both. F
    scatters by 1 % with the tool alone: 30 kN is missed in one of a hundred at 30 kN/(1 - 2.326 %).
    The end is found to a thirtieth of the way from the best setting.
    """
    case = make_case(
        {
            "tightening.tool": {"law": "normal", "cov": "1 %"},
            "load.transverse": "3 kN",
            "friction.joint": 0.1,
            "securing": {"element": "adhesive", "breakaway_torque": "8 N·m"},
            "requirement": {
                "minimum_preload": f"{minimum} kN",
                "maximum_preload": "55 kN",
                "allowed_under": 1e-2,
                "allowed_over": 1e-2,
                "allowed": {"slip": 1},
            },
        }
    )
    found = aim(case).aim
    assert found.low_end.limits == ("loosening by transverse slip",)
    assert found.high_end.limits == ("over_preload",)
    # d2/2 tan(phi + rho') + mu Db/2 of an M12 with friction 0.12.
    bracket = 1.94241
    window, slips = (bracket * at / (1 + ndtri(0.01) * 0.01) for at in (minimum * 1e3, 30e3))
    # Judged by samples, which leave the quantile uncertain by a few ten-thousandths.
    step = (found.best - window) / 2**5
    assert (1 - 5e-4) * slips < found.interval[0] < slips + 1.2 * step
    assert slips - window > 0.5 * step


@pytest.mark.slow
def test_a_far_limit_does_not_forbid_a_setting_that_is_asked_for_little(lognormal):
    """Plain samples bound back-off at 28 per million; it is as far off as 6.5 standard deviations.

    The release torque per preload, K d - P/pi for equal frictions, is negative below a nut factor
    of 0.0464: z = (ln 0.0464 - ln 0.16)/0.08, about -15.
    """
    result = aim(lognormal(1e-6, 1e-4))
    found = result.to_set.judged.named("spontaneous back-off")
    assert (math.log(1.75 / math.pi / 12.0) - math.log(K)) / LOG_SD < -12.0
    assert (found.verdict, found.allowed) == ("meets", 1e-6)
    assert found.probability.high < 1e-6
    assert found.probability.note.startswith("no miss found within 4.9")


def test_a_setting_is_rounded_within_what_was_searched():
    """The best of 226.9 N·m is not rounded to the 250 N·m of two round digits."""
    levels = np.geomspace(215e3, 238e3, 101)
    flat = levels, np.full(101, 1e-3)
    found = Aim(226.9e3, 226.9e3, (216e3, 237e3), End(216e3, ()), End(237e3, ()), "meets", flat)
    assert rounded_setting(found, TORQUE, "metric") == pytest.approx(230e3)
    narrow = replace(found, interval=(226.3e3, 228.6e3))
    assert rounded_setting(narrow, TORQUE, "metric") == pytest.approx(227e3)
    narrower = replace(found, interval=(226.85e3, 226.93e3))
    assert rounded_setting(narrower, TORQUE, "metric") == pytest.approx(226.9e3)
    # Twice as many misses 1 N·m away: nothing rounder is as good.
    steep = levels, 1e-3 * 2.0 ** (np.abs(levels - 226.9e3) / 1e3)
    best = rounded_setting(replace(found, misses=steep), TORQUE, "metric")
    assert best == pytest.approx(226.9e3)


@pytest.mark.parametrize(
    ("minimum", "maximum"), [("59 kN", "60 kN"), ("45 kN", "62 kN"), ("39.9 kN", "40 kN")]
)
@pytest.mark.parametrize("allowed", [None, 0.05, 0.4])
def test_no_setting_lies_outside_the_curve(lognormal, minimum, maximum, allowed):
    window = {"requirement.minimum_preload": minimum, "requirement.maximum_preload": maximum}
    case = lognormal(allowed, allowed, **window)
    result = aim(case)
    levels, misses = result.aim.misses
    for at in (result.looked_at.setting, result.aim.best, find_setting(case)):
        assert levels[0] <= at <= levels[-1]
    if result.to_set is not None:
        low, high = result.aim.interval
        assert levels[0] <= low <= result.to_set.setting <= high <= levels[-1]
    if allowed is None:
        assert float(np.interp(result.looked_at.setting, levels, misses)) <= 1.05 * misses.min()


@pytest.mark.slow
def test_no_setting_meets_and_what_would(lognormal):
    """s_max = 0.0764 for 1e-6 on both sides, below the s = 0.0799 of a cov of 8 %.

    Told is 0.95 of the lower end of the interval of the cov that it makes, so that a run confirms
    it; that end is sampled to some percent.
    """
    result = aim(lognormal(1e-6, 1e-6))
    assert (result.aim.verdict, result.aim.interval, result.to_set) == ("misses", None, None)
    assert result.looked_at.setting / 1e3 == pytest.approx(
        math.sqrt(MINIMUM * MAXIMUM) * math.exp(LOG_MEAN) / 1e3, rel=0.01
    )
    told = re.fullmatch(
        r"What to set: no set torque meets every limit; it would take less scatter \(nut factor "
        r"with s\.d\. (.*) %\), or a smaller preload needed, or a larger preload allowed; "
        r"weighted misses are least at about [\d.]+ N·m, which is no recommendation\.",
        result.answer[2],
    )
    largest = 100.0 * math.sqrt(math.expm1((WIDTH / (-2.0 * ndtri(1e-6))) ** 2))
    friction = result.room.of("friction")
    assert float(told[1]) == pytest.approx(0.95 * 8.0 * friction.low, abs=5e-3)
    assert 0.93 * largest < float(told[1]) < 0.955 * largest
    assert result.verification.confirmed
    eased = {"law": "lognormal", "mean": K, "cov": f"{told[1]} %"}
    assert aim(lognormal(1e-6, 1e-6, **{"friction.nut_factor": eased})).to_set is not None


@pytest.mark.slow
def test_where_the_estimates_leave_it_open_no_setting_is_sure(lognormal):
    """Allowed is what both sides reach at the best setting: P(z > ln(F_max/F_min)/(2 s))."""
    allowed = float(ndtr(-0.5 * WIDTH / LOG_SD))
    result = aim(lognormal(allowed, allowed))
    assert (result.aim.verdict, result.aim.interval, result.to_set) == ("not resolved", None, None)
    low, high = result.aim.low_end, result.aim.high_end
    assert (low.limits, high.limits) == (("under_preload",), ("over_preload",))
    needs, bears = (setting_words(result.setting, end.setting, "metric") for end in (low, high))
    assert result.answer[1] == (
        "What limits: no set torque is sure to meet every limit: too little preload (minimum "
        f"preload, settled) is within what is allowed only from {needs} up, too much preload "
        f"(maximum preload, assembly) only up to {bears}; the scatter of friction is about as much "
        "as the limits allow."
    )
    at = setting_words(result.setting, result.looked_at.setting, "metric")
    # There it is missed already: more samples would not help, a change of the joint would.
    assert "misses" in (result.looked_at.judged.verdict, result.verification.judged.verdict)
    assert result.answer[2].startswith(
        "What to set: nothing is recommended, since no set torque is sure to meet every limit; it "
        "would take "
    )
    assert f"; weighted misses are least at about {at}, which" in result.answer[2]
    assert "--precision" not in result.answer[2]
    # With four times as much allowed it is resolved, with a quarter as well.
    assert aim(lognormal(4.0 * allowed, 4.0 * allowed)).to_set is not None
    missed = aim(lognormal(0.25 * allowed, 0.25 * allowed))
    assert missed.aim.verdict == "misses"
    assert missed.answer[1].startswith("What limits: no set torque meets every limit: ")


def test_misses_that_cost_are_said_to(lognormal):
    cost = {"per_joint": 1, "per_under": 900, "per_over": 30, "currency": "EUR"}
    result = aim(lognormal(1e-6, 1e-6, cost=cost))
    assert result.to_set is None
    assert "; misses cost least at about " in result.answer[2]


@pytest.mark.slow
def test_the_answer_has_three_lines(case_files):
    path = next(path for path in case_files if path.stem == "sensor_lid")
    result = aim(load_case(path))
    assert result.verification.confirmed
    ends = [setting_words(result.setting, end, "metric") for end in result.aim.interval]
    assert [line.split(":")[0] for line in result.answer] == [
        "How likely",
        "What limits",
        "What to set",
    ]
    assert result.answer[1].startswith(
        f"What limits: the lower end, {ends[0]}, is set by too little preload (minimum preload, "
        f"cold night); the upper end, {ends[1]}, is set by pressure under head and pressure under "
        "nut; all scatter together may grow."
    )
    assert all(miss is not None for miss in result.verification.likeliest)
