"""What each end of a fastener carries: under a tensioner, and of a stud."""

import math

import pytest

from preloadmc import check
from preloadmc.errors import CaseError
from preloadmc.joint import evaluate
from preloadmc.limits import margins, preload_reached

PUMP, RATIO = 60e3, 0.8
TENSIONED = {
    "joint": None,
    "clamped": [{"material": "steel S355", "thickness": "60 mm"}],
    "tightening": {
        "method": "hydraulic tensioning",
        "pump_force": "60 kN",
        "transfer_ratio": RATIO,
    },
    "fastener.engagement": "9 mm",
    "fastener.mate_tensile_strength": "600 MPa",
    "fastener.nut_width_across_flats": "18 mm",
    "requirement.maximum_preload": "70 kN",
}
STUD = {**TENSIONED, "fastener.head": "none"}
TAPPED = {**STUD, "fastener.mate": "tapped hole", "fastener.nut_width_across_flats": None}


def at_assembly(case):
    """Force that each seat and thread carries while tightening, and the preload at its limit."""
    x = case.means
    state = evaluate(case.joint, x)
    return {
        margin.limit.name: (
            margin.reference - margin.values,
            preload_reached(case.joint, x, state, margin) / margin.reference,
        )
        for margin in margins(case.joint, case.requirement, x, state, others=True)
        if margin.limit.state == "assembly"
    }


@pytest.mark.parametrize(
    ("overrides", "pumped", "spared"),
    [
        # The head holds against the pump; the nut's seat and thread get what is left.
        (TENSIONED, ["pressure under head"], ["pressure under nut", "thread stripping"]),
        # A stud in a tapped hole is pulled at its nut: the tapped thread holds against the pump.
        (TAPPED, ["thread stripping"], ["pressure under nut"]),
        # With two nuts the lower one, with its thread, holds against the pump at the upper one.
        (STUD, ["pressure under lower nut", "thread stripping"], ["pressure under upper nut"]),
    ],
    ids=["bolt", "stud in a tapped hole", "stud with two nuts"],
)
def test_the_pump_force_acts_on_the_end_that_is_not_pulled(make_case, overrides, pumped, spared):
    found = at_assembly(make_case(overrides))
    for name in pumped:
        assert found[name] == pytest.approx((PUMP, RATIO))
    for name in spared:
        assert found[name] == pytest.approx((RATIO * PUMP, 1.0))
    # The fastener itself is pulled by the pump, and the stated maximum says that it is on it.
    assert found["yield"] == pytest.approx((PUMP, RATIO))
    assert found["maximum preload, on the pump force"] == pytest.approx((PUMP, RATIO))


def test_where_the_pump_force_acts_is_listed(make_case):
    for overrides, end in ((TENSIONED, "the head;"), (STUD, "the lower end;")):
        (listed,) = [
            item
            for item in make_case(overrides).assumptions
            if item.path == "where the pump force acts"
        ]
        assert end in listed.value


def test_a_headed_fastener_in_a_tapped_hole_has_no_nut_to_pull_at(make_case):
    with pytest.raises(CaseError, match=r"fastener\.head: none in a tapped hole"):
        make_case({**TAPPED, "fastener.head": "hexagon"})


@pytest.mark.parametrize("mate", ["nut", "tapped hole"])
def test_a_stud_has_an_engaged_thread_and_a_nut_in_place_of_the_head(make_case, mate):
    # VDI 2230, substitute lengths from memory: 0.5 d of core and 0.4 d of nominal section for a
    # nut, 0.33 d for a tapped hole. ISO 724, M12: A_d3 76.2472 mm².
    case = make_case(
        {
            "joint": None,
            "clamped": [{"material": "steel", "thickness": "60 mm"}],
            "fastener.modulus": "205 GPa",
            "fastener.head": "none",
            "fastener.mate": mate,
            "fastener.mate_material": None,
        }
    )
    core, nominal = 76.2472, math.pi * 36.0
    last = 0.4 * 12.0 / (205e3 * nominal)
    if mate == "tapped hole":
        last = 0.33 * 12.0 / (205e3 * nominal)
    by_hand = (6.0 / core + 60.0 / core + 6.0 / core + 4.8 / nominal) / 205e3 + last
    assert case.laws["joint.fastener_compliance"].mean == pytest.approx(by_hand, rel=1e-5)
    (listed,) = [a for a in case.assumptions if a.path == "joint.fastener_compliance"]
    assert "stud with a nut" in listed.value


def test_the_seats_of_a_stud_are_named_by_its_nuts(make_case):
    layers = [{"material": "steel S235", "thickness": "30 mm"}] * 2
    two = make_case({"joint": None, "clamped": layers, "fastener.head": "none"})
    names = [face.where for face in two.joint.bearing_faces]
    assert names == ["upper nut", "lower nut"]
    tapped = make_case(
        {"joint": None, "clamped": layers, "fastener.head": "none", "fastener.mate": "tapped hole"}
    )
    assert [face.where for face in tapped.joint.bearing_faces] == ["nut"]
    assert check(two).nominal.path["assembled"] == check(tapped).nominal.path["assembled"]
    unknown = make_case({"fastener.head": "none", "clamped": None})
    assert any("pressure under upper nut: state the" in words for words in check(unknown).warnings)


def test_a_washer_on_a_layer_of_unknown_limit_is_named(make_case):
    layers = [
        {"material": "steel S355", "thickness": "6 mm", "outer_diameter": "24 mm"},
        {"material": "aluminium 2024", "thickness": "30 mm"},
    ]
    case = make_case({"joint": None, "clamped": layers})
    (words,) = [words for words in check(case).warnings if words.startswith("Not judged")]
    asked = "pressure under the head's washer: state limiting_pressure of the layer of aluminium"
    assert asked in words


def bears(case, name, state="assembly"):
    """The force that a seat bears, None where it is not judged."""
    x = case.means
    life = evaluate(case.joint, x)
    found = {
        (margin.limit.name, margin.limit.state): float(margin.reference)
        for margin in margins(case.joint, case.requirement, x, life, others=True)
    }
    return found.get((name, state))


PLATE = {"material": "aluminium 6082", "thickness": "30 mm"}


def test_a_washer_in_two_halves_presses_the_part_as_the_whole_one(make_case):
    whole = {"material": "steel C45", "thickness": "2 mm", "outer_diameter": "20 mm"}
    half = {**whole, "thickness": "1 mm"}
    one = make_case({"joint": None, "clamped": [whole, PLATE]})
    two = make_case({"joint": None, "clamped": [half, half, PLATE]})
    name = "pressure under the head's washer"
    # 260 MPa of 6082 on the base of a cone of 30 deg, 2 mm below the head's 16.63 mm.
    outer = 16.63 + 4.0 * math.tan(math.radians(30.0))
    ring = math.pi / 4 * (outer**2 - 13.5**2)
    assert bears(one, name) == pytest.approx(260 * ring)
    assert bears(two, name) == pytest.approx(bears(one, name))
    # Without a stated width it is a layer on a softer one, which is pressed all the same.
    plain = make_case(
        {"joint": None, "clamped": [{"material": "steel C45", "thickness": "2 mm"}, PLATE]}
    )
    assert bears(plain, "pressure under layer 1") == pytest.approx(260 * ring)


@pytest.mark.parametrize(("share", "judged"), [(0.95, True), (1.05, False)])
def test_a_contact_of_one_material_is_judged_where_it_is_smaller_than_the_seat(
    make_case, share, judged
):
    # 2 mm below the seat, 16.63/13.5 mm, the cone of 30 deg is 18.94 mm wide: the hole of the layer
    # below leaves so much of the seat's area there. Of one steel, the smaller area gives way first.
    seat = 16.63**2 - 13.5**2
    wide = 16.63 + 4.0 * math.tan(math.radians(30.0))
    hole = math.sqrt(wide**2 - share * seat)
    layers = [
        {"material": "steel S235", "thickness": "2 mm"},
        {"material": "steel S235", "thickness": "40 mm", "hole_diameter": f"{hole} mm"},
    ]
    found = bears(make_case({"joint": None, "clamped": layers}), "pressure under layer 1")
    assert found == (pytest.approx(490 * math.pi / 4 * share * seat) if judged else None)


def test_the_nut_of_a_stud_in_a_tapped_hole_is_not_judged_and_said_so(make_case):
    case = make_case(TAPPED)
    (words,) = [words for words in check(case).warnings if words.startswith("Not judged")]
    assert "thread stripping in the nut: engagement is that of the tapped hole" in words


def test_a_stud_embeds_in_two_threads(make_case):
    guide = {"roughness": "10 to 40 um", "load_direction": "axial"}
    layers = [{"material": "steel", "thickness": "20 mm"}] * 2
    case = make_case(
        {"joint": None, "clamped": layers, "fastener.head": "none", "settling.embedding": guide}
    )
    # VDI 2230, guide values from memory: 2 threads of 3, 2 seats of 3, 1 inner interface of 2 um.
    assert case.laws["settling.embedding"].mean == pytest.approx(14e-3)


def test_axial_guide_values_beside_a_transverse_load_are_doubted(make_case):
    guide = {"roughness": "10 to 40 um", "load_direction": "axial"}
    layers = {"joint": None, "clamped": [{"material": "steel", "thickness": "30 mm"}]}
    both = {**layers, "settling.embedding": guide, "load.transverse": "2 kN"}
    assert any("load_direction is axial" in words for words in make_case(both).warnings)
    alone = make_case({**layers, "settling.embedding": guide})
    assert not any("load_direction" in words for words in alone.warnings)


def test_a_tensioner_that_pulls_past_yield_is_warned_of(make_case):
    strong = {**TENSIONED, "tightening": {**TENSIONED["tightening"], "pump_force": "85 kN"}}
    case = make_case({**strong, "requirement.maximum_preload": None})
    assert any("the fastener yields" in words for words in check(case).warnings)


def test_a_narrow_bush_presses_the_softer_layer_above_it(make_case):
    # 260 MPa of 6082 on the ring of a bush, 16/12 mm about an M10's hole of 11 mm: 22.87 kN.
    washer = {"material": "steel C45", "thickness": "2 mm", "outer_diameter": "24 mm"}
    soft = {"material": "aluminium 6082", "thickness": "8 mm"}
    bush = {
        "material": "steel S355",
        "thickness": "20 mm",
        "outer_diameter": "16 mm",
        "hole_diameter": "12 mm",
    }
    case = make_case(
        {
            "joint": None,
            "fastener.thread": "M10",
            "fastener.hole_diameter": "11 mm",
            "fastener.bearing_outer_diameter": "14.6 mm",
            "clamped": [washer, soft, bush, soft, washer],
            "tightening.torque": "55 N·m",
        }
    )
    on_bush = 260 * math.pi / 4 * (16**2 - 12**2)
    assert bears(case, "pressure under layer 2") == pytest.approx(on_bush)
    assert bears(case, "pressure under layer 4") == pytest.approx(on_bush)
    # A second layer of unknown strength under a small area is named.
    copper = make_case(
        {
            "joint": None,
            "clamped": [
                {"material": "steel S355", "thickness": "5 mm"},
                {"material": "copper", "thickness": "30 mm"},
            ],
        }
    )
    (words,) = [words for words in check(copper).warnings if words.startswith("Not judged")]
    assert "pressure under layer 1: state limiting_pressure of the layer of copper" in words


def test_a_stainless_class_is_a_material_of_its_own(make_case):
    case = make_case({"fastener.property_class": "A2-70", "fastener.material": None})
    assert case.joint.fastener_material.name == "stainless steel A2"
    (listed,) = [a for a in case.assumptions if a.path == "fastener.material"]
    assert listed.value == "stainless steel A2, by its class"
    # Also where the modulus alone is stated: expansion is still that of the stainless steel.
    stiff = make_case(
        {
            "fastener.property_class": "A2-70",
            "fastener.material": None,
            "fastener.modulus": "195 GPa",
        }
    )
    assert stiff.joint.fastener_material.expansion == case.joint.fastener_material.expansion
    stated = make_case({"fastener.property_class": "A2-70", "fastener.material": "steel"})
    assert stated.joint.fastener_material.name == "steel"
