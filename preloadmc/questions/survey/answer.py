"""The answer of a survey in three lines: how many will miss, who makes them, what to do."""

from __future__ import annotations

from preloadmc.engine import OUTSIDE
from preloadmc.judgement.verdicts import MISSES, NOT_JUDGED, NOT_RESOLVED
from preloadmc.questions.survey.records import Spread, SurveyResult, TriedChange

# Joints at highest risk are looked at first where so small a share of all carries half of the risk.
FEW = 0.1
# An expected number beside the window that is worth saying, where it is above that outside it.
WORTH_SAYING = 0.01
_ALLOWED = "allowed_under and allowed_over of [requirement]"


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
    held = " with what lots and tools share" if result.shared is not None else ""
    beside = _beside(result)
    limit = "" if beside else f" (upper limit {number_words(expected.high)})"
    words = (
        f"How many: of {judged:,} joints {number_words(expected.value)} are expected outside their "
        f"preload window{limit}, nine times of ten {spread_words(spread)}{held}{beside}."
    )
    left = result.joints - judged
    return (
        f"{words} {left:,} {'row was' if left == 1 else 'rows were'} not judged." if left else words
    )


def _beside(result: SurveyResult) -> str:
    """Return how many miss a limit beside the window, where that matters."""
    if result.beside < max(WORTH_SAYING, result.expected[OUTSIDE].value):
        return ""
    return f"; {number_words(result.beside)} are expected to miss a limit beside the window"


def _which(result: SurveyResult) -> str:
    missed, open_ = (result.counts.get(verdict, 0) for verdict in (MISSES, NOT_RESOLVED))
    if not result.counts.get("judged"):
        return "Which: none was judged."
    verb = "misses" if missed == 1 else "miss"
    words = [f"{missed:,} {verb} a limit" if missed else "none misses a limit for sure"]
    if open_:
        words.append(f"{open_:,} {'is' if open_ == 1 else 'are'} not resolved")
    few = half_of_risk(result)
    if few > 1:
        words.append(f"the {few:,} at highest risk carry half of the whole risk")
    elif few and len(result.risk) > 1:
        words.append("one joint carries half of the whole risk or more")
    return f"Which: {'; '.join(words)}."


def _what_to_do(result: SurveyResult) -> str:
    judged = result.counts.get("judged", 0)
    if not judged:
        return "What to do: mend the rows; each is told with its problems."
    if result.counts.get(NOT_JUDGED) == judged:
        return f"What to do: state {_ALLOWED}: without it nothing is met or missed."
    if not result.counts.get(MISSES) and not result.counts.get(NOT_RESOLVED):
        return "What to do: nothing; every joint that was judged meets what is allowed of it."
    words = []
    few = half_of_risk(result)
    if 0 < few <= FEW * len(result.risk):
        joints = (
            "the joint at highest risk, which carries"
            if few == 1
            else f"the {few:,} joints at highest risk, which carry"
        )
        words.append(f"look first at {joints} half of the risk")
    best = next((each for each in result.changes if each.is_advised), None)
    if best is None:
        words.append(
            "no single change for all joints that was tried lowers the number outside for sure "
            "without making another limit worse"
        )
    else:
        words.append(f"of changes for all joints, {change_words(result, best)}")
    return f"What to do: {'; '.join(words)}."


def half_of_risk(result: SurveyResult) -> int:
    """Return how many joints, those at highest risk, carry half of the sum of risks."""
    total = float(result.risk.sum())
    return int((result.risk.cumsum() < 0.5 * total).sum()) + 1 if total > 0.0 else 0


def change_words(result: SurveyResult, tried: TriedChange) -> str:
    """Return what a change makes of the expected misses."""
    before = result.expected[OUTSIDE].value
    after = tried.expected.value
    share = 100.0 * (1.0 - after / before)
    return (
        f"{tried.change.words} lowers the number outside most, by {share:.0f} % to "
        f"{number_words(after)}, and makes no other limit worse"
    )
