"""Figure of the bolt circle: every fastener in its place, by what it was found to be."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.patches import Circle

from preloadmc.evidence import BoltCircle
from preloadmc.limits import OVER
from preloadmc.questions.infer import InferResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.style import (
    HAIR,
    INK,
    QUIET,
    SIDE_COLOUR,
    SMALL,
    new_figure,
    style,
    wrap,
)
from preloadmc.report.text.fasteners import (
    LOOSE,
    NOT_LOOKED_AT,
    TIGHT,
    UNDECIDED,
    Condition,
    conditions,
    loose_limit,
)
from preloadmc.units import LENGTH, format_quantity

_HEIGHT = 3.2
# Numbers stand inside the circle, the longest name of a condition in a column on the right.
_NUMBER_RADIUS = 0.8
_LEGEND = 2.9
# Larger than in other figures, since it is printed at half the width of a page.
_SIZE = 12.0
_LABEL = (_LEGEND - 0.9) * SMALL / _SIZE
# Fasteners that were counted have no number: they may be any of those without a finding.
_COUNTED = "counted, or not looked at"
_LOOSE_COLOUR = SIDE_COLOUR[OVER]
_FACES = {LOOSE: _LOOSE_COLOUR, TIGHT: INK, UNDECIDED: "white"}
# More fasteners than this do not leave room for every number: each second, third ... has one.
_NUMBERED = 24


def flange_figure(result: InferResult, system: str = "metric") -> NamedFigure | None:
    """Return the figure of the bolt circle; None where none is stated."""
    investigation = result.case.investigation
    circle = None if investigation is None else investigation.inspection.circle
    if circle is None:
        return None
    found = conditions(result.evidence, loose_limit(result))
    title = "Where the fasteners stand"
    note = "numbered clockwise from the top, seen from the heads"
    with style():
        figure, (ax,) = new_figure(title, note, height=_HEIGHT, below=0.1, left=0.1, right=_LEGEND)
        rest = _COUNTED if result.evidence.counts else NOT_LOOKED_AT
        draw_circle(ax, circle, found, rest)
        ax.text(
            0.0,
            0.0,
            f"circle\n{format_quantity(circle.diameter, LENGTH, system)}",
            ha="center",
            va="center",
            color=QUIET,
            size=_SIZE,
        )
        off = [name for name in found if name not in circle.names]
        handles, labels = ax.get_legend_handles_labels()
        ax.legend(
            handles,
            [wrap(label, _LABEL) for label in labels],
            loc="center left",
            bbox_to_anchor=(1.0, 0.55),
            frameon=False,
            fontsize=_SIZE,
            handlelength=1.2,
            labelspacing=0.9,
        )
        if off:
            words = wrap(f"not on this circle: {', '.join(off)}", _LABEL)
            ax.annotate(
                words, (1.0, 0.0), xycoords="axes fraction", va="bottom", color=QUIET, size=_SIZE
            )
    listed = "; ".join(f"{name} {found[name].words}" for name in circle.names if name in found)
    alt = f"Bolt circle of {circle.fasteners} fasteners: {listed or rest}."
    return NamedFigure("flange", title, alt, figure)


def draw_circle(
    ax: Axes, circle: BoltCircle, found: dict[str, Condition], rest: str = NOT_LOOKED_AT
) -> None:
    """Draw every fastener of a circle in its place, clockwise from the top, with its number.

    Squares are loose, triangles turned; orange is loose, dark tight, white neither; a small pale
    ring is one of the ``rest``.
    """
    ax.add_patch(Circle((0.0, 0.0), 1.0, fill=False, edgecolor=HAIR, linewidth=0.8, zorder=1))
    groups: dict[str, tuple[list[float], list[float]]] = {}
    places = {}
    for place, name in enumerate(circle.names):
        angle = 2.0 * math.pi * place / circle.fasteners
        places[name] = (math.sin(angle), math.cos(angle))
        condition = found.get(name)
        words = rest if condition is None else condition.words
        x, y = groups.setdefault(words, ([], []))
        x.append(places[name][0])
        y.append(places[name][1])
    looks = {condition.words: condition for condition in found.values()}
    for words, (x, y) in sorted(groups.items(), key=lambda group: group[0] == rest):
        _draw_group(ax, x, y, looks.get(words), words)
    step = math.ceil(circle.fasteners / _NUMBERED)
    for name in circle.names[::step]:
        x_place, y_place = places[name]
        ax.text(
            _NUMBER_RADIUS * x_place,
            _NUMBER_RADIUS * y_place,
            name,
            size=_SIZE,
            ha="center",
            va="center_baseline",
        )
    ax.set_xlim(-1.15, 1.15)
    ax.set_ylim(-1.15, 1.15)
    ax.set_aspect("equal")
    ax.set_axis_off()


def _draw_group(
    ax: Axes, x: list[float], y: list[float], condition: Condition | None, words: str
) -> None:
    if condition is None:
        marker, face, size = "o", "white", 5.0
    else:
        marker = "^" if condition.is_turned else "s" if condition.grip == LOOSE else "o"
        face, size = _FACES[condition.grip], 9.0
    ax.plot(
        x,
        y,
        marker=marker,
        markersize=size,
        color=face,
        markeredgecolor=HAIR if condition is None else INK,
        linestyle="none",
        label=f"{words} ({len(x)})",
        zorder=3,
    )
