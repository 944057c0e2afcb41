"""What no joint can have is refused; what is unusual is warned of, with what was likely meant.

The ranges are engineering judgement (common practice, no published source), so are the values here.
"""

import json
import tomllib

import pytest

from preloadmc import check, load_case, run
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.kinds import Quantity
from preloadmc.case_file.law_kind import LawOf
from preloadmc.errors import CaseError
from preloadmc.inputs import INPUT_KINDS
from preloadmc.plausible import PLAUSIBLE_RANGES
from preloadmc.report.documents.document import as_json
from preloadmc.report.documents.run import run_document
from preloadmc.report.text.run import run_text
from preloadmc.units import parse_quantity

LAYERS = {"joint": {}, "clamped": [{"material": "steel", "thickness": "30 mm"}]}


def problem(make_case, overrides):
    with pytest.raises(CaseError) as caught:
        make_case(overrides)
    (found,) = caught.value.problems
    return str(found)


def lognormal(mean, cov):
    return {"law": "lognormal", "mean": mean, "cov": cov}


@pytest.mark.parametrize(
    ("overrides", "words"),
    [
        (
            {"friction.joint": 12.0},
            "friction.joint: a ratio of at least 0.0001 and at most 10, beyond which none can be; "
            "is 12 % meant? (given: 12.0)",
        ),
        (
            {"friction.thread": lognormal(8.0, "12 %")},
            "friction.thread: a ratio of at least 0.0001 and at most 10, beyond which none can be "
            "(this law goes beyond with probability 0.027)",
        ),
        (
            {"fastener.expansion": "101 ppm/K"},
            "fastener.expansion: a thermal expansion of at least -100 ppm/K and at most 100 ppm/K",
        ),
        (
            {"fastener.expansion": "11.5 1/K"},
            "beyond which none can be; is 11.5 ppm/K meant? (given: '11.5 1/K')",
        ),
        (
            {"clamped": [{"material": "steel", "thickness": "30 mm", "expansion": "-101 ppm/K"}]},
            "clamped[1].expansion: a thermal expansion of at least -100 ppm/K",
        ),
        ({"tightening.bias": "-100 %"}, "tightening.bias: a ratio of at least -99 %"),
        ({"tightening.bias": "-2"}, "; is -2 % meant? (given: '-2')"),
        ({"fastener.modulus": "210000 GPa"}, "and at most 1500 GPa, beyond which none can be; is"),
        (
            {"clamped": [{"material": "steel", "thickness": "30 mm", "hole_diameter": "11.9 mm"}]},
            "clamped[1].hole_diameter: a diameter above 12 mm, that of M12: it must pass",
        ),
        # Measured stiffness or not.
        (
            {
                "clamped": LAYERS["clamped"],
                "fastener.segment": [{"diameter": "12 mm", "length": "500 mm"}],
            },
            "fastener.segment: plain lengths of M12 (500 mm) exceed the grip (30 mm): the shank",
        ),
        (
            {**LAYERS, "fastener.segment": [{"diameter": "12 mm", "length": "500 mm"}]},
            "fastener.segment: plain lengths of M12 (500 mm) exceed the grip (30 mm): the shank",
        ),
        # The tool is set to 77.4 N·m.
        (
            {"tightening.prevailing_torque": "77.4 N·m"},
            "tightening.prevailing_torque: a torque below 77.4 N·m, what the tool gives on the "
            "average: the fastener would turn and never clamp",
        ),
        (
            {"tightening.prevailing_torque": "75 N·m", "tightening.bias": "-10 %"},
            "tightening.prevailing_torque: a torque below 69.66 N·m",
        ),
    ],
)
def test_what_cannot_be_is_refused(make_case, overrides, words):
    assert words in problem(make_case, overrides)


def test_bounds_themselves_are_possible(make_case):
    make_case(
        {
            "friction.joint": 10.0,
            "fastener.expansion": "100 ppm/K",
            "tightening.bias": "-99 %",
            "clamped": [{"material": "steel", "thickness": "30 mm", "hole_diameter": "12 mm"}],
            "fastener.segment": [{"diameter": "12 mm", "length": "30 mm"}],
        }
    )
    make_case({"tightening.prevailing_torque": "77.3 N·m"})


def test_a_head_may_stand_out_over_a_layer(make_case):
    """A layer narrower than the face under the head is a joint that is built."""
    layers = [{"material": "steel", "thickness": "30 mm", "outer_diameter": "16 mm"}]
    make_case({"joint": {}, "clamped": layers})


@pytest.mark.parametrize(
    ("overrides", "warning"),
    [
        (
            {"fastener.modulus": "210 MPa", **LAYERS},
            "fastener.modulus: 210 MPa; usual is 40 GPa to 700 GPa (moduli of metals, from memory);"
            " is 210 GPa meant?",
        ),
        (
            {"fastener.modulus": "1 Pa", **LAYERS},
            "fastener.modulus: 1 Pa; usual is 40 GPa to 700 GPa (moduli of metals, from memory).",
        ),
        (
            {"friction.thread": 1.25},
            "friction.thread: 1.25; usual is 0.02 to 0.6 (engineering judgement); is 0.125 meant?",
        ),
        (
            {"friction.thread": lognormal(1.25, "5 %")},
            "friction.thread: a law of mean 1.25, of which 100 % is unusual; usual is 0.02 to 0.6 "
            "(engineering judgement); is 0.125 meant?",
        ),
        # A mean as usual, and one value in eight that is not: 1 - Phi(ln(0.6/0.3)/s) - ..., with
        # s = 0.6, less ln of the mean's own shift: P = 1 - Phi((ln 2 + s²/2)/s) = 0.0729, where
        # s² = ln(1 + 0.6583²) for a cov of 65.83 %.
        (
            {"friction.thread": lognormal(0.3, 0.6583)},
            "friction.thread: a law of mean 0.3, of which 7.3 % is unusual; usual is 0.02 to 0.6 "
            "(engineering judgement).",
        ),
        (
            {"joint": {}, "clamped": [{"material": "steel", "thickness": "3000 mm"}]},
            "clamped[1].thickness: 3000 mm; usual is 0.02 mm to 2 m (engineering judgement).",
        ),
        (
            {"joint": {}, "clamped": [{"material": "steel", "thickness": "30 m"}]},
            "clamped[1].thickness: 30 m; usual is 0.02 mm to 2 m (engineering judgement); is 30 mm "
            "meant?",
        ),
        (
            {"settling.relaxation": "100 %"},
            "settling.relaxation: 100 %; usual is 0 % to 80 % (engineering judgement).",
        ),
    ],
)
def test_what_is_unusual_is_warned_of(make_case, overrides, warning):
    assert warning in check(make_case(overrides)).warnings


def state(**stated):
    """Return a state in which the parts are at the temperature of assembly, unless stated."""
    parts = {"fastener": "20 degC", "clamped": "20 degC"}
    return {
        "temperature.assembly": "20 degC",
        "temperature.state": [{"name": "warm", **parts, **stated}],
    }


def tool(**stated):
    return {"tightening.tool": {"law": "normal", **stated}}


TOOL = "(1 s.d.); usual is 0.3 % or more (engineering judgement)"


@pytest.mark.parametrize(
    ("overrides", "warning"),
    [
        (
            tool(half_width="0.04 %", coverage="2 sd"),
            f"tightening.tool: a scatter of 0.02 % {TOOL}; is 4 % meant?",
        ),
        (tool(cov="0.03 %"), f"tightening.tool: a scatter of 0.03 % {TOOL}; is 3 % meant?"),
        # 50 % is no tool's.
        (
            tool(half_width="0.5 %", coverage="2 sd"),
            f"tightening.tool: a scatter of 0.25 % {TOOL}.",
        ),
        # The thread of the case is M12.
        (
            {"fastener.bearing_outer_diameter": "166 mm"},
            "fastener.bearing_outer_diameter: 166 mm, more than 3.5 times the thread of M12; "
            "is 16.6 mm meant?",
        ),
        (
            {"fastener.nut_bearing_outer_diameter": "43 mm"},
            "fastener.nut_bearing_outer_diameter: 43 mm, more than 3.5 times the thread of M12.",
        ),
        # -183.15 degC.
        (
            {**LAYERS, **state(fastener="90 K")},
            "temperature.state[1].fastener: 90 K; usual is -170 degC to 1000 degC (engineering "
            "judgement); is 90 degC meant?",
        ),
    ],
)
def test_a_slip_in_a_unit_is_doubted(make_case, overrides, warning):
    assert warning in make_case(overrides).warnings


@pytest.mark.parametrize(
    "overrides",
    [
        tool(cov="0.3 %"),
        {"tightening.tool": "0 %"},
        {"fastener.bearing_outer_diameter": "42 mm"},
        {**LAYERS, **state(fastener="-163 degC", clamped="-163 degC")},
    ],
)
def test_what_is_rare_but_usual_is_not_doubted(make_case, overrides):
    doubts = ("usual", "the thread of")
    assert not any(words in each for each in make_case(overrides).warnings for words in doubts)


FORCES = "usual is ±50 N to ±5 MN, or 0 (engineering judgement)"


@pytest.mark.parametrize(
    ("overrides", "warning"),
    [
        ({"load.axial": "7.500 N"}, f"load.axial: 7.500 N; {FORCES}; is 7.5 kN meant?"),
        ({"load.transverse": "-7.5 N"}, f"load.transverse: -7.5 N; {FORCES}; is -7.5 kN meant?"),
        ({"load.axial": "7500 kN"}, f"load.axial: 7500 kN; {FORCES}; is 7500 N meant?"),
        (
            {**LAYERS, **state(axial="3 N")},
            f"temperature.state[1].axial: 3 N; {FORCES}; is 3 kN meant?",
        ),
        (
            {"load.axial": {"law": "normal", "mean": "7.5 N", "cov": "10 %"}},
            f"load.axial: a law of mean 0.0075 kN, of which 100 % is unusual; {FORCES}; is 7.5 kN "
            "meant?",
        ),
        (
            {"requirement.minimum_preload": "33.000 N"},
            "requirement.minimum_preload: 33.000 N; usual is 50 N to 5 MN, or 0 (engineering "
            "judgement); is 33 kN meant?",
        ),
        # M12 of class 10.9 breaks at 84.27 mm2 x 1040 MPa = 87.64 kN (ISO 898-1).
        (
            {"fastener.property_class": "10.9", "load.axial": "880 kN"},
            "load.axial: 880 kN, and the fastener breaks at 87.64 kN in tension; is 0.88 kN meant?",
        ),
    ],
)
def test_a_force_of_unusual_size_is_doubted(make_case, overrides, warning):
    assert warning in make_case(overrides).warnings


@pytest.mark.parametrize(
    "load",
    ["0 N", "50 N", "-5 MN", {"law": "normal", "mean": "0 N", "sd": "20 N"}],
)
def test_no_load_is_usual_and_so_is_one_about_nothing(make_case, load):
    assert not any("usual" in words for words in make_case({"load.axial": load}).warnings)


MISSED = "It is the probability with which the limit may be missed."
MOST = "usual is at most 10 % (engineering judgement)"


@pytest.mark.parametrize(
    ("overrides", "warning"),
    [
        (
            {"requirement.allowed_under": "99.9 %"},
            f"requirement.allowed_under: 99.9 %; {MOST}; is 0.1 % meant? {MISSED}",
        ),
        (
            {"requirement.allowed_over": 0.999},
            f"requirement.allowed_over: 0.999 is 99.9 %; {MOST}; is 0.1 % meant? {MISSED}",
        ),
        (
            {"requirement.allowed_other": "20 %"},
            f"requirement.allowed_other: 20 %; {MOST}. {MISSED}",
        ),
        (
            {"requirement.allowed": {"yield in service": 0.1}},
            f"requirement.allowed.yield in service: 0.1 is 10 %; is 0.1 % meant? {MISSED}",
        ),
        (
            {"group": {"fasteners": 4, "allowed": {"any_over": "0.05"}}},
            f"group.allowed.any_over: 0.05 is 5 %; is 0.05 % meant? {MISSED}",
        ),
    ],
)
def test_a_large_allowed_probability_is_doubted(make_case, overrides, warning):
    assert warning in check(make_case(overrides)).warnings


@pytest.mark.parametrize("allowed", [1, 1.0, "100 %", "10 %", "1/10", 0.01, "1e-3"])
def test_an_allowed_probability_that_is_meant_is_not_doubted(make_case, allowed):
    warnings = check(make_case({"requirement.allowed_under": allowed})).warnings
    assert not any("allowed" in warning for warning in warnings)


def test_a_layer_may_be_a_polymer(make_case):
    layer = {"modulus": "2 GPa", "expansion": "80 ppm/K", "thickness": "3 mm"}
    warnings = check(make_case({"joint": {}, "clamped": [layer]})).warnings
    assert not any("usual" in warning for warning in warnings)


def test_what_an_alternative_changes_is_warned_of_there(make_case):
    case = make_case({"alternative": [{"name": "dry", "friction": {"thread": 1.25}}]})
    assert not any("usual" in warning for warning in case.warnings)
    assert any("is 0.125 meant?" in warning for warning in case.alternatives[0].warnings)


def test_shipped_cases_are_usual(case_files):
    for path in case_files:
        case = load_case(path)
        for each in (case, *case.alternatives):
            assert not any("usual" in warning for warning in each.warnings), path


def test_every_input_has_its_range():
    assert {name.replace("state.*", "state[]").replace(".*", "[]") for name in INPUT_KINDS} <= (
        PLAUSIBLE_RANGES.keys()
    )


def dimension_of(kind):
    return kind.input.dimension if isinstance(kind, LawOf) else kind.dimension


@pytest.mark.parametrize("row", PLAUSIBLE_RANGES.values(), ids=lambda row: row.path)
def test_every_range_is_one_of_a_key_and_holds_its_example(row):
    (field,) = [each for each in all_fields() if each.path == row.path and each.kind]
    assert isinstance(field.kind, LawOf | Quantity)
    dimension = dimension_of(field.kind)
    least, low, high, most = (
        parse_quantity(text, dimension) if text else None
        for text in (row.least, row.low, row.high, row.most)
    )
    assert low < high
    assert least is None or least <= low
    assert most is None or high <= most
    for unit in row.likely:
        if unit != "/10":
            parse_quantity(f"1 {unit}", dimension)
    example = tomllib.loads(f"x = {field.example}")["x"]
    if isinstance(example, str):
        assert low <= parse_quantity(example, dimension) <= high


def test_nothing_infinite_is_told_of_a_joint_that_relaxes_wholly(make_case):
    case = make_case(
        {
            "friction.thread": lognormal(0.12, "10 %"),
            "friction.bearing": lognormal(0.12, "10 %"),
            "settling.relaxation": "100 %",
            "requirement.allowed_under": "1 %",
            "requirement.allowed_over": "1 %",
        }
    )
    result = run(case)
    # No preload is left in any fastener: each misses the minimum by all of it.
    assert result.outcome("under_preload").probability.value == 1.0
    text = " ".join(run_text(result).split())
    assert "(mean margin over 3 s.d.): under missed, without scatter; over " in text
    assert "inf" not in [word.strip(";.,-") for word in text.split()]
    assert json.loads(as_json(run_document(result)))["capability"]["under"] is None
