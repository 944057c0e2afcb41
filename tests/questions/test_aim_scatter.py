"""How much scatter the window tolerates: against closed forms and quadrature."""

import math

import numpy as np
import pytest
from closed_joints import (
    COV,
    TOOL,
    WIDTH,
    K,
    lognormal_joint,
    lognormal_shares,
)
from scipy.optimize import brentq
from scipy.special import ndtri

from preloadmc import aim
from preloadmc.chance.streams import named_rng
from preloadmc.questions.aim.allowed_scatter import allowed_scatters
from preloadmc.questions.aim.bounds import BREAKS, over_bound, under_bound
from preloadmc.questions.aim.setting import Calls
from preloadmc.questions.aim.suited_sample import draw_suited


@pytest.fixture
def lognormal(make_case):
    """A function that returns the lognormal joint with what is allowed of each side."""
    return lambda *allowed, **more: lognormal_joint(make_case, *allowed, **more)


def scatters(case, seed):
    """What scatter both sides of the window allow."""
    requirement = case.requirement
    window = under_bound(requirement.allowed_under), over_bound(requirement.allowed_over)
    return allowed_scatters(case, window, seed=seed, calls=Calls())


@pytest.mark.parametrize(("under", "over"), [(1e-2, 1e-3), (1e-6, 1e-4), (1e-6, 1e-6)])
def test_the_largest_cov_is_that_of_the_closed_form(lognormal, under, over):
    """Both sides are just met at s = ln(F_max/F_min)/(z_u + z_o); cov² = exp(s²) - 1."""
    allowed = aim(lognormal(under, over)).room.of("friction")
    largest = math.sqrt(math.expm1((WIDTH / (-ndtri(under) - ndtri(over))) ** 2))
    (spread,) = allowed.inputs
    assert allowed.verdict == "found"
    assert spread.sd_at_most / spread.mean == pytest.approx(largest, rel=0.01)
    assert spread.sd_now / spread.mean == pytest.approx(COV)
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
            case,
            case.uncertain,
            (under_bound(1e-6), over_bound(1e-4), BREAKS),
            rng=named_rng(1000 * seed + each, "test"),
            calls=Calls(),
        )
        for side, name in enumerate(("under_preload", "over_preload")):
            curve = sample.shares(name).curve(levels)
            inside[side] += (curve.low <= exact[side]) & (exact[side] <= curve.high)
        allowed = scatters(alone, 1000 * seed + each).sources[0]
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
    border = scatters(case, 3).border
    assert border[0].friction == 0.0
    assert border[-1].tool == 0.0
    for point in border:
        assert point.just_met
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
    allowed = scatters(case, 3)
    friction, tool = allowed.of("friction"), allowed.of("tool")
    assert friction.verdict == "law ends"
    assert friction.factor * 0.14 == pytest.approx(-1.0 / ndtri(1e-9), rel=1e-3)
    assert (tool.verdict, tool.factor) == ("followed", 5.0)
    assert all(not point.just_met for point in allowed.border)
    for point in allowed.border:
        assert point.tool <= 5.0 + 1e-9
        assert point.friction <= friction.factor + 1e-9


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
    assert {allowed.scatter: allowed.verdict for allowed in result.room.sources} == {
        "tool": "too little",
        "friction": "too little",
        "tool and friction together": "found",
    }
    assert "it would take the scatter of tool and friction together at 0.0" in result.answer[2]


def test_a_window_without_width_bears_no_scatter(lognormal):
    case = lognormal(
        1e-3, 1e-3, **{"requirement.minimum_preload": "61.999 kN", "settling.relaxation": "1 %"}
    )
    result = aim(case)
    assert result.room.of("friction").verdict == "too little"
    assert result.answer[1] == (
        "What limits: no set torque meets every limit: neither too little preload (minimum "
        "preload, settled) nor too much preload (maximum preload, assembly) is within what is "
        "allowed at any set torque searched; no set torque would do even without the scatter of "
        "friction."
    )
    assert "less scatter" not in result.answer[2]


def test_where_too_much_does_not_matter_breaking_bounds_the_scatter(lognormal):
    """A fastener that breaks holds too little: what is told serves, and a tenth more does not."""
    friction = scatters(lognormal(1e-3, 1), 3).of("friction")
    assert friction.verdict == "found"

    def serves(factor):
        law = {"law": "lognormal", "mean": K, "cov": factor * COV}
        return aim(lognormal(1e-3, 1, **{"friction.nut_factor": law}))

    assert serves(0.95 * friction.low).to_set is not None
    wider = serves(1.1 * friction.high)
    assert wider.to_set is None
    assert wider.aim.verdict == "misses"


def test_a_side_that_all_may_miss_is_searched_to_where_half_do(lognormal):
    """s = ln(F_max/F_min)/z_o, with F_min at most missed as often as not."""
    friction = scatters(lognormal(1, 1e-3), 3).of("friction")
    largest = math.sqrt(math.expm1((WIDTH / -ndtri(1e-3)) ** 2))
    (spread,) = friction.inputs
    assert friction.verdict == "found"
    assert spread.sd_at_most / spread.mean == pytest.approx(largest, rel=0.015)
