"""The report of a comparison, its document and its justification."""

import json

import pytest

from preloadmc import compare, control
from preloadmc.questions.control.question import Changed
from preloadmc.report.documents.compare import compare_document
from preloadmc.report.documents.document import as_json
from preloadmc.report.text.cautions import CAUTIONS
from preloadmc.report.text.changes import change_lines
from preloadmc.report.text.compare import compare_text
from preloadmc.report.text.control import control_sections, left_words, shown_outcomes
from preloadmc.report.text.blocks import render_text
from preloadmc.report.text.justification import compare_justification

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
SCATTER = {
    "name": "as today",
    "friction": {"thread": LAW, "bearing": LAW, "joint": 0.2},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "load.transverse": {"law": "normal", "mean": "5.5 kN", "cov": "8 %"},
    "requirement.minimum_preload": "33 kN",
    "requirement.allowed_under": "1 %",
    "requirement.allowed_over": "1 %",
    "cost": {"per_joint": 1.0, "per_under": 50, "per_over": 20, "currency": "EUR"},
}
WASHERS = {
    "element": "wedge-locking washers",
    "torque_ratio": 1.2,
    "ramp_angle": "9 deg",
    "hardness": 540,
    "seat_hardness": 300,
    "source": "certificate",
}
LESS = {"law": "lognormal", "mean": 0.13, "cov": "6 %"}
ALTERNATIVES = [
    {
        "name": "lubricant",
        "friction": {"thread": LESS, "bearing": LESS},
        "cost": {"per_joint": 1.1},
    },
    {"name": "washers", "securing": WASHERS, "tightening": {"torque": "92.9 N·m"}},
    {
        "name": "a long name that says what is done to the joint",
        "tightening": {"tool": {"law": "normal", "cov": "2.9 %"}},
    },
]


def flat(text):
    """A text without its line breaks."""
    return " ".join(text.split())


def justification_text(result, system="metric"):
    """The sheet to be signed, as text."""
    return render_text(compare_justification(result, system))


@pytest.fixture(scope="module")
def made():
    """The comparison, made once."""
    return {}


@pytest.fixture
def result(make_case, made):
    if not made:
        made["one"] = compare(make_case({**SCATTER, "alternative": ALTERNATIVES}), threads=1)
    return made["one"]


def test_it_begins_with_three_plain_lines(result):
    lines = compare_text(result).splitlines()
    starts = ("How likely: given these laws, ", "What decides: ", "What to do: ")
    assert all(line.startswith(start) for line, start in zip(lines, starts, strict=False))
    assert lines[3:5] == ["", "Test joint"]


def test_it_holds_every_table(result):
    text = flat(compare_text(result))
    for piece in (
        '"as today" is the case as it stands.',
        '"washers" changes: - securing: wedge-locking washers (1.2 times the torque for the '
        "same preload) instead of none - set torque: 92.9 N·m instead of 77.4 N·m",
        "- cost per fastener: 1.1 instead of 1 EUR",
        "under-preload probability (95 %) difference to first (95 %)",
        '"as today": misses. preload probability (95 %) verdict under-preload',
        "limit governing state probability of a miss allowed verdict margin",
        "Not judged, since the case does not say enough: - thread stripping: state engagement",
        "times narrower under-preload over-preload outside the window",
        "loosening by slip probability (95 %)",
        "(DIN 25201-4, ISO 16130) decides what an element really holds under vibration",
        "cost a fastener [EUR] to make tool with misses (95 %) difference to first (95 %)",
        "plus 50 for each with too little preload and 20 for each with too much preload, unless",
        'Value of control with "as today"; as it is, on the same draws: under-preload',
        "times today's misses, ",
        '"washers" assumes besides: - securing.element: wedge-locking washers:',
        "common practice, no published source",
        "Intervals hold sampling error only",
        "Tango 1998",
    ):
        assert piece in text, piece


@pytest.mark.parametrize("words", CAUTIONS)
def test_every_report_carries_every_caution(result, words):
    assert words in flat(compare_text(result))
    assert words in flat(justification_text(result))


def test_it_fits_a_terminal_and_the_justification_a_page(result):
    _, rest = compare_text(result).split("\n\n", 1)
    page = justification_text(result)
    for text in (rest, page):
        assert max(len(line) for line in text.splitlines()) <= 80
    assert len(page.splitlines()) <= 66
    assert page.startswith("JUSTIFICATION: Test joint\n")
    assert "Decision: choose " in page or "Decision: keep " in page
    assert f"sha256 {result.case.sha256[:16]}" in page
    assert "Prepared by:" in page


def test_inches(result):
    assert "set torque: 68.52 lbf·ft instead of 57.09 lbf·ft" in compare_text(result, "inch")


def test_the_document_holds_every_estimate_with_its_interval(result):
    document = json.loads(as_json(compare_document(result)))
    assert document["question"] == "compare"
    assert document["best"] == result.chosen.name
    assert [each["name"] for each in document["alternatives"]] == [
        each.name for each in result.alternatives
    ]
    for each in document["alternatives"][1:]:
        for outcome in each["outcomes"].values():
            assert outcome["low"] <= outcome["probability"] <= outcome["high"]
            difference = outcome["difference_to_first"]
            assert difference["low"] <= difference["difference"] <= difference["high"]
            assert difference["narrowing"] is None or difference["narrowing"] > 0.0
        assert each["expected_cost"]["low"] < each["expected_cost"]["high"]
    assert document["alternatives"][0]["cost_difference_to_first"] is None
    sources = document["control"]["as today"]["sources"]
    assert {"source", "inputs", "kind", "halved", "removed"} == sources[0].keys()


def test_without_costs_targets_and_loads_their_tables_fall_away(make_case):
    bare = {key: value for key, value in SCATTER.items() if "allowed" not in key}
    del bare["cost"], bare["load.transverse"]
    change = {"name": "better tool", "tightening": {"tool": {"law": "normal", "cov": "1 %"}}}
    result = compare(make_case({**bare, "alternative": [change]}), threads=1)
    text = compare_text(result)
    assert "cost a fastener" not in text
    assert "loosening by slip" not in text
    assert "not judged: no allowed probability" in text
    assert "Without costs none is dominated: the case states none for every alternative." in text
    sheet = justification_text(result)
    assert "with misses" not in sheet
    assert sheet.startswith("NOT JUSTIFIED: Test joint\n")


def test_what_an_alternative_changes(make_case):
    scatter = {**SCATTER, "friction": {"thread": LAW, "bearing": LAW, "correlation": 0.4}}
    del scatter["load.transverse"]
    adhesive = {"element": "adhesive", "breakaway_torque": "20 N·m"}
    insert = {"element": "prevailing-torque nut", "worn_prevailing_torque": "1.6 N·m"}
    changes = [
        {"name": "a", "friction": {"nut_factor": LAW}},
        {"name": "b", "friction": {"correlation": 0.6}, "cost": {"per_under": 60}},
        {"name": "c", "fastener": {"thread": "M12x1.25"}, "securing": adhesive},
        {"name": "d", "securing": insert, "tightening": {"prevailing_torque": "3 N·m"}},
        {"name": "e", "securing": {**WASHERS, "seat_hardness": 600}},
        {"name": "f", "requirement": {"maximum_preload": {"from": "yield", "fraction": 0.9}}},
        {"name": "g", "clamped": [{"material": "steel", "thickness": "30 mm"}]},
        {"name": "h"},
    ]
    case = make_case({**scatter, "alternative": changes})
    found = {each.name: change_lines(case, each, "metric") for each in case.alternatives}
    assert "torque equation: by nut factor instead of frictions of thread and bearing" in found["a"]
    assert "correlation of thread friction and bearing friction: 0.6" in found["b"]
    assert "cost of too little preload: 60 instead of 50 EUR" in found["b"]
    assert "thread: M12x1.25 instead of M12" in found["c"]
    assert "securing: adhesive (breaks away at 20 N·m) instead of none" in found["c"]
    assert "securing: prevailing-torque nut (worn 1.6 N·m) instead of none" in found["d"]
    assert any("that cannot bite the seat instead of none" in line for line in found["e"])
    assert "requirement: judged differently (see the case file)" in found["f"]
    assert any(line.startswith("clamped parts: 30 mm steel instead of -") for line in found["g"])
    assert found["h"] == []
    with_cost = make_case({key: value for key, value in scatter.items() if key != "cost"})
    assert "cost: stated in one of the two alone" in change_lines(case, with_cost, "metric")


def test_tables_of_control_for_the_sides_that_matter(make_case):
    loose = control(make_case(SCATTER), seed=1, threads=1, most=2**14, block=2**14)
    assert shown_outcomes(loose) == ("under_preload",)
    both = {**SCATTER, "requirement.minimum_preload": "31 kN"}
    both["requirement.maximum_preload"] = "48 kN"
    wide = control(make_case(both), seed=1, threads=1, most=2**14, block=2**14)
    assert shown_outcomes(wide) == ("under_preload", "over_preload", "outside_window")
    never = control(
        make_case({**SCATTER, "requirement.minimum_preload": "1 kN"}), seed=1, threads=1, most=2**14
    )
    assert shown_outcomes(never) == ("over_preload",)
    assert left_words(Changed({}, {}, {}), "outside_window") == "-"
    lines = [line for part in control_sections(wide, "Worth") for line in part.lines()]
    assert max(len(line) for line in lines) <= 80


def test_a_bias_has_its_row(make_case):
    biased = {**SCATTER, "tightening.bias": "-6 %"}
    found = control(make_case(biased), seed=1, threads=1, most=2**14, block=2**14)
    lines = [line for part in control_sections(found, "Worth") for line in part.lines()]
    assert any(line.startswith("bias of the tool") for line in lines)


def test_what_is_not_enough_is_told_what_it_needs_besides(make_case):
    strict = {**SCATTER, "requirement.allowed_under": "0.001 %"}
    found = compare(make_case({**strict, "alternative": ALTERNATIVES[:1]}), threads=1)
    assert found.chosen.name == "lubricant"
    assert found.chosen.verdict == "misses"
    assert ": yet no alternative meets what is allowed; " in found.answer[2]
    assert '. With "lubricant", ' in found.answer[2]
    # Both sides are known to the page: only too little is missed.
    assert "misses under" in flat(justification_text(found))


def test_what_is_enough_is_explained_by_where_it_came_from(result):
    assert result.chosen.verdict == "meets"
    assert f'. With "{result.case.name}", ' in result.answer[2]
