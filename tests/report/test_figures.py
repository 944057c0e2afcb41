"""Figures: read from their axes, never from pixels; no text may overlap, whatever the case."""

import xml.etree.ElementTree as ET

import numpy as np
import pytest
from legible import assert_legible
from matplotlib.colors import to_rgb

from preloadmc import run
from preloadmc.judgement.wording import probability_words
from preloadmc.report.figures.indices import ranking_figure
from preloadmc.report.figures.preload import histogram_figure, path_figure, path_stages
from preloadmc.report.figures.run import run_figures
from preloadmc.report.figures.scatter import MOST_MISSES, scatter_figure, strongest_inputs
from preloadmc.report.figures.style import PALE, PREPARED, SIDE_COLOUR, SIDE_MARKER
from preloadmc.report.text.signs import with_powers

SHIPPED = ("conveyor_bracket", "crane_bracket", "pump_cover", "sensor_lid")
N = 8192
# 1 lbf = 0.45359237 kg x 9.80665 m/s2, exact by definition (NIST SP 811, B.8).
LBF = 4.4482216152605
LONG = "the coldest night of a long winter in the mountains"


def scattered_friction(cov="12 %"):
    law = {"law": "lognormal", "mean": 0.12, "cov": cov}
    return {"friction.thread": law, "friction.bearing": law}


def temperature_states(*names):
    around = {"law": "normal", "mean": "60 degC", "sd": "4 K"}
    return {
        "joint.fastener_compliance": None,
        "joint.clamped_compliance": None,
        "clamped": [{"material": "steel", "thickness": "30 mm"}],
        "temperature.assembly": "20 degC",
        "temperature.state": [
            {"name": name, "fastener": around, "clamped": around} for name in names
        ],
    }


EXTREMES = {
    "nothing scatters": ({}, N),
    "one sample": (scattered_friction(), 1),
    "a few samples": (scattered_friction(), 3),
    "half of the joints miss": (
        {**scattered_friction(), "requirement.minimum_preload": "40 kN"},
        N,
    ),
    "minimum above yield": (
        {
            **scattered_friction(),
            "requirement.minimum_preload": "75 kN",
            "requirement.maximum_preload": None,
        },
        N,
    ),
    "narrow window below": (
        {
            **scattered_friction(),
            "requirement.minimum_preload": "29 kN",
            "requirement.maximum_preload": "30 kN",
        },
        N,
    ),
    "minimum of nothing": ({**scattered_friction(), "requirement.minimum_preload": "0 kN"}, N),
    "broken in tightening": ({**scattered_friction(), "tightening.torque": "220 N·m"}, N),
    "tabulated": (
        {
            "friction.thread": None,
            "friction.bearing": None,
            "friction.nut_factor": {
                "law": "tabulated",
                "values": [0.131, 0.138, 0.144, 0.15, 0.155, 0.16, 0.17, 0.18, 0.19, 0.25],
            },
        },
        N,
    ),
    "minimum with a law": (
        {
            **scattered_friction(),
            "requirement.minimum_preload": {"from": "no slip"},
            "load.transverse": {"law": "normal", "mean": "4 kN", "sd": "0.5 kN"},
            "friction.joint": {"law": "normal", "mean": 0.2, "sd": 0.02},
        },
        N,
    ),
    "long names of many inputs": (
        {
            **scattered_friction(),
            "friction.correlation": 0.4,
            "tightening.tool": {"law": "normal", "cov": "3 %"},
            "settling.embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %"},
            **temperature_states(LONG, f"{LONG} again", "W" * 60, "hot"),
        },
        N,
    ),
}


@pytest.fixture(scope="module")
def shipped_figures(shipped):
    """All figures of the shipped cases by case and unit system."""
    return {
        (name, system): run_figures(shipped[name], system)
        for name in SHIPPED
        for system in ("metric", "inch")
    }


@pytest.fixture(params=SHIPPED)
def result(request, shipped):
    return shipped[request.param]


@pytest.fixture(params=EXTREMES)
def extreme(request, make_case):
    overrides, samples = EXTREMES[request.param]
    return run(make_case(overrides), samples=samples, ranking=True)


def upright_lines(ax):
    """Places of the lines across the whole height."""
    return sorted(
        float(line.get_xdata()[0]) for line in ax.lines if list(line.get_ydata()) == [0, 1]
    )


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("system", ["metric", "inch"])
def test_no_text_overlaps_in_the_shipped_cases(shipped_figures, name, system):
    figures = shipped_figures[name, system]
    assert [named.name for named in figures] == [
        "preload",
        "path",
        "ladder",
        "likeliest",
        "rankings",
        "scatter",
        "control",
    ]
    for named in figures:
        assert_legible(named.figure)


def test_no_text_overlaps_in_extreme_cases(extreme):
    for named in run_figures(extreme, "inch"):
        assert_legible(named.figure)
        assert named.alt.endswith(".")


def test_the_check_for_overlaps_sees_one(shipped):
    figure = histogram_figure(shipped["pump_cover"]).figure
    (ax,) = figure.axes
    box = ax.get_position()
    figure.text(box.x0, box.y1, "on top of what stands there")
    with pytest.raises(AssertionError, match="overlaps"):
        assert_legible(figure)


def test_no_ranking_and_no_scatter_where_nothing_scatters(make_case):
    figures = run_figures(run(make_case(), samples=100, ranking=True))
    names = {named.name for named in figures}
    assert names >= {"preload", "path", "ladder"}
    assert names.isdisjoint({"likeliest", "rankings", "scatter", "control"})


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize(("system", "unit"), [("metric", "kN"), ("inch", "lbf")])
def test_every_axis_of_numbers_has_its_unit(shipped_figures, name, system, unit):
    axes = {named.name: named.figure.axes for named in shipped_figures[name, system]}
    preload, path, ladder = (axes[key][0] for key in ("preload", "path", "ladder"))
    assert preload.get_xlabel() == f"preload ({unit})"
    assert preload.get_ylabel().startswith("fasteners in each ")
    assert preload.get_ylabel().endswith(f" {unit} (%)")
    assert path.get_ylabel() == f"preload ({unit})"
    assert all(text.get_text().endswith(f" {unit}") for text in path.get_xticklabels())
    assert ladder.get_ylabel() == f"preload ({unit})"
    assert ladder.get_xlabel().endswith(f"{unit}\xa0(%)")
    assert {ax.get_xlabel() for ax in axes["likeliest"]} == {"off its median (s.d.)"}
    assert [ax.get_xlabel() for ax in axes["rankings"]] == ["share (%)"] * 3
    assert axes["scatter"][0].get_ylabel() == f"residual preload ({unit})"
    for ax in axes["scatter"]:
        assert ax.get_xlabel().endswith("(ratio)")


def test_temperatures_and_torques_are_shown_in_their_units(make_case):
    overrides = {
        "tightening.torque": {"law": "normal", "mean": "80 N·m", "sd": "1 N·m"},
        **temperature_states("hot"),
        "temperature.state": [
            {
                "name": "hot",
                "fastener": {"law": "normal", "mean": "200 degC", "sd": "20 K"},
                "clamped": "20 degC",
            }
        ],
    }
    result = run(make_case(overrides), samples=2000, ranking=True)
    for system, labels, middle in (
        ("metric", ("fastener temperature, hot (°C)", "set torque (N·m)"), (200.0, 80.0)),
        ("inch", ("fastener temperature, hot (°F)", "set torque (lbf·ft)"), (392.0, 59.0)),
    ):
        axes = scatter_figure(result, system).figure.axes
        found = {ax.get_xlabel().replace("\n", " "): np.mean(ax.get_xlim()) for ax in axes}
        assert set(found) == set(labels)
        for label, value in zip(labels, middle, strict=True):
            assert found[label] == pytest.approx(value, rel=0.15)


@pytest.mark.parametrize(
    ("name", "maximum"),
    [("conveyor_bracket", "90 % of yield"), ("pump_cover", "yield"), ("sensor_lid", "yield")],
)
def test_the_window_stands_where_its_margins_end(shipped, name, maximum):
    result = shipped[name]
    low, high = upright_lines(histogram_figure(result).figure.axes[0])
    assert low == pytest.approx(result.case.laws["requirement.minimum_preload"].mean / 1e3)
    # A margin is what is left to the limit, so both together give the limit of each sample that
    # did not break.
    kept = result.samples.kept
    names = [(limit.name, limit.state) for limit in result.samples.limits]
    margins = kept.margins[:, names.index((maximum, "assembly"))]
    whole = kept.path["assembled"] > 0.0
    limit = (kept.path["assembled"] + margins)[whole]
    assert high == pytest.approx(np.median(limit) / 1e3, rel=1e-3)
    band = next(found for found in result.window if found.side == "over")
    assert (band.low, band.high) == pytest.approx(np.quantile(limit, (0.01, 0.99)), rel=1e-3)
    assert band.varies


@pytest.mark.parametrize(("system", "unit"), [("metric", 1e3), ("inch", LBF)])
def test_the_window_stands_where_the_case_says(make_case, system, unit):
    result = run(make_case(), samples=100)
    (ax,) = histogram_figure(result, system).figure.axes
    assert upright_lines(ax) == pytest.approx([28e3 / unit, 62e3 / unit], rel=1e-9)
    (ax,) = path_figure(result, system).figure.axes
    levels = {line.get_ydata()[0]: tuple(line.get_xdata()) for line in ax.lines if line.is_dashed()}
    assert sorted(levels) == pytest.approx([28e3 / unit, 62e3 / unit], rel=1e-9)
    (minimum, settled), (maximum, assembled) = sorted(levels.items())
    assert np.mean(settled) == 1.0
    assert np.mean(assembled) == 0.0
    assert minimum < maximum


def test_the_pump_force_of_a_tensioner_is_held_against_its_own_limit(make_case):
    # The maximum of 62 kN is on the pump force; the path shows what it leaves, 0.8 of it.
    force = {"law": "normal", "mean": "58 kN", "cov": "4 %"}
    pump = {"method": "hydraulic tensioning", "pump_force": force, "transfer_ratio": 0.8}
    result = run(make_case({"tightening": pump}), samples=N)
    named = histogram_figure(result)
    (ax,) = named.figure.axes
    assert_legible(named.figure)
    assert upright_lines(ax) == pytest.approx([28.0, 62.0], rel=1e-9)
    assert ax.get_xlabel() == "preload and pump force (kN)"
    assert "the pump force, median 58" in named.alt
    drawn = [p for p in ax.patches if hasattr(p, "get_data") and p.get_fill()]
    pulled, residual, _, over = (p.get_data() for p in drawn)
    middle = 0.5 * (pulled.edges[:-1] + pulled.edges[1:])
    # Of N draws, within four standard errors.
    assert np.average(middle, weights=pulled.values) == pytest.approx(58.0, abs=4 * 2.32 / N**0.5)
    # What is left is 0.8 of it: no more than half a bin beside that.
    left = np.average(middle, weights=residual.values)
    assert left == pytest.approx(0.8 * 58.0, abs=0.5)
    assert over.values.sum() == pytest.approx(100.0 * result.samples.kept.over.mean(), abs=0.05)
    assert over.values.sum() > 0.0
    assert (over.edges[1:][over.values > 0] > 62.0).all()
    (ax,) = path_figure(result).figure.axes
    levels = sorted(line.get_ydata()[0] for line in ax.lines if line.is_dashed())
    assert levels == pytest.approx([28.0, 0.8 * 62.0], rel=1e-9)


def test_the_histogram_holds_all_joints_and_hatches_the_misses(make_case):
    overrides = {**scattered_friction(), "requirement.minimum_preload": "38 kN"}
    result = run(make_case(overrides), samples=N, ranking=True)
    (ax,) = histogram_figure(result).figure.axes
    drawn = [p for p in ax.patches if hasattr(p, "get_data") and p.get_fill()]
    assembled, residual, under, over = (float(p.get_data().values.sum()) for p in drawn)
    assert assembled == pytest.approx(100.0, abs=0.05)
    assert residual == pytest.approx(100.0, abs=0.05)
    assert under == pytest.approx(100.0 * result.samples.kept.under.mean(), abs=0.05)
    assert over == 0.0
    assert drawn[2].get_hatch() != drawn[3].get_hatch()
    # Every hatched joint lies on its side of the edge, but for the bin that the edge cuts.
    values, ends, _ = drawn[2].get_data()
    assert ends[:-1][values > 0].max() <= 38.0


def test_the_tails_tell_their_probabilities(result):
    (ax,) = histogram_figure(result).figure.axes
    words = [text.get_text() for text in ax.texts]
    for name in ("under_preload", "over_preload"):
        assert with_powers(probability_words(result.outcome(name).probability)) in words


def test_the_path_shows_each_stage_with_the_window_that_judges_it(shipped):
    result = shipped["sensor_lid"]
    (ax,) = path_figure(result).figure.axes
    stages = path_stages(result)
    assert [stage.name for stage in stages] == ["assembled", "settled", "cold night", "hot roof"]
    names = [text.get_text().rsplit("\n", 1)[0] for text in ax.get_xticklabels()]
    assert names == [stage.name for stage in stages]
    for place, stage in enumerate(stages):
        bars = [bar for bar in ax.patches if round(bar.get_x() + bar.get_width() / 2, 9) == place]
        spans = {(round(b.get_y(), 6), round(b.get_y() + b.get_height(), 6)) for b in bars}
        assert spans == {
            (round(stage.quantile(low) / 1e3, 6), round(stage.quantile(high) / 1e3, 6))
            for low, high in ((0.01, 0.99), (0.05, 0.95), (0.25, 0.75))
        }
    judged = {(limit.stage, limit.side) for limit in result.window}
    assert judged == {
        ("assembled", "over"),
        *((stage, "under") for stage in ("settled", "cold night", "hot roof")),
        *((stage, "over") for stage in ("cold night", "hot roof")),
    }


def test_ranking_bars_stand_in_order_with_their_intervals(result):
    figure = ranking_figure(result.ranking).figure
    assert_legible(figure)
    (ax,) = figure.axes
    assert ax.get_xlabel().endswith("(%)")
    indices, order = result.ranking.indices, result.ranking.order
    expected = [
        (part[0][i], part[1][i], part[2][i])
        for i in order
        for part in (
            (indices.first, indices.first_low, indices.first_high),
            (indices.total, indices.total_low, indices.total_high),
        )
    ]
    assert [bar.get_width() for bar in ax.patches] == pytest.approx([100 * e[0] for e in expected])
    whiskers = [c.get_segments()[0][:, 0] for c in ax.collections]
    for whisker, (_, low, high) in zip(whiskers, expected, strict=True):
        assert whisker == pytest.approx([100 * low, 100 * high], abs=1e-9)
    totals = [bar.get_width() for bar in ax.patches[1::2]]
    assert totals == sorted(totals, reverse=True)
    bottoms = [bar.get_y() for bar in ax.patches]
    assert bottoms == sorted(bottoms)
    assert ax.yaxis_inverted()


def test_a_group_is_named_as_one(shipped):
    (ax,) = ranking_figure(shipped["conveyor_bracket"].ranking).figure.axes
    name = " ".join(ax.get_yticklabels()[0].get_text().split())
    assert name == "thread friction with bearing friction (one group)"
    assert strongest_inputs(shipped["conveyor_bracket"].ranking) == (
        "friction.thread",
        "friction.bearing",
    )


def test_the_scatter_marks_every_miss_up_to_a_cap(make_case):
    for minimum, capped in (("33 kN", False), ("40 kN", True)):
        overrides = {
            **scattered_friction(),
            "requirement.minimum_preload": minimum,
            "requirement.maximum_preload": "49 kN",
        }
        result = run(make_case(overrides), samples=N, ranking=True)
        kept = result.samples.kept
        assert bool(kept.under.sum() > MOST_MISSES) is capped
        assert kept.over.sum() > 0
        for ax in scatter_figure(result).figure.axes:
            marks = {line.get_marker(): line for line in ax.lines if line.get_linestyle() == "None"}
            assert len(marks) == 3
            for side, flags in (("under", kept.under), ("over", kept.over)):
                line = marks[SIDE_MARKER[side]]
                assert len(line.get_xdata()) == min(flags.sum(), MOST_MISSES)
                assert f"{len(line.get_xdata())} of {flags.sum():,}" in line.get_label()
            assert marks["v"].get_ydata().max() < float(minimum[:2])
            assert marks["o"].get_ydata().min() >= float(minimum[:2])


def test_files_are_the_same_to_the_last_byte(shipped, shipped_figures):
    again = run_figures(shipped["conveyor_bracket"])
    for one, other in zip(shipped_figures["conveyor_bracket", "metric"], again, strict=True):
        assert one.svg() == other.svg()
    png = again[0].png()
    assert png == shipped_figures["conveyor_bracket", "metric"][0].png()
    assert png.startswith(b"\x89PNG")


def test_svg_can_be_read_aloud_and_stands_beside_others(shipped_figures):
    svg = "{http://www.w3.org/2000/svg}"
    seen = set()
    for named in shipped_figures["conveyor_bracket", "metric"]:
        root = ET.fromstring(named.svg())
        assert root.get("role") == "img"
        assert root.get("aria-label") == named.alt
        assert root.find(f"{svg}title").text == named.title
        assert root.find(f"{svg}desc").text == named.alt
        assert root.get("width") is None
        assert any(t.text == named.title for t in root.iter(f"{svg}text"))
        ids = [element.get("id") for element in root.iter() if element.get("id")]
        assert len(set(ids)) == len(ids)
        assert not seen & set(ids)
        seen |= set(ids)
        text = named.svg().decode()
        for reference in text.split("url(#")[1:] + text.split('href="#')[1:]:
            assert reference.replace('"', ")").split(")")[0] in ids
        assert "<style" not in text
        assert "<metadata" not in text


def test_user_text_is_escaped_in_svg(make_case):
    name = 'hot <b> & "wet"'
    case = make_case({**scattered_friction(), **temperature_states(name)})
    named = path_figure(run(case, samples=100))
    assert ET.fromstring(named.svg()).get("aria-label") == named.alt
    assert name in named.alt


def test_dollars_in_names_are_not_mathematics(make_case):
    case = make_case({**scattered_friction(), **temperature_states("costs $5 or $6_0")})
    (ax,) = path_figure(run(case, samples=100)).figure.axes
    assert_legible(ax.figure)
    assert not any(text.get_parse_math() for text in ax.get_xticklabels())


def test_a_name_that_the_font_cannot_write_is_drawn_without_a_warning(make_case):
    case = make_case({**scattered_friction(), **temperature_states("寒夜")})
    named = path_figure(run(case, samples=100))
    assert "寒夜" in named.svg().decode()
    assert named.png()


def test_sentences_hold_the_main_numbers(shipped, shipped_figures):
    result = shipped["conveyor_bracket"]
    alts = {named.name: named.alt for named in shipped_figures["conveyor_bracket", "metric"]}
    stated = result.case.laws["requirement.minimum_preload"].mean / 1e3
    assert f"minimum ({stated:g} kN)" in alts["preload"]
    assert probability_words(result.outcome("under_preload").probability) in alts["preload"]
    median = result.preload[1].quantile(0.5) / 1e3
    assert f"settled median {median:.3g} kN, 98 % between" in alts["path"]
    assert "thread friction with bearing friction 8" in ranking_figure(result.ranking).alt
    differ = result.ranking.answer[2].removeprefix("Where they differ: ")
    assert alts["rankings"].endswith(differ)
    assert f"of {result.samples.kept.under.sum()}" in alts["scatter"]


def luminance(colour):
    """Relative luminance of WCAG 2.1, definition "relative luminance"."""
    channels = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour))
    return float(np.dot((0.2126, 0.7152, 0.0722), tuple(channels)))


def contrast(first, second):
    """Contrast ratio of WCAG 2.1, success criterion 1.4.3."""
    bright, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def test_colours_can_be_told_apart_in_grey():
    # WCAG 2.1, 1.4.3: text has a contrast of at least 4.5 to its ground.
    for colour in SIDE_COLOUR.values():
        assert contrast(colour, "white") >= 4.5
    assert contrast(*SIDE_COLOUR.values()) >= 1.5
    assert contrast(PREPARED, PALE) >= 2.0
    assert len(set(SIDE_MARKER.values())) == 2


def test_far_values_of_a_law_from_few_tests_leave_room_to_see_the_others(make_case):
    few = {"law": "lognormal", "mean": 0.12, "cov": "10 %", "tests": 3}
    case = make_case({"friction.thread": few, "friction.bearing": 0.12})
    figure = scatter_figure(run(case, samples=N, ranking=True)).figure
    (ax,) = figure.axes
    values = np.concatenate([line.get_xdata() for line in ax.lines if line.get_marker() != "None"])
    # Student's law of two degrees has no s.d.: among thousands some lie tens of scales off.
    low, high = ax.get_xlim()
    assert values.max() > high
    near = np.mean((low <= values) & (values <= high))
    assert 0.95 < near < 1.0
    assert "some lie beyond" in [text.get_text() for text in ax.texts]
    assert_legible(figure)
