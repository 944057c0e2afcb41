"""What a report tells of single rows of a register, gathered in one pass over them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from preloadmc.engine import OUTSIDE
from preloadmc.inputs import input_kind
from preloadmc.judgement.verdicts import (
    JOINT_LABELS,
    LABELS,
    MEETS,
    MISSES,
    NOT_JUDGED,
    NOT_RESOLVED,
)
from preloadmc.judgement.wording import share_text
from preloadmc.questions.survey import ANY_LIMIT, Document, SurveyResult, miss_numbers
from preloadmc.units import format_number, format_quantity

VERDICTS = (MISSES, NOT_RESOLVED, NOT_JUDGED, MEETS)
"""From the worst."""
LEAST_DECADE = -12
"""Rows with a smaller probability are counted in the decade below it."""
# Rows that were not judged and are told one by one.
_TOLD = 50
# The likelier a joint misses, the sooner it is looked at: as many are kept whole.
_FIRST = 1000
# Smaller probabilities are not read in per cent.
_PER_CENT_FROM = 1e-5


@dataclass(frozen=True, slots=True)
class SurveyRows:
    """Rows as a report tells of them.

    ``first`` are those at highest risk, ``left`` the first of those that were not judged.
    ``decades`` counts judged rows by the power of ten below their probability outside the window
    and by verdict; ``allowed`` are the probabilities allowed of a side. ``methods`` counts rows
    that were judged by themselves; ``doubted`` are rows whose estimate is not reliable.
    ``unknown`` and ``unsure`` count rows by a limit and what is missing of it.
    """

    first: tuple[Document, ...]
    left: tuple[Document, ...]
    decades: Mapping[tuple[int, str], int]
    allowed: tuple[float, ...]
    methods: Mapping[str, int]
    doubted: int
    unknown: Mapping[tuple[str, str], int]
    unsure: Mapping[tuple[str, str], int]
    with_band: bool
    with_group: bool


def survey_rows(result: SurveyResult, first: int = _FIRST) -> SurveyRows:
    """Return what a report tells of the rows; they are read once, and few are kept."""
    kept: list[Document] = []
    left: list[Document] = []
    decades: Counter[tuple[int, str]] = Counter()
    allowed: Counter[float] = Counter()
    methods: Counter[str] = Counter()
    unknown: Counter[tuple[str, str]] = Counter()
    unsure: Counter[tuple[str, str]] = Counter()
    doubted = 0
    with_band = with_group = False
    for row in result.rows():
        if row["status"] != "judged":
            if len(left) < _TOLD:
                left.append(row)
            continue
        if len(kept) < first:
            kept.append(row)
        decades[_decade(miss_numbers(row, OUTSIDE)), row["verdict"]] += 1
        events = [*row["outcomes"].values()]
        allowed.update(each["allowed"] for each in events if each["allowed"] is not None)
        if not row["together"]:
            methods[row["outcomes"][OUTSIDE]["method"]] += 1
        doubted += any(each.get("reliable") is False for each in events)
        unknown.update(row["unknown"].items())
        unsure.update(row["unsure_strength"].items())
        with_band = with_band or any("band" in each for each in events)
        with_group = with_group or "group" in row
    return SurveyRows(
        tuple(kept),
        tuple(left),
        decades,
        tuple(sorted(allowed)),
        methods,
        doubted,
        unknown,
        unsure,
        with_band,
        with_group,
    )


def _decade(numbers: tuple[float, float, float]) -> int:
    """Return the power of ten at or below a probability; of a bound that of its upper limit."""
    value, _, high = numbers
    shown = value or high
    if shown <= 0.0:
        return LEAST_DECADE - 1
    return min(max(math.floor(math.log10(shown) + 1e-9), LEAST_DECADE - 1), -1)


@dataclass(frozen=True, slots=True)
class WorstLimit:
    """The limit of a row that comes nearest to what is allowed, or is farthest beyond it."""

    name: str
    state: str
    event: Mapping[str, Any]
    more: int


def worst_limit(row: Document) -> WorstLimit | None:
    """Return the worst limit that is missed or close to it, and how many more there are."""
    events = [(each["limit"], each["state"], each) for each in row["limits"]]
    group = row.get("group", {"outcomes": {}})["outcomes"]
    events += [
        (JOINT_LABELS.get(name, name), "", each)
        for name, each in group.items()
        if each["verdict"] in (MISSES, NOT_RESOLVED)
    ]
    if not events:
        return None
    name, state, event = min(events, key=lambda each: _urgency(each[2]))
    return WorstLimit(name, state, event, len(events) - 1)


def _urgency(event: Mapping[str, Any]) -> tuple[int, float]:
    allowed = event["allowed"]
    share = known_numbers(event)[2]
    return VERDICTS.index(event["verdict"]), -(share / allowed if allowed else share)


def known_numbers(event: Mapping[str, Any]) -> tuple[float, float, float]:
    """Return probability, low and high; where the estimate is not reliable, of plain samples."""
    known = event.get("known", event)
    return known["probability"], known["low"], known["high"]


def chance_words(numbers: Sequence[float]) -> tuple[str, str]:
    """Return a probability and its upper limit, with two figures each.

    Examples
    --------
    >>> chance_words((0.4241, 0.357, 0.504)), chance_words((0.0, 0.0, 3.7e-6))
    (('42 %', '50 %'), ('-', '3.7 per million'))
    """
    value, _, high = numbers
    return (share_text(value) if value > 0.0 or high <= 0.0 else "-"), share_text(high)


def risk_words(row: Document) -> tuple[str, str]:
    """Return how likely a joint ends outside its window, and its upper limit."""
    return chance_words(miss_numbers(row, OUTSIDE))


def brief_risk(row: Document) -> str:
    """Return how likely the limit named is missed, else any limit, the upper limit behind it.

    Per cent as far as that can be read, so that a column of them is narrow.
    """
    worst = worst_limit(row)
    numbers = known_numbers(row["any_limit"] if worst is None else worst.event)
    value, _, high = numbers
    if value < _PER_CENT_FROM:
        words, most = chance_words(numbers)
        return f"below {most}" if words == "-" else words
    return f"{format_number(100 * value, 2)} % ({format_number(100 * high, 2)})"


def verdict_words(row: Document) -> str:
    """Return the verdict, with what is allowed of the worst limit or side of the window."""
    worst = worst_limit(row)
    events = [*row["outcomes"].values()] if worst is None else [worst.event]
    verdict: str = row["verdict"]
    event = min(
        (each for each in events if each["allowed"] is not None and each["verdict"] == verdict),
        key=_urgency,
        default=None,
    )
    return verdict if event is None else f"{verdict} {100 * event['allowed']:g} %"


def closest_words(row: Document) -> str:
    """Return the worst limit of a row in words; "-" where none is missed or close."""
    worst = worst_limit(row)
    return "-" if worst is None else worst.name


def dominates_words(row: Document) -> str:
    """Return the input that dominates the misses of any limit; "-" where none is known.

    Of a joint that was judged by itself it is that of the likelier side of the window.
    """
    sides = sorted(
        (side for side in row["dominates"] if side != ANY_LIMIT),
        key=lambda side: -miss_numbers(row, side)[0],
    )
    if ANY_LIMIT in row["dominates"]:
        sides = [ANY_LIMIT]
    return next((words for side in sides if (words := dominating(row, side))), "-")


def dominating(row: Document, side: str) -> str:
    """Return the input that dominates a side of the window; empty where none is known."""
    found = row["dominates"].get(side) or [{"words": ""}]
    words: str = found[0]["words"]
    return words


def setting_text(row: Document, system: str) -> str:
    """Return the setting of a row with its unit."""
    setting = row["setting"]
    return format_quantity(setting["value"], input_kind(setting["input"]).dimension, system)


def best_words(row: Document, system: str) -> str:
    """Return what is to be set, or how far even the best setting falls short; "-" if not known."""
    best = row.get("best_setting")
    if best is None:
        return "-"
    dimension = input_kind(row["setting"]["input"]).dimension
    value = format_quantity(best["value"], dimension, system)
    return value if best["to_set"] is not None else f"none; least at {value}: {best['verdict']}"


def problem_words(row: Document) -> Iterator[str]:
    """Yield each problem of a row that was refused or has failed."""
    for each in row["problems"]:
        path = f"{each['path']}: " if each["path"] else ""
        given = f" (given: {each['given']})" if each["given"] not in ("", None) else ""
        yield f"{path}{each['allowed']}{given}"


def outcome_label(name: str) -> str:
    """Return what an outcome is called."""
    return LABELS.get(name) or JOINT_LABELS.get(name, name)
