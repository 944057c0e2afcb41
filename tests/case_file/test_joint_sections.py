"""The joint as a case file describes it: layers, shanks, strength, guide values, states."""

import math
import re

import pytest

from preloadmc import check
from preloadmc.errors import CaseError

LAYERS = {"joint": {}, "clamped": [{"material": "steel", "thickness": "16 mm"}] * 2}
HOT = {"name": "hot", "fastener": "60 degC", "clamped": "60 degC"}


def hot(**changed):
    """A [temperature] table of one state."""
    return {"temperature": {"assembly": "20 degC", "state": [{**HOT, **changed}]}}


def layer(**changed):
    """One clamped layer of steel, changed; None takes a key away."""
    made = {"material": "steel", "thickness": "32 mm", **changed}
    return {"joint": {}, "clamped": [{k: v for k, v in made.items() if v is not None}]}


BAD = {
    "material of a layer": (
        layer(material=None),
        r"clamped\[1\]\.material: missing; a material by name, or both modulus and expansion",
    ),
    "thickness": (
        layer(thickness=None),
        r"clamped\[1\]\.thickness: missing; thickness of the layer \(a length above 0\)",
    ),
    "hole": (
        {**layer(), "fastener.hole_diameter": None, "fastener.bearing_diameter": "15 mm"},
        r"clamped\[1\]\.hole_diameter: missing; here, or in \[fastener\] for all layers",
    ),
    "narrow layer": (
        layer(outer_diameter="10 mm"),
        r"clamped\[1\]\.outer_diameter: a diameter above that of the hole \(given: '10 mm'\)",
    ),
    "nothing clamped": (
        {"joint": {}},
        r"clamped: missing; \[\[clamped\]\] layers, or \[joint\] compliance as measured",
    ),
    "face": (
        {
            **layer(),
            "fastener.bearing_outer_diameter": None,
            "fastener.bearing_diameter": "15 mm",
        },
        r"fastener\.bearing_outer_diameter: missing; the face that presses the parts",
    ),
    "long shank": (
        {**layer(), "fastener.segment": [{"diameter": "12 mm", "length": "40 mm"}]},
        r"fastener\.segment: ",
    ),
    "half a segment": (
        {**layer(), "fastener.segment": [{"diameter": "12 mm"}]},
        r"fastener\.segment\[1\]\.length: missing; its length along the shank \(a length above 0\)",
    ),
    "angle of the cone": (
        {**layer(), "joint.cone_half_angle": "VDI"},
        r"joint\.cone_half_angle: outer_diameter of the \[\[clamped\]\] layers",
    ),
    "strength of nothing": (
        {"fastener.property_class": None, "fastener.strength": "usual"},
        r"fastener\.strength: nothing without a property_class",
    ),
    "splitting a nut factor": (
        {
            "friction": {"nut_factor": 0.2},
            "fastener.bearing_outer_diameter": None,
        },
        r"fastener\.bearing_diameter: missing; it splits the nut factor for the torsion that goes",
    ),
    "relaxation": (
        {"settling.relaxation": "110 %"},
        r"settling\.relaxation: a share, at most 1 \(given: '110 %'\)",
    ),
    "roughness without layers": (
        {"settling.embedding": {"roughness": "10 to 40 um", "load_direction": "axial"}},
        r"settling\.embedding\.roughness: the \[\[clamped\]\] layers, which tell the number",
    ),
    "coating": (
        {
            **layer(),
            "settling.embedding": {
                "roughness": "10 to 40 um",
                "load_direction": "axial",
                "coated_interfaces": 2,
            },
        },
        r"settling\.embedding\.per_coated_interface: missing; what each coated interface embeds",
    ),
    # temperature states
    "state without layers": (
        hot(),
        r"clamped: missing; a temperature state needs the \[\[clamped\]\] layers that grow",
    ),
    "assembly": (
        {**layer(), "temperature": {"state": [HOT]}},
        r"temperature\.assembly: missing; the temperature at assembly",
    ),
    "nameless state": (
        {**layer(), **hot(name="")},
        r"temperature\.state\[1\]\.name: ",
    ),
    "name with a stop": (
        {**layer(), **hot(name="hot.day")},
        r"temperature\.state\[1\]\.name: a name without a full stop and without 'after' "
        r"\(given: 'hot\.day'\)",
    ),
    "name taken": (
        {**layer(), **hot(name="settled")},
        r"temperature\.state\[1\]\.name: another name: the program has settled, ",
    ),
    "layers of a state": (
        {**layer(), **hot(clamped=["60 degC", "50 degC"])},
        r"temperature\.state\[1\]\.clamped: one temperature for all, or a list of 1, one a layer",
    ),
    "change and states": (
        {
            **layer(),
            "temperature": {"assembly": "20 degC", "thermal_change": "1 kN", "state": [HOT]},
        },
        r"temperature\.state: either a thermal_change as measured, or states",
    ),
    # methods
    "what a method does not control": (
        {"tightening.angle": "90 deg"},
        r"tightening\.angle: remove it: the method 'torque' does not control it \(given: '90",
    ),
    "structural": (
        {
            "requirement.minimum_preload": {"from": "structural preloading"},
            "fastener.property_class": "12.9",
        },
        r"requirement\.minimum_preload\.from: \[fastener\] property_class 8\.8 or 10\.9",
    ),
    "elastic method": (
        {"requirement.maximum_plastic_elongation": "20 um"},
        r"maximum_plastic_elongation: remove it: 'torque' is meant to stay elastic",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_a_problem_says_what_to_do(make_case, name):
    overrides, words = BAD[name]
    with pytest.raises(CaseError) as caught:
        make_case(overrides)
    found = [str(problem) for problem in caught.value.problems]
    assert any(re.search(words, problem) for problem in found), found


def test_measured_compliances_need_no_layers(make_case):
    case = make_case()
    assert (case.joint.parts, case.joint.part_shares) == ((), ())


def test_shares_of_layers_add_to_one(make_case):
    stack = [
        {"material": "steel", "thickness": "10 mm"},
        {"material": "aluminium 6082", "thickness": "20 mm", "outer_diameter": "30 mm"},
    ]
    for joint in ({}, {"clamped_compliance": "1 um/kN"}):
        case = make_case({"joint": joint, "clamped": stack})
        assert sum(case.joint.part_shares) == pytest.approx(1.0)
        assert case.joint.part_shares[1] > case.joint.part_shares[0]


def test_shares_of_layers_without_a_face_go_by_thickness_over_modulus(make_case):
    case = make_case(
        {
            "joint": {"clamped_compliance": "1 um/kN", "fastener_compliance": "3 um/kN"},
            "clamped": [
                {"modulus": "200 GPa", "expansion": "11 ppm/K", "thickness": "10 mm"},
                {"modulus": "100 GPa", "expansion": "11 ppm/K", "thickness": "15 mm"},
            ],
            "fastener.bearing_outer_diameter": None,
            "fastener.bearing_diameter": "15 mm",
        }
    )
    assert case.joint.part_shares == pytest.approx((0.25, 0.75))


@pytest.mark.published
def test_three_frusta_of_a_cap_screw(make_case):
    # Shigley, 9th ed., Ex. 8-5, p. 448: the frusta of 0.5, 0.1875 and 0.3125 in, E 30 and 16 Mpsi,
    # make k_m = 17.40 Mlbf/in. Its cone begins at 1.5 d = 0.9375 in and, as in its other
    # examples, runs down the fastener's own diameter of 0.625 in.
    case = make_case(
        {
            "fastener.thread": "5/8-11 UNC",
            "fastener.property_class": "SAE 5",
            "fastener.bearing_outer_diameter": "0.9375 in",
            "fastener.hole_diameter": "0.625 in",
            "joint": {"fastener_compliance": f"{1 / 6.78e6!r} in/lbf"},
            "clamped": [
                {"modulus": "30000 ksi", "expansion": "6.5 ppm/degF", "thickness": "0.6875 in"},
                {"modulus": "16000 ksi", "expansion": "6.5 ppm/degF", "thickness": "0.3125 in"},
            ],
        }
    )
    stiffness = 1 / case.laws["joint.clamped_compliance"].mean
    assert stiffness * 25.4 / 4.4482216152605 / 1e6 == pytest.approx(17.40, rel=0.002)


def test_a_wider_cone_is_stiffer(make_case):
    narrow, usual, wide = (
        make_case({**LAYERS, "joint": {"cone_half_angle": angle} if angle else {}})
        for angle in ("25 deg", None, "35 deg")
    )
    found = [case.laws["joint.clamped_compliance"].mean for case in (narrow, usual, wide)]
    assert found == sorted(found, reverse=True)


def test_a_plain_shank_is_stiffer_than_thread(make_case):
    shank = {**LAYERS, "fastener.segment": [{"diameter": "12 mm", "length": "20 mm"}]}
    bare, plain = (make_case(overrides) for overrides in (LAYERS, shank))
    difference = (
        bare.laws["joint.fastener_compliance"].mean - plain.laws["joint.fastener_compliance"].mean
    )
    thread, modulus = bare.joint.thread, bare.joint.fastener_material.modulus
    exact = 20 / modulus * (1 / thread.core_area - 4 / (math.pi * 12**2))
    assert difference == pytest.approx(exact, rel=1e-9)


@pytest.mark.published
def test_embedding_as_a_guide_value(make_case):
    # VDI 2230-1:2003, Table 5 (from memory): Rz 10 to 40 um, axial: 3 + 2·3 + 2 = 11 um.
    roughness = {"roughness": "10 to 40 um", "load_direction": "axial"}
    case = make_case({**LAYERS, "settling.embedding": roughness})
    assert case.laws["settling.embedding"].mean == pytest.approx(0.011)
    scattered = {**roughness, "cov": "30 %", "coated_interfaces": 2}
    scattered["per_coated_interface"] = "5 um"
    law = make_case({**LAYERS, "settling.embedding": scattered}).laws["settling.embedding"]
    assert (law.mean, law.sd) == pytest.approx((0.021, 0.3 * 0.021))
    (said,) = [a for a in case.assumptions if a.path == "settling.embedding"]
    assert said.value == "11 µm: thread, 2 seats, 1 inner interface; without scatter"
    assert "from memory" in said.source


@pytest.mark.published
def test_structural_preloading(make_case):
    # EN 1993-1-8:2005, 3.6.1: 0.7 f_ub As; M12 of class 10.9: 59 kN.
    case = make_case(
        {
            "requirement.minimum_preload": {"from": "structural preloading"},
            "tightening.torque": "125 N·m",
            "requirement.maximum_preload": "70 kN",
        }
    )
    assert case.laws["requirement.minimum_preload"].mean / 1e3 == pytest.approx(59, abs=0.5)


def test_strengths_as_usual_lie_above_the_minimum(make_case):
    case = make_case({"fastener.strength": "usual"})
    yields, breaks = (case.laws[f"fastener.{name}_strength"] for name in ("yield", "tensile"))
    assert (yields.mean > 940, breaks.mean > 1040) == (True, True)
    assert ("fastener.yield_strength", "fastener.tensile_strength") in case.correlations
    fixed = make_case({"fastener.strength": "usual", "fastener.yield_strength": "950 MPa"})
    assert fixed.laws["fastener.yield_strength"].mean == 950
    assert not fixed.correlations


def test_each_layer_may_have_its_own_temperature(make_case):
    together = {**LAYERS, **hot(clamped="60 degC")}
    apart = {**LAYERS, **hot(clamped=["60 degC", "60 degC"])}
    warm, same = (
        check(make_case(overrides)).nominal.path["hot"] for overrides in (together, apart)
    )
    assert warm == pytest.approx(same, rel=1e-12)
    half = check(make_case({**LAYERS, **hot(clamped=["60 degC", "20 degC"])})).nominal.path["hot"]
    assert half < warm
