"""The plan of a joint: every fastener in its place, with its number and its preload as a shade."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.patches import Circle

from preloadmc.joint import FastenerGroup
from preloadmc.questions.run import JOINT_QUANTILES, RunResult
from preloadmc.report.figures.style import (
    HAIR,
    INK,
    LINE,
    PALE,
    PREPARED,
    QUIET,
    SMALL,
    WIDTH,
    wrap,
)
from preloadmc.report.text.signs import NO_BREAK
from preloadmc.units import FORCE, LENGTH, Array, format_quantity

# Wider than so many times its height, a plan stands below the axes.
_WIDE = 2.5
# Largest and smallest diameter of a fastener, and of the distance to the nearest one, in inches.
_LARGEST, _SMALLEST, _NEAREST = 0.24, 0.025, 0.82
# A number: what a digit and a line take, and the gap to its fastener, in inches.
_DIGIT, _DEEP, _OFF = 0.085, 0.12, 0.03
# Around the fasteners, and under them for words beside the axes and below them, in inches.
_ROUND = 0.16
_WORDS_BESIDE, _WORDS_BELOW = 3.0 * LINE + 0.06, LINE + 0.08
# Above a fastener, below, and on either side of it.
_SIDES = ((0.0, 1.0), (0.0, -1.0), (1.0, 0.0), (-1.0, 0.0))
_STEPS = (1, 2, 5, 10, 20, 50, 100)
# The darkest shade is that of the least preload; a number on a shade below this is white.
_SHADES = LinearSegmentedColormap.from_list("preload", [QUIET, PREPARED, PALE])
_WHITE_BELOW = 0.35


def stands_below(facts: FastenerGroup) -> bool:
    """Return whether the plan is so wide that it stands below the axes, not beside them."""
    across, up = _extent(facts)
    return across > _WIDE * up


def plan_depth(facts: FastenerGroup, width: float) -> float:
    """Return the depth of a plan below the axes [inches], its words included."""
    across, up = _extent(facts)
    return (width - 2.0 * _ROUND) * up / across + 2.0 * _ROUND + _WORDS_BELOW


def layout_words(facts: FastenerGroup, system: str) -> str:
    """Return what the fasteners stand on, with its size; empty where no positions are known."""
    if facts.positions is None:
        return ""
    if facts.layout == "circle":
        diameter = 2.0 * float(np.hypot(*facts.positions[0]))
        return f"circle {format_quantity(diameter, LENGTH, system)}"
    if facts.layout == "row":
        pitch = float(facts.positions[1, 0] - facts.positions[0, 0])
        return f"row, {format_quantity(pitch, LENGTH, system)} apart"
    across, up = (format_quantity(size, LENGTH, system) for size in _extent(facts))
    return f"within {across} by {up}"


def _extent(facts: FastenerGroup) -> tuple[float, float]:
    """Return how wide and how deep the whole layout is [mm]."""
    low, high = _ends(facts)
    across, up = (high - low).tolist()
    return across, up


def _ends(facts: FastenerGroup) -> tuple[Array, Array]:
    """Return the least and the largest x and y of a layout (2,) [mm], of all of a circle."""
    positions = facts.positions
    assert positions is not None, "asked for where positions are known"
    if facts.layout == "circle":
        radius = float(np.hypot(*positions[0]))
        return np.full(2, -radius), np.full(2, radius)
    return positions.min(axis=0), positions.max(axis=0)


def draw_plan(
    ax: Axes,
    result: RunResult,
    outlined: Sequence[int],
    system: str = "metric",
    *,
    alike: bool = False,
) -> None:
    """Draw the fasteners in their places: x to the right, y up; the darker, the less preload.

    Those to be ``outlined`` are counted from 0; where all are ``alike``, all have one shade.
    Numbers stand in the fasteners or, where those are small, beside as many of them as there is
    room for. The axes measure inches.
    """
    joint, group = result.group, result.case.group
    assert joint is not None, "drawn of a joint of several fasteners"
    assert group is not None, "a joint of several fasteners has a group"
    facts = group.facts
    box = ax.get_position()
    width = box.width * WIDTH
    figure = ax.get_figure(root=True)
    assert figure is not None, "axes stand in a figure"
    height = box.height * float(figure.get_size_inches()[1])
    ax.set_xlim(0.0, width)
    ax.set_ylim(0.0, height)
    ax.set_axis_off()
    places = _places(facts, width, height)
    size = _diameter(places)
    median = joint.residual[JOINT_QUANTILES.index(0.5)]
    above = median - median.min()
    # Where all are alike, differences are those of sampling.
    shade = np.ones(group.n) if alike else above / max(float(above.max()), 1e-300)
    if facts.layout == "circle":
        middle = places.mean(axis=0)
        radius = float(np.hypot(*(places[0] - middle)))
        ax.add_patch(
            Circle(
                (float(middle[0]), float(middle[1])),
                radius,
                fill=False,
                edgecolor=HAIR,
                linewidth=0.8,
                zorder=1,
            )
        )
    rings = [fastener in outlined for fastener in range(group.n)]
    ax.scatter(
        places[:, 0],
        places[:, 1],
        s=(72.0 * size) ** 2,
        c=_SHADES(shade),
        edgecolors=[INK if each else QUIET for each in rings],
        linewidths=[1.6 if each else 0.5 for each in rings],
        zorder=3,
    )
    _write_numbers(ax, facts, places, size, shade, outlined)
    dark, pale = (
        format_quantity(float(end), FORCE, system, 3).replace(" ", NO_BREAK)
        for end in (median.min(), median.max())
    )
    told = [] if alike else [f"median: dark {dark},", f"pale {pale}"]
    words = layout_words(facts, system)
    if stands_below(facts):
        lines = ["; ".join([words, *([" ".join(told)] if told else [])])]
    else:
        lines = [words, *told]
    ax.text(
        0.5 * width,
        0.0,
        "\n".join(wrap(line, width) for line in lines),
        ha="center",
        va="bottom",
        color=QUIET,
        linespacing=1.15,
    )


def _places(facts: FastenerGroup, width: float, height: float) -> Array:
    """Return where the fasteners stand on the axes (n, 2) [inches]."""
    positions = facts.positions
    assert positions is not None, "asked for where positions are known"
    middle = 0.5 * np.add(*_ends(facts))
    across, up = _extent(facts)
    # A row stands under the bars of its fasteners.
    around = 0.6 * width / (facts.fasteners + 0.2) if facts.layout == "row" else _ROUND
    words = _WORDS_BELOW if stands_below(facts) else _WORDS_BESIDE
    room = width - 2.0 * around, height - words - 2.0 * _ROUND
    scale = min(
        (space / size for space, size in zip(room, (across, up), strict=True) if size > 0.0),
        default=1.0,
    )
    centre = np.array([0.5 * width, height - _ROUND - 0.5 * up * scale])
    found: Array = centre + scale * (positions - middle)
    return found


def _diameter(places: Array) -> float:
    """Return the diameter of a fastener that leaves the nearest ones apart [inches]."""
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, math.inf)
    return float(np.clip(_NEAREST * apart.min(), _SMALLEST, _LARGEST))


def _write_numbers(
    ax: Axes,
    facts: FastenerGroup,
    places: Array,
    size: float,
    shade: Array,
    outlined: Sequence[int],
) -> None:
    """Write the numbers in the fasteners, or beside those where they fit."""
    n = facts.fasteners
    if size >= _DIGIT * len(str(n)) + 0.04:
        for fastener, (x, y) in enumerate(places.tolist()):
            colour = "white" if shade[fastener] < _WHITE_BELOW else INK
            ax.text(
                x, y, str(fastener + 1), color=colour, size=SMALL, ha="center",
                va="center_baseline", zorder=4,
            )  # fmt: skip
        return
    beside = np.array([_beside(facts, places, size, side) for side in _SIDES])
    box = _DIGIT * len(str(n)), _DEEP
    for fastener, (x, y) in numbers_that_fit(places, beside, size, box, outlined).items():
        weight = "bold" if fastener in outlined else "normal"
        ax.text(
            x, y, str(fastener + 1), size=SMALL, ha="center", va="center_baseline", weight=weight
        )


def _beside(facts: FastenerGroup, places: Array, size: float, side: tuple[float, float]) -> Array:
    """Return the middles of numbers on one side of the fasteners; of a circle, within it."""
    away: Array = np.tile(side, (len(places), 1))
    if facts.layout == "circle":
        inwards = places.mean(axis=0) - places
        away = inwards / np.hypot(*inwards.T)[:, None]
    # As far as a number reaches towards its fastener.
    reach = np.abs(away) @ (0.5 * _DIGIT * len(str(facts.fasteners)), 0.5 * _DEEP)
    found: Array = places + away * (0.5 * size + _OFF + reach)[:, None]
    return found


def numbers_that_fit(
    places: Array,
    beside: Array,
    size: float,
    box: tuple[float, float],
    first: Sequence[int],
) -> dict[int, tuple[float, float]]:
    """Return where numbers stand that touch neither another nor a fastener, by fastener from 0.

    Parameters
    ----------
    places : ndarray (n, 2)
        Middles of the fasteners [inches].
    beside : ndarray (sides, n, 2)
        Where the middle of each number may stand, the first that is free being taken [inches].
    size : float
        Diameter of a fastener [inches].
    box : (float, float)
        Width and depth of a number [inches].
    first : sequence of int
        Fasteners that are numbered before others; then every second, fifth, tenth ... is, by the
        least of these steps at which no two of them touch, and the first.
    """
    whole = np.array(box)
    free: dict[int, Array] = {}
    for fastener in range(len(places)):
        for spot in beside[:, fastener]:
            if not (np.abs(places - spot) < 0.5 * (whole + size)).all(axis=1).any():
                free[fastener] = spot
                break

    def is_clear(spot: Array, taken: Sequence[Array]) -> bool:
        return not any((np.abs(spot - other) < whole + _OFF).all() for other in taken)

    regular: list[int] = []
    for step in _STEPS:
        regular = [fastener for fastener in free if (fastener + 1) % step == 0]
        spots = [free[fastener] for fastener in regular]
        if all(is_clear(spot, spots[:place]) for place, spot in enumerate(spots)):
            break
    chosen: dict[int, Array] = {}
    for fastener in (*first, *regular, 0):
        if fastener in free and is_clear(free[fastener], list(chosen.values())):
            chosen[fastener] = free[fastener]
    return {fastener: (float(x), float(y)) for fastener, (x, y) in chosen.items()}
