"""Figures of a comparison: read from their axes; no text may overlap, whatever the names."""

import pytest
from legible import assert_legible

from preloadmc import compare, control, load_case
from preloadmc.judgement.wording import estimate_words
from preloadmc.report.figures.compare import compare_figures, cost_figure, preloads_figure
from preloadmc.report.figures.control import control_figure
from preloadmc.report.figures.style import SIDE_COLOUR
from preloadmc.report.text.signs import with_powers

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
SCATTER = {
    "friction": {"thread": LAW, "bearing": LAW},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "requirement.minimum_preload": "33 kN",
}
LONG = "what the workshop in the valley has done to every joint since the last overhaul"


@pytest.fixture(scope="module")
def shipped(case_files):
    names = ("tool_choice", "securing_choice")
    return {
        path.stem: compare(load_case(path), precision=0.2)
        for path in case_files
        if path.stem in names
    }


@pytest.mark.slow
@pytest.mark.parametrize("name", ["tool_choice", "securing_choice"])
@pytest.mark.parametrize("system", ["metric", "inch"])
def test_no_text_overlaps_in_the_shipped_cases(shipped, name, system):
    figures = compare_figures(shipped[name], system)
    assert [named.name for named in figures] == ["preloads", "cost", "control_1", "control_2"]
    for named in figures:
        assert_legible(named.figure)
        assert named.alt.endswith(".")


@pytest.mark.slow
def test_no_text_overlaps_with_many_long_names_of_like_cost(make_case):
    cost = {"per_joint": 1.0, "per_under": 1, "per_over": 1, "currency": "EUR"}
    alternatives = [{"name": f"{LONG}, {i}"} for i in range(3)]
    alternatives += [{"name": f"another {i}"} for i in range(3)]
    result = compare(
        make_case({**SCATTER, "cost": cost, "alternative": alternatives}), threads=1, precision=0.3
    )
    for named in compare_figures(result):
        assert_legible(named.figure)


def test_preloads_stand_on_rows_with_their_windows(shipped):
    result = shipped["tool_choice"]
    (ax,) = preloads_figure(result).figure.axes
    labels = [label.get_text() for label in ax.get_yticklabels()]
    assert len(labels) == len(result.alternatives)
    for label, each in zip(labels, result.alternatives, strict=True):
        share = estimate_words(each.judged.outside.probability)
        assert label.replace("\n", " ") == f"{each.name} outside: {with_powers(share)}"
    minimums = [line for line in ax.lines if line.get_color() == SIDE_COLOUR["under"]]
    assert [line.get_xdata()[0] for line in minimums] == pytest.approx([65.0] * len(labels))
    assert ax.get_xlabel() == "preload (kN)"
    # The tensioner pulls at 116 kN; its maximum is on that force, without torsion, and so above
    # those of the wrenches.
    *wrenches, tensioner = (
        line.get_xdata()[0] for line in ax.lines if line.get_color() == SIDE_COLOUR["over"]
    )
    assert tensioner > 1.1 * max(wrenches)
    assert result.alternatives[-1].pulled.force.mean() == pytest.approx(116e3, rel=1e-3)
    words = [text.get_text() for text in ax.get_legend().get_texts()]
    assert words[0] == "assembled; pump force of a tensioner"


def test_cost_against_probability(shipped):
    result = shipped["tool_choice"]
    (ax,) = cost_figure(result).figure.axes
    assert ax.get_ylabel() == "cost a fastener (EUR)"
    assert ax.get_xlabel() == "fasteners outside the window (per million)"
    marks = [line for line in ax.lines if line.get_marker() == "o" and len(line.get_xdata()) == 1]
    open_marks, filled = marks[::2], marks[1::2]
    for to_make, expected, each in zip(open_marks, filled, result.alternatives, strict=True):
        share = 1e6 * each.judged.outside.probability.value
        assert expected.get_xdata()[0] == pytest.approx(share)
        assert expected.get_ydata()[0] == pytest.approx(each.expected_cost.value)
        assert to_make.get_ydata()[0] == pytest.approx(each.case.cost.to_make)


def test_cost_to_make_holds_the_tool(make_case):
    # 1 + 2400/5000 in open marks; nothing else costs, so that the filled ones stand on them
    cost = {"per_joint": 1.0, "tool_price": 2400, "quantity": 5000}
    case = make_case({**SCATTER, "cost": cost, "alternative": [{"name": "the same"}]})
    (ax,) = cost_figure(compare(case, threads=1, precision=0.3)).figure.axes
    marks = [line for line in ax.lines if line.get_marker() == "o" and len(line.get_xdata()) == 1]
    assert [mark.get_ydata()[0] for mark in marks] == pytest.approx([1.48] * 4)


def test_costs_that_differ_much_stand_on_a_log_axis(shipped, make_case):
    assert cost_figure(shipped["tool_choice"]).figure.axes[0].get_yscale() == "linear"
    cost = {"per_joint": 1.0, "per_under": 1, "per_over": 1, "currency": "EUR"}
    dear = [{"name": f"{times} times as dear", "cost": {"per_joint": times}} for times in (18, 50)]
    case = make_case({**SCATTER, "cost": cost, "alternative": dear})
    named = cost_figure(compare(case, threads=1, precision=0.3))
    (ax,) = named.figure.axes
    assert ax.get_yscale() == "log"
    assert_legible(named.figure)
    low, high = ax.get_ylim()
    shown = [tick for tick in ax.get_yticks() if low <= tick <= high]
    assert {1.0, 2.0, 5.0, 10.0, 20.0, 50.0} <= {round(tick, 9) for tick in shown}


def test_no_cost_figure_without_costs(make_case):
    case = make_case({**SCATTER, "alternative": [{"name": "the same"}]})
    names = [named.name for named in compare_figures(compare(case, threads=1))]
    assert names == ["preloads", "control_1"]


def test_bars_of_control(make_case):
    found = control(make_case(SCATTER), seed=1, threads=1)
    (ax,) = control_figure(found).figure.axes
    order = found.by_worth("under_preload")
    assert [label.get_text() for label in ax.get_yticklabels()] == [each.source for each in order]
    widths = [bar.get_width() for bar in ax.patches]
    left = [
        changed.misses_left["under_preload"].value
        for each in order
        for changed in (each.halved, each.removed)
    ]
    assert widths == pytest.approx(left)
    shown = {text.get_text() for text in ax.texts}
    assert {f"{value:.2f}" if value >= 0.01 else "< 0.01" for value in left} <= shown
    assert ax.get_xlabel() == "times today's misses, under-preload; dashed: as it is"


def test_no_bars_where_nothing_is_missed(make_case):
    case = make_case(
        {
            **SCATTER,
            "requirement.minimum_preload": "0 kN",
            "requirement.maximum_preload": "69 kN",
            "fastener.property_class": None,
        }
    )
    found = control(case, seed=1, threads=1, most=2**14)
    if found.as_is["outside_window"].value == 0.0:
        assert control_figure(found) is None
