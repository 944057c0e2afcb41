"""The evidence of a case file: [[evidence]] tables, or the rows of a CSV file beside it."""

from __future__ import annotations

from itertools import chain
from typing import Any

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.evidence_table import table_rows
from preloadmc.case_file.field import Field
from preloadmc.case_file.findings import JUDGEMENT, Findings, Row
from preloadmc.case_file.kinds import Quantity, SpokenWord, Table, Text
from preloadmc.case_file.problems import Problems
from preloadmc.evidence import KINDS, SELECTIONS, Evidence
from preloadmc.inputs import Default
from preloadmc.units import FORCE, RATIO

# The chance of seeing a mark or paint wrongly.
_SEEING_ERROR = 0.05
_TABLE = "evidence[]"
_CSV = "investigation.evidence"
# Torques of a check whose name does not say which way the fastener is turned.
_NO_DIRECTION = ("breakaway torque", "check torque", "retightening torque")


class _FindingKind:
    """A kind of finding; of a torque whose direction is open, the direction is asked for."""

    _word = SpokenWord.of(KINDS)
    allowed = _word.allowed

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
        return self._word.read(given, path, problems)


FIELDS = (
    Field(_TABLE, Table(), "finding on a joint in service, one each"),
    Field(
        f"{_TABLE}.fastener",
        Text("a name or number of the fastener", or_number=True),
        "fastener that it was found on",
        '"3"',
    ),
    Field(
        f"{_TABLE}.kind", _FindingKind(), "what was looked at", '"residual preload"', needed=True
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
        SpokenWord.of(("fastener", "clamped")),
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
        SpokenWord.of(SELECTIONS),
        "why this fastener was looked at, in place of that of [investigation]",
        '"random"',
    ),
    Field(f"{_TABLE}.note", Text("a note"), "note", '"marked in red"'),
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
    for row in chain(
        (Row(stated, path) for path in stated.each("evidence")),
        table_rows(stated, name, text, stated.fields.tables[_TABLE]),
    ):
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
        columns = ", ".join(draft.stated.fields.tables[_TABLE])
        draft.stated.problem(_CSV, f"a CSV file with a header of {columns}")
    return text or ""
