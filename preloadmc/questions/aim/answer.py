"""The answer of aiming in three lines: how likely now, what limits, what to set."""

from __future__ import annotations

from collections.abc import Sequence

from preloadmc.inputs import input_label
from preloadmc.judgement.verdicts import (
    MEETS,
    NOT_JUDGED,
    NOT_RESOLVED,
    Judgement,
    and_words,
    unknown_words,
)
from preloadmc.judgement.wording import spread_words
from preloadmc.questions.aim.allowed_scatter import (
    FOUND,
    TOO_LITTLE,
    AllowedScatter,
    AllowedScatters,
)
from preloadmc.questions.aim.records import AimResult, End
from preloadmc.questions.aim.setting import Setting
from preloadmc.units import format_number, format_quantity

# Without an allowed probability a limit beside the window is spoken of where more than one in a
# thousand misses it.
WORTH_SAYING = 1e-3


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
        f"{judged_words(present.judged)}."
    )


def judged_words(judged: Judgement) -> str:
    """Return both sides in words, and the limits beside the window that are not met."""
    words = f"too little preload: {judged.under.words()}, too much: {judged.over.words()}"
    beside = [
        each
        for each in judged.beside
        if each.verdict != MEETS
        and (each.verdict != NOT_JUDGED or each.probability.value > WORTH_SAYING)
    ]
    if beside:
        words += ", " + ", ".join(f"{each.name}: {each.words()}" for each in beside)
    return words


def _what_limits(result: AimResult) -> str:
    found = result.aim
    if found.verdict == NOT_JUDGED:
        return "nothing is held against an allowed probability."
    words = _ends_words(result) if found.interval is not None else _closed_words(result)
    together = of_all_scatter(result.allowed_scatter)
    if together is None:
        return f"{words}."
    if together.verdict == TOO_LITTLE:
        return f"{words}; the settings allowed are none even without {scatter_words(together)}."
    factor = format_number(together.factor, 2)
    if factor == "1" or together.low <= 1.0 <= together.high:
        return f"{words}; {scatter_words(together)} is about as much as the limits allow."
    if together.factor < 1.0:
        return f"{words}; {scatter_words(together)} would have to shrink to {factor} times today's."
    least = "" if together.verdict == FOUND else "at least "
    return f"{words}; {scatter_words(together)} may grow to {least}{factor} times today's."


def _ends_words(result: AimResult) -> str:
    """Return what sets both ends of the interval of settings."""
    assert result.interval_ends is not None, "there is an interval"
    words = []
    for which, end, judged in zip(
        ("lower", "upper"),
        (result.aim.low_end, result.aim.high_end),
        result.interval_ends,
        strict=True,
    ):
        if end.names:
            names = and_words([_named(name, judged.judged) for name in end.names])
            words.append(f"the {which} end is set by {names}")
        else:
            words.append(f"at the {which} end the search stopped, no limit did")
    return "; ".join(words)


def _closed_words(result: AimResult) -> str:
    """Return what leaves no setting: which limits ask for more than others allow."""
    low, high = result.aim.low_end, result.aim.high_end
    label, judged = result.setting.label, result.looked_at.judged
    if low == high:
        names = and_words([_named(name, judged) for name in low.names])
        verb = "is" if len(low.names) == 1 else "are"
        if result.aim.verdict == NOT_RESOLVED:
            return f"whether {names} {verb} within what is allowed is resolved at no {label}"
        return f"{names} {verb} missed at every {label}"
    words = []
    for end, asks in ((low, "at least"), (high, "at most")):
        if not end.names:
            continue
        names = and_words([_named(name, judged) for name in end.names])
        if end.setting is None:
            words.append(f"{names} at no {label} searched")
        else:
            words.append(
                f"{names} with {asks} {setting_words(result.setting, end.setting, result.system)}"
            )
    sure = "is sure to meet" if result.aim.verdict == NOT_RESOLVED else "meets"
    return f"no {label} {sure} every limit: what is allowed is met for {', and for '.join(words)}"


def _named(name: str, judged: Judgement) -> str:
    """Return a side or limit as a part of a sentence; of a side the limit that makes most of it."""
    named = judged.named(name)
    if named.is_limit:
        return name
    governing = judged.governing(named)
    return f"{named.subject} ({governing.name}, {governing.state})"


def scatter_words(allowed: AllowedScatter) -> str:
    """Return whose scatter it is, such as "the scatter of tool"."""
    return allowed.label if "scatter" in allowed.label else f"the scatter of {allowed.label}"


def of_all_scatter(allowed: AllowedScatters | None) -> AllowedScatter | None:
    """Return what is allowed of the widest group of scatter; None where none was looked at."""
    return allowed.sources[-1] if allowed is not None else None


def _what_to_set(result: AimResult) -> str:
    setting, system, found = result.setting, result.system, result.aim
    looked_at = result.looked_at
    value, likely = (
        setting_words(setting, looked_at.setting, system),
        judged_words(looked_at.judged),
    )
    if result.to_set is not None:
        assert found.interval is not None, "a setting is recommended within an interval"
        low, high = (setting_words(setting, end, system) for end in found.interval)
        exact = ""
        if looked_at.setting != found.best:
            exact = f" (exact best: {setting_words(setting, found.best, system)})"
        unknown = unknown_words(looked_at.judged)
        return (
            f"{value}{exact}: {likely}; any {setting.label} from {low} to {high} meets every limit "
            f"judged{f' ({unknown})' if unknown else ''}."
        )
    least = f"the least is missed at about {value} ({likely}), which is no recommendation"
    if found.verdict == NOT_JUDGED:
        return (
            "nothing is recommended: state allowed_under and allowed_over of [requirement]; "
            f"{least}."
        )
    if found.verdict == NOT_RESOLVED:
        return (
            f"nothing is recommended, for no {setting.label} is sure to meet every limit"
            f"{_doubt_words(looked_at.judged)}; {least}."
        )
    needed = [*_needed_scatter(result.allowed_scatter), *_remedies(result, found.low_end)]
    needed += [each for each in _remedies(result, found.high_end) if each not in needed]
    change = f"; it would take {', or '.join(needed)}" if needed else ""
    return f"no {setting.label} meets every limit{change}; {least}."


def _doubt_words(judged: Judgement) -> str:
    """Return why what is not resolved is not, in brackets; empty where nothing is noted."""
    notes = dict.fromkeys(each.probability.note for each in judged.with_verdict(NOT_RESOLVED))
    words = "; ".join(note for note in notes if note)
    return f" ({words})" if words else ""


def _needed_scatter(allowed: AllowedScatters | None) -> list[str]:
    """Return what scatter would be needed, by the scatter that has to shrink least."""
    if allowed is None:
        return []
    alone = [
        each for each in allowed.sources if each.verdict == FOUND and "together" not in each.label
    ]
    if alone:
        easiest = max(alone, key=lambda each: each.factor)
        return [f"less scatter ({spreads_words(easiest)})"]
    together = allowed.sources[-1]
    if together.verdict == TOO_LITTLE:
        return []
    factor = format_number(together.factor, 2)
    return [f"{scatter_words(together)} at {factor} times today's"]


def _remedies(result: AimResult, end: End) -> list[str]:
    """Return what else helps the limits that close an end."""
    judged = result.looked_at.judged
    found = []
    for name in end.names:
        limit = judged.governing(judged.named(name)).limit
        if limit is not None and limit.kind.remedy:
            found.append(limit.kind.remedy)
    return list(dict.fromkeys(found))


def spreads_words(allowed: AllowedScatter) -> str:
    """Return the spreads that are allowed: "thread friction with s.d. 7.1 % (now 12 %)"."""
    parts: Sequence[str] = [
        f"{input_label(s.name)} with s.d. {spread_words(s.name, s.mean, s.most)} "
        f"(now {spread_words(s.name, s.mean, s.now)})"
        for s in allowed.spreads
    ]
    return " and ".join(parts)
