"""The figure of the likeliest way to miss each side of the window, in physical terms."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from preloadmc.engine import OUTCOME_OF_SIDE
from preloadmc.inputs import input_label
from preloadmc.judgement.estimate import LikeliestMiss, MissedInput
from preloadmc.questions.run import RunResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import name_rows, row_depths, row_places, write_above
from preloadmc.report.figures.style import (
    INK,
    LINE,
    QUIET,
    RIGHT,
    SIDE_COLOUR,
    SIDE_HATCH,
    SIDE_TINT,
    SIDE_WORDS,
    WIDTH,
    new_figure,
    plain_numbers,
    style,
    wrap,
)
from preloadmc.report.text.laws import value_words
from preloadmc.report.text.likeliest import WORTH_NAMING
from preloadmc.report.text.signs import NO_BREAK, with_signs

# More rows than these are no longer one way to miss that a reader can picture.
MOST_ROWS = 12
HARDLY_OFF = "hardly off"
# Space for the names and what they fill of it, in inches.
_LEFT = 1.75
_NAME_WIDTH = 1.6
_ROW = 0.42
_BAR = 0.13
# The bar lies so far below the middle of its row, the words above it.
_SHIFT = 0.085
# Gap between the axes, as a share of their width.
_GAP = 0.16
# Room at either end of the axis, as a share of the longest bar.
_ROOM = 0.12

Misses = dict[str, LikeliestMiss]


def likeliest_misses(result: RunResult) -> Misses:
    """Return the likeliest miss by side of the window, for those that have one."""
    found = {side: result.estimates[name].likeliest_miss for side, name in OUTCOME_OF_SIDE.items()}
    return {side: miss for side, miss in found.items() if miss is not None}


def named_inputs(misses: Misses) -> tuple[str, ...]:
    """Return the inputs that are worth naming on any side, the one that is farthest off first."""
    farthest: dict[str, float] = {}
    for miss in misses.values():
        for item in miss.inputs:
            farthest[item.name] = max(abs(item.z), farthest.get(item.name, 0.0))
    ordered = sorted(farthest, key=lambda name: -farthest[name])
    return tuple(name for name in ordered if farthest[name] >= WORTH_NAMING)[:MOST_ROWS]


def draw_likeliest(axes: Sequence[Axes], misses: Misses, system: str = "metric") -> None:
    """Draw how far off each input is at the likeliest miss of each side, one of the axes each.

    The level axes are in standard deviations; the upright one measures inches, so that long
    names fit.
    """
    names = named_inputs(misses)
    labels, depths = _named_rows(names)
    widest = max(abs(item.z) for miss in misses.values() for item in miss.inputs)
    reach = (1.0 + _ROOM) * widest
    for ax, (side, miss) in zip(axes, misses.items(), strict=True):
        items = {item.name: item for item in miss.inputs}
        for place, name in zip(row_places(depths), names, strict=True):
            item = items[name]
            bar = place + _SHIFT
            ax.barh(
                bar,
                item.z,
                _BAR,
                color=SIDE_TINT[side],
                edgecolor=SIDE_COLOUR[side],
                hatch=SIDE_HATCH[side],
                linewidth=0.8,
                zorder=3,
            )
            ax.plot(
                [0.0, 0.0],
                [bar - 0.6 * _BAR, bar + 0.6 * _BAR],
                color=QUIET,
                linewidth=0.8,
                zorder=4,
            )
            off = abs(item.z) >= WORTH_NAMING
            ax.text(
                0.0,
                place - _SHIFT,
                value_and_mean(item, system) if off else HARDLY_OFF,
                color=INK if off else QUIET,
                ha="center",
                va="center",
            )
        ax.set_xlim(-reach, reach)
        ax.set_xlabel("off its median (s.d.)")
        ax.spines["left"].set_visible(False)
        ax.tick_params(axis="y", length=0)
        plain_numbers(ax.xaxis, 5)
        words = miss_words(miss, len(misses))
        write_above(ax, words, 4.0, colour=INK)
        rise = 6.0 + 72.0 * LINE * (1 + words.count("\n"))
        write_above(ax, SIDE_WORDS[side], rise, colour=SIDE_COLOUR[side], weight="bold")
    name_rows(axes[0], labels, depths)


def miss_words(miss: LikeliestMiss, columns: int) -> str:
    """Return limit, state and distance of the likeliest miss, in lines that fit above it."""
    return wrap(f"{miss.limit}, {miss.state}; beta{NO_BREAK}{miss.beta:.2f}", _panel(columns))


def value_and_mean(item: MissedInput, system: str) -> str:
    """Return the value of an input and its mean in physical units.

    Examples
    --------
    >>> value_and_mean(MissedInput("tightening.tool", 0.93, 1.0, -2.3), "metric")
    '-7 %, mean 0 %'
    """
    value, mean = (value_words(item.name, part, system) for part in (item.value, item.mean))
    return with_signs(f"{value}, mean {mean}")


def _side_words(side: str) -> str:
    return SIDE_WORDS[side].partition(" ")[2]


def _panel(columns: int) -> float:
    """Return the width of the axes of one side [inches]."""
    return (WIDTH - _LEFT - RIGHT) / (columns + _GAP * (columns - 1)) - 0.05


def _named_rows(names: Sequence[str]) -> tuple[list[str], list[float]]:
    """Return the wrapped label and the depth of each row."""
    labels = [wrap(input_label(name), _NAME_WIDTH) for name in names]
    return labels, row_depths(labels, _ROW)


def likeliest_figure(result: RunResult, system: str = "metric") -> NamedFigure | None:
    """Return the figure of the likeliest misses; None where none is known or worth drawing."""
    misses = likeliest_misses(result)
    names = named_inputs(misses)
    if not names:
        return None
    title = "The likeliest way to miss each side"
    note = f"inputs at least {WORTH_NAMING:g} s.d. off on a side, at most {MOST_ROWS}"
    for side in SIDE_WORDS:
        if side not in misses:
            note += f"; none found for {_side_words(side)}"
    lines = max(1 + miss_words(miss, len(misses)).count("\n") for miss in misses.values())
    with style():
        figure, axes = new_figure(
            title,
            note,
            height=sum(_named_rows(names)[1]),
            above=0.3 + LINE * lines,
            left=_LEFT,
            columns=len(misses),
        )
        figure.subplots_adjust(wspace=_GAP)
        draw_likeliest(axes, misses, system)
    listed = ". ".join(
        f"{_side_words(side).capitalize()} ({miss.limit}, {miss.state}; beta "
        f"{miss.beta:.2f}): "
        + ", ".join(
            f"{input_label(item.name)} {value_and_mean(item, system)} ({item.z:+.1f} s.d.)"
            for item in miss.inputs
            if abs(item.z) >= WORTH_NAMING
        )
        for side, miss in misses.items()
    )
    return NamedFigure("likeliest", title, f"The likeliest misses. {listed}.", figure)
