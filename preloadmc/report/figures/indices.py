"""The figure of what makes the scatter of preload: Sobol' indices as bars with intervals."""

from __future__ import annotations

from matplotlib.axes import Axes

from preloadmc.judgement.wording import share_words
from preloadmc.questions.rank import RankResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import (
    draw_interval_bar,
    explain_bars,
    name_rows,
    row_depths,
    row_places,
)
from preloadmc.report.figures.style import (
    PALE,
    PREPARED,
    QUIET,
    new_figure,
    plain_numbers,
    style,
    wrap,
)
from preloadmc.report.text.signs import NO_BREAK

# Space for the names and what they fill of it, in inches.
_LEFT = 2.15
_NAME_WIDTH = 1.95
# Depth of a row in inches: two bars, or more where its name is long.
_ROW = 0.4
_BAR = 0.13


def draw_ranking(ax: Axes, ranking: RankResult) -> None:
    """Draw first and total index of each input or group with intervals, the strongest on top.

    The level axis is in per cent; the upright one measures inches, so that long names fit.
    """
    indices = ranking.indices
    names = ranked_names(ranking)
    depths = row_depths(names, _ROW)
    kinds = (
        (-0.5, PREPARED, (indices.first, indices.first_low, indices.first_high)),
        (0.5, PALE, (indices.total, indices.total_low, indices.total_high)),
    )
    for place, i in zip(row_places(depths), ranking.order, strict=True):
        for shift, colour, values in kinds:
            value, low, high = (100.0 * float(part[i]) for part in values)
            draw_interval_bar(
                ax, place + shift * _BAR, value, low, high, thickness=_BAR, colour=colour
            )
    name_rows(ax, names, depths)
    right = 100.0 * float(max(indices.first_high.max(), indices.total_high.max()))
    left = 100.0 * float(min(indices.first_low.min(), indices.total_low.min(), 0.0))
    ax.set_xlim(left, right + 0.16 * (right - left))
    ax.axvline(0.0, color=QUIET, linewidth=0.6)
    ax.set_xlabel(f"share of the variance of the {ranking.quantity} (%)")
    plain_numbers(ax.xaxis)
    explain_bars(ax, ((PREPARED, "first: on its own"), (PALE, "total: with others")))


def ranked_names(ranking: RankResult) -> list[str]:
    """Return the names in the order of the bars, wrapped; a group says that it is one."""
    names = []
    for i in ranking.order:
        group = f" (one{NO_BREAK}group)" if len(ranking.members[i]) > 1 else ""
        names.append(wrap(ranking.indices.names[i] + group, _NAME_WIDTH))
    return names


def ranking_figure(ranking: RankResult) -> NamedFigure:
    """Return the figure of the ranking."""
    title = f"Whose scatter makes the scatter of the {ranking.quantity}"
    indices = ranking.indices
    note = f"Sobol' indices; whiskers: {100 * indices.confidence:g} % intervals, sampling error"
    with style():
        height = sum(row_depths(ranked_names(ranking), _ROW))
        figure, (ax,) = new_figure(title, note, height=height, above=0.3, left=_LEFT)
        draw_ranking(ax, ranking)
    listed = "; ".join(
        f"{indices.names[i]} "
        f"{share_words(indices.total[i], indices.total_low[i], indices.total_high[i])}"
        for i in ranking.order
    )
    alt = f"Total share of each input in the variance of the {ranking.quantity}: {listed}."
    return NamedFigure("ranking", title, alt, figure)
