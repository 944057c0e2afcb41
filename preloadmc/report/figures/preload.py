"""Figures of preload: its distribution against the window, and its path through life."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes

from preloadmc.engine import OUTCOME_OF_SIDE
from preloadmc.judgement.edges import Edge
from preloadmc.judgement.wording import probability_words
from preloadmc.limits import OVER, UNDER
from preloadmc.questions.run import RunResult, Stage
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import (
    BACKED,
    BANDS_WORDS,
    draw_bands,
    draw_edge,
    draw_edge_at,
    edge_words,
    write_above,
)
from preloadmc.report.figures.style import (
    INK,
    LEFT,
    LINE,
    PALE,
    PREPARED,
    QUIET,
    RIGHT,
    SIDE_COLOUR,
    SIDE_HATCH,
    SIDE_TINT,
    SIDE_WORDS,
    WIDTH,
    axis_label,
    new_figure,
    nice_step,
    plain_numbers,
    shown,
    shown_one,
    style,
    wrap,
)
from preloadmc.units import FORCE, Array, format_quantity

# So many bins in the middle of the distributions, at most so many across the axis.
_BINS = 36
_MIDDLE = (0.01, 0.99)
_MOST_BINS = 200
# The axis holds all but one in ten thousand joints of each distribution's ends.
_DRAWN = (1e-4, 1.0 - 1e-4)
# What the residual preload lies within for want of tests, as the confidence of results.
_BAND = (0.025, 0.975)
# What a label beside an edge of the window takes: of the axis, and in inches.
_LABEL_SHARE = 0.2
_LABEL_WIDTH = 0.96
# What the name of a histogram takes.
_NAME_SHARE = 0.16
_HALF_STAGE = 0.46
PUMP_FORCE = "pump force"
_PATH_HEIGHT = 2.9
# Narrowest label of an edge, and the gap between names, in inches.
_NARROW = 0.66
_GAP = 0.1


def draw_histogram(ax: Axes, result: RunResult, system: str = "metric") -> None:
    """Draw residual and assembled preload with the window; the joints that miss it hatched.

    In place of the assembled preload of a tensioner stands the pump force, on which it is judged.
    """
    kept = result.samples.kept
    tightened, force = tightened_to(result)
    assembled = shown(force, FORCE, system)
    residual = shown(kept.path["residual"], FORCE, system)
    limits = drawn_limits(result)
    edges = [shown_one(limit.median, FORCE, system) for limit in limits]
    bins = preload_bins(assembled, residual, edges)
    percent = 100.0 / len(residual)
    peaks = {}
    for name, values, fill, line in (
        (tightened, assembled, PALE, QUIET),
        ("residual", residual, PREPARED, INK),
    ):
        counts = percent * np.histogram(values, bins)[0]
        ax.stairs(counts, bins, fill=True, color=fill, alpha=0.75, zorder=2)
        ax.stairs(counts, bins, color=line, linewidth=0.8, zorder=3)
        peak = int(counts.argmax())
        peaks[name] = _Peak(float(bins[peak]), float(bins[peak + 1]), float(counts[peak]))
    for side, values, missed in ((UNDER, residual, kept.under), (OVER, assembled, kept.over)):
        ax.stairs(
            percent * np.histogram(values[missed], bins)[0],
            bins,
            fill=True,
            facecolor=SIDE_COLOUR[side],
            edgecolor="white",
            hatch=SIDE_HATCH[side],
            linewidth=0.0,
            zorder=3,
            label=side,
        )
    highest = max(peak.height for peak in peaks.values())
    if result.residual_given is not None:
        given = shown(result.residual_given, FORCE, system)
        each = np.array([np.histogram(values, bins)[0] for values in given])
        ends = 100.0 / given.shape[1] * np.quantile(each, _BAND, axis=0)
        highest = max(highest, float(ends[1].max()))
        ax.stairs(ends[1], bins, baseline=ends[0], fill=True, color=INK, alpha=0.22, zorder=3)
    ax.set_ylim(0.0, 1.4 * highest)
    _draw_window(ax, limits, (float(bins[0]), float(bins[-1])), system)
    _name_peaks(ax, peaks, tightened)
    for side in (UNDER, OVER):
        words = probability_words(result.outcome(OUTCOME_OF_SIDE[side]).probability)
        at_right, colour = side == OVER, SIDE_COLOUR[side]
        write_above(ax, SIDE_WORDS[side], 20.0, colour=colour, weight="bold", at_right=at_right)
        write_above(ax, words, 6.0, colour=INK, at_right=at_right)
    force_words = "preload" if result.pulled is None else "preload and pump force"
    ax.set_xlabel(axis_label(force_words, FORCE, system))
    ax.set_ylabel(f"fasteners in each {bins[1] - bins[0]:.10g} {FORCE.unit(system)} (%)")
    plain_numbers(ax.xaxis)
    plain_numbers(ax.yaxis, 5)


class _Peak(NamedTuple):
    left: float
    right: float
    height: float


def _name_peaks(ax: Axes, peaks: Mapping[str, _Peak], tightened: str) -> None:
    """Name the histograms side by side above their peaks: settling moves preload to the left."""
    highest = max(peak.height for peak in peaks.values())
    low, high = ax.get_xlim()
    for name, place, direction in (
        ("residual", min(peak.left for peak in peaks.values()), -1),
        (tightened, max(peak.right for peak in peaks.values()), 1),
    ):
        room = (place - low if direction < 0 else high - place) / (high - low)
        # Without room outwards the name goes inwards, one line higher.
        turned = room < _NAME_SHARE
        ax.annotate(
            name,
            (place, highest if turned else peaks[name].height),
            (-2 * direction if turned else 4 * direction, 16 if turned else 3),
            textcoords="offset points",
            ha="left" if (direction > 0) != turned else "right",
            va="bottom",
            bbox=BACKED,
            zorder=6,
        )


def histogram_limits(result: RunResult) -> tuple[Edge, ...]:
    """Return the minimum in the state that governs, and the maximum at assembly."""
    governing = next(limit.governing_state for limit in result.limits if limit.sides == (UNDER,))
    return tuple(
        limit
        for limit in result.window
        if (limit.side, limit.stage) in {(UNDER, governing), (OVER, "assembled")}
    )


def drawn_limits(result: RunResult) -> tuple[Edge, ...]:
    """Return the limits of the histogram: a tensioner's maximum is on its pump force."""
    limits = histogram_limits(result)
    if result.pulled is None:
        return limits
    return (*(limit for limit in limits if limit.side == UNDER), *result.pulled.edges)


def tightened_to(result: RunResult) -> tuple[str, Array]:
    """Return the name and the values [N] of what too much preload is judged on at assembly."""
    if result.pulled is None:
        return "assembled", result.samples.kept.path["assembled"]
    return PUMP_FORCE, result.pulled.force


def preload_bins(assembled: Array, residual: Array, edges: Sequence[float]) -> Array:
    """Return the ends of equal bins, on round numbers, that hold both distributions.

    Their width follows the middle of the distributions, but not below what can be seen beside
    the ``edges`` of the window.
    """
    ends = np.quantile(np.stack([assembled, residual]), (_DRAWN[0], *_MIDDLE, _DRAWN[1]), axis=1)
    low, high = float(ends[0].min()), float(ends[-1].max())
    middle = float(ends[2].max() - ends[1].min())
    whole = max(high, *edges) - min(low, *edges)
    step = nice_step(max(middle / _BINS, whole / _MOST_BINS) or 1.0)
    first, last = np.floor(low / step + 1e-9), np.floor(high / step + 1e-9) + 1.0
    return step * np.arange(first, last + 1.0)


def _draw_window(ax: Axes, limits: Sequence[Edge], span: tuple[float, float], system: str) -> None:
    """Draw the edges of the window with their words outside it, and shade what lies outside."""
    edges = [
        (shown_one(limit.median, FORCE, system), limit)
        for limit in sorted(limits, key=lambda limit: limit.median)
    ]
    low = min(span[0], edges[0][0])
    high = max(span[1], edges[-1][0])
    room = _LABEL_SHARE / (1.0 - 2.0 * _LABEL_SHARE) * (high - low)
    low, high = min(low, max(edges[0][0] - room, 0.0)), max(high, edges[-1][0] + room)
    ax.set_xlim(low, high)
    for place, limit in edges:
        draw_edge(ax, limit, system)
        outside = (low, place) if limit.side == UNDER else (place, high)
        ax.axvspan(*outside, color=SIDE_TINT[limit.side], linewidth=0, zorder=0)
        fits_left = limit is edges[0][1] and place - low > _LABEL_SHARE * (high - low)
        ax.annotate(
            edge_words(limit, _LABEL_WIDTH, system),
            (place, 1.0),
            (-5 if fits_left else 5, -3),
            xycoords=ax.get_xaxis_transform(),
            textcoords="offset points",
            ha="right" if fits_left else "left",
            va="top",
            color=SIDE_COLOUR[limit.side],
            zorder=6,
        )


def draw_path(ax: Axes, result: RunResult, system: str = "metric") -> None:
    """Draw the preload at each stage as nested bands, with the window that judges it there."""
    stages = path_stages(result)
    limits = result.window
    medians = [shown_one(stage.quantile(0.5), FORCE, system) for stage in stages]
    ax.plot(range(len(stages)), medians, color=QUIET, linewidth=0.8, zorder=1)
    for place, stage in enumerate(stages):
        draw_bands(ax, stage, place, system)
    column = _column(stages)
    written: dict[str, str] = {}
    names = [stage.name for stage in stages]
    most_lines = 1
    for limit in limits:
        place = names.index(limit.stage)
        draw_edge_at(ax, limit, place, _HALF_STAGE, system)
        words = edge_words(limit, max(0.5 * column - _GAP, _NARROW), system)
        if written.get(limit.side) != words:
            _label_edge_at(ax, limit, place, words, system)
            most_lines = max(most_lines, 1 + words.count("\n"))
        written[limit.side] = words
    ends = [
        *(stage.quantile(p) for stage in stages for p in (0.01, 0.99)),
        *(end for limit in limits for end in (limit.low, limit.high)),
    ]
    low, high = (shown_one(end, FORCE, system) for end in (min(ends), max(ends)))
    share = (most_lines + 1) * LINE / _PATH_HEIGHT
    room = share / (1.0 - 2.0 * share) * (high - low)
    ax.set_ylim(low - room, high + room)
    ax.set_xlim(-0.5, len(stages) - 0.5)
    ax.set_xticks(
        range(len(stages)),
        [
            f"{wrap(stage.name, column - _GAP)}\n"
            f"{format_quantity(stage.quantile(0.5), FORCE, system, 3)}"
            for stage in stages
        ],
    )
    ax.tick_params(axis="x", length=0)
    ax.set_ylabel(axis_label("preload", FORCE, system))
    plain_numbers(ax.yaxis)
    if low >= 0.0 > low - room:
        # The room for the words reaches below zero, where no preload is.
        ax.set_yticks([tick for tick in ax.get_yticks() if 0.0 <= tick <= high + room])


def _column(stages: Sequence[Stage]) -> float:
    """Return what each stage has of the width of the axes [inches]."""
    return (WIDTH - LEFT - RIGHT) / len(stages)


def path_stages(result: RunResult) -> tuple[Stage, ...]:
    """Return the stages of life in their order, without the smallest over them."""
    return tuple(stage for stage in result.preload if stage.name != "residual")


def _label_edge_at(ax: Axes, limit: Edge, place: int, words: str, system: str) -> None:
    over = limit.side == OVER
    end = place - _HALF_STAGE if over else place + _HALF_STAGE
    ax.annotate(
        words,
        (end, shown_one(limit.high if over else limit.low, FORCE, system)),
        (0, 3 if over else -3),
        textcoords="offset points",
        ha="left" if over else "right",
        va="bottom" if over else "top",
        color=SIDE_COLOUR[limit.side],
        bbox=BACKED,
        zorder=6,
    )


def histogram_figure(result: RunResult, system: str = "metric") -> NamedFigure:
    """Return the figure of the preload's distribution against its window."""
    title = "Preload against its window"
    kept, n = len(result.samples.kept.z), result.samples.n
    with style():
        note = sampled_words(kept, n)
        if result.residual_given is not None:
            note += "; grey band: residual, for want of tests"
        figure, (ax,) = new_figure(title, note, height=2.7, above=0.46)
        draw_histogram(ax, result, system)
    edges = " and ".join(
        f"{limit.short_name} ({limit.value_words(system)})" for limit in drawn_limits(result)
    )
    under, over = (
        probability_words(result.outcome(name).probability) for name in OUTCOME_OF_SIDE.values()
    )
    stages = {stage.name: stage for stage in result.preload}
    second = f"the assembled preload, {spread_words(stages['assembled'], system)}"
    if result.pulled is not None:
        median = format_quantity(float(np.median(result.pulled.force)), FORCE, system, 3)
        second = f"the pump force, median {median}"
    alt = (
        f"Histogram of the residual preload, {spread_words(stages['residual'], system)}, and of "
        f"{second}, against the window "
        f"with {edges}: too little preload {under}, too much {over}."
    )
    return NamedFigure("preload", title, alt, figure)


def path_figure(result: RunResult, system: str = "metric") -> NamedFigure:
    """Return the figure of the preload's path from assembly through the judged states."""
    title = "Preload from assembly through every judged state"
    stages = path_stages(result)
    width = _column(stages) - _GAP
    with style():
        lines = 2 + max(wrap(stage.name, width).count("\n") for stage in stages)
        below = 0.16 + LINE * lines
        figure, (ax,) = new_figure(title, BANDS_WORDS, height=_PATH_HEIGHT, below=below)
        draw_path(ax, result, system)
    listed = "; ".join(f"{stage.name} {spread_words(stage, system)}" for stage in stages)
    return NamedFigure("path", title, f"Preload by stage of life: {listed}.", figure)


def sampled_words(drawn: int, n: int) -> str:
    """Return how many samples a figure is drawn from, in words."""
    return (
        f"{n:,} sampled fasteners"
        if drawn == n
        else f"the first {drawn:,} of {n:,} sampled fasteners"
    )


def spread_words(stage: Stage, system: str) -> str:
    """Return the median of a stage and what its middle 98 % lies between."""
    low, median, high = (
        format_quantity(stage.quantile(p), FORCE, system, 3) for p in (0.01, 0.5, 0.99)
    )
    return f"median {median}, 98 % between {low} and {high}"
