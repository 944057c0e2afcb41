"""Figures of aiming: both misses against the setting, and the border of scatter that meets."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

from preloadmc.estimates.outside_shares import ShareCurve
from preloadmc.inputs import input_label
from preloadmc.judgement.verdicts import MEETS
from preloadmc.judgement.wording import probability_words
from preloadmc.limits import OVER, UNDER
from preloadmc.questions.aim import (
    FRICTION,
    TOOL,
    AimResult,
    AllowedScatters,
    Spread,
    setting_words,
)
from preloadmc.report.figures.named_figure import NamedFigure
from preloadmc.report.figures.pieces import decade_words, write_above
from preloadmc.report.figures.style import (
    DASHES,
    DOTS,
    INK,
    PALE,
    PREPARED,
    QUIET,
    SIDE_COLOUR,
    SIDE_MARKER,
    SIDE_WORDS,
    axis_label,
    new_figure,
    plain_numbers,
    shown,
    shown_one,
    style,
)
from preloadmc.units import Array

_MILLION = 1e6
# The upright axis goes this far below the smallest number that matters, and never below that.
_BELOW = 20.0
_LEAST = 1e-15
_ABOVE = 0.62
# Behind words that stand on a curve.
_PLATE = {"facecolor": "white", "alpha": 0.85, "edgecolor": "none", "pad": 1.0}
_LEFT = 1.08


def draw_setting_curve(ax: Axes, result: AimResult) -> None:
    """Draw both probabilities with their bands against the setting, and what is allowed.

    The settings that meet what is allowed are shaded; markers with whiskers are the independent
    check at the setting.
    """
    setting, system = result.setting, result.system

    def place(at: float) -> float:
        return shown_one(at, setting.dimension, system)

    curves: dict[str, ShareCurve] = {UNDER: result.under, OVER: result.over}
    settings = shown(result.under.levels, setting.dimension, system)
    requirement = result.case.requirement
    allowed = {UNDER: requirement.allowed_under, OVER: requirement.allowed_over}
    if result.aim.interval is not None:
        low, high = (place(end) for end in result.aim.interval)
        ax.axvspan(low, high, color=PALE, alpha=0.55, linewidth=0, zorder=0)
    bottom = _bottom(result)
    for side, curve in curves.items():
        seen = curve.value > 0.0
        ax.fill_between(
            settings[seen],
            _MILLION * np.maximum(curve.low[seen], _LEAST),
            _MILLION * curve.high[seen],
            color=SIDE_COLOUR[side],
            alpha=0.25,
            linewidth=0,
            zorder=2,
        )
        ax.plot(
            settings[seen],
            _MILLION * curve.value[seen],
            color=SIDE_COLOUR[side],
            linewidth=1.5,
            zorder=3,
            label=side,
        )
        share = allowed[side]
        if share is not None:
            colour = QUIET if allowed[UNDER] == allowed[OVER] else SIDE_COLOUR[side]
            ax.axhline(_MILLION * share, color=colour, linewidth=1.0, dashes=DASHES, zorder=2)
    ax.set_yscale("log")
    ax.set_ylim(_MILLION * bottom, 2.0 * _MILLION)
    _draw_beside(ax, result, settings, bottom)
    if result.rises_by_breaking and result.under.value[-1] > 3.0 * bottom:
        ax.text(
            0.985,
            0.03,
            "fasteners that break",
            transform=ax.transAxes,
            bbox=_PLATE,
            color=SIDE_COLOUR[UNDER],
            ha="right",
            va="bottom",
            zorder=6,
        )
    ax.set_xlim(float(settings[0]), float(settings[-1]))
    for side, outcome in zip(curves, result.verification.judged.sides, strict=True):
        found = outcome.probability
        if found.value > 0.0:
            ax.errorbar(
                place(result.looked_at.setting),
                _MILLION * found.value,
                yerr=[
                    [_MILLION * (found.value - found.low)],
                    [_MILLION * (found.high - found.value)],
                ],
                color=SIDE_COLOUR[side],
                marker=SIDE_MARKER[side],
                markersize=5,
                markeredgecolor="white",
                elinewidth=1.0,
                capsize=3,
                zorder=5,
            )
    _mark_settings(ax, result)
    ax.set_xlabel(axis_label(setting.label, setting.dimension, system))
    ax.set_ylabel("misses per million fasteners")
    plain_numbers(ax.xaxis)
    _decades(ax.yaxis)


def _draw_beside(ax: Axes, result: AimResult, settings: Array, bottom: float) -> None:
    """Draw the limits beside the window that close the settings, or are missed at the one shown.

    Each is named where it is missed most; those of one curve, such as seats alike, together.
    """
    closing = {*result.aim.low_end.limits, *result.aim.high_end.limits}
    judged = result.looked_at.judged
    closing |= {each.name for each in (*judged.beside, *judged.of_joint) if each.verdict != MEETS}
    alike: list[tuple[list[str], ShareCurve]] = []
    for name, curve in result.curve.items():
        seen = curve.value > bottom
        if name in ("under_preload", "over_preload") or name not in closing or not seen.any():
            continue
        names = next(
            (names for names, other in alike if np.allclose(other.value, curve.value, rtol=0.01)),
            None,
        )
        if names is None:
            alike.append(([name], curve))
        else:
            names.append(name)
    for names, curve in alike:
        seen = curve.value > bottom
        ax.plot(
            settings[seen],
            _MILLION * curve.value[seen],
            color=QUIET,
            linewidth=1.2,
            dashes=DOTS,
            zorder=2,
        )
        most = int(np.flatnonzero(seen)[np.argmax(curve.value[seen])])
        at_left = most < len(settings) / 2
        ax.annotate(
            "\n".join(names),
            (float(settings[most]), _MILLION * float(curve.value[most])),
            (4.0 if at_left else -4.0, -4.0),
            textcoords="offset points",
            ha="left" if at_left else "right",
            va="top",
            color=QUIET,
            bbox=_PLATE,
            zorder=6,
        )


def _bottom(result: AimResult) -> float:
    requirement = result.case.requirement
    matters = [
        share
        for share in (
            requirement.allowed_under,
            requirement.allowed_over,
            *(side.probability.value for side in result.looked_at.judged.sides),
        )
        if share
    ]
    return max(min(matters, default=1e-6) / _BELOW, _LEAST)


def _mark_settings(ax: Axes, result: AimResult) -> None:
    """Draw the present setting and the one to set, named in two lines above the axes."""
    setting, system = result.setting, result.system
    low, high = ax.get_xlim()
    for words, at, rise, colour in (
        ("now", result.present.setting, 4.0, QUIET),
        ("to set" if result.to_set else "least missed", result.looked_at.setting, 16.0, INK),
    ):
        place = shown_one(at, setting.dimension, system)
        if not low <= place <= high:
            continue
        ax.axvline(place, color=colour, linewidth=1.0, zorder=1)
        share = (place - low) / (high - low)
        ax.annotate(
            f"{words} {setting_words(setting, at, system)}",
            (place, 1.0),
            (0.0, rise),
            xycoords=ax.get_xaxis_transform(),
            textcoords="offset points",
            ha="left" if share < 0.15 else "right" if share > 0.85 else "center",
            va="bottom",
            color=colour,
            weight="normal" if words == "now" else "bold",
        )
    for side, colour in SIDE_COLOUR.items():
        words, at_right = SIDE_WORDS[side], side == OVER
        write_above(ax, words, 30.0, colour=colour, weight="bold", at_right=at_right)


def _decades(axis: Axis) -> None:
    """Write every decade, or every second or third, in plain numbers."""
    axis.set_major_locator(LogLocator(10.0, numticks=8))
    axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(FuncFormatter(lambda y, _: decade_words(y)))


def draw_scatter_border(ax: Axes, result: AimResult) -> None:
    """Draw the tool's and the friction's scatter that just meet what is allowed, and the present.

    The axes are the relative standard deviation of the widest input of each group.
    """
    assert result.room is not None, "both allowed probabilities are stated"
    tool, friction = (lead_spread(result.room, group) for group in (TOOL, FRICTION))
    border = result.room.border
    x = _percent(tool) * np.array([point.tool for point in border])
    y = _percent(friction) * np.array([point.friction for point in border])
    ax.fill(np.append(x, 0.0), np.append(y, 0.0), color=PALE, alpha=0.7, linewidth=0, zorder=1)
    ax.plot(x, y, color=INK, linewidth=1.4, zorder=3, label="border")
    for just, fill in ((True, INK), (False, "white")):
        of_kind = np.array([point.just_met == just for point in border])
        ax.plot(
            x[of_kind],
            y[of_kind],
            linestyle="none",
            marker="o",
            markersize=4,
            color=INK,
            markerfacecolor=fill,
            zorder=4,
            label="just met" if just else "as far as followed",
            clip_on=False,
        )
    now = _percent(tool), _percent(friction)
    ax.plot(*now, linestyle="none", marker="D", markersize=6, color=PREPARED,
            markeredgecolor=INK, zorder=4, label="now")  # fmt: skip
    right, top = 1.12 * max(float(x.max()), now[0]), 1.2 * max(float(y.max()), now[1])
    ax.set_xlim(0.0, right)
    ax.set_ylim(0.0, top)
    ax.annotate(
        "now",
        now,
        (-6.0, -4.0) if now[0] > 0.5 * right else (7.0, -4.0),
        textcoords="offset points",
        ha="right" if now[0] > 0.5 * right else "left",
        va="top",
    )
    ax.set_xlabel(_spread_label(result.room, TOOL))
    ax.set_ylabel(_spread_label(result.room, FRICTION))
    plain_numbers(ax.xaxis)
    plain_numbers(ax.yaxis, 5)


def lead_spread(allowed: AllowedScatters, group: str) -> Spread:
    """Return the input of a group whose scatter is relatively the widest."""
    found = allowed.of(group)
    assert found is not None, "the border needs both groups"
    return max(found.inputs, key=_percent)


def _spread_label(allowed: AllowedScatters, group: str) -> str:
    """Return the words of an axis: others of the group go along in proportion."""
    found = allowed.of(group)
    assert found is not None, "the border needs both groups"
    others = ", others along" if len(found.inputs) > 1 else ""
    return f"{input_label(lead_spread(allowed, group).name)}, s.d. (%){others}"


def _percent(spread: Spread) -> float:
    return 100.0 * (spread.sd_now if spread.mean == 0.0 else spread.sd_now / abs(spread.mean))


def setting_figure(result: AimResult) -> NamedFigure:
    """Return the figure of both probabilities against the setting."""
    setting, system = result.setting, result.system
    title = f"Misses against the {setting.label}"
    parts = ["dashed: allowed", "dotted: a limit beside the window", "marks: checked anew"]
    if result.case.tested:  # which leaves no room for what its name says
        parts = ["bands: for want of tests", "dashed: allowed", "marks: checked"]
    if result.aim.interval is not None:
        parts.append("shaded: meets all")
    note = "; ".join(parts)
    with style():
        figure, (ax,) = new_figure(title, note, height=3.0, above=_ABOVE, left=_LEFT)
        draw_setting_curve(ax, result)
    alt = (
        f"Probability of too little and of too much preload against the {setting.label}, on a "
        f"logarithmic axis. At {setting_words(setting, result.looked_at.setting, system)} too "
        f"little {probability_words(result.looked_at.judged.under.probability)}, too much "
        f"{probability_words(result.looked_at.judged.over.probability)}"
    )
    if result.aim.interval is not None:
        low, high = (setting_words(setting, end, system) for end in result.aim.interval)
        alt += f"; from {low} to {high} it meets every limit"
    return NamedFigure("setting", title, f"{alt}.", figure)


def border_figure(result: AimResult) -> NamedFigure:
    """Return the map of tool scatter against friction scatter."""
    assert result.room is not None, "both allowed probabilities are stated"
    title = "How much tool and friction may scatter"
    note = "shaded: meets both allowed probabilities at its own best setting"
    if not all(point.just_met for point in result.room.border):
        note += "; open: as far as followed"
    with style():
        figure, (ax,) = new_figure(
            title, note, height=2.8,
            below=0.5,
        )  # fmt: skip
        draw_scatter_border(ax, result)
    points = "; ".join(f"{point.tool:.2f} and {point.friction:.2f}" for point in result.room.border)
    alt = (
        "Border of the scatter of tool and friction with which both allowed probabilities are "
        f"just met, in multiples of the present scatter: {points}."
    )
    return NamedFigure("scatter_border", title, alt, figure)


def aim_figures(result: AimResult) -> tuple[NamedFigure, ...]:
    """Return the figures; without the map where no scatter of both would do."""
    curve = setting_figure(result)
    if result.room is None or not result.room.border:
        return (curve,)
    return curve, border_figure(result)
