"""The report of a comparison: each alternative against the first, costs, what control is worth."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from preloadmc.judgement.outcomes import LABELS
from preloadmc.judgement.paired import compared_limits
from preloadmc.judgement.wording import difference_words, probability_words, quoted
from preloadmc.limits import LOOSENING
from preloadmc.questions.compare import Alternative, CompareResult, amount_words
from preloadmc.report.text.blocks import (
    Block,
    Paragraph,
    Points,
    Report,
    Section,
    Table,
    render_text,
)
from preloadmc.report.text.case import assumption_section, caution_section
from preloadmc.report.text.cautions import INTERVALS
from preloadmc.report.text.changes import change_lines
from preloadmc.report.text.control import control_sections

SECURING_NOTE = (
    "Loosening by slip is judged by the rule of each securing element (see the assumptions), an "
    "engineering model: a standard transverse-vibration test (DIN 25201-4, ISO 16130) decides what "
    "an element really holds under vibration."
)
_HEADER = ("probability (95 %)", "difference to first (95 %)")
PAIRING = (
    "Each alternative is the same sampled joints, treated differently: differences are those of "
    "pairs. Times narrower: how many times less a difference scatters than between two separate "
    "runs of as many draws, measured on these draws. A ? marks what the samples do not resolve."
)
DOMINATED = (
    "Dominated: another is as good in every column (its probability above by less than a tenth of "
    "what is allowed at the upper limit of the paired difference), not dearer, and better in one, "
    "by the samples."
)


def compare_text(result: CompareResult, system: str = "metric") -> str:
    """Return the report of a comparison as text."""
    return render_text(compare_report(result, system))


def compare_report(result: CompareResult, system: str = "metric") -> Report:
    """Return the report of a comparison: the answer first, then the tables."""
    warnings = dict.fromkeys(w for each in result.alternatives for w in each.case.warnings)
    sections = (
        _change_section(result, system),
        *_window_sections(result),
        *_securing_sections(result),
        *_cost_sections(result),
        _dominated_section(result),
        *(
            section
            for name, worth in result.controls.items()
            for section in control_sections(worth, f"Value of control with {quoted(name)}")
        ),
        assumption_section(result.case.assumptions),
        *_added_assumptions(result),
        Section("Method", tuple(_method_blocks(result))),
        caution_section(),
    )
    return Report(result.case.title, sections, answer=result.answer, warnings=tuple(warnings))


def _change_section(result: CompareResult, system: str) -> Section:
    blocks: list[Block] = [Paragraph(f"{quoted(result.first.name)} is the case as it stands.")]
    for each in result.alternatives[1:]:
        changes = change_lines(result.case, each.case, system) or ["nothing"]
        blocks += [Paragraph(f"{quoted(each.name)} changes:"), Points(tuple(changes))]
    return Section("What each alternative changes", tuple(blocks))


def _window_sections(result: CompareResult) -> Iterator[Section]:
    for name, label in LABELS.items():
        rows = tuple(
            (
                each.name,
                probability_words(each.outcome(name).probability),
                _difference_cell(each, name),
            )
            for each in result.alternatives
        )
        yield Section(label.capitalize(), (Table((label, *_HEADER), rows),))
    if any(each.verdict != "no target" for each in result.alternatives):
        yield Section("Against what is allowed", (_verdict_table(result),))
    narrower = tuple(
        (each.name, *(_narrower(each, name) for name in LABELS)) for each in result.alternatives[1:]
    )
    header = ("times narrower", *LABELS.values())
    yield Section("What common draws gain", (Table(header, narrower), Paragraph(PAIRING)))


def _verdict_table(result: CompareResult) -> Table:
    rows = tuple(
        (each.name, *(outcome.verdict_words for outcome in each.outcomes[:2]))
        for each in result.alternatives
    )
    return Table(("against what is allowed", *tuple(LABELS.values())[:2]), rows, words=3)


def _difference_cell(alternative: Alternative, name: str) -> str:
    if name not in alternative.differences:
        return "-"
    return difference_words(alternative.differences[name]).replace(", not resolved", " ?")


def _narrower(alternative: Alternative, name: str) -> str:
    narrowing = alternative.narrowing[name]
    return "never apart" if math.isinf(narrowing) else f"{narrowing:.2g} x"


def _securing_sections(result: CompareResult) -> Iterator[Section]:
    """Yield the limits that tell securing elements apart, where any alternative judges them."""
    for name, label in compared_limits().items():
        if not any(name in each.securing for each in result.alternatives):
            continue
        rows = tuple(
            (
                each.name,
                probability_words(each.securing[name]) if name in each.securing else "not judged",
                _difference_cell(each, name),
            )
            for each in result.alternatives
        )
        note = (Paragraph(SECURING_NOTE),) if name == LOOSENING.name else ()
        yield Section(label.capitalize(), (Table((label, *_HEADER), rows), *note))


def _cost_sections(result: CompareResult) -> Iterator[Section]:
    rows = []
    for each in result.alternatives:
        cost = each.case.cost
        if cost is None or each.expected_cost is None:
            continue
        apart = each.cost_difference
        difference = "-" if apart is None else amount_words(apart)
        if apart is not None and not apart.resolved:
            difference += " ?"
        expected = amount_words(each.expected_cost)
        rows.append((each.name, f"{cost.per_joint:g}", expected, difference))
    cost = result.case.cost
    if not rows or cost is None:
        return
    header = (
        f"cost a joint [{cost.currency}]" if cost.currency else "cost a joint",
        "to make",
        "with misses (95 %)",
        "difference to first (95 %)",
    )
    words = (
        f"With misses: to make, plus {cost.per_under:g} for each joint with too little and "
        f"{cost.per_over:g} for each with too much preload, unless an alternative says otherwise; "
        "slip and loosening carry no cost of their own."
    )
    yield Section("Costs", (Table(header, tuple(rows)), Paragraph(words)))


def _dominated_section(result: CompareResult) -> Section:
    found = [
        f"{quoted(each.name)} is dominated by {_and(each.dominated_by)}"
        for each in result.alternatives
        if each.dominated_by
    ]
    words = "; ".join(found) if found else "No alternative is dominated"
    return Section("Which can be dropped", (Paragraph(f"{words}. {DOMINATED}"),))


def _and(names: Sequence[str]) -> str:
    return " and ".join(quoted(name) for name in names)


def _added_assumptions(result: CompareResult) -> Iterator[Section]:
    """Yield the assumptions that an alternative adds to those of the case."""
    known = set(result.case.assumptions)
    for each in result.alternatives[1:]:
        added = tuple(
            f"{item.path}: {item.value} [{item.source}]"
            for item in each.case.assumptions
            if item not in known
        )
        if added:
            yield Section(f"{quoted(each.name)} assumes besides:", (Points(added),), titled=True)


def _method_blocks(result: CompareResult) -> Iterator[Block]:
    yield Paragraph(
        f"Method: common draws on the union of all uncertain inputs ({len(result.columns)}); "
        f"{result.samples:,} plain samples of each alternative, and where they leave a probability "
        "open, common draws of one importance-sampling mixture around the design points of all "
        "alternatives, each probability held against a second estimate; "
        f"{result.model_calls:,} model calls, seed {result.seed}, asked precision "
        f"{100 * result.precision:g} %. Plain differences: score interval for paired proportions "
        f"(Tango 1998); weighted ones: independent batches. {INTERVALS}"
    )
    notes = tuple(
        f"{quoted(each.name)}, {outcome.label}: NOT RELIABLE ({outcome.probability.note})."
        for each in result.alternatives
        for outcome in each.outcomes
        if not outcome.probability.reliable
    )
    if notes:
        yield Points(notes)
