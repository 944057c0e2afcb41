"""Figures of a survey: joints by probability, who makes the misses, what changes would do."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullLocator

from preloadmc.judgement.verdicts import MEETS, MISSES, NOT_JUDGED, NOT_RESOLVED
from preloadmc.questions.survey import (
    ANY_LIMIT,
    Expected,
    SurveyResult,
    TriedChange,
    number_words,
)
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import (
    BACKED,
    decade_words,
    name_rows,
    row_depths,
    row_places,
)
from preloadmc.report.figures.style import (
    DASHES,
    HAIR,
    INK,
    PALE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    new_figure,
    plain_numbers,
    style,
    wrap,
)
from preloadmc.report.text.signs import NO_BREAK
from preloadmc.report.text.survey import BY_WORDS
from preloadmc.report.text.survey_rows import LEAST_DECADE, SurveyRows
from preloadmc.report.text.survey_tables import expected_words

_HEIGHT = 2.3
# Decades that are drawn at least, up to probability 1.
_FEWEST = 5
# More allowed probabilities than these are drawn as a band.
_MOST_LINES = 3
_VERDICT = {
    MISSES: (INK, "", "misses a limit"),
    NOT_RESOLVED: ("white", "////", "not resolved"),
    NOT_JUDGED: (PALE, "", "not judged"),
    MEETS: (PREPARED, "", "meets what is allowed"),
}
_BY_COLOUR = {"lot": PREPARED, "tool": HAIR, "case": PALE}
_NAME_WIDTH = 2.1
_LEFT = 2.3
_ROW = 0.27
# Room for a number beside the longest bar, as a share of the axis.
_ROOM = 0.16
_MOST_CHANGES = 14
# Expected numbers that differ more than so many times stand on a log axis.
_WIDE = 20.0


def survey_figures(result: SurveyResult, rows: SurveyRows) -> tuple[NamedFigure, ...]:
    """Return the figures of a survey; one that would be empty is left out."""
    return tuple(_figures(result, rows))


def _figures(result: SurveyResult, rows: SurveyRows) -> Iterator[NamedFigure]:
    if rows.first:
        yield decades_figure(rows)
    if result.parts:
        yield parts_figure(result)
    if result.changes:
        yield changes_figure(result)


def draw_decades(ax: Axes, rows: SurveyRows) -> None:
    """Draw how many joints lie in each power of ten of the probability, by verdict."""
    first = min(*(decade for decade, _ in rows.decades), -_FEWEST)
    decades = np.arange(first, 0)
    bottom = np.zeros(len(decades))
    for verdict, (colour, hatch, words) in _VERDICT.items():
        heights = np.array([float(rows.decades.get((int(k), verdict), 0)) for k in decades])
        if heights.any():
            ax.bar(
                decades + 0.5,
                heights,
                0.86,
                bottom,
                color=colour,
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.6,
                label=words,
                zorder=2,
            )
        bottom += heights
    size = 9.0 if bottom.max() < 1e4 and len(decades) < 11 else 7.0
    for decade, height in zip(decades, bottom, strict=True):
        if height:
            ax.annotate(
                f"{height:,.0f}",
                (decade + 0.5, height),
                (0.0, 3.0),
                textcoords="offset points",
                ha="center",
                size=size,
                zorder=5,
            )
    ax.set_xlim(first, 0)
    ax.set_ylim(0.0, 1.14 * float(bottom.max()))
    ax.set_xticks(np.arange(first, 1))
    ax.xaxis.set_major_formatter(FuncFormatter(_decade_label))
    ax.set_xlabel("probability of ending outside the preload window")
    ax.set_ylabel("joints")
    ax.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda y, _: f"{y:,.0f}"))
    _draw_allowed(ax, rows)


def _decade_label(place: float, _: object) -> str:
    return "less" if place < LEAST_DECADE else decade_words(10.0 ** round(place))


def _draw_allowed(ax: Axes, rows: SurveyRows) -> None:
    handles = ax.get_legend_handles_labels()[0]
    colour = SIDE_COLOUR["over"]
    places = [math.log10(each) for each in rows.allowed if each > 0.0]
    told = [f"{100 * each:g} %" for each in rows.allowed if each > 0.0]
    if len(places) > _MOST_LINES:
        ax.axvspan(places[0], places[-1], color=colour, alpha=0.16, linewidth=0, zorder=1)
        words = f"allowed of a side: {told[0]} to {told[-1]}"
        handles.append(Patch(facecolor=colour, alpha=0.16, label=words))
    elif places:
        for place in places:
            ax.axvline(place, color=colour, linewidth=1.4, dashes=DASHES, zorder=4)
        words = f"allowed of a side: {', '.join(told)}"
        handles.append(Line2D([], [], color=colour, dashes=DASHES, label=words))
    ax.legend(
        handles=handles,
        loc="lower left",
        bbox_to_anchor=(0.0, 1.0),
        ncols=2,
        frameon=False,
        borderaxespad=0.2,
        handlelength=1.8,
    )


def decades_figure(rows: SurveyRows) -> NamedFigure:
    """Return the figure of joints by probability."""
    title = "How likely the joints end outside their window"
    judged = sum(rows.decades.values())
    with style():
        figure, (ax,) = new_figure(
            title,
            f"{judged:,} joints by the power of ten of their probability",
            height=_HEIGHT,
            above=0.44,
        )
        draw_decades(ax, rows)
    totals: dict[int, int] = {}
    for (decade, _), count in sorted(rows.decades.items(), reverse=True):
        totals[decade] = totals.get(decade, 0) + count
    listed = "; ".join(
        f"{count:,} {_between(decade)}" for decade, count in list(totals.items())[:_FEWEST]
    )
    alt = f"Joints by the probability of ending outside the preload window, likeliest: {listed}."
    return NamedFigure("survey_joints", title, alt, figure)


def _between(decade: int) -> str:
    if decade < LEAST_DECADE:
        return f"below 1e{LEAST_DECADE}"
    return f"from 1e{decade} to 1e{decade + 1}"


def draw_parts(ax: Axes, result: SurveyResult) -> None:
    """Draw the expected misses of each lot, tool and template as level bars."""
    depths = row_depths(_part_names(result), _ROW)
    largest = max(each.expected for each in result.parts)
    for each, place in zip(result.parts, row_places(depths), strict=True):
        ax.barh(
            place,
            each.expected,
            0.17,
            color=_BY_COLOUR[each.by],
            edgecolor=INK,
            linewidth=0.6,
            zorder=2,
        )
        ax.annotate(
            number_words(each.expected),
            (each.expected, place),
            (4.0, 0.0),
            textcoords="offset points",
            va="center_baseline",
        )
    name_rows(ax, _part_names(result), depths)
    ax.set_xlim(0.0, (largest or 1.0) * (1.0 + _ROOM))
    ax.axvline(0.0, color=QUIET, linewidth=0.6)
    ax.set_xlabel("joints expected outside the window")
    plain_numbers(ax.xaxis, 5)


def _part_names(result: SurveyResult) -> list[str]:
    return [
        wrap(
            f"{BY_WORDS[each.by]} {each.name} "
            f"({each.joints:,}{NO_BREAK}{'joint' if each.joints == 1 else 'joints'})",
            _NAME_WIDTH,
        )
        for each in result.parts
    ]


def parts_figure(result: SurveyResult) -> NamedFigure:
    """Return the figure of expected misses by lot, tool and template."""
    title = "Which lots, tools and templates make the misses"
    note = "each joint counts once in its lot, its tool and its template"
    with style():
        height = sum(row_depths(_part_names(result), _ROW))
        figure, (ax,) = new_figure(title, note, height=height, left=_LEFT)
        draw_parts(ax, result)
    listed = "; ".join(
        f"{BY_WORDS[each.by]} {each.name} {number_words(each.expected)}" for each in result.parts
    )
    alt = f"Joints expected outside the window by lot, tool and template: {listed}."
    return NamedFigure("survey_parts", title, alt, figure)


def draw_changes(ax: Axes, result: SurveyResult) -> None:
    """Draw expected misses as it is and after each change, with 95 % intervals."""
    before = result.expected[ANY_LIMIT]
    changes = result.changes[:_MOST_CHANGES]
    shown: list[tuple[Expected, TriedChange | None]] = [
        (before, None),
        *((each.expected, each) for each in changes),
    ]
    depths = row_depths(_change_names(result), _ROW)
    values = [each.value for each, _ in shown]
    wide = min(values) > 0.0 and max(values) > _WIDE * min(values)
    if wide:
        ax.set_xscale("log")
    for (found, change), place in zip(shown, row_places(depths), strict=True):
        low = max(found.low, found.value / 10.0) if wide else found.low
        ax.errorbar(
            found.value,
            place,
            xerr=[[found.value - low], [found.high - found.value]],
            color=INK,
            marker="D" if change is None else "o",
            markersize=5,
            markerfacecolor=INK if change is None or change.is_advised else "white",
            elinewidth=1.0,
            capsize=2.5,
            zorder=3,
        )
        ax.annotate(
            expected_words(found)[0],
            (found.high, place),
            (6.0, 0.0),
            textcoords="offset points",
            va="center_baseline",
            bbox=BACKED,
        )
    ax.axvline(before.value, color=QUIET, linewidth=1.0, dashes=DASHES, zorder=1)
    name_rows(ax, _change_names(result), depths)
    highest = max(each.high for each, _ in shown)
    if wide:
        lowest = min(max(each.low, each.value / 10.0) for each, _ in shown)
        ax.set_xlim(lowest / 1.3, highest * (highest / lowest) ** _ROOM)
        ax.xaxis.set_major_locator(LogLocator(10.0, numticks=6))
        ax.xaxis.set_minor_locator(NullLocator())
        ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: decade_words(x)))
    else:
        ax.set_xlim(0.0, (highest or 1.0) * (1.0 + _ROOM))
        plain_numbers(ax.xaxis, 6)
    ax.set_xlabel("joints expected to miss a limit")


def _change_names(result: SurveyResult) -> list[str]:
    changes = [each.change.words for each in result.changes[:_MOST_CHANGES]]
    return [wrap(name, _NAME_WIDTH) for name in ("as it is", *changes)]


def changes_figure(result: SurveyResult) -> NamedFigure:
    """Return the figure of the changes that were tried."""
    title = "What a change of all joints makes of the misses"
    note = "filled: helps more than a few, and no joint misses anew; whiskers: 95 % intervals"
    with style():
        height = sum(row_depths(_change_names(result), _ROW))
        figure, (ax,) = new_figure(title, note, height=height, left=_LEFT)
        draw_changes(ax, result)
    listed = "; ".join(
        f"{each.change.words} {expected_words(each.expected)[0]}"
        for each in result.changes[:_MOST_CHANGES]
    )
    now = expected_words(result.expected[ANY_LIMIT])[0]
    alt = f"Joints expected to miss a limit, {now} as it is, after each change: {listed}."
    return NamedFigure("survey_changes", title, alt, figure)
