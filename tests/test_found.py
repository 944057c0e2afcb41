"""The joint as an inspection finds it: what turns a nut and what does not."""

import math

import numpy as np
import pytest

from preloadmc import check
from preloadmc.evidence import OBSERVATIONS, READINGS
from preloadmc.inputs import INPUT_KINDS
from preloadmc.joint import evaluate
from preloadmc.joint.found import as_found, inputs_as_they_were

# M12 x 1.75 with frictions 0.12 and 40 kN: tightening 77.70 N·m, loosening 54.99 N·m (Shigley, 9th
# ed., eqs. 8-1 and 8-2 with the flank angle, and the seat's 36.16 N·m).
PITCH, D2 = 1.75, 12 - 0.649519 * 1.75
COMPLIANCE = 4e-6
FORTY = {"tightening.torque": "77.70 N·m", "fastener.bearing_diameter": "15.065 mm"}
SLIPPING = {"load.transverse": "20 kN", "friction.joint": 0.2}
TURN = math.radians(20.0)


def found_on(case, turn=0.0, share=1.0, ratio=1.0, **more):
    x = {name: law.mean for name, law in case.laws.items()}
    return as_found(
        case.joint,
        x,
        evaluate(case.joint, x),
        back_rotation=turn,
        tightened_share=share,
        breakaway_ratio=ratio,
        **{
            "torque_share": share,
            "prevailing_torque": x["tightening.prevailing_torque"],
            **more,
        },
    )


@pytest.fixture
def forty(make_case):
    def make(overrides=None):
        return make_case(
            {
                "fastener.bearing_outer_diameter": None,
                **FORTY,
                **(overrides or {}),
            }
        )

    return make


@pytest.mark.published
def test_torques_to_turn_on_and_back(forty):
    found = found_on(forty())
    assert found.preload == pytest.approx(40e3, rel=1e-4)
    assert found.tightening_torque == pytest.approx(77.70e3, rel=1e-9)
    assert found.loosening_torque == pytest.approx(54.99e3, abs=5.0)


def test_friction_at_rest_scales_friction_alone(forty):
    plain, sticking = found_on(forty()), found_on(forty(), ratio=1.2)
    assert sticking.preload == plain.preload
    lead, rubs = math.atan(PITCH / (math.pi * D2)), math.atan(1.2 * 0.12 * 2 / math.sqrt(3))
    seat = 1.2 * 0.12 * 15.065 / 2
    on, back = (D2 / 2 * math.tan(rubs + sign * lead) + seat for sign in (1, -1))
    assert sticking.tightening_torque == pytest.approx(on * plain.preload, rel=1e-9)
    assert sticking.loosening_torque == pytest.approx(back * plain.preload, rel=1e-9)


def test_friction_at_rest_of_a_nut_factor_that_leaves_the_thread_unknown(make_case):
    # Without diameters of the seat nothing tells the thread's friction from the seat's: all torque
    # beyond that of the pitch, F P/(2 pi), is friction.
    case = make_case(
        {
            "friction": {"nut_factor": 0.16},
            "fastener.property_class": None,
            "fastener.bearing_outer_diameter": None,
            "fastener.hole_diameter": None,
        }
    )
    plain, sticking = found_on(case), found_on(case, ratio=1.2)
    pitch = plain.preload * PITCH / (2 * math.pi)
    assert plain.tightening_torque == pytest.approx(plain.preload * 0.16 * 12)
    assert plain.loosening_torque == pytest.approx(plain.tightening_torque - 2 * pitch)
    assert sticking.tightening_torque - pitch == pytest.approx(
        1.2 * (plain.tightening_torque - pitch)
    )
    assert sticking.loosening_torque + pitch == pytest.approx(
        1.2 * (plain.loosening_torque + pitch)
    )


def test_settling_lowers_preload_and_leaves_the_nut(forty):
    found = found_on(forty({"settling.embedding": "40 um", "settling.relaxation": "10 %"}))
    # (40 000 - 0.040 mm/4e-6 mm/N) 0.9.
    assert found.preload == pytest.approx(27e3, rel=2e-3)
    assert found.turned == 0.0


def test_slip_turns_the_nut_and_costs_the_helix(forty):
    found = found_on(forty(SLIPPING), TURN)
    lost = TURN / (2 * math.pi) * PITCH / COMPLIANCE
    assert found.turned == pytest.approx(TURN)
    assert found.preload == pytest.approx(40e3 - lost, rel=1e-3)


def test_parts_that_do_not_slip_turn_nothing(forty):
    found = found_on(forty({"load.transverse": "1 kN", "friction.joint": 0.2}), TURN)
    assert found.turned == 0.0
    assert found.preload == pytest.approx(40e3, rel=1e-3)


def test_slip_is_taken_for_granted_where_no_load_is_stated(forty):
    assert found_on(forty(), TURN).turned == pytest.approx(TURN)


def test_a_nut_goes_on_turning_without_preload(forty):
    found = found_on(forty(SLIPPING), math.radians(300.0))
    assert (found.preload, found.turned) == (0.0, pytest.approx(math.radians(300.0)))


def test_a_missed_fastener_holds_its_share(forty):
    assert found_on(forty(), share=0.1).preload == pytest.approx(4e3, rel=1e-3)
    # Too loose to keep the parts from slipping: 4 kN times 0.2 is below 1 kN.
    loose = found_on(forty({"load.transverse": "1 kN", "friction.joint": 0.2}), TURN, share=0.1)
    assert loose.turned == pytest.approx(TURN)


@pytest.mark.parametrize(
    ("securing", "turned", "preload"),
    [
        # The worn prevailing torque holds 2 pi T_p/P = 10 770 N (Eccles, PhD thesis, UCLan 2010).
        (
            {"element": "prevailing-torque nut", "worn_prevailing_torque": "3 N·m"},
            None,
            2 * math.pi * 3000 / PITCH,
        ),
        (
            {
                "element": "wedge-locking washers",
                "ramp_angle": "9 deg",
                "hardness": 540,
                "seat_hardness": 300,
                "source": "certificate",
            },
            0.0,
            None,
        ),
        ({"element": "adhesive", "breakaway_torque": "30 N·m"}, 0.0, None),
        ({"element": "adhesive", "breakaway_torque": "2 N·m"}, math.radians(300.0), 0.0),
        ({"element": "spring washer"}, math.radians(300.0), 0.0),
    ],
)
def test_securing_elements_enter_by_their_rule(forty, securing, turned, preload):
    more = {**SLIPPING, "securing": securing}
    if "prevailing" in securing["element"]:
        more["tightening.prevailing_torque"] = "5 N·m"
    case = forty(more)
    found, before = found_on(case, math.radians(300.0)), found_on(case)
    if preload is None:
        preload = before.preload
    assert found.preload == pytest.approx(preload, rel=1e-6)
    if turned is None:
        turned = (before.preload - preload) * COMPLIANCE * 2 * math.pi / PITCH
    assert found.turned == pytest.approx(turned)


@pytest.mark.parametrize("play", ["12 deg", None])
def test_a_positive_lock_turns_back_by_its_play_and_holds_no_preload(forty, play):
    lock = {"element": "castle nut with pin", **({} if play is None else {"play": play})}
    case = forty({**SLIPPING, "securing": lock})
    found, before = found_on(case, math.radians(300.0)), found_on(case)
    # 10 deg unless stated, of a thread of 1.75 mm, over 4 um/kN.
    turned = 10.0 if play is None else 12.0
    assert found.turned == pytest.approx(math.radians(turned))
    lost = turned / 360 * PITCH / COMPLIANCE
    assert found.preload == pytest.approx(before.preload - lost, rel=1e-9)
    # Less than its play is not added to.
    assert found_on(case, math.radians(3.0)).turned == pytest.approx(math.radians(3.0))
    # What was loose before is loose, and still on.
    assert found_on(case, math.radians(300.0), share=0.05).preload == 0.0


def test_a_prevailing_torque_holds_nothing_under_axial_load(forty):
    case = forty(
        {
            **SLIPPING,
            "load.axial": "1 kN",
            "tightening.prevailing_torque": "5 N·m",
            "securing": {"element": "prevailing-torque nut", "worn_prevailing_torque": "3 N·m"},
        }
    )
    assert found_on(case, math.radians(300.0)).preload == 0.0


def test_an_unbroken_bond_adds_its_torque(forty):
    bonded = forty({**SLIPPING, "securing": {"element": "adhesive", "breakaway_torque": "30 N·m"}})
    assert found_on(bonded).loosening_torque == pytest.approx(54.99e3 + 30e3, abs=5.0)


def test_yield_in_heat_is_missing_when_cold_again(make_case):
    case = make_case(
        {
            "clamped": [{"material": "aluminium 6082", "thickness": "40 mm"}],
            "joint": None,
            "fastener.property_class": "5.6",
            "tightening.torque": "38 N·m",
            "temperature.assembly": "20 degC",
            "temperature.state": [{"name": "fire", "fastener": "150 degC", "clamped": "200 degC"}],
        }
    )
    x = {name: law.mean for name, law in case.laws.items()}
    state = evaluate(case.joint, x)
    hot = state.named("fire")
    cut_off = hot.largest - state.held(hot)
    assert cut_off > 1000.0
    # The same elongation is missing in the stiffer cold joint.
    cold = x["joint.fastener_compliance"] + x["joint.clamped_compliance"]
    lost = cut_off * hot.compliance / cold
    assert found_on(case).preload == pytest.approx(state.settled - lost)
    assert found_on(case).preload == check(case).nominal.path["settled"]


def test_a_jammed_thread_takes_the_torque_and_leaves_no_preload(forty):
    # A tenth of 40 kN clamps; 0.1 of the torque clamps and 0.9 jams the thread.
    tight, jammed = found_on(forty()), found_on(forty(), share=0.1, torque_share=1.0)
    assert jammed.preload == pytest.approx(0.1 * tight.preload)
    assert jammed.loosening_torque == pytest.approx(tight.loosening_torque)
    assert jammed.tightening_torque == pytest.approx(tight.tightening_torque)
    assert jammed.recorded_torque == pytest.approx(77.70e3)
    assert (tight.shows("thread bottomed"), jammed.shows("thread bottomed")) == (0.0, 1.0)
    # The parts slip, and the jammed nut stays where it is.
    slipped = found_on(forty(SLIPPING), TURN, share=0.1, torque_share=1.0)
    assert (slipped.turned, slipped.shows("slip mark")) == (0.0, 1.0)


def test_one_run_down_shows_the_torque_of_its_preload(forty):
    tight, loose = found_on(forty()), found_on(forty(), share=0.1)
    assert loose.loosening_torque == pytest.approx(0.1 * tight.loosening_torque)
    assert loose.recorded_torque == pytest.approx(7.77e3)
    assert loose.shows("thread bottomed") == 0.0


def test_a_tool_records_what_it_takes_itself_to_deliver(forty):
    # A tool that delivers a tenth too little does not know it.
    low = found_on(forty({"tightening.bias": "-10 %"}))
    assert low.recorded_torque == pytest.approx(77.70e3)
    assert low.preload == pytest.approx(0.9 * 40e3, rel=1e-4)


def test_a_wrong_setting_and_an_overload_change_the_inputs(forty):
    case = forty({"load.transverse": "1 kN", "friction.joint": 0.2})
    x = {name: law.mean for name, law in case.laws.items()}
    was = inputs_as_they_were(case.joint, {**x, "setting.error": 0.74, "rotation.overload": 9.0})
    assert was["tightening.torque"] == pytest.approx(0.74 * 77.70e3)
    assert was["load.transverse"] == pytest.approx(9e3)
    assert {name for name in x if was[name] != x[name]} == {"tightening.torque", "load.transverse"}
    assert inputs_as_they_were(case.joint, x) == x


@pytest.mark.parametrize(
    ("load", "turn", "slip", "gap", "mark"),
    [
        (None, 0.0, None, 0.0, 0.0),
        ("1 kN", TURN, 0.0, 0.0, 0.0),
        ("20 kN", 0.0, 1.0, 0.0, 0.0),
        ("20 kN", TURN, 1.0, 0.0, 1.0),
        # 40 kN x 4 um/kN is 160 um, 33 degrees of the pitch: nothing is left of it.
        ("20 kN", math.radians(34.0), 1.0, 1.0, 1.0),
        ("20 kN", math.radians(32.0), 1.0, 0.0, 1.0),
    ],
)
def test_slip_leaves_its_marks(forty, load, turn, slip, gap, mark):
    found = found_on(forty({"load.transverse": load, "friction.joint": 0.2}), turn)
    assert found.shows("slip mark") == slip
    assert (found.shows("gap"), found.shows("mark")) == (gap, mark)


def test_a_head_shows_its_class(forty):
    found = found_on(forty())
    assert found.shows("head mark", "10.9") == 1.0
    assert found.shows("head mark", "5.6") == 0.0


def test_a_worn_prevailing_torque_enters_both_ways(forty):
    new = forty({"tightening.prevailing_torque": "5 N·m"})
    worn = found_on(new, prevailing_torque=2e3)
    plain = found_on(new)
    assert plain.loosening_torque - worn.loosening_torque == pytest.approx(3e3)
    assert plain.tightening_torque - worn.tightening_torque == pytest.approx(3e3)
    assert worn.preload == plain.preload


def test_a_method_without_friction_has_no_torques(make_case):
    case = make_case(
        {
            "tightening": {"method": "stated scatter", "preload": "30 kN"},
            "fastener.property_class": None,
            "friction": {"thread": 0.12},
        }
    )
    found = found_on(case)
    assert found.preload == 30e3
    assert found.tightening_torque is None
    assert found.loosening_torque is None
    assert found.recorded_torque is None
    assert found.shows("head mark", "10.9") is None


def test_on_arrays(forty):
    found = found_on(forty(SLIPPING), np.array([0.0, TURN]), np.array([1.0, 0.5]))
    assert found.preload.shape == found.turned.shape == (2,)


def test_every_kind_of_finding_is_an_input_or_shown_by_the_joint(forty):
    found = found_on(forty(SLIPPING), TURN)
    for name, kind in {**READINGS, **OBSERVATIONS}.items():
        if kind.input:
            assert kind.input in INPUT_KINDS
        elif name != "temperature":  # its input goes by state and part
            assert np.isfinite(found.shows(name))
