"""Tables of a survey: expected numbers, joints, changes of all joints."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from preloadmc.engine import OUTSIDE
from preloadmc.judgement.verdicts import MISSES
from preloadmc.judgement.wording import round_to_interval
from preloadmc.questions.survey import (
    ANY_LIMIT,
    EVENTS,
    Document,
    Expected,
    SurveyResult,
    TriedChange,
    number_words,
)
from preloadmc.report.text.blocks import Table
from preloadmc.report.text.survey_rows import (
    VERDICTS,
    best_words,
    brief_risk,
    closest_words,
    dominates_words,
    risk_words,
    setting_text,
    verdict_words,
)

OUTCOME_WORDS = {
    "under_preload": "too little preload",
    "over_preload": "too much preload",
    OUTSIDE: "outside the window",
    ANY_LIMIT: "any limit",
}
# Numbers between these are rounded to their interval, others to two figures.
_ROUNDED = (0.01, 100.0)
# An interval narrower than this share of its number: three figures are enough for anyone.
_SHARP = 0.02


def counted(n: int, noun: str) -> str:
    """Return how many there are of a noun."""
    return f"{n:,} {noun}" if n == 1 else f"{n:,} {noun}s"


def expected_table(result: SurveyResult) -> Table:
    """Return how many joints are expected to miss each side."""
    rows = []
    for name in EVENTS:
        found = result.expected[name]
        rows.append((OUTCOME_WORDS[name], *expected_words(found)))
    judged = counted(result.counts.get("judged", 0), "joint")
    return Table((f"of {judged}", "expected", "95 % interval"), tuple(rows))


def expected_words(found: Expected) -> tuple[str, str]:
    """Return an expected number, and its interval.

    Examples
    --------
    >>> expected_words(Expected(0.768, 0.704, 0.831)), expected_words(Expected(3e-7, 0.0, 6e-7))
    (('0.77', '0.70 to 0.83'), ('3e-07', '0 to 6e-07'))
    """
    numbers = found.value, found.low, found.high
    words: Sequence[str] = [number_words(each) for each in numbers]
    if _ROUNDED[0] <= found.value < _ROUNDED[1]:
        is_sharp = found.high - found.low < _SHARP * found.value
        words = [f"{each:.3g}" for each in numbers] if is_sharp else round_to_interval(*numbers)
    return words[0], f"{words[1]} to {words[2]}"


def brief_joints(rows: Sequence[Document], system: str, *, aimed: bool) -> Table:
    """Return the table of joints for 80 columns; where it was asked for with the best setting."""
    third = "best setting" if aimed else "dominated by"
    return Table(
        ("joint", "missed or close", third, "verdict", "chance (limit)"),
        tuple(
            (
                row["joint"],
                closest_words(row),
                best_words(row, system) if aimed else dominates_words(row),
                verdict_words(row),
                brief_risk(row),
            )
            for row in rows
        ),
        words=4,
    )


def joint_table(rows: Sequence[Document], system: str, *, aimed: bool) -> Table:
    """Return the table of joints for a page, which can sort it; the first row has most risk."""
    rank = {row["key"]: f"{place:,}" for place, row in enumerate(rows, 1)}
    columns: list[tuple[str, Callable[[Document], str], Sequence[int]]] = [
        ("joint", lambda row: row["joint"], _places(rows, lambda row: _natural(row["joint"]))),
        ("rank", lambda row: rank[row["key"]], [*range(len(rows))]),
        ("chance (upper limit)", brief_risk, ()),
        ("outside the window", lambda row: risk_words(row)[0], ()),
        ("verdict", verdict_words, _places(rows, lambda row: VERDICTS.index(row["verdict"]))),
        ("missed or close", closest_words, ()),
        ("dominated by", dominates_words, ()),
        (
            "setting",
            lambda row: setting_text(row, system),
            _places(rows, lambda row: (row["setting"]["input"], row["setting"]["value"])),
        ),
    ]
    if aimed:
        columns.append(("best setting", lambda row: best_words(row, system), ()))
    for of in ("lot", "tool"):
        if any(row[of] for row in rows):
            columns.append(
                (
                    of,
                    lambda row, of=of: row[of],  # type: ignore[misc]
                    _places(rows, lambda row, of=of: (not row[of], _natural(row[of]))),  # type: ignore[misc]
                )
            )
    return Table(
        tuple(header for header, _, _ in columns),
        tuple(tuple(words(row) for _, words, _ in columns) for row in rows),
        words=len(columns),
        orders=tuple(tuple(order) for _, _, order in columns),
    )


def _places(rows: Sequence[Document], key: Callable[[Document], Any]) -> list[int]:
    """Return the place of each row when ordered by a key; alike ones keep the order by risk."""
    order = sorted(range(len(rows)), key=lambda place: key(rows[place]))
    places = [0] * len(rows)
    for place, row in enumerate(order):
        places[row] = place
    return places


def _natural(name: str) -> list[tuple[int, int, str]]:
    """Return what a name is ordered by: numbers in it by their size."""
    return [
        (0, int(part), "") if part.isdecimal() else (1, 0, part.casefold())
        for part in re.split(r"(\d+)", name)
        if part
    ]


def change_table(result: SurveyResult, *, brief: bool = False) -> Table:
    """Return what each change makes of the misses; ``brief`` for a screen."""
    before = result.expected[ANY_LIMIT]
    missing = result.counts.get(MISSES, 0)
    first = ("as it is", *expected_words(before), f"{missing:,}")
    if brief:
        return Table(
            ("change of all joints", "any limit", "95 % interval", "miss"),
            (first, *(_change_cells(each) for each in result.changes)),
        )
    return Table(
        ("change of all joints", "rows", "any limit", "95 % interval", "miss", "advised"),
        (
            (first[0], "", *first[1:], ""),
            *(
                (
                    each.change.words,
                    f"{each.applies:,}",
                    *_change_cells(each)[1:],
                    "yes" if each.is_advised else "no",
                )
                for each in result.changes
            ),
        ),
    )


def _change_cells(each: TriedChange) -> tuple[str, str, str, str]:
    missed = number_words(each.missed) if each.missed else "0"
    return each.change.words, *expected_words(each.expected), missed
