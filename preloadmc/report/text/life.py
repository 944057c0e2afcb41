"""A joint over its service as text: each time, what is worth doing, what checks find."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from preloadmc.estimates.probability import Probability
from preloadmc.judgement.verdicts import MEETS, Judged
from preloadmc.judgement.wording import probability_words, share_text
from preloadmc.over_time import service_of
from preloadmc.questions.run import CheckFound, LifePoint, LifeResult, RunResult, Trial
from preloadmc.report.text.blocks import Block, Paragraph, Section, Table
from preloadmc.report.text.judgement import doubted_words, unit_of
from preloadmc.report.text.screen import Part, table_part
from preloadmc.units import TORQUE, format_quantity, time_words

# Times of service that a screen shows however long the rest is.
_LEAST_TIMES = 2
HEADING = "Over the years of service"
_EXPLAINED = (
    "At that time: in any state that the joint may be in then. By then: in any state up to then, "
    "so that what was loose once counts, also where it is tight again."
)
_ENDLESS = (
    " Creep follows the logarithm of time without end: beyond the time of the tests behind its "
    "rate it is a guess."
)
_AUDIT = (
    "Readings are torques at which the fastener starts to turn on. Good joints hold enough preload "
    "in every state of that time; shares are from plain samples. A check turns nothing that it "
    "passes, and says nothing of joints with more friction than these laws know."
)


def life_sections(result: RunResult, system: str = "metric") -> Iterator[Section]:
    """Yield the section of a run's service; nothing where no time of it is stated."""
    life = result.life
    if life is None:
        return
    creeps = bool(service_of(result.case.joint).creep)
    blocks: list[Block] = [_table(life), Paragraph(_EXPLAINED + (_ENDLESS if creeps else ""))]
    blocks += [Paragraph(words, hangs=True) for words in _worth_words(life)]
    if life.checks:
        for check in life.checks:
            blocks.append(Paragraph(_check_words(check, system), hangs=True))
            if words := sheet_words(check, system):
                blocks.append(Paragraph(words, hangs=True))
        blocks.append(Paragraph(_AUDIT))
    if life.expected_cost is not None:
        cost = result.case.cost
        currency = f" {cost.currency}" if cost is not None and cost.currency else ""
        words = (
            "Expected cost of service, what is done and too little preload by the end: "
            f"{life.expected_cost:.3g}{currency} a fastener"
        )
        if life.cost_of_nothing is not None:
            words += f"; with nothing done {life.cost_of_nothing:.3g}{currency}"
        blocks.append(Paragraph(f"{words}."))
    yield Section(HEADING, tuple(blocks))


def _table(life: LifeResult) -> Table:
    unit = unit_of([each for point in life.points for each in (point.under, point.by_then)])
    has_band = life.points[-1].by_then.band is not None
    sure = ("sure to be below",) if has_band else ()
    rows = tuple(_row(point, unit, has_band=has_band) for point in life.points)
    header = (_label(life), "at that time (95 %)", "by then (95 %)", *sure, "verdict")
    return Table(header, rows)


def _label(life: LifeResult) -> str:
    return "one: too little" if life.of_one else "too little preload"


def _row(point: LifePoint, unit: str | None, *, has_band: bool) -> tuple[str, ...]:
    sure = (share_text(point.by_then.sure),) if has_band else ()
    return (
        point.words,
        doubted_words(point.under, unit),
        doubted_words(point.by_then, unit),
        *sure,
        point.by_then.verdict_words,
    )


def _worth_words(life: LifeResult) -> Iterator[str]:
    """Yield how long what is allowed is kept, and what a retightening is worth."""
    end = time_words(life.end)
    if life.all_along:
        yield f"With nothing done, too little preload stays within what is allowed to {end}."
    elif life.longest is not None:
        yield (
            "Longest interval: with nothing done, too little preload is shown to stay within what "
            f"is allowed for {time_words(life.longest)} (rounded down), and not to {end}."
        )
    elif life.points[-1].by_then.allowed is not None and not life.of_one:
        yield (
            "No interval of an hour or more is shown to keep too little preload within what is "
            "allowed, with nothing done."
        )
    if life.without is not None:
        yield f"With nothing done, by {end}: {_words(life.without)}."
    for trial, words in (
        (life.first_retightening, "A first retightening"),
        (life.at_longest, "One retightening"),
    ):
        if trial is not None:
            yield f"{words} at {time_words(trial.time)}, and nothing else: {_trial(trial, end)}."
    if life.of_one:
        yield f"Intervals and retightenings were not looked at: {life.untried}."
    elif life.untried:
        yield f"What a retightening is worth was not tried: {life.untried}."


def _trial(trial: Trial, end: str) -> str:
    every = "every limit judged is met" if trial.verdict == MEETS else "not every limit is met"
    return f"too little preload by {end} {_words(trial.under)}; {every}"


def _words(judged: Judged) -> str:
    return doubted_words(judged, None)


def _check_words(check: CheckFound, system: str) -> str:
    """Return what a check finds and misses."""
    limit = check.action.pass_torque
    words = f"Check at {time_words(check.action.at)}: good joints read {_range(check, system)}"
    if limit is None:
        return f"{words} (5 to 95 %)."
    return (
        f"{words} (5 to 95 %). At {_torque(limit, system)} it turns "
        f"{probability_words(check.turned)} of all joints; false alarms, of good joints: "
        f"{_share(check.false_alarms)}; passed, of loose joints: {_share(check.passed)}."
    )


def _range(check: CheckFound, system: str) -> str:
    if check.good is None:
        return "too few are good"
    unit = TORQUE.unit(system)
    low, high = (_torque(check.good[end], system).removesuffix(f" {unit}") for end in (0, 2))
    return f"{low} to {high} {unit}"


def sheet_words(check: CheckFound, system: str) -> str:
    """Return the limits to put on a work sheet, with what they find; empty where not known."""
    if check.good is None:
        return ""
    at_low = (
        "too few joints are loose to say how many it would pass"
        if check.passed_at_low is None
        else f"of loose joints it passes {probability_words(check.passed_at_low)}"
    )
    return (
        f"For the work sheet, {time_words(check.action.at)}: expect {_range(check, system)}; a "
        f"reading below {_torque(check.good[0], system)} is looked into (5 % of good joints read "
        f"less; {at_low}), one above {_torque(check.good[2], system)} too."
    )


def _torque(torque: float, system: str) -> str:
    return format_quantity(torque, TORQUE, system, 3)


def _share(probability: Probability | None) -> str:
    return "not told, too few are" if probability is None else probability_words(probability)


def life_part(life: LifeResult | None) -> Iterator[Part]:
    """Yield the table of the screen: too little preload at each time of service."""
    if life is None:
        return
    unit = unit_of([point.by_then for point in life.points])
    rows = [
        (
            point.words,
            point.under.words,
            doubted_words(point.by_then, unit),
            point.by_then.verdict,
        )
        for point in life.points
    ]
    name = f"{'one: ' if life.of_one else ''}too little, service"
    part = table_part((name, "at that time", "by then (95 %)", "verdict"), rows)
    # The end of service before what lies between.
    ranks = (len(rows) - 1, *range(len(rows) - 1))
    yield replace(part, least=min(_LEAST_TIMES, len(rows)), ranks=ranks)
