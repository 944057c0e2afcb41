"""The text report of aiming."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from preloadmc.estimates.probability import Probability
from preloadmc.inputs import input_label
from preloadmc.judgement.verdicts import Judged
from preloadmc.judgement.wording import (
    common_unit,
    estimate_words,
    probability_words,
    spread_words,
)
from preloadmc.questions.aim import (
    FOLLOWED,
    FOUND,
    TOO_LITTLE,
    AimResult,
    AllowedScatter,
    SettingPoint,
    rounding_words,
    setting_words,
)
from preloadmc.report.text.blocks import Block, Paragraph, Report, Section, Table, render_text
from preloadmc.report.text.case import assumption_section, caution_section, input_section
from preloadmc.report.text.cautions import INTERVALS
from preloadmc.report.text.judgement import EXPLAINED, tables_of, unknown_blocks
from preloadmc.report.text.likeliest import likeliest_words
from preloadmc.units import format_number, to_unit


def aim_text(result: AimResult, seconds: float | None = None) -> str:
    """Return the report of aiming as text: the answer first, then the tables.

    ``seconds`` is how long it took, where that is to be shown.
    """
    return render_text(aim_report(result, seconds))


def aim_report(result: AimResult, seconds: float | None = None) -> Report:
    """Return the report of aiming as blocks."""
    case = result.case
    return Report(
        case.title,
        (
            Section("Settings", _settings(result)),
            *_judged_sections(result),
            Section("The setting checked anew", _verification(result)),
            Section("Scatter that the window tolerates", _scatter(result)),
            input_section(case, result.system),
            assumption_section(case.assumptions, result.system),
            Section("Method and accuracy", (_method(result, seconds),)),
            caution_section(),
        ),
        answer=result.answer,
        warnings=result.warnings,
    )


def _settings(result: AimResult) -> tuple[Block, ...]:
    setting = result.setting
    unit = setting.dimension.unit(result.system)
    columns = setting_columns(result.table, result.other_limits)
    notes = {result.present.setting: "now"}
    if result.aim.interval is not None:
        notes |= dict(zip(result.aim.interval, ("lowest", "highest"), strict=True))
    notes[result.looked_at.setting] = "to set" if result.to_set else "least missed"
    rows = tuple(
        (
            f"{format_number(to_unit(point.setting, unit, setting.dimension))} "
            f"{notes.get(point.setting, '')}".strip(),
            *cells,
        )
        for point, *cells in zip(result.table, *columns.values(), strict=True)
    )
    header = (f"{setting.label}{f' [{unit}]' if unit else ''}", *columns)
    words = f"Weighed: {result.weighting.words}. {rounding_words(result)}".strip()
    if result.aim.best != result.aim.best_regardless_of_allowed:
        words += (
            " Without regard to what is allowed the best would be "
            f"{setting_words(setting, result.aim.best_regardless_of_allowed, result.system)}."
        )
    if result.rises_by_breaking:
        words += (
            " Where too little preload grows likelier with the setting, fasteners break during "
            "tightening and hold none."
        )
    return Table(header, rows), Paragraph(words)


def setting_columns(
    points: Sequence[SettingPoint], others: Sequence[Judged], *, brief: bool = False
) -> dict[str, list[str]]:
    """Return how likely each side and what else sets an end is missed at settings, by its header.

    ``brief`` leaves intervals out. A dash stands where a limit was not judged at a setting.
    """
    found: dict[str, list[Probability | None]] = {
        "too little": [point.under_preload for point in points],
        "too much": [point.over_preload for point in points],
    }
    for each in others:
        header = f"of joints, {each.label}" if each.is_of_joint else each.label
        found[header] = [point.others.get(each.name) for point in points]
    return {header: list(_cells(column, brief=brief)) for header, column in found.items()}


def _cells(column: Sequence[Probability | None], *, brief: bool) -> Iterator[str]:
    unit = common_unit([each for each in column if each is not None])
    for each in column:
        if each is None:
            yield "-"
            continue
        words = estimate_words(each) if brief else probability_words(each, unit)
        yield words + ("" if each.reliable else " ?")


def _judged_sections(result: AimResult) -> tuple[Section, ...]:
    """Return every limit at the setting to recommend, or looked at, and at both ends."""
    found = [
        ("the setting to recommend" if result.to_set else "the least missed", result.looked_at)
    ]
    if result.interval_limits is not None:
        found += zip(("the lowest", "the highest"), result.interval_limits, strict=True)
    sections = []
    for words, at in found:
        value = setting_words(result.setting, at.setting, result.system)
        sections.append(
            Section(
                f"Every limit at {value}, {words}",
                (Paragraph(f"Every limit at {value}, {words}:"), *tables_of(at.judged)),
            )
        )
    explained = (EXPLAINED, *unknown_blocks(result.looked_at.judged))
    last = sections[-1]
    return (*sections[:-1], replace(last, blocks=(*last.blocks, *explained)))


def _check_words(agrees: bool, anew: Probability) -> str:
    """Return whether the estimate anew confirms the curve; a bound cannot."""
    if not agrees:
        return "DISAGREES"
    return "within the bound" if anew.bound == "upper" else "agrees"


def _verification(result: AimResult) -> tuple[Block, ...]:
    """Return the independent estimates at the setting, and the likeliest ways to miss."""
    verification = result.verification
    value = setting_words(result.setting, result.looked_at.setting, result.system)
    rows = tuple(
        (
            words,
            probability_words(mine),
            probability_words(outcome.probability),
            _check_words(agrees, outcome.probability),
        )
        for words, outcome, mine, agrees in zip(
            ("too little", "too much"),
            verification.judged.sides,
            verification.by_search,
            verification.agrees,
            strict=True,
        )
    )
    calls = sum(outcome.probability.model_calls for outcome in verification.judged.sides)
    words = f"Anew: seed {verification.seed}, {calls:,} model calls"
    for outcome in verification.judged.sides:
        words += f"; {outcome.label} by {outcome.probability.method} sampling"
        if outcome.probability.note:
            words += f" ({outcome.probability.note})"
        if not outcome.probability.reliable:
            words += ", NOT RELIABLE"
    blocks: list[Block] = [
        Table((f"checked at {value}", "from the curve", "anew", ""), rows),
        Paragraph(words + "."),
    ]
    for miss in filter(None, verification.likeliest):
        blocks.append(Paragraph(likeliest_words(miss, result.system, "there"), hangs=True))
    return tuple(blocks)


def _scatter(result: AimResult) -> tuple[Block, ...]:
    if result.room is None:
        words = (
            "How much scatter the window tolerates is not told: it takes allowed_under and "
            "allowed_over of [requirement]."
        )
        return (Paragraph(words),)
    rows = tuple(row for each in result.room.sources for row in _scatter_rows(each, result.system))
    explained = (
        "Standard deviations; rows of a group are scaled together, all else unchanged, "
        "and the setting is the best one for them."
    )
    shown = " ".join(row[-1] for row in rows)
    if "at least" in shown:
        explained += " At least: as far as it was followed."
    if "law ends" in shown:
        explained += " Law ends: beyond, the law would reach impossible values."
    blocks = (
        Table(("scatter that meets what is allowed", "now", "at most", "times now"), rows),
        Paragraph(explained),
    )
    if not result.room.border:
        return blocks
    words = ", ".join(
        f"{_times(point.tool)} with {'' if point.just_met else 'at least '}{_times(point.friction)}"
        for point in result.room.border
    )
    border = (
        "Tool scatter with the friction scatter that just meets it, both in multiples of today's: "
        f"{words}."
    )
    return (*blocks, Paragraph(border))


def _scatter_rows(allowed: AllowedScatter, system: str) -> list[tuple[str, str, str, str]]:
    if allowed.verdict == TOO_LITTLE:
        return [(f"{allowed.scatter}: not even without it", "", "", "0")]
    times = _times(allowed.factor)
    if allowed.verdict == FOUND:
        times += f" ({_times(allowed.low)} to {_times(allowed.high)})"
    else:
        times = f"at least {times}" + ("" if allowed.verdict == FOLLOWED else ", law ends")
    return [
        (allowed.scatter, "", "", times),
        *(
            (
                f"  {input_label(each.name)}",
                spread_words(each.name, each.mean, each.sd_now, system),
                spread_words(each.name, each.mean, each.sd_at_most, system),
                "",
            )
            for each in allowed.inputs
        ),
    ]


def _times(factor: float) -> str:
    return format_number(factor if factor > 1e-6 else 0.0, 3)


def _method(result: AimResult, seconds: float | None) -> Paragraph:
    setting = result.setting
    own = "in proportion to it" if setting.in_proportion else "unchanged in width"
    words = (
        f"Method: only the {setting.label} is varied, its own scatter {own}. Each of "
        f"{result.draws:,} sampled fasteners has a setting below which it ends too loose, one "
        "above which too tight, and one above which it breaks and holds nothing; the shares beyond "
        "give both curves on common samples. "
    )
    words += (
        "Plain samples, exact binomial intervals."
        if result.best.under_preload.method == "plain"
        else "Importance sampling around the likeliest misses at settings from common to rare "
        "misses; intervals from 16 independent batches."
    )
    words += f" Seed {result.seed}, {result.model_calls:,} model calls"
    words += f", {seconds:.1f} s. " if seconds is not None else ". "
    return Paragraph(words + INTERVALS)
