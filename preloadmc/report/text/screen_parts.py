"""What a screen shows of a judgement: its outcomes, its limits, the likeliest ways to miss."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from preloadmc.inputs import input_label
from preloadmc.judgement.estimate import LikeliestMiss
from preloadmc.judgement.verdicts import (
    MEETS,
    MISSES,
    NOT_JUDGED,
    NOT_RESOLVED,
    Judged,
    Judgement,
)
from preloadmc.limits import OVER, UNDER
from preloadmc.report.text.judgement import doubted_words, margin_words, unit_of
from preloadmc.report.text.laws import value_words
from preloadmc.report.text.likeliest import WORTH_NAMING
from preloadmc.report.text.screen import Part, line_part, table_part
from preloadmc.report.text.tables import WIDTH, paragraph
from preloadmc.units import format_number

# A limit is close where its upper limit is within a factor of ten of what is allowed.
_CLOSE = 0.1
# Events of a joint, and limits, that a screen shows however long its answer is.
_LEAST_EVENTS, _LEAST_LIMITS = 3, 1
# The first is the last to go where a screen is too long.
_VERDICTS = (MISSES, NOT_RESOLVED, MEETS, NOT_JUDGED)
_OUTCOMES = {
    "under_preload": "too little preload",
    "over_preload": "too much preload",
    "outside_window": "outside the window",
    "any_under": "any with too little",
    "any_over": "any with too much",
    "any_outside": "any outside the window",
}
_SIDES = {(UNDER,): "too little", (OVER,): "too much", (UNDER, OVER): "both sides"}


def outcome_part(judged: Judgement, where: str = "", *, sides: bool = True) -> Part:
    """Return the probabilities with their verdicts: of the joint first, then of one fastener.

    The latter are left out where ``sides`` are told elsewhere. ``where`` says at which setting or
    with which alternative, if not as the case stands.
    """
    events = (*judged.of_joint, *(judged.outcomes if sides else ()))
    with_band = any(each.band is not None for each in events)
    unit = unit_of(judged.outcomes)
    rows = []
    for each in events:
        label = _OUTCOMES.get(each.name, each.label)
        if with_band:
            label = label.removesuffix(" preload").removesuffix(" the window")
        if judged.of_joint:
            label = label if each in judged.of_joint else f"one: {label}"
        words = doubted_words(each, None if judged.of_joint else unit)
        sure = () if not with_band else (_sure_words(each),)
        rows.append((label, words, *sure, *_held(each, judged)))
    sure = ("sure below",) if with_band else ()
    what = "of fasteners"
    if judged.of_joint:
        what = "of joints; of one fastener" if sides else f"of joints {where}".rstrip()
    part = table_part((what, "95 % interval", *sure, "allowed", "verdict"), rows, least=len(rows))
    if not judged.of_joint:
        return part
    ranks = sorted(range(len(events)), key=lambda place: _urgency(events[place], judged))
    return replace(part, least=min(_LEAST_EVENTS, len(rows)), ranks=tuple(ranks))


def _urgency(each: Judged, judged: Judgement) -> tuple[int, float]:
    """Return what goes first by: how far from met, then how near to what is allowed of it."""
    if each.allowed is None:
        # What an answer tells stays longer than what merely stands beside it.
        return _VERDICTS.index(NOT_RESOLVED if each.name == "any_outside" else NOT_JUDGED), 0.0
    return _VERDICTS.index(each.verdict), -each.upper / each.allowed


def _sure_words(each: Judged) -> str:
    """Return the limit that the tests make sure, in per cent: the column is narrow."""
    return "-" if each.band is None else f"{format_number(100 * each.sure, 2)} %"


def _held(each: Judged, judged: Judgement) -> tuple[str, str]:
    """Return what is allowed, and the verdict."""
    if each is judged.outside:
        return "", ""
    if each.allowed is None:
        return "-", NOT_JUDGED
    return f"{100 * each.allowed:g} %", each.verdict


def is_close(limit: Judged, judged: Judgement) -> bool:
    """Return whether a limit is missed, close to what is allowed of it, or without margin."""
    if limit.median_margin_share <= 0.0 or not limit.probability.reliable:
        return True
    allowed = _allowed(limit, judged)
    if not allowed:
        return limit.is_worth_saying
    return limit.known.high > _CLOSE * min(allowed)


def limit_part(judged: Judgement, where: str = "") -> Part:
    """Return the limits that are missed or close, and one line on the others.

    ``where`` says at which setting or with which alternative, if not as the case stands.
    """
    close = [each for each in judged.limits if is_close(each, judged)]
    far = [each for each in judged.limits if each not in close]
    unit = unit_of(close)
    rows = [
        (
            each.name,
            each.governing_state,
            doubted_words(each, unit),
            f"in {_SIDES[each.sides]}" if each.sides else each.verdict,
            margin_words(each, 2),
        )
        for each in close
    ]
    title = f"limits {where}" if where else "missed or close"
    if judged.of_joint:
        title = f"one: {where or title}"
    part = table_part((title, "state", "95 % interval", "verdict", "margin"), rows, words=2)
    never = sum(each.probability.value == 0.0 for each in far)
    words = []
    if never:
        others = "" if not close else "other " if never == 1 else "others "
        words.append(f"{never} {others}never missed")
    if len(far) > never:
        words.append(f"{len(far) - never} far below what is allowed")
    if judged.unknown:
        words.append(f"{len(judged.unknown)} not judged")
    if not close:
        of_one = "of one fastener " if judged.of_joint else ""
        none = f"No limit {of_one}{f'{where} ' if where else ''}is missed or close"
        return line_part(f"{none}: {', '.join(words)}.")
    ranks = sorted(range(len(close)), key=lambda place: -_pressing(close[place], judged))
    return replace(
        part,
        least=min(_LEAST_LIMITS, len(close)),
        ranks=tuple(ranks),
        tail=tuple(paragraph(f"{', '.join(words)}.", "  ")) if words else (),
    )


def _allowed(limit: Judged, judged: Judgement) -> list[float]:
    """Return what is allowed of a limit, or of each side of the window that it counts in."""
    held = [side.allowed for side in judged.sides if side.sides[0] in limit.sides]
    return [each for each in held or [limit.allowed] if each is not None]


def _pressing(limit: Judged, judged: Judgement) -> float:
    """Return how often a limit is missed, as a multiple of what is allowed of it."""
    return limit.known.high / min(_allowed(limit, judged), default=1.0)


def likeliest_part(misses: Iterable[LikeliestMiss | None], system: str) -> Part:
    """Return the likeliest way to each miss, a line each, the inputs that move it most first."""
    lines = []
    for miss in filter(None, misses):
        side = _OUTCOMES[miss.outcome].removesuffix(" preload")
        line = f"Likeliest way to {side}: "
        inputs = [
            f"{input_label(item.name)} {value_words(item.name, item.value, system)}"
            for item in sorted(miss.inputs, key=lambda item: -abs(item.z))
            if abs(item.z) >= WORTH_NAMING
        ]
        for place, words in enumerate(inputs):
            joined = f"{line}{', ' if place else ''}{words}"
            if len(joined) > WIDTH:
                break
            line = joined
        lines.append((line,))
    return Part((), tuple(lines), len(lines))
