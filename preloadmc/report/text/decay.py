"""The text of what vibration tests say: what remains, ratings, lifetimes, phases, differences."""

from __future__ import annotations

import math
from collections.abc import Iterator

from preloadmc.questions.decay import (
    FROM_MEMORY,
    LIFE_SHARES,
    DecayResult,
    ElementDecay,
    RemainingLimit,
    VibrationRecord,
    count_of,
    cycles_words,
    whole_percent,
)
from preloadmc.report.text.blocks import (
    Block,
    Paragraph,
    Points,
    Report,
    Section,
    Table,
    render_text,
)
from preloadmc.report.text.cautions import CAUTIONS
from preloadmc.report.text.screen import Screen, line_part, table_part
from preloadmc.told import and_words, percent
from preloadmc.units import FORCE, format_number, format_quantity

_NO_LIMIT = "-"
_WHAT_THEY_MEAN = (
    "What remains is a share of each test's own initial preload, straight between its readings. A "
    "test that ended without preload keeps what it ended with; one that was stopped earlier with "
    "preload left is left out beyond its end. The tolerance limit is exact for a normal law of the "
    "shares; where some tests hold and others let go, no normal law fits, and the limit whatever "
    "the law is the one to take.",
    "A lifetime ends where the preload first falls below the remainder; tests that keep more are "
    "counted as censored. Its law is found by maximum likelihood, its intervals by the likelihood "
    "ratio. Two phases: least squares of a level and a straight rise of the rotation.",
    "A test of this kind compares elements in one joint, at one amplitude and clamp length. It "
    "does not say how often the parts of another joint slip, nor how far.",
)


# Behind a law of tests stand at least as many.
_FEWEST = 3
# A normal law this many s.d. above zero has nothing below it worth counting.
_FAR_ABOVE = 6.0


def _for_case(result: DecayResult) -> Iterator[Section]:
    """Yield the lines of a case file that say what is left once the parts slip."""
    lines = []
    for element in result.elements:
        remaining = element.remaining[-1].remaining
        if remaining.sd is None or remaining.n < _FEWEST or not remaining.mean > 0.0:
            continue
        law = "normal" if remaining.mean > _FAR_ABOVE * remaining.sd else "lognormal"
        mean, sd = (f"{100.0 * each:.3g} %" for each in (remaining.mean, remaining.sd))
        lines.append(
            f"{element.element or 'all tests'}, {cycles_words(remaining.cycles)}: remaining = "
            f'{{ law = "{law}", mean = "{mean}", sd = "{sd}", tests = {remaining.n} }}'
        )
    if lines:
        words = (
            "Under [securing] of a case file, beside its element: the share that a fastener keeps "
            "where its parts slip for as many cycles as were tested; `run` then judges what is "
            "left after slip against the minimum preload."
        )
        yield Section("For a case file", (Paragraph(words), Points(tuple(lines))))


def decay_text(result: DecayResult) -> str:
    """Return the report as text: the answer first."""
    return render_text(decay_report(result))


def decay_title(result: DecayResult) -> str:
    """Return the files, and the rows taken from them."""
    where = ", ".join(f"{key} = {value}" for key, value in result.question.where.items())
    names = [each.name for each in result.sources]
    shown = names if len(names) <= 3 else [*names[:2], f"{len(names) - 2} more files"]
    return f"{and_words(shown)}{f', {where}' if where else ''}"


def decay_report(result: DecayResult) -> Report:
    """Return the report as blocks."""
    holds = f"Everything here holds for {result.holds_for}."
    return Report(
        decay_title(result),
        (
            Section("Preload that remains", (*_remaining(result), Paragraph(holds))),
            Section("Ratings", (_ratings(result), *_rating_words(result))),
            Section("Cycles to the remainder", (_lifetimes(result), *_life_words(result))),
            *_differences(result),
            *_phases(result),
            *_for_case(result),
            Section("Tests", (_tests(result),)),
            Section("What these numbers mean", tuple(map(Paragraph, _WHAT_THEY_MEAN))),
            Section("Cautions:", (Points(CAUTIONS),), titled=True),
        ),
        answer=result.answer,
        warnings=result.warnings,
    )


def decay_screen(result: DecayResult) -> Screen:
    """Return the screen: what remains, ratings and lifetimes of each element."""
    question = result.question
    rows = []
    for element, each in _all_remaining(result):
        cycles = count_of(each.remaining.cycles)
        limit = _share(each.limit)
        fell = f"{element.lifetime.fell} of {len(element.tests)}"
        left = _mean(each)[0]
        rows.append((element.name, cycles, f"{each.remaining.n}", left, limit, fell))
    below = f"fell below {percent(question.remainder)}"
    header = ("element", "cycles", "tests", "left", f"{percent(question.content)} keep", below)
    parts = [table_part(header, rows)]
    ratings = _ratings(result)
    parts.append(table_part(ratings.header, ratings.rows, words=2))
    if any(each.lifetime.chosen is not None for each in result.elements):
        lifetimes = _lifetimes(result)
        parts.append(table_part(lifetimes.header, lifetimes.rows, words=2))
    if any(each.source != "typed in" for each in result.thresholds):
        parts.append(line_part(f"*: {FROM_MEMORY}; type in that of your edition by --threshold."))
    return Screen(decay_title(result), result.answer, result.warnings, tuple(parts), 0)


def _all_remaining(result: DecayResult) -> Iterator[tuple[ElementDecay, RemainingLimit]]:
    for element in result.elements:
        for each in element.remaining:
            yield element, each


def _share(value: float | None) -> str:
    return _NO_LIMIT if value is None else whole_percent(value)


def _mean(each: RemainingLimit) -> tuple[str, str, str]:
    """Return mean and ends of its interval in per cent."""
    return (
        f"{100.0 * each.remaining.mean:.1f} %",
        _NO_LIMIT if each.mean_low is None else f"{100.0 * each.mean_low:.1f}",
        _NO_LIMIT if each.mean_high is None else f"{100.0 * each.mean_high:.1f}",
    )


def _remaining(result: DecayResult) -> tuple[Block, ...]:
    question = result.question
    rows = []
    for element, each in _all_remaining(result):
        remaining = each.remaining
        sd = _NO_LIMIT if remaining.sd is None else f"{100.0 * remaining.sd:.1f}"
        free = each.limit_by_count
        rows.append(
            (
                element.name,
                count_of(remaining.cycles),
                f"{remaining.n}",
                *_mean(each),
                sd,
                _share(each.limit),
                f"{each.tests_by_count:,} tests" if free is None else _share(free),
            )
        )
    header = (
        "element", "cycles", "tests", "left", "from", "to", "s.d.",
        f"{percent(question.content)} keep", "any law",
    )  # fmt: skip
    words = (
        f"Shares of the initial preload [%]; mean with its {percent(question.confidence)} "
        f"interval. '{percent(question.content)} keep': one-sided tolerance limit with "
        f"{percent(question.confidence)} confidence by a normal law, 'any law' by count, or the "
        "tests that takes."
    )
    return (Table(header, tuple(rows)), Paragraph(words, hangs=True))


def _ratings(result: DecayResult) -> Table:
    rows = []
    for element in result.elements:
        for each in element.ratings:
            threshold = each.threshold
            mark = "*" if FROM_MEMORY in threshold.source else ""
            words = "shown" if each.is_shown else "not shown" if each.all_reach else "missed"
            rows.append(
                (
                    element.name,
                    f"{threshold.name}{mark}",
                    percent(threshold.share),
                    count_of(threshold.cycles),
                    f"{each.reach} of {each.n}",
                    words,
                )
            )
    content = percent(result.question.content)
    header = ("element", "threshold", "keep", "cycles", "tests that do", f"{content} do")
    return Table(header, tuple(rows), words=2)


def _rating_words(result: DecayResult) -> tuple[Block, ...]:
    words = (
        "'Shown': all tests keep it, and so does the tolerance limit. 'Not shown': all tests keep "
        "it, the limit does not. 'Missed': a test misses it; one stopped earlier counts if it was "
        "below by then."
    )
    found: list[Block] = [Paragraph(words, hangs=True)]
    sources: dict[str, list[str]] = {}
    for each in result.thresholds:
        sources.setdefault(each.source, []).append(each.name)
    for source, names in sources.items():
        mark = "*" if FROM_MEMORY in source else ""
        check = ": check it against your edition, and type it in by --threshold" if mark else ""
        found.append(Paragraph(f"{mark} {and_words(names)}: {source}{check}.".strip(), hangs=True))
    return tuple(found)


def _lifetimes(result: DecayResult) -> Table:
    rows: list[tuple[str, ...]] = []
    for element in result.elements:
        life = element.lifetime
        fell = f"{life.fell} of {len(life.cycles)}"
        if life.chosen is None:
            rows.append((element.name, _NO_LIMIT, fell, *(4 * (_NO_LIMIT,))))
        for each in life.quantiles:
            ends = ("open" if end is None else _cycles(end) for end in (each.low, each.high))
            law = _NO_LIMIT if life.chosen is None else life.chosen.kind
            rows.append((element.name, law, fell, percent(each.share), _cycles(each.cycles), *ends))
    below = f"below {percent(result.question.remainder)}"
    header = ("element", "law", "tests fell", f"share {below}", "by cycles", "from", "to")
    return Table(header, tuple(rows), words=2)


def _cycles(cycles: float) -> str:
    """Return load cycles to three figures."""
    if not 1.0 <= cycles < 1e7:
        return format_number(cycles, 3)
    digits = max(math.floor(math.log10(cycles)) - 2, 0)
    return count_of(round(cycles, -digits))


def _life_words(result: DecayResult) -> tuple[Block, ...]:
    confidence = percent(result.question.confidence)
    remainder = percent(result.question.remainder)
    found: list[Block] = []
    for element in result.elements:
        life = element.lifetime
        if life.chosen is None:
            few = "none" if life.fell == 0 else f"{life.fell} only"
            found.append(
                Paragraph(
                    f"{element.name}: {few} of {len(life.cycles)} tests fell below {remainder}; a "
                    "law takes two at different cycles. With "
                    f"{confidence} confidence at most {percent_up(life.by_count)} of all do so "
                    f"within {cycles_words(life.counted_at)}, whatever the law.",
                    hangs=True,
                )
            )
            continue
        others = [each for each in life.laws if each is not life.chosen]
        for other in others:
            words = (
                f"{element.name}: {life.chosen.kind} law, shape {life.chosen.shape:.2f}"
                if life.chosen.kind == "weibull"
                else f"{element.name}: lognormal law, s.d. of the logarithm {life.chosen.scale:.2f}"
            )
            ahead = life.chosen.log_likelihood - other.log_likelihood
            side = "above" if ahead >= 0.0 else "below"
            far = LIFE_SHARES[0]
            found.append(
                Paragraph(
                    f"{words}; its log likelihood is {abs(ahead):.1f} {side} that of the "
                    f"{other.kind} law, by which {percent(far)} have fallen below {remainder} by "
                    f"{_cycles(other.quantile(far))} cycles.",
                    hangs=True,
                )
            )
    return tuple(found)


def percent_up(share: float) -> str:
    """Return a share in whole per cent, rounded up.

    Examples
    --------
    >>> percent_up(0.3481)
    '35 %'
    """
    return f"{math.ceil(100.0 * share - 1e-9)} %"


def _differences(result: DecayResult) -> tuple[Section, ...]:
    if not result.differences:
        return ()
    rows = []
    for each in result.differences:
        found = each.difference
        planned = "none" if found.tests_to_separate is None else f"{found.tests_to_separate:,}"
        rows.append(
            (
                f"{each.second} less {each.first}",
                count_of(each.cycles),
                f"{100.0 * found.value:+.1f}",
                f"{100.0 * found.low:+.1f}",
                f"{100.0 * found.high:+.1f}",
                planned,
            )
        )
    confidence = percent(result.question.confidence)
    words = (
        f"Points of per cent of the initial preload, with intervals by Welch that hold together "
        f"with {confidence} confidence. The last column: tests of each element with which the "
        "interval would leave out zero in four of five series, were means and scatter to stay."
    )
    header = ("what is left", "cycles", "difference", "from", "to", "tests of each")
    return (Section("Differences", (Table(header, tuple(rows)), Paragraph(words, hangs=True))),)


def _phases(result: DecayResult) -> tuple[Section, ...]:
    rows = []
    for element in result.elements:
        for each in element.phases:
            change, share = each.change, each.share_at_change
            if change is None or share is None:
                lost = whole_percent(max(1.0 - each.share_at_end, 0.0))
                rows.append((each.test, element.name, "none found", "", "", lost, "", ""))
                continue
            rows.append(
                (
                    each.test,
                    element.name,
                    count_of(change.at),
                    count_of(change.low),
                    count_of(change.high),
                    whole_percent(max(1.0 - share, 0.0)),
                    whole_percent(max(share - each.share_at_end, 0.0)),
                    format_number(math.degrees(change.slope) * 1000.0, 2),
                )
            )
    if not rows:
        return ()
    header = (
        "test", "element", "rotates from", "low", "high", "lost before", "after", "deg/1,000",
    )  # fmt: skip
    words = (
        "Preload is lost by settling before rotation begins, and mainly by rotation after it; the "
        "interval of the cycles at which it begins takes the scatter of readings as independent. "
        "Rotation that grows ever faster begins earlier than told."
    )
    return (
        Section(
            "Settling, then rotation",
            (Table(header, tuple(rows), words=2), Paragraph(words, hangs=True)),
        ),
    )


def _tests(result: DecayResult) -> Table:
    rows = tuple(
        (
            each.test,
            element.name,
            _NO_LIMIT if each.initial is None else format_quantity(each.initial, FORCE, digits=3),
            f"{len(each.cycles):,}",
            count_of(each.last_cycles),
            _end(each),
        )
        for element in result.elements
        for each in element.tests
    )
    header = ("test", "element", "initial preload", "readings", "last cycles", "left")
    return Table(header, rows, words=2)


def _end(test: VibrationRecord) -> str:
    return whole_percent(float(test.share[-1]))
