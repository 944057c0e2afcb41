"""The answer to records of vibration tests in three lines, and what a reader must not miss."""

from __future__ import annotations

from collections.abc import Sequence

from preloadmc.questions.decay.rating import Rating, Threshold
from preloadmc.questions.decay.records import (
    ElementDecay,
    ElementDifference,
)
from preloadmc.questions.decay.vibration_record import VibrationRecord
from preloadmc.told import and_words, percent

# What a test must state to say for what it holds.
_WANTED = ("joint", "amplitude", "clamp length")
# Elements and warnings of a kind that one line names.
_NAMED = 3


def whole_percent(share: float) -> str:
    """Return a share in whole per cent, below a tenth of that with one digit more.

    Examples
    --------
    >>> whole_percent(0.8349), whole_percent(0.0049)
    ('83 %', '0.5 %')
    """
    return f"{100.0 * share:.{0 if share >= 0.0095 or share <= 0.0 else 1}f} %"


def count_of(cycles: float) -> str:
    """Return load cycles as a number: thousands are divided from five digits on.

    Examples
    --------
    >>> count_of(2000.0), count_of(120_000.0)
    ('2000', '120,000')
    """
    return f"{cycles:.0f}" if cycles < 9999.5 else f"{cycles:,.0f}"


def cycles_words(cycles: float) -> str:
    """Return load cycles in words.

    Examples
    --------
    >>> cycles_words(2000.0), cycles_words(1.0)
    ('2000 cycles', '1 cycle')
    """
    return f"{count_of(cycles)} cycle{'s' * (round(cycles) != 1)}"


def decay_answer(
    elements: Sequence[ElementDecay],
    differences: Sequence[ElementDifference],
    thresholds: Sequence[Threshold],
    conditions: str,
) -> tuple[str, str, str]:
    """Return what remains, how sure, and what to do, each in a line.

    They speak of the last cycles that are looked at.
    """
    return (
        f"What remains: {_remaining_words(elements)}.",
        f"How sure: {_sure_words(elements, differences)}.",
        f"What to do: {_to_do(elements, differences, thresholds)}; all of this holds for "
        f"{conditions}.",
    )


def holds_for(tests: Sequence[VibrationRecord]) -> str:
    """Return in words for what the tests hold."""
    stated: dict[str, dict[str, None]] = {}
    for test in tests:
        for name, words in test.conditions:
            stated.setdefault(name, {})[words] = None
    said = []
    for name, found in stated.items():
        some = [*found][:_NAMED]
        more = [f"{len(found) - _NAMED} more"] if len(found) > _NAMED else []
        said.append(f"{name} {and_words([*some, *more])}")
    missing = [each for each in _WANTED if not any(each in name.casefold() for name in stated)]
    words = f"the tested joint alone ({', '.join(said)})" if said else "the tested joint alone"
    if not missing:
        return words
    return f"{words}; the records do not state {and_words(missing)}"


def decay_warnings(
    elements: Sequence[ElementDecay],
    at: Sequence[float],
    thresholds: Sequence[Threshold],
    left_out: int,
) -> tuple[str, ...]:
    """Return what a reader must not miss."""
    tests = [test for each in elements for test in each.tests]
    found = []
    single = [each for each in elements if len(each.tests) == 1]
    if single:
        names = and_words([each.name for each in single])
        found.append(
            f"One record only of {names}: no scatter is known, so there is no tolerance limit and "
            "no comparison."
        )
    risen = [(test, test.rise) for test in tests if test.rise is not None]
    for test, rise in risen[:_NAMED]:
        assert rise is not None, "filtered above"
        found.append(
            f"The preload of test {test.test} rises again, by {whole_percent(rise[0])} up to "
            f"{cycles_words(rise[1])}: preload does not grow in such a test; look at the sensor "
            "and at the order of rows."
        )
    if len(risen) > _NAMED:
        found.append(f"{len(risen) - _NAMED} more records rise again.")
    found += [words for each in elements for words in _ended_words(each)]
    for cycles in at:
        none = [each.name for each in elements if cycles not in _cycles_of(each)]
        if none:
            found.append(f"No test of {and_words(none)} reaches {cycles_words(cycles)}.")
    far = {each.cycles for each in thresholds if all(_rating(e, each) is None for e in elements)}
    found += [f"Not rated: no test reaches {cycles_words(each)}." for each in sorted(far)]
    found += _mixed_words(tests)
    if left_out:
        rows = "1 row lacks" if left_out == 1 else f"{left_out} rows lack"
        found.append(f"{rows} load cycles or preload and are left out.")
    return tuple(found)


def _ended_words(element: ElementDecay) -> list[str]:
    """Return what is left out since tests were stopped before."""
    found = []
    for each in element.remaining:
        ended = each.remaining.ended_before
        if ended:
            some = and_words([*ended[:_NAMED], *(["others"] if len(ended) > _NAMED else [])])
            found.append(
                f"{element.name}: {len(ended)} of {len(element.tests)} tests ended before "
                f"{cycles_words(each.remaining.cycles)} with preload left ({some}) and are left "
                "out there: were they stopped since they lost much, the rest says too much."
            )
    return found


def _mixed_words(tests: Sequence[VibrationRecord]) -> list[str]:
    """Return what differs between tests that are taken together."""
    names = dict.fromkeys(name for test in tests for name, _ in test.conditions)
    found = []
    for name in names:
        words = dict.fromkeys(dict(test.conditions).get(name, "not stated") for test in tests)
        if len(words) > 1:
            listed = and_words([*words][: 2 * _NAMED])
            found.append(
                f"Tests of different {name} are taken together: {listed}; --where "
                f"'{name}=...' takes some."
            )
    return found


def _cycles_of(element: ElementDecay) -> set[float]:
    return {each.remaining.cycles for each in element.remaining}


def _rating(element: ElementDecay, threshold: Threshold) -> Rating | None:
    return next((each for each in element.ratings if each.threshold is threshold), None)


def _remaining_words(elements: Sequence[ElementDecay]) -> str:
    """Return what the best element keeps, and the worst, at the last cycles of each."""
    told = sorted(
        (each for each in elements if each.remaining),
        key=lambda each: -each.remaining[-1].remaining.mean,
    )
    if not told:
        return "no test reaches the cycles asked about"
    best, worst = told[0], told[-1]
    remaining = [each.remaining[-1].remaining for each in (best, worst)]
    means = [f"{whole_percent(each.mean)} of the initial preload" for each in remaining]
    after = [cycles_words(each.cycles) for each in remaining]
    said = f"{best.name} keeps {means[0]} after {after[0]}"
    if worst is not best:
        at = f" after {after[1]}" if after[1] != after[0] else ""
        said += f", {worst.name} {whole_percent(remaining[1].mean)}{at}"
    between = f"; {len(told) - 2} elements lie between" if len(told) > 3 else ""
    between = "; 1 element lies between" if len(told) == 3 else between
    return f"{said}{', on average' if any(each.n > 1 for each in remaining) else ''}{between}"


def _sure_words(elements: Sequence[ElementDecay], differences: Sequence[ElementDifference]) -> str:
    told = [each for each in elements if each.remaining and each.remaining[-1].limit is not None]
    parts = []
    if told:
        best = max(told, key=lambda each: each.remaining[-1].remaining.mean)
        limit = best.remaining[-1].limit
        assert limit is not None, "filtered above"
        parts.append(
            f"all but few of {best.name} keep {whole_percent(limit)} or more, if shares are normal"
        )
    last = max((each.cycles for each in differences), default=None)
    at_last = [each for each in differences if each.cycles == last]
    if len(at_last) == 1:
        parts.append(_difference_words(at_last[0]))
    elif at_last:
        resolved = sum(each.difference.is_resolved for each in at_last)
        parts.append(f"{resolved} of {len(at_last)} differences between elements are resolved")
    return "; ".join(parts) or "no two tests reach the cycles asked about, so no scatter is known"


def _difference_words(each: ElementDifference) -> str:
    found = each.difference
    if not found.is_resolved:
        return f"the difference between {each.first} and {each.second} is not resolved"
    more, less = (each.second, each.first) if found.value > 0.0 else (each.first, each.second)
    least = min(abs(found.low), abs(found.high))
    return (
        f"{less} keeps less than {more}, by {whole_percent(least)} of the initial preload or more"
    )


def _missed_above(shown: Sequence[ElementDecay], rated: Sequence[Threshold]) -> str:
    """Return the least threshold that the only element shown misses in some tests."""
    for threshold in reversed(rated):
        rating = _rating(shown[0], threshold)
        if len(shown) == 1 and rating is not None and not rating.all_reach:
            return f", and misses '{threshold.name}' in some tests"
    return ""


def _to_do(
    elements: Sequence[ElementDecay],
    differences: Sequence[ElementDifference],
    thresholds: Sequence[Threshold],
) -> str:
    """Return what to do: the element that shows the highest threshold, else more tests."""
    rated = sorted(thresholds, key=lambda each: -each.share)
    for threshold in rated:
        shown = [e for e in elements if (r := _rating(e, threshold)) is not None and r.is_shown]
        if shown:
            verb = "meets" if len(shown) == 1 else "meet"
            return (
                f"{and_words([each.name for each in shown])} {verb} '{threshold.name}' "
                f"({percent(threshold.share)} after {cycles_words(threshold.cycles)}, "
                f"{threshold.source}), by the tolerance limit too{_missed_above(shown, rated)}"
            )
    for threshold in rated:
        near = [e for e in elements if (r := _rating(e, threshold)) is not None and r.all_reach]
        if near:
            return (
                f"test more of {and_words([each.name for each in near])}: every test meets "
                f"'{threshold.name}' ({percent(threshold.share)}, {threshold.source}), but so few "
                "tests do not show it of nearly all"
            )
    last = max((each.cycles for each in differences), default=None)
    planned = [
        each.difference.tests_to_separate
        for each in differences
        if each.cycles == last and not each.difference.is_resolved
    ]
    tests = max((n for n in planned if n is not None), default=None)
    if tests is not None:
        return f"{tests} tests of each would separate the elements in four of five series"
    if all(not each.ratings for each in elements):
        return "test up to the cycles of the rating"
    return (
        "no element meets a threshold in every test: keep the parts from slipping, or test another "
        "element"
    )
