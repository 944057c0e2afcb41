"""Figures of vibration tests: preload against cycles, and cycles to the remainder."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullFormatter

from preloadmc.questions.decay import (
    FROM_MEMORY,
    DecayResult,
    ElementDecay,
    count_of,
    cycles_words,
    whole_percent,
)
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.style import (
    DASHES,
    HAIR,
    INK,
    LINE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    new_figure,
    plain_numbers,
    style,
    wrap,
)
from preloadmc.report.text.signs import NO_BREAK
from preloadmc.report.text.tables import glued
from preloadmc.told import percent
from preloadmc.units import Array

# Colour, marker and dashes of the elements, in their order; the others share the last.
_LOOKS = (
    (SIDE_COLOUR["under"], "o", "-"),
    (SIDE_COLOUR["over"], "s", "--"),
    (INK, "^", "-."),
    (PREPARED, "D", ":"),
    (QUIET, "x", (0, (1, 3))),
)
_LEGEND = 1.75
# Readings of a record that are drawn: more lie on each other.
_MOST_DRAWN = 400
# Letters of an element in the legend.
_LONGEST = 32
# Largest over smallest cycles up to which ticks are even, and from which they are powers of ten.
_NARROW, _DECADES = 6.0, 30.0
# Shares of lives on the upright axis of lifetimes.
_SHARES = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 0.8, 0.9, 0.95, 0.99)


def look_of(place: int) -> tuple[str, str, str | tuple[int, tuple[int, int]]]:
    """Return colour, marker and line of an element by its place."""
    return _LOOKS[min(place, len(_LOOKS) - 1)]


def draw_records(ax: Axes, result: DecayResult) -> None:
    """Draw every record, where rotation begins, the thresholds and the tolerance limits."""
    for place, element in enumerate(result.elements):
        colour, marker, line = look_of(place)
        label = _named(result, place, f"{len(element.tests)}{NO_BREAK}tests")
        for k, test in enumerate(element.tests):
            kept = np.unique(np.linspace(0, len(test.cycles) - 1, _MOST_DRAWN).astype(np.intp))
            ax.plot(
                test.cycles[kept],
                100.0 * test.share[kept],
                color=colour,
                linestyle=line,
                linewidth=1.0,
                label=label if k == 0 else None,
            )
        changes = [
            (each.change.at, 100.0 * each.share_at_change)
            for each in element.phases
            if each.change is not None and each.share_at_change is not None
        ]
        if changes:
            ax.plot(
                *zip(*changes, strict=True),
                linestyle="none",
                marker=marker,
                markersize=4.5,
                color=colour,
                markerfacecolor="white",
                zorder=4,
            )
        limits = [
            (each.remaining.cycles, 100.0 * each.limit)
            for each in element.remaining
            if each.limit is not None
        ]
        if limits:
            ax.plot(
                *zip(*limits, strict=True),
                linestyle="none",
                marker="_",
                markersize=14,
                markeredgewidth=2.4,
                color=colour,
                clip_on=False,
                zorder=5,
            )
    _explain(ax, result)
    drawn = [each for each in result.thresholds if each.cycles <= _farthest(result)]
    if drawn:
        marked = any(FROM_MEMORY in each.source for each in drawn)
        for k, each in enumerate(drawn):
            ax.plot(
                [0.0, each.cycles],
                2 * [100.0 * each.share],
                color=QUIET,
                linewidth=0.8,
                dashes=DASHES,
                label=None if k else _entry(f"thresholds{f' ({FROM_MEMORY})' if marked else ''}"),
                zorder=1,
            )
    ax.set_xlim(0.0, _farthest(result))
    ax.set_ylim(0.0, 105.0)
    plain_numbers(ax.yaxis, 6)
    plain_numbers(ax.xaxis, 6)
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: count_of(x)))
    ax.grid(axis="y", color=HAIR, linewidth=0.4)
    ax.set_xlabel("load cycles")
    ax.set_ylabel("preload left (% of initial)")
    _legend(ax)


def _explain(ax: Axes, result: DecayResult) -> None:
    """Say once in the legend what marks of any colour mean."""
    content, confidence = map(percent, (result.question.content, result.question.confidence))
    marks: list[tuple[str, dict[str, Any]]] = []
    if any(each.change is not None for element in result.elements for each in element.phases):
        marks.append(("rotation begins", {"marker": "o", "markerfacecolor": "white"}))
    if any(each.limit is not None for element in result.elements for each in element.remaining):
        words = f"{glued(content)} keep more, {glued(confidence)} confidence"
        marks.append((words, {"marker": "_", "markersize": 14, "markeredgewidth": 2.4}))
    for words, mark in marks:
        label = _entry(words)
        ax.plot([], [], linestyle="none", color=QUIET, label=label, **{"markersize": 4.5, **mark})


def draw_lifetimes(ax: Axes, result: DecayResult) -> None:
    """Draw the tests that fell below the remainder at their median ranks, with the law taken.

    The upright axis makes a Weibull law a straight line. Ranks of tests after a censored one are
    adjusted for it (Johnson's order numbers); their medians by ``(i - 0.3)/(n + 0.4)``.
    """
    shares = []
    for place, element in enumerate(result.elements):
        life = element.lifetime
        if life.chosen is None:
            continue
        colour, marker, line = look_of(place)
        times, ranks = median_ranks(element)
        shares += [*ranks]
        fell = (f"{life.fell}", "of", f"{len(life.cycles)}", "fell")
        ax.plot(
            times,
            _upright(ranks),
            linestyle="none",
            marker=marker,
            markersize=4.5,
            color=colour,
            label=_named(result, place, NO_BREAK.join(fell)),
        )
        p = np.linspace(0.02, 0.98, 97)
        ax.plot(
            [life.chosen.quantile(float(each)) for each in p],
            _upright(p),
            color=colour,
            linestyle=line,
            linewidth=1.2,
            label=f"{life.chosen.kind} law" if _has_own_look(result, place) else None,
        )
        for each in life.quantiles:
            low = each.low if each.low is not None else ax.get_xlim()[0]
            high = each.high if each.high is not None else ax.get_xlim()[1]
            ax.plot(
                [low, high],
                2 * [_upright(np.array([each.share]))[0]],
                color=colour,
                lw=2.4,
                alpha=0.35,
                solid_capstyle="butt",
            )
    ax.set_xscale("log")
    low, high = ax.get_xlim()
    if high < _NARROW * low:
        ax.xaxis.set_major_locator(MaxNLocator(5))
    else:
        subs = (1.0, 2.0, 5.0) if high < _DECADES * low else (1.0,)
        ax.xaxis.set_major_locator(LogLocator(subs=subs, numticks=8))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: count_of(x)))
    ax.xaxis.set_minor_formatter(NullFormatter())
    low = min([0.02, *shares])
    ticks = [each for each in _SHARES if each >= 0.9 * low]
    ax.set_yticks(_upright(np.array(ticks)), [f"{100.0 * each:g}" for each in ticks])
    ax.set_ylim(*_upright(np.array([low, 0.985])))
    ax.grid(axis="y", color=HAIR, linewidth=0.4)
    ax.set_xlabel(f"load cycles to {percent(result.question.remainder)}")
    ax.set_ylabel("tests below (%)")
    _legend(ax)


def median_ranks(element: ElementDecay) -> tuple[list[float], Array]:
    """Return cycles of the tests that fell, in rising order, and the share that fell by then.

    Source: L. G. Johnson, The Statistical Treatment of Fatigue Experiments, Elsevier 1964;
    A. Benard, E. C. Bos-Levenbach, Statistica Neerlandica 7 (1953) 163 (from memory).
    """
    # Of equal cycles those that fell come first.
    ordered = sorted(element.lifetime.cycles.values(), key=lambda each: (each[0], not each[1]))
    n = len(ordered)
    times, ranks, rank = [], [], 0.0
    for k, (cycles, fell) in enumerate(ordered):
        if fell:
            rank += (n + 1.0 - rank) / (n - k + 1.0)
            times.append(cycles)
            ranks.append((rank - 0.3) / (n + 0.4))
    return times, np.array(ranks)


def _upright(shares: Array) -> Array:
    """Return shares as logarithms of a Weibull law's cumulative hazard."""
    hazards: Array = np.log(-np.log1p(-shares))
    return hazards


def _farthest(result: DecayResult) -> float:
    return max(test.last_cycles for each in result.elements for test in each.tests)


def _has_own_look(result: DecayResult, place: int) -> bool:
    return place < len(_LOOKS) - 1 or len(result.elements) == len(_LOOKS)


def _named(result: DecayResult, place: int, count: str) -> str | None:
    """Return the entry of an element; the last look is that of all further ones, told once."""
    last = len(_LOOKS) - 1
    if not _has_own_look(result, place):
        others = f"{len(result.elements) - last}{NO_BREAK}other elements"
        return _entry(others) if place == last else None
    name = result.elements[place].name
    return _entry(f"{name if len(name) <= _LONGEST else f'{name[: _LONGEST - 1]}…'}, {count}")


def _entry(words: str) -> str:
    """Return words of the legend in lines that fit beside the axes."""
    return wrap(words, _LEGEND - 0.6)


def _legend(ax: Axes) -> None:
    ax.legend(
        loc="center left",
        bbox_to_anchor=(1.05, 0.5),
        frameon=False,
        handlelength=1.8,
        borderaxespad=0.0,
    )


def decay_figures(result: DecayResult) -> tuple[NamedFigure, ...]:
    """Return the figure of the records, and that of lifetimes where a law was found."""
    found = [_records_figure(result)]
    if any(each.lifetime.chosen is not None for each in result.elements):
        found.append(_lifetimes_figure(result))
    return tuple(found)


def _records_figure(result: DecayResult) -> NamedFigure:
    title = "Preload against load cycles"
    note = "each line a test; holds for the tested joint, amplitude and clamp length"
    with style():
        figure, (ax,) = new_figure(title, note, height=_height(result), right=_LEGEND + 0.1)
        draw_records(ax, result)
    parts = [
        f"{each.name} keeps {whole_percent(each.remaining[-1].remaining.mean)} after "
        f"{cycles_words(each.remaining[-1].remaining.cycles)} on average"
        for each in result.elements
        if each.remaining
    ]
    tests = sum(len(each.tests) for each in result.elements)
    alt = f"Preload of {tests} vibration tests against load cycles: {'; '.join(parts)}."
    return NamedFigure("decay", title, alt, figure)


def _lifetimes_figure(result: DecayResult) -> NamedFigure:
    remainder = percent(result.question.remainder)
    title = f"Cycles until {remainder} of the preload is left"
    note = f"bars: {percent(result.question.confidence)} intervals by likelihood"
    with style():
        figure, (ax,) = new_figure(title, note, height=_height(result), right=_LEGEND + 0.1)
        draw_lifetimes(ax, result)
    told = [each for each in result.elements if each.lifetime.chosen is not None]
    parts = [
        f"half of {each.name} has fallen below {remainder} by "
        f"{cycles_words(each.lifetime.quantiles[-1].cycles)}"
        for each in told
    ]
    return NamedFigure("lifetimes", title, f"{'; '.join(parts)}.", figure)


def _height(result: DecayResult) -> float:
    """Return a height that the legend fits in."""
    return max(3.0, LINE * (4.0 + 5.0 * min(len(result.elements), len(_LOOKS) + 3)))
