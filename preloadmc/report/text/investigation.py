"""An investigation to hand over: in words that a fitter reads, and with statistics at the end."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from preloadmc import __version__
from preloadmc.evidence import COUNT, MEASURED, READINGS, TOOL, Count, Reading
from preloadmc.inputs import input_kind
from preloadmc.questions.infer import (
    FindingFit,
    InferResult,
    Oddity,
    Verdict,
    infer_answer,
    is_likely,
)
from preloadmc.report.text.blocks import Block, Paragraph, Points, Report, Section, Table
from preloadmc.report.text.cautions import CAUTIONS, NOT_COVERED
from preloadmc.report.text.fasteners import by_number, fastener_table, loose_limit
from preloadmc.report.text.findings import (
    after_words,
    candidate_place,
    candidate_words,
    found_words,
    oddest_words,
    predicted_words,
)
from preloadmc.report.text.infer import (
    INVESTIGATION_CAUTIONS,
    PLUS,
    factor_section,
    method_words,
    odds_section,
    other_section,
)
from preloadmc.told import and_words
from preloadmc.units import FORCE, LENGTH, TIME, format_quantity, time_words

NOT_STATED = "not stated"
# A finding that is this rare for a cause, or rarer, speaks against it; one above the other fits.
AGAINST, FITS = 0.05, 0.20
# What a measurement settles of what is open, in words; below the last it is not worth the work
# (engineering judgement).
_SETTLES = ((0.20, "much"), (0.05, "some"), (0.01, "little"))
_MOST_MEASUREMENTS = 6
# A cause below this is hardly possible: the report says no number of it.
_ASIDE = 1e-3
# A lead that a weight beforehand a hundred times smaller does not end needs no reserve.
_FIRM_LEAD = 100.0


def investigation_report(result: InferResult, system: str) -> Report:
    """Return what is handed over, without the statistics."""
    return Report(
        result.case.title,
        (
            Section("The inspection", tuple(_head(result, system)), narrow=True),
            Section("What was found", tuple(_found(result, system))),
            *(_cause_section(verdict, system) for verdict in result.leading),
            Section("What the findings leave open", tuple(_open(result))),
            Section("What to measure next", tuple(_next(result, system))),
            Section("What to change", tuple(_change(result))),
            Section("Cautions", (Points((*CAUTIONS, *INVESTIGATION_CAUTIONS[1:])),)),
        ),
        answer=_answer(result),
    )


def reviewer_sections(result: InferResult, system: str) -> tuple[Section, ...]:
    """Return the statistics behind what is handed over, each table with how to read it."""
    case = result.case
    opening = Paragraph(
        "The statistics behind the pages before, for who checks them; report.html has them in "
        f"full. Case {case.source}, SHA-256 {case.sha256}; preloadmc {__version__}, seed "
        f"{result.seed}."
    )
    limits = Points((INVESTIGATION_CAUTIONS[0], NOT_COVERED, *result.warnings))
    return (
        Section("For the reviewer", (opening,)),
        odds_section(result),
        factor_section(result),
        _check_section(result, system),
        other_section(result),
        Section("Method", (Paragraph(method_words(result)),)),
        Section("Limits and warnings", (limits,)),
    )


def _answer(result: InferResult) -> tuple[str, str, str]:
    """Return the lines of the answer; how sure in plain words, without factors."""
    cause, _, measured = infer_answer(result)
    return cause, f"How sure: {'; '.join(_sureness(result))}.", measured


def _sureness(result: InferResult) -> Iterator[str]:
    first, *others = result.suspects
    if not others:
        yield "no other cause was named to weigh it against"
        return
    if not any(verdict.explains_the_evidence for verdict in result.leading):
        yield "not sure: no cause named explains what was found"
    elif result.other_cause.as_well:
        yield "open, since causes that nobody named fit as well"
    elif not is_likely(result):
        yield f"open: the findings do not tell {first.suspect.name} from {others[0].suspect.name}"
    elif result.is_sure and result.sensitivity.prior_factor_to_lose_lead >= _FIRM_LEAD:
        yield "sure among the causes named; no plausible first guess changes that"
    else:
        yield "likely, not certain"
    lead = result.sensitivity.prior_factor_to_lose_lead
    if first.explains_the_evidence and lead < _FIRM_LEAD:
        yield (
            f"{first.suspect.name} stays first unless it was {lead:.2g} times less likely "
            "beforehand than assumed"
        )
    if result.other_cause.fits_better_than_all_named:
        yield "a cause may be missing from the list"


def _head(result: InferResult, system: str) -> Iterator[Block]:
    investigation, case = result.case.investigation, result.case
    assert investigation is not None, "only an investigated case has a result"
    about, joint = investigation.inspection, case.joint
    set_to = " and ".join(
        format_quantity(case.laws[control.input].mean, dimension, system)
        for control in joint.method.controls
        if control.is_set and (dimension := input_kind(control.input).dimension)
    )
    served = result.evidence.service_time
    rows = [
        ("asset", about.asset or NOT_STATED),
        ("drawing", about.drawing or NOT_STATED),
        ("date", about.date or NOT_STATED),
        ("inspector", about.inspector or NOT_STATED),
        ("fastener", f"{joint.thread.designation} {joint.grade or ''}".strip()),
        ("tightened by", f"{joint.method.name} {set_to}".strip()),
        ("time in service", NOT_STATED if served is None else time_words(served)),
    ]
    if about.circle is not None:
        size = format_quantity(about.circle.diameter, LENGTH, system)
        rows.append(("bolt circle", f"{about.circle.fasteners} fasteners on {size}"))
    yield Table(("about", "stated"), tuple(rows), words=2)


def _found(result: InferResult, system: str) -> Iterator[Block]:
    evidence = result.evidence
    table = fastener_table(result, system)
    if table is not None:
        yield table
    limit = loose_limit(result)
    words = [
        f"{each.kind[0].upper()}{each.kind[1:]}: {found_words(each, system)}."
        for each in evidence.findings
        if each.fastener == TOOL
    ]
    words += [
        f"{each.words} other fasteners were loose (below "
        f"{format_quantity(each.limit, FORCE, system, 3)})."
        for each in evidence.counts
    ]
    if limit is not None and table is not None:
        words.append(
            f"Loose: a preload below {format_quantity(limit, FORCE, system, 3)}; ± is the "
            "measuring error."
        )
    if evidence.selected:
        words.append(
            f"Looked at because loose: {and_words(sorted(evidence.selected, key=by_number))}; the "
            "others without regard to looseness."
        )
    if words:
        yield Paragraph(" ".join(words))


def _cause_section(verdict: Verdict, system: str) -> Section:
    """Return what speaks for a cause and what against it."""
    suspect, check = verdict.suspect, verdict.fit_check
    assert check is not None, "those shown in full are checked"
    head = f"{_chance(verdict)} among the causes named."
    if suspect.note:
        head += f" {suspect.note[0].upper()}{suspect.note[1:]}."
    if not check.explains:
        taken = "Taken together, the findings are not what this cause would leave."
    elif check.chance_of_such_findings < FITS:
        taken = "Taken together, the findings are unusual for this cause, but possible."
    else:
        taken = "Taken together, the findings are what this cause would leave."
    odd = _odd_words(check.oddest, system, explained=check.explains)
    if odd:
        taken += f" What fits least, against any lot of this cause: {odd}."
    kinds = dict.fromkeys(map(_looked_at, verdict.fit))
    rows = tuple(
        (
            kind,
            _expected(of_kind, system),
            _found_on((each for each in of_kind if each.position > FITS), system),
            _found_on((each for each in of_kind if AGAINST <= each.position <= FITS), system),
            _found_on((each for each in of_kind if each.position < AGAINST), system),
        )
        for kind in kinds
        if (of_kind := [each for each in verdict.fit if _looked_at(each) == kind])
    )
    header = ("finding", "expected of this cause", "fits", "in between", "speaks against")
    return Section(
        f"For and against: {suspect.name}",
        (Paragraph(head), Table(header, rows, words=5), Paragraph(taken)),
    )


def _looked_at(fit: FindingFit) -> str:
    """Return the kind of a finding, and its time where it has one of its own."""
    finding = fit.finding
    return COUNT if isinstance(finding, Count) else f"{finding.kind}{after_words(finding)}"


def _expected(fits: list[FindingFit], system: str) -> str:
    """Return what a cause makes of a kind of finding: the range of readings, or how many of 100."""
    read = [each for each in fits if not each.is_chance and isinstance(each.finding, Reading)]
    words = []
    if read:
        low, high = min(each.p05 for each in read), max(each.p95 for each in read)
        first = read[0].finding
        if not isinstance(first, Count) and not READINGS[first.kind].is_difference:
            # The measuring error alone would take a reading below zero.
            low = max(low, 0.0)
        words.append(predicted_words(replace(read[0], p05=low, p95=high), system))
    words += [predicted_words(each, system) for each in fits if isinstance(each.finding, Count)]
    chances: dict[str, list[float]] = {}
    for each in fits:
        if each.is_chance:
            chances.setdefault(each.finding.words, []).append(100.0 * each.p50)
    for found, chance in chances.items():
        least, most = f"{min(chance):.0f}", f"{max(chance):.0f}"
        words.append(f"{found} on {least if least == most else f'{least} to {most}'} of 100")
    return "; ".join(words)


def _found_on(fits: Iterable[FindingFit], system: str) -> str:
    """Return what was found, each value with the fasteners that it was found on."""
    places: dict[str, list[str]] = {}
    for each in fits:
        finding = each.finding
        if isinstance(finding, Reading) and finding.sense == MEASURED:
            dimension = READINGS[finding.kind].dimension
            words = format_quantity(finding.value, dimension, system, 3)
        else:
            words = found_words(finding, system)
        on = [] if isinstance(finding, Count) or finding.fastener == TOOL else [finding.fastener]
        places.setdefault(words, []).extend(on)
    return (
        "; ".join(f"{words} on {', '.join(on)}" if on else words for words, on in places.items())
        or "-"
    )


def _odd_words(oddest: Oddity, system: str, *, explained: bool) -> str:
    """Return what is oddest under a cause; empty where nothing stands out."""
    if oddest.p05 <= oddest.value <= oddest.p95:
        return ""
    if oddest.kind:
        return oddest_words(oddest, system)
    if explained:
        return ""
    return "one fastener by itself" if "fastener" in oddest.figure else "the combination of them"


def _open(result: InferResult) -> Iterator[Block]:
    """Yield the causes that the findings do not tell apart, and those that they leave aside."""
    first = result.suspects[0]
    fitting = [verdict for verdict in result.leading if verdict.explains_the_evidence]
    items = []
    if len(fitting) > 1:
        names = and_words([_share_words(verdict) for verdict in fitting])
        items.append(f"The findings fit more than one cause: {names}.")
    items += [
        f"{each.suspect.name} was not named and fits the findings as well"
        f"{f': {each.suspect.note}' if each.suspect.note else ''}."
        for each in result.other_cause.as_well
    ]
    if result.other_cause.fits_better_than_all_named:
        items.append("No cause looked at fits well: one may be missing from the list.")
    if not items and first.explains_the_evidence:
        items.append(
            "No other cause that was looked at, named or not, fits the findings nearly as well."
        )
    aside = [
        "nothing but scatter"
        if verdict.suspect is result.case_as_designed
        else verdict.suspect.name
        for verdict in result.suspects
        if verdict.probability < _ASIDE and PLUS not in verdict.suspect.name
    ]
    if aside:
        items.append(f"Hardly possible after these findings: {and_words(aside)}.")
    yield Points(tuple(items))
    yield Paragraph(
        "In the tables above a finding fits where more than one in five fasteners of this lot "
        "would differ as much from what the cause has left of it, as all findings together tell; "
        "it speaks against the cause where fewer than one in twenty would."
    )


def _share_words(verdict: Verdict) -> str:
    return f"{verdict.suspect.name} ({_chance(verdict)})"


def _next(result: InferResult, system: str) -> Iterator[Block]:
    """Yield the measurements that settle most of what is open, with what they take."""
    worth = [
        each for each in result.next_measurements if each.share_of_what_is_open >= _SETTLES[-1][0]
    ]
    if not worth:
        yield Paragraph("No further finding of these kinds would change the answer much.")
        return
    worth = worth[:_MOST_MEASUREMENTS]
    prices = any(each.effort is not None and each.effort.price is not None for each in worth)
    times = any(each.effort is not None and each.effort.time is not None for each in worth)
    header = ["what to measure", "where", "read to within", "settles"]
    header += ["price"] * prices + ["time"] * times
    rows = []
    for each in worth:
        settles = next(words for least, words in _SETTLES if each.share_of_what_is_open >= least)
        row = [each.kind, candidate_place(each), candidate_words(each, system), settles]
        price, time = (None, None) if each.effort is None else (each.effort.price, each.effort.time)
        row += ["-" if price is None else f"{price:g}"] * prices
        row += ["-" if time is None else format_quantity(time, TIME)] * times
        rows.append(tuple(row))
    yield Table(tuple(header), tuple(rows), words=len(header))
    yield Paragraph(
        "In this order. Read marks first, then preload, then torque: a fastener that was turned "
        "has nothing left to read."
    )


def _change(result: InferResult) -> Iterator[Block]:
    fitting = [verdict for verdict in result.leading if verdict.explains_the_evidence]
    if not fitting:
        yield Paragraph(
            "No remedy is proposed, since no cause named explains what was found. Find the cause "
            "first."
        )
        return
    words = f"A remedy must act on the cause. {_cause_words(fitting[0])}"
    if len(fitting) > 1:
        words += (
            f" Where {' or '.join(each.suspect.name for each in fitting[1:])} is not ruled "
            "out by a measurement, act on that too."
        )
    yield Paragraph(
        f'{words} "preloadmc compare" on as_found.toml of this folder, the joint as found, '
        "weighs remedies against each other."
    )


def _chance(verdict: Verdict) -> str:
    percent = 100.0 * verdict.probability
    return f"{percent:.0f} %" if percent < 99.0 else "above 99 %"


def _cause_words(verdict: Verdict) -> str:
    suspect = verdict.suspect
    note = f" ({suspect.note})" if suspect.note else ""
    return f"Here that is {suspect.name}{note}."


def _check_section(result: InferResult, system: str) -> Section:
    rows = tuple(
        (
            verdict.suspect.name,
            f"{100.0 * verdict.fit_check.chance_of_such_findings:.2g} %",
            oddest_words(verdict.fit_check.oddest, system),
        )
        for verdict in result.leading
        if verdict.fit_check is not None
    )
    words = (
        "Chance: the share of inspections simulated under the suspect that are as odd as this one; "
        "a small chance speaks against the suspect by itself, whatever its rivals. Oddest: what "
        "was found where it lies farthest out, beside 5 to 95 % of what the suspect makes."
    )
    header = ("suspect", "chance of such findings", "oddest")
    return Section("Chance of such findings", (Table(header, rows, words=3), Paragraph(words)))
