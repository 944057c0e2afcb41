"""The answer of aiming in three lines: how likely now, what limits, what to set."""

from __future__ import annotations

import numpy as np

from preloadmc.inputs import input_label
from preloadmc.judgement.headline import event_words, headline, headline_words, unmet_words
from preloadmc.judgement.verdicts import (
    MISSES,
    NOT_JUDGED,
    NOT_RESOLVED,
    Judgement,
    state_words,
    unknown_words,
)
from preloadmc.judgement.wording import spread_words
from preloadmc.limits import BREAKING
from preloadmc.questions.aim.allowed_scatter import (
    FOUND,
    TOO_LITTLE,
    AllowedScatter,
    AllowedScatters,
)
from preloadmc.questions.aim.bounds import costs_of_misses
from preloadmc.questions.aim.records import Aim, AimResult, End
from preloadmc.questions.aim.setting import Setting
from preloadmc.told import and_words
from preloadmc.units import format_number, format_quantity

# Less than a fifth of today's scatter is hardly within reach of one source (engineering judgement).
_ATTAINABLE = 0.2
_SURELY = 0.95
UNCONFIRMED = (
    "Search and independent check disagree: the report has both, and no justification is made of "
    "them."
)


def aim_answer(result: AimResult) -> tuple[str, str, str]:
    """Return the three lines."""
    return (
        f"How likely: {_how_likely(result)}",
        f"What limits: {_what_limits(result)}",
        f"What to set: {_what_to_set(result)}",
    )


def sheet_lines(result: AimResult) -> tuple[str, ...]:
    """Return the lines of the sheet to sign: each about the setting that is decided on.

    What to set comes first, then how likely a miss is there by the independent check, then what
    limits; what is likely at the present setting comes last, where that is another.
    """
    setting, at = result.setting, result.looked_at.setting
    value = setting_words(setting, at, result.system)
    judged = result.verification.judged
    told = list(dict.fromkeys((headline(judged).name, *(side.name for side in judged.sides))))
    likely = ", ".join(event_words(judged, judged.named(name)) for name in told)
    lines = (
        _what_to_set(result, alone=True),
        f"How likely: {result.case.given_words}, at {value}, judged anew, {likely}"
        f"{unmet_words(judged, but=told)}.",
        f"What limits: {_what_limits(result)}",
    )
    now = setting_words(setting, setting.present, result.system)
    if now == value:
        return lines
    words = headline_words(result.present.judged)
    return (*lines, f"Before: at {now}, the {setting.label} that this replaces, {words}.")


def setting_words(setting: Setting, value: float, system: str) -> str:
    """Return a setting with its unit."""
    return format_quantity(value, setting.dimension, system)


def _how_likely(result: AimResult) -> str:
    words = headline_words(result.present.judged)
    return f"{result.case.given_words}, at the present {result.setting.label}, {words}."


def _what_limits(result: AimResult) -> str:
    found = result.aim
    if found.verdict == NOT_JUDGED:
        sides = result.looked_at.judged.sides
        unasked = [side.subject for side in sides if side.allowed is None]
        if len(unasked) == 1:
            return f"{unasked[0]} has no allowed probability."
        return "neither side of the preload window has an allowed probability."
    if found.interval is None and found.low_end == found.high_end:
        return f"{_missed_everywhere_words(result)}."
    words = _ends_words(result) if found.interval is not None else _closed_words(result)
    scatter = _all_scatter_words(result, figure=not any(letter.isdigit() for letter in words))
    return f"{words}; {scatter}." if scatter else f"{words}."


def _all_scatter_words(result: AimResult, *, figure: bool) -> str:
    """Return that all scatter may grow or has to shrink, by how much where a ``figure`` is asked.

    Empty where it was not looked at.
    """
    together = of_all_scatter(result.room)
    if together is None:
        return ""
    if together.verdict == TOO_LITTLE:
        return f"no {result.setting.label} would do even without {scatter_words(together)}"
    factor = format_number(together.factor, 2)
    shrinks = together.factor < 1.0
    close = factor == "1" or together.low <= 1.0 <= together.high
    # Both are sampled: where they differ in the last digits, neither is believed.
    if close or shrinks == (result.aim.interval is not None):
        return f"{scatter_words(together)} is about as much as the limits allow"
    if shrinks:
        far = f" to {factor} times today's" if figure else ""
        return f"{scatter_words(together)} would have to shrink{far}"
    least = "" if together.verdict == FOUND else "at least "
    far = f" to {least}{factor} times today's" if figure else ""
    return f"{scatter_words(together)} may grow{far}"


def _ends_words(result: AimResult) -> str:
    """Return what sets both ends of the interval of settings."""
    assert result.interval_limits is not None, "there is an interval"
    words = []
    for which, end, judged in zip(
        ("lower", "upper"),
        (result.aim.low_end, result.aim.high_end),
        result.interval_limits,
        strict=True,
    ):
        value = setting_words(result.setting, judged.setting, result.system)
        names = [
            # Too high a setting leaves too little preload only where the fastener breaks.
            f"{judged.judged.under.subject} ({BREAKING.name})"
            if which == "upper" and name == judged.judged.under.name
            else _named(name, judged.judged)
            for name in end.limits
        ]
        if names:
            words.append(f"the {which} end, {value}, is set by {and_words(names)}")
        else:
            words.append(f"no limit sets the {which} end, where the search stopped ({value})")
    return "; ".join(words)


def _missed_everywhere_words(result: AimResult) -> str:
    """Return which limits no setting can be told to meet."""
    end, label = result.aim.low_end, result.setting.label
    names = and_words([_named(name, result.looked_at.judged) for name in end.limits])
    verb = "is" if len(end.limits) == 1 else "are"
    if result.aim.verdict == NOT_RESOLVED:
        return (
            f"whether {names} {verb} within what is allowed is not resolved at the settings that "
            "come nearest"
        )
    return f"{names} {verb} missed at every {label}"


def _closed_words(result: AimResult) -> str:
    """Return what leaves no setting: which limits ask for more than others allow."""
    setting, judged = result.setting, result.looked_at.judged
    low, high = result.aim.low_end, result.aim.high_end
    sure = "is sure to meet" if result.aim.verdict == NOT_RESOLVED else "meets"
    none = f"no {setting.label} {sure} every limit"
    if low.limits and high.limits and low.setting is None and high.setting is None:
        below, above = (
            and_words([_named(name, judged) for name in end.limits]) for end in (low, high)
        )
        return (
            f"{none}: neither {below} nor {above} is within what is allowed at any "
            f"{setting.label} searched"
        )
    words: list[str] = []
    for end, only in ((low, "from {} up"), (high, "up to {}")):
        if not end.limits:
            continue
        names = and_words([_named(name, judged) for name in end.limits])
        if not words:
            names += f" {'is' if len(end.limits) == 1 else 'are'} within what is allowed"
        if end.setting is None:
            words.append(f"{names} at no {setting.label} searched")
        else:
            value = setting_words(setting, end.setting, result.system)
            words.append(f"{names} only {only.format(value)}")
    return f"{none}: {', '.join(words)}"


def _named(name: str, judged: Judgement) -> str:
    """Return a side or limit as a part of a sentence; of a side the limit that makes most of it."""
    named = judged.named(name)
    if named.is_limit:
        return name
    governing = judged.governing(named)
    if governing is named:
        return named.subject
    return f"{named.subject} ({governing.name}, {governing.governing_state})"


def scatter_words(allowed: AllowedScatter) -> str:
    """Return whose scatter it is, such as "the scatter of tool"."""
    return allowed.scatter if "scatter" in allowed.scatter else f"the scatter of {allowed.scatter}"


def of_all_scatter(allowed: AllowedScatters | None) -> AllowedScatter | None:
    """Return what is allowed of the widest group of scatter; None where none was looked at."""
    return allowed.sources[-1] if allowed is not None else None


def _what_to_set(result: AimResult, *, alone: bool = False) -> str:
    """Return what to set; ``alone`` where no line before it has told the ends."""
    setting, found, looked_at = result.setting, result.aim, result.looked_at
    value = setting_words(setting, looked_at.setting, result.system)
    unconfirmed = "" if all(result.verification.agrees) else f" {UNCONFIRMED}"
    if result.to_set is not None:
        assert found.interval is not None, "a setting is recommended within an interval"
        low, high = (setting_words(setting, end, result.system) for end in found.interval)
        unknown = unknown_words(looked_at.judged, briefly=True)
        if unconfirmed:
            # The range rests on the search alone.
            return f"{value}.{unconfirmed}"
        ends = f"from {low} to {high}" if alone else "between those ends"
        meets = f"it meets every limit judged, as does any {setting.label} {ends}"
        if low == high:
            meets = (
                f"every limit judged is met within the last digit of that {setting.label}, and not "
                "beyond"
            )
        return (
            f"{value}: {meets}{f' ({unknown})' if unknown else ''}, the scatter of the tool "
            "counted in."
        )
    misses = "misses cost least" if costs_of_misses(result.case) else "weighted misses are least"
    least = f"{misses} at about {value}, which is no recommendation.{unconfirmed}"
    if found.verdict == NOT_JUDGED:
        return f"nothing is recommended: {state_words(looked_at.judged)}; {least}"
    change = _change_words(result)
    if found.verdict != NOT_RESOLVED:
        return f"no {setting.label} meets every limit{change}; {least}"
    if MISSES not in (looked_at.judged.verdict, result.verification.judged.verdict):
        # More samples help where the setting looked at is in doubt, not where it is missed.
        how = 'that with --precision "1 %" to resolve it'
        if any(each.wants_tests for each in looked_at.judged):
            how = "it, which names the tests that would settle it"
        change = f"; set it to about {value} in the case and run {how}"
    return (
        f"nothing is recommended, since no {setting.label} is sure to meet every limit"
        f"{_doubt_words(looked_at.judged)}{change}; {least}"
    )


def rounding_words(result: AimResult) -> str:
    """Return the exact best setting and what rounding it costs; empty where it is round itself."""
    setting, at = result.setting, result.looked_at.setting
    best = setting_words(setting, result.aim.best, result.system)
    if result.to_set is None or best == setting_words(setting, at, result.system):
        return ""
    return f"The exact best is {best}, with {_cost_of_rounding(result.aim, at)}."


def _cost_of_rounding(found: Aim, at: float) -> str:
    """Return how many fewer the weighted misses are at the exact best than at a setting."""
    levels, misses = found.misses
    best, there = (float(np.interp(each, levels, misses)) for each in (found.best, at))
    fewer = 100.0 * (1.0 - best / there) if there > 0.0 else 0.0
    return f"{fewer:.0f} % fewer weighted misses" if fewer >= 0.5 else "no fewer weighted misses"


def _change_words(result: AimResult) -> str:
    """Return what would have to change for a setting to meet every limit; empty where not known."""
    needed = _needed_scatter(result)
    for end in (result.aim.low_end, result.aim.high_end):
        needed += [each for each in _remedies(result, end) if each not in needed]
    return f"; it would take {', or '.join(needed)}" if needed else ""


def _doubt_words(judged: Judgement) -> str:
    """Return why what is not resolved is not, in brackets; empty where nothing is noted."""
    notes = dict.fromkeys(each.probability.note for each in judged.with_verdict(NOT_RESOLVED))
    words = "; ".join(note for note in notes if note)
    return f" ({words})" if words else ""


def _needed_scatter(result: AimResult) -> list[str]:
    """Return what scatter would be needed, by the scatter that has to shrink least.

    None is told where limits that no setting changes are missed: scatter is not looked at for them.
    """
    allowed = result.room
    if allowed is None or result.aim.low_end == result.aim.high_end:
        return []
    shrinking = [
        each for each in allowed.sources if each.verdict == FOUND and 0.0 < each.factor < 1.0
    ]
    alone = [
        each
        for each in shrinking
        # A factor whose interval reaches zero is none to aim for.
        if "together" not in each.scatter and each.low > 0.0 and each.factor >= _ATTAINABLE
    ]
    if alone:
        easiest = max(alone, key=lambda each: each.factor)
        return [f"less scatter ({spreads_words(easiest)})"]
    if not shrinking:
        return []
    factor = format_number(_SURELY * shrinking[-1].low, 2)
    return [f"{scatter_words(shrinking[-1])} at {factor} times today's"]


def _remedies(result: AimResult, end: End) -> list[str]:
    """Return what else helps the limits that close an end."""
    judged = result.looked_at.judged
    found = []
    for name in end.limits:
        limit = judged.governing(judged.named(name)).limit
        if limit is not None and limit.kind.remedy:
            found.append(limit.kind.remedy)
    return list(dict.fromkeys(found))


def spreads_words(allowed: AllowedScatter) -> str:
    """Return spreads that surely serve: "thread friction and bearing friction with s.d. 7.1 %".

    Those are a little below the lower end of what is allowed, so that a run confirms them.
    """
    share = _SURELY * allowed.low / allowed.factor
    names: dict[str, list[str]] = {}
    for s in allowed.inputs:
        spread = spread_words(s.name, s.mean, share * s.sd_at_most)
        names.setdefault(spread, []).append(input_label(s.name))
    return " and ".join(f"{and_words(these)} with s.d. {spread}" for spread, these in names.items())
