"""The figure of all limits as rungs of a ladder, with the distribution of preload beside it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Patch

from preloadmc.judgement.edges import Edge
from preloadmc.judgement.verdicts import Judged
from preloadmc.judgement.wording import probability_words
from preloadmc.limits import FATIGUE, OVER, UNDER
from preloadmc.questions.run import RunResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import spread
from preloadmc.report.figures.preload import preload_bins, spread_words
from preloadmc.report.figures.style import (
    INK,
    LEFT,
    LINE,
    PALE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    WIDTH,
    axis_label,
    new_figure,
    plain_numbers,
    shown,
    shown_one,
    style,
    wrap,
)
from preloadmc.report.text.signs import NO_BREAK
from preloadmc.units import FORCE, Array, format_number, format_quantity, to_unit

SIDE_ARROW = {UNDER: "↑", OVER: "↓"}
SIDE_RULE = {UNDER: "must stay above", OVER: "must stay below"}
# Space beside the axes for the names, what of it leads to them, and what they fill, in inches.
_RIGHT = 2.75
_START, _BEND, _TEXT = 0.05, 0.23, 0.28
_NAME_WIDTH = _RIGHT - _TEXT - 0.14
_PANEL = (WIDTH - LEFT - _RIGHT) / 2.0
_LEAST_HEIGHT = 3.0
# Gap between the names, in inches.
_GAP = 0.06
# A rung is only named if it lies farther off than so many times the preload and the limits next
# to it.
_FAR = 2.0
# The axis starts at zero unless that costs more than this share of it.
_FROM_ZERO = 0.4
_PAD = 0.04
# In points.
_ARROW = 15.0
_BAND = 6.0


def draw_ladder(
    axes: Sequence[Axes], result: RunResult, rungs: Sequence[Edge], system: str = "metric"
) -> None:
    """Draw the distributions of preload on the first of two axes, and the rungs across both.

    Each rung has a lane of its own on the second axes, so that their bands stay apart.
    """
    beside, lanes = axes
    near = _near(result, rungs)
    bins = _draw_distributions(beside, result, near, system)
    ends = [
        float(bins[0]),
        float(bins[-1]),
        *(shown_one(end, FORCE, system) for rung in near for end in (rung.low, rung.high)),
    ]
    low, high = min(ends), max(ends)
    pad = _PAD * (high - low)
    beside.set_ylim(0.0 if low < _FROM_ZERO * high else low - pad, high + pad)
    for lane, rung in enumerate(near):
        median = shown_one(rung.median, FORCE, system)
        colour = SIDE_COLOUR[rung.side]
        for ax in axes:
            ax.axhline(median, color=colour, linewidth=0.9, zorder=4)
        if rung.varies:
            bottom, top = (shown_one(end, FORCE, system) for end in (rung.low, rung.high))
            lanes.vlines(lane, bottom, top, color=colour, linewidth=_BAND, alpha=0.35, zorder=3)
        lanes.annotate(
            "",
            (lane, median),
            (0.0, _ARROW if rung.side == UNDER else -_ARROW),
            textcoords="offset points",
            arrowprops={"arrowstyle": "<|-", "color": colour, "shrinkA": 0, "shrinkB": 0},
            zorder=5,
        )
    lanes.set_xlim(-0.7, len(near) - 0.3)
    lanes.set_xticks([])
    lanes.tick_params(axis="y", length=0)
    lanes.spines["left"].set_visible(False)
    lanes.spines["bottom"].set_visible(False)
    beside.set_ylabel(axis_label("preload", FORCE, system))
    plain_numbers(beside.xaxis, 3)
    plain_numbers(beside.yaxis)
    _name_rungs(lanes, rungs, near, system)
    _explain(beside, lanes)


def _draw_distributions(ax: Axes, result: RunResult, near: Sequence[Edge], system: str) -> Array:
    """Draw assembled and residual preload as upright histograms; return the ends of the bins."""
    path = result.samples.kept.path
    assembled, residual = (shown(path[stage], FORCE, system) for stage in ("assembled", "residual"))
    medians = [shown_one(rung.median, FORCE, system) for rung in near]
    bins = preload_bins(assembled, residual, medians)
    for values, fill, line in ((assembled, PALE, QUIET), (residual, PREPARED, INK)):
        percent = 100.0 / len(values) * np.histogram(values, bins)[0]
        ax.stairs(
            percent, bins, orientation="horizontal", fill=True, color=fill, alpha=0.75, zorder=2
        )
        ax.stairs(percent, bins, orientation="horizontal", color=line, linewidth=0.8, zorder=3)
    ax.set_xlim(left=0.0)
    step = f"{bins[1] - bins[0]:.10g}{NO_BREAK}{FORCE.unit(system)}"
    ax.set_xlabel(wrap(f"fasteners in each {step}{NO_BREAK}(%)", _PANEL))
    return bins


def _near(result: RunResult, rungs: Sequence[Edge]) -> tuple[Edge, ...]:
    """Return the rungs that are drawn: all but those far above the preload and its bounds."""
    floors = [rung.median for rung in rungs if rung.side == UNDER]
    ceilings = [rung.median for rung in rungs if rung.side == OVER]
    held = [s.quantile(0.99) for s in result.preload if s.name in ("assembled", "residual")]
    most = max(*held, *floors[-1:], *ceilings[:1])
    return tuple(rung for rung in rungs if rung.median <= _FAR * most)


def _name_rungs(ax: Axes, rungs: Sequence[Edge], near: Sequence[Edge], system: str) -> None:
    """Write the names beside the axes, spread so that they stay apart, with lines to the rungs."""
    low, high = ax.get_ylim()
    inch = (high - low) / _height(rungs, near, system)
    medians = [shown_one(rung.median, FORCE, system) for rung in rungs]
    depths = [inch * depth for depth in _depths(rungs, near, system)]
    places = spread([min(median, high) for median in medians], depths, low, high)
    across = ax.get_yaxis_transform()
    start, bend, text = (1.0 + part / _PANEL for part in (_START, _BEND, _TEXT))
    for rung, median, place in zip(rungs, medians, places, strict=True):
        colour = SIDE_COLOUR[rung.side]
        if rung in near:
            ax.plot(
                [1.0, start, bend],
                [median, median, place],
                color=colour,
                linewidth=0.7,
                transform=across,
                clip_on=False,
            )
        words = rung_words(rung, system, near=rung in near)
        ax.text(text, place, words, color=colour, transform=across, va="center")


def rung_words(rung: Edge, system: str, *, near: bool = True) -> str:
    """Return name, state and preload of a rung in lines that fit beside the axes."""
    value = format_quantity(rung.median, FORCE, system, 3).replace(" ", NO_BREAK)
    low, high = _ends(rung, system)
    if low != high:
        value += f" ({low} to {high})"
    if not near:
        value += f", off{NO_BREAK}the{NO_BREAK}axis"
    name = f"{SIDE_ARROW[rung.side]}{NO_BREAK}{rung.name}, {rung.state}"
    return f"{wrap(name, _NAME_WIDTH)}\n{wrap(value, _NAME_WIDTH)}"


def _ends(rung: Edge, system: str) -> list[str]:
    unit = FORCE.unit(system)
    return [format_number(to_unit(end, unit, FORCE), 3) for end in (rung.low, rung.high)]


def _depths(rungs: Sequence[Edge], near: Sequence[Edge], system: str) -> list[float]:
    words = (rung_words(rung, system, near=rung in near) for rung in rungs)
    return [LINE * (1 + name.count("\n")) + _GAP for name in words]


def _height(rungs: Sequence[Edge], near: Sequence[Edge], system: str) -> float:
    return max(_LEAST_HEIGHT, sum(_depths(rungs, near, system)))


def _explain(beside: Axes, lanes: Axes) -> None:
    """Say above the axes which distribution is which, and what the arrows mean."""
    beside.legend(
        handles=[
            Patch(facecolor=fill, edgecolor=line, linewidth=0.8, label=words)
            for words, fill, line in (("assembled", PALE, QUIET), ("residual", PREPARED, INK))
        ],
        loc="lower left",
        bbox_to_anchor=(0.0, 1.0),
        frameon=False,
        borderaxespad=0.2,
        borderpad=0.0,
        handlelength=1.4,
    )
    for side, rise in ((OVER, 18.0), (UNDER, 4.0)):
        lanes.annotate(
            f"{SIDE_ARROW[side]} {SIDE_RULE[side]}",
            (0.0, 1.0),
            (6.0, rise),
            xycoords="axes fraction",
            textcoords="offset points",
            va="bottom",
            color=SIDE_COLOUR[side],
        )


def ladder_figure(result: RunResult, system: str = "metric") -> NamedFigure:
    """Return the figure of the limits against preload."""
    found = result.ladder
    rungs = found.edges
    title = "Every limit at the preload that reaches it"
    note = _note(result, rungs)
    near = _near(result, rungs)
    beyond = wrap(_others_words(found.others), WIDTH - 0.3)
    lines = beyond.count("\n") + 1 if beyond else 0
    with style():
        figure, axes = new_figure(
            title,
            wrap(note, WIDTH - 0.3),
            height=_height(rungs, near, system),
            above=0.42 + LINE * wrap(note, WIDTH - 0.3).count("\n"),
            below=0.74 + LINE * lines,
            right=_RIGHT,
            columns=2,
        )
        figure.subplots_adjust(wspace=0.0)
        draw_ladder(axes, result, rungs, system)
        height = float(figure.get_size_inches()[1])
        figure.text(0.12 / WIDTH, 0.08 / height, beyond, va="bottom", linespacing=1.25)
    return NamedFigure("ladder", title, _alt(result, rungs, found.others, system), figure)


def _note(result: RunResult, rungs: Sequence[Edge]) -> str:
    """Say what a rung is."""
    words = "in the state that governs"
    if any(rung.varies for rung in rungs):
        words += "; line: median, bar and brackets: the middle 98 % of fasteners"
    if not result.case.joint.method.twists:
        words += "; at assembly: the preload that the pump force leaves"
    return words


def _others_words(others: Sequence[Judged]) -> str:
    """Return the limits that are no rung, with their probabilities."""
    told = {
        limit.name: f"{limit.governing_state}: probability {probability_words(limit.probability)}"
        for limit in others
    }
    tires = told.pop(FATIGUE.name, None)
    words = []
    if told:
        listed = "; ".join(f"{name}, {each}" for name, each in told.items())
        words.append(f"Not a matter of preload: {listed}.")
    if tires is not None:
        words.append(f"Fatigue goes by how far the parts open; {tires}.")
    return " ".join(words).replace(" %", f"{NO_BREAK}%")


def _alt(result: RunResult, rungs: Sequence[Edge], others: Sequence[Judged], system: str) -> str:
    stages = {stage.name: stage for stage in result.preload}
    held = ", ".join(
        f"{name} {spread_words(stages[name], system)}" for name in ("assembled", "residual")
    )
    listed = []
    for side in (UNDER, OVER):
        mine = []
        for rung in rungs:
            if rung.side == side:
                low, high = _ends(rung, system)
                value = format_quantity(rung.median, FORCE, system, 3)
                band = f" ({low} to {high})" if low != high else ""
                mine.append(f"{rung.name}, {rung.state} {value}{band}")
        if mine:
            listed.append(f"it {SIDE_RULE[side]} " + "; ".join(mine))
    beyond = _others_words(others)
    return f"Preload, {held}: {'. And '.join(listed)}." + (f" {beyond}" if beyond else "")
