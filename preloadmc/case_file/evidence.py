"""The evidence of a case file: [[evidence]] tables, or the rows of a CSV file beside it."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from typing import Any

from preloadmc.case_file.contradictions import check_contradictions
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.evidence_table import table_rows
from preloadmc.case_file.field import Field
from preloadmc.case_file.findings import INSTRUMENTS, JUDGEMENT, Findings, Row
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.word_kinds import LONGEST_NOTE, Text, Word
from preloadmc.evidence import COUNT, KINDS, SELECTIONS, WHOLE_LOT, Evidence
from preloadmc.inputs import Default
from preloadmc.units import FORCE, RATIO, TIME, time_words

# The chance of seeing a mark or paint wrongly.
_SEEING_ERROR = 0.05
# Each fastener that something was found on takes about 0.3 s to weigh.
MOST_FINDINGS = 1000
_TABLE = "evidence[]"
_CSV = "investigation.evidence"
_LOT = "investigation.lot"
_AFTER = "investigation.after"
# Torques of a check whose name does not say which way the fastener is turned.
_NO_DIRECTION = ("breakaway torque", "check torque", "retightening torque")


class _FindingKind(Word):
    """A kind of finding; of a torque whose direction is open, the direction is asked for."""

    def read(self, given: Any, path: str, problems: Problems) -> str | None:
        """Return the kind."""
        if str(given).strip().casefold() in _NO_DIRECTION:
            problems.add(
                path,
                given,
                "which direction? 'tightening torque' (to turn it on) or 'loosening torque' (to "
                "turn it back)",
            )
            return None
        return super().read(given, path, problems)


FIELDS = (
    Field(_TABLE, Table(most=MOST_FINDINGS), "finding on a joint in service, one each"),
    Field(
        f"{_TABLE}.fastener",
        Text("a name or number of the fastener", or_number=True),
        "fastener that it was found on",
        '"3"',
    ),
    Field(
        f"{_TABLE}.kind",
        _FindingKind(KINDS),
        "what was looked at",
        '"residual preload"',
        needed=True,
    ),
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
        f"{_TABLE}.instrument",
        Text("the name of an instrument", or_number=True),
        "instrument that it was read with, described under [[investigation.instrument]]",
        '"gauge A"',
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
        f"{_TABLE}.after",
        Quantity(TIME, above=0.0),
        "time since tightening at which it was found, in place of that of [investigation]",
        '"3 days"',
    ),
    Field(
        f"{_TABLE}.selection",
        Word(SELECTIONS),
        "why this fastener was looked at, in place of that of [investigation]",
        '"random"',
    ),
    Field(f"{_TABLE}.note", Text("a note", longest=LONGEST_NOTE), "note", '"marked in red"'),
)


def evidence_of(draft: Draft, states: tuple[str, ...], preload: float) -> Evidence:
    """Return all evidence of a case file.

    Parameters
    ----------
    draft : Draft
        What the file states; takes assumptions and warnings. Its folder is that of the case file.
    states : tuple of str
        Names of the temperature states of the case.
    preload : float
        Preload of the joint as designed after tightening [N], NaN where it is not known.
    """
    stated = draft.stated
    selection = stated.known("investigation.selection", str)
    found = Findings(draft, states, selection, preload, stated.get(_AFTER, float))
    name = stated.get(_CSV, str) or ""
    text = _csv_text(draft)
    for place, row in enumerate(
        chain(
            (Row(stated, path) for path in stated.each("evidence")),
            table_rows(stated, name, text, stated.fields.tables[_TABLE]),
        )
    ):
        if place == MOST_FINDINGS:
            stated.problem(_CSV, f"at most {MOST_FINDINGS:,} findings, with those of [[evidence]]")
            break
        found.read(row)
    check_contradictions(found.findings, found.counts, instruments_of(stated), stated.problems)
    loose = frozenset(f for f, how in found.selections.items() if how == "because loose")
    evidence = Evidence(
        tuple(found.findings.values()),
        tuple(found.counts.values()),
        loose,
        stated.get("investigation.loose_below", float),
        _service_time(draft, found),
        table_name=name,
        table_text=text,
    )
    return replace(evidence, lot_size=_lot_size(draft, evidence, found.selection))


def _service_time(draft: Draft, found: Findings) -> float | None:
    """Return the time of the inspection [s]: the latest of its findings where it has none."""
    times = [each.after for each in found.findings.values() if each.after is not None]
    if found.service_time is not None or not times:
        return found.service_time
    words = f"{time_words(max(times))}: the latest of the findings"
    draft.assume(_AFTER, words, JUDGEMENT)
    return max(times)


def instruments_of(stated: Stated) -> dict[str, float]:
    """Return the standard deviation of each instrument's own error, as a share, by its name."""
    found: dict[str, float] = {}
    for path in stated.each(INSTRUMENTS):
        name, error = stated.get(f"{path}.name", str), stated.get(f"{path}.bias_sd", float)
        if name in found:
            stated.problem(f"{path}.name", "a unique name")
        if name is not None and error is not None:
            found[name] = error
    return found


def _lot_size(draft: Draft, evidence: Evidence, selection: str) -> int | None:
    """Return how many fasteners the lot has; None where that is not known.

    Counted fasteners are others than those with findings of their own.
    """
    stated = draft.stated
    own = len(evidence.fasteners)
    counted = sum(count.inspected for count in evidence.counts)
    words = f"{own} with findings of their own and {counted} others counted"
    lot = stated.get(_LOT, int)
    if lot is not None and lot < own + counted:
        stated.problem(_LOT, f"{own + counted} or more fasteners: {words}")
    elif selection == WHOLE_LOT and lot not in (None, own + counted):
        stated.problem(_LOT, f"{own + counted}, since all were inspected: {words}")
    elif own and any(count.inspected == own for count in evidence.counts):
        draft.warnings.append(
            f"A {COUNT} is of {own} fasteners, and as many have findings of their own. Are they "
            "others? A count is of fasteners without findings of their own: remove it if they are "
            "the same."
        )
    if selection == WHOLE_LOT and lot is None:
        lot = own + counted
        draft.assume(_LOT, f"{lot}: all that were found, since all were inspected")
    return lot


def _csv_text(draft: Draft) -> str:
    """Return the content of the CSV file; empty where there is none, or a problem is noted."""
    text = draft.table(_CSV)
    if text is not None and not text.strip():
        columns = ", ".join(draft.stated.fields.tables[_TABLE])
        draft.stated.problem(_CSV, f"a CSV file with a header of {columns}")
    return text or ""
