"""Fatigue as a limit of the joint: load range, endurance as the case states it, its margin."""

import math

import pytest

from preloadmc.errors import CaseError
from preloadmc.joint import evaluate, load_range
from preloadmc.limits import margins
from preloadmc.mechanics.thread import thread
from preloadmc.questions.derive import derive

AS = thread("M12").stress_area
# Phi = 1/(3 + 1) with the base case; a preload of 20 kN, which 6 kN does not open.
FORCE = {
    "tightening": {"method": "stated scatter", "preload": "20 kN"},
    "requirement": {"minimum_preload": "5 kN", "maximum_preload": "60 kN"},
    "friction": {"thread": 0.12},
    "load.axial": "6 kN",
}
PLAIN = {**FORCE, "fatigue": {"endurance_limit": "50 MPa"}}


def fatigue_of(case, **changed):
    x = {**case.means, **{name.replace("__", "."): value for name, value in changed.items()}}
    state = evaluate(case.joint, x)
    found = margins(case.joint, case.requirement, x, state, others=True)
    return next(each for each in found if each.limit.name == "fatigue"), load_range(
        case.joint, x, state.judged[0]
    )


def with_fatigue(**keys):
    return {**FORCE, "fatigue": {"endurance_limit": "50 MPa", **keys}}


@pytest.mark.published
def test_a_large_bolt_by_gerber(make_case):
    # Shigley, 9th ed., Problem 8-37: M30 8.8, A_t 561 mm², C 0.33, P 80 kN, F_i 252.45 kN;
    # sigma_a 23.53 MPa, S_e 129, S_ut 830 MPa, n_f 3.27. Our A_t is 560.6 mm².
    case = make_case(
        {
            **FORCE,
            "fastener": {"thread": "M30", "property_class": "8.8",
                         "bearing_outer_diameter": "42 mm", "hole_diameter": "33 mm"},
            "joint": {"fastener_compliance": "0.67 um/kN", "clamped_compliance": "0.33 um/kN"},
            "tightening": {"method": "stated scatter", "preload": "252.45 kN"},
            "requirement": {"minimum_preload": "5 kN", "maximum_preload": "600 kN"},
            "load.axial": "80 kN",
            "fatigue": {"endurance_limit": {"guide": "Shigley Table 8-17"},
                        "mean_stress": "Gerber"},
        }
    )  # fmt: skip
    margin, found = fatigue_of(case)
    assert found.amplitude == pytest.approx(23.53, rel=1e-3)
    assert margin.reference == 129.0
    # At n_f times the load the margin is used up, whatever it is on the way there.
    at_limit, found = fatigue_of(case, load__axial=3.27 * 80e3)
    assert at_limit.values == pytest.approx(0.0, abs=0.3)
    assert found.amplitude == pytest.approx(77.0, abs=0.2)


@pytest.mark.parametrize(
    ("ratio", "preload", "forces"),
    [
        # closed: F + Phi F_A
        (0.0, 20e3, (21.5e3, 20e3)),
        (-1.0, 20e3, (21.5e3, 18.5e3)),
        (0.5, 20e3, (21.5e3, 20.75e3)),
        # 4.5 kN keep the parts together under 6 kN: below, the fastener carries all of it.
        (0.0, 3e3, (6e3, 3e3)),
        (0.0, 0.0, (6e3, 0.0)),
        (-1.0, 3e3, (6e3, 1.5e3)),
        (0.8, 3e3, (6e3, 4.8e3)),
    ],
)
def test_both_ends_of_the_range_follow_the_opening_joint(make_case, ratio, preload, forces):
    case = make_case(with_fatigue(load_ratio=ratio))
    margin, found = fatigue_of(case, tightening__preload=preload)
    assert (found.loaded, found.relieved) == pytest.approx(forces)
    amplitude = abs(forces[0] - forces[1]) / (2 * AS)
    assert found.amplitude == pytest.approx(amplitude, rel=1e-9)
    assert margin.values == pytest.approx(50.0 - amplitude, rel=1e-9)


def test_the_limit_is_reached_where_the_amplitude_is(make_case):
    # Fully open, a pulsating load of 2 As sigma_A is all that the thread bears.
    case = make_case(PLAIN)
    load = 2 * AS * 50.0
    for change, sign in ((0.999, 1.0), (1.001, -1.0)):
        margin, _ = fatigue_of(case, load__axial=change * load, tightening__preload=0.0)
        assert math.copysign(1.0, float(margin.values)) == sign


def test_low_preload_is_what_tires_a_fastener(make_case):
    case = make_case({**PLAIN, "load.axial": "12 kN"})
    loose, tight = (fatigue_of(case, tightening__preload=at)[0] for at in (3e3, 20e3))
    assert loose.values < tight.values
    # As long as the parts stay closed, more preload changes nothing.
    more, _ = fatigue_of(case, tightening__preload=30e3)
    assert more.values == pytest.approx(tight.values)


@pytest.mark.parametrize(
    ("keys", "class_", "borne"),
    [
        ({"endurance_limit": {"guide": "rolled before heat treatment"}}, "10.9", 48.875),
        ({"endurance_limit": {"guide": "VDI 2230 rolled before heat treatment"}}, "10.9", 48.875),
        # mean force 20.75 kN of 940 As
        (
            {"endurance_limit": {"guide": "rolled after heat treatment"}},
            "10.9",
            48.875 * (2 - max(20.75e3 / (940 * AS), 0.3)),
        ),
        ({"endurance_limit": "70 MPa", "mean_stress": "Goodman"}, "10.9",
         70 * (1 - 20.75e3 / AS / 1040)),
        ({"endurance_limit": {"guide": "Shigley"}}, "10.9", 162 * (1 - 20.75e3 / AS / 1040)),
        ({"endurance_limit": {"guide": "Shigley"}, "mean_stress": "Gerber"}, "12.9",
         190 * (1 - (20.75e3 / AS / 1220) ** 2)),
        # (2e6/250e3)^(1/3) = 2, and (2e6/31250)^(1/6) = 2
        ({"endurance_limit": {"guide": "rolled before"}, "cycles": 250_000}, "10.9", 2 * 48.875),
        (
            {"endurance_limit": {"guide": "rolled after"}, "cycles": 31_250},
            "10.9",
            2 * 48.875 * (2 - max(20.75e3 / (940 * AS), 0.3)),
        ),
        ({"endurance_limit": "50 MPa", "cycles": 250_000, "slope": 3}, "10.9", 100.0),
        # without a slope the endurance limit stands, on the safe side
        ({"endurance_limit": "50 MPa", "cycles": 250_000}, "10.9", 50.0),
        ({"endurance_limit": {"guide": "rolled before"}, "cycles": 5_000_000}, "10.9", 48.875),
    ],
)  # fmt: skip
def test_what_the_thread_bears(make_case, keys, class_, borne):
    case = make_case({**FORCE, "fastener.property_class": class_, "fatigue": keys})
    _, found = fatigue_of(case)
    assert found.borne == pytest.approx(borne, rel=1e-9)


def test_a_tighter_thread_rolled_after_heat_treatment_bears_less(make_case):
    keys = {"endurance_limit": {"guide": "rolled after heat treatment"}}
    case = make_case({**FORCE, "fatigue": keys})
    margins_ = [fatigue_of(case, tightening__preload=at)[0].values for at in (40e3, 60e3)]
    slope = (margins_[0] - margins_[1]) / 48.875
    assert slope == pytest.approx(20e3 / (940 * AS), rel=1e-9)


def test_a_waist_does_not_change_the_section(make_case):
    waisted = {
        **PLAIN,
        "joint": {},
        "clamped": [{"material": "steel", "thickness": "45 mm"}],
        "fastener.segment": [{"diameter": "8.5 mm", "length": "20 mm"}],
    }
    case = make_case(waisted)
    assert case.joint.section.area < AS
    _, found = fatigue_of(case)
    expected = (found.loaded - found.relieved) / (2 * AS)
    assert found.amplitude == pytest.approx(expected, rel=1e-12)


def test_heat_lowers_what_the_thread_bears(make_case):
    hot = {"name": "hot", "fastener": "350 degC", "clamped": "350 degC"}
    case = make_case(
        {
            **PLAIN,
            "joint": {},
            "clamped": [{"material": "steel", "thickness": "45 mm"}],
            "temperature": {"assembly": "20 degC", "state": [hot]},
        }
    )
    x = case.means
    state = evaluate(case.joint, x)
    cold, warm = (load_range(case.joint, x, judged) for judged in state.judged)
    assert warm.borne == pytest.approx(cold.borne * state.judged[1].strength_left)
    assert warm.borne < cold.borne


def test_scatter_of_a_guide_value_is_a_law(make_case):
    guide = {"guide": "rolled before heat treatment", "cov": "8 %"}
    law = make_case({**FORCE, "fatigue": {"endurance_limit": guide}}).laws[
        "fatigue.endurance_limit"
    ]
    assert law.mean == pytest.approx(48.875)
    assert law.sd / law.mean == pytest.approx(0.08)


BAD = {
    "no limit": ({"fatigue": {"load_ratio": 0}}, "fatigue.endurance_limit: missing; a stress"),
    "constant load": (with_fatigue(load_ratio=1.0), "fatigue.load_ratio: a ratio at most 0.999"),
    "few cycles": (with_fatigue(cycles=500), "fatigue.cycles: a whole number from 10000"),
    "no cycles": (with_fatigue(slope=3), "fatigue.cycles: missing; the load cycles below 2e6"),
    "mean stress twice": (
        with_fatigue(endurance_limit={"guide": "rolled before"}, mean_stress="Goodman"),
        "fatigue.mean_stress: 'none': the rule holds at the mean stress of tightened",
    ),
    "no mean stress": (
        with_fatigue(endurance_limit={"guide": "Shigley"}, mean_stress="none"),
        "fatigue.mean_stress: 'Goodman' or 'Gerber': the table is for an alternating load",
    ),
    "a size that the table lacks": (
        {**with_fatigue(endurance_limit={"guide": "Shigley"}), "fastener.property_class": "8.8"},
        "fatigue.endurance_limit.guide: the table has 8.8 from 16 to 36 mm, not 12 mm",
    ),
    "no class": (
        {
            **with_fatigue(endurance_limit={"guide": "rolled after"}),
            "fastener.property_class": None,
            "fastener.yield_strength": "900 MPa",
        },
        "fatigue.endurance_limit.guide: [fastener] property_class",
    ),
    "no tensile strength": (
        {
            **with_fatigue(mean_stress="Gerber"),
            "fastener.property_class": None,
            "fastener.yield_strength": "900 MPa",
        },
        "fatigue.mean_stress: [fastener] property_class or tensile_strength",
    ),
    "unknown guide": (
        with_fatigue(endurance_limit={"guide": "cut"}),
        "fatigue.endurance_limit.guide: one of",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_refused(make_case, name):
    overrides, words = BAD[name]
    with pytest.raises(CaseError) as error:
        make_case(overrides)
    told = " ".join(str(error.value).split())
    assert words in told


def test_assumptions_are_told_with_their_source(make_case):
    case = make_case({**FORCE, "fatigue": {"endurance_limit": {"guide": "rolled after"},
                                           "cycles": 100_000}})  # fmt: skip
    told = {item.path: f"{item.value}; {item.source}" for item in case.assumptions}
    assert "pulsates between none and the one stated" in told["fatigue.load_ratio"]
    assert "times 2 - F_Sm/F_0.2min" in told["fatigue.endurance_limit"]
    assert "from memory" in told["fatigue.endurance_limit"]
    assert "(2e6/N)^(1/6)" in told["fatigue.slope"]
    assert "stress area As" in told["fatigue"]
    stated = {item.path: item.value for item in make_case(PLAIN).assumptions}
    assert stated["fatigue.mean_stress"].startswith("none: the endurance limit stated holds")
    assert "fatigue.mean_stress" not in told


def test_a_class_that_the_rule_is_not_made_for_is_doubted(make_case):
    guide = {"endurance_limit": {"guide": "rolled before heat treatment"}}
    soft = make_case({**FORCE, "fastener.property_class": "4.6", "fatigue": guide})
    assert any("8.8 to 12.9" in words for words in soft.warnings)
    assert not any("8.8 to 12.9" in words for words in make_case(PLAIN).warnings)


def test_without_an_axial_load_nothing_is_judged(make_case):
    case = make_case({**PLAIN, "load.axial": None})
    assert any(words.startswith("fatigue has no effect here") for words in case.warnings)
    x = case.means
    found = margins(case.joint, case.requirement, x, evaluate(case.joint, x), others=True)
    assert "fatigue" not in {each.limit.name for each in found}


def test_a_rule_for_mean_stress_reads_the_tensile_strength(make_case):
    stated = {
        **FORCE,
        "tightening": {"method": "hydraulic tensioning", "pump_force": "20 kN",
                       "transfer_ratio": 0.9},
        "fastener.property_class": None,
        "fastener.yield_strength": "900 MPa",
        "fastener.tensile_strength": "1000 MPa",
    }  # fmt: skip
    for rule, read in (("none", False), ("Gerber", True)):
        keys = {"endurance_limit": "50 MPa", "mean_stress": rule}
        warned = make_case({**stated, "fatigue": keys}).warnings
        unread = any(words.startswith("fastener.tensile_strength has no eff") for words in warned)
        assert unread is not read


def test_the_fastener_of_a_joint_that_carries_most_is_judged(make_case):
    # A moment on four fasteners on a circle of 200 mm, one of them farthest from its axis: M/(2 r).
    group = {"fasteners": 4, "circle": "200 mm", "bending_moment": "1.2 kN·m"}
    case = make_case({**with_fatigue(), "load.axial": None, "group": group})
    _, found = fatigue_of(case)
    assert found.loaded - found.relieved == pytest.approx(0.25 * 1.2e6 / 200.0, rel=1e-9)


def test_it_is_derived_by_hand(make_case):
    case = make_case(with_fatigue(mean_stress="Goodman", cycles=250_000, slope=3))
    steps = {step.symbol: step for chapter in derive(case).chapters for step in chapter.steps}
    _, found = fatigue_of(case)
    assert steps["σ_a"].value == pytest.approx(found.amplitude)
    assert steps["σ_A"].value == pytest.approx(100.0)
    assert steps["σ_b"].value == pytest.approx(found.borne)
    assert steps["σ_b"].in_symbols == "σ_A·(1 - σ_m/R_m)"


@pytest.mark.parametrize(
    "keys",
    [
        {"endurance_limit": "50 MPa"},
        {"endurance_limit": {"guide": "rolled after heat treatment"}, "load_ratio": -0.5},
        {"endurance_limit": "50 MPa", "mean_stress": "Gerber", "cycles": 250_000, "slope": 4},
    ],
)
@pytest.mark.parametrize("load", ["6 kN", "-6 kN"])
def test_its_steps_can_be_worked_out(make_case, worked_out, keys, load):
    case = make_case({**FORCE, "load.axial": load, "fatigue": keys})
    steps = [
        step
        for chapter in derive(case).chapters
        for step in chapter.steps
        if step.symbol in ("F_So", "F_Su", "σ_a", "σ_m", "σ_A", "σ_b")
    ]
    assert len(steps) >= 5
    for step in steps:
        assert worked_out(step) == pytest.approx(step.value, rel=1e-9), step.symbol
