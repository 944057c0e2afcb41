"""The screen of each question: the few lines of its report that decide."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from preloadmc.judgement.dominates import shared_out
from preloadmc.judgement.headline import headline
from preloadmc.judgement.verdicts import Judged, Judgement
from preloadmc.judgement.wording import quoted
from preloadmc.questions.aim import FOLLOWED, FOUND, TOO_LITTLE, AimResult, setting_words
from preloadmc.questions.bounds import bounds
from preloadmc.questions.check import check
from preloadmc.questions.compare import Alternative, CompareResult, amount_words
from preloadmc.questions.derive import Derivation, NominalMargin
from preloadmc.questions.fit import (
    ODD,
    ClaimPlan,
    FitResult,
    QuantityFit,
    case_lines,
    p_words,
    plan_answer,
    share,
    spread_of,
)
from preloadmc.questions.infer import InferResult, chance_words, infer_answer
from preloadmc.questions.rank import RankResult
from preloadmc.questions.run import RunResult
from preloadmc.report.text.aim import setting_columns
from preloadmc.report.text.fatigue import fatigue_line
from preloadmc.report.text.findings import candidate_place, candidate_words
from preloadmc.report.text.fit import fit_title
from preloadmc.report.text.infer import told_verdicts
from preloadmc.report.text.judgement import doubted_words, unit_of
from preloadmc.report.text.life import life_part
from preloadmc.report.text.screen import Part, Screen, line_part, table_part, together
from preloadmc.report.text.screen_parts import likeliest_part, limit_part, outcome_part
from preloadmc.report.text.signs import NO_BREAK
from preloadmc.report.text.tables import WIDTH, paragraph
from preloadmc.steps import Chapter
from preloadmc.told import and_words
from preloadmc.units import FORCE, format_number, format_quantity, to_unit

_SHOWN = (0.01, 0.5, 0.99)
# Suspects and measurements that a screen shows.
_MOST_SUSPECTS, _MOST_MEASURED = 6, 3
# Alternatives that a screen shows, before other tables are cut.
_MOST_ALTERNATIVES = 8
# Stages of a run and chapters of a derivation that a screen shows however long the rest is.
_LEAST_STAGES, _LEAST_CHAPTERS = 2, 4
# Letters of a formula that stands on a screen.
_SHORT = 22


def run_screen(result: RunResult, system: str) -> Screen:
    """Return the screen of a run: outcomes, preload by stage, what is missed or close."""
    return Screen(
        result.case.title,
        result.answer,
        result.warnings,
        (
            outcome_part(result.judgement),
            *life_part(result.life),
            _preload_part(result, system),
            *together(
                limit_part(result.judgement),
                likeliest_part(
                    (result.estimates[side.name].likeliest_miss for side in result.judgement.sides),
                    system,
                ),
            ),
            *_fatigue_parts(result),
        ),
        len(result.case.assumptions),
    )


def _fatigue_parts(result: RunResult) -> Iterator[Part]:
    """Yield fatigue with too little preload and with enough, where these differ."""
    found = result.fatigue_by_preload
    if found is not None and found.ratio is not None:
        yield line_part(fatigue_line(found))


def _preload_part(result: RunResult, system: str) -> Part:
    """Return the preload of each stage, but for one that repeats the stage before."""
    unit = FORCE.unit(system)
    rows: list[tuple[str, ...]] = []
    lowest: list[float] = []
    for stage in result.preload:
        numbers = tuple(format_number(to_unit(stage.quantile(p), unit, FORCE), 3) for p in _SHOWN)
        if not rows or rows[-1][1:] != numbers:
            rows.append((stage.name, *numbers))
            lowest.append(stage.quantile(_SHOWN[0]))
    one = "one: " if result.judgement.of_joint else ""
    part = table_part((f"{one}preload [{unit}]", "1 %", "median", "99 %"), rows)
    # As assembled and where least is left, before what lies between.
    ranks = sorted(range(len(rows)), key=lambda place: (place > 0, lowest[place]))
    return replace(part, least=min(_LEAST_STAGES, len(rows)), ranks=tuple(ranks))


def compare_screen(result: CompareResult, system: str) -> Screen:
    """Return the screen of a comparison: a row for each alternative, then what limits those."""
    found = result.alternatives
    event = _compared_event(found)
    events = [each.judged.find(event.name) or each.judged.outside for each in found]
    unit = unit_of(events)
    costed = any(each.expected_cost is not None for each in found)
    cost = result.case.cost
    of_joints = "of joints, " if event in found[0].judged.of_joint else ""
    header = ["alternative", f"{of_joints}{event.label} (95 %)", "verdict"]
    if costed:
        currency = f" [{cost.currency}]" if cost is not None and cost.currency else ""
        header.insert(2, f"cost{currency}")
    rows = []
    for each, judged in zip(found, events, strict=True):
        row = [each.name, doubted_words(judged, unit), each.verdict]
        if costed:
            amount = each.expected_cost
            row.insert(2, "-" if amount is None else amount_words(amount).partition(" (")[0])
        rows.append(row)
    shown = result.chosen or found[result.choice.nearest]
    dominated = [
        f"{quoted(each.name)} is dominated by {and_words([quoted(n) for n in each.dominated_by])}"
        for each in found
        if each.dominated_by
    ]
    return Screen(
        result.case.title,
        result.answer,
        result.warnings,
        (
            table_part(header, rows, least=_MOST_ALTERNATIVES),
            *((line_part(f"{'; '.join(dominated)}."),) if dominated else ()),
            *_joint_parts(shown.judged, f"with {quoted(shown.name)}"),
            *together(
                limit_part(shown.judged, f"with {quoted(shown.name)}"),
                likeliest_part(result.likeliest, system),
            ),
        ),
        len(result.case.assumptions),
    )


def _compared_event(found: Sequence[Alternative]) -> Judged:
    """Return what alternatives are held against each other by: of the joint, or the window."""
    first = found[0].judged
    worst = headline(first)
    return worst if worst in first.of_joint else first.outside


def aim_screen(result: AimResult) -> Screen:
    """Return the screen of aiming: settings of note, limits at the one to set, scatter."""
    setting, looked_at = result.setting, result.looked_at
    value = setting_words(setting, looked_at.setting, result.system)
    agrees = "agrees" if all(result.verification.agrees) else "DISAGREES"
    return Screen(
        result.case.title,
        result.answer,
        result.warnings,
        (
            *_joint_parts(looked_at.judged, f"at {value}"),
            *together(
                _settings_part(result),
                Part((), ((f"Checked anew at {value} with other random numbers: {agrees}.",),)),
            ),
            limit_part(looked_at.judged, f"at {value}"),
            *_scatter_parts(result),
            likeliest_part(result.verification.likeliest, result.system),
        ),
        len(result.case.assumptions),
    )


def _joint_parts(judged: Judgement, where: str) -> Iterator[Part]:
    """Yield the events of a joint of several fasteners; nothing for one of one."""
    if judged.of_joint:
        yield outcome_part(judged, where, sides=False)


def _settings_part(result: AimResult) -> Part:
    setting = result.setting
    notes = {result.present.setting: "now"}
    if result.aim.interval is not None:
        notes |= dict(zip(result.aim.interval, ("lowest", "highest"), strict=True))
    notes[result.looked_at.setting] = "to set" if result.to_set else "least missed"
    points = [point for point in result.table if point.setting in notes]
    unit_words = setting.dimension.unit(result.system)
    # There is room for one more limit, and not for intervals beside it: the report has them all.
    others = result.other_limits[:1]
    brief = bool(others)
    columns = setting_columns(points, others, brief=brief)
    rows = [
        (
            f"{format_number(to_unit(point.setting, unit_words, setting.dimension))} "
            f"{notes[point.setting]}",
            *cells,
        )
        for point, *cells in zip(points, *columns.values(), strict=True)
    ]
    label = f"{setting.label} [{unit_words}]" if unit_words else setting.label
    if result.looked_at.judged.of_joint:
        label = f"one: {label}"
    header = (label, *(name if brief else f"{name} (95 %)" for name in columns))
    return table_part(header, rows, least=4)


def _scatter_parts(result: AimResult) -> Iterator[Part]:
    if result.room is None:
        return
    rows = []
    for each in result.room.sources:
        if each.verdict == TOO_LITTLE:
            rows.append((each.scatter, "not even without it"))
            continue
        times = f"{format_number(each.factor, 3)} times today's"
        least = "" if each.verdict == FOUND else "at least "
        ends = "" if each.verdict in (FOUND, FOLLOWED) else ", where its law ends"
        rows.append((each.scatter, f"{least}{times}{ends}"))
    yield table_part(("scatter that still meets all limits", "at most"), rows, least=1)


def infer_screen(result: InferResult, system: str) -> Screen:
    """Return the screen of an investigation: suspects, those not named, what to measure next."""
    suspects = []
    for verdict in told_verdicts(result):
        explains = (
            "-" if verdict.fit_check is None else "yes" if verdict.explains_the_evidence else "NO"
        )
        after = chance_words(verdict.probability, verdict.error)
        suspects.append((verdict.suspect.name, chance_words(verdict.prior), after, explains))
    unnamed = [
        (each.suspect.name, f"{100 * each.fit_check.chance_of_such_findings:.2g} %")
        for each in result.other_cause.unnamed_suspects
        if each.fits_as_well
    ]
    measured = [
        (
            each.kind,
            candidate_place(each),
            candidate_words(each, system),
            f"{100 * each.share_of_what_is_open:.0f} %",
        )
        for each in result.next_measurements[:_MOST_MEASURED]
    ]
    header = ("suspect", "before", "after the findings", "explains them")
    parts = [table_part(header, suspects, least=_MOST_SUSPECTS)]
    if unnamed:
        parts.append(
            table_part(("not named, fits as well", "inspections as odd or odder"), unnamed)
        )
    if measured:
        header = ("to measure next", "on", "accuracy", "of what is open")
        parts.append(table_part(header, measured, words=2))
    return Screen(
        result.case.title,
        infer_answer(result),
        result.warnings,
        tuple(parts),
        len(result.assumptions),
    )


def rank_screen(result: RankResult) -> Screen:
    """Return the screen of a ranking: each input's shares side by side."""
    rankings = shared_out(result.shapley, result.misses)
    rows = []
    for place in rankings[0].order:
        shares = (f"{100 * max(float(each.share[place]), 0.0):.1f}" for each in rankings)
        rows.append((rankings[0].names[place], *shares))
    header = ("share of [%]", *(each.words for each in rankings))
    return Screen(
        result.case.title,
        result.answer,
        result.warnings,
        (table_part(header, rows, least=4),),
        len(result.case.assumptions),
    )


def derive_screen(derivation: Derivation, system: str) -> Screen:
    """Return the screen of a derivation: the chain of its results, then all margins."""
    chain = [
        tuple(
            paragraph(
                f"{chapter.title}: " + ", ".join(_chain(chapter, system)) + ".",
                "  ",
            )
        )
        for chapter in derivation.chapters
    ]
    least = _least_margins(derivation.margins)
    margins = [
        (
            margin.limit.name,
            margin.limit.state,
            format_quantity(margin.reference, margin.dimension, system),
            format_quantity(margin.value, margin.dimension, system),
            "-" if margin.share is None else f"{format_number(100 * margin.share, 3)} %",
        )
        for margin in least
    ]
    states = ", in its worst state" if len(least) < len(derivation.margins) else ""
    header = (f"limit{states}", "state", "bound", "margin", "share")
    parts = [
        # What is nearest to the margins stays longest.
        Part((), tuple(chain), min(_LEAST_CHAPTERS, len(chain)), tuple(range(len(chain)))[::-1]),
        table_part(header, margins, words=2, least=4),
    ]
    found = bounds(derivation)
    if found.approaches:
        parts.append(line_part("A deterministic check is stated too: --full."))
    return Screen(
        derivation.case.title,
        (),
        check(derivation.case).warnings,
        tuple(parts),
        len(derivation.case.assumptions),
        has_folder=False,
    )


def _least_margins(margins: Sequence[NominalMargin]) -> list[NominalMargin]:
    """Return of each limit the state that leaves least."""
    found: dict[str, NominalMargin] = {}
    for margin in margins:
        known = found.get(margin.limit.name)
        if known is None or margin.value < known.value:
            found[margin.limit.name] = margin
    return list(found.values())


def _chain(chapter: Chapter, system: str) -> Iterator[str]:
    """Yield each result of a chapter, with its formula where that is short.

    What has the symbol of others is a term of a sum, which stands for all.
    """
    symbols = [step.symbol for step in chapter.steps]
    told = [step for step in chapter.steps if symbols.count(step.symbol) == 1]
    found: dict[str, None] = {}
    for step in told or chapter.steps:
        formula = f"{step.in_symbols} = " if 0 < len(step.in_symbols) <= _SHORT else ""
        # In one piece, so that no line ends between a symbol and its value.
        found[f"{step.symbol} = {formula}{step.result(system)}".replace(" ", NO_BREAK)] = None
    yield from found


def fit_screen(result: FitResult) -> Screen:
    """Return the screen of a fit: a row for each quantity, what is odd, lines for a case."""
    limits = result.quantities[0].limits
    header = (
        "quantity",
        "tests",
        "law",
        "mean",
        "scatter",
        f"{share(limits.content)} above",
        "and below",
    )
    rows = [
        (
            fit.measured.name,
            str(fit.measured.n),
            fit.chosen.law,
            fit.measured.words(fit.chosen.fit.law.mean),
            spread_of(fit.measured, fit.chosen.fit.law.mean, fit.chosen.fit.law.sd),
            fit.measured.words(fit.limits.lower),
            fit.measured.words(fit.limits.upper),
        )
        for fit in result.quantities
    ]
    confidence = f"Limits with {share(limits.confidence)} confidence, if the law holds."
    parts = [table_part(header, rows, least=2), line_part(confidence)]
    odd = [tuple(paragraph(words, "  ")) for fit in result.quantities for words in _odd_words(fit)]
    parts.append(Part((), tuple(odd), 1))
    if len(result.quantities) == 1:
        lines = case_lines(result, result.quantities[0]).splitlines()[:1]
        if all(len(line) <= WIDTH for line in lines):
            parts.append(Part(("For a case file:", *lines), (), 0))
    return Screen(fit_title(result), result.answer, result.warnings, tuple(parts), None)


def _odd_words(fit: QuantityFit) -> Iterator[str]:
    name = fit.measured.name
    if fit.lots is not None and fit.lots.p_value < ODD:
        yield f"Odd: lots differ in {name} ({p_words(fit.lots.p_value)})."
    for group in fit.groups:
        if group.difference is not None and group.difference.p_value < ODD:
            yield f"Odd: {name} differs by {group.column} ({p_words(group.difference.p_value)})."
    if fit.drift is not None and fit.drift.p_value < ODD:
        yield f"Odd: {name} drifts from test to test ({p_words(fit.drift.p_value)})."
    if fit.farthest is not None and fit.farthest.p_value < ODD:
        line = fit.measured.lines[fit.farthest.index]
        yield f"Odd: {name} in line {line} lies far out ({p_words(fit.farthest.p_value)})."


def plan_screen(plan: ClaimPlan) -> Screen:
    """Return the screen of a claim without tests: how many take how many misses."""
    rows = [(f"{misses}", f"{tests:,}") for misses, tests in plan.by_count.items()]
    table = table_part(("misses among the tests", "tests needed"), rows)
    return Screen("", plan_answer(plan), (), (table,), has_folder=False)
