"""Figures of an investigation: odds of the suspects, predicted against found, what to measure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from preloadmc.limits import OVER
from preloadmc.questions.infer import FindingFit, InferResult, Verdict, chance_words
from preloadmc.report.figures.flange import flange_figure
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import draw_interval_bar, name_rows, row_depths, row_places
from preloadmc.report.figures.style import (
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
from preloadmc.report.text.findings import candidate_place, found_words, where_words
from preloadmc.report.text.infer import told_verdicts
from preloadmc.report.text.signs import NO_BREAK, with_signs
from preloadmc.units import Array

_LEFT = 2.15
_NAME_WIDTH = 1.95
_TITLE_NAME_WIDTH = 3.4
_ROW = 0.34
_BAR = 0.15
# How far out a finding is drawn at most, in half widths of the predicted range.
_FARTHEST = 3.0
_BITS_TO_SHOW = 8
# Fewer are written as 0.00, and have no bar to see.
_LEAST_BITS = 0.005
_ODDS_TO_SHOW = 12
_FITS_TO_SHOW = 24
# A suspect less probable than this has no bar to see: it is named below the axis.
_LEAST_BAR = 1e-3


def infer_figures(result: InferResult, system: str = "metric") -> tuple[NamedFigure, ...]:
    """Return the figures of an investigation, in the order of reading."""
    fits = tuple(
        fit_figure(verdict, place, system)
        for place, verdict in enumerate(result.leading, 1)
        if verdict.fit
    )
    next_one = (measurement_figure(result),) if result.next_measurements else ()
    circle = flange_figure(result, system)
    return (odds_figure(result), *(() if circle is None else (circle,)), *fits, *next_one)


def draw_odds(ax: Axes, verdicts: Sequence[Verdict], places: Array) -> None:
    """Draw each suspect's probability with its sampling error, and its prior as a diamond."""
    for place, verdict in zip(places, verdicts, strict=True):
        value, error = 100.0 * verdict.probability, 200.0 * verdict.error
        low, high = max(value - error, 0.0), min(value + error, 100.0)
        draw_interval_bar(ax, place, value, low, high, thickness=_BAR, colour=PREPARED)
        ax.plot(
            100.0 * verdict.prior,
            place + 0.72 * _BAR,
            marker="D",
            markersize=4,
            color="white",
            markeredgecolor=INK,
            linestyle="none",
            clip_on=False,
            zorder=4,
        )
    ax.set_xlim(0.0, 112.0)
    ax.set_xlabel("probability among the suspects named (%)")


def odds_figure(result: InferResult) -> NamedFigure:
    """Return the figure of the suspects' probabilities."""
    title = "What is likely to have loosened the joints"
    note = (
        "bars: after the evidence, whiskers: two standard errors of sampling; diamonds: before it"
    )
    told = told_verdicts(result)
    verdicts = [each for each in told if each.probability >= _LEAST_BAR][:_ODDS_TO_SHOW]
    rest = [each.suspect.name for each in told if each.probability < _LEAST_BAR]
    left_out = wrap(f"below 0.1 % each: {', '.join(rest)}", WIDTH - 0.3) if rest else ""
    below = 0.5 + (LINE * (1.5 + left_out.count("\n") + 0.4) if rest else 0.0)
    names = [wrap(verdict.suspect.name, _NAME_WIDTH) for verdict in verdicts]
    depths = row_depths(names, _ROW)
    places = row_places(depths)
    with style():
        figure, (ax,) = new_figure(
            title, note, height=float(np.sum(depths)), left=_LEFT, below=below
        )
        draw_odds(ax, verdicts, places)
        name_rows(ax, names, depths)
        figure.text(0.12 / WIDTH, 0.06 / figure.get_figheight(), left_out, color=QUIET, va="bottom")
    listed = "; ".join(f"{v.suspect.name} {chance_words(v.probability, v.error)}" for v in told)
    return NamedFigure("odds", title, f"Probability of each suspect: {listed}.", figure)


def draw_fit(ax: Axes, fits: list[FindingFit], places: Array, system: str) -> None:
    """Draw each reading against what was predicted: 5 and 95 % lie at -1 and +1."""
    ax.axvline(0.0, color=QUIET, linewidth=0.6)
    for place, fit in zip(places, fits, strict=True):
        if fit.is_chance:
            continue
        ax.barh(place, 2.0, _BAR, -1.0, color=HAIR, linewidth=0, zorder=2)
        found = standing(fit)
        outside = abs(found) > 1.0
        ax.plot(
            float(np.clip(found, -_FARTHEST, _FARTHEST)),
            place,
            marker="o" if abs(found) <= _FARTHEST else "<>"[int(found > 0.0)],
            markersize=6,
            color=SIDE_COLOUR[OVER] if outside else INK,
            linestyle="none",
            zorder=4,
        )
    ax.set_xlim(-_FARTHEST - 0.3, _FARTHEST + 0.3)
    ax.set_xlabel(wrap("found, where -1 to +1 is predicted (5 to 95 %)", 1.9))
    plain_numbers(ax.xaxis)


def standing(fit: FindingFit) -> float:
    """Return where a finding lies about the predicted median, in half widths to 5 or 95 %."""
    value = getattr(fit.finding, "value", None)
    found = float(fit.finding.loose if value is None else value)  # type: ignore[union-attr]
    reach = fit.p95 - fit.p50 if found >= fit.p50 else fit.p50 - fit.p05
    off = found - fit.p50
    if reach <= 0.0:
        return 0.0 if off == 0.0 else float(np.sign(off)) * 2.0 * _FARTHEST
    return off / reach


def draw_chances(ax: Axes, fits: list[FindingFit], places: Array) -> None:
    """Draw the predicted chance of each finding of yes or no, and of each censored one."""
    for place, fit in zip(places, fits, strict=True):
        if fit.is_chance:
            percent = 100.0 * fit.p50
            ax.barh(place, percent, _BAR, color=PALE, edgecolor=INK, linewidth=0.6, zorder=2)
            ax.annotate(
                f"{percent:.0f} %",
                (percent, place),
                xytext=(4, 0),
                textcoords="offset points",
                va="center_baseline",
            )
    ax.set_xlim(0.0, 128.0)
    ax.set_xticks([0, 50, 100])
    ax.set_xlabel(wrap("predicted chance of what was found (%)", 1.6))


def fit_figure(verdict: Verdict, place: int, system: str) -> NamedFigure:
    """Return the figure of predicted against found for one suspect."""
    title = f"Does it fit: {_one_line(verdict.suspect.name)}?"
    note = "dots: what was found; bars: what the suspect predicts of such fasteners"
    fits = list(verdict.fit)
    if len(fits) > _FITS_TO_SHOW:
        rarest = sorted(fits, key=lambda fit: min(fit.position, fit.prior_position))
        fits = [fit for fit in fits if fit in rarest[:_FITS_TO_SHOW]]
        note = f"dots: the {_FITS_TO_SHOW} rarest of {len(verdict.fit)} findings; bars: predicted"
    names = [
        wrap(
            f"{where_words(fit.finding, system)}: "
            f"{_unbroken(with_signs(found_words(fit.finding, system)))}",
            2.15,
        )
        for fit in fits
    ]
    depths = row_depths(names, _ROW)
    places = row_places(depths)
    # A side without a finding of its kind is left out.
    sides = [is_chance for is_chance in (False, True) if is_chance in {f.is_chance for f in fits}]
    with style():
        figure, axes = new_figure(
            title, note, height=float(np.sum(depths)), left=2.35, below=0.62, columns=len(sides)
        )
        for ax, is_chance in zip(axes, sides, strict=True):
            if is_chance:
                draw_chances(ax, fits, places)
            else:
                draw_fit(ax, fits, places, system)
        name_rows(axes[0], names, depths)
        for ax in axes[1:]:
            ax.tick_params(axis="y", length=0, labelleft=False)
    words = (
        "explains what was found"
        if verdict.explains_the_evidence
        else "does not explain what was found"
    )
    alt = f"Predicted against found: {verdict.suspect.name} {words}."
    return NamedFigure(f"fit-{place}", title, alt, figure)


def measurement_figure(result: InferResult) -> NamedFigure:
    """Return the figure of what to measure next."""
    title = "What to measure next"
    note = "expected information about which suspect is true; whiskers: two standard errors"
    best, *others = result.next_measurements[:_BITS_TO_SHOW]
    shown = [best, *(each for each in others if each.bits >= _LEAST_BITS)]
    names = [
        wrap(f"{each.kind}, {_of_the_lot(candidate_place(each))}", _NAME_WIDTH) for each in shown
    ]
    depths = row_depths(names, _ROW)
    places = row_places(depths)
    with style():
        figure, (ax,) = new_figure(title, note, height=float(np.sum(depths)), left=_LEFT)
        for place, each in zip(places, shown, strict=True):
            low = max(each.bits - 2.0 * each.bits_error, 0.0)
            high = each.bits + 2.0 * each.bits_error
            ax.barh(place, each.bits, _BAR, color=PREPARED, edgecolor=INK, linewidth=0.6, zorder=2)
            ax.errorbar(
                each.bits,
                place,
                xerr=[[each.bits - low], [high - each.bits]],
                color=INK,
                elinewidth=1.0,
                capsize=2.5,
                zorder=3,
            )
            ax.annotate(
                f"{each.bits:.2f}",
                (high, place),
                xytext=(5, 0),
                textcoords="offset points",
                va="center_baseline",
            )
        most = max(each.bits + 2.0 * each.bits_error for each in shown)
        ax.set_xlim(0.0, 1.16 * max(most, 0.05))
        ax.set_xlabel("expected information (bits)")
        plain_numbers(ax.xaxis)
        name_rows(ax, names, depths)
    listed = "; ".join(f"{each.kind} {each.bits:.2f} bits" for each in shown)
    return NamedFigure("next-measurement", title, f"Expected information: {listed}.", figure)


def _one_line(name: str) -> str:
    """Return a name, cut where a title has no room for it."""
    first, *more = wrap(name, _TITLE_NAME_WIDTH).split("\n")
    return f"{first} …" if more else first


def _unbroken(words: str) -> str:
    return words.replace(" ", NO_BREAK)


def _of_the_lot(words: str) -> str:
    return words.replace("of the lot", _unbroken("of the lot"))
