"""The answer of a survey in three lines: how many will miss, who makes them, what to do."""

from __future__ import annotations

from preloadmc.engine import OUTSIDE
from preloadmc.judgement.rows_together import ANY_LIMIT
from preloadmc.judgement.verdicts import MISSES, NOT_JUDGED, NOT_RESOLVED
from preloadmc.questions.survey.records import Spread, SurveyResult, TriedChange
from preloadmc.questions.survey.totals import few_at_highest_risk

# Expected misses of any limit are told apart where they are so much more than those of the window.
_APART = 1.1
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
    outside, any_limit = (result.expected[name] for name in (OUTSIDE, ANY_LIMIT))
    joints = "1 joint" if judged == 1 else f"{judged:,} joints"
    if any_limit.value > _APART * outside.value:
        words = (
            f"of {joints} {number_words(any_limit.value)} are expected to miss a limit, "
            f"{number_words(outside.value)} of them outside their preload window"
        )
    else:
        words = (
            f"of {joints} {number_words(outside.value)} are expected outside their preload window "
            f"(upper limit {number_words(outside.high)})"
        )
    spread = result.shared or result.independent
    held = " with what lots and tools share" if result.shared is not None else ""
    left = result.joints - judged
    rows = "1 row was" if left == 1 else f"{left:,} rows were"
    return (
        f"How many: {words}: nine times of ten {spread_words(spread)}{held}."
        f"{f' {rows} not judged.' if left else ''}"
    )


def _which(result: SurveyResult) -> str:
    missed, open_ = (result.counts.get(verdict, 0) for verdict in (MISSES, NOT_RESOLVED))
    if not result.counts.get("judged"):
        return "Which: none was judged."
    verb = "misses" if missed == 1 else "miss"
    allowed = "what is allowed"
    words = [f"{missed:,} {verb} {allowed}" if missed else f"none clearly misses {allowed}"]
    if open_:
        words.append(f"{open_:,} {'is' if open_ == 1 else 'are'} not resolved")
    few = len(few_at_highest_risk(result.risk))
    if few > 1:
        words.append(f"the {few:,} at highest risk carry half of the whole risk")
    elif few:
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
    few = len(few_at_highest_risk(result.risk))
    if few == 1:
        words.append("look first at the joint at highest risk")
    elif few:
        words.append(f"look first at the {few:,} joints at highest risk")
    best = next((each for each in result.changes if each.is_advised), None)
    if best is None:
        words.append(
            "no single change of all joints that was tried helps the others for sure without "
            "another miss"
            if few
            else "no single change of all joints that was tried helps for sure without another miss"
        )
    else:
        words.append(f"of changes of all joints, {change_words(result, best)}")
    return f"What to do: {'; '.join(words)}."


def change_words(result: SurveyResult, tried: TriedChange) -> str:
    """Return what a change makes of the expected misses."""
    before, after = result.expected[ANY_LIMIT].value, tried.expected.value
    share = 100.0 * (1.0 - after / before)
    return (
        f"{tried.change.words} lowers the expected misses most, by {share:.0f} % to "
        f"{number_words(after)}, and no joint misses then what it does not miss now"
    )
