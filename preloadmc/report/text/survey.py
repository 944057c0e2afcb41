"""A survey as text: its screen, and its report with all but single rows of a long register."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import PurePath

from preloadmc.estimates.probability import GROUP_METHODS
from preloadmc.judgement.verdicts import MEETS, MISSES, NOT_JUDGED
from preloadmc.judgement.wording import quoted
from preloadmc.questions.survey import (
    SurveyResult,
    number_words,
    spread_words,
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
from preloadmc.report.text.case import caution_section
from preloadmc.report.text.cautions import INTERVALS
from preloadmc.report.text.screen import Part, Screen, line_part, table_part
from preloadmc.report.text.survey_rows import (
    VERDICTS,
    SurveyRows,
    problem_words,
    risk_words,
    survey_rows,
    verdict_words,
)
from preloadmc.report.text.survey_tables import (
    brief_joints,
    change_table,
    counted,
    expected_table,
    joint_table,
)
from preloadmc.report.text.tables import WIDTH, paragraph
from preloadmc.told import and_words

BY_WORDS = {"lot": "lot", "tool": "tool", "case": "template"}
# Joints in a table of the text; a page has ten times as many.
_IN_TEXT = 100
# Joints that a screen shows, at least so many joints and changes, and letters of a name.
_ON_SCREEN, _LEAST_JOINTS, _LEAST_CHANGES, _LONGEST = 10, 3, 2, 22
# Limits that were not judged: so many reasons are told.
_MOST_REASONS = 50
NOT_KNOWN = (
    "The expected number of joints is the sum of their probabilities. It says nothing of what the "
    "templates and the register do not state.",
    "Lots and tools make joints miss together only as far as the templates state what they share. "
    "What they share and the templates do not state makes the number of misses scatter more; it "
    "does not change the expected number.",
    "Joints judged together have one estimator, importance sampling, checked by its weights alone; "
    "what this leaves open was judged by itself. A run of one joint holds each probability against "
    "a second estimate and gives its full answer.",
)
"""What a survey does not know."""


def survey_screen(result: SurveyResult, system: str, rows: SurveyRows | None = None) -> Screen:
    """Return the screen of a survey: expected numbers, verdicts, worst joints, changes."""
    rows = survey_rows(result) if rows is None else rows
    parts: list[Part] = []
    if rows.first:
        table = expected_table(result)
        parts += [
            table_part(table.header, table.rows, least=len(table.rows)),
            replace(line_part(_spread_line(result)), joins=True),
        ]
    parts.append(line_part(_count_line(result)))
    if rows.left:
        parts.append(_left_part(result, rows))
    if rows.first:
        shown = [
            {**row, "joint": _shortened(row["joint"], _LONGEST)} for row in rows.first[:_ON_SCREEN]
        ]
        joints = brief_joints(shown, system, aimed=result.aimed)
        parts.append(table_part(joints.header, joints.rows, words=4, least=_LEAST_JOINTS))
    if result.changes:
        changes = change_table(result, brief=True)
        parts.append(table_part(changes.header, changes.rows, least=_LEAST_CHANGES))
    return Screen(_title(result), result.answer, result.warnings, tuple(parts))


def _left_part(result: SurveyResult, rows: SurveyRows) -> Part:
    """Return the first row that was not judged, with its first problem."""
    row = rows.left[0]
    problem = next(problem_words(row), row["status"])
    lines = paragraph(f"Not judged: {row['joint']} (row {row['line']}): {problem}", "  ")[:2]
    more = _left(result) - 1
    tail = (f"  and {more:,} more (--full)",) if more else ()
    return Part(tuple(_shortened(line, WIDTH) for line in lines), (), 0, tail=tail, joins=True)


def _shortened(words: str, most: int) -> str:
    return words if len(words) <= most else f"{words[: most - 4]} ..."


def _left(result: SurveyResult) -> int:
    return sum(result.counts.get(each, 0) for each in ("refused", "failed"))


def survey_text(
    result: SurveyResult, system: str = "metric", rows: SurveyRows | None = None
) -> str:
    """Return the report of a survey as text."""
    return render_text(survey_report(result, system, rows=rows, most=_IN_TEXT))


def survey_report(
    result: SurveyResult,
    system: str = "metric",
    *,
    rows: SurveyRows | None = None,
    most: int | None = None,
) -> Report:
    """Return the report of a survey: the answer first, then the tables.

    Parameters
    ----------
    result : SurveyResult
        A survey.
    system : {"metric", "inch"}
        Whose units are printed.
    rows : SurveyRows, optional
        What `survey_rows` gathered; done here unless given.
    most : int, optional
        Joints in the table; all that ``rows`` keeps unless given.
    """
    rows = survey_rows(result) if rows is None else rows
    sections = (
        Section("Expected misses", tuple(_expected_blocks(result))),
        Section("How the number of misses scatters", tuple(_spread_blocks(result))),
        Section("The joints by risk", tuple(_joint_blocks(result, rows, system, most))),
        Section(_worst_title(result), tuple(_worst_blocks(result, rows)), titled=True),
        Section("Changes of all joints", tuple(_change_blocks(result))),
        *_part_sections(result),
        Section("Rows that were not judged", tuple(_left_blocks(result, rows))),
        Section("Limits that were not judged", tuple(_unknown_blocks(rows))),
        Section("Method", tuple(_method_blocks(result, rows))),
        Section("What this survey does not know:", (Points(NOT_KNOWN),), titled=True),
        caution_section(),
    )
    return Report(
        _title(result),
        tuple(section for section in sections if section.blocks),
        answer=result.answer,
        opening=_opening(result),
        warnings=result.warnings,
    )


def _title(result: SurveyResult) -> str:
    return f"Survey of {PurePath(result.source).name}"


def _opening(result: SurveyResult) -> str:
    templates = [quoted(name) for name in result.templates]
    of = (
        f"{len(templates):,} templates"
        if len(templates) > 3
        else f"the template {templates[0]}"
        if len(templates) == 1
        else f"the templates {and_words(templates)}"
    )
    return f"{_count_line(result)} The register changes {of}."


def _count_line(result: SurveyResult) -> str:
    """Return how many rows there are by verdict, and how many were not judged."""
    counts = result.counts
    joints = counted(result.joints, "joint")
    told = [
        f"{counts[each]:,} {_of_verdict(each, counts[each])}"
        for each in VERDICTS
        if counts.get(each)
    ]
    told += [
        f"{counts[each]:,} {words}"
        for each, words in (("refused", "refused"), ("failed", "failed"))
        if counts.get(each)
    ]
    return f"Of {joints}: {'; '.join(told)}."


def _of_verdict(verdict: str, n: int) -> str:
    """Return what so many joints do."""
    one = n == 1
    return {
        MISSES: "misses a limit" if one else "miss a limit",
        MEETS: "meets all that is allowed" if one else "meet all that is allowed",
        NOT_JUDGED: "not judged, since nothing is allowed of it",
    }.get(verdict, verdict)


def _spread_line(result: SurveyResult) -> str:
    alone = spread_words(result.independent)
    if result.shared is None:
        return (
            f"The number outside is {alone} nine times of ten; no lot or tool is stated to share "
            "anything."
        )
    shared = spread_words(result.shared)
    return (
        f"The number outside is {shared} nine times of ten with what lots and tools share; "
        f"{alone} if they shared nothing."
    )


def _expected_blocks(result: SurveyResult) -> Iterator[Block]:
    if not result.counts.get("judged"):
        return
    yield expected_table(result)
    yield Paragraph("The intervals are sampling error.")


def _spread_blocks(result: SurveyResult) -> Iterator[Block]:
    if not result.counts.get("judged"):
        return
    header = ("how many will be outside", "mean", "s.d.", "5 %", "median", "95 %")
    spreads = [("each joint by itself", result.independent)]
    if result.shared is not None:
        spreads.append(("with what lots and tools share", result.shared))
    yield Table(
        header,
        tuple(
            (
                words,
                number_words(each.mean),
                number_words(each.sd),
                *(f"{number:,}" for number in (each.low, each.median, each.high)),
            )
            for words, each in spreads
        ),
    )
    of = [f"{n:,} by {by}" for by, n in result.sharing.items() if n]
    shares = (
        f"Joints that share something: {and_words(of)}."
        if of
        else "No lot or tool is stated to share anything."
    )
    yield Paragraph(f"{shares} This is chance: how many of these joints turn out to miss.")


def _joint_blocks(
    result: SurveyResult, rows: SurveyRows, system: str, most: int | None
) -> Iterator[Block]:
    judged = result.counts.get("judged", 0)
    shown = rows.first[:most]
    if not shown:
        return
    made = joint_table if most is None else brief_joints
    yield made(shown, system, aimed=result.aimed)
    words = (
        "Ranked by the probability of missing any limit. The chance is that of the limit named, or "
        "of any limit; its upper limit is that of the 95 % interval of sampling error. "
        "Dominated by: the input that makes most of the misses; none where nearly all miss."
    )
    if judged > len(shown):
        words += f" {judged - len(shown):,} more are in register.csv."
    else:
        words += " register.csv has all numbers of each."
    yield Paragraph(words)


def _worst_title(result: SurveyResult) -> str:
    n = len(result.worst)
    return (
        "The joint at highest risk"
        if n == 1
        else f"The {n} joints at highest risk, each run by itself"
    )


def _worst_blocks(result: SurveyResult, rows: SurveyRows) -> Iterator[Block]:
    by_key = {row["key"]: row for row in rows.first}
    for place, each in enumerate(result.worst, 1):
        row = by_key.get(each["key"])
        words = f"{place}. {each['joint']}"
        if row is not None:
            value, most = risk_words(row)
            likely = f"at most {most}" if value == "-" else f"{value}, at most {most}"
            words += f" (row {row['line']}): outside the window {likely}; {verdict_words(row)}."
        yield Paragraph(words, hangs=True)
        yield Points(tuple(each["answer"]))


def _change_blocks(result: SurveyResult) -> Iterator[Block]:
    if not result.changes:
        return
    yield change_table(result)
    judged = result.counts.get("judged", 0)
    of = (
        f"all {judged:,} joints"
        if result.tried_on == judged
        else f"{result.tried_on:,} of {judged:,} joints, drawn by how much each may matter"
    )
    yield Paragraph(
        f"Each change is made to all joints at once and tried on {of}. Rows: how many of those it "
        "acts on; any limit: expected misses; miss: joints that miss what is allowed. Advised: it "
        "lowers the expected misses beyond sampling error, not of a few joints alone, and no joint "
        "misses what it does not miss now."
    )


def _part_sections(result: SurveyResult) -> Iterator[Section]:
    for by, words in BY_WORDS.items():
        rows = tuple(
            (each.name, f"{each.joints:,}", number_words(each.expected))
            for each in result.parts
            if each.by == by
        )
        if rows:
            table = Table((words, "joints", "expected outside"), rows)
            yield Section(f"Expected misses by {words}", (table,), drawn=True)


def _left_blocks(result: SurveyResult, rows: SurveyRows) -> Iterator[Block]:
    left = _left(result)
    if not left:
        return
    refused, failed = (result.counts.get(each, 0) for each in ("refused", "failed"))
    yield Paragraph(
        f"{counted(refused, 'row')} refused for what the row says, {failed:,} failed in the "
        "computation. They count in no number of this report."
    )
    yield Points(
        tuple(
            f"{each['joint']} (row {each['line']}), {each['status']}: "
            + "; ".join(problem_words(each))
            for each in rows.left
        )
    )
    if left > len(rows.left):
        yield Paragraph(f"{left - len(rows.left):,} more; register.csv has all with their reasons.")


def _unknown_blocks(rows: SurveyRows) -> Iterator[Block]:
    yield from _reasons("Not judged, since the case does not say enough:", rows.unknown, "")
    lead = "Judged with a strength that is not known to hold there:"
    yield from _reasons(lead, rows.unsure, "judged with the strength ")


def _reasons(lead: str, found: Mapping[tuple[str, str], int], verb: str) -> Iterator[Block]:
    if not found:
        return
    yield Paragraph(lead)
    told = sorted(found.items(), key=lambda item: (-item[1], item[0]))
    items = [f"{name}, {counted(n, 'joint')}: {verb}{why}" for (name, why), n in told]
    more = len(items) - _MOST_REASONS
    yield Points((*items[:_MOST_REASONS], *([f"{more:,} other reasons"] if more > 0 else [])))


def _method_blocks(result: SurveyResult, rows: SurveyRows) -> Iterator[Block]:
    judged = result.counts.get("judged", 0)
    words = (
        f"{judged - result.alone:,} rows were judged together with others like them, by importance "
        "sampling around the design points of each; "
    )
    words += f"{result.alone:,} by themselves"
    by = [f"{n:,} by {GROUP_METHODS.get(name, name)}" for name, n in rows.methods.items()]
    words += f": {and_words(by)}." if by else "."
    if rows.doubted:
        words += (
            f" The estimates of {counted(rows.doubted, 'row')} are not reliable; what plain "
            "samples say is counted instead."
        )
    yield Paragraph(f"{words} Seed {result.seed}. {INTERVALS}")
