"""The hand calculation: what it shows is what a run samples, and its formulas give its numbers."""

from __future__ import annotations

import math
import re

import pytest
from plain_lines import section_lines

from preloadmc import derive, load_case
from preloadmc.joint import evaluate
from preloadmc.limits import margins
from preloadmc.report.text.derive import derivation_sections, derive_text

PLATES = [
    {"material": "steel S355", "thickness": "2.5 mm", "outer_diameter": "24 mm"},
    {"material": "aluminium 6082", "thickness": "20 mm", "outer_diameter": "30 mm"},
    {"material": "steel S235", "thickness": "18 mm"},
]
HOT_AND_COLD = {
    "assembly": "20 degC",
    "state": [
        {"name": "hot", "fastener": "80 degC", "clamped": ["70 degC", "95 degC", "85 degC"]},
        {"name": "cold", "fastener": "-20 degC", "clamped": "-30 degC", "axial": "4 kN"},
    ],
}
WHOLE = {
    "clamped": PLATES,
    "joint": {},
    "fastener.segment": [{"diameter": "12 mm", "length": "12 mm"}],
    "settling": {"embedding": "9 um", "relaxation": "4 %"},
    "temperature": HOT_AND_COLD,
    "load": {"axial": "6 kN", "transverse": "2 kN", "load_introduction": 0.6},
    "friction.joint": 0.2,
    "tightening.bias": "-2 %",
    "tightening.prevailing_torque": "5 N·m",
    "fastener.engagement": "10 mm",
    "fastener.mate_tensile_strength": "900 MPa",
    "fastener.nut_width_across_flats": "18 mm",
    "requirement": {
        "minimum_preload": {"from": "no slip"},
        "maximum_preload": {"from": "yield", "fraction": 0.9},
    },
}
PLASTIC = {
    "clamped": PLATES,
    "joint": {},
    "fastener.strength": "minimum",
    "fastener.plastic_strain": 0.05,
    "requirement": {"minimum_preload": "28 kN", "maximum_plastic_elongation": "0.3 mm"},
}


def by(method, **controls):
    return {"tightening": {"method": method, **controls}}


CASES = {
    "as it is": {},
    "whole": WHOLE,
    "no separation": {**WHOLE, "requirement.minimum_preload": {"from": "no separation"}},
    "tapped hole": {
        **WHOLE,
        "fastener.mate": "tapped hole",
        "fastener.nut_width_across_flats": None,
    },
    "waist": {**WHOLE, "fastener.segment": [{"diameter": "9 mm", "length": "20 mm"}]},
    "inch": {"fastener.thread": "1/2-13 UNC", "fastener.property_class": "SAE 8"},
    "countersunk": {"fastener.seat_half_angle": "45 deg"},
    "nut factor": {"friction": {"nut_factor": 0.18}},
    "nut factor with thread friction": {"friction": {"nut_factor": 0.18, "thread": 0.1}},
    "total friction": {"friction": {"total": 0.13}},
    "measured": {"fastener.bearing_diameter": "15 mm", "joint": {"compliance": "4 um/kN"}},
    "without strength": {"fastener.property_class": None},
    "direct": {"temperature": {"thermal_change": "-2 kN"}},
    "impact": by("pulse or impact", torque="60 N·m"),
    "angle, below yield": {
        "clamped": PLATES,
        **by("torque then angle", torque="30 N·m", angle="30 deg", seating_angle="2 deg"),
    },
    "angle, held at yield": {
        **by("torque then angle", torque="30 N·m", angle="90 deg", seating_angle="2 deg"),
    },
    "angle, elastic": {**PLASTIC, **by("torque then angle", torque="30 N·m", angle="10 deg")},
    "angle, past yield": {**PLASTIC, **by("torque then angle", torque="30 N·m", angle="90 deg")},
    "angle, broken": {**PLASTIC, **by("torque then angle", torque="30 N·m", angle="300 deg")},
    "yield point": {**PLASTIC, **by("yield point sensed", detector_ratio=0.98)},
    "yield point, past it": {**PLASTIC, **by("yield point sensed", detector_ratio=1.03)},
    "tensioner": by("hydraulic tensioning", pump_force="55 kN", transfer_ratio=0.8, bias="2 %"),
    "elongation": by("elongation measured", elongation="120 um", bias="1 %"),
    "elongation over a length": {
        "clamped": PLATES,
        "joint": {},
        **by("elongation measured", elongation="60 um", gauge_length="30 mm"),
    },
    "stated": by("stated scatter", preload="40 kN"),
    "no grip left": {"settling.embedding": "1 mm"},
    "own limiting pressure": {"clamped": [{**PLATES[1], "limiting_pressure": "200 MPa"}]},
    "loaded, without strength": {"fastener.property_class": None, "load.axial": "5 kN"},
    "tensioner without friction": {
        **by("hydraulic tensioning", pump_force="55 kN", transfer_ratio=0.8),
        "friction": {"joint": 0.2},
    },
    "nut factor alone": {
        "fastener": {"thread": "M12"},
        "friction": {"nut_factor": 0.18},
    },
    "asks more torque": {
        "securing": {
            "element": "wedge-locking washers",
            "torque_ratio": 1.2,
            "source": "certificate",
        },
        "load.transverse": "2 kN",
        "friction.joint": 0.2,
    },
}


@pytest.fixture(params=CASES)
def case(request, make_case):
    return make_case(CASES[request.param])


def test_each_formula_as_shown_gives_the_value_shown(case, worked_out):
    steps = [step for step in derive(case).steps if step.formula]
    assert len(steps) > 5
    for step in steps:
        assert worked_out(step) == pytest.approx(step.value, rel=1e-9, abs=1e-12), step.title


def test_every_symbol_is_a_value_and_every_value_a_symbol(case):
    for step in derive(case).steps:
        shown = set(re.findall(r"\{([^}]+)\}", step.formula))
        assert shown == {value.symbol for value in step.values}, step.title


def test_the_numbers_are_those_of_a_run_at_the_means(case):
    x = {name: law.mean for name, law in case.laws.items()}
    state = evaluate(case.joint, x)
    found = derive(case)
    last = {(c.title, s.symbol): s.value for c in found.chapters for s in c.steps}
    tightening = f"Tightening: {case.joint.method.name}"
    exactly = {"rel": 1e-12, "abs": 1e-12}
    assert last[tightening, "F_M"] == pytest.approx(float(state.assembly.preload), **exactly)
    assert last["Settling", "F_V"] == pytest.approx(float(state.settled), **exactly)
    for judged in state.judged:
        if judged.name != "settled":
            shown = last[f"State: {judged.name}", "F"]
            assert shown == pytest.approx(float(judged.preload), **exactly)
    every = margins(case.joint, case.requirement, x, state, others=True)
    assert [margin.limit for margin in found.margins] == [margin.limit for margin in every]
    for shown, margin in zip(found.margins, every, strict=True):
        assert shown.value == pytest.approx(float(margin.values), **exactly)
        assert shown.reference == pytest.approx(float(margin.reference), **exactly)


def test_terms_add_up_to_the_compliances_that_are_sampled(make_case):
    case = make_case(WHOLE)
    steps = list(derive(case).steps)
    sums = {step.symbol: step for step in steps}
    for symbol, name in (
        ("δ_S", "joint.fastener_compliance"),
        ("δ_P", "joint.clamped_compliance"),
    ):
        assert sums[symbol].value == case.laws[name].mean
        assert sum(value.value for value in sums[symbol].values) == pytest.approx(
            case.laws[name].mean, rel=1e-12
        )


def test_each_step_carries_over_what_an_earlier_one_found(make_case):
    # A value that an earlier step of the same name made must be that value, with its latest one.
    for overrides in CASES.values():
        made = {}
        for step in derive(make_case(overrides)).steps:
            for value in step.values:
                if value.symbol in made and value.symbol in ("F_M", "F_V", "F_y", "F_m", "δ", "a"):
                    assert value.value == pytest.approx(made[value.symbol], rel=1e-9)
            made[step.symbol] = step.value


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_the_text_fits_a_terminal_and_keeps_units_with_their_numbers(case, system):
    lines = derive_text(derive(case), system).splitlines()
    assert max(map(len, lines)) <= 80
    units = ("kN", "mm", "MPa", "in", "lbf", "ksi", "degC", "degF", "µm", "mil")
    assert not [line for line in lines if line.strip().split(" ")[0] in units]


def test_a_power_or_quotient_of_a_quantity_is_in_brackets(make_case):
    text = "\n".join(section_lines(derivation_sections(derive(make_case(WHOLE)))))
    assert "(16.63 mm)²" in text
    assert re.search(r"F_Z = f_Z/δ\n +\w* += 9 µm/\([\d.]+ µm/kN\)", text)
    assert "((-20 degC) - 20 degC)" in text


def test_steps_are_numbered_through_in_order_of_life(make_case):
    found = derive(make_case(WHOLE))
    lines = section_lines(derivation_sections(found))
    numbers = [int(line.split(".")[0]) for line in lines if re.match(r"\d+\. ", line)]
    assert numbers == list(range(1, len(list(found.steps)) + 1))
    titles = [chapter.title for chapter in found.chapters]
    assert titles == [
        "Thread and section",
        "Where the torque goes",
        "Compliance",
        "Strength with torsion",
        "Tightening: torque",
        "Settling",
        "State: settled",
        "State: hot",
        "State: cold",
        "Seats and engaged thread",
        "Window",
    ]


def test_every_step_has_a_source(case):
    assert all(step.source and step.title for step in derive(case).steps)


def test_each_shipped_case_derives(case_files, worked_out):
    for path in case_files:
        derivation = derive(load_case(path))
        for step in derivation.steps:
            if step.formula:
                assert worked_out(step) == pytest.approx(step.value, rel=1e-9), (path, step.title)
        assert derivation.margins


def test_the_split_of_the_torque(make_case):
    # M12 with friction 0.12, d_W 16.63, d_h 13.5 mm: the thread takes d2/2 tan(phi + rho'),
    # of which P/(2 pi) stretches the fastener.
    P, d2, Db, mu = 1.75, 12 - 0.649519 * 1.75, 15.065, 0.12
    angles = math.atan(P / (math.pi * d2)), math.atan(mu * 2 / math.sqrt(3))
    pitch = P / (2 * math.pi)
    terms = (pitch, d2 / 2 * math.tan(sum(angles)) - pitch, mu * Db / 2)
    shown = {step.symbol: step.value for step in derive(make_case()).steps}
    for symbol, term in zip(("s_P", "s_t", "s_b"), terms, strict=True):
        assert shown[symbol] == pytest.approx(term / sum(terms), rel=1e-9)
    assert shown["s_P"] == pytest.approx(0.1434, abs=5e-5)
