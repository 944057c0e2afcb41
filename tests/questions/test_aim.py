"""Aiming: against lognormal closed forms, hand calculations and quadrature."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from closed_joints import (
    LOG_MEAN,
    LOG_SD,
    LOGNORMAL,
    MAXIMUM,
    MINIMUM,
    SPREAD,
    WIDTH,
    D,
    crushed_joint,
    lognormal_joint,
    lognormal_shares,
)
from scipy.optimize import brentq, minimize_scalar
from scipy.special import ndtr, ndtri

from preloadmc import aim, load_case
from preloadmc.errors import UsageError
from preloadmc.questions.aim import question, rounding_words, setting_words
from preloadmc.questions.aim.bounds import BREAKS, Bound, over_bound, under_bound
from preloadmc.questions.aim.question import find_setting
from preloadmc.questions.aim.search import weighting_of
from preloadmc.questions.aim.setting import Calls, Joints, Setting, case_at

WINDOW = (under_bound(1e-6), over_bound(1e-4), BREAKS)
UNDER, OVER = WINDOW[:2]


@pytest.fixture
def lognormal(make_case):
    """A function that returns the lognormal joint with what is allowed of each side."""
    return lambda *allowed, **more: lognormal_joint(make_case, *allowed, **more)


@pytest.mark.parametrize(("under", "over"), [(1e-2, 1e-3), (1e-6, 1e-4), (1e-4, 1e-4)])
def test_setting_and_interval_are_those_of_the_closed_form(lognormal, under, over):
    """ln T is to lie z_u s above ln(F_min) + m and z_o s below ln(F_max) + m.

    The weighted miss P_u/p_u + P_o/p_o is least where the densities balance:
    phi(z_u)/p_u = phi(z_o)/p_o, with z_u + z_o = ln(F_max/F_min)/s.
    """
    result = aim(lognormal(under, over))
    lowest = MINIMUM * math.exp(LOG_MEAN + LOG_SD * -ndtri(under))
    highest = MAXIMUM * math.exp(LOG_MEAN - LOG_SD * -ndtri(over))
    low, high = result.aim.interval
    # Inside, by no more than the sampling error of the ends and the digits shown.
    assert lowest <= low < 1.006 * lowest
    assert 0.994 * highest < high <= highest
    z_under = 0.5 * (WIDTH / LOG_SD + 2.0 * math.log(over / under) * LOG_SD / WIDTH)
    best = MINIMUM * math.exp(LOG_MEAN + LOG_SD * z_under)
    assert result.aim.best == pytest.approx(best, rel=0.01)
    exact = [float(part[0]) for part in lognormal_shares(result.to_set.setting)]
    least = [float(part[0]) for part in lognormal_shares(best)]
    assert exact[0] / under + exact[1] / over < 1.1 * (least[0] / under + least[1] / over)
    assert result.to_set.judged.under.probability.value == pytest.approx(exact[0], rel=0.25)
    assert result.to_set.judged.over.probability.value == pytest.approx(exact[1], rel=0.25)
    assert low <= result.to_set.setting <= high
    assert result.verification.confirmed


PLAIN = {
    "settling.embedding": "0 um",
    "settling.relaxation": "0 %",
    "requirement.minimum_preload": "30 kN",
    "requirement.maximum_preload": "60 kN",
}
GRIP = {
    "joint.fastener_compliance": None,
    "joint.clamped_compliance": None,
    "clamped": [{"material": "steel", "thickness": "40 mm"}],
    "fastener.plastic_strain": 0.05,
}

# Wind-up of 40 mm of M12 free thread: 32 T l/(pi d3⁴ G), G = 207 GPa/2.6; the torque in the thread
# per preload is K d less what the seat takes of it, with one friction for both.
D2, D3, DB = 12.0 - 0.649519 * 1.75, 12.0 - 1.226869 * 1.75, (16.63 + 13.5) / 2
LEAD = math.atan(1.75 / (math.pi * D2))
MU = brentq(
    lambda mu: (
        D2 / 2 * math.tan(LEAD + math.atan(mu * 2 / math.sqrt(3))) + mu * DB / 2 - 0.16 * 12.0
    ),
    0.0,
    1.0,
    xtol=1e-15,
)
TWIST = 32 * 40.0 / (math.pi * D3**4 * 207e3 / 2.6)
WIND_UP = TWIST * (0.16 * 12.0 - MU * DB / 2) * 1.75 / (2 * math.pi)


def tightened(method, **controls):
    return {
        **PLAIN,
        "tightening.method": method,
        "tightening.torque": None,
        **{f"tightening.{key}": value for key, value in controls.items()},
    }


METHODS = {
    # F = T/(K d)
    "torque": (
        {**PLAIN, **{key: LOGNORMAL[key] for key in ("friction.thread", "friction.bearing")},
         "friction.nut_factor": 0.16},
        lambda force, x, joint: force * 0.16 * 12.0,
    ),
    "pulse or impact": (
        {**tightened("pulse or impact", torque="80 N·m"),
         **{key: LOGNORMAL[key] for key in ("friction.thread", "friction.bearing")},
         "friction.nut_factor": 0.16},
        lambda force, x, joint: force * 0.16 * 12.0,
    ),
    # F = F_snug + angle/(2 pi) P/delta, with the wind-up of the shank in delta
    "torque then angle": (
        {**tightened("torque then angle", torque="20 N·m", angle="40 deg", seating_angle="0 deg"),
         **GRIP,
         "friction.thread": None, "friction.bearing": None, "friction.nut_factor": 0.16},
        lambda force, x, joint: (force - 20e3 / (0.16 * 12.0)) * 2.0 * math.pi / 1.75
        * (x["joint.fastener_compliance"] + x["joint.clamped_compliance"] + WIND_UP),
    ),
    # F = F_pump ratio
    "hydraulic tensioning": (
        tightened("hydraulic tensioning", pump_force="60 kN", transfer_ratio=0.8),
        lambda force, x, joint: force / 0.8,
    ),
    # F = dL/delta_S, delta_S = 3 um/kN
    "elongation measured": (
        tightened("elongation measured", elongation="120 um"),
        lambda force, x, joint: force * 3e-6,
    ),
    "stated scatter": (
        tightened("stated scatter", preload={"law": "normal", "mean": "45 kN", "cov": "5 %"}),
        lambda force, x, joint: force,
    ),
}  # fmt: skip


@pytest.mark.parametrize("method", METHODS)
def test_the_setting_that_a_joint_needs_is_that_of_the_hand_calculation(make_case, method):
    overrides, by_hand = METHODS[method]
    case = make_case(overrides)
    assert case.joint.method.name == method
    x = {name: law.mean for name, law in case.laws.items()}
    joints = Joints(case, case.uncertain, np.zeros((1, len(case.uncertain))), Calls())
    (needed,) = joints.crossing(UNDER)
    assert needed == pytest.approx(by_hand(30e3, x, case.joint), rel=1e-9)
    if method not in ("torque then angle", "hydraulic tensioning"):
        (borne,) = joints.crossing(OVER)
        assert borne == pytest.approx(by_hand(60e3, x, case.joint), rel=1e-9)


def test_a_tensioner_is_borne_up_to_its_pump_force(make_case):
    """Over is judged on the force of the pump, of which the transfer leaves less."""
    case = make_case(METHODS["hydraulic tensioning"][0])
    (borne,) = Joints(case, (), np.zeros((1, 0)), Calls()).crossing(OVER)
    assert borne == pytest.approx(60e3, rel=1e-9)


def test_a_yield_sensing_tool_is_set_by_its_ratio(make_case):
    """F = ratio F_y: twice the ratio that one minimum needs is needed by twice the minimum."""
    overrides = {
        **tightened("yield point sensed", detector_ratio=1.0), **GRIP,
        "requirement.maximum_preload": "66 kN",
    }  # fmt: skip
    case = make_case(overrides)
    assert Setting.of(case).input == "tightening.detector_ratio"
    joints = Joints(case, case.uncertain, np.zeros((1, len(case.uncertain))), Calls())
    needed, borne = float(joints.crossing(UNDER)[0]), float(joints.crossing(OVER)[0])
    assert borne / needed == pytest.approx(66.0 / 30.0, rel=1e-9)


def test_scatter_of_the_setting_itself_goes_along_or_stays(make_case):
    stated = make_case(METHODS["stated scatter"][0])
    law = case_at(stated, 30e3).laws["tightening.preload"]
    assert (law.mean, law.sd) == pytest.approx((30e3, 0.05 * 30e3))
    elongation = {"law": "normal", "mean": "120 um", "sd": "5 um"}
    measured = make_case(tightened("elongation measured", elongation=elongation))
    law = case_at(measured, 0.09).laws["tightening.elongation"]
    assert (law.mean, law.sd) == pytest.approx((0.09, 0.005))


def test_each_joint_is_suited_between_its_settings(case_files, seed):
    """Below what a joint needs it is too loose and above what it bears too tight, else neither."""
    for path in case_files:
        case = load_case(path)
        z = np.random.default_rng(seed).standard_normal((300, len(case.uncertain)))
        joints = Joints(case, case.uncertain, z, Calls())
        rows = np.arange(300)
        for bound, side, above in ((UNDER, "under", False), (OVER, "over", True)):
            ends = joints.crossing(bound)
            assert np.isfinite(ends).all()
            for factor in (0.999, 1.001):
                found = joints.margins(factor * ends, rows)
                worst = np.min(
                    [m.values for m in found if m.limit.sides == (side,)], axis=0
                )  # fmt: skip
                missed = worst < 0.0
                assert missed.all() if (factor > 1.0) == above else not missed.any()


def test_costs_weigh_the_sides(lognormal):
    """Balance of densities: c_u phi(z_u) = c_o phi(z_o)."""
    cost = {"per_joint": 1, "per_under": 900, "per_over": 30, "currency": "EUR"}
    result = aim(lognormal(1e-2, 1e-2, cost=cost))
    assert result.weighting.weights == {"under_preload": 900.0, "over_preload": 30.0}
    assert "by its cost: 900 EUR" in result.weighting.words
    z_under = 0.5 * (WIDTH / LOG_SD + 2.0 * math.log(900 / 30) * LOG_SD / WIDTH)
    assert result.aim.best == pytest.approx(
        MINIMUM * math.exp(LOG_MEAN + LOG_SD * z_under), rel=0.01
    )


@pytest.mark.slow
def test_the_cheapest_setting_yields_to_what_is_allowed(lognormal):
    cost = {"per_joint": 1, "per_under": 1, "per_over": 100_000, "currency": "EUR"}
    result = aim(lognormal(1e-5, 1e-3, cost=cost))
    low, high = result.aim.interval
    assert result.aim.best_regardless_of_allowed < low <= result.aim.best <= high
    # The best lies at the lower end.
    assert low == pytest.approx(MINIMUM * math.exp(LOG_MEAN - LOG_SD * ndtri(1e-5)), rel=6e-3)
    assert result.aim.best == low <= result.to_set.setting < 1.05 * low
    assert result.verification.judged.verdict == result.to_set.judged.verdict == "meets"


@pytest.mark.slow
def test_an_end_that_is_not_resolved_anew_is_left_for_a_setting_inside(lognormal, monkeypatch):
    """At the lower end the check is made to leave 1e-5 open: a setting further inside is set."""
    sound, looked_at = question._verify, []

    def coarse(case, at, seed):
        found = sound(case, at, seed)
        looked_at.append(at.setting)
        if at.setting > looked_at[0]:
            return found
        under, over = found.judged.sides
        wide = replace(under.probability, high=1.5e-5)
        judged = replace(found.judged, sides=(replace(under, probability=wide), over))
        assert judged.verdict == "not resolved"
        return replace(found, judged=judged)

    monkeypatch.setattr(question, "_verify", coarse)
    cost = {"per_joint": 1, "per_under": 1, "per_over": 100_000, "currency": "EUR"}
    result = aim(lognormal(1e-5, 1e-3, cost=cost))
    low, high = result.aim.interval
    assert low == result.aim.best == looked_at[0] < result.to_set.setting == looked_at[-1]
    # A tenth of the way to the middle, and what rounding adds.
    assert result.to_set.setting < low + 0.15 * 0.5 * (high - low)


def test_a_limit_beside_the_window_without_a_cost_weighs_as_the_dearer_side(make_case):
    """F = F0 (1 + c z); the seats of head and nut are crushed at one force, each at 900 EUR."""
    crushed = 52e3
    cost = {"per_joint": 1, "per_under": 900, "per_over": 30, "currency": "EUR"}
    allowed = {
        "requirement.allowed_under": 1e-3,
        "requirement.allowed_over": 1e-3,
        "requirement.allowed": {"pressure": 1e-4},
    }
    result = aim(crushed_joint(make_case, crushed, cost=cost, **allowed))
    assert result.weighting.weights == {
        "under_preload": 900.0,
        "over_preload": 30.0,
        "pressure under head": 900.0,
        "pressure under nut": 900.0,
    }
    assert result.weighting.words == (
        "each miss by its cost: 900 EUR with too little preload, 30 with too much, 900 of each "
        "limit beside the window, which has no cost of its own"
    )

    def expected(mean):
        under, over, crush = (
            ndtr(sign * (1.0 - force / mean) / SPREAD)
            for sign, force in ((-1.0, 30e3), (1.0, 60e3), (1.0, crushed))
        )
        return 900.0 * under + 30.0 * over + 2.0 * 900.0 * crush

    best = minimize_scalar(expected, bounds=(35e3, 44e3), method="bounded").x
    # Without the crushed seats it would be 2 kN higher.
    assert result.aim.best == pytest.approx(best, rel=0.01)
    # Nobody asks for it: what has neither a cost nor an allowed probability weighs nothing.
    case = result.case
    bound = Bound("pressure under head", (), False, None)
    assert set(weighting_of(case, (*WINDOW, bound)).weights) == {"under_preload", "over_preload"}


def test_a_side_that_does_not_matter_bounds_nothing(lognormal):
    """All may miss it, so that the search ends where every second fastener does."""
    result = aim(lognormal(1e-3, 1))
    low, high = result.aim.interval
    assert low == pytest.approx(MINIMUM * math.exp(LOG_MEAN + LOG_SD * -ndtri(1e-3)), rel=0.01)
    assert high > MAXIMUM * math.exp(LOG_MEAN)
    assert result.aim.high_end.limits == ()
    ends = [setting_words(result.setting, end, "metric") for end in (low, high)]
    assert result.answer[1].startswith(f"What limits: the lower end, {ends[0]}, is set by too ")
    assert f"no limit sets the upper end, where the search stopped ({ends[1]})" in result.answer[1]
    assert "meets every limit judged, as does any set torque between" in result.answer[2]


@pytest.mark.parametrize(
    ("asked", "subject", "key"),
    [
        ("under", "too much preload", "allowed_over"),
        ("over", "too little preload", "allowed_under"),
    ],
)
def test_with_one_allowed_probability_nothing_is_recommended(lognormal, asked, subject, key):
    result = aim(lognormal(**{asked: 1e-3}))
    assert (result.to_set, result.aim.interval, result.aim.verdict) == (None, None, "not judged")
    assert result.room is None
    assert result.looked_at.judged.verdict == "not judged"
    assert result.answer[1] == f"What limits: {subject} has no allowed probability."
    assert result.answer[2].startswith(
        f"What to set: nothing is recommended: state {key} of [requirement] (1 where it does not "
        "matter): without an allowed probability a side of the window is neither met nor missed; "
        "weighted misses are least at about "
    )
    assert result.answer[2].endswith(" N·m, which is no recommendation.")


def test_steps_are_sampled_plainly(make_case):
    """F = T/(K d) with ten equal values of K: the minimum misses at K above T/(F_min d)."""
    values = [0.131, 0.138, 0.144, 0.15, 0.155, 0.16, 0.17, 0.18, 0.19, 0.2]
    overrides = {
        **LOGNORMAL,
        "friction.nut_factor": {"law": "tabulated", "values": values},
        "requirement.allowed_under": 0.15,
        "requirement.allowed_over": 0.15,
    }
    result = aim(make_case(overrides))
    assert result.best.under_preload.method == "plain"
    assert result.verification.likeliest == (None, None)
    # One of ten may be too loose, one too tight.
    low, high = result.aim.interval
    assert low == pytest.approx(MINIMUM * 0.19 * D, rel=2e-3)
    assert high == pytest.approx(MAXIMUM * 0.138 * D, rel=2e-3)


def test_a_side_without_scatter_is_an_edge(make_case):
    case = make_case(
        {
            **tightened(
                "hydraulic tensioning",
                pump_force="50 kN",
                transfer_ratio={"law": "normal", "mean": 0.8, "cov": "4 %"},
            ),
            "requirement.allowed_under": 1e-4,
            "requirement.allowed_over": 1e-4,
        }
    )
    result = aim(case)
    low, high = result.aim.interval
    # P(ratio < F_min/F) = 1e-4; all of 60 kN may be pumped.
    assert low == pytest.approx(30e3 / (0.8 + 0.032 * ndtri(1e-4)), rel=5e-3)
    assert high == pytest.approx(60e3, rel=5e-3)
    assert result.verification.confirmed


def test_settings_are_rounded_in_the_units_of_the_reader(lognormal):
    case = lognormal(1e-4, 1e-4)
    metric, inch = aim(case), aim(case, system="inch")
    assert metric.to_set.setting / 1e3 == pytest.approx(round(metric.to_set.setting / 1e3, 1))
    # 1 lbf·ft = 1355.8179483314004 N·mm (NIST SP 811, B.8).
    feet = inch.to_set.setting / 1355.8179483314004
    assert feet == pytest.approx(round(feet, 1))
    assert "lbf·ft" in inch.answer[2]


@pytest.mark.parametrize("present", ["2 N*m", "900 N*m"])
def test_the_best_setting_does_not_depend_on_the_present_one(lognormal, present):
    usual = aim(lognormal(1e-3, 1e-3))
    other = aim(lognormal(1e-3, 1e-3, **{"tightening.torque": present}))
    assert other.to_set.setting == usual.to_set.setting
    # Other draws: as near as the sampling error lets them.
    assert other.aim.best == pytest.approx(usual.aim.best, rel=0.005)
    assert other.aim.interval == pytest.approx(usual.aim.interval, rel=0.005)


@pytest.mark.parametrize("allowed", [2.8e-6, pytest.param(3.5e-6, marks=pytest.mark.slow)])
def test_rounding_never_turns_a_setting_that_meets_into_one_that_misses(lognormal, allowed):
    """Both sides are missed by Phi(-w/2s) = 2.76e-6 in the middle of the window: little room."""
    assert float(ndtr(-0.5 * WIDTH / LOG_SD)) < 2.8e-6
    result = aim(lognormal(allowed, allowed))
    if result.to_set is None:
        assert result.aim.verdict != "meets"
        return
    assert max(float(part[0]) for part in lognormal_shares(result.to_set.setting)) <= allowed


def test_the_exact_best_and_what_rounding_costs_are_told(lognormal):
    result = aim(lognormal(1e-2, 1e-3))
    exact, rounded = (
        sum(float(p[0]) / a for p, a in zip(lognormal_shares(at), (1e-2, 1e-3), strict=True))
        for at in (result.aim.best, result.to_set.setting)
    )
    words = rounding_words(result)
    told = re.search(r"exact best is [\d.]+ N·m, with (?:(\d+) %|no) fewer", words)
    # To the search's own error.
    assert int(told[1] or 0) == pytest.approx(100.0 * (1.0 - exact / rounded), abs=3.0)


def test_the_result_depends_on_the_seed_alone(lognormal):
    case = lognormal(1e-3, 1e-3)
    one, other, third = aim(case), aim(case), aim(case, seed=8)
    assert np.array_equal(one.under.value, other.under.value)
    assert one.room == other.room
    assert one.answer == other.answer
    assert find_setting(case) == one.to_set.setting
    assert not np.array_equal(one.under.value, third.under.value)


def test_nothing_scatters(make_case):
    with pytest.raises(UsageError, match="nothing in this case scatters"):
        aim(make_case())
