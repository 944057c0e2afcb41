"""Figures of a ranking: variance, being under and being over side by side; convergence."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from preloadmc.judgement.dominates import (
    SIDE_WORDS,
    SharedOut,
    differences_words,
    shared_out,
)
from preloadmc.judgement.misses import Unranked
from preloadmc.judgement.wording import share_words
from preloadmc.limits import OVER, UNDER
from preloadmc.questions.rank import RankResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import draw_interval_bar, row_depths, row_places
from preloadmc.report.figures.style import (
    INK,
    LINE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    SIDE_HATCH,
    SIDE_TINT,
    WIDTH,
    new_figure,
    plain_numbers,
    style,
    wrap,
)
from preloadmc.report.text.signs import NO_BREAK

# Space for the names and what they fill of it, in inches.
_LEFT = 1.75
_NAME_WIDTH = 1.6
_ROW = 0.3
_BAR = 0.17
_COLUMN = 1.25
# Room for a value beside the longest bar, as a share of the axis.
_ROOM = 0.34
_SIDE = {SIDE_WORDS["under_preload"]: UNDER, SIDE_WORDS["over_preload"]: OVER}
_LINES = ((INK, "o", "-"), (PREPARED, "s", "--"), (QUIET, "^", ":"))


def ranked_rows(rankings: Sequence[SharedOut]) -> tuple[int, ...]:
    """Return the places of the inputs by falling sum of their shares: the order of the rows."""
    whole = np.sum([ranking.share for ranking in rankings], axis=0)
    return tuple(int(place) for place in np.argsort(-whole, kind="stable"))


def draw_rankings(axes: Sequence[Axes], result: RankResult) -> None:
    """Draw the shares of the variance, of being under and of being over on one of the axes each.

    The level axes are in per cent; the upright one measures inches, so that long names fit.
    """
    rankings = shared_out(result.shapley, result.misses)
    rows = ranked_rows(rankings)
    places = row_places(row_depths(_names(result), _ROW))
    by_words = {ranking.words: ranking for ranking in rankings}
    columns: list[tuple[str, SharedOut | Unranked]] = [("the variance", rankings[0])]
    for outcome, found in result.misses.items():
        words = SIDE_WORDS[outcome]
        columns.append((words, found if isinstance(found, Unranked) else by_words[words]))
    for ax, (words, column) in zip(axes, columns, strict=True):
        side = _SIDE.get(words)
        ax.set_title(words, size="medium", color=INK if side is None else SIDE_COLOUR[side])
        ax.set_xlim(0.0, 100.0 * (1.0 + _ROOM))
        ax.set_xticks([0, 50, 100])
        ax.spines["left"].set_visible(False)
        ax.axvline(0.0, color=QUIET, linewidth=0.6)
        ax.tick_params(axis="y", length=0)
        ax.set_xlabel("share (%)")
        if isinstance(column, Unranked):
            ax.annotate(
                _reason(column),
                (0.04, 0.97),
                xycoords="axes fraction",
                color=QUIET,
                va="top",
            )
            continue
        for at, row in zip(places, rows, strict=True):
            value, low, high = (
                100.0 * float(part[row]) for part in (column.share, column.low, column.high)
            )
            colour = PREPARED if side is None else SIDE_TINT[side]
            draw_interval_bar(ax, at, value, low, high, thickness=_BAR, colour=colour)
        if side is not None:
            for bar in ax.patches:
                bar.set_hatch(SIDE_HATCH[side])
                bar.set_edgecolor(SIDE_COLOUR[side])
    axes[0].set_ylim(_height(result), 0.0)
    axes[0].set_yticks(places, _names(result))


def _names(result: RankResult) -> list[str]:
    rankings = shared_out(result.shapley, result.misses)
    return [wrap(result.shapley.names[row], _NAME_WIDTH) for row in ranked_rows(rankings)]


def _reason(found: Unranked) -> str:
    return wrap(found.reason, _COLUMN - 0.1)


def _height(result: RankResult) -> float:
    """Return the height of the rows in inches, or of the longest reason why there are none."""
    reasons = [_reason(found) for found in result.misses.values() if isinstance(found, Unranked)]
    depths = row_depths(_names(result), _ROW)
    return max([sum(depths), *(LINE * (words.count("\n") + 2) for words in reasons)])


def rankings_figure(result: RankResult) -> NamedFigure:
    """Return the figure of the three rankings side by side, and in words where they differ."""
    rankings = shared_out(result.shapley, result.misses)
    title = "What dominates the variance, and what dominates the misses"
    differ = f"Where they differ: {differences_words(rankings)}"
    words = wrap(differ.replace(" %", f"{NO_BREAK}%"), WIDTH - 0.3)
    lines = words.count("\n") + 1
    note = f"variance of the {result.quantity}; whiskers: 95 % intervals, sampling error"
    below = 0.55 + lines * LINE + 0.1
    with style():
        figure, axes = new_figure(
            title,
            note,
            height=_height(result),
            above=0.28,
            below=below,
            left=_LEFT,
            columns=1 + len(result.misses),
        )
        draw_rankings(axes, result)
        height = float(figure.get_size_inches()[1])
        figure.text(0.12 / WIDTH, 0.08 / height, words, va="bottom", linespacing=1.25)
    listed = "; ".join(
        f"{ranking.words}: "
        + ", ".join(
            f"{ranking.names[i]} {share_words(ranking.share[i], ranking.low[i], ranking.high[i])}"
            for i in ranking.order
        )
        for ranking in rankings
    )
    alt = f"Shares of each input in {listed}. {differ}"
    return NamedFigure("rankings", title, alt, figure)


def draw_convergence(ax: Axes, result: RankResult) -> None:
    """Draw the total indices of the three leading inputs with intervals as the designs grow."""
    parts = result.convergence
    sizes = np.array([part.base_samples for part in parts], dtype=float)
    for place, (colour, marker, dash) in zip(parts[-1].ordering.places[:3], _LINES, strict=False):
        value, low, high = (
            np.array([100.0 * float(getattr(part, key)[place]) for part in parts])
            for key in ("total", "total_low", "total_high")
        )
        ax.fill_between(sizes, low, high, color=colour, alpha=0.14, linewidth=0)
        ax.plot(
            sizes,
            value,
            color=colour,
            marker=marker,
            markersize=4.0,
            linestyle=dash,
            label=wrap(parts[-1].names[place], 1.4),
        )
    ax.set_xscale("log", base=2)
    ax.set_xticks(sizes, [f"{size:,.0f}" for size in sizes])
    ax.minorticks_off()
    ax.set_xlabel("base samples")
    ax.set_ylabel("total index (%)")
    ax.set_ylim(bottom=0.0)
    plain_numbers(ax.yaxis)
    ax.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False, handlelength=2.4)


def convergence_figure(result: RankResult) -> NamedFigure:
    """Return the figure of how the indices settle."""
    title = "How the total indices settle"
    last = result.convergence[-1]
    note = f"variance of the {result.quantity}; bands: {100 * last.confidence:g} % intervals"
    with style():
        figure, (ax,) = new_figure(title, note, height=2.4, right=2.0)
        draw_convergence(ax, result)
    listed = "; ".join(
        f"{last.names[i]} {share_words(last.total[i], last.total_low[i], last.total_high[i])}"
        for i in last.ordering.places[:3]
    )
    alt = (
        f"Total indices of the leading inputs from {result.convergence[0].base_samples} to "
        f"{last.base_samples:,} base samples; at the end {listed}."
    )
    return NamedFigure("convergence", title, alt, figure)


def rank_figures(result: RankResult) -> tuple[NamedFigure, ...]:
    """Return the figures of a ranking; that of convergence where it was asked for."""
    first = rankings_figure(result)
    return (first, convergence_figure(result)) if result.convergence else (first,)
