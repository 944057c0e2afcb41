"""The figure of what control is worth: the share of misses left, as bars with intervals."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Patch

from preloadmc.judgement.outcomes import LABELS
from preloadmc.questions.control import Changed, ControlResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import draw_interval_bar
from preloadmc.report.figures.style import (
    INK,
    LINE,
    PALE,
    PREPARED,
    QUIET,
    new_figure,
    plain_numbers,
    style,
    wrap,
)
from preloadmc.report.text.control import left_words, source_rows, told_outcomes

_NAME_WIDTH = 2.0
# Depth of a row in inches: two bars, or more where its name is long.
_ROW = 0.4
_BAR = 0.13
_DASHES = (5.0, 2.0)


def draw_control(ax: Axes, result: ControlResult) -> None:
    """Draw the share of misses left if each source is halved and removed, the most worth on top.

    The level axis is in per cent; the upright one measures inches, so that long names fit.
    """
    outcome = told_outcomes(result)[-1]
    rows = source_rows(result, outcome)
    depths = _depths(rows)
    places = np.cumsum(depths) - 0.5 * np.array(depths)
    right = 100.0
    for place, (_, halved, removed) in zip(places, rows, strict=True):
        for shift, colour, changed in ((-0.5, PREPARED, halved), (0.5, PALE, removed)):
            left = None if changed is None else changed.left.get(outcome)
            if left is None:
                continue
            value, low, high = 100.0 * left.value, 100.0 * left.low, 100.0 * left.high
            right = max(right, high)
            draw_interval_bar(
                ax, place + shift * _BAR, value, low, high, thickness=_BAR, colour=colour
            )
    ax.axvline(100.0, color=QUIET, linewidth=1.0, dashes=_DASHES, zorder=1)
    ax.set_ylim(sum(depths), 0.0)
    ax.set_yticks(places, [wrap(name, _NAME_WIDTH) for name, *_ in rows])
    ax.tick_params(axis="y", length=0)
    ax.set_xlim(0.0, 1.14 * right)
    ax.spines["left"].set_visible(False)
    ax.set_xlabel(f"misses left, {LABELS[outcome]} (%); dashed: as it is")
    plain_numbers(ax.xaxis)
    ax.legend(
        handles=[
            Patch(facecolor=colour, edgecolor=INK, linewidth=0.6, label=words)
            for colour, words in ((PREPARED, "half its scatter"), (PALE, "no scatter"))
        ],
        loc="lower right",
        bbox_to_anchor=(1.0, 1.0),
        ncols=2,
        frameon=False,
        borderaxespad=0.2,
        handlelength=1.4,
    )


def _depths(rows: Sequence[tuple[str, Changed | None, Changed | None]]) -> list[float]:
    lines = (1 + wrap(name, _NAME_WIDTH).count("\n") for name, *_ in rows)
    return [max(_ROW, LINE * (n + 0.5)) for n in lines]


def control_figure(
    result: ControlResult, name: str = "control", about: str = ""
) -> NamedFigure | None:
    """Return the figure of the value of control; None where nothing is missed as it is."""
    outcome = told_outcomes(result)[-1]
    if result.as_is[outcome].value == 0.0:
        return None
    title = f"What control is worth{about}"
    note = "whiskers: 95 % intervals from common draws, sampling error only"
    rows = source_rows(result, outcome)
    with style():
        figure, (ax,) = new_figure(title, note, height=sum(_depths(rows)), above=0.3, left=2.15)
        draw_control(ax, result)
    told = "; ".join(
        f"{label} {left_words(removed, outcome)}"
        for label, _, removed in rows
        if removed is not None
    )
    alt = f"Share of the misses ({LABELS[outcome]}) left without the scatter of each: {told}."
    return NamedFigure(name, title, alt, figure)
