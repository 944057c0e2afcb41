"""The answer of aiming in three lines: how likely now, what limits, what to set."""

from __future__ import annotations

from preloadmc.inputs import input_label
from preloadmc.judgement.wording import probability_words, spread_words
from preloadmc.limits import OVER, UNDER
from preloadmc.questions.aim.allowed_scatter import (
    FOUND,
    TOO_LITTLE,
    AllowedScatter,
    AllowedScatters,
)
from preloadmc.questions.aim.records import NO_TARGET, NOT_RESOLVED, AimResult, SettingPoint
from preloadmc.questions.aim.setting import Setting
from preloadmc.units import format_number, format_quantity


def aim_answer(result: AimResult) -> tuple[str, str, str]:
    """Return the three lines."""
    return (
        f"How likely: {_how_likely(result)}",
        f"What limits: {_what_limits(result)}",
        f"What to set: {_what_to_set(result)}",
    )


def setting_words(setting: Setting, value: float, system: str) -> str:
    """Return a setting with its unit."""
    return format_quantity(value, setting.dimension, system)


def _how_likely(result: AimResult) -> str:
    setting, present = result.setting, result.present
    return (
        f"given these laws, at the present {setting.label} of "
        f"{setting_words(setting, present.setting, result.system)} "
        f"{_sides_words(present)}."
    )


def _sides_words(point: SettingPoint) -> str:
    return (
        f"too little preload: {probability_words(point.under)}, too much: "
        f"{probability_words(point.over)}"
    )


def _what_limits(result: AimResult) -> str:
    words = []
    for side, end in ((UNDER, "low"), (OVER, "high")):
        # Of limits that no joint misses at the setting the first stands for its side.
        found = next((each.limit for each in result.limits if each.limit.sides == (side,)), None)
        if found is not None:
            words.append(f"too {end} a {result.setting.label} misses {found.name} ({found.state})")
    text = "; ".join(words)
    together = of_all_scatter(result.allowed_scatter)
    if together is None:
        return f"{text}."
    if together.verdict == TOO_LITTLE:
        return f"{text}; the window is too narrow even without {scatter_words(together)}."
    factor = format_number(together.factor, 2)
    if together.factor < 1.0:
        return (
            f"{text}; {scatter_words(together)} would have to shrink to {factor} times what it is."
        )
    least = "" if together.verdict == FOUND else "at least "
    return f"{text}; {scatter_words(together)} could be {least}{factor} times what it is."


def scatter_words(allowed: AllowedScatter) -> str:
    """Return whose scatter it is, such as "the scatter of tool"."""
    return allowed.label if "scatter" in allowed.label else f"the scatter of {allowed.label}"


def of_all_scatter(allowed: AllowedScatters | None) -> AllowedScatter | None:
    """Return what is allowed of the widest group of scatter; None where none was looked at."""
    return allowed.sources[-1] if allowed is not None else None


def _what_to_set(result: AimResult) -> str:
    setting, system, found = result.setting, result.system, result.aim
    label = setting.label
    value = setting_words(setting, result.to_set.setting, system)
    likely = _sides_words(result.to_set)
    doubt = "" if result.verification.confirmed else " The independent check does NOT confirm this."
    if found.interval is not None:
        low, high = (setting_words(setting, end, system) for end in found.interval)
        return f"{value} ({likely}); any {label} from {low} to {high} meets what is allowed.{doubt}"
    if found.verdict == NO_TARGET:
        return f"{value} ({likely}); no probability is asked for.{doubt}"
    if found.verdict == NOT_RESOLVED:
        return f"{value} ({likely}); whether it meets what is allowed is not resolved.{doubt}"
    text = f"no {label} meets what is allowed; the best is {value} ({likely})"
    return f"{text}{_needed(result.allowed_scatter)}.{doubt}"


def _needed(allowed: AllowedScatters | None) -> str:
    """Return what scatter would be needed, by the scatter that has to shrink least."""
    if allowed is None:
        return ""
    alone = [
        each for each in allowed.sources if each.verdict == FOUND and "together" not in each.label
    ]
    if alone:
        easiest = max(alone, key=lambda each: each.factor)
        return f". It would take less scatter: {spreads_words(easiest)}"
    together = allowed.sources[-1]
    if together.verdict == TOO_LITTLE:
        return "; less scatter would not do: widen the window"
    factor = format_number(together.factor, 2)
    return f". It would take {scatter_words(together)} at {factor} of what it is"


def spreads_words(allowed: AllowedScatter) -> str:
    """Return the spreads that are allowed: "thread friction with s.d. 7.1 % (now 12 %)"."""
    parts = [
        f"{input_label(s.name)} with s.d. {spread_words(s.name, s.mean, s.most)} "
        f"(now {spread_words(s.name, s.mean, s.now)})"
        for s in allowed.spreads
    ]
    return " and ".join(parts)
