"""What can be signed: a decision with all that it rests on, as blocks for one or two pages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from preloadmc import __version__
from preloadmc.case import Case, Cost
from preloadmc.inputs import input_kind, input_label
from preloadmc.joint import ClampedPart
from preloadmc.judgement.edges import Edge
from preloadmc.judgement.estimate import LikeliestMiss
from preloadmc.judgement.verdicts import MEETS, Judgement, unknown_words
from preloadmc.judgement.wording import quoted
from preloadmc.limits import OVER
from preloadmc.questions.aim import AimResult, sheet_lines
from preloadmc.questions.bounds import Bounds
from preloadmc.questions.compare import (
    Alternative,
    CompareResult,
    amount_words,
    decision_words,
)
from preloadmc.questions.run import RunResult
from preloadmc.report.text.acceptance import acceptance_words
from preloadmc.report.text.blocks import (
    Block,
    Paragraph,
    Points,
    Report,
    Section,
    Signatures,
    Table,
)
from preloadmc.report.text.bounds import bounds_sections
from preloadmc.report.text.case import allowed_words, assumed_words, caution_section, story
from preloadmc.report.text.cautions import INTERVALS
from preloadmc.report.text.changes import change_lines
from preloadmc.report.text.joint import group_rows, meanings
from preloadmc.report.text.judgement import (
    EXPLAINED,
    doubted_words,
    joint_table,
    limit_table,
    side_table,
)
from preloadmc.report.text.knowledge import knowledge_sections
from preloadmc.report.text.laws import law_words
from preloadmc.report.text.likeliest import likeliest_words
from preloadmc.units import FORCE, LENGTH, STRESS, format_quantity

_ROLES = ("Prepared by", "Checked by", "Approved by")


def run_justification(result: RunResult, system: str) -> Report:
    """Return the justification of a joint as it is set; none where a limit is not met."""
    case, judged = result.case, result.judgement
    if judged.verdict == MEETS:
        decision = f"use the joint as it is set, {_set_words(case, system)}: {_meets(judged)}"
    else:
        decision = result.answer[2].partition(": ")[2]
    return _report(
        case,
        judged.verdict == MEETS,
        (decision, result.answer[0], result.answer[1]),
        (
            *_judged_sections(case, judged, system),
            *knowledge_sections(case, judged, result.tests_worth_doing),
        ),
        judged,
        result.window,
        (
            result.estimates["under_preload"].likeliest_miss,
            result.estimates["over_preload"].likeliest_miss,
        ),
        result.deterministic.found,
        f"{result.samples.n:,} plain samples and, where these leave a probability open, estimators "
        "of small probabilities",
        result.seed,
        result.warnings,
        system,
    )


def aim_justification(result: AimResult) -> Report:
    """Return the justification of a setting; none where no setting meets every limit."""
    case, system = result.used, result.system
    recommended = result.to_set is not None and all(result.verification.agrees)
    sections = [*_judged_sections(case, result.looked_at.judged, system)]
    anew = result.verification
    sections.append(
        Section(
            "Judged anew",
            (
                Paragraph(f"From other random numbers, seed {anew.seed}:"),
                *((joint_table(anew.judged),) if anew.judged.of_joint else ()),
                side_table(anew.judged),
            ),
            narrow=True,
        )
    )
    return _report(
        case,
        recommended,
        sheet_lines(result),
        sections,
        result.looked_at.judged,
        result.window,
        anew.likeliest,
        result.bounds,
        f"{result.draws:,} weighted samples, each with the settings that suit it, and the setting "
        "judged anew",
        result.seed,
        result.warnings,
        system,
    )


def compare_justification(result: CompareResult, system: str) -> Report:
    """Return the justification of a choice; none where none is to be chosen."""
    chosen = result.chosen
    shown = result.alternatives[result.choice.nearest] if chosen is None else chosen
    sections = [
        Section("The alternatives", tuple(_alternatives(result, system))),
        *_judged_sections(shown.case, shown.judged, system, f' of "{shown.name}"'),
    ]
    if shown is not result.first:
        changes = "; ".join(change_lines(result.first.case, shown.case, system))
        words = f'Against "{result.first.name}", "{shown.name}" changes: {changes}.'
        sections.append(Section("What changes", (Paragraph(words),)))
    return _report(
        shown.case,
        chosen is not None,
        (decision_words(result.alternatives, result.choice), *result.answer[:2]),
        sections,
        shown.judged,
        shown.window,
        result.likeliest,
        result.bounds,
        f"{result.samples:,} plain samples of each alternative on common draws and, where these "
        "leave a probability open, common weighted draws",
        result.seed,
        result.warnings,
        system,
    )


def _report(
    case: Case,
    is_decided: bool,
    words: Sequence[str],
    results: Sequence[Section],
    judged: Judgement,
    window: Sequence[Edge],
    likeliest: Sequence[LikeliestMiss | None],
    bounds: Bounds,
    sampled: str,
    seed: int,
    warnings: tuple[str, ...],
    system: str,
) -> Report:
    decision, *rest = words
    (bounded,) = bounds_sections(bounds, system, explained=False)
    head = "Decision" if is_decided else "No decision"
    if not is_decided:
        decision = f"nothing is justified by this page. {decision[0].upper()}{decision[1:]}"
    return Report(
        f"{'Justification' if is_decided else 'Not justified'}: {case.title}",
        (
            *results,
            Section("The likeliest way to miss", tuple(_likeliest(likeliest, system)), narrow=True),
            Section("The joint", tuple(_joint(case, system)), narrow=True),
            Section("The preload window", tuple(_window(case, window, system)), narrow=True),
            bounded,
            *_laws(case, system),
            Section("Assumed, with source", tuple(_assumed(case, system))),
            caution_section(),
            Section(
                "Basis and signatures" if is_decided else "Basis",
                (*_basis(case, sampled, seed), *((Signatures(_ROLES),) if is_decided else ())),
            ),
        ),
        answer=(f"{head}: {decision}", *rest),
        opening=story(case, system),
        warnings=warnings,
    )


def _set_words(case: Case, system: str) -> str:
    names = [control.input for control in case.joint.method.controls if control.is_set]
    return " and ".join(
        f"{input_label(name)} "
        + format_quantity(case.laws[name].mean, input_kind(name).dimension, system)
        for name in names
    )


def _meets(judged: Judgement) -> str:
    unknown = unknown_words(judged)
    return f"every limit judged is within what is allowed{f' ({unknown})' if unknown else ''}."


def _judged_sections(case: Case, judged: Judgement, system: str, of: str = "") -> Iterator[Section]:
    """Yield what is judged: of the joint as a whole where it has several fasteners, then of one."""
    checked = judged.screening
    one = ""
    if case.group is not None:
        one = f" of one fastener ({case.group.place})"
        blocks = (
            Paragraph(f"Verdict with every limit of one fastener: {judged.verdict}."),
            joint_table(judged),
            Paragraph(meanings(case)),
        )
        yield Section(f"The whole joint{of}", blocks)
    yield Section(
        f"Every limit{one}{of}",
        (
            side_table(judged),
            limit_table(judged),
            EXPLAINED,
            *(() if checked is None else (Paragraph(acceptance_words(checked, system)),)),
        ),
    )


def _alternatives(result: CompareResult, system: str) -> Iterator[Block]:
    costed = any(each.expected_cost is not None for each in result.alternatives)
    header = ["alternative", "set to", "too little", "too much", "verdict"]
    rows = [list(_alternative(each, system)) for each in result.alternatives]
    if costed:
        header.append("cost a fastener, with misses")
        for row, each in zip(rows, result.alternatives, strict=True):
            row.append("-" if each.expected_cost is None else amount_words(each.expected_cost))
    yield Table(tuple(header), tuple(map(tuple, rows)))
    if costed:
        yield Paragraph("; ".join(_cost_words(result.first.case.cost)) + ".")
    tools = [
        f"{quoted(each.name)}: {tool}"
        for each in result.alternatives
        if each.case.cost is not None and (tool := _tool_words(each.case.cost))
    ]
    if tools:
        yield Paragraph(f"Price of the tools. {'; '.join(tools)}.")


def _cost_words(cost: Cost | None) -> Iterator[str]:
    """Yield what each miss costs, in the words of the first alternative."""
    if cost is None:
        return
    currency = f" {cost.currency}" if cost.currency else ""
    yield (
        "Costs, unless an alternative changes them: too little preload "
        f"{cost.per_under:g}{currency}"
    )
    yield f"too much preload {cost.per_over:g}{currency}"
    if cost.per_loosening:
        yield f"loosening by transverse slip {cost.per_loosening:g}{currency}"
    if cost.per_reject:
        yield f"a rejected tightening {cost.per_reject:g}{currency}"


def _tool_words(cost: Cost) -> str:
    """Return the price of a tool and what it is spread over; empty where none is stated."""
    if not cost.tool_price:
        return ""
    words = f"{cost.tool_price:g} {cost.currency}".rstrip()
    if cost.quantity is not None:
        words += f" for {cost.quantity:g} fasteners"
    if cost.tool_life is not None:
        words += f", a tool lasts {cost.tool_life:g}"
    return f"{words} ({cost.tool_per_joint:.3g} a fastener)"


def _alternative(each: Alternative, system: str) -> Iterator[str]:
    yield each.name
    setting = each.setting
    yield format_quantity(setting.value, input_kind(setting.input).dimension, system)
    yield doubted_words(each.judged.under)
    yield doubted_words(each.judged.over)
    yield each.verdict


def _likeliest(found: Sequence[LikeliestMiss | None], system: str) -> Iterator[Block]:
    for miss in filter(None, found):
        yield Paragraph(likeliest_words(miss, system), hangs=True)


def _joint(case: Case, system: str) -> Iterator[Block]:
    """Yield the facts of the joint that no law holds."""
    joint = case.joint
    rows = [
        ("fastener", f"{joint.thread.designation}, {joint.grade or 'strengths as stated'}"),
        ("pitch", format_quantity(joint.thread.pitch, LENGTH, system)),
        ("fastener material", joint.fastener_material.name),
        ("tightening", f"{joint.method.name}: {_set_words(case, system)}"),
    ]
    rows += [
        (
            f"clamped part {place}",
            _part_words(part, system),
        )
        for place, part in enumerate(joint.parts, 1)
    ]
    for name, size in (
        ("face of the head", joint.geometry.head_face),
        ("engaged length", joint.geometry.engagement),
    ):
        if size is not None:
            rows.append((name, format_quantity(size, LENGTH, system)))
    rows.append(("states judged", ", ".join(joint.judged_states)))
    rows += group_rows(case)
    rows.append(("loads, forces and limits", "of one fastener"))
    if joint.securing is not None:
        source = f" [{joint.securing.source}]" if joint.securing.source else ""
        rows.append(("securing element", f"{joint.securing.element.name}{source}"))
    yield Table(("fact", "value"), tuple(rows), words=2)


def _part_words(part: ClampedPart, system: str) -> str:
    words = (
        f"{part.material.name}, {format_quantity(part.thickness, LENGTH, system)}, hole "
        f"{format_quantity(part.hole_diameter, LENGTH, system)}, modulus "
        f"{format_quantity(part.material.modulus, STRESS, system)}"
    )
    if part.limiting_pressure is not None:
        words += f", bears {format_quantity(part.limiting_pressure, STRESS, system)}"
    return words


def _band_words(edge: Edge, system: str) -> str:
    low, high = (format_quantity(end, FORCE, system, 3) for end in (edge.low, edge.high))
    return "-" if low == high else f"{low} to {high}"


def _window(case: Case, window: Sequence[Edge], system: str) -> Iterator[Block]:
    rows = tuple(
        (
            "at most" if edge.side == OVER else "at least",
            edge.state,
            edge.name,
            edge.value_words(system),
            _band_words(edge, system),
        )
        for edge in window
    )
    header = ("preload", "state", "by the limit", "force", "98 % of fasteners")
    yield Table(header, rows, words=3)
    yield Paragraph(allowed_words(case))


def _laws(case: Case, system: str) -> Iterator[Section]:
    """Yield the law of every input and where it is from, in two halves side by side."""
    assumed = {item.path for item in case.assumptions}
    rows = tuple(
        (f"{input_label(name)}{' *' if name in assumed else ''}", law_words(name, law, system))
        for name, law in case.laws.items()
    )
    half = (len(rows) + 1) // 2
    for title, part in (("Laws of the inputs", rows[:half]), ("Laws, continued", rows[half:])):
        yield Section(title, (Table(("input", "law"), part, words=2),), narrow=True)
    words = (
        "* assumed: listed below, with its source. The others are stated by the case file: "
        "where it names tests behind a law, their number is given beside it; behind the others it "
        "names none, unless a law is a table of values."
    )
    yield Section("Where the laws are from", (Paragraph(words),))


def _assumed(case: Case, system: str) -> Iterator[Block]:
    """Yield every assumed value with the number of its source, then each source once."""
    items, sources = assumed_words(case.assumptions, system)
    yield Points(items)
    yield Paragraph(f"Sources: {'; '.join(sources)}.")


def _basis(case: Case, sampled: str, seed: int) -> Iterator[Block]:
    yield Paragraph(
        f"Case {case.source}, SHA-256 {case.sha256}; preloadmc {__version__}, seed {seed}; "
        f"{sampled}. {INTERVALS}"
    )
