"""The figure of what control is worth: the misses it leaves, as bars with intervals."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from preloadmc.judgement.verdicts import LABELS
from preloadmc.questions.control import Changed, ControlResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import (
    draw_interval_bar,
    explain_bars,
    name_rows,
    row_depths,
    row_places,
)
from preloadmc.report.figures.style import (
    DASHES,
    PALE,
    PREPARED,
    QUIET,
    new_figure,
    plain_numbers,
    style,
    wrap,
)
from preloadmc.report.text.control import left_words, shown_outcomes, source_rows

_NAME_WIDTH = 2.0
# Depth of a row in inches: two bars, or more where its name is long.
_ROW = 0.4
_BAR = 0.13
_SMALLEST = 0.01  # of today's misses: what two digits show, and a bar no longer does


def draw_control(ax: Axes, result: ControlResult) -> None:
    """Draw what is left of the misses if each source is halved and removed, most worth on top.

    The level axis counts in today's misses; the upright one measures inches, so that names fit.
    """
    outcome = shown_outcomes(result)[-1]
    rows = source_rows(result, outcome)
    names, depths = _named_rows(rows)
    right = 1.0
    for place, (_, halved, removed) in zip(row_places(depths), rows, strict=True):
        for shift, colour, changed in ((-0.5, PREPARED, halved), (0.5, PALE, removed)):
            left = None if changed is None else changed.misses_left.get(outcome)
            if left is None:
                continue
            value, low, high = left.value, left.low, left.high
            right = max(right, high)
            draw_interval_bar(
                ax,
                place + shift * _BAR,
                value,
                low,
                high,
                thickness=_BAR,
                colour=colour,
                words=f"{value:.2f}" if value >= _SMALLEST else f"< {_SMALLEST:g}",
            )
    ax.axvline(1.0, color=QUIET, linewidth=1.0, dashes=DASHES, zorder=1)
    name_rows(ax, names, depths)
    ax.set_xlim(0.0, 1.14 * right)
    ax.set_xlabel(f"times today's misses, {LABELS[outcome]}; dashed: as it is")
    plain_numbers(ax.xaxis)
    explain_bars(ax, ((PREPARED, "half its scatter"), (PALE, "no scatter")))


def _named_rows(
    rows: Sequence[tuple[str, Changed | None, Changed | None]],
) -> tuple[list[str], list[float]]:
    """Return the wrapped name and the depth of each row."""
    names = [wrap(name, _NAME_WIDTH) for name, *_ in rows]
    return names, row_depths(names, _ROW)


def control_figure(
    result: ControlResult, name: str = "control", about: str = ""
) -> NamedFigure | None:
    """Return the figure of the value of control; None where nothing is missed as it is."""
    outcome = shown_outcomes(result)[-1]
    if result.as_is[outcome].value == 0.0:
        return None
    title = f"What control is worth{about}"
    note = "whiskers: 95 % intervals from common draws, sampling error only"
    rows = source_rows(result, outcome)
    with style():
        height = sum(_named_rows(rows)[1])
        figure, (ax,) = new_figure(title, note, height=height, above=0.3, left=2.15)
        draw_control(ax, result)
    listed = "; ".join(
        f"{label} {left_words(removed, outcome)}"
        for label, _, removed in rows
        if removed is not None
    )
    alt = f"Multiples of today's misses ({LABELS[outcome]}) without the scatter of each: {listed}."
    return NamedFigure(name, title, alt, figure)
