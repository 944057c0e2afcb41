"""Figure of the preload in each fastener of a joint from pass to pass of tightening."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from preloadmc.joint import FastenerGroup
from preloadmc.questions.run import JOINT_QUANTILES, JointResult, RunResult
from preloadmc.report.figures.joint import outlined
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.style import (
    INK,
    LEFT,
    LINE,
    PALE,
    PREPARED,
    QUIET,
    RIGHT,
    WIDTH,
    axis_label,
    new_figure,
    plain_numbers,
    shown,
    style,
    wrap,
)
from preloadmc.report.text.joint import pass_name
from preloadmc.report.text.signs import NO_BREAK
from preloadmc.units import FORCE, Array, format_quantity

_HEIGHT = 2.7
# Beside the axes for numbers of fasteners, and between the words of two passes, in inches.
_NUMBERS, _GAP = 1.3, 0.1
# Beyond the first and the last pass, in passes.
_BEYOND = 0.3
# So many fasteners that end alike are all numbered; of more, two are and the rest are counted.
_ALL_NAMED = 4
_PAD = 0.05


def joint_pass_figure(result: RunResult, system: str = "metric") -> NamedFigure | None:
    """Return the figure of preload by pass; None where no fastener takes preload from others."""
    joint, group = result.group, result.case.group
    if joint is None or group is None or not group.facts.interacts:
        return None
    title = "Preload of each fastener after each pass of tightening"
    note = "spread: largest less smallest preload over the mean; median and 95 % quantile of joints"
    words = pass_words(joint, group.facts)
    with style():
        figure, (ax,) = new_figure(
            title,
            note,
            height=_HEIGHT,
            above=0.24,
            below=0.42 + LINE * max(1 + each.count("\n") for each in words),
            right=_NUMBERS + RIGHT,
        )
        draw_passes(ax, result, system)
    return NamedFigure("joint_passes", title, _alt(joint, group.facts, system), figure)


def draw_passes(ax: Axes, result: RunResult, system: str = "metric") -> None:
    """Draw the median preload of each fastener from pass to pass, and the band of the weakest.

    Where there is one pass only, the lines are level.
    """
    joint, group = result.group, result.case.group
    assert joint is not None, "drawn of a joint of several fasteners"
    assert group is not None, "a joint of several fasteners has a group"
    passes = shown(joint.passes, FORCE, system)
    places = np.arange(float(len(passes)))
    marker = "o"
    if len(passes) == 1:
        marker = ""
        passes, places = np.repeat(passes, 2, axis=0), np.array([-_BEYOND, _BEYOND])
    median = passes[:, JOINT_QUANTILES.index(0.5)]
    low, high = (passes[:, JOINT_QUANTILES.index(p), joint.weakest_place] for p in (0.01, 0.99))
    ax.fill_between(
        places,
        low,
        high,
        color=PALE,
        linewidth=0,
        zorder=1,
        label=f"{_weakest_name(joint)}: the middle 98 % of joints",
    )
    for fastener, medians in enumerate(median.T):
        if fastener != joint.weakest_place:
            ax.plot(places, medians, color=PREPARED, linewidth=1.0, marker=marker, markersize=2.5)
    ax.plot(
        places,
        median[:, joint.weakest_place],
        color=INK,
        linewidth=1.8,
        marker=marker,
        markersize=4.0,
        label="its median",
    )
    ends = min(float(low.min()), float(median.min())), max(float(high.max()), float(median.max()))
    pad = _PAD * ((ends[1] - ends[0]) or abs(ends[1]) or 1.0)
    bottom = ends[0] - pad
    ax.set_ylim(max(bottom, 0.0) if ends[0] >= 0.0 else bottom, ends[1] + pad)
    ax.set_xlim(-_BEYOND, len(joint.passes) - 1.0 + _BEYOND)
    ax.set_xticks(range(len(joint.passes)), pass_words(joint, group.facts))
    ax.tick_params(axis="x", length=0)
    ax.set_xlabel("pass, by its share of the full setting")
    ax.set_ylabel(axis_label("preload", FORCE, system))
    plain_numbers(ax.yaxis)
    _number_ends(ax, median[-1], joint.weakest_place, float(places[-1]))
    ax.legend(
        loc="lower left",
        bbox_to_anchor=(0.0, 1.0),
        ncols=2,
        frameon=False,
        borderpad=0.0,
        borderaxespad=0.3,
        handlelength=1.4,
    )


def _number_ends(ax: Axes, ends: Array, weakest: int, place: float) -> None:
    """Number the lines at their ends; those that end close together are named together."""
    low, high = ax.get_ylim()
    line = LINE / _HEIGHT * (high - low)
    for fasteners in ends_together(ends, line):
        ax.annotate(
            numbers_words(fasteners, weakest),
            (place, float(ends[list(fasteners)].mean())),
            (6.0, 0.0),
            textcoords="offset points",
            va="center",
            color=INK if weakest in fasteners else QUIET,
        )


def ends_together(ends: Array, apart: float) -> list[tuple[int, ...]]:
    """Return the fasteners, from 0, in groups whose mean ends are at least ``apart`` [any unit].

    Examples
    --------
    >>> ends_together(np.array([5.0, 1.0, 5.2, 9.0]), 1.0)
    [(1,), (0, 2), (3,)]
    """
    groups: list[list[int]] = [[int(fastener)] for fastener in np.argsort(ends, kind="stable")]
    while len(groups) > 1:
        means = np.array([ends[group].mean() for group in groups])
        gaps = np.diff(means)
        nearest = int(gaps.argmin())
        if gaps[nearest] >= apart:
            break
        groups[nearest : nearest + 2] = [groups[nearest] + groups[nearest + 1]]
    return [tuple(sorted(group)) for group in groups]


def numbers_words(fasteners: Sequence[int], first: int) -> str:
    """Return the numbers of fasteners, the ``first`` before the others where it is one of them.

    Examples
    --------
    >>> numbers_words((0, 2, 4, 6, 8), 4), numbers_words((0, 2), 7)
    ('5, 1 + 3 more', '1, 3')
    """
    order = sorted(fasteners, key=lambda fastener: (fastener != first, fastener))
    named = order if len(order) <= _ALL_NAMED else order[:2]
    words = ", ".join(str(fastener + 1) for fastener in named)
    return words if named is order else f"{words} + {len(order) - 2} more"


def pass_words(joint: JointResult, facts: FastenerGroup) -> list[str]:
    """Return the name of each pass, with the spread of the joint after it, in lines that fit."""
    room = (WIDTH - LEFT - RIGHT - _NUMBERS) / (len(joint.passes) - 1.0 + 2.0 * _BEYOND) - _GAP
    found = []
    for place, (middle, most) in enumerate(joint.spreads.tolist()):
        ends = dict.fromkeys(f"{100 * share:.2g}{NO_BREAK}%" for share in (middle, most))
        spread = f"spread {', '.join(ends)}"
        found.append(f"{wrap(pass_name(facts, place), room)}\n{wrap(spread, room)}")
    return found


def _weakest_name(joint: JointResult) -> str:
    """Return the fastener whose band is drawn, and whether it stands out."""
    return f"fastener {joint.weakest_place + 1}" + (", with least left" if outlined(joint) else "")


def _alt(joint: JointResult, facts: FastenerGroup, system: str) -> str:
    told = []
    for place, quantiles in enumerate(joint.passes):
        low, middle, high = (
            format_quantity(
                float(quantiles[JOINT_QUANTILES.index(p), joint.weakest_place]), FORCE, system, 3
            )
            for p in (0.01, 0.5, 0.99)
        )
        spread = 100 * float(joint.spreads[place, 0])
        told.append(
            f"after {pass_name(facts, place)} median {middle}, 98 % between {low} and {high}, "
            f"spread of the joint {spread:.2g} %"
        )
    return (
        f"Median preload of {facts.fasteners} fasteners from pass to pass, order {facts.order_name}"
        f". For {_weakest_name(joint)}: {'; '.join(told)}."
    )
