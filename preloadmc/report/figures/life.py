"""Figure of a joint over its service: preload against time, and too little of it by then."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FixedFormatter, FixedLocator, FuncFormatter, LogLocator, NullLocator

from preloadmc.limits import UNDER
from preloadmc.over_time import service_of
from preloadmc.questions.run import LIFE_QUANTILES, LifeResult, RunResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import BACKED, decade_words
from preloadmc.report.figures.style import (
    DASHES,
    DOTS,
    HAIR,
    INK,
    PALE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    axis_label,
    new_figure,
    plain_numbers,
    shown,
    shown_one,
    style,
)
from preloadmc.units import FORCE, TIME, format_quantity, parse_quantity, time_words

# Round times that an axis may show.
_ROUND = (
    "1 s", "1 min", "1 h", "1 d", "30 d", "1 year", "10 years", "100 years", "1000 years",
)  # fmt: skip
_MILLION = 1e6
_FEWEST_TICKS = 2
# Decades of probability that the axis shows at most.
_MOST_DECADES = 8


def draw_preload(ax: Axes, result: RunResult, life: LifeResult, system: str) -> None:
    """Draw the settled preload over time as bands, with what is needed and what is done."""
    rows = dict(zip(LIFE_QUANTILES, (shown(row, FORCE, system) for row in life.bands), strict=True))
    for low, high, colour in ((0.01, 0.99, PALE), (0.05, 0.95, HAIR), (0.25, 0.75, PREPARED)):
        ax.fill_between(life.times, rows[low], rows[high], color=colour, linewidth=0, zorder=2)
    ax.plot(life.times, rows[0.5], color=INK, linewidth=1.5, zorder=3)
    edges = [edge for edge in result.window if edge.side == UNDER]
    for edge in edges[:1]:
        needed = shown_one(edge.median, FORCE, system)
        ax.axhline(needed, color=SIDE_COLOUR[UNDER], linewidth=1.4, dashes=DASHES, zorder=4)
        ax.annotate(
            edge.short_name,
            (0.0, needed),
            (3, 3),
            xycoords=ax.get_yaxis_transform(),
            textcoords="offset points",
            color=SIDE_COLOUR[UNDER],
            bbox=BACKED,
            zorder=6,
        )
    for action in service_of(result.case.joint).actions:
        ax.axvline(action.at, color=QUIET, linewidth=0.9, dashes=DOTS, zorder=4)
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + 0.06 * (high - low))
    ax.set_ylabel(axis_label("settled preload", FORCE, system))
    plain_numbers(ax.yaxis)
    _time_axis(ax, float(life.times[0]), life.end)


def draw_under(ax: Axes, life: LifeResult) -> None:
    """Draw how likely too little preload is at and by each time, with intervals."""
    allowed = life.points[-1].by_then.allowed
    points = [
        ("by then", "v", SIDE_COLOUR[UNDER], [point.by_then for point in life.points]),
        ("at that time", "o", QUIET, [point.under for point in life.points]),
    ]
    sizes = [each.known.high for _, _, _, found in points for each in found]
    sizes += [] if allowed is None else [allowed]
    top = 3.0 * max(*sizes, 1e-12)
    bottom = max(min(sizes) / 10.0, top / 10.0**_MOST_DECADES)
    times = np.array([point.time for point in life.points])
    for name, marker, colour, found in points:
        # A bound has no value: only what it reaches up to is drawn.
        value = np.array([each.known.value or np.nan for each in found])
        low = np.array([max(each.known.low, bottom) for each in found])
        high = np.array([max(each.known.high, bottom) for each in found])
        ax.errorbar(
            times,
            _MILLION * low,
            [np.zeros(len(times)), _MILLION * (high - low)],
            fmt="none",
            ecolor=colour,
            elinewidth=1.0,
            capsize=2.5,
            zorder=4 if marker == "o" else 3,
        )
        ax.plot(
            times,
            _MILLION * np.maximum(value, bottom),
            color=colour,
            marker=marker,
            markersize=5 if marker == "v" else 3,
            linewidth=1.0,
            label=name,
            zorder=4 if marker == "o" else 3,
        )
    if allowed is not None:
        ax.axhline(_MILLION * allowed, color=INK, linewidth=1.2, dashes=DASHES, label="allowed")
    ax.set_yscale("log")
    ax.set_ylim(_MILLION * bottom, min(_MILLION * top, 1.5 * _MILLION))
    ax.yaxis.set_major_locator(LogLocator(10.0, numticks=6))
    ax.yaxis.set_minor_locator(NullLocator())
    ax.yaxis.set_major_formatter(FuncFormatter(lambda y, _: decade_words(y)))
    ax.set_ylabel("too little, per million")
    _time_axis(ax, min(life.points[0].time, 0.1 * life.end), life.end)
    ax.legend(
        loc="lower left",
        bbox_to_anchor=(-0.24, 1.0),
        ncols=3,
        handletextpad=0.4,
        frameon=False,
        borderpad=0.0,
        columnspacing=0.7,
        handlelength=1.2,
    )


def _time_axis(ax: Axes, first: float, last: float) -> None:
    ax.set_xscale("log")
    ax.set_xlim(first / 1.5, last * 1.8)
    ticks = [time for words in _ROUND if first <= (time := parse_quantity(words, TIME)) <= last]
    if len(ticks) < _FEWEST_TICKS:
        ticks = [first, last]
    ax.xaxis.set_major_locator(FixedLocator(ticks))
    ax.xaxis.set_major_formatter(FixedFormatter([_short(time) for time in ticks]))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.set_xlabel("time in service")


def _short(time: float) -> str:
    """Return a time as a tick says it: "1 d", "10 y"."""
    number, unit = time_words(time).split()
    return f"{number} {unit if unit in ('min', 'h', 's') else unit[0]}"


def life_figure(result: RunResult, system: str = "metric") -> NamedFigure | None:
    """Return the figure of a run's service; None where no time of it is stated."""
    life = result.life
    if life is None:
        return None
    title = "Preload over its service"
    note = "bands: the middle 50, 90 and 98 % of fasteners, settled; dotted: something is done"
    with style():
        figure, axes = new_figure(title, note, height=2.3, above=0.3, columns=2, one_scale=False)
        draw_preload(axes[0], result, life, system)
        draw_under(axes[1], life)
    ends = life.bands[LIFE_QUANTILES.index(0.5)]
    first, last = (format_quantity(float(ends[place]), FORCE, system, 3) for place in (0, -1))
    told = "; ".join(
        f"by {point.words} {point.by_then.words}, {point.by_then.verdict}" for point in life.points
    )
    alt = (
        f"Median settled preload {first} at first and {last} at {time_words(life.end)}. Too little "
        f"preload: {told}."
    )
    return NamedFigure("life", title, alt, figure)
