"""The answer of a survey in three lines: how many will miss, who makes them, what to do."""

from __future__ import annotations

from preloadmc.engine import OUTSIDE
from preloadmc.judgement.verdicts import MISSES, NOT_RESOLVED
from preloadmc.questions.survey.records import Spread, SurveyResult, TriedChange

# Joints at highest risk are looked at first where so small a share of all makes half of the misses.
FEW = 0.1


def survey_answer(result: SurveyResult) -> tuple[str, str, str]:
    """Return the three lines."""
    return _how_many(result), _which(result), _what_to_do(result)


def number_words(value: float) -> str:
    """Return an expected number with two figures.

    Examples
    --------
    >>> number_words(12.34), number_words(0.0123), number_words(3e-7), number_words(1234.0)
    ('12', '0.012', '3e-07', '1,230')
    """
    if value >= 100.0:
        return f"{float(f'{value:.3g}'):,.0f}"
    return f"{value:.2g}"


def spread_words(spread: Spread) -> str:
    """Return the numbers between which nine of ten outcomes lie."""
    return f"{spread.low}" if spread.low == spread.high else f"{spread.low:,} to {spread.high:,}"


def _how_many(result: SurveyResult) -> str:
    judged = result.counts.get("judged", 0)
    if not judged:
        return "How many: no joint of the register could be judged."
    expected = result.expected[OUTSIDE]
    spread = result.shared or result.independent
    held = ", with what lots and tools share" if result.shared is not None else ""
    words = (
        f"How many: of {judged:,} joints {number_words(expected.value)} are expected outside their "
        f"preload window ({number_words(expected.low)} to {number_words(expected.high)} by "
        f"sampling); nine times of ten it will be {spread_words(spread)}{held}."
    )
    left = result.joints - judged
    return (
        f"{words} {left:,} {'row was' if left == 1 else 'rows were'} not judged." if left else words
    )


def _which(result: SurveyResult) -> str:
    missed, open_ = (result.counts.get(verdict, 0) for verdict in (MISSES, NOT_RESOLVED))
    words = [f"{missed:,} miss a limit" if missed else "none misses a limit for sure"]
    if open_:
        words.append(f"{open_:,} are not resolved")
    few = half_of_misses(result)
    if few > 1:
        words.append(f"the {few:,} at highest risk make half of the expected misses")
    elif few and len(result.risk) > 1:
        words.append("one joint makes half of the expected misses or more")
    return f"Which: {'; '.join(words)}."


def _what_to_do(result: SurveyResult) -> str:
    if not result.counts.get(MISSES) and not result.counts.get(NOT_RESOLVED):
        return "What to do: nothing; every joint that was judged meets what is allowed of it."
    words = []
    few = half_of_misses(result)
    if 0 < few <= FEW * len(result.risk):
        joints = "the joint at highest risk" if few == 1 else f"the {few} joints at highest risk"
        words.append(f"look first at {joints}, which make half of the expected misses")
    best = next((each for each in result.changes if each.is_advised), None)
    if best is None:
        words.append(
            "no single change for all joints that was tried lowers the misses for sure without "
            "making another limit worse"
        )
    else:
        words.append(f"of changes for all joints, {change_words(result, best)}")
    return f"What to do: {'; '.join(words)}."


def half_of_misses(result: SurveyResult) -> int:
    """Return how many joints, those at highest risk, make half of the expected misses."""
    total = float(result.risk.sum())
    return int((result.risk.cumsum() < 0.5 * total).sum()) + 1 if total > 0.0 else 0


def change_words(result: SurveyResult, tried: TriedChange) -> str:
    """Return what a change makes of the expected misses."""
    before = result.expected[OUTSIDE].value
    return (
        f"{tried.change.words} lowers the expected misses most, from {number_words(before)} to "
        f"{number_words(tried.expected.value)}, and makes no other limit worse"
    )
