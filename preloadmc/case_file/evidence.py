"""The evidence of a case file: [[evidence]] tables, or the rows of a CSV file beside it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from itertools import chain

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.findings import JUDGEMENT, Findings, Row
from preloadmc.case_file.kinds import LONGEST_NOTE, Quantity, Table, Text, Word
from preloadmc.case_file.problems import nearest
from preloadmc.case_file.reading import Stated
from preloadmc.evidence import KINDS, SELECTIONS, Evidence
from preloadmc.inputs import Default
from preloadmc.units import FORCE, RATIO

# The chance of seeing a mark or paint wrongly.
_SEEING_ERROR = 0.05
# Each fastener that something was found on takes about 0.3 s to weigh.
MOST_FINDINGS = 1000
_TABLE = "evidence[]"
_CSV = "investigation.evidence"
FIELDS = (
    Field(_TABLE, Table(most=MOST_FINDINGS), "finding on a joint in service, one each"),
    Field(
        f"{_TABLE}.fastener",
        Text("a name or number of the fastener", or_number=True),
        "fastener that it was found on",
        '"3"',
    ),
    Field(f"{_TABLE}.kind", Word(KINDS), "what was looked at", '"residual preload"', needed=True),
    Field(
        f"{_TABLE}.value",
        Text("what was found", or_number=True),
        "what was found: a value, 'below' or 'above' one, or a word",
        '"20 kN"',
        needed=True,
    ),
    Field(
        f"{_TABLE}.sd",
        Text("the measuring error as one standard deviation", or_number=True),
        "measuring error of a reading as one standard deviation, or as a share of its value",
        '"5 %"',
    ),
    Field(
        f"{_TABLE}.error",
        Quantity(RATIO, above=0.0, high=0.5),
        "chance of seeing a mark or paint wrongly",
        '"5 %"',
        Default(_SEEING_ERROR, f"{100 * _SEEING_ERROR:g} %", JUDGEMENT),
    ),
    Field(
        f"{_TABLE}.state",
        Text("a temperature state of the case"),
        "temperature state that a temperature was found in, where there are several",
        '"hot"',
    ),
    Field(
        f"{_TABLE}.part",
        Word(("fastener", "clamped")),
        "part that a temperature was found on",
        '"fastener"',
        Default("fastener", "fastener"),
    ),
    Field(
        f"{_TABLE}.limit",
        Quantity(FORCE, above=0.0),
        "preload below which a counted joint is loose, in place of loose_below",
        '"20 kN"',
    ),
    Field(
        f"{_TABLE}.selection",
        Word(SELECTIONS),
        "why this fastener was looked at, in place of that of [investigation]",
        '"random"',
    ),
    Field(f"{_TABLE}.note", Text("a note", longest=LONGEST_NOTE), "note", '"marked in red"'),
)


def evidence_of(draft: Draft, states: tuple[str, ...]) -> Evidence:
    """Return all evidence of a case file.

    Parameters
    ----------
    draft : Draft
        What the file states; takes assumptions. Its folder is that of the case file.
    states : tuple of str
        Names of the temperature states of the case.
    """
    stated = draft.stated
    found = Findings(draft, states, stated.known("investigation.selection", str))
    name = stated.get(_CSV, str) or ""
    text = _csv_text(draft)
    for place, row in enumerate(
        chain(
            (Row(stated, path) for path in stated.each("evidence")), _csv_rows(stated, name, text)
        )
    ):
        if place == MOST_FINDINGS:
            stated.problem(_CSV, f"at most {MOST_FINDINGS:,} findings, with those of [[evidence]]")
            break
        found.read(row)
    loose = frozenset(f for f, how in found.selections.items() if how == "because loose")
    return Evidence(
        tuple(found.findings),
        tuple(found.counts),
        loose,
        stated.get("investigation.loose_below", float),
        found.service_time,
        table_name=name,
        table_text=text,
    )


def _csv_text(draft: Draft) -> str:
    """Return the content of the CSV file; empty where there is none, or a problem is noted."""
    text = draft.table(_CSV)
    if text is not None and not text.strip():
        columns = ", ".join(_columns(draft.stated))
        draft.stated.problem(_CSV, f"a CSV file with a header of {columns}")
    return text or ""


def _columns(stated: Stated) -> tuple[str, ...]:
    return tuple(stated.fields.tables[_TABLE])


def _csv_rows(stated: Stated, name: str, text: str) -> Iterator[Row]:
    """Yield the rows of the CSV file, which have the keys of [[evidence]] as their columns."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        header = [cell.strip() for cell in next(reader, [])]
        if not header or not _header_is_known(stated, name, header):
            return
        for row in reader:
            path = f"{name}, line {reader.line_num}"
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            if len(cells) != len(header):
                wanted = f"{len(header)} cells, as in the header"
                stated.problems.add(path, f"{len(cells)} cells", wanted)
                continue
            given = {key: cell for key, cell in zip(header, cells, strict=True) if cell}
            finding = Row(stated, path, ", ")
            stated.read_table(given, path, stated.fields.tables[_TABLE], finding.between)
            yield finding
    except csv.Error as error:
        stated.problems.add(f"{name}, line {reader.line_num}", None, f"CSV: {error}")


def _header_is_known(stated: Stated, name: str, header: list[str]) -> bool:
    """Note unknown, doubled and missing columns; return whether the rows can be read."""
    path, columns = f"{name}, line 1", _columns(stated)
    wrong = False
    seen: set[str] = set()
    for column in header:
        if column in columns and column not in seen:
            seen.add(column)
            continue
        words = f"a column of {', '.join(columns)}{nearest(column, columns)}"
        stated.problems.add(path, column, "each column once" if column in seen else words)
        wrong = True
    for column in ("kind", "value"):
        if column not in seen:
            stated.problems.add(path, None, f"missing; a column '{column}'")
            wrong = True
    return not wrong
