"""Figure of how joints differ from lot to lot: the share of lots in which more of them miss."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

from preloadmc.inputs import input_label
from preloadmc.judgement.wording import share_text
from preloadmc.questions.run import LotShares, RunResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import decade_words, write_above
from preloadmc.report.figures.style import (
    DOTS,
    INK,
    LINE,
    PALE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    SIDE_TINT,
    WIDTH,
    new_figure,
    plain_numbers,
    style,
    wrap,
)
from preloadmc.told import and_words

# Height of the axes, and beside them for half of the last number, in inches.
_HEIGHT, _RIGHT = 2.1, 0.42
_MILLION = 1e6
# Shares below are none, and stand at the left end of the axis.
_LEAST = 1e-12
# Powers of ten on the axis, and the ends of the lots that it holds.
_LEAST_DECADES, _MOST_DECADES = 2.5, 10
_DRAWN = (0.01, 0.999)


def joint_lot_figure(result: RunResult) -> NamedFigure | None:
    """Return the figure; None where lots do not differ or no joint misses in any."""
    joint = result.group
    lots = None if joint is None else joint.lots
    if joint is None or lots is None or lots.misses[-1] <= _LEAST:
        return None
    title = "How many joints miss, lot by lot"
    subject = joint.judged.named(lots.event).judged.subject
    note = wrap(
        f"miss: {subject}; lots and tools differ by {_names(lots)}; dotted: asked; "
        "dots: best twentieth of lots, median, worst twentieth",
        WIDTH - 0.3,
    )
    with style():
        figure, (ax,) = new_figure(
            title,
            note,
            height=_HEIGHT,
            above=0.3 + LINE * note.count("\n"),
            below=0.5,
            right=_RIGHT,
        )
        draw_lots(ax, result)
    low, middle, high = (share_text(share) for share in lots.quantiles)
    alt = (
        f"Share of lots in which more joints miss than a share of them; a miss is {subject}: "
        f"{beyond_words(lots)}; {middle} of joints miss in the median lot, {low} or "
        f"less in the best twentieth, {high} or more in the worst twentieth."
    )
    return NamedFigure("joint_lots", title, alt, figure)


def draw_lots(ax: Axes, result: RunResult) -> None:
    """Draw the share of lots beyond each share of joints that miss, and that which is asked."""
    joint = result.group
    assert joint is not None, "drawn of a joint of several fasteners"
    lots = joint.lots
    assert lots is not None, "drawn where lots differ"
    sides = joint.judged.named(lots.event).event.sides
    line, tint = (SIDE_COLOUR[sides[0]], SIDE_TINT[sides[0]]) if len(sides) == 1 else (INK, PALE)
    low, high = _span(lots)
    # Half of a lot itself counts as beyond it; at either end of the axis are all, or none.
    n = len(lots.misses)
    misses = np.array([low, *np.maximum(lots.misses, low), high])
    beyond = 100.0 * np.array([1.0, *(1.0 - (np.arange(n) + 0.5) / n), 0.0])
    ax.plot(_MILLION * misses, beyond, color=line, linewidth=1.6, zorder=3)
    more = misses > lots.asked
    ax.fill_between(
        _MILLION * np.array([lots.asked, *misses[more]]),
        np.array([100.0 * lots.share_of_lots, *beyond[more]]),
        color=tint,
        linewidth=0,
        zorder=1,
    )
    ax.axvline(_MILLION * lots.asked, color=QUIET, linewidth=1.4, dashes=DOTS, zorder=2)
    ax.set_xscale("log")
    ax.set_xlim(_MILLION * low, _MILLION * high)
    ax.xaxis.set_major_locator(LogLocator(10.0, numticks=6))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: decade_words(x)))
    ax.set_xlabel("misses per million joints of a lot")
    ax.set_ylim(0.0, 103.0)
    ax.set_ylabel("lots with more (%)")
    plain_numbers(ax.yaxis, 5)
    _mark_quantiles(ax, lots, low)
    words = beyond_words(lots)
    write_above(ax, words[0].upper() + words[1:], 5.0, colour=INK, weight="bold")


def _span(lots: LotShares) -> tuple[float, float]:
    """Return the ends of the axis, which hold nearly all lots and what is asked."""
    good, bad = np.quantile(lots.misses, _DRAWN).tolist()
    high = 2.0 * max(bad, lots.asked, 1e2 * _LEAST)
    low = max(min(good, lots.asked), _LEAST, high / 10.0**_MOST_DECADES)
    return min(0.5 * low, high / 10.0**_LEAST_DECADES), min(high, 1.5)


def _mark_quantiles(ax: Axes, lots: LotShares, low: float) -> None:
    """Mark the median lot, and one of twenty at either end."""
    for share, beyond in zip(lots.quantiles, (95.0, 50.0, 5.0), strict=True):
        if share > low:
            ax.plot(
                _MILLION * share, beyond, marker="o", markersize=5.0, color=PREPARED,
                markeredgecolor=INK, zorder=4,
            )  # fmt: skip


def beyond_words(lots: LotShares) -> str:
    """Return in which share of lots more joints miss than asked, in words."""
    among = (
        f"{share_text(lots.share_of_lots)} of lots"
        if lots.share_of_lots > 0.0
        else f"none of {len(lots.misses):,} drawn lots"
    )
    return f"in {among} more than {share_text(lots.asked)} of joints miss"


def _names(lots: LotShares) -> str:
    return and_words([input_label(name) for name in lots.differ_by])
