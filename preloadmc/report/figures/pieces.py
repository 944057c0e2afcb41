"""Pieces that the figures share: edges of the window, nested bands, bars with intervals."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Patch

from preloadmc.judgement.edges import Edge
from preloadmc.questions.run import Stage
from preloadmc.report.figures.style import (
    DASHES,
    HAIR,
    INK,
    LINE,
    PALE,
    PREPARED,
    SIDE_COLOUR,
    shown_one,
    wrap,
)
from preloadmc.report.text.signs import NO_BREAK
from preloadmc.units import FORCE, Array

# What holds 98, 90 and 50 % of the joints: quantiles, width of the bar, colour.
_BANDS = ((0.01, 0.99, 0.10, PALE), (0.05, 0.95, 0.18, HAIR), (0.25, 0.75, 0.26, PREPARED))
BANDS_WORDS = "bars: the middle 50, 90 and 98 % of fasteners; line across: median"
_BAND_ALPHA = 0.16
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
BACKED = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.8}


def draw_edge(ax: Axes, limit: Edge, system: str, *, level: bool = False) -> None:
    """Draw an edge of the window upright or level; with its band of 1 to 99 % where it varies."""
    colour = SIDE_COLOUR[limit.side]
    line, span = (ax.axhline, ax.axhspan) if level else (ax.axvline, ax.axvspan)
    low, median, high = _ends(limit, system)
    if limit.varies:
        span(low, high, color=colour, alpha=_BAND_ALPHA, linewidth=0, zorder=1)
    line(median, color=colour, linewidth=1.4, dashes=DASHES, zorder=4)


def draw_edge_at(ax: Axes, limit: Edge, place: float, half: float, system: str) -> None:
    """Draw an edge of the window across one place of a path; with its band where it varies."""
    colour = SIDE_COLOUR[limit.side]
    low, median, high = _ends(limit, system)
    reach = [place - half, place + half]
    if limit.varies:
        ax.fill_between(reach, low, high, color=colour, alpha=_BAND_ALPHA, linewidth=0, zorder=1)
    ax.plot(reach, [median, median], color=colour, linewidth=1.4, dashes=DASHES, zorder=4)


def _ends(limit: Edge, system: str) -> tuple[float, float, float]:
    return (
        shown_one(limit.low, FORCE, system),
        shown_one(limit.median, FORCE, system),
        shown_one(limit.high, FORCE, system),
    )


def draw_bands(ax: Axes, stage: Stage, place: float, system: str) -> None:
    """Draw the quantiles of a stage as nested upright bars with a line at the median."""
    for low, high, width, colour in _BANDS:
        bottom, top = (shown_one(stage.quantile(p), FORCE, system) for p in (low, high))
        ax.bar(place, top - bottom, width, bottom, color=colour, linewidth=0, zorder=2)
    median = shown_one(stage.quantile(0.5), FORCE, system)
    ax.plot([place - 0.16, place + 0.16], [median, median], color=INK, linewidth=1.6, zorder=3)


def draw_interval_bar(
    ax: Axes,
    place: float,
    value: float,
    low: float,
    high: float,
    *,
    thickness: float,
    colour: str,
    words: str = "",
) -> None:
    """Draw a level bar from zero with its interval as a whisker.

    Beside it stand the ``words``; by default its value in per cent.
    """
    ax.barh(place, value, thickness, color=colour, edgecolor=INK, linewidth=0.6, zorder=2)
    ax.errorbar(
        value,
        place,
        xerr=[[value - low], [high - value]],
        color=INK,
        elinewidth=1.0,
        capsize=2.5,
        zorder=3,
    )
    ax.annotate(
        words or percent_words(value),
        (max(high, value), place),
        xytext=(5, 0),
        textcoords="offset points",
        va="center_baseline",
        bbox=BACKED,
    )


def row_depths(names: Sequence[str], least: float, spare: float = 0.5) -> list[float]:
    """Return the depth of each row [inches]: ``least``, or what its wrapped name needs.

    ``spare`` is what is left between the names of two rows, in lines.
    """
    return [max(least, LINE * (1 + name.count("\n") + spare)) for name in names]


def row_places(depths: Sequence[float]) -> Array:
    """Return the middle of each row below the top of the first [inches]."""
    places: Array = np.cumsum(depths) - 0.5 * np.array(depths)
    return places


def name_rows(ax: Axes, names: Sequence[str], depths: Sequence[float]) -> None:
    """Let the upright axis measure inches from the top down, with a name beside each row.

    Long names fit then, since a row is as deep as its name needs.
    """
    ax.set_ylim(sum(depths), 0.0)
    ax.set_yticks(row_places(depths), names)
    ax.tick_params(axis="y", length=0)
    ax.spines["left"].set_visible(False)


def explain_bars(ax: Axes, bars: Sequence[tuple[str, str]]) -> None:
    """Say above the axes what the bars of each colour are; ``bars`` are colours and words."""
    ax.legend(
        handles=[
            Patch(facecolor=colour, edgecolor=INK, linewidth=0.6, label=words)
            for colour, words in bars
        ],
        loc="lower right",
        bbox_to_anchor=(1.0, 1.0),
        ncols=2,
        frameon=False,
        borderaxespad=0.2,
        handlelength=1.4,
    )


def write_above(
    ax: Axes,
    words: str,
    rise: float,
    *,
    colour: str,
    weight: str = "normal",
    at_right: bool = False,
) -> None:
    """Write above the axes, ``rise`` points up, from their left end or up to their right one."""
    ax.annotate(
        words,
        (1.0 if at_right else 0.0, 1.0),
        (0.0, rise),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="right" if at_right else "left",
        va="bottom",
        color=colour,
        weight=weight,
    )


def percent_words(percent: float) -> str:
    """Return a share in per cent as it stands beside a bar.

    Examples
    --------
    >>> percent_words(85.5), percent_words(1.64), percent_words(0.004), percent_words(-0.004)
    ('86 %', '1.6 %', '< 0.1 %', '0 %')
    """
    if abs(percent) < 0.05:
        return "< 0.1 %" if percent > 0.0 else "0 %"
    return f"{percent:.0f} %" if abs(percent) >= 9.95 else f"{percent:.1f} %"


def decade_words(power: float) -> str:
    """Return a power of ten as it stands beside an axis.

    Examples
    --------
    >>> decade_words(1e5), decade_words(0.01), decade_words(1e-12)
    ('100,000', '0.01', '10⁻¹²')
    """
    if power >= 1.0:
        return f"{power:,.0f}"
    if power >= 1e-3:
        return f"{power:g}"
    return "10" + f"{round(math.log10(power))}".translate(_RAISED)


def edge_words(limit: Edge, inches: float, system: str) -> str:
    """Return name and preload of an edge of the window in lines of at most ``inches``."""
    value = limit.value_words(system)
    number, unit = value.rsplit(" ", 1)
    return f"{wrap(limit.short_name, inches)}\n{wrap(f'{number}{NO_BREAK}{unit}', inches)}"


def spread(
    wanted: Sequence[float], depths: Sequence[float], low: float, high: float
) -> list[float]:
    """Return the middles of labels, near where they are wanted, that neither overlap nor swap.

    Parameters
    ----------
    wanted : sequence of float
        Middles that are wanted, in rising order.
    depths : sequence of float
        Depths of the labels in the same unit.
    low, high : float
        Ends of the room, at least as deep as all labels together.

    Examples
    --------
    >>> spread([1.0, 5.0, 5.2], [1.0, 1.0, 1.0], 0.0, 10.0)
    [1.0, 4.6, 5.6]
    >>> spread([9.9, 9.9], [1.0, 1.0], 0.0, 10.0)
    [8.5, 9.5]
    """
    # Stacked without gaps, each label is moved by a shift that may only rise from one to the next:
    # least squares under that order are means of neighbours pooled until they rise.
    stacked, foot = [], 0.0
    for depth in depths:
        stacked.append(foot + 0.5 * depth)
        foot += depth
    pools: list[list[float]] = []
    for place, middle in zip(wanted, stacked, strict=True):
        pool = [place - middle]
        while pools and sum(pools[-1]) / len(pools[-1]) > sum(pool) / len(pool):
            pool = pools.pop() + pool
        pools.append(pool)
    shifts = [sum(pool) / len(pool) for pool in pools for _ in pool]
    return [
        middle + min(max(shift, low), high - foot)
        for middle, shift in zip(stacked, shifts, strict=True)
    ]
