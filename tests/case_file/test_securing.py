"""The section [securing]: what an element asks for, and what of it belongs to a product."""

from __future__ import annotations

import math

import pytest

from preloadmc.engine import case_margins
from preloadmc.errors import CaseError
from preloadmc.report.text.changes import change_lines

WEDGE = {
    "element": "wedge-locking washers",
    "torque_ratio": 1.3,
    "ramp_angle": "8 deg",
    "hardness": 540,
    "seat_hardness": 310,
    "source": "certificate 17",
}


def words(make_case, securing):
    """The problems of a case with this [securing]."""
    with pytest.raises(CaseError) as caught:
        make_case({"securing": securing})
    return str(caught.value)


def test_what_belongs_to_a_product_is_as_typed(make_case):
    securing = make_case({"securing": WEDGE}).joint.securing
    assert securing.torque_ratio == 1.3
    assert securing.ramp_angle == pytest.approx(math.radians(8.0))
    assert securing.bites is True
    assert securing.missing == ()
    assert securing.source == "certificate 17"


@pytest.mark.parametrize("key", ["torque_ratio", "ramp_angle", "hardness", "seat_hardness"])
def test_a_value_of_a_product_needs_its_source(make_case, key):
    found = words(make_case, {"element": WEDGE["element"], key: WEDGE[key]})
    assert "securing.source: missing; where torque_ratio, ramp_angle and hardness are from" in found


def test_without_a_torque_ratio_the_frictions_stated_are_those_of_the_seats(make_case):
    case = make_case({"securing": {"element": "wedge-locking washers"}})
    assumed = {item.path: item.value for item in case.assumptions}
    assert assumed["securing.torque_ratio"].startswith("1: the frictions stated")
    assert case.joint.securing.torque_ratio == 1.0
    assert case.joint.securing.missing == ("ramp_angle", "hardness", "seat_hardness")
    # the program ships no figure of any product
    assert "%" not in assumed["securing.element"]


@pytest.mark.parametrize(
    ("securing", "problem"),
    [
        ({"element": "adhesive"}, "securing.breakaway_torque: missing"),
        ({"element": "prevailing-torque nut"}, "securing.worn_prevailing_torque: missing"),
        ({"element": "spring washer", "ramp_angle": "8 deg", "source": "x"}, "holds by 'no slip'"),
        ({"ramp_angle": "8 deg"}, "securing.element: missing"),
    ],
)
def test_each_rule_needs_its_own_quantity_and_no_other(make_case, securing, problem):
    assert problem in words(make_case, securing)


def test_an_alternative_replaces_or_takes_away_the_element(make_case):
    case = make_case(
        {
            "securing": WEDGE,
            "alternative": [
                {"name": "bond", "securing": {"element": "adhesive", "breakaway_torque": "9 N·m"}},
                {"name": "plain", "securing": {"element": "none"}},
            ],
        }
    )
    bond, plain = (each.joint.securing for each in case.alternatives)
    assert (bond.element.name, bond.ramp_angle, bond.torque_ratio) == ("adhesive", None, 1.0)
    assert plain.element.name == "none"


LAYERS = {"clamped": [{"material": "steel", "thickness": "16 mm"}] * 2, "joint": None}


@pytest.mark.parametrize(
    ("embedding", "words", "micrometres"),
    [
        # VDI 2230, guide values from memory: thread 3, seats 2 x 4.5, inner interfaces 3 x 2.5 um
        (
            {"roughness": "10 to 40 um", "load_direction": "transverse"},
            "the 2 interfaces that it adds count in the guide value of embedding",
            19.5,
        ),
        ("8 um", "the 2 interfaces that it adds are taken to be within the stated embedding", 8.0),
        (None, "the 2 interfaces that it adds are taken not to embed", 0.0),
    ],
)
def test_the_interfaces_of_an_element_count_as_is_said(make_case, embedding, words, micrometres):
    case = make_case({**LAYERS, "securing": WEDGE, "settling.embedding": embedding})
    (listed,) = [item for item in case.assumptions if item.path == "securing.element"]
    assert words in listed.value
    assert case.laws["settling.embedding"].mean == pytest.approx(micrometres * 1e-3)


def test_a_torque_ratio_is_doubted_where_an_alternative_has_another_friction(make_case):
    change = {"name": "greased", "friction": {"bearing": 0.09}}
    (greased,) = make_case({"securing": WEDGE, "alternative": [change]}).alternatives
    assert any("state the torque ratio on that seat" in words for words in greased.warnings)
    for own in (
        {**change, "securing": {**WEDGE, "torque_ratio": 1.2}},
        {"name": "same", "friction": {"bearing": 0.12}},
        {"name": "other", "friction": {"thread": 0.09}},
    ):
        (other,) = make_case({"securing": WEDGE, "alternative": [own]}).alternatives
        assert not any("torque ratio on that seat" in words for words in other.warnings)


def test_an_alternative_takes_the_element_away(make_case):
    element = {"element": "prevailing-torque nut", "worn_prevailing_torque": "4 N·m"}
    plain = {"name": "plain", "securing": "none"}
    case = make_case(
        {
            "securing": element,
            "tightening.prevailing_torque": "10 N·m",
            "alternative": [
                plain,
                {**plain, "name": "stated", "tightening": {"prevailing_torque": "0 N·m"}},
            ],
        }
    )
    kept, stated = case.alternatives
    assert case.joint.securing is not None
    assert kept.joint.securing is None
    assert stated.joint.securing is None
    # The torque of the nut is told by another key: it stays, and this is warned of.
    assert kept.laws["tightening.prevailing_torque"].mean == 10e3
    assert sum("tightening.prevailing_torque (10 N·m)" in words for words in kept.warnings) == 1
    assert not [words for words in stated.warnings if "prevailing_torque" in words]
    assert any("securing: none instead of" in line for line in change_lines(case, kept, "metric"))


def test_none_stands_in_an_alternative_alone(make_case):
    assert "securing: a table of keys" in words(make_case, "none")


@pytest.mark.parametrize("element", ["locking wire", "tab washer", "castle nut with pin"])
def test_a_positive_lock_keeps_the_nut_on_and_assures_no_preload(make_case, element):
    loads = {"load.transverse": "9 kN", "friction.joint": 0.2, "load.slip_faces": 1}
    case = make_case({**loads, "securing": {"element": element}})
    assert case.joint.securing.element.keeps_nut
    assert case.joint.securing.play == pytest.approx(math.radians(10.0))
    told = {item.path: item.value for item in case.assumptions}
    assert "keeps the fastener on and assures no preload" in told["securing.element"]
    assert "10 deg" in told["securing.play"]
    # The parts slip at 40 kN · 0.2 = 8 kN: the lock does not help the preload, as no element does.
    plain = make_case({**loads, "securing": {"element": "none"}})
    found = [
        margin.values
        for each in (case, plain)
        for margin in case_margins(each, each.means, others=True)
        if margin.limit.name == "loosening by transverse slip"
    ]
    assert found[0] == found[1] < 0.0


def test_play_belongs_to_positive_locks(make_case):
    with pytest.raises(CaseError, match=r"securing\.play"):
        make_case({"securing": {"element": "spring washer", "play": "5 deg"}})
