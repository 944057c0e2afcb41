"""Figures of a whole joint, read from their axes: fasteners in place, passes, and lots."""

from dataclasses import replace

import numpy as np
import pytest
from legible import assert_legible, drawn_text
from matplotlib.colors import to_rgba

from preloadmc import check
from preloadmc.joint_samples import JointSamples
from preloadmc.judgement.joint_events import JointJudgement
from preloadmc.mechanics.interaction import after_each_pass
from preloadmc.questions.run import JOINT_QUANTILES, JointResult, LotShares
from preloadmc.report.figures.joint import (
    joint_position_figure,
    numbered,
    outlined,
    weakest_fasteners,
    weakest_words,
)
from preloadmc.report.figures.joint_lots import joint_lot_figure
from preloadmc.report.figures.joint_passes import ends_together, joint_pass_figure
from preloadmc.report.figures.joint_plan import numbers_that_fit
from preloadmc.report.figures.preload import histogram_limits
from preloadmc.report.figures.run import run_figures
from preloadmc.report.figures.style import INK, PALE, PREPARED, SIDE_COLOUR, SIDE_TINT

# 1 lbf = 0.45359237 kg x 9.80665 m/s2, exact by definition (NIST SP 811, B.8).
LBF = 4.4482216152605
JOINTS = 1500
MEDIAN = JOINT_QUANTILES.index(0.5)
INTERACTION = {"neighbours": ["15 %", "3 %"]}
TWO_PASSES = ["50 %", "100 %"]
GRID = [[f"{80 * i} mm", f"{60 * j} mm"] for j in range(10) for i in range(10)]
NARROW = [["0 mm", f"{90 * j} mm"] for j in range(12)]
GROUPS = {
    "two, no positions": {"fasteners": 2},
    "two on a circle": {"fasteners": 2, "circle": "90 mm", "interaction": {"neighbours": ["9 %"]}},
    "sixty": {
        "fasteners": 60, "circle": "1800 mm", "order": "star", "passes": TWO_PASSES,
        "interaction": INTERACTION,
    },
    "two hundred": {"fasteners": 200, "circle": "4800 mm", "interaction": INTERACTION},
    "row": {
        "fasteners": 7, "row": "80 mm", "order": "middle outwards", "passes": TWO_PASSES,
        "final_round": True, "interaction": INTERACTION,
    },
    "row of sixty": {"fasteners": 60, "row": "80 mm", "interaction": INTERACTION},
    "many passes": {
        "fasteners": 8, "circle": "240 mm", "passes": ["20 %", "40 %", "60 %", "80 %", "100 %"],
        "final_round": True, "interaction": INTERACTION,
    },
    "no interaction": {"fasteners": 16, "circle": "500 mm"},
    "grid": {"fasteners": 100, "positions": GRID},
    "one above the other": {"fasteners": 12, "positions": NARROW},
    "loads that differ": {
        "fasteners": 10, "positions": [[f"{80 * (i % 5)} mm", f"{70 * (i // 5)} mm"]
                                       for i in range(10)],
        "axial": "40 kN", "bending_moment": "300 N·m",
    },
}  # fmt: skip


def drawn_joint(case, scatter):
    """What a run finds of a joint: lognormal preloads at tightening, part of them in common."""
    facts = case.group.facts
    rng = np.random.default_rng(5)
    common, own = rng.standard_normal((JOINTS, 1)), rng.standard_normal((JOINTS, case.group.n))
    passes = after_each_pass(
        44e3 * np.exp(scatter * (0.06 * common + 0.08 * own)), facts.coefficients, facts.passes
    )
    samples = JointSamples(JOINTS, passes, 0.88 * passes[-1], {}, {}, {})
    residual = np.quantile(samples.residual, JOINT_QUANTILES, axis=0)
    return JointResult(
        JointJudgement((), samples),
        np.moveaxis(np.quantile(passes, JOINT_QUANTILES, axis=1), 0, 1),
        residual,
        np.quantile(samples.spreads, (0.5, 0.95), axis=1).T,
        int(residual[MEDIAN].argmin()),
        (),
        None,
    )


@pytest.fixture
def cover(shipped):
    return shipped["filter_cover"]


@pytest.fixture
def joint_run(cover, make_case):
    """A function from a group's table to a run with that joint, held against the cover's window."""

    def make(group, scatter=1.0):
        case = make_case({"group": group})
        return replace(cover, checked=check(case), group=drawn_joint(case, scatter))

    return make


def bars(ax, colour):
    """The bars of a colour from left to right: place, bottom and top."""
    found = [
        (bar.get_x() + 0.5 * bar.get_width(), bar.get_y(), bar.get_y() + bar.get_height())
        for bar in ax.patches
        if bar.get_facecolor() == to_rgba(colour)
    ]
    return np.array(sorted(found)).T


def words_of(figure):
    return [words for words, _ in drawn_text(figure)]


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_a_run_of_a_joint_has_its_figures_behind_the_histogram(cover, system):
    figures = run_figures(cover, system)
    assert [named.name for named in figures][:4] == [
        "preload",
        "joint_positions",
        "joint_passes",
        "joint_lots",
    ]
    for named in figures[1:4]:
        assert_legible(named.figure)
        assert named.alt.endswith(".")


def test_a_run_of_one_fastener_has_none_of_them(shipped):
    result = shipped["pump_cover"]
    assert joint_position_figure(result) is None
    assert joint_pass_figure(result) is None
    assert joint_lot_figure(result) is None


SLOW = {"two hundred": pytest.mark.slow}


@pytest.mark.parametrize("name", [pytest.param(name, marks=SLOW.get(name, ())) for name in GROUPS])
def test_odd_joints_are_legible_and_every_line_is_numbered_or_counted(joint_run, name):
    result = joint_run(GROUPS[name])
    facts = result.case.group.facts
    for system in ("metric", "inch"):
        named = joint_position_figure(result, system)
        assert_legible(named.figure)
        assert named.alt.endswith(".")
        passes = joint_pass_figure(result, system)
        assert (passes is not None) == facts.interacts
        if passes is None:
            continue
        assert_legible(passes.figure)
        counted = 0
        for text in passes.figure.axes[0].texts:
            numbers, _, more = text.get_text().partition(" + ")
            counted += len(numbers.split(", ")) + int(more.removesuffix(" more") or 0)
        assert counted == facts.fasteners


@pytest.mark.parametrize(("system", "unit"), [("metric", 1e3), ("inch", LBF)])
def test_each_fastener_has_its_band_over_its_number(cover, system, unit):
    ax = joint_position_figure(cover, system).figure.axes[0]
    low, first, median, last, high = cover.group.residual / unit
    places, bottoms, tops = bars(ax, PALE)
    assert places == pytest.approx(np.arange(1, 9))
    assert bottoms == pytest.approx(low)
    assert tops == pytest.approx(high)
    places, bottoms, tops = bars(ax, PREPARED)
    assert bottoms == pytest.approx(first)
    assert tops == pytest.approx(last)
    (lines,) = ax.collections
    assert [line[0, 1] for line in lines.get_segments()] == pytest.approx(median)
    assert ax.get_ylabel() == f"residual preload ({'kN' if system == 'metric' else 'lbf'})"
    assert ax.get_xlabel() == "fastener"
    bottom, top = ax.get_ylim()
    assert bottom < low.min()
    assert high.max() < top


@pytest.mark.parametrize(("system", "unit"), [("metric", 1e3), ("inch", LBF)])
def test_the_window_is_drawn_across_all_fasteners_and_named(cover, system, unit):
    named = joint_position_figure(cover, system)
    ax = named.figure.axes[0]
    limits = histogram_limits(cover)
    drawn = {line.get_color(): line.get_ydata()[0] for line in ax.lines if line.is_dashed()}
    assert drawn == pytest.approx({SIDE_COLOUR[each.side]: each.median / unit for each in limits})
    for text, edge in zip(ax.get_legend().get_texts(), limits, strict=True):
        words = f"{edge.short_name}, {edge.state}: {edge.value_words(system)}"
        assert text.get_text() == words
        assert text.get_color() == SIDE_COLOUR[edge.side]
        assert words in named.alt
    tints = [bar for bar in ax.patches if bar.get_facecolor() == to_rgba(SIDE_TINT["under"])]
    assert [bar.get_y() + bar.get_height() for bar in tints] == pytest.approx(
        [edge.median / unit for edge in limits if edge.side == "under"]
    )


def test_the_window_says_whose_it_is_where_loads_differ(joint_run):
    result = joint_run(GROUPS["loads that differ"])
    legend = joint_position_figure(result).figure.axes[0].get_legend()
    governing = result.case.group.governing + 1
    assert all(f"for fastener {governing}" in text.get_text() for text in legend.get_texts())


def test_the_weakest_are_outlined_and_named(joint_run):
    # Tightened from the middle of a row, the middle one comes first and loses to both sides.
    result = joint_run(GROUPS["row"] | {"passes": TWO_PASSES, "final_round": False})
    assert weakest_fasteners(result.group) == (3,)
    named = joint_position_figure(result)
    ax, plan = named.figure.axes
    outlines = [bar for bar in ax.patches if bar.get_edgecolor() == to_rgba(INK)]
    assert [bar.get_x() + 0.5 * bar.get_width() for bar in outlines] == pytest.approx([4.0])
    value = f"median {result.group.residual[MEDIAN, 3] / 1e3:.3g} kN"
    words = f"outlined, least left: fastener 4, {value}"
    assert words in words_of(named.figure)
    assert f"least left: fastener 4, {value}" in named.alt
    (points,) = plan.collections
    widths = np.array(points.get_linewidths())
    assert np.flatnonzero(widths == widths.max()).tolist() == [3]


def test_no_fastener_is_the_weakest_by_sampling_alone(joint_run):
    result = joint_run(GROUPS["no interaction"])
    assert weakest_fasteners(result.group) == tuple(range(16))
    assert outlined(result.group) == ()
    assert weakest_words(result.group, "metric").startswith("all fasteners alike: median ")
    (points,) = joint_position_figure(result).figure.axes[1].collections
    assert len({tuple(colour) for colour in points.get_facecolors()}) == 1


def test_two_fasteners_that_lose_alike_are_both_the_weakest(joint_run):
    # Crosswise in opposite pairs, 1 and 5 are tightened first, in the same surroundings.
    group = {
        "fasteners": 8,
        "circle": "240 mm",
        "order": "star",
        "tools_at_once": 2,
        "interaction": INTERACTION,
    }
    for scatter in (0.0, 1.0):
        assert weakest_fasteners(joint_run(group, scatter).group) == (0, 4)


def test_nearly_all_alike_are_not_outlined(joint_run):
    # Along a row each fastener loses to the next two, but for the last two.
    result = joint_run(GROUPS["row of sixty"])
    assert outlined(result.group) == ()
    assert weakest_words(result.group, "metric").startswith("least left in 58 of 60 fasteners")


def test_a_circle_stands_in_its_place_with_shades_by_preload(cover):
    plan = joint_position_figure(cover).figure.axes[1]
    (points,) = plan.collections
    drawn = np.array(points.get_offsets())
    about = drawn - drawn.mean(axis=0)
    positions = cover.case.group.facts.positions
    # One scale in both directions: the first to the right, then counter-clockwise.
    scale = np.hypot(*about[0]) / np.hypot(*positions[0])
    assert about == pytest.approx(scale * positions, abs=1e-9)
    # Lightness by the luminance of sRGB (IEC 61966-2-1), without its gamma.
    light = points.get_facecolors()[:, :3] @ (0.2126, 0.7152, 0.0722)
    rising = cover.group.residual[MEDIAN][np.argsort(light)]
    # Opposite ones lose alike, and samples tell no order of theirs.
    assert (np.diff(rising) > -0.005 * rising[0]).all()
    assert rising[-1] > 1.1 * rising[0]
    assert [text.get_text() for text in plan.texts[:8]] == [str(i) for i in range(1, 9)]
    assert any("circle 240 mm" in text.get_text() for text in plan.texts)


def test_a_row_stands_under_its_bars(joint_run):
    for name in ("row", "row of sixty"):
        figure = joint_position_figure(joint_run(GROUPS[name])).figure
        ax, plan = figure.axes
        under = plan.transData.transform(np.array(plan.collections[0].get_offsets()))[:, 0]
        n = len(under)
        above = ax.transData.transform(np.column_stack([np.arange(1, n + 1), np.zeros(n)]))[:, 0]
        assert under == pytest.approx(above, abs=0.5)
        assert plan.get_position().y1 < ax.get_position().y0


def test_there_is_no_plan_without_positions(joint_run):
    named = joint_position_figure(joint_run(GROUPS["two, no positions"]))
    assert len(named.figure.axes) == 1
    assert "plan" not in named.alt


def test_a_joint_without_scatter_is_drawn(joint_run):
    result = joint_run(GROUPS["sixty"], scatter=0.0)
    for named in (joint_position_figure(result), joint_pass_figure(result)):
        assert_legible(named.figure)


@pytest.mark.parametrize(("n", "width"), [(8, 3.3), (24, 3.3), (60, 3.3), (200, 3.3), (200, 5.3)])
def test_numbers_on_the_axis_thin_out(n, width):
    found = numbered(n, width)
    gaps = np.diff(found) * width / n
    # 9 points, 0.636 em a digit in DejaVu Sans: 0.08 inches.
    assert gaps.min() >= 0.08 * len(str(n))
    assert (found == list(range(1, 9))) == (n == 8)


def test_numbers_of_a_plan_touch_nothing():
    across, up = np.meshgrid(0.2 * np.arange(10), 0.2 * np.arange(10))
    places = np.column_stack([across.ravel(), up.ravel()])
    # Above each fastener, where only the last row is free.
    beside = (places + [0.0, 0.15])[None]  # noqa: RUF005
    found = numbers_that_fit(places, beside, 0.15, (0.25, 0.12), (95,))
    assert 95 in found
    assert set(found) <= set(range(90, 100))
    spots = sorted(x for x, _ in found.values())
    assert np.diff(spots).min() > 0.25


@pytest.mark.parametrize(("system", "unit"), [("metric", 1e3), ("inch", LBF)])
def test_lines_lead_from_pass_to_pass_by_fastener(cover, system, unit):
    (ax,) = joint_pass_figure(cover, system).figure.axes
    joint = cover.group
    drawn = sorted(tuple(np.round(line.get_ydata(), 6)) for line in ax.lines)
    median = joint.passes[:, MEDIAN] / unit
    assert np.array(drawn) == pytest.approx(np.array(sorted(map(tuple, median.T))), rel=1e-5)
    (dark,) = (line for line in ax.lines if line.get_color() == INK)
    assert dark.get_ydata() == pytest.approx(median[:, joint.weakest_place])
    (band,) = ax.collections
    corners = band.get_paths()[0].vertices
    for place, quantiles in enumerate(joint.passes[:, :, joint.weakest_place] / unit):
        ends = corners[corners[:, 0] == place, 1]
        assert (ends.min(), ends.max()) == pytest.approx((quantiles[0], quantiles[-1]))
    assert ax.get_ylabel() == f"preload ({'kN' if system == 'metric' else 'lbf'})"


def test_passes_are_named_with_their_spread(joint_run):
    result = joint_run(GROUPS["row"])
    named = joint_pass_figure(result)
    (ax,) = named.figure.axes
    names = [text.get_text().split("\n") for text in ax.get_xticklabels()]
    assert [name[0] for name in names] == ["50 %", "100 %", "last round"]
    for name, (middle, most) in zip(names, result.group.spreads, strict=True):
        words = " ".join(name[1:]).replace("\xa0", " ")
        assert words == f"spread {100 * middle:.2g} %, {100 * most:.2g} %"
        assert f"spread of the joint {100 * middle:.2g} %" in named.alt


def test_ends_stand_apart():
    ends = np.random.default_rng(1).normal(40.0, 2.0, 60)
    groups = ends_together(ends, 1.0)
    assert sorted(i for group in groups for i in group) == list(range(60))
    means = [ends[list(group)].mean() for group in groups]
    assert np.diff(means).min() >= 1.0


def lots(median, factor, asked=0.01, n=4096):
    """Lots of which the share of joints that miss is lognormal, as far as it is a share."""
    z = np.random.default_rng(3).standard_normal(n)
    misses = np.sort(np.minimum(median * factor**z, 1.0))
    names = ("tightening.bias", "friction.thread", "friction.bearing")
    return LotShares("least_clamp", misses, asked, float(np.mean(misses > asked)), names)


def with_lots(result, found):
    return replace(result, group=replace(result.group, lots=found))


@pytest.mark.parametrize(
    "found",
    [
        lots(1e-5, 20.0),
        lots(1e-3, 5.0),
        lots(1e-11, 3.0),
        lots(1e-26, 1e9),
        lots(0.15, 3.0),
        lots(0.003, 1.0),
        lots(1.0, 1.0),
        lots(0.05, 8.0, asked=1e-6),
    ],
)
def test_the_curve_tells_the_share_of_lots_beyond_each_share_of_joints(cover, found):
    named = joint_lot_figure(with_lots(cover, found))
    assert_legible(named.figure)
    (ax,) = named.figure.axes
    curve = ax.lines[0]
    x, y = curve.get_xdata(), curve.get_ydata()
    low, high = ax.get_xlim()
    assert low <= 1e6 * found.asked <= high
    # Between two lots the curve falls by one of them at most.
    for share in (found.asked, *found.quantiles):
        if low < 1e6 * share < high and found.misses[0] < share < found.misses[-1]:
            beyond = 100.0 * np.mean(found.misses > share)
            assert np.interp(1e6 * share, x, y) == pytest.approx(beyond, abs=100.0 / 4096)
    (asked,) = (line for line in ax.lines if list(line.get_ydata()) == [0, 1])
    assert asked.get_xdata()[0] == pytest.approx(1e6 * found.asked)
    assert ax.get_xscale() == "log"
    assert ax.get_xlabel() == "misses per million joints of a lot"
    assert ax.get_ylabel() == "lots with more (%)"


def test_the_share_of_lots_beyond_what_is_asked_is_told(cover):
    # A lognormal median of 0.001 and a factor of 10: 1 % is one s.d. above, and Phi(-1) = 0.1587.
    found = lots(1e-3, 10.0)
    assert found.share_of_lots == pytest.approx(0.1587, abs=0.02)
    named = joint_lot_figure(with_lots(cover, found))
    words = f"in {100 * found.share_of_lots:.2g} % of lots more than 1 % of joints miss"
    assert words.replace("in ", "In ", 1) in words_of(named.figure)
    assert words in named.alt
    note = " ".join(next(text for text in words_of(named.figure) if "differ by" in text).split())
    assert "lots and tools differ by tool bias, thread friction and bearing friction" in note


def test_no_lot_beyond_is_told_with_how_many_were_drawn(cover):
    named = joint_lot_figure(with_lots(cover, lots(1e-9, 3.0)))
    assert "in none of 4,096 drawn lots more than 1 % of joints miss" in named.alt


def test_there_is_no_figure_of_lots_where_none_differ_or_nothing_misses(cover):
    assert joint_lot_figure(with_lots(cover, None)) is None
    nothing = replace(lots(0.01, 2.0), misses=np.zeros(4096), share_of_lots=0.0)
    assert joint_lot_figure(with_lots(cover, nothing)) is None
