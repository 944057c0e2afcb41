"""Frictions of thread and bearing: one figure for both, shares that cannot be, full dependence."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preloadmc import check, derive, rank
from preloadmc.errors import CaseError
from preloadmc.joint import evaluate
from preloadmc.mechanics import measured_friction, tightening
from preloadmc.mechanics.thread import thread

M12 = thread("M12")
# Mean diameter of the ring under the head, ISO 16047: (16.63 + 13.5)/2.
SEAT = 15.065
LAW = {"law": "lognormal", "mean": 0.12, "cov": "10 %"}
# A coating as it is specified: a window of total friction.
WINDOW = {"law": "uniform", "low": 0.09, "high": 0.14}
TOTAL = {"friction": {"total": WINDOW}}
TORQUE = 77.4e3


def by_hand(thread_friction, bearing_friction):
    """T/(d2/2 tan(phi + rho') + mu_b Db/2), tan rho' = mu_t/cos 30°: Shigley, eq. 8-26."""
    lead = math.atan(M12.pitch / (math.pi * M12.pitch_diameter))
    angle = np.arctan(thread_friction / math.cos(math.radians(30)))
    arm = M12.pitch_diameter / 2 * np.tan(lead + angle)
    return TORQUE / (arm + bearing_friction * SEAT / 2)


def drawn(case, n=1000):
    z = np.random.default_rng(5).standard_normal((n, len(case.uncertain)))
    return case.inputs(z, case.uncertain)


class TestTotalFriction:
    def test_it_acts_in_thread_and_seat_alike(self, make_case):
        case = make_case(TOTAL)
        assert case.uncertain == ("friction.total",)
        x = drawn(case)
        total = np.asarray(x["friction.total"])
        assert 0.09 <= total.min() < total.max() <= 0.14
        found = evaluate(case.joint, x)
        assert np.asarray(found.assembled) == pytest.approx(by_hand(total, total), rel=1e-12)

    def test_a_test_by_iso_16047_gives_it_back(self, make_case):
        case = make_case(TOTAL)
        x = drawn(case)
        state = evaluate(case.joint, x)
        preload, total = np.asarray(state.assembled), np.asarray(x["friction.total"])
        twist = np.asarray(state.assembly.thread_torque)
        sizes = (M12.pitch, M12.pitch_diameter)
        assert tightening.total_friction(TORQUE, preload, *sizes, SEAT) == pytest.approx(total)
        measured = measured_friction.thread_friction_from_torque(twist, preload, *sizes)
        assert measured == pytest.approx(total)
        seat = measured_friction.bearing_friction_from_torque(TORQUE - twist, preload, SEAT)
        assert seat == pytest.approx(total)
        # ISO 16047:2005 (from memory): (T/F - P/(2 pi))/(0.577 d2 + 0.5 Db), which leaves out the
        # product of lead and friction: up to 0.8 % higher.
        linear = (TORQUE / preload - M12.pitch / (2 * math.pi)) / (
            0.577 * M12.pitch_diameter + 0.5 * SEAT
        )
        assert np.all((linear > total) & (linear < 1.008 * total))

    @pytest.mark.parametrize("other", ["thread", "bearing", "nut_factor", "correlation"])
    def test_it_stands_for_both_and_for_a_nut_factor(self, make_case, other):
        with pytest.raises(CaseError, match=rf"friction\.{other}: .*the total friction holds"):
            make_case({"friction": {"total": WINDOW, other: 0.15}})

    @pytest.mark.parametrize(
        ("before", "after", "left"),
        [
            ({"thread": LAW, "bearing": LAW, "correlation": 0.4}, {"total": WINDOW}, {"total"}),
            ({"nut_factor": LAW}, {"total": WINDOW}, {"total"}),
            ({"total": WINDOW}, {"nut_factor": LAW}, {"nut_factor"}),
            ({"total": WINDOW}, {"thread": LAW, "bearing": LAW}, {"thread", "bearing"}),
        ],
    )
    def test_an_alternative_may_state_it_in_place_of_others(self, make_case, before, after, left):
        given = {"friction": before, "alternative": [{"name": "coated", "friction": after}]}
        (changed,) = make_case(given).alternatives
        frictions = {name.partition(".")[2] for name in changed.laws if "friction." in name}
        assert frictions == left

    def test_a_stated_scatter_holds_it(self, make_case):
        case = make_case({**TOTAL, "tightening": {"method": "stated scatter", "preload": "35 kN"}})
        assert case.uncertain == ()
        assert case.means["friction.total"] == pytest.approx(0.115)

    def test_questions_know_it(self, make_case):
        case = make_case(TOTAL)
        nominal = check(case).nominal
        assert nominal.thread_friction == pytest.approx(0.115)
        assert nominal.path["assembled"] == pytest.approx(by_hand(0.115, 0.115), rel=1e-12)
        found = rank(case, base_samples=64)
        assert [source.name for source in found.ranked] == ["total friction"]
        (bracket,) = (step for step in derive(case).steps if step.symbol == "B")
        assert {value.symbol: value.value for value in bracket.values}["mu_b"] == 0.115


class TestFullDependence:
    def test_one_friction_is_then_a_share_of_the_other(self, make_case):
        seat = {**LAW, "mean": 0.15}
        case = make_case({"friction": {"thread": LAW, "bearing": seat, "correlation": 1}})
        assert case.uncertain == ("friction.thread",)
        x = drawn(case)
        mu = np.asarray(x["friction.thread"])
        assert np.asarray(x["friction.bearing"]) == pytest.approx(mu * 0.15 / 0.12, rel=1e-9)
        found = evaluate(case.joint, x)
        assert np.asarray(found.assembled) == pytest.approx(by_hand(mu, 1.25 * mu), rel=1e-9)

    def test_it_is_the_total_friction_where_both_are_alike(self, make_case):
        tied = make_case({"friction": {"thread": LAW, "bearing": LAW, "correlation": 1}})
        total = make_case({"friction": {"total": LAW}})
        forces = [np.asarray(evaluate(case.joint, drawn(case)).assembled) for case in (tied, total)]
        assert forces[0] == pytest.approx(forces[1], rel=1e-12)

    def test_laws_of_other_shapes_are_refused(self, make_case):
        frictions = {"thread": LAW, "bearing": {**LAW, "cov": "12 %"}, "correlation": 1}
        with pytest.raises(CaseError, match=r"friction\.correlation: .*at most 0\.999: with 1"):
            make_case({"friction": frictions})


class TestWhatANutFactorLeavesTheSeat:
    """K d is what thread and seat ask together; the thread alone cannot ask for more."""

    # d2/2 tan(phi + rho')/d for an M12 with thread friction 0.2: what K must be above.
    LEAST = float(TORQUE / by_hand(0.2, 0.0) / 12.0)

    def test_constants_are_held_against_the_thread_exactly(self, make_case):
        assert make_case({"friction": {"nut_factor": self.LEAST * 1.001, "thread": 0.2}})
        with pytest.raises(CaseError, match=r"friction\.nut_factor: .*with probability 1$"):
            make_case({"friction": {"nut_factor": self.LEAST * 0.999, "thread": 0.2}})

    @pytest.mark.parametrize("rho", [0.0, 0.6])
    def test_laws_are_held_against_each_other(self, make_case, rho):
        # Normal laws, and a thread torque that is nearly linear in friction: the slope of LEAST is
        # k = d2/2 sec²(phi + rho')/cos 30° cos² rho'/d, and K - k mu is normal about 1 s.d. up:
        # Q(1) = 0.159; the curvature over 0.2 +- 0.01 moves it by less than 0.001.
        mean = self.LEAST
        step = 1e-4
        slope = float(TORQUE / by_hand(0.2 + step, 0.0) / 12.0 - mean) / step
        sds = 0.01, 0.005
        spread = math.sqrt(sds[1] ** 2 + (slope * sds[0]) ** 2 - 2 * rho * slope * sds[0] * sds[1])
        friction = {
            "nut_factor": {"law": "normal", "mean": mean + spread, "sd": sds[1]},
            "thread": {"law": "normal", "mean": 0.2, "sd": sds[0]},
            "correlation": rho,
        }
        with pytest.raises(CaseError, match=r"under the head with probability 0\.16$"):
            make_case({"friction": friction})

    def test_laws_that_hardly_ever_cross_are_taken(self, make_case):
        # ln K - ln LEAST is 0.66 for the means, its s.d. below 0.14: 4.7 s.d., 1e-6.
        law = {"law": "lognormal", "mean": 0.18, "cov": "10 %"}
        friction = {"nut_factor": law, "thread": {**law, "mean": 0.13, "cov": "12 %"}}
        assert make_case({"friction": friction})
