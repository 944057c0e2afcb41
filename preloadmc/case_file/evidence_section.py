"""The evidence of a case file: [[evidence]] tables, or the rows of a CSV file beside it."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import chain
from typing import Any

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table, nearest
from preloadmc.evidence import (
    ABOVE,
    BELOW,
    COUNT,
    KINDS,
    MEASURED,
    OBSERVATIONS,
    READINGS,
    SELECTIONS,
    Count,
    Evidence,
    Finding,
    Observation,
    Reading,
)
from preloadmc.inputs import state_input
from preloadmc.units import (
    FORCE,
    RATIO,
    TEMPERATURE_DIFFERENCE,
    TIME,
    TORQUE,
    format_quantity,
    parse_quantity,
)

COLUMNS = (
    "fastener",
    "kind",
    "value",
    "sd",
    "error",
    "state",
    "part",
    "limit",
    "selection",
    "note",
)
JUDGEMENT = "engineering judgement"
# A nut that fingers turn: below this torque to turn back [N·mm].
FINGER_TORQUE = 1000.0
# Measuring error of a censored value that states none, as a share of its limit; of a temperature
# [K]; and the chance of seeing a mark or paint wrongly.
CENSORED_ERROR = 0.02
CENSORED_TEMPERATURE_ERROR = 2.0
SEEING_ERROR = 0.05
# An investigation is some pages of findings; anything far larger is another file.
LARGEST_TABLE = 1_000_000
MOST_INSPECTED = 1_000_000
_COUNT = re.compile(r"(\d+)\s+of\s+(\d+)")
_CENSORED = re.compile(r"(below|above|<|>)\s*(.+)")
_FINGER_LOOSE = ("finger-loose", "nut finger-loose", "finger loose", "nut finger loose")
_SENSES = {"below": BELOW, "<": BELOW, "above": ABOVE, ">": ABOVE}


def read_evidence(root: Table, settings: Table, draft: Draft, states: tuple[str, ...]) -> Evidence:
    """Read all evidence of a case file.

    Parameters
    ----------
    root : Table
        The whole file, for its [[evidence]].
    settings : Table
        Its [investigation]: a CSV file under ``evidence``, ``selection`` and ``loose_below``.
    draft : Draft
        Takes problems and assumptions; its folder is that of the case file.
    states : tuple of str
        Names of the temperature states of the case.
    """
    selection = settings.choice("selection", SELECTIONS, "random")
    loose_below = settings.quantity("loose_below", FORCE, above=0.0)
    reader = _Reader(draft, states, selection or "random", loose_below)
    name = settings.text("evidence", "the name of a CSV file beside the case file")
    text = _csv_text(settings, draft, name) if name else ""
    for row in chain(root.tables("evidence"), _csv_rows(settings, draft, name, text)):
        reader.read(row)
    return replace(reader.evidence(), table_name=name, table_text=text)


def _csv_text(settings: Table, draft: Draft, name: str) -> str:
    """Return the content of the CSV file; empty with the problem noted."""
    try:
        with (draft.folder / name).open("rb") as file:
            content = file.read(LARGEST_TABLE + 1)
        if len(content) > LARGEST_TABLE:
            settings.problem("evidence", f"a CSV file of at most {LARGEST_TABLE:,} bytes")
            return ""
        text = content.decode("utf-8-sig")
    except OSError as error:
        settings.problem("evidence", f"a CSV file that can be read: {error.strerror}")
        return ""
    except (UnicodeDecodeError, ValueError):
        settings.problem("evidence", "a CSV file in UTF-8")
        return ""
    if not text.strip():
        settings.problem("evidence", f"a CSV file with a header of {', '.join(COLUMNS)}")
    return text


def _csv_rows(settings: Table, draft: Draft, name: str, text: str) -> Iterator[Table]:
    """Yield the rows of the CSV file as tables whose path is their line."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        header = [cell.strip() for cell in next(reader, [])]
        if not header or not _header_is_known(settings, name, header):
            return
        for row in reader:
            path = f"{name}, line {reader.line_num}"
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            if len(cells) != len(header):
                wanted = f"{len(header)} cells, as in the header"
                draft.problems.add(path, f"{len(cells)} cells", wanted)
                continue
            yield _Row({k: v for k, v in zip(header, cells, strict=True) if v}, path, draft)
    except csv.Error as error:
        draft.problems.add(f"{name}, line {reader.line_num}", None, f"CSV: {error}")


def _header_is_known(settings: Table, name: str, header: list[str]) -> bool:
    """Note unknown, doubled and missing columns; return whether the rows can be read."""
    path = f"{name}, line 1"
    before = len(settings.problems.found)
    for column in header:
        if column not in COLUMNS:
            words = f"a column of {', '.join(COLUMNS)}{nearest(column, COLUMNS)}"
            settings.problems.add(path, column, words)
        elif header.count(column) > 1:
            settings.problems.add(path, column, "each column once")
    for column in ("kind", "value"):
        if column not in header:
            settings.problems.add(path, None, f"missing; a column '{column}'")
    return len(settings.problems.found) == before


class _Row(Table):
    """A row of the CSV file: the same keys as a table, with the line as their path."""

    def __init__(self, data: Mapping[str, Any], path: str, draft: Draft) -> None:
        super().__init__(data, path, draft.problems)

    def at(self, key: str) -> str:
        """Return line and column."""
        return f"{self.path}, {key}"


class _Reader:
    """Collects findings row by row."""

    def __init__(
        self, draft: Draft, states: tuple[str, ...], selection: str, loose_below: float | None
    ) -> None:
        self.draft = draft
        self.states = states
        self.selection = selection
        self.loose_below = loose_below
        self.findings: list[Finding] = []
        self.counts: list[Count] = []
        self.selections: dict[str, str] = {}
        self.service_time: float | None = None

    def evidence(self) -> Evidence:
        """Return what was read."""
        loose = frozenset(f for f, how in self.selections.items() if how == "because loose")
        return Evidence(
            tuple(self.findings), tuple(self.counts), loose, self.loose_below, self.service_time
        )

    def read(self, row: Table) -> None:
        """Read one row."""
        before = len(row.problems.found)
        kind = row.choice("kind", KINDS, None)
        value = row.raw("value")
        fastener = row.raw("fastener")
        fastener = "" if fastener is None else str(fastener).strip()
        row.text("note", "a note")
        selection = row.choice("selection", SELECTIONS, self.selection)
        if value is None:
            row.missing("value", "what was found")
        if kind in READINGS or kind in OBSERVATIONS:
            if not fastener:
                row.missing("fastener", "a name or number of the fastener")
            elif selection is not None:
                self._select(row, fastener, selection)
        if kind is None or value is None:
            row.close(*COLUMNS)
            return
        given = str(value).strip()
        if kind in READINGS:
            self._reading(row, kind, fastener, given)
        elif kind in OBSERVATIONS:
            self._observation(row, kind, fastener, given)
        elif kind == COUNT:
            self._count(row, given, selection)
        else:
            self._service_time(row, given)
        # What a row with problems was not asked for is no further problem.
        row.close(*(COLUMNS if len(row.problems.found) > before else ()))

    def _select(self, row: Table, fastener: str, selection: str) -> None:
        if self.selections.setdefault(fastener, selection) != selection:
            row.problem(
                "selection", f"one selection: fastener {fastener} was '{self.selections[fastener]}'"
            )

    def _reading(self, row: Table, kind: str, fastener: str, given: str) -> None:
        sense, words = MEASURED, given
        if given.casefold() in _FINGER_LOOSE:
            if kind not in ("residual preload", "loosening torque"):
                row.problem("value", f"a {READINGS[kind].name}")
                return
            kind, sense, words = "loosening torque", BELOW, f"{FINGER_TORQUE:g} Nmm"
            self._assume("finger-loose", f"turns back below {format_quantity(1000.0, TORQUE)}")
        elif match := _CENSORED.fullmatch(given):
            sense, words = _SENSES[match[1]], match[2]
        try:
            value = parse_quantity(words, READINGS[kind])
        except ValueError as error:
            row.problem("value", f"{error}; or 'below' or 'above' such a value")
            return
        if kind not in ("temperature",) and value < 0.0:
            row.problem("value", "a value of 0 or above")
            return
        name = self._temperature_input(row) if kind == "temperature" else ""
        error_sd = self._error(row, kind, sense, value)
        if error_sd is not None and name is not None:
            self.findings.append(Reading(kind, fastener, sense, value, error_sd, name, given))

    def _error(self, row: Table, kind: str, sense: str, value: float) -> float | None:
        """Return the measuring error, one s.d.; a share of the value where given in per cent."""
        given = row.raw("sd")
        if given is None:
            if sense == MEASURED:
                row.missing("sd", "the measuring error as one standard deviation")
                return None
            if kind == "temperature":
                self._assume("error of a censored temperature", "2 K")
                return CENSORED_TEMPERATURE_ERROR
            self._assume(
                "error of a censored value without sd", f"{100 * CENSORED_ERROR:g} % of its limit"
            )
            if value == 0.0:
                row.missing("sd", "the measuring error, since a share of 0 is none")
                return None
            return CENSORED_ERROR * value
        if isinstance(given, str) and given.strip().endswith("%") and kind != "temperature":
            share = row.quantity("sd", RATIO, above=0.0)
            if share is not None and value == 0.0:
                row.problem("sd", "the error itself: a share of 0 is none")
                return None
            return None if share is None else share * value
        dimension = TEMPERATURE_DIFFERENCE if kind == "temperature" else READINGS[kind]
        return row.quantity("sd", dimension, above=0.0)

    def _temperature_input(self, row: Table) -> str | None:
        """Return the input that a found temperature is a reading of."""
        if not self.states:
            row.problem("kind", "another kind: the case has no temperature state to compare with")
            return None
        only = self.states[0] if len(self.states) == 1 else None
        state = row.choice("state", self.states, only)
        part = row.choice("part", ("fastener", "clamped"), "fastener")
        return None if state is None or part is None else state_input(state, part)

    def _observation(self, row: Table, kind: str, fastener: str, given: str) -> None:
        yes, no = OBSERVATIONS[kind]
        if given not in (yes, no):
            row.problem("value", f"'{yes}' or '{no}'")
            return
        error = row.quantity("error", RATIO, above=0.0, high=0.5)
        if "error" not in row:
            error = SEEING_ERROR
            self._assume(f"chance of seeing {kind} wrongly", f"{100 * SEEING_ERROR:g} %")
        if error is not None:
            self.findings.append(Observation(kind, fastener, given == yes, error, given))

    def _count(self, row: Table, given: str, selection: str | None) -> None:
        match = _COUNT.fullmatch(given)
        if match is None:
            row.problem("value", "so many loose of so many inspected, such as '3 of 20'")
            return
        loose, inspected = int(match[1]), int(match[2])
        if not loose <= inspected or not 1 <= inspected <= MOST_INSPECTED:
            row.problem("value", f"no more loose than inspected, at most {MOST_INSPECTED:,}")
            return
        if selection == "because loose" and "selection" in row:
            row.problem("selection", "'random': a count says nothing of those chosen for it")
        limit = row.quantity("limit", FORCE, above=0.0)
        if "limit" not in row:
            limit = math.nan
        if limit is not None:
            self.counts.append(Count(loose, inspected, limit))

    def _service_time(self, row: Table, given: str) -> None:
        if self.service_time is not None:
            row.problem("value", "one time in service for all")
            return
        try:
            time = parse_quantity(given, TIME)
        except ValueError as error:
            row.problem("value", str(error))
            return
        if time <= 0.0:
            row.problem("value", "a time above 0")
            return
        self.service_time = time

    def _assume(self, path: str, value: str) -> None:
        if path not in {item.path for item in self.draft.assumptions}:
            self.draft.assume(path, value, JUDGEMENT)
