"""Figure of the preload left in each fastener of a joint, against the window and in its place."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from preloadmc.judgement.edges import Edge
from preloadmc.limits import UNDER
from preloadmc.questions.run import JOINT_QUANTILES, JointResult, RunResult
from preloadmc.report.figures.joint_plan import (
    draw_plan,
    layout_words,
    plan_depth,
    stands_below,
)
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import draw_edge, write_above
from preloadmc.report.figures.preload import histogram_limits
from preloadmc.report.figures.style import (
    DASHES,
    INK,
    LEFT,
    LINE,
    PALE,
    PREPARED,
    RIGHT,
    SIDE_COLOUR,
    SIDE_TINT,
    WIDTH,
    axis_label,
    new_figure,
    plain_numbers,
    shown,
    shown_one,
    style,
    wrap,
)
from preloadmc.told import and_words
from preloadmc.units import FORCE, format_quantity

_HEIGHT = 2.5
# Beside the axes: the plan, and the gap to it, in inches.
_PLAN, _GAP = 1.9, 0.2
# Width of a bar, of its place: at most, and how it grows with the number of fasteners to that.
_WIDEST, _NARROWEST, _WIDER = 0.56, 0.12, 0.06
# What a digit takes on the axis, and the least gap between two numbers, in inches.
_DIGIT, _APART = 0.09, 0.06
# From so many fasteners on, outlines are thin.
_MANY = 50
_STEPS = (1, 2, 5, 10, 20, 50, 100)
_PAD = 0.06
# Medians of fasteners that are alike differ by less than so many standard errors: of 200 there is
# one pair in a thousand joints that differs by more.
_ALIKE = 6.0
# The standard error of a median over that of a mean, and quartiles of a normal law apart in s.d.
_OF_MEDIAN, _QUARTILES = 1.2533, 1.349
# So many fasteners are named; of more, one is and the rest are counted.
_NAMED = 4


def joint_position_figure(result: RunResult, system: str = "metric") -> NamedFigure | None:
    """Return the figure of residual preload by fastener; None where the case is of one."""
    joint, group = result.group, result.case.group
    if joint is None or group is None:
        return None
    title = "Preload left in each fastener of the joint"
    note = "residual preload; bars: the middle 50 and 98 % of joints; line across: median"
    facts = group.facts
    has_plan = facts.positions is not None
    below = has_plan and stands_below(facts)
    lines = [edge_line(result, edge, system) for edge in histogram_limits(result)]
    rows = sum(1 + line.count("\n") for line in lines)
    foot = plan_depth(facts, WIDTH - LEFT - RIGHT) if below else 0.0
    with style():
        figure, (ax,) = new_figure(
            title,
            note,
            height=_HEIGHT,
            above=0.16 + LINE * (rows + 1),
            below=0.5 + foot,
            right=_PLAN + _GAP + RIGHT if has_plan and not below else RIGHT,
        )
        draw_positions(ax, result, system)
        if has_plan:
            whole = float(figure.get_size_inches()[1])
            box = ax.get_position()
            if below:
                rect = (box.x0, 0.02 / whole, box.width, (foot - 0.02) / whole)
            else:
                rect = (1.0 - (_PLAN + RIGHT) / WIDTH, box.y0, _PLAN / WIDTH, box.height)
            draw_plan(
                figure.add_axes(rect),
                result,
                outlined(joint),
                system,
                alike=len(weakest_fasteners(joint)) == group.n,
            )
    return NamedFigure("joint_positions", title, _alt(result, joint, system), figure)


def draw_positions(ax: Axes, result: RunResult, system: str = "metric") -> None:
    """Draw the residual preload of each fastener as bars with a line at the median.

    The weakest are outlined; edges of the window are those of the fastener that governs.
    """
    joint = result.group
    assert joint is not None, "drawn of a joint of several fasteners"
    low, first, median, last, high = shown(joint.residual, FORCE, system)
    n = len(median)
    places = np.arange(1, n + 1)
    bar = min(_WIDEST, _NARROWEST + _WIDER * n)
    ax.bar(places, high - low, bar, low, color=PALE, linewidth=0.0, zorder=2)
    ax.bar(places, last - first, bar, first, color=PREPARED, linewidth=0.0, zorder=2)
    for fastener in outlined(joint):
        bottom, top = low[fastener], high[fastener]
        ax.bar(
            fastener + 1, top - bottom, bar, bottom, facecolor="none", edgecolor=INK,
            linewidth=1.2 if n < _MANY else 0.6, zorder=3,
        )  # fmt: skip
    half = 0.5 * bar + 0.06
    ax.hlines(median, places - half, places + half, color=INK, linewidth=1.6, zorder=4)
    ax.set_xlim(0.4, n + 0.6)
    width = ax.get_position().width * WIDTH
    ax.set_xticks(numbered(n, width))
    ax.tick_params(axis="x", length=0)
    ax.set_xlabel("fastener")
    ax.set_ylabel(axis_label("residual preload", FORCE, system))
    _draw_window(ax, result, (float(low.min()), float(high.max())), system)
    plain_numbers(ax.yaxis)
    write_above(ax, weakest_words(joint, system), 4.0, colour=INK, weight="bold")


def numbered(n: int, width: float) -> list[int]:
    """Return the fasteners, from 1, whose numbers fit under axes that are ``width`` inches wide."""
    needed = _DIGIT * len(str(n)) + _APART
    step = next(step for step in _STEPS if step * width / n >= needed or step == _STEPS[-1])
    found = list(range(step, n + 1, step))
    return found if step == 1 or (step - 1) * width / n < needed else [1, *found]


def _draw_window(ax: Axes, result: RunResult, ends: tuple[float, float], system: str) -> None:
    """Draw the edges of the window with their names above the axes, and shade what is outside."""
    limits = histogram_limits(result)
    values = [
        *ends,
        *(shown_one(end, FORCE, system) for edge in limits for end in (edge.low, edge.high)),
    ]
    low, high = min(values), max(values)
    pad = _PAD * ((high - low) or abs(high) or 1.0)
    low, high = max(low - pad, 0.0) if low >= 0.0 else low - pad, high + pad
    ax.set_ylim(low, high)
    for edge in limits:
        draw_edge(ax, edge, system, level=True)
        median = shown_one(edge.median, FORCE, system)
        outside = (low, median) if edge.side == UNDER else (median, high)
        ax.axhspan(*outside, color=SIDE_TINT[edge.side], linewidth=0, zorder=0)
    legend = ax.legend(
        handles=[
            Line2D(
                [],
                [],
                color=SIDE_COLOUR[edge.side],
                linewidth=1.4,
                dashes=DASHES,
                label=edge_line(result, edge, system),
            )
            for edge in limits
        ],
        loc="lower left",
        bbox_to_anchor=(0.0, 1.0),
        bbox_transform=ax.transAxes,
        frameon=False,
        borderpad=0.0,
        borderaxespad=0.0,
        labelspacing=0.2,
        handlelength=1.8,
    )
    # Above the words on the weakest.
    rise = (LINE + 0.06) / _HEIGHT
    legend.set_bbox_to_anchor((0.0, 1.0 + rise), ax.transAxes)
    for text, edge in zip(legend.get_texts(), limits, strict=True):
        text.set_color(SIDE_COLOUR[edge.side])


def edge_line(result: RunResult, edge: Edge, system: str) -> str:
    """Return name, state and preload of an edge, and the fastener it is of where they differ."""
    group = result.case.group
    assert group is not None, "a joint of several fasteners has a group"
    words = f"{edge.short_name}, {edge.state}: {edge.value_words(system)}"
    if len(group.facts.stations) > 1 or group.exceptions:
        words += f", for fastener {group.governing + 1}"
    return wrap(words, WIDTH - LEFT - RIGHT - 0.4)


def weakest_fasteners(joint: JointResult) -> tuple[int, ...]:
    """Return the fasteners, from 0, with the least median preload, as far as samples tell.

    Those within what sampling alone makes of the least one belong to them: all where all are alike.
    """
    first, median, last = (joint.residual[JOINT_QUANTILES.index(p)] for p in (0.25, 0.5, 0.75))
    error = _OF_MEDIAN * (last - first) / _QUARTILES / joint.judged.samples.joints**0.5
    least = joint.weakest_place
    within = _ALIKE * np.maximum(error, error[least]) + 1e-9 * abs(median[least])
    found = np.flatnonzero(median <= median[least] + within)
    return tuple(found.tolist())


def outlined(joint: JointResult) -> tuple[int, ...]:
    """Return the weakest fasteners, from 0, where they stand out: where they are half or less."""
    weakest = weakest_fasteners(joint)
    return weakest if 2 * len(weakest) <= joint.residual.shape[1] else ()


def weakest_words(joint: JointResult, system: str) -> str:
    """Return which fasteners have the least preload, and how much, in words."""
    weakest, n = weakest_fasteners(joint), joint.residual.shape[1]
    least = float(joint.residual[JOINT_QUANTILES.index(0.5), joint.weakest_place])
    value = f"median {format_quantity(least, FORCE, system, 3)}"
    if len(weakest) == n:
        return f"all fasteners alike: {value}"
    if not outlined(joint):
        return f"least left in {len(weakest)} of {n} fasteners alike: {value}"
    if len(weakest) > _NAMED:
        which = f"fastener {joint.weakest_place + 1} and {len(weakest) - 1} like it"
    else:
        which = f"fastener{'s' if len(weakest) > 1 else ''} " + and_words(
            [str(fastener + 1) for fastener in weakest]
        )
    return f"outlined, least left: {which}, {value}"


def _alt(result: RunResult, joint: JointResult, system: str) -> str:
    group = result.case.group
    assert group is not None, "a joint of several fasteners has a group"
    low, _, median, _, high = joint.residual
    most = int(median.argmax())
    ends = []
    for fastener in (joint.weakest_place, most):
        least, greatest = (
            format_quantity(float(values[fastener]), FORCE, system, 3) for values in (low, high)
        )
        ends.append(f"98 % between {least} and {greatest}")
    words = f"{weakest_words(joint, system).removeprefix('outlined, ')}, {ends[0]}"
    if len(weakest_fasteners(joint)) < group.n:
        value = format_quantity(float(median[most]), FORCE, system, 3)
        words += f"; most left: fastener {most + 1}, median {value}, {ends[1]}"
    edges = " and ".join(
        edge_line(result, edge, system).replace("\n", " ") for edge in histogram_limits(result)
    )
    place = layout_words(group.facts, system)
    plan = f" With a plan ({place}), darker where less is left." if place else ""
    return (
        f"Residual preload of each of the {group.n} fasteners of the joint: {words}. "
        f"Window: {edges}.{plan}"
    )
