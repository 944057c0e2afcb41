"""The section [group]: layouts, shares of load, interaction, orders, and what is refused."""

import re

import numpy as np
import pytest

from preloadmc.errors import CaseError

EIGHT = {"fasteners": 8, "circle": "200 mm"}
TIGHT = {**EIGHT, "interaction": {"neighbours": ["10 %", "2 %"]}}

BAD = {
    "no number": (
        {"circle": "200 mm"},
        r"group\.fasteners: missing; number of fasteners of the joint \(a whole number from 2",
    ),
    "one fastener": ({"fasteners": 1}, r"group\.fasteners: a whole number from 2 to 200"),
    "ten thousand": ({"fasteners": 10_000}, r"group\.fasteners: a whole number from 2 to 200"),
    "two layouts": (
        {**EIGHT, "row": "50 mm"},
        r"group\.row: remove it: group\.circle gives the positions already",
    ),
    "too few positions": (
        {"fasteners": 3, "positions": [["0 mm", "0 mm"], ["80 mm", "0 mm"]]},
        r"group\.positions: a position for each of the 3 fasteners",
    ),
    "positions on each other": (
        {"fasteners": 2, "positions": [["0 mm", "0 mm"], ["0 mm", "0 mm"]]},
        r"group\.positions: positions that are all different",
    ),
    "a moment without positions": (
        {"fasteners": 8, "bending_moment": "1 kN·m"},
        r"group\.bending_moment: positions of the fasteners: state group\.circle or group\.row",
    ),
    "shares that do not add up": (
        {"fasteners": 3, "axial": "9 kN", "axial_shares": [0.3, 0.3, 0.3]},
        r"group\.axial_shares: shares that add up to 1; these add up to 0\.9",
    ),
    "shares of no load": (
        {"fasteners": 2, "axial_shares": [0.5, 0.5]},
        r"group\.axial_shares: remove it, or state group\.axial",
    ),
    "too few shares": (
        {"fasteners": 3, "transverse": "9 kN", "transverse_shares": [0.5, 0.5]},
        r"group\.transverse_shares: a share for each of the 3 fasteners",
    ),
    "an order that forgets": (
        {**TIGHT, "order": [1, 2, 3, 4, 5, 6, 7]},
        r"group\.order: each of the 8 fasteners once: it forgets 8",
    ),
    "an order that repeats": (
        {**TIGHT, "order": [1, 2, 3, 4, 5, 6, 7, 1]},
        r"it repeats 1 and it forgets 8",
    ),
    "an order beyond": (
        {**TIGHT, "order": [[1, 5], [2, 6], [3, 7], [4, 9]]},
        r"there is no fastener 9 and it forgets 8",
    ),
    "an order that is no word": ({**TIGHT, "order": "zigzag"}, r"group\.order: one of 'around'"),
    "tools beside a typed order": (
        {**TIGHT, "order": [1, 2, 3, 4, 5, 6, 7, 8], "tools_at_once": 2},
        r"group\.tools_at_once: remove it: the typed order says what is tightened at once",
    ),
    "passes that fall": (
        {**TIGHT, "passes": ["60 %", "40 %", "100 %"]},
        r"group\.passes: shares that rise to 100 % in the last pass",
    ),
    "passes that end early": (
        {**TIGHT, "passes": ["30 %", "60 %"]},
        r"group\.passes: shares that rise to 100 % in the last pass",
    ),
    "an interaction that takes all": (
        {**EIGHT, "interaction": {"neighbours": ["45 %", "10 %"]}},
        r"interaction that leaves each fastener some preload; here the others take all of it from "
        r"fastener 1, 2, 3",
    ),
    "neighbours without a line": (
        {"fasteners": 4, "interaction": {"neighbours": ["10 %"]}},
        r"group\.interaction\.neighbours: a circle or a row",
    ),
    "more neighbours than there are": (
        {"fasteners": 2, "row": "60 mm", "interaction": {"neighbours": ["10 %", "2 %"]}},
        r"fewer than 2 shares",
    ),
    "a matrix of another size": (
        {"fasteners": 3, "interaction": {"matrix": [[0, 0.1], [0.1, 0]]}},
        r"group\.interaction\.matrix: 3 rows of 3 numbers",
    ),
    "rows of unlike length": (
        {"fasteners": 2, "interaction": {"matrix": [[0, 0.1], [0.1]]}},
        r"all of one length",
    ),
    "a fastener that takes from itself": (
        {"fasteners": 2, "interaction": {"matrix": [[0.1, 0.1], [0.1, 0]]}},
        r"zeros on the diagonal",
    ),
    "two interactions": (
        {
            **EIGHT,
            "interaction": {"neighbours": ["10 %"], "ring_thickness": "20 mm"},
        },
        r"group\.interaction\.ring_thickness: remove it",
    ),
    "half a ring": (
        {**EIGHT, "interaction": {"ring_thickness": "20 mm"}},
        r"group\.interaction\.ring_width: missing",
    ),
    "more that must hold than there are": (
        {**EIGHT, "at_least": 9},
        r"group\.at_least: no more than the 8 fasteners",
    ),
    "allowed of what is not asked": (
        {**EIGHT, "allowed": {"total_clamp": 1e-3}},
        r"group\.allowed\.total_clamp: what it is about: state group\.minimum_total_clamp",
    ),
    "an exception twice": (
        {
            **EIGHT,
            "exception": [
                {"fasteners": [1, 2], "friction": {"thread": 0.2}},
                {"fasteners": [2], "friction": {"thread": 0.1}},
            ],
        },
        r"group\.exception\[2\]\.fasteners: fasteners of no other exception; 2 has one",
    ),
    "an exception beyond": (
        {**EIGHT, "exception": [{"fasteners": [9], "friction": {"thread": 0.2}}]},
        r"group\.exception\[1\]\.fasteners: numbers from 1 to 8, each once",
    ),
    "an exception of what is common": (
        {**EIGHT, "exception": [{"fasteners": [1], "requirement": {"allowed_under": 0.1}}]},
        r"group\.exception\[1\]\.requirement: remove it: the fasteners of a joint have it in",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_is_refused_in_words(make_case, name):
    group, words = BAD[name]
    with pytest.raises(CaseError) as caught:
        make_case({"group": group})
    found = "\n".join(str(problem) for problem in caught.value.problems)
    assert re.search(words, found), found
    assert len(caught.value.problems) <= 2


def test_loads_of_the_joint_and_of_one_fastener_exclude_each_other(make_case):
    with pytest.raises(CaseError, match=r"load\.axial: loads of the joint \(group\.axial\) or"):
        make_case({"load.axial": "3 kN", "group": {**EIGHT, "axial": "20 kN"}})


def test_each_fastener_takes_an_even_share_unless_shares_are_typed(make_case):
    even = make_case({"group": {**EIGHT, "axial": "40 kN"}})
    assert even.means["load.axial"] == pytest.approx(5e3)
    assert any(item.path == "group.axial_shares" for item in even.assumptions)
    typed = make_case(
        {"group": {"fasteners": 2, "axial": "40 kN", "axial_shares": ["70 %", "30 %"]}}
    )
    # The fastener with most load has least to spare.
    assert typed.group.governing == 0
    assert typed.means["load.axial"] == pytest.approx(28e3)


def test_a_bending_moment_opens_the_joint_on_the_side_that_is_named(make_case):
    case = make_case(
        {"group": {**EIGHT, "bending_moment": "1 kN·m", "bending_direction": "90 deg"}}
    )
    # M r / sum r² = 2 M/(n r) at the far side (Shigley, bolt circle under a bending moment).
    x, y = case.group.facts.positions[case.group.governing]
    assert (x, y) == (pytest.approx(0.0, abs=1e-9), pytest.approx(100.0))
    assert case.means["load.axial"] == pytest.approx(2 * 1e6 / (8 * 100.0))


def test_a_typed_order_is_kept_with_what_goes_at_once(make_case):
    order = [[1, 5], [3, 7], [2, 6], [4, 8]]
    case = make_case({"group": {**TIGHT, "order": order, "passes": ["30 %", "100 %"]}})
    assert case.group.facts.passes == (
        (0.3, ((0, 4), (2, 6), (1, 5), (3, 7))),
        (1.0, ((0, 4), (2, 6), (1, 5), (3, 7))),
    )
    assert case.group.facts.tools == 2


def test_a_last_round_goes_one_after_the_other(make_case):
    case = make_case({"group": {**TIGHT, "order": "star", "final_round": True}})
    assert [share for share, _ in case.group.facts.passes] == [1.0, 1.0]
    assert case.group.facts.passes[-1][1] == tuple((n,) for n in range(8))


def test_interaction_is_estimated_from_the_ring(make_case):
    ring = {"ring_thickness": "25 mm", "ring_width": "50 mm", "ring_modulus": "200 GPa"}
    case = make_case({"group": {**EIGHT, "interaction": ring}})
    coefficients = case.group.facts.coefficients
    np.testing.assert_allclose(coefficients, coefficients.T)
    assert 0.0 < coefficients[0, 1] < 0.2
    (told,) = [item for item in case.assumptions if item.path == "group.interaction"]
    assert "beam on an elastic foundation" in told.source


def test_what_is_allowed_of_any_fastener_holds_for_each(make_case):
    case = make_case(
        {"group": {**EIGHT, "allowed": {"any_under": 1e-3, "any_outside": 1e-4, "any_over": 0.01}}}
    )
    assert (case.requirement.allowed_under, case.requirement.allowed_over) == (1e-4, 1e-4)
    own = make_case(
        {"requirement.allowed_under": 1e-2, "group": {**EIGHT, "allowed": {"any_under": 1e-3}}}
    )
    assert own.requirement.allowed_under == 1e-2


def test_what_fasteners_share_is_stated_or_assumed_aloud(make_case):
    case = make_case(
        {
            "friction.thread": {
                "law": "normal",
                "mean": 0.12,
                "sd": 0.01,
                "shared": {"by": "tool", "fraction": 0.3},
            },
            "friction.bearing": {"law": "normal", "mean": 0.12, "sd": 0.01},
            "group": EIGHT,
        }
    )
    assert case.group.fractions == {"friction.thread": 0.3, "friction.bearing": 0.5}
    assert case.group.levels == {"friction.thread": "tool", "friction.bearing": "lot"}
    told = [item.path for item in case.assumptions if item.path.endswith("shared")]
    assert told == ["friction.bearing shared"]


def test_a_row_carries_a_moment_that_opens_it_along_itself(make_case):
    row = {"fasteners": 3, "row": "80 mm", "bending_moment": "0.4 kN·m"}
    case = make_case({"group": row})
    # M x / sum x²: 400 N·m over 2 (80 mm)² at 80 mm; nothing in the middle.
    np.testing.assert_allclose(case.group.facts.bending * 0.4e6, [-2500.0, 0.0, 2500.0], atol=1e-6)
    with pytest.raises(CaseError, match="fasteners on one line carry no other"):
        make_case({"group": {**row, "bending_direction": "90 deg"}})


def test_keys_that_do_nothing_in_a_joint(make_case):
    idle = make_case(
        {
            "group": {
                **EIGHT,
                "transverse": "8 kN",
                "transverse_direction": "30 deg",
                "bending_direction": "90 deg",
                "order": "star",
                "passes": ["50 %", "100 %"],
                "spread": "5 %",
            },
            "friction.joint": 0.2,
        }
    )
    told = [words for words in idle.warnings if "has no effect here" in words]
    assert [words.partition(" has no effect")[0] for words in told] == [
        "group.order",
        "group.passes",
        "group.spread",
        "group.transverse_direction",
        "group.bending_direction",
    ]
    assert "no [group.interaction] is stated" in told[0]


def test_what_has_an_effect_in_a_joint_alone_is_not_warned_of(make_case):
    shared = {"by": "tool", "fraction": 0.3}
    case = make_case(
        {
            "friction.thread": {"law": "normal", "mean": 0.12, "sd": 0.01, "shared": shared},
            "friction.joint": 0.2,
            "group": {
                **TIGHT,
                "torsional_moment": "300 N·m",
                "order": "star",
                "passes": ["50 %", "100 %"],
                "final_round": True,
                "spread": "5 %",
            },
        }
    )
    assert not [words for words in case.warnings if "has no effect here" in words]


@pytest.mark.parametrize(
    ("group", "words"),
    [
        ({"fasteners": 8, "circle": 240}, 'such as mm or in: "240 mm" (given: 240)'),
        (
            {"fasteners": 8, "bolt_circle": "240 mm", "bending_moment": "1 kN·m"},
            "group.bolt_circle: unknown key; here it is called 'circle'",
        ),
        (
            {"fasteners": 8, "cirle": "240 mm", "bending_moment": "1 kN·m"},
            "group.cirle: unknown key; nearest: 'circle'",
        ),
        ({"bolts": 8, "circle": "240 mm"}, "here it is called 'fasteners'"),
        (
            {"fasteners": 2, "axail": "40 kN", "axial_shares": [0.5, 0.5]},
            "group.axail: unknown key; nearest: 'axial'",
        ),
        (
            {**EIGHT, "allowed": {"fewer_than_k": 1e-3}, "at_leest": 7},
            "group.at_leest: unknown key; nearest: 'at_least'",
        ),
        ({**EIGHT, "order": "stars"}, "nearest: 'star'; or the numbers of all fasteners"),
        ({**EIGHT, "order": "1-5-3-7"}, "as a list: [1, 5, 3, 7] (given: '1-5-3-7')"),
        ({**EIGHT, "order": ["1", "5"]}, "whole numbers from 1, without quotes"),
        ({**EIGHT, "passes": "50 %, 100 %"}, 'in brackets: ["50 %", "100 %"]'),
        ({**EIGHT, "interaction": "10 %"}, 'such as { neighbours = ["12 %", "3 %"] }'),
        (
            {**EIGHT, "exception": [{"fasteners": 1, "friction": {"thread": 0.2}}]},
            "group.exception[1].fasteners: a list, each a whole number from 1 to 200, in "
            "brackets: [1]",
        ),
        (
            {"fasteners": 2, "positions": [[0, 0], [80, 0]]},
            'group.positions[1]: a list, 2 of them, each a length, with its unit, such as ["0 mm"',
        ),
    ],
    ids=str,
)
def test_one_slip_in_a_joint_is_one_problem_with_its_cure(make_case, group, words):
    with pytest.raises(CaseError) as caught:
        make_case({"group": group})
    (problem,) = caught.value.problems
    assert words in str(problem)


def test_a_joint_whose_load_is_misspelt_lacks_no_load_to_derive_a_minimum_from(make_case):
    slips = {"requirement.minimum_preload": {"from": "no slip"}, "friction.joint": 0.2}
    for load in ({"trasverse": "8 kN"}, {"transverse": 8}):
        with pytest.raises(CaseError) as caught:
            make_case({**slips, "group": {**EIGHT, **load}})
        (problem,) = caught.value.problems
        assert problem.path.startswith("group.tra")


def test_an_order_is_read_in_any_letter_case(make_case):
    case = make_case({"group": {**TIGHT, "order": "Middle-Outwards"}})
    assert case.group.facts.order_name == "middle outwards"


def problems_of(make_case, group):
    """The paths of all problems of a group, with their words."""
    with pytest.raises(CaseError) as caught:
        make_case({"group": group})
    return {each.path: each.allowed for each in caught.value.problems}


def test_all_problems_of_a_joint_are_told_at_once(make_case):
    wrong = {
        "row": "80 mm",
        "order": [1, 2, 3, 4, 5, 6, 7, 7],
        "tools_at_once": 2,
        "passes": ["100 %", "50 %"],
        "axial_shares": [0.2] * 8,
        "interaction": {"matrix": [[0.1] * 8] * 8},
        "at_least": 9,
        "exception": [{"fasteners": [9]}, {"fasteners": [3], "friction": {"bearing": -1}}],
    }
    of_any = {
        "group.row",
        "group.tools_at_once",
        "group.passes",
        "group.axial_shares",
        "group.interaction.matrix",
        "group.exception[2].friction.bearing",
    }
    by_number = {"group.order", "group.at_least", "group.exception[1].fasteners"}
    assert problems_of(make_case, {**EIGHT, **wrong}).keys() == of_any | by_number
    # Where the number of fasteners is wrong itself, the rest is told all the same.
    without = {key: value for key, value in EIGHT.items() if key != "fasteners"}
    for number in ({"fasteners": "eight"}, {}):
        found = problems_of(make_case, {**without, **wrong, **number})
        assert found.keys() == of_any | {"group.fasteners"}, number


def test_alike_problems_of_a_list_are_told_once_with_their_number(make_case):
    positions = [[f"{place} mm", "1 kN"] for place in range(8)]
    found = problems_of(make_case, {"fasteners": 8, "positions": positions})
    assert "7 other entries are wrong too" in found["group.positions[1][2]"]
    assert len(found) == 1


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        ([50, 100], "[0.5, 1]"),
        ([20, 40, 60, 80, 100], "[0.2, 0.4, 0.6, 0.8, ...]"),
    ],
    ids=str,
)
def test_passes_in_per_cent_without_the_sign(make_case, given, meant):
    found = problems_of(make_case, {**TIGHT, "passes": given})
    assert f"is {meant} meant?" in found["group.passes"]
    assert len(found) == 1
