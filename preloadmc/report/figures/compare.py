"""Figures of a comparison: all preloads with their windows, cost against probability, control."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

from preloadmc.judgement.edges import Edge
from preloadmc.judgement.wording import quoted
from preloadmc.limits import OVER, UNDER
from preloadmc.questions.compare import Alternative, CompareResult, amount_words
from preloadmc.report.figures.control import control_figure
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import name_rows, row_depths
from preloadmc.report.figures.preload import PUMP_FORCE
from preloadmc.report.figures.style import (
    DASHES,
    INK,
    LINE,
    PALE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    axis_label,
    new_figure,
    nice_step,
    plain_numbers,
    shown,
    shown_one,
    style,
    wrap,
)
from preloadmc.report.text.judgement import doubted_words
from preloadmc.report.text.signs import with_powers
from preloadmc.units import FORCE, Array

_NAME_WIDTH = 1.55
_ROW = 0.66
_SPARE = 0.6
_BINS = 110
_DRAWN = (1e-4, 1.0 - 1e-4)
_MILLION = 1e6
_COST_HEIGHT = 2.9
# Costs that differ more than so many times stand on a log axis: else all but the dearest lie
# on one line.
_WIDE_COSTS = 20.0
_COST_RIGHT = 2.05


def compare_figures(result: CompareResult, system: str = "metric") -> tuple[NamedFigure, ...]:
    """Return the figures of a comparison; that of costs only where all alternatives have one."""
    return tuple(_figures(result, system))


def _figures(result: CompareResult, system: str) -> Iterator[NamedFigure]:
    yield preloads_figure(result, system)
    if all(each.expected_cost is not None for each in result.alternatives):
        yield cost_figure(result)
    for place, (name, worth) in enumerate(result.control.items(), 1):
        figure = control_figure(worth, f"control_{place}", f" with {quoted(name)}")
        if figure is not None:
            yield figure


def draw_preloads(ax: Axes, result: CompareResult, system: str = "metric") -> None:
    """Draw residual and assembled preload of each alternative on a row, with its own window.

    The upright axis measures inches: a row is as deep as its name needs.
    """
    names = [_row_words(each) for each in result.alternatives]
    depths = row_depths(names, _ROW, _SPARE)
    bottoms = np.cumsum(depths)
    drawn = [_Row(each, result, system) for each in result.alternatives]
    bins = _bins([values for row in drawn for values in (row.assembled, row.residual)], drawn)
    counts = [
        [np.histogram(row.assembled, bins)[0], np.histogram(row.residual, bins)[0]] for row in drawn
    ]
    for row, bottom, depth, (assembled, residual) in zip(
        drawn, bottoms, depths, counts, strict=True
    ):
        tallest = max(float(assembled.max()), float(residual.max()))
        for heights, fill, line in ((assembled, PALE, QUIET), (residual, PREPARED, INK)):
            tops = bottom - 0.84 * depth * heights / tallest
            ax.stairs(tops, bins, baseline=bottom, fill=True, color=fill, alpha=0.75, zorder=2)
            ax.stairs(tops, bins, baseline=None, color=line, linewidth=0.8, zorder=3)
        for limit in row.limits:
            place = shown_one(limit.median, FORCE, system)
            colour = SIDE_COLOUR[limit.side]
            ends = [bottom - 0.94 * depth, bottom]
            if limit.varies:
                low, high = (shown_one(end, FORCE, system) for end in (limit.low, limit.high))
                ax.fill_betweenx(ends, low, high, color=colour, alpha=0.16, linewidth=0, zorder=1)
            ax.plot([place, place], ends, color=colour, linewidth=1.4, dashes=DASHES, zorder=4)
        ax.axhline(bottom, color=QUIET, linewidth=0.6, zorder=5)
    name_rows(ax, names, depths)
    ax.set_xlim(float(bins[0]), float(bins[-1]))
    ax.set_xlabel(axis_label("preload", FORCE, system))
    plain_numbers(ax.xaxis)
    ax.legend(
        handles=[
            Patch(facecolor=PALE, edgecolor=QUIET, linewidth=0.8, label=_tightened_words(result)),
            Patch(facecolor=PREPARED, edgecolor=INK, linewidth=0.8, label="residual"),
            Line2D([], [], color=SIDE_COLOUR[UNDER], dashes=DASHES, label="minimum"),
            Line2D([], [], color=SIDE_COLOUR[OVER], dashes=DASHES, label="maximum"),
        ],
        loc="lower right",
        bbox_to_anchor=(1.0, 1.0),
        ncols=4,
        frameon=False,
        borderaxespad=0.2,
        handlelength=1.6,
        columnspacing=1.2,
    )


def _tightened_words(result: CompareResult) -> str:
    pulled = any(each.pulled is not None for each in result.alternatives)
    return f"assembled; {PUMP_FORCE} of a tensioner" if pulled else "assembled"


class _Row:
    """What is drawn of an alternative, in the unit printed."""

    def __init__(self, each: Alternative, result: CompareResult, system: str) -> None:
        # A tensioner is judged on its pump force, which is more than the preload that it leaves.
        made = each.path["assembled"] if each.pulled is None else each.pulled.force
        self.assembled = shown(made, FORCE, system)
        self.residual = shown(each.path["residual"], FORCE, system)
        self.limits = drawn_edges(each)
        ends = [end for limit in self.limits for end in (limit.low, limit.high)]
        self.edges = [shown_one(end, FORCE, system) for end in ends]


def drawn_edges(each: Alternative) -> tuple[Edge, ...]:
    """Return the strictest minimum over the judged states, and the maximum at assembly.

    That of a tensioner is on its pump force.
    """
    under = [limit for limit in each.window if limit.side == UNDER]
    over = [limit for limit in each.window if limit.side == OVER and limit.stage == "assembled"]
    if each.pulled is not None:
        over = list(each.pulled.edges)
    return (max(under, key=lambda limit: limit.median), *over)


def _row_words(each: Alternative) -> str:
    share = each.judged.outside.words
    outside = wrap(f"outside: {share}", _NAME_WIDTH)
    return f"{wrap(each.name, _NAME_WIDTH)}\n{with_powers(outside)}"


def _bins(values: Sequence[Array], rows: Sequence[_Row]) -> Array:
    """Return the ends of equal bins, on round numbers, that hold all preloads and windows."""
    ends = [float(end) for each in values for end in np.quantile(each, _DRAWN)]
    ends += [edge for row in rows for edge in row.edges]
    low, high = min(ends), max(ends)
    room = 0.03 * (high - low) or 1.0
    step = nice_step((high - low + 2.0 * room) / _BINS)
    first, last = np.floor((low - room) / step), np.ceil((high + room) / step)
    return step * np.arange(max(first, 0.0), last + 1.0)


def preloads_figure(result: CompareResult, system: str = "metric") -> NamedFigure:
    """Return the figure of all preloads on one axis."""
    title = "Preload of each alternative against its window"
    note = f"{len(result.z):,} sampled fasteners, the same in each row"
    with style():
        height = sum(row_depths([_row_words(each) for each in result.alternatives], _ROW, _SPARE))
        figure, (ax,) = new_figure(title, note, height=height, above=0.3, left=1.75, right=0.3)
        draw_preloads(ax, result, system)
    listed = "; ".join(
        f"{each.name} {doubted_words(each.judged.outside)}" for each in result.alternatives
    )
    alt = (
        "Histograms of assembled and residual preload by alternative; outside the window: "
        f"{listed}."
    )
    return NamedFigure("preloads", title, alt, figure)


def draw_cost(ax: Axes, result: CompareResult) -> None:
    """Draw expected cost against the probability to end outside the window, with intervals.

    Open marks are the cost to make alone. Names stand in a column at the right, joined to their
    marks, so that they never cover each other.
    """
    marks = [_mark(each) for each in result.alternatives]
    ax.set_xscale("log")
    for share, low, high, cost, to_make, bounded in marks:
        colour = QUIET if bounded else INK
        ax.plot([share, share], [to_make, cost[1]], color=PALE, linewidth=1.4, zorder=1)
        ax.plot(share, to_make, marker="o", color="white", markeredgecolor=colour, zorder=2)
        ax.errorbar(
            share,
            cost[1],
            xerr=[[share - low], [high - share]],
            yerr=[[cost[1] - cost[0]], [cost[2] - cost[1]]],
            color=colour,
            marker="<" if bounded else "o",
            markersize=6,
            elinewidth=1.0,
            capsize=2.5,
            zorder=3,
        )
    lowest, highest = min(mark[1] for mark in marks), max(mark[2] for mark in marks)
    ax.set_xlim(lowest / 2.0, highest * 2.0)
    tops = [mark[3][2] for mark in marks] + [mark[4] for mark in marks]
    bottoms = [mark[3][0] for mark in marks] + [mark[4] for mark in marks]
    spread = max(tops) > _WIDE_COSTS * min(bottoms) > 0.0
    if spread:
        ax.set_yscale("log")
        room = (max(tops) / min(bottoms)) ** 0.08
        ax.set_ylim(min(bottoms) / room, max(tops) * room)
    else:
        room = 0.08 * ((max(tops) - min(bottoms)) or max(tops) or 1.0)
        ax.set_ylim(min(bottoms) - room, max(tops) + room)
    _name_marks(ax, result, [(mark[0], mark[3][1]) for mark in marks])
    ax.set_xlabel("fasteners outside the window (per million)")
    currency = "" if result.case.cost is None else result.case.cost.currency
    ax.set_ylabel(f"cost a fastener ({currency})" if currency else "cost a fastener")
    ax.xaxis.set_major_locator(LogLocator(10.0, numticks=6))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:g}"))
    if spread:
        ax.yaxis.set_major_locator(LogLocator(10.0, subs=(1.0, 2.0, 5.0), numticks=12))
        ax.yaxis.set_minor_locator(NullLocator())
        ax.yaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:,.10g}"))
    else:
        plain_numbers(ax.yaxis, 6)


def _mark(
    each: Alternative,
) -> tuple[float, float, float, tuple[float, float, float], float, bool]:
    """Return share, low and high per million, expected cost with interval, and cost to make."""
    found = each.judged.outside.known
    cost, own = each.expected_cost, each.case.cost
    assert cost is not None
    assert own is not None
    bounded = found.bound == "upper"
    high = _MILLION * found.high
    share = high if bounded else _MILLION * found.value
    low = high if bounded else _MILLION * found.low
    low = low if low > 0.0 else share / 10.0
    return share, low, high, (cost.low, cost.value, cost.high), own.to_make, bounded


def _name_marks(ax: Axes, result: CompareResult, places: Sequence[tuple[float, float]]) -> None:
    """Write the names right of the axes from top to bottom, each joined to its mark."""
    names = [wrap(each.name, _COST_RIGHT - 0.3) for each in result.alternatives]
    order = sorted(range(len(names)), key=lambda i: -places[i][1])
    scale = ax.transData + ax.transAxes.inverted()
    needed = [LINE * (1 + names[i].count("\n")) / _COST_HEIGHT + 0.02 for i in order]
    wanted = [float(scale.transform(places[i])[1]) for i in order]
    top = 1.0
    spots = []
    for depth, want in zip(needed, wanted, strict=True):
        spot = min(want, top - 0.5 * depth)
        spots.append(spot)
        top = spot - 0.5 * depth
    if top < 0.0:  # too low: move all that stand too close up again
        floor = 0.0
        for k in reversed(range(len(spots))):
            spots[k] = max(spots[k], floor + 0.5 * needed[k])
            floor = spots[k] + 0.5 * needed[k]
    for i, spot in zip(order, spots, strict=True):
        ax.annotate(
            names[i],
            places[i],
            (1.04, spot),
            xycoords="data",
            textcoords="axes fraction",
            va="center",
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": QUIET, "linewidth": 0.6, "shrinkB": 4.0},
        )


def cost_figure(result: CompareResult) -> NamedFigure:
    """Return the figure of cost against probability."""
    title = "What each alternative costs, and how often it misses"
    note = "filled: with the cost of misses; open: to make alone; whiskers: 95 % intervals"
    with style():
        figure, (ax,) = new_figure(title, note, height=_COST_HEIGHT, right=_COST_RIGHT)
        draw_cost(ax, result)
    listed = "; ".join(
        f"{each.name} {amount_words(each.expected_cost)} at {doubted_words(each.judged.outside)}"
        for each in result.alternatives
        if each.expected_cost is not None
    )
    alt = f"Expected cost a fastener against the probability to end outside the window: {listed}."
    return NamedFigure("cost", title, alt, figure)
