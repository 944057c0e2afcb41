"""The figure of the strongest inputs against preload, with the misses marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from preloadmc.inputs import input_kind, input_label
from preloadmc.limits import OVER, UNDER
from preloadmc.questions.rank import RankResult
from preloadmc.questions.run import RunResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import BACKED, draw_edge, edge_words
from preloadmc.report.figures.preload import histogram_limits, sampled_words
from preloadmc.report.figures.style import (
    LINE,
    PREPARED,
    SIDE_COLOUR,
    SIDE_MARKER,
    axis_label,
    new_figure,
    plain_numbers,
    shown,
    shown_one,
    style,
    wrap,
)
from preloadmc.samples import Kept
from preloadmc.units import FORCE, Array

# More points than these hide each other.
MOST_INSIDE = 800
MOST_MISSES = 250
# Width of an axis label, and of the space beside the axes, in inches.
_PANEL = 2.1
_BESIDE = 0.8
# Most values, and so many times their width that all are not shown; the room beside them.
_MOST, _FAR, _ROOM = (0.02, 0.98), 4.0, 0.2
_INSIDE = "inside"
_LOOK: dict[str, tuple[str, float, str, str, float]] = {
    _INSIDE: ("o", 2.6, PREPARED, "inside", 0.6),
    UNDER: (SIDE_MARKER[UNDER], 4.4, SIDE_COLOUR[UNDER], "too little", 1.0),
    OVER: (SIDE_MARKER[OVER], 4.4, SIDE_COLOUR[OVER], "too much", 1.0),
}


def strongest_inputs(ranking: RankResult) -> tuple[str, ...]:
    """Return two members of the strongest group, or the two strongest inputs; one if alone."""
    ranked = [ranking.members[i] for i in ranking.order]
    return ranked[0][:2] if len(ranked[0]) > 1 else tuple(names[0] for names in ranked[:2])


@dataclass(frozen=True, slots=True)
class DrawnJoints:
    """Places of the joints that are drawn, and how many of their kind there are."""

    places: NDArray[np.intp]
    count: int


def drawn_joints(kept: Kept) -> dict[str, DrawnJoints]:
    """Return the joints to draw: few of those inside, every miss up to a cap.

    A joint that breaks in tightening misses both sides and is drawn as both.
    """
    kinds = {
        _INSIDE: (~(kept.under | kept.over), MOST_INSIDE),
        UNDER: (kept.under, MOST_MISSES),
        OVER: (kept.over, MOST_MISSES),
    }
    found = {kind: (np.flatnonzero(flags), most) for kind, (flags, most) in kinds.items()}
    return {kind: DrawnJoints(all_[:most], len(all_)) for kind, (all_, most) in found.items()}


def draw_scatter(axes: Sequence[Axes], result: RunResult, system: str = "metric") -> None:
    """Draw residual preload against one of the strongest inputs on each of the axes."""
    assert result.ranking is not None, "nothing scatters"
    samples = result.samples
    residual = shown(samples.kept.path["residual"], FORCE, system)
    x = result.case.inputs(samples.kept.z, samples.columns)
    minimum = next(limit for limit in histogram_limits(result) if limit.side == UNDER)
    names = strongest_inputs(result.ranking)
    chosen = drawn_joints(samples.kept)
    for ax, name in zip(axes, names, strict=True):
        kind = input_kind(name)
        values = shown(np.asarray(x[name]), kind.dimension, system)
        for group, drawn in chosen.items():
            marker, size, colour, words, alpha = _LOOK[group]
            ax.plot(
                values[drawn.places],
                residual[drawn.places],
                linestyle="none",
                marker=marker,
                markersize=size,
                color=colour,
                markeredgewidth=0.0 if group == _INSIDE else 0.3,
                markeredgecolor="white",
                alpha=alpha,
                label=words if group == _INSIDE else f"{words}: {_drawn_words(drawn)}",
                zorder=2 if group == _INSIDE else 3,
            )
        draw_edge(ax, minimum, system, level=True)
        near = _near(values[np.concatenate([drawn.places for drawn in chosen.values()])])
        if near is not None:
            ax.set_xlim(*near)
            ax.annotate(
                "some lie beyond",
                (1.0, 1.0),
                xycoords="axes fraction",
                ha="right",
                va="top",
                bbox=BACKED,
                zorder=4,
            )
        ax.set_xlabel(_input_words(name, system))
        plain_numbers(ax.xaxis, 5)
    axes[0].set_ylabel(axis_label("residual preload", FORCE, system))
    plain_numbers(axes[0].yaxis)
    axes[-1].annotate(
        edge_words(minimum, _BESIDE - 0.12, system),
        (1.0, shown_one(minimum.median, FORCE, system)),
        (4, 0),
        xycoords=axes[-1].get_yaxis_transform(),
        textcoords="offset points",
        va="center",
        color=SIDE_COLOUR[UNDER],
    )
    axes[0].legend(
        loc="lower left",
        bbox_to_anchor=(0.0, 1.0),
        ncols=3,
        frameon=False,
        borderaxespad=0.2,
        handletextpad=0.1,
        columnspacing=1.2,
    )


def _near(values: Array) -> tuple[float, float] | None:
    """Return where most values lie, where a few far ones would leave no room to see them."""
    low, high = (float(end) for end in np.quantile(values, _MOST))
    width = high - low
    if float(values.max() - values.min()) <= _FAR * width:
        return None
    return low - _ROOM * width, high + _ROOM * width


def _input_words(name: str, system: str) -> str:
    return wrap(axis_label(input_label(name), input_kind(name).dimension, system), _PANEL)


def _drawn_words(drawn: DrawnJoints) -> str:
    return f"{len(drawn.places):,} of {drawn.count:,}" if drawn.count else "none"


def scatter_figure(result: RunResult, system: str = "metric") -> NamedFigure:
    """Return the figure of the strongest inputs against residual preload."""
    assert result.ranking is not None, "nothing scatters"
    names = strongest_inputs(result.ranking)
    samples = result.samples
    title = "The strongest inputs and the residual preload"
    drawn = drawn_joints(samples.kept)
    thinned = any(len(some.places) < some.count for some in drawn.values())
    note = f"from {sampled_words(len(samples.kept.z), samples.n)}{', thinned' if thinned else ''}"
    with style():
        lines = max(_input_words(name, system).count("\n") for name in names)
        figure, axes = new_figure(
            title,
            note,
            height=2.7,
            above=0.28,
            below=0.5 + lines * LINE,
            right=_BESIDE,
            columns=len(names),
        )
        draw_scatter(axes, result, system)
    labels = " and against ".join(input_label(name) for name in names)
    alt = (
        f"Residual preload of single fasteners against {labels}; marked are "
        f"the fasteners with too little ({_drawn_words(drawn[UNDER])}) and too much preload "
        f"({_drawn_words(drawn[OVER])}) "
        f"among {sampled_words(len(samples.kept.z), samples.n)}."
    )
    return NamedFigure("scatter", title, alt, figure)
