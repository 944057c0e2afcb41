"""The report of a comparison: each alternative against the first, costs, what control is worth."""

from __future__ import annotations

import math
from collections.abc import Iterator

from preloadmc.inputs import input_kind, input_label
from preloadmc.judgement.paired import compared_limits
from preloadmc.judgement.verdicts import LABELS
from preloadmc.judgement.wording import difference_words, probability_words, quoted
from preloadmc.limits import LOOSENING
from preloadmc.questions.compare import Alternative, CompareResult, amount_words
from preloadmc.report.text.acceptance import compared_section
from preloadmc.report.text.blocks import (
    Block,
    Paragraph,
    Points,
    Report,
    Section,
    Table,
    folded,
    render_text,
)
from preloadmc.report.text.case import assumption_section, caution_section
from preloadmc.report.text.cautions import INTERVALS
from preloadmc.report.text.changes import change_lines
from preloadmc.report.text.control import control_sections
from preloadmc.report.text.judgement import (
    EXPLAINED,
    doubted_words,
    side_table,
    tables_of,
    unknown_blocks,
)
from preloadmc.told import and_words
from preloadmc.units import format_quantity

SECURING_NOTE = (
    "Loosening by slip is judged by the rule of each securing element (see the assumptions), an "
    "engineering model: a standard transverse-vibration test (DIN 25201-4, ISO 16130) decides what "
    "an element really holds under vibration."
)
_HEADER = ("probability (95 %)", "difference to first (95 %)")
PAIRING = (
    "Each alternative is the same sampled fasteners, treated differently: differences are those of "
    "pairs. Times narrower: how many times less a difference scatters than between two separate "
    "runs of as many draws, measured on these draws. A ? marks what the samples do not resolve."
)
DOMINATED = (
    "Dominated: another is as good in every respect (its probability above by less than a tenth of "
    "what is allowed at the upper limit of the paired difference), not dearer, and better in one, "
    "by the samples. What keeps a fastener from turning off is not dominated by what does not "
    "where the parts may slip."
)


def compare_text(result: CompareResult, system: str = "metric") -> str:
    """Return the report of a comparison as text."""
    return render_text(compare_report(result, system))


def compare_report(result: CompareResult, system: str = "metric") -> Report:
    """Return the report of a comparison: the answer first, then the tables."""
    sections = (
        _change_section(result, system),
        *_setting_sections(result, system),
        *_window_sections(result),
        *_limit_sections(result),
        *compared_section({each.name: each.judged.screening for each in result.alternatives}),
        *_securing_sections(result),
        *_cost_sections(result),
        _dominated_section(result),
        *(
            section
            for name, worth in result.control.items()
            for section in folded(control_sections(worth, f"Value of control with {quoted(name)}"))
        ),
        assumption_section(result.case.assumptions, system),
        *_added_assumptions(result, system),
        Section("Method", tuple(_method_blocks(result))),
        caution_section(),
    )
    return Report(result.case.title, sections, answer=result.answer, warnings=result.warnings)


def _change_section(result: CompareResult, system: str) -> Section:
    best = ", but for its setting" if result.first.setting.best else ""
    words = f"{quoted(result.first.name)} is the case as it stands{best}."
    blocks: list[Block] = [Paragraph(words)]
    for each in result.alternatives[1:]:
        changes = change_lines(result.first.case, each.case, system) or ["nothing"]
        blocks += [Paragraph(f"{quoted(each.name)} changes:"), Points(tuple(changes))]
    return Section("What each alternative changes", tuple(blocks))


def _setting_sections(result: CompareResult, system: str) -> Iterator[Section]:
    """Yield the settings used, where any is not the one typed."""
    if not any(each.setting.best for each in result.alternatives):
        return
    rows = tuple(
        (
            each.name,
            input_label(each.setting.input),
            *(
                format_quantity(value, input_kind(each.setting.input).dimension, system)
                for value in (each.setting.typed, each.setting.value)
            ),
        )
        for each in result.alternatives
    )
    words = (
        "The setting used is the best one of the alternative, within every limit where there is "
        "one; `preloadmc aim` says how it is found."
    )
    header = ("set to", "what is set", "as typed", "used here")
    yield Section(
        "The setting of each alternative", (Table(header, rows, words=2), Paragraph(words))
    )


def _limit_sections(result: CompareResult) -> Iterator[Section]:
    """Yield how every limit of each alternative is judged; what is not, once where all agree."""
    unknown = [(each.judged.unknown, each.judged.unsure_strength) for each in result.alternatives]
    agree = all(other == unknown[0] for other in unknown)
    for each in result.alternatives:
        yield Section(
            f"Every limit of {quoted(each.name)}",
            (
                Paragraph(f"{quoted(each.name)}: {each.verdict}."),
                side_table(each.judged),
                *tables_of(each.judged),
                *(() if agree else unknown_blocks(each.judged)),
            ),
        )
    common = unknown_blocks(result.first.judged) if agree else ()
    yield Section("How limits are judged", (EXPLAINED, *common))


def _window_sections(result: CompareResult) -> Iterator[Section]:
    for name, label in LABELS.items():
        rows = tuple(
            (
                each.name,
                doubted_words(each.judged.named(name)),
                _difference_cell(each, name),
            )
            for each in result.alternatives
        )
        yield Section(label.capitalize(), (Table((label, *_HEADER), rows),))
    narrower = tuple(
        (each.name, *(_narrower(each, name) for name in LABELS)) for each in result.alternatives[1:]
    )
    header = ("times narrower", *LABELS.values())
    yield Section("What common draws gain", (Table(header, narrower), Paragraph(PAIRING)))


def _difference_cell(alternative: Alternative, name: str) -> str:
    if name not in alternative.difference_to_first:
        return "-"
    return difference_words(alternative.difference_to_first[name]).replace(", not resolved", " ?")


def _narrower(alternative: Alternative, name: str) -> str:
    if name not in alternative.narrowing:
        return "-"
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
        if cost is None:
            continue
        apart = each.cost_difference_to_first
        difference = "-" if apart is None else amount_words(apart)
        if apart is not None and not apart.resolved:
            difference += " ?"
        expected = "not known" if each.expected_cost is None else amount_words(each.expected_cost)
        tool = f"{cost.tool_per_joint:.3g}" if cost.tool_price else "-"
        rows.append((each.name, f"{cost.per_joint:g}", tool, expected, difference))
    cost = result.case.cost
    if not rows or cost is None:
        return
    header = (
        f"cost a fastener [{cost.currency}]" if cost.currency else "cost a fastener",
        "to make",
        "tool",
        "with misses (95 %)",
        "difference to first (95 %)",
    )
    misses = [
        f"{price:g} for each {of}"
        for price, of in (
            (cost.per_under, "with too little preload"),
            (cost.per_over, "with too much preload"),
            (cost.per_loosening, "that loosens by transverse slip"),
        )
        if price
    ]
    words = f"With misses: to make, with the tool's share, plus {and_words(misses or ['nothing'])}"
    words += ", unless an alternative says otherwise."
    if any(each.case.cost and each.expected_cost is None for each in result.alternatives):
        words += (
            " Not known: the draws do not tell how often a miss that costs something happens, or "
            "the rule of the securing element lacks values."
        )
    yield Section("Costs", (Table(header, tuple(rows)), Paragraph(words)))


def _dominated_section(result: CompareResult) -> Section:
    found = [
        f"{quoted(each.name)} is dominated by "
        + and_words([quoted(name) for name in each.dominated_by])
        for each in result.alternatives
        if each.dominated_by
    ]
    words = "; ".join(found) if found else "No alternative is dominated"
    if any(each.case.cost is None for each in result.alternatives):
        words = "Without costs none is dominated: the case states none for every alternative"
    return Section("Which can be dropped", (Paragraph(f"{words}. {DOMINATED}"),))


def _added_assumptions(result: CompareResult, system: str) -> Iterator[Section]:
    """Yield the assumptions that an alternative adds to those of the case."""
    known = set(result.case.assumptions)
    for each in result.alternatives[1:]:
        added = [item for item in each.case.assumptions if item not in known]
        if added:
            yield assumption_section(added, system, f"{quoted(each.name)} assumes besides:")


def _method_blocks(result: CompareResult) -> Iterator[Block]:
    yield Paragraph(
        f"Method: common draws on the union of all uncertain inputs ({len(result.columns)}); "
        f"{result.samples:,} plain samples of each alternative, and where they leave a probability "
        "open, common draws of one importance-sampling mixture around the design points of all "
        "alternatives, each probability held against a second estimate; "
        f"{result.model_calls:,} model calls, seed {result.seed}, requested precision "
        f"{100 * result.precision:g} %. Plain differences: score interval for paired proportions "
        f"(Tango 1998); weighted ones: independent batches. {INTERVALS}"
    )
    notes = tuple(
        f"{quoted(each.name)}, {judged.label}: NOT RELIABLE ({judged.probability.note})."
        for each in result.alternatives
        for judged in (*each.judged.outcomes, *each.judged.limits)
        if not judged.probability.reliable
    )
    if notes:
        yield Points(notes)
