"""Figures of a fit: the tests of each quantity against the law taken, lot by lot."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator, FuncFormatter, LogLocator, MaxNLocator, NullLocator
from numpy.typing import NDArray
from scipy.special import betaincinv, ndtri

from preloadmc.questions.fit import FitResult, QuantityFit, share
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.style import (
    DASHES,
    HAIR,
    INK,
    LINE,
    PALE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    WIDTH,
    new_figure,
    plain_numbers,
    style,
    wrap,
)
from preloadmc.units import Array

BAND = 0.95
# More points than these hide each other; the far ones are all drawn.
MOST_DRAWN = 600
_FAR_DRAWN = 50
# Lots with a mark of their own; the others share one.
_LOOKS = (
    ("o", INK),
    ("s", PREPARED),
    ("^", SIDE_COLOUR["over"]),
    ("D", SIDE_COLOUR["under"]),
    ("v", QUIET),
)
_OTHERS = ("x", QUIET)
_SHARES = (1e-4, 1e-3, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99, 0.999, 0.9999)
_LEGEND = 1.5
_LONGEST_TITLE = 44
# Largest over smallest value from which the ticks of a logarithmic axis are powers of ten.
_DECADES = 20.0


def drawn_places(n: int) -> NDArray[np.intp]:
    """Return the places of the ordered tests that are drawn: all, or the far ones and some."""
    if n <= MOST_DRAWN:
        return np.arange(n)
    inner = np.linspace(_FAR_DRAWN, n - 1 - _FAR_DRAWN, MOST_DRAWN - 2 * _FAR_DRAWN)
    ends = (np.arange(_FAR_DRAWN), np.arange(n - _FAR_DRAWN, n))
    return np.unique(np.concatenate([ends[0], inner.astype(np.intp), ends[1]]))


def band_of(fit: QuantityFit, places: NDArray[np.intp]) -> tuple[Array, Array, Array]:
    """Return height and band of ordered tests if the law taken is the true one.

    The share of the law below the i-th of n values has a beta law with i and n + 1 - i: heights
    are its medians as normal numbers, ends of the band the law's values at its quantiles.

    Parameters
    ----------
    fit : QuantityFit
        With its law.
    places : ndarray (m,)
        Places of ordered tests, from 0.

    Returns
    -------
    heights, low, high : ndarray (m,)
        Normal numbers; values in N, mm, MPa, N·mm, K, rad.
    """
    i, n = places + 1.0, fit.measured.n
    law = fit.chosen.fit.law
    shares = (betaincinv(i, n + 1.0 - i, p) for p in (0.5, 0.5 - 0.5 * BAND, 0.5 + 0.5 * BAND))
    heights, low, high = (np.asarray(ndtri(each), dtype=np.float64) for each in shares)
    return heights, law.from_normal(low), law.from_normal(high)


def draw_law(ax: Axes, fit: QuantityFit) -> None:
    """Draw the ordered tests on a normal scale with the law taken, its band, and the limits."""
    measured, law = fit.measured, fit.chosen.fit.law
    places = drawn_places(measured.n)
    order = np.argsort(measured.values, kind="stable")[places]
    heights, low, high = band_of(fit, places)
    ax.fill_betweenx(
        heights,
        _numbers(fit, low),
        _numbers(fit, high),
        color=PALE,
        linewidth=0,
        label=f"{share(BAND)} band\nof the law",
    )
    z = np.linspace(float(heights[0]) - 0.4, float(heights[-1]) + 0.4, 121)
    ax.plot(_numbers(fit, law.from_normal(z)), z, color=INK, linewidth=1.2, label=f"{law.kind} law")
    for marker, colour, words, chosen in _lots(fit, order):
        ax.plot(
            _numbers(fit, measured.values[order[chosen]]),
            heights[chosen],
            linestyle="none",
            marker=marker,
            markersize=4.2,
            color=colour,
            label=words,
            zorder=3,
        )
    for claim in fit.claims:
        words = f"{'at least' if claim.is_least else 'at most'} {measured.words(claim.limit)}"
        ax.axvline(measured.number(claim.limit), color=SIDE_COLOUR["over"], label=words)
    _scale(ax, fit)
    _draw_limits(ax, fit)
    shares = [p for p in _SHARES if z[0] <= ndtri(p) <= z[-1]]
    ax.set_yticks([float(ndtri(p)) for p in shares], [f"{100.0 * p:g}" for p in shares])
    ax.set_ylim(z[0], z[-1])
    ax.grid(axis="y", color=HAIR, linewidth=0.4)
    ax.set_ylabel("tests below (%)")
    ax.set_xlabel(_label(fit))
    ax.legend(
        loc="center left",
        bbox_to_anchor=(1.02, 0.5),
        frameon=False,
        handlelength=1.6,
        borderaxespad=0.0,
    )


def _label(fit: QuantityFit) -> str:
    return wrap(f"{fit.measured.name} ({fit.measured.unit or 'ratio'})", WIDTH - 3.0)


def _numbers(fit: QuantityFit, values: Array) -> Array:
    return np.array([fit.measured.number(float(value)) for value in values])


def _draw_limits(ax: Axes, fit: QuantityFit) -> None:
    """Draw the one-sided limits by the law; those of few tests may lie far beyond the figure."""
    low, high = ax.get_xlim()
    limits = [fit.measured.number(limit) for limit in (fit.limits.lower, fit.limits.upper)]
    inside = [limit for limit in limits if low <= limit <= high]
    words = f"limits for {share(fit.limits.content)},\n{share(fit.limits.confidence)} confidence"
    if len(inside) == 1:
        words += "\n(one is outside)"
    for limit in inside:
        ax.axvline(limit, color=QUIET, linewidth=1.0, dashes=DASHES, label=words, zorder=1)
        words = ""


def _scale(ax: Axes, fit: QuantityFit) -> None:
    """Let the level axis be that on which a lognormal law is straight, or plain.

    It leaves as much room beside what is drawn as that takes itself, if a limit lies there.
    """
    is_log = fit.chosen.law == "lognormal"
    if is_log:
        ax.set_xscale("log")
    low, high = (math.log(end) if is_log else end for end in sorted(ax.get_xlim()))
    room, margin = high - low, 0.04 * (high - low)
    for limit in (fit.limits.lower, fit.limits.upper):
        number = fit.measured.number(limit)
        if is_log and not 0.0 < number < math.inf:
            continue
        at = math.log(number) if is_log else number
        if low - room <= at <= high + room:
            low, high = min(low, at - margin), max(high, at + margin)
    if not is_log:
        ax.set_xlim(low, high)
        plain_numbers(ax.xaxis, 6)
        return
    low, high = math.exp(low), math.exp(high)
    ax.set_xlim(low, high)
    if high < _DECADES * low:
        ticks = [each for each in MaxNLocator(6).tick_values(low, high) if low <= each <= high]
        ax.xaxis.set_major_locator(FixedLocator(_apart(ticks, low, high)))
    else:
        ax.xaxis.set_major_locator(LogLocator(numticks=6))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:.4g}"))


def _apart(ticks: list[float], low: float, high: float) -> list[float]:
    """Return ticks of a logarithmic axis that are a tenth of it apart or more."""
    found: list[float] = []
    for tick in ticks:
        if not found or math.log(tick / found[-1]) > 0.1 * math.log(high / low):
            found.append(tick)
    return found


def _lots(
    fit: QuantityFit, order: NDArray[np.intp]
) -> list[tuple[str, str, str, NDArray[np.bool_]]]:
    """Return marker, colour, words and places of the tests of each lot that are drawn."""
    lots = fit.measured.lots
    if lots is None:
        return [(*_LOOKS[0], "tests", np.ones(len(order), dtype=bool))]
    of_test = np.array(lots)[order]
    names = tuple(dict.fromkeys(lots))
    found = [
        (marker, colour, wrap(name, _LEGEND - 0.35), of_test == name)
        for name, (marker, colour) in zip(names, _LOOKS, strict=False)
    ]
    others = names[len(_LOOKS) :]
    if others:
        found.append((*_OTHERS, f"{len(others)} other lots", np.isin(of_test, others)))
    return found


def law_figure(fit: QuantityFit, place: int) -> NamedFigure:
    """Return the figure of one quantity; ``place`` counts them from 1."""
    measured = fit.measured
    name = f"{measured.name[:1].upper()}{measured.name[1:]}"
    if len(name) > _LONGEST_TITLE:
        name = f"{name[: _LONGEST_TITLE - 1]}…"
    title = f"{name}: tests and law"
    note = "band: order statistics of the law (exact beta law), its parameters taken as found"
    with style():
        below = 0.5 + LINE * _label(fit).count("\n")
        figure, (ax,) = new_figure(title, note, height=3.0, below=below, right=_LEGEND + 0.2)
        draw_law(ax, fit)
    _, low, high = band_of(fit, np.arange(measured.n))
    ordered = np.sort(measured.values)
    outside = int(np.sum((ordered < low) | (ordered > high)))
    alt = (
        f"{measured.n} tests of {measured.name} in rising order against the {fit.chosen.law} law "
        f"taken; {outside} of them lie outside the {share(BAND)} band of its order statistics."
    )
    return NamedFigure(f"fit_{place}", title, alt, figure)


def fit_figures(result: FitResult) -> tuple[NamedFigure, ...]:
    """Return a figure for each quantity."""
    return tuple(law_figure(each, place) for place, each in enumerate(result.quantities, 1))
