"""Aiming: against lognormal closed forms, hand calculations and quadrature."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from preloadmc import aim, load_case
from preloadmc.chance.streams import named_rng
from preloadmc.errors import EstimateError, UsageError
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.questions.aim import question as aim_module
from preloadmc.questions.aim.allowed_scatter import allowed_scatters
from preloadmc.questions.aim.question import agree, find_setting
from preloadmc.questions.aim.setting import Calls, Joints, Setting, case_at
from preloadmc.questions.aim.suited_sample import draw_suited

MINIMUM, MAXIMUM = 30e3, 62e3
K, D, COV = 0.16, 12.0, 0.08
# F = T/(K d) without losses, K lognormal: ln F is normal.
LOGNORMAL = {
    "friction.thread": None,
    "friction.bearing": None,
    "friction.nut_factor": {"law": "lognormal", "mean": K, "cov": COV},
    "settling.embedding": "0 um",
    "settling.relaxation": "0 %",
    "requirement.minimum_preload": "30 kN",
    "requirement.maximum_preload": "62 kN",
}
LOG_SD = math.sqrt(math.log1p(COV**2))
LOG_MEAN = math.log(K * D) - 0.5 * LOG_SD**2
WIDTH = math.log(MAXIMUM / MINIMUM)
TOOL = 0.03


@pytest.fixture
def lognormal(make_case):
    """A function that returns the lognormal joint with what is allowed of each side."""

    def make(under=None, over=None, **more):
        allowed = {"requirement.allowed_under": under, "requirement.allowed_over": over}
        return make_case({**LOGNORMAL, **allowed, **more})

    return make


def lognormal_shares(torque, tool=0.0, friction=1.0):
    """Probabilities of under and over by quadrature over the tool's normal law."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    # Beyond 7 s.d. the weights are below 1e-11; there the tool would give a negative torque.
    nodes, weights = nodes[abs(nodes) < 7.0], weights[abs(nodes) < 7.0]
    e, w = 1.0 + tool * nodes, weights / weights.sum()
    sd = math.sqrt(math.log1p((friction * COV) ** 2))
    mean = math.log(K * D) - 0.5 * sd**2
    ln = np.log(np.multiply.outer(np.atleast_1d(torque), e))
    under = ndtr((mean + math.log(MINIMUM) - ln) / sd) @ w
    over = ndtr((ln - math.log(MAXIMUM) - mean) / sd) @ w
    return under, over


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
    assert result.to_set.under.value == pytest.approx(exact[0], rel=0.25)
    assert result.to_set.over.value == pytest.approx(exact[1], rel=0.25)
    assert low <= result.to_set.setting <= high
    assert result.verification.confirmed


@pytest.mark.parametrize(("under", "over"), [(1e-2, 1e-3), (1e-6, 1e-4), (1e-6, 1e-6)])
def test_the_largest_cov_is_that_of_the_closed_form(lognormal, under, over):
    """Both sides are just met at s = ln(F_max/F_min)/(z_u + z_o); cov² = exp(s²) - 1."""
    allowed = aim(lognormal(under, over)).allowed_scatter.of("friction")
    largest = math.sqrt(math.expm1((WIDTH / (-ndtri(under) - ndtri(over))) ** 2))
    (spread,) = allowed.spreads
    assert allowed.verdict == "found"
    assert spread.most / spread.mean == pytest.approx(largest, rel=0.01)
    assert spread.now / spread.mean == pytest.approx(COV)
    assert allowed.high - allowed.low < 0.03 * allowed.factor


@pytest.mark.slow
@pytest.mark.statistical
def test_intervals_of_curve_and_room_cover(lognormal, seed):
    case = lognormal(1e-6, 1e-4, **{"tightening.tool": {"law": "normal", "cov": TOOL}})
    levels = np.geomspace(66e3, 85e3, 5)
    exact = lognormal_shares(levels, TOOL)
    largest = math.sqrt(math.expm1((WIDTH / (-ndtri(1e-6) - ndtri(1e-4))) ** 2)) / COV
    alone = lognormal(1e-6, 1e-4)
    inside, found, wrong = np.zeros((2, 5)), 0, 0
    for each in range(20):
        sample = draw_suited(
            case, case.uncertain, rng=named_rng(1000 * seed + each, "test"), calls=Calls()
        )
        for side, shares in enumerate((sample.under, sample.over)):
            curve = shares.curve(levels)
            inside[side] += (curve.low <= exact[side]) & (exact[side] <= curve.high)
        allowed = allowed_scatters(alone, seed=1000 * seed + each, calls=Calls()).sources[0]
        found += allowed.low <= largest <= allowed.high
        wrong += allowed.low <= 1.02 * largest <= allowed.high
    # Of 20 intervals of 95 %, 14 or fewer inside has a probability of 3e-4.
    assert (inside > 14).all()
    assert found > 14
    assert wrong < 8


def test_the_border_is_that_of_quadrature(lognormal):
    """On the border the lowest and the highest setting that meet are one."""
    under, over = 1e-3, 1e-4
    case = lognormal(under, over, **{"tightening.tool": {"law": "normal", "cov": TOOL}})
    border = allowed_scatters(case, seed=3, calls=Calls()).border
    assert border[0].friction == 0.0
    assert border[-1].tool == 0.0
    for point in border:
        assert point.just
        tool, friction = point.tool, point.friction
        apart = [
            brentq(
                lambda ln, side=side, share=share, tool=tool, friction=friction: (
                    float(lognormal_shares(math.exp(ln), tool * TOOL, max(friction, 1e-3))[side][0])
                    - share
                ),
                math.log(55e3),
                math.log(125e3),
            )
            for side, share in ((0, under), (1, over))
        ]
        assert apart[0] == pytest.approx(apart[1], abs=0.01)


def test_a_border_is_followed_only_so_far(lognormal):
    """Where a window is wide, or a law ends: normal friction to 1/6 of its mean (1e-9 below 0)."""
    case = lognormal(
        1e-2,
        1e-2,
        **{
            "tightening.tool": {"law": "normal", "cov": "0.5 %"},
            "friction.nut_factor": {"law": "normal", "mean": K, "cov": "14 %"},
            "requirement.minimum_preload": "5 kN",
        },
    )
    allowed = allowed_scatters(case, seed=3, calls=Calls())
    friction, tool = allowed.of("friction"), allowed.of("tool")
    assert friction.verdict == "law ends"
    assert friction.factor * 0.14 == pytest.approx(-1.0 / ndtri(1e-9), rel=1e-3)
    assert (tool.verdict, tool.factor) == ("followed", 5.0)
    assert all(not point.just for point in allowed.border)
    for point in allowed.border:
        assert point.tool <= 5.0 + 1e-9
        assert point.friction <= friction.factor + 1e-9


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
MU = (0.16 * 12.0 - 1.75 / (2 * math.pi)) / (D2 / math.sqrt(3) + DB / 2)
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
    (needed,) = joints.needed()
    assert needed == pytest.approx(by_hand(30e3, x, case.joint), rel=1e-9)
    if method not in ("torque then angle", "hydraulic tensioning"):
        (borne,) = joints.borne()
        assert borne == pytest.approx(by_hand(60e3, x, case.joint), rel=1e-9)


def test_a_tensioner_is_borne_up_to_its_pump_force(make_case):
    """Over is judged on the force of the pump, of which the transfer leaves less."""
    case = make_case(METHODS["hydraulic tensioning"][0])
    (borne,) = Joints(case, (), np.zeros((1, 0)), Calls()).borne()
    assert borne == pytest.approx(60e3, rel=1e-9)


def test_a_yield_sensing_tool_is_set_by_its_ratio(make_case):
    """F = ratio F_y: twice the ratio that one minimum needs is needed by twice the minimum."""
    overrides = {
        **tightened("yield point sensed", detector_ratio=1.0), **GRIP,
        "requirement.maximum_preload": "66 kN",
    }  # fmt: skip
    case = make_case(overrides)
    assert Setting.of(case).name == "tightening.detector_ratio"
    joints = Joints(case, (), np.zeros((1, 0)), Calls())
    needed, borne = float(joints.needed()[0]), float(joints.borne()[0])
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
        suited = joints.suited()
        rows = np.arange(300)
        for ends, side, above in ((suited.needed, "under", False), (suited.borne, "over", True)):
            assert np.isfinite(ends).all()
            for factor in (0.999, 1.001):
                found = joints.margins(factor * ends, rows)
                worst = np.min(
                    [m.values for m in found if m.limit.sides == (side,)], axis=0
                )  # fmt: skip
                missed = worst < 0.0
                assert missed.all() if (factor > 1.0) == above else not missed.any()


def test_a_margin_that_turns_is_refused(lognormal, monkeypatch):
    moved = Setting.moved

    def turning(self, values, to):
        return moved(self, values, self.present * (1.0 + np.sin(3.0 * to / self.present)))

    monkeypatch.setattr(Setting, "moved", turning)
    with pytest.raises(EstimateError, match="does not run one way with the set torque"):
        aim(lognormal(1e-3, 1e-3))


def test_the_verification_catches_a_wrong_setting(lognormal, monkeypatch):
    """The curve believes the tool to give 4 % more than the case makes of the same setting."""
    moved = Setting.moved
    monkeypatch.setattr(Setting, "moved", lambda self, x, to: moved(self, x, 1.04 * to))
    result = aim(lognormal(1e-4, 1e-4))
    assert result.verification.agrees == (False, False)
    assert "does NOT confirm" in result.answer[2]


def test_no_setting_meets_and_what_would(lognormal):
    """s_max = 0.0765 for 1e-6 on both sides, below the s = 0.0799 of a cov of 8 %."""
    result = aim(lognormal(1e-6, 1e-6))
    assert (result.aim.verdict, result.aim.interval) == ("misses", None)
    assert "no set torque meets what is allowed; the best is 82.5 N·m" in result.answer[2]
    assert "It would take less scatter: nut factor with s.d. 7.6" in result.answer[2]
    assert result.verification.confirmed


def test_no_scatter_alone_would_do(make_case):
    scatter = {"law": "lognormal", "mean": 0.12, "cov": "10 %"}
    result = aim(
        make_case(
            {
                "friction.thread": scatter,
                "friction.bearing": scatter,
                "tightening.tool": {"law": "normal", "cov": "3 %"},
                "requirement.minimum_preload": "55 kN",
                "requirement.maximum_preload": "56 kN",
                "requirement.allowed_under": 1e-4,
                "requirement.allowed_over": 1e-4,
            }
        )
    )
    assert {allowed.label: allowed.verdict for allowed in result.allowed_scatter.sources} == {
        "tool": "too little",
        "friction": "too little",
        "tool and friction together": "found",
    }
    assert "the scatter of tool and friction together at 0.0" in result.answer[2]


def test_a_window_without_width_bears_no_scatter(lognormal):
    case = lognormal(
        1e-3, 1e-3, **{"requirement.minimum_preload": "61.999 kN", "settling.relaxation": "1 %"}
    )
    result = aim(case)
    assert result.allowed_scatter.of("friction").verdict == "too little"
    assert "the window is too narrow even without the scatter of friction" in result.answer[1]
    assert "less scatter would not do" in result.answer[2]


def test_costs_weigh_the_sides(lognormal):
    """Balance of densities: c_u phi(z_u) = c_o phi(z_o)."""
    cost = {"per_joint": 1, "per_under": 900, "per_over": 30, "currency": "EUR"}
    result = aim(lognormal(1e-2, 1e-2, cost=cost))
    assert (result.weighting.under, result.weighting.over) == (900.0, 30.0)
    assert "by its cost: 900 EUR" in result.weighting.words
    z_under = 0.5 * (WIDTH / LOG_SD + 2.0 * math.log(900 / 30) * LOG_SD / WIDTH)
    assert result.aim.best == pytest.approx(
        MINIMUM * math.exp(LOG_MEAN + LOG_SD * z_under), rel=0.01
    )


def test_the_cheapest_setting_yields_to_what_is_allowed(lognormal):
    cost = {"per_joint": 1, "per_under": 1, "per_over": 100_000, "currency": "EUR"}
    result = aim(lognormal(1e-5, 1e-3, cost=cost))
    low, high = result.aim.interval
    assert result.aim.best_regardless < low <= result.aim.best <= high


def test_without_allowed_probabilities(lognormal):
    result = aim(lognormal())
    assert (result.aim.verdict, result.aim.interval, result.allowed_scatter) == (
        "no target",
        None,
        None,
    )
    assert result.weighting.words.startswith("both sides alike")
    assert result.answer[2].endswith("no probability is asked for.")
    middle = math.sqrt(MINIMUM * MAXIMUM) * math.exp(LOG_MEAN)
    assert result.aim.best == pytest.approx(middle, rel=0.01)


def test_one_allowed_probability_bounds_one_side(lognormal):
    result = aim(lognormal(under=1e-3))
    low, high = result.aim.interval
    assert low == pytest.approx(MINIMUM * math.exp(LOG_MEAN + LOG_SD * -ndtri(1e-3)), rel=0.01)
    assert high > MAXIMUM * math.exp(LOG_MEAN)
    assert result.allowed_scatter is None


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
    assert result.best.under.method == "plain"
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


def test_the_result_depends_on_the_seed_alone(lognormal):
    case = lognormal(1e-3, 1e-3)
    one, other, third = aim(case), aim(case), aim(case, seed=8)
    assert np.array_equal(one.under.value, other.under.value)
    assert one.allowed_scatter == other.allowed_scatter
    assert one.answer == other.answer
    alone = find_setting(case)
    assert (alone.best, alone.interval) == (one.aim.best, one.aim.interval)
    assert not np.array_equal(one.under.value, third.under.value)


def test_nothing_scatters(make_case):
    with pytest.raises(UsageError, match="nothing in this case scatters"):
        aim(make_case())


@pytest.mark.slow
def test_the_shipped_cases_are_confirmed(case_files):
    for path in case_files:
        assert aim(load_case(path)).verification.confirmed


def test_the_answer_has_three_lines(case_files):
    path = next(path for path in case_files if path.stem == "sensor_lid")
    result = aim(load_case(path))
    assert result.verification.confirmed
    assert [line.split(":")[0] for line in result.answer] == [
        "How likely",
        "What limits",
        "What to set",
    ]
    assert "too low a set torque misses minimum preload (cold night)" in result.answer[1]
    assert "too high a set torque misses yield (assembly)" in result.answer[1]
    assert all(miss is not None for miss in result.verification.likeliest)


def estimate(value, spread):
    return Probability(value, value / spread, value * spread, 0.95, "importance", 100, 100)


def test_estimates_agree_within_their_scatter():
    assert agree(estimate(1e-4, 1.2), estimate(1.3e-4, 1.2))
    assert not agree(estimate(1e-4, 1.2), estimate(1.7e-4, 1.2))
    bound = from_counts(0, 10_000)
    assert agree(bound, estimate(1e-5, 1.2))
    assert agree(estimate(1e-5, 1.2), bound)
    assert not agree(estimate(1e-2, 1.2), bound)
    near_one = Probability(0.99998, 0.999, 1.0, 0.95, "importance", 100, 100)
    assert agree(near_one, from_counts(9_995, 10_000))
    assert not agree(near_one, from_counts(9_900, 10_000))


def test_an_unbounded_miss_is_checked_by_plain_samples(make_case, monkeypatch):
    """Beyond what any estimator finds, the check says how rare it must be at least."""
    case = make_case(
        {
            **LOGNORMAL,
            "friction.nut_factor": {"law": "lognormal", "mean": K, "cov": "1 %"},
            "requirement.allowed_under": 1e-4,
            "requirement.allowed_over": 1e-4,
        }
    )
    monkeypatch.setattr(aim_module, "_PLAIN_CHECK", 2**14)
    result = aim(case)
    for outcome in result.verification.outcomes:
        assert (outcome.probability.misses, outcome.probability.samples) == (0, 2**14)
    assert result.verification.confirmed
    assert (
        result.allowed_scatter.of("friction").factor
        == pytest.approx(
            math.sqrt(math.expm1((WIDTH / (-2.0 * ndtri(1e-4))) ** 2)) / 0.01, rel=0.02
        )
        or result.allowed_scatter.of("friction").verdict == "followed"
    )
