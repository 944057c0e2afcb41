"""Figure of how sure the tests behind the laws make a result: where its probability may lie."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

from preloadmc.judgement.verdicts import Judged
from preloadmc.judgement.wording import share_text
from preloadmc.questions.run import RunResult
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import decade_words, write_above
from preloadmc.report.figures.style import (
    DASHES,
    DOTS,
    HAIR,
    INK,
    LEFT,
    QUIET,
    SIDE_COLOUR,
    SIDE_TINT,
    SIDE_WORDS,
    new_figure,
    plain_numbers,
    style,
)

_MILLION = 1e6
# Probabilities below are none, and stand at the left end of the axis.
_LEAST = 1e-12
# Powers of ten on an axis at most.
_MOST_DECADES = 10


def draw_probabilities(ax: Axes, result: RunResult, outcome: Judged) -> None:
    """Draw where the probability of one side may lie, what is predicted, sure and allowed."""
    assert result.bands is not None, "drawn where tests stand behind a law"
    assert outcome.band is not None, "a side has a band where the case has"
    (side,) = outcome.sides
    low, high = _span(outcome)
    p = np.sort(np.maximum(result.bands.conditional(outcome.name).p, _LEAST))
    share = 100.0 * (np.arange(len(p)) + 0.5) / len(p)
    colour = SIDE_COLOUR[side]
    ax.fill_between(_MILLION * p, share, color=SIDE_TINT[side], linewidth=0, zorder=1)
    ax.plot(_MILLION * p, share, color=colour, linewidth=1.5, zorder=3)
    ax.axvline(_MILLION * max(outcome.probability.value, low), color=INK, linewidth=1.4)
    upper, sure = _MILLION * max(outcome.band.upper, low), 100.0 * outcome.band.confidence
    ax.plot([upper, upper], [0.0, sure], color=colour, linewidth=1.4, dashes=DASHES, zorder=4)
    ax.axhline(sure, color=HAIR, linewidth=0.8, zorder=1)
    ax.set_ylim(0.0, 103.0)
    if outcome.allowed is not None:
        ax.axvline(_MILLION * outcome.allowed, color=QUIET, linewidth=1.4, dashes=DOTS)
    ax.set_xscale("log")
    ax.set_xlim(_MILLION * low, _MILLION * high)
    ax.xaxis.set_major_locator(LogLocator(10.0, numticks=5))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: decade_words(x)))
    ax.set_xlabel("misses per million fasteners")
    write_above(ax, SIDE_WORDS[side], 20.0, colour=SIDE_COLOUR[side], weight="bold")
    words = f"predicted {share_text(outcome.probability.value)}, {outcome.verdict}"
    write_above(ax, words, 6.0, colour=INK)


def _span(outcome: Judged) -> tuple[float, float]:
    """Return the ends of the axis, which hold the band and what it is held to."""
    band = outcome.band
    assert band is not None, "asked for where there is one"
    held = [band.upper, band.median, outcome.probability.value, outcome.allowed or band.upper]
    high = 3.0 * max(*held, band.high, 1e3 * _LEAST)
    low = max(min(band.low, *held), _LEAST, high / 10.0**_MOST_DECADES)
    return low / 3.0, min(high, 1.5)


def knowledge_figure(result: RunResult) -> NamedFigure | None:
    """Return the figure; None where tests stand behind no law."""
    if result.bands is None:
        return None
    title = "Where the probabilities may lie, for want of tests"
    sure = f"{100 * result.bands.confidence:g} %"
    note = f"upright line: predicted; long dashes: upper limit at {sure}; dotted: allowed"
    with style():
        figure, axes = new_figure(title, note, height=1.9, above=0.46, left=LEFT, columns=2)
        for ax, outcome in zip(axes, result.judgement.sides, strict=True):
            draw_probabilities(ax, result, outcome)
        axes[0].set_ylabel("sure to be below (%)")
        plain_numbers(axes[0].yaxis, 5)
    words = "; ".join(
        f"{side.label}: predicted {share_text(side.probability.value)}, {side.confidence_words}"
        for side in result.judgement.sides
    )
    return NamedFigure(
        "knowledge", title, f"How sure each probability is to be below a value. {words}.", figure
    )
