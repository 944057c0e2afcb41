"""Published joints by their geometry, and what the engaged thread and washers ask of a case."""

from __future__ import annotations

import math
import re

import pytest

from preloadmc import check
from preloadmc.errors import CaseError
from preloadmc.joint import evaluate
from preloadmc.joint.shape import engaged_thread
from preloadmc.limits import margins
from preloadmc.mechanics.service import load_factor
from preloadmc.mechanics.thread import thread

LBF, INCH = 4.4482216152605, 25.4


def means(case):
    return {name: law.mean for name, law in case.laws.items()}


def found(case, **changed):
    x = {**means(case), **{name.replace("__", "."): v for name, v in changed.items()}}
    each = margins(case.joint, case.requirement, x, evaluate(case.joint, x), others=True)
    return {(m.limit.name, m.limit.state): m for m in each}


CAP_SCREW = {
    "fastener": {
        "thread": "5/8-11 UNC",
        "property_class": "SAE 5",
        "bearing_outer_diameter": "0.9375 in",
        "hole_diameter": "0.625 in",
    },
    "clamped": [
        {"modulus": "30000 ksi", "expansion": "6.5 ppm/degF", "thickness": "0.0625 in"},
        {"modulus": "30000 ksi", "expansion": "6.5 ppm/degF", "thickness": "0.625 in"},
        {"modulus": "16000 ksi", "expansion": "6.5 ppm/degF", "thickness": "0.3125 in"},
    ],
    "joint": {"fastener_compliance": f"{1 / 6.78e6!r} in/lbf"},
    "tightening": {"method": "stated scatter", "preload": "14.4 kip"},
    "friction": {"thread": 0.15},
    "load": {"axial": "5 kip"},
    "requirement": {"minimum_preload": {"from": "no separation"}},
}


@pytest.mark.published
def test_cap_screw_joint(make_case):
    # Shigley, 9th ed., Ex. 8-5, p. 448-449: km 17.40 Mlbf/in, C 0.280; P 5 kip, F_i 14.4 kip:
    # factor against separation 4.00. The book passes the fastener's diameter as the hole and both
    # frusta from 0.9375 in, half a diameter deep into the tapped iron.
    case = make_case(CAP_SCREW)
    x = means(case)
    stiffness = 1 / x["joint.clamped_compliance"] / 1e6 / (LBF / INCH)
    assert stiffness == pytest.approx(17.40, rel=0.002)
    state = evaluate(case.joint, x)
    assert state.judged[0].load_share == pytest.approx(0.280, abs=0.001)
    needed = found(case)["separation", "settled"].reference
    assert 14_400 * LBF / needed == pytest.approx(4.00, rel=0.005)


@pytest.mark.published
def test_reused_joint_preload(make_case):
    # Shigley, 9th ed., eq. 8-31 and Ex. 8-5: 75 % of proof, 0.75 x 85 kpsi x 0.226 in² = 14.4 kip.
    area = make_case(CAP_SCREW).joint.section.area / INCH**2
    assert 0.75 * 85 * area == pytest.approx(14.4, rel=0.005)


STEEL_AND_IRON = {
    "fastener": {
        "thread": "M12",
        "property_class": "8.8",
        "bearing_outer_diameter": "18 mm",
        "hole_diameter": "12 mm",
    },
    "clamped": [
        {"modulus": "207 GPa", "expansion": "11.7 ppm/K", "thickness": "20 mm"},
        {"modulus": "100 GPa", "expansion": "11.4 ppm/K", "thickness": "25 mm"},
    ],
    "joint": {"fastener_compliance": f"{1 / 466.8e3!r} mm/N"},
    "tightening": {"method": "stated scatter", "preload": "37.9 kN"},
    "friction": {"thread": 0.15},
    "load": {"axial": "10.6 kN"},
    "requirement": {"minimum_preload": {"from": "no separation"}},
}


@pytest.mark.published
def test_joint_of_steel_and_iron(make_case):
    # Shigley, instructor's solutions 8-22 (and 8-20): km 1379 MN/m, kb 466.8, C 0.253; load factor
    # (S_p A_t - F_i)/(C P) = 4.73 with S_p A_t 50.58 kN: the load at which the fastener reaches
    # its proof stress.
    case = make_case(STEEL_AND_IRON)
    x = means(case)
    assert 1 / x["joint.clamped_compliance"] == pytest.approx(1379e3, rel=0.002)
    share = evaluate(case.joint, x).judged[0].load_share
    assert share == pytest.approx(0.253, rel=0.003)
    state = evaluate(case.joint, {**x, "load.axial": 4.73 * 10.6e3})
    assert state.judged[0].fastener_force == pytest.approx(50.58e3, rel=0.003)


@pytest.mark.published
def test_separation_of_a_heavy_joint(make_case):
    # Shigley, instructor's solution 8-37: M30, class 8.8, F_i 252.45 kN, C 0.33, P 80 kN: 450 MPa,
    # factor against separation 4.71.
    case = make_case(
        {
            "fastener": {"thread": "M30", "property_class": "8.8"},
            "joint": {"fastener_compliance": "0.67 um/kN", "clamped_compliance": "0.33 um/kN"},
            "tightening": {
                "method": "hydraulic tensioning",
                "pump_force": "252.45 kN",
                "transfer_ratio": 1,
            },
            "friction": {"thread": 0.15},
            "load": {"axial": "80 kN"},
            "requirement": {"minimum_preload": {"from": "no separation"}},
        }
    )
    needed = found(case)["separation", "settled"].reference
    assert 252_450 / needed == pytest.approx(4.71, rel=0.002)
    stress = found(case, load__axial=0.0)["yield in service", "settled"]
    assert stress.reference - stress.values == pytest.approx(450, rel=0.002)


@pytest.mark.published
@pytest.mark.parametrize(
    ("size", "grade", "preload"),
    # EN 1090-2: F_p,C in kN, class 10.9; class 8.8 by the formula of EN 1993-1-8, 3.6.1.
    [
        ("M12", "10.9", 59), ("M16", "10.9", 110), ("M20", "10.9", 172), ("M22", "10.9", 212),
        ("M24", "10.9", 247), ("M27", "10.9", 321), ("M30", "10.9", 393), ("M36", "10.9", 572),
        ("M12", "8.8", 47.2), ("M16", "8.8", 87.9), ("M20", "8.8", 137.2), ("M22", "8.8", 169.7),
        ("M24", "8.8", 197.7), ("M27", "8.8", 257.0), ("M30", "8.8", 314.2), ("M36", "8.8", 457.5),
    ],
)  # fmt: skip
def test_structural_preload(make_case, size, grade, preload):
    case = make_case(
        {
            "fastener": {"thread": size, "property_class": grade},
            "tightening": {"method": "stated scatter", "preload": "500 kN"},
            "friction": {"thread": 0.12},
            "requirement": {"minimum_preload": {"from": "structural preloading"}},
        }
    )
    needed = case.laws["requirement.minimum_preload"].mean / 1e3
    assert needed == pytest.approx(preload, rel=0.0055)


def test_structural_preload_is_for_two_classes(make_case):
    with pytest.raises(CaseError, match=r"property_class 8\.8 or 10\.9 for structural preloading"):
        make_case(
            {
                "fastener.property_class": "12.9",
                "requirement.minimum_preload": {"from": "structural preloading"},
            }
        )


def test_vdi_angle_of_a_through_bolt_and_a_tapped_hole(make_case):
    # VDI 2230-1:2003 (from memory): tan phi = 0.362 + 0.032 ln(beta/2) + 0.153 ln y, and
    # 0.348 + 0.013 ln beta + 0.193 ln y; l_K 36, d_W 18, D_A 36 mm; one cone of the closed form.
    plate = {"modulus": "205 GPa", "expansion": "11.7 ppm/K", "thickness": "36 mm"}
    size, hole, E = 18.0, 13.5, 205e3
    for mate, w, tan in (
        ("nut", 1, 0.362 + 0.032 * math.log(36 / 18 / 2) + 0.153 * math.log(2)),
        ("tapped hole", 2, 0.348 + 0.013 * math.log(2) + 0.193 * math.log(2)),
    ):
        case = make_case(
            {
                "fastener.bearing_outer_diameter": "18 mm",
                "fastener.mate": mate,
                "clamped": [{**plate, "outer_diameter": "36 mm"}],
                "joint": {"cone_half_angle": "VDI"},
            }
        )
        assert math.tan(case.joint.geometry.cone_half_angle) == pytest.approx(tan, rel=1e-12)
        wide = w * 36 * tan
        ratio = (size + hole) * (size + wide - hole) / ((size - hole) * (size + wide + hole))
        expected = 2 / (w * math.pi * E * hole * tan) * math.log(ratio)
        grown = size + wide < 36
        found = case.laws["joint.clamped_compliance"].mean
        if grown:
            assert found == pytest.approx(expected, rel=1e-9)
        else:
            # The cone fills the part and goes on as a sleeve: stiffness below the unlimited cone.
            assert found > expected


def test_vdi_angle_by_the_parts_and_not_by_their_washers(make_case):
    # VDI 2230-1:2003 (from memory): D_A averaged over the grip. Parts of 20 mm at 40 mm and 10 mm
    # at 70 mm: 50 mm; washers of 24 mm do not support the pressed zone. A collar of 24 mm, more
    # than half a diameter thick, is a part: (8 x 24 + 20 x 40)/28 mm.
    washer = {"material": "steel C45", "thickness": "3 mm", "outer_diameter": "24 mm"}
    wide, wider = (
        {"material": "steel", "thickness": thickness, "outer_diameter": outer}
        for thickness, outer in (("20 mm", "40 mm"), ("10 mm", "70 mm"))
    )
    collar = {**washer, "thickness": "8 mm"}

    def tangent(layers, mate="nut"):
        joint = {"cone_half_angle": "VDI"}
        case = make_case({"clamped": layers, "joint": joint, "fastener.mate": mate})
        return math.tan(case.joint.geometry.cone_half_angle)

    def through(grip, outer):
        return 0.362 + 0.032 * math.log(grip / 16.63 / 2) + 0.153 * math.log(outer / 16.63)

    assert tangent([wide, wider]) == pytest.approx(through(30, 50), rel=1e-12)
    washers = [washer, wide, wider, washer]
    assert tangent(washers) == pytest.approx(through(36, 50), rel=1e-12)
    assert tangent([collar, wide]) == pytest.approx(through(28, 992 / 28), rel=1e-12)
    # Without a nut the last layer lies on the tapped part: no washer.
    outer = (20 * 40 + 10 * 70 + 3 * 24) / 33
    tapped = 0.348 + 0.013 * math.log(36 / 16.63) + 0.193 * math.log(outer / 16.63)
    assert tangent(washers, "tapped hole") == pytest.approx(tapped, rel=1e-12)
    with pytest.raises(CaseError, match=r"outer_diameter of the .* layers, washers apart"):
        tangent([washer, {"material": "steel", "thickness": "20 mm"}])


def test_fastener_by_its_segments(make_case):
    # VDI 2230-1:2003 (substitute lengths from memory): head 0.5 d, engaged thread 0.5 d on A_d3,
    # nut 0.4 d, on the nominal section.
    case = make_case(
        {
            "fastener.segment": [
                {"diameter": "12 mm", "length": "10 mm"},
                {"diameter": "9 mm", "length": "15 mm"},
            ],
            "clamped": [{"material": "steel", "thickness": "40 mm"}],
            "joint": {},
        }
    )
    m12, E = thread("M12"), 207e3
    nominal, waist = math.pi / 4 * 12**2, math.pi / 4 * 9**2
    expected = (6 + 4.8 + 10) / nominal + 15 / waist + (15 + 6) / m12.core_area
    found = case.laws["joint.fastener_compliance"].mean
    assert found == pytest.approx(expected / E, rel=1e-12)
    assert case.joint.section.area == pytest.approx(waist)
    assert case.joint.weak_length == 15.0


@pytest.mark.parametrize(("mate", "length"), [("tapped hole", 0.33), ("nut", 0.4)])
def test_the_mate_stretches_as_its_own_material(make_case, mate, length):
    # VDI 2230-1:2003 (substitute lengths from memory): l_M/(E_M A_N). What is clamped says nothing
    # of the mate; unstated, it is taken as of the fastener's material, and that is said.
    def case_of(material, clamped="aluminium 6082"):
        return make_case(
            {
                "fastener.mate": mate,
                "fastener.mate_material": material,
                "clamped": [{"material": clamped, "thickness": "30 mm"}],
                "joint": {},
            }
        )

    def compliance(*materials):
        return case_of(*materials).laws["joint.fastener_compliance"].mean

    def said(case):
        (item,) = [each for each in case.assumptions if each.path == "fastener.mate_material"]
        return item.value, item.source

    nominal = math.pi / 4 * 12**2
    difference = compliance("aluminium 6082") - compliance(None)
    assert difference == pytest.approx(length * 12 / nominal * (1 / 70e3 - 1 / 207e3), rel=1e-9)
    assert compliance(None) == compliance("steel") == compliance(None, "grey cast iron")
    assert said(case_of(None)) == (
        "that of the fastener (steel)",
        "not given in the case file",
    )
    value, source = said(case_of("aluminium 6082"))
    assert value == "modulus 70000 MPa (aluminium 6082)"
    assert "EN 1999" in source


def test_a_tapped_hole_has_no_nut_to_describe(make_case):
    tapped = {"fastener.mate": "tapped hole", "fastener.nut_bearing_outer_diameter": "17 mm"}
    with pytest.raises(CaseError, match="nut_bearing_outer_diameter: remove it: the fastener is"):
        make_case(tapped)
    # A change to a tapped hole leaves behind what described the nut.
    other = {"name": "tapped", "fastener": {"mate": "tapped hole"}}
    through = {"fastener.nut_bearing_outer_diameter": "17 mm", "alternative": [other]}
    assert make_case(through).alternatives[0].joint.geometry.nut_face is None


ENGAGED = {
    "fastener.engagement": "10 mm",
    "fastener.mate_tensile_strength": "900 MPa",
    "fastener.nut_width_across_flats": "18 mm",
}


def strips_at(case):
    """The force at which the thread of a case strips, at nominal strength."""
    tensile = case.laws["fastener.tensile_strength"].mean
    return engaged_thread(case.joint.geometry, case.joint.thread, tensile).stripping_force


def test_stripping_is_judged_where_the_engaged_thread_is_described(make_case):
    assert not make_case().joint.geometry.tells_stripping
    case = make_case(ENGAGED)
    assert ("thread stripping", "assembly") in found(case)
    said = [item for item in case.assumptions if item.path == "thread stripping"]
    assert "dilation by the width across flats" in said[0].value
    full = re.search(r"engaged over ([\d.]+) mm or more, a fastener of 1040 MPa", said[0].value)
    at_full = make_case({**ENGAGED, "fastener.engagement": f"{full[1]} mm"})
    # R_m of class 10.9 (ISO 898-1) on the stress area of M12, 84.27 mm².
    assert strips_at(at_full) == pytest.approx(1040 * 84.27, rel=1e-3)
    assert "from memory" in said[0].source
    tapped = make_case(
        {**ENGAGED, "fastener.mate": "tapped hole", "fastener.nut_width_across_flats": None}
    )
    assert strips_at(tapped) > strips_at(case)


@pytest.mark.parametrize(
    ("overrides", "words"),
    [
        ({"fastener.mate_tensile_strength": None}, "mate_tensile_strength: missing; with engag"),
        ({"fastener.property_class": None}, "and that of the fastener"),
        ({"fastener.nut_width_across_flats": None}, "a nut spreads under load"),
        ({"fastener.engagement": "1.2 mm"}, r"longer than 0\.8 of the pitch"),
    ],
)
def test_an_engaged_thread_half_described(make_case, overrides, words):
    with pytest.raises(CaseError, match=words):
        make_case({**ENGAGED, **overrides})


@pytest.mark.parametrize(
    ("overrides", "words"),
    [
        (
            {"joint": {"compliance": "4 um/kN"}, "load.axial": "5 kN"},
            "does not say what share of an axial load",
        ),
        (
            {
                "joint": {"compliance": "4 um/kN"},
                "tightening": {"method": "elongation measured", "elongation": "0.1 mm"},
            },
            "does not say how far the fastener stretches",
        ),
        (
            {
                "tightening": {
                    "method": "hydraulic tensioning",
                    "pump_force": "50 kN",
                    "transfer_ratio": 0.8,
                },
                "friction": {"bearing": 0.12},
            },
            "goes with that under the head",
        ),
        (
            {
                "clamped": [{"material": "steel", "thickness": "30 mm"}],
                "tightening": {"method": "yield point sensed", "detector_ratio": 1.0},
                "fastener.plastic_strain": 0.05,
                "fastener.segment": [{"diameter": "12 mm", "length": "30 mm"}],
                "requirement.maximum_plastic_elongation": "0.1 mm",
            },
            "plain lengths shorter than the grip",
        ),
    ],
)
def test_what_a_case_needs_for_what_it_asks(make_case, overrides, words):
    with pytest.raises(CaseError, match=words):
        make_case(overrides)


def test_limiting_pressure_of_the_layer_goes_before_that_of_its_material(make_case):
    layer = {"material": "steel S235", "thickness": "32 mm"}
    own = make_case({"clamped": [{**layer, "limiting_pressure": "400 MPa"}]})
    usual = make_case({"clamped": [layer]})
    ring = math.pi / 4 * (16.63**2 - 13.5**2)
    assert own.joint.bearing_faces[0].limiting_force == pytest.approx(400 * ring)
    assert usual.joint.bearing_faces[0].limiting_force == pytest.approx(490 * ring)
    paths = [item.path for item in own.assumptions]
    assert "pressure under head" not in paths
    assert "pressure under head" in [item.path for item in usual.assumptions]


def test_load_introduction_scales_the_load_factor(make_case):
    case = make_case({"load": {"axial": "5 kN", "load_introduction": 0.5}})
    state = evaluate(case.joint, means(case))
    assert state.judged[0].load_share == pytest.approx(load_factor(3e-6, 1e-6, 0.5))


def test_a_hot_fastener_is_warned_of(make_case):
    def warnings(fastener):
        state = {"name": "state", "fastener": fastener, "clamped": fastener}
        case = make_case(
            {
                "clamped": [{"material": "aluminium 6082", "thickness": "32 mm"}],
                "temperature": {"assembly": "20 degC", "state": [state]},
            }
        )
        return " ".join(check(case).warnings)

    assert "relax with time" not in warnings("90 degC")
    assert "relax with time" in warnings("150 degC")
    assert "beyond the table" not in warnings("240 degC")
    assert "beyond the table" in warnings("260 degC")


def test_a_stated_compliance_is_shared_by_thickness_over_modulus(make_case):
    # Without a pressed face, t/E of each layer over their sum.
    case = make_case(
        {
            "fastener.bearing_outer_diameter": None,
            "fastener.bearing_diameter": "15 mm",
            "clamped": [
                {"material": "steel", "thickness": "10 mm"},
                {"material": "aluminium 6082", "thickness": "20 mm"},
            ],
        }
    )
    steel, aluminium = 10 / 207e3, 20 / 70e3
    assert case.joint.part_shares == pytest.approx(
        (steel / (steel + aluminium), aluminium / (steel + aluminium))
    )


def test_a_face_no_wider_than_its_hole_presses_nothing(make_case):
    with pytest.raises(CaseError, match=r"pressed face \(16\.63 mm\) must be larger than the hole"):
        make_case(
            {
                "clamped": [{"material": "steel", "thickness": "10 mm", "hole_diameter": "17 mm"}],
                "joint": {},
            }
        )
