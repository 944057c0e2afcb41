"""The look of the figures: colours, sizes, axes with units, wrapped words.

Colours differ in lightness as well as in hue, so that they stay apart in grey and for
colour-blind readers; whatever matters differs in shape too.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path
from matplotlib.ticker import FuncFormatter, MaxNLocator

from preloadmc.limits import OVER, UNDER
from preloadmc.units import TEMPERATURE, Array, Dimension, to_unit

INK = "#22303A"
QUIET = "#55646E"
HAIR = "#B4BFC5"
PREPARED = "#7A919C"
PALE = "#D3DCE0"
SIDE_COLOUR = {UNDER: "#3B3A94", OVER: "#B5490F"}
SIDE_TINT = {UNDER: "#EEEEF8", OVER: "#FBF1EA"}
SIDE_MARKER = {UNDER: "v", OVER: "^"}
SIDE_HATCH = {UNDER: "\\\\\\\\", OVER: "////"}
SIDE_WORDS = {UNDER: "▼ too little preload", OVER: "▲ too much preload"}

# Width of a figure and what its axes leave on either side, in inches.
WIDTH = 6.25
LEFT = 0.8
RIGHT = 0.14
SMALL = 9.0
# One line of text, in inches.
LINE = 0.155
_TITLE_BAND = 0.52
# Edges of the window, and what is allowed or as it is: long dashes.
DASHES = (5.0, 2.0)
DOTS = (1.0, 2.0)

_RC = {
    "font.family": ["sans-serif"],
    "font.sans-serif": ["DejaVu Sans", "Verdana", "Arial", "sans-serif"],
    "font.size": SMALL,
    "text.color": INK,
    # A dollar sign in a name is a dollar sign.
    "text.parse_math": False,
    "axes.labelcolor": INK,
    "axes.edgecolor": QUIET,
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.labelsize": SMALL,
    "axes.axisbelow": True,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "hatch.linewidth": 0.6,
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
    # Text stays text: it can be selected, searched and read aloud.
    "svg.fonttype": "none",
    "svg.hashsalt": "preload",
}


@contextmanager
def style() -> Iterator[None]:
    """Draw and save figures in this context.

    A character that the font of the PNG lacks is no cause for a warning: SVG shows it.
    """
    with mpl.rc_context(_RC), warnings.catch_warnings():  # type: ignore[arg-type]
        warnings.filterwarnings("ignore", r"Glyph \d+ .* missing from font")
        yield


def new_figure(
    title: str,
    note: str = "",
    *,
    height: float,
    above: float = 0.1,
    below: float = 0.5,
    left: float = LEFT,
    right: float = RIGHT,
    columns: int = 1,
    one_scale: bool = True,
) -> tuple[Figure, tuple[Axes, ...]]:
    """Return a figure with its title, a quiet note under it, and axes side by side.

    ``height`` is that of the axes; ``above``, ``below``, ``left`` and ``right`` are the space
    around them, apart from the title's; all in inches.

    Parameters
    ----------
    title, note : str
        What the figure shows, and a line on how; the note may be empty.
    height : float
        Of the axes [inches].
    above, below, left, right : float
        Space around the axes for legends and labels [inches].
    columns : int
        How many axes stand side by side.
    one_scale : bool
        Whether they have one upright axis.

    Returns
    -------
    figure : Figure
        `WIDTH` inches wide.
    axes : tuple of Axes
        From left to right.
    """
    head = _TITLE_BAND + above
    whole = below + height + head
    figure = Figure(figsize=(WIDTH, whole))
    axes = figure.subplots(1, columns, sharey=one_scale, squeeze=False)
    figure.subplots_adjust(
        left=left / WIDTH,
        right=1.0 - right / WIDTH,
        bottom=below / whole,
        top=1.0 - head / whole,
        wspace=0.16 if one_scale else 0.52,
    )
    edge = 0.12 / WIDTH
    figure.text(edge, 1.0 - 0.08 / whole, title, size=11, weight="bold", va="top")
    figure.text(edge, 1.0 - 0.30 / whole, note, color=QUIET, va="top")
    return figure, tuple(axes[0])


def shown(values: Array, dimension: Dimension, system: str) -> Array:
    """Return internal values as numbers of the unit that ``system`` prints.

    Parameters
    ----------
    values : ndarray
        Quantities in N, mm, MPa, N·mm, K, rad, any shape.
    dimension : Dimension
        What they measure.
    system : {"metric", "inch"}
        Whose unit is shown.

    Returns
    -------
    ndarray
        Numbers of the unit, in the shape of the values.
    """
    zero = shown_one(0.0, dimension, system)
    return zero + (shown_one(1.0, dimension, system) - zero) * values


def shown_one(value: float, dimension: Dimension, system: str) -> float:
    """Return one internal value as a number of the unit that ``system`` prints.

    Parameters
    ----------
    value : float
        Quantity in N, mm, MPa, N·mm, K, rad.
    dimension : Dimension
        What it measures.
    system : {"metric", "inch"}
        Whose unit is shown.

    Returns
    -------
    float
        Number of the unit.
    """
    return to_unit(value, dimension.unit(system), dimension)


def axis_label(words: str, dimension: Dimension, system: str) -> str:
    """Return the words with the unit printed: "preload (kN)", "thread friction (ratio)"."""
    unit = dimension.unit(system) or "ratio"
    return f"{words} ({unit.replace('deg', '°') if dimension is TEMPERATURE else unit})"


def plain_numbers(axis: Axis, most: int = 7) -> None:
    """Write the axis in plain numbers, with few ticks."""
    axis.set_major_locator(MaxNLocator(most, steps=[1, 2, 5, 10]))
    axis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:.10g}".replace("-", "−")))


def wrap(words: str, inches: float) -> str:
    """Return the words in lines that are at most ``inches`` wide; a wider word is broken.

    Parameters
    ----------
    words : str
        One line of text; spaces that do not break stay.
    inches : float
        Width of a line at the size of the figures' text [inches].

    Returns
    -------
    str
        Lines joined by line ends.

    Examples
    --------
    >>> wrap("bearing friction, hot roof", 1.0)
    'bearing friction,\\nhot roof'
    """
    lines = [""]
    for word in words.split(" "):
        joined = f"{lines[-1]} {word}" if lines[-1] else word
        if _inches(joined) <= inches:
            lines[-1] = joined
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and _inches(lines[-1] + letter) > inches:
                lines.append("")
            lines[-1] += letter
    return "\n".join(lines)


@cache
def _inches(words: str) -> float:
    width, _, _ = text_to_path.get_text_width_height_descent(
        words, FontProperties(size=SMALL), ismath=False
    )
    return float(width) / 72.0


def nice_step(rough: float) -> float:
    """Return 1, 2 or 5 times a power of ten, whichever is nearest to ``rough`` by its ratio.

    Examples
    --------
    >>> nice_step(0.54)
    0.5
    """
    power = 10.0 ** math.floor(math.log10(rough))
    return power * min((1.0, 2.0, 5.0, 10.0), key=lambda step: abs(math.log(step * power / rough)))
