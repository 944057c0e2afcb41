"""The ladder of limits and the likeliest misses, read from their axes."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from legible import assert_legible, drawn_text

from preloadmc import run
from preloadmc.inputs import input_label
from preloadmc.judgement.wording import probability_words
from preloadmc.limits import OVER, UNDER
from preloadmc.report.figures.ladder import SIDE_ARROW, ladder_figure
from preloadmc.report.figures.likeliest import (
    HARDLY_OFF,
    MOST_ROWS,
    likeliest_figure,
    likeliest_misses,
    named_inputs,
    value_and_mean,
)
from preloadmc.report.figures.pieces import spread
from preloadmc.report.figures.style import SIDE_COLOUR, SIDE_HATCH
from preloadmc.report.text.likeliest import WORTH_NAMING

N = 8192
# 1 lbf = 0.45359237 kg x 9.80665 m/s2, exact by definition (NIST SP 811, B.8).
LBF = 4.4482216152605
LAW = {"law": "lognormal", "mean": 0.12, "cov": "12 %"}
FRICTION = {"friction.thread": LAW, "friction.bearing": LAW}
LONG = "the coldest night of a long winter in the mountains"
AROUND = {"law": "normal", "mean": "60 degC", "sd": "4 K"}
LOAD = {"law": "normal", "mean": "6 kN", "sd": "1 kN"}
WASHER = {"material": "steel C45", "thickness": "3 mm", "outer_diameter": "24 mm"}
CROWDED = {
    **FRICTION,
    "joint": None,
    "clamped": [WASHER, {"material": "aluminium 6082", "thickness": "30 mm"}, WASHER],
    "fastener.engagement": "10 mm",
    "fastener.mate_tensile_strength": "800 MPa",
    "fastener.nut_width_across_flats": "18 mm",
    "fastener.yield_strength": {"law": "normal", "mean": "1000 MPa", "cov": "3 %"},
    "friction.joint": {"law": "normal", "mean": 0.2, "sd": 0.02},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "settling.embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %"},
    "temperature.assembly": "20 degC",
    "temperature.state": [
        {"name": name, "fastener": AROUND, "clamped": AROUND, "axial": LOAD, "transverse": LOAD}
        for name in (LONG, f"{LONG} again", "W" * 60, "hot")
    ],
    "load": {"axial": LOAD, "transverse": LOAD},
    "requirement.maximum_preload": {"from": "yield", "fraction": 0.9},
}
PLASTIC = {
    **FRICTION,
    "joint": None,
    "clamped": [{"material": "steel", "thickness": "40 mm"}],
    "fastener.plastic_strain": 0.05,
    "tightening": {"method": "torque then angle", "torque": "20 N·m", "angle": "90 deg"},
    "requirement": {"minimum_preload": "28 kN", "maximum_plastic_elongation": "0.4 mm"},
}
TENSIONED = {
    "tightening": {
        "method": "hydraulic tensioning",
        "pump_force": {"law": "normal", "mean": "50 kN", "sd": "3 kN"},
        "transfer_ratio": 0.8,
    },
}
EXTREMES = {
    "crowded": CROWDED,
    "past yield": PLASTIC,
    "tensioned": TENSIONED,
    "far below": {**FRICTION, "requirement.minimum_preload": "0.1 kN"},
    "far above": {
        **FRICTION,
        "requirement.minimum_preload": "75 kN",
        "requirement.maximum_preload": "900 kN",
    },
}


@pytest.fixture
def crane(shipped):
    return shipped["crane_bracket"]


@pytest.fixture(params=EXTREMES)
def extreme(request, make_case):
    return run(make_case(EXTREMES[request.param]), samples=N)


@pytest.mark.slow
def test_both_are_legible_in_shipped_cases_of_all_kinds(shipped):
    for name in ("crane_bracket", "securing_choice", "sensor_lid", "tested_friction"):
        result = shipped[name]
        for system in ("metric", "inch"):
            for draw in (ladder_figure, likeliest_figure):
                named = draw(result, system)
                assert_legible(named.figure)
                assert named.alt.endswith(".")


def test_both_are_legible_in_extreme_cases(extreme):
    for draw in (ladder_figure, likeliest_figure):
        named = draw(extreme, "inch")
        if named is not None:
            assert_legible(named.figure)


def levels(ax):
    """Heights of the lines across the whole axes."""
    return sorted(
        float(line.get_ydata()[0]) for line in ax.lines if list(line.get_xdata()) == [0, 1]
    )


@pytest.mark.parametrize(("system", "unit"), [("metric", 1e3), ("inch", LBF)])
def test_rungs_stand_where_the_limits_are_reached(crane, system, unit):
    beside, lanes = ladder_figure(crane, system).figure.axes
    rungs = crane.ladder.edges
    low, high = beside.get_ylim()
    drawn = [rung for rung in rungs if rung.median / unit < high]
    assert len(drawn) == len(rungs) - 1
    for ax in (beside, lanes):
        assert levels(ax) == pytest.approx([rung.median / unit for rung in drawn])
    bands = [band.get_segments()[0][:, 1] for band in lanes.collections]
    varying = [rung for rung in drawn if rung.varies]
    for band, rung in zip(bands, varying, strict=True):
        assert band == pytest.approx([rung.low / unit, rung.high / unit])
        assert low <= band[0] < band[1] <= high
    # No two bands share a lane.
    places = [float(band.get_segments()[0][0, 0]) for band in lanes.collections]
    assert len(set(places)) == len(places)


def test_arrows_point_to_where_the_preload_must_stay(crane):
    _, lanes = ladder_figure(crane).figure.axes
    rungs = crane.ladder.edges
    arrows = [text for text in lanes.texts if getattr(text, "arrow_patch", None)]
    assert len(arrows) == len(rungs) - 1
    for arrow, rung in zip(arrows, rungs, strict=False):
        assert arrow.xy[1] == pytest.approx(rung.median / 1e3)
        assert (arrow.xyann[1] > 0) == (rung.side == UNDER)


def test_names_stand_in_the_order_of_the_rungs(crane):
    _, lanes = ladder_figure(crane).figure.axes
    rungs = crane.ladder.edges
    names = [text for text in lanes.texts if "," in text.get_text()]
    assert [text.get_color() for text in names] == [SIDE_COLOUR[rung.side] for rung in rungs]
    for text, rung in zip(names, rungs, strict=True):
        words = " ".join(text.get_text().split())
        assert words.startswith(f"{SIDE_ARROW[rung.side]} {rung.name}, {rung.state} ")
    heights = [text.get_position()[1] for text in names]
    assert heights == sorted(heights)
    slip = next(rung for rung in rungs if rung.name == "slip")
    ends = f"{slip.median / 1e3:.3g}\xa0kN ({slip.low / 1e3:.3g} to {slip.high / 1e3:.3g})"
    assert names[rungs.index(slip)].get_text().endswith(ends)
    assert names[-1].get_text().endswith("242\xa0kN, off\xa0the\xa0axis")


def test_the_distributions_hold_all_joints(crane):
    beside, _ = ladder_figure(crane).figure.axes
    filled = [patch.get_data() for patch in beside.patches if patch.get_fill()]
    for data, stage in zip(filled, ("assembled", "residual"), strict=True):
        assert data.values.sum() == pytest.approx(100.0, abs=0.05)
        middles = 0.5 * (data.edges[1:] + data.edges[:-1])
        mean = float(np.average(middles, weights=data.values))
        assert mean == pytest.approx(crane.samples.kept.path[stage].mean() / 1e3, rel=0.005)


@pytest.mark.slow
def test_what_is_no_preload_is_told_with_its_probability(make_case):
    result = run(make_case(PLASTIC), samples=N)
    named = ladder_figure(result)
    (words,) = (
        " ".join(text.split())
        for text, _ in drawn_text(named.figure)
        if text.startswith("Not a matter")
    )
    elongation = next(limit for limit in result.limits if limit.name == "plastic elongation")
    told = probability_words(elongation.probability)
    assert f"plastic elongation, assembly: probability {told}; spontaneous back-off" in words
    assert "plastic elongation" in named.alt


def test_a_tensioner_is_said_to_be_judged_on_its_pump_force(make_case):
    named = ladder_figure(run(make_case(TENSIONED), samples=100))
    assert any("pump force" in text for text, _ in drawn_text(named.figure))


def test_the_sentence_of_the_ladder_holds_its_numbers(crane):
    alt = ladder_figure(crane).alt
    assert "slip, summer, full hook 51." in alt
    assert "it must stay below pressure under head, assembly 115 kN" in alt
    # 260 MPa of 6082 on the base of a cone of 30 deg below a washer of 6 mm: 122.8 kN.
    assert "pressure under the head's washer, assembly 123 kN" in alt
    assert "spontaneous back-off" in alt
    assert "Fatigue goes by how far the parts open; summer, full hook: probability below" in alt


depths = st.lists(st.tuples(st.floats(-5, 15), st.floats(0.1, 2.0)), min_size=1, max_size=8)


@given(depths)
def test_spread_labels_neither_overlap_nor_leave_their_room(labels):
    labels = sorted(labels)
    wanted, deep = zip(*labels, strict=True)
    places = spread(wanted, deep, 0.0, 16.0)
    ends = [(at - 0.5 * depth, at + 0.5 * depth) for at, depth in zip(places, deep, strict=True)]
    assert ends[0][0] >= -1e-9
    assert ends[-1][1] <= 16.0 + 1e-9
    for (_, top), (bottom, _) in pairwise(ends):
        assert bottom >= top - 1e-9


def test_labels_that_fit_stay_where_they_are_wanted():
    assert spread([2.0, 4.0, 9.0], [1.0, 2.0, 1.0], 0.0, 10.0) == pytest.approx([2.0, 4.0, 9.0])


def test_the_likeliest_misses_as_bars(crane):
    named = likeliest_figure(crane)
    misses = likeliest_misses(crane)
    names = named_inputs(misses)
    assert list(misses) == [UNDER, OVER]
    for ax, (side, miss) in zip(named.figure.axes, misses.items(), strict=True):
        items = {item.name: item for item in miss.inputs}
        bars = list(ax.patches)
        widths = [bar.get_x() + bar.get_width() if bar.get_x() else bar.get_width() for bar in bars]
        assert widths == pytest.approx([items[name].z for name in names])
        assert {bar.get_hatch() for bar in bars} == {SIDE_HATCH[side]}
        low, high = ax.get_xlim()
        assert low == -high
        words = [text.get_text() for text in ax.texts]
        for name in names:
            item = items[name]
            worth = abs(item.z) >= WORTH_NAMING
            assert (value_and_mean(item, "metric") if worth else HARDLY_OFF) in words
        heading = next(text.replace("\n", " ") for text in words if "beta" in text)
        assert heading == f"{miss.limit}, {miss.state}; beta\xa0{miss.beta:.2f}"
    labels = [
        " ".join(label.get_text().split()) for label in named.figure.axes[0].get_yticklabels()
    ]
    assert labels == [input_label(name) for name in names]


@pytest.mark.slow
def test_rows_are_those_worth_naming(crane, make_case):
    misses = likeliest_misses(crane)
    names = named_inputs(misses)
    farthest = {
        item.name: max(abs(other.z) for miss in misses.values() for other in miss.inputs
                       if other.name == item.name)
        for item in misses[UNDER].inputs
    }  # fmt: skip
    assert set(names) == {name for name, z in farthest.items() if z >= WORTH_NAMING}
    assert [farthest[name] for name in names] == sorted(
        (farthest[name] for name in names), reverse=True
    )
    crowded = run(make_case(CROWDED), samples=N)
    assert len(crowded.case.uncertain) > MOST_ROWS
    assert len(named_inputs(likeliest_misses(crowded))) <= MOST_ROWS


def test_the_sentence_of_the_likeliest_holds_its_numbers(crane):
    named = likeliest_figure(crane)
    first = likeliest_misses(crane)[UNDER].inputs[0]
    assert f"beta {likeliest_misses(crane)[UNDER].beta:.2f}" in named.alt
    told = f"{input_label(first.name)} {value_and_mean(first, 'metric')} ({first.z:+.1f} s.d.)"
    assert told in named.alt


def test_a_miss_that_plain_samples_resolve_has_a_likeliest_way(shipped):
    # Too few of the kept samples miss, but sampling on resolves it.
    result = shipped["sensor_lid"]
    probability = result.estimates["under_preload"].probability
    assert (probability.method, probability.samples > N) == ("plain", True)
    assert list(likeliest_misses(result)) == [UNDER, OVER]


def test_no_likeliest_way_where_nothing_scatters(make_case):
    assert likeliest_figure(run(make_case(), samples=100)) is None


def test_temperatures_are_told_in_the_reader_s_degrees(shipped):
    misses = likeliest_misses(shipped["sensor_lid"])
    item = next(item for item in misses[UNDER].inputs if "clamped" in item.name)
    assert value_and_mean(item, "metric").endswith("mean -35 °C")
    assert value_and_mean(item, "inch").endswith("mean -31 °F")
