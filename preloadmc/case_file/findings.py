"""One finding of an inspection from its row: a reading, an observation, a count or a time."""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from dataclasses import replace
from typing import Any, TypeVar

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.kinds import Quantity
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.word_kinds import Word
from preloadmc.evidence import (
    ABOVE,
    BELOW,
    COUNT,
    MEASURED,
    OBSERVATIONS,
    READINGS,
    TOOL,
    WHOLE_LOT,
    Count,
    Finding,
    Observation,
    ObservationKind,
    Reading,
)
from preloadmc.inputs import state_input
from preloadmc.mechanics.grades import grade_named
from preloadmc.told import Magnitude, Told
from preloadmc.units import FORCE, RATIO, TEMPERATURE_DIFFERENCE, TIME, Dimension, parse_quantity

JUDGEMENT = "engineering judgement"
INSTRUMENTS = "investigation.instrument"
# Keys that belong to some kinds of finding alone.
_OF_A_KIND: dict[str, Collection[str]] = {
    "sd": READINGS,
    "instrument": tuple(name for name, kind in READINGS.items() if not kind.is_difference),
    "error": OBSERVATIONS,
    "after": (*READINGS, *OBSERVATIONS),
    "state": ("temperature",),
    "part": ("temperature",),
    "limit": (COUNT,),
}
# A nut found finger-loose has no preload left: less than the first share of that of the joint as
# designed, told with the second as its error. A torque would not say so: a prevailing torque, or a
# small thread, turns neither with nor without preload.
_FINGER_LOOSE_SHARE = 0.02
_FINGER_LOOSE_ERROR = 0.01
# Measuring error of a censored value that states none, as a share of its limit; of a temperature
# [K].
_CENSORED_ERROR = 0.02
_CENSORED_TEMPERATURE_ERROR = 2.0
_MOST_INSPECTED = 1_000_000
_COUNT = re.compile(r"(\d{1,9})\s*(?:/|\s(?:out\s+)?of\s)\s*(\d{1,9})", re.IGNORECASE)
_CENSORED = re.compile(r"(below|above|<|>)\s*(.+)", re.IGNORECASE)
_FINGER_LOOSE = ("finger-loose", "nut finger-loose", "finger loose", "nut finger loose")
_SENSES = {"below": BELOW, "<": BELOW, "above": ABOVE, ">": ABOVE}

T = TypeVar("T")


class Row:
    """One finding as stated: a table of the case file, or a line of a CSV file."""

    def __init__(self, stated: Stated, path: str, between: str = ".") -> None:
        self.stated = stated
        self.path = path
        self.between = between

    def __contains__(self, key: str) -> bool:
        return self.at(key) in self.stated

    def at(self, key: str) -> str:
        """Return the path of a key."""
        return f"{self.path}{self.between}{key}"

    def get(self, key: str, kind: type[T]) -> T | None:
        """Return the value of a key, or its default."""
        return self.stated.get(self.at(key), kind)

    def given(self, key: str) -> Any:
        """Return what a key holds, or None."""
        return self.stated.given(self.at(key))

    def problem(self, key: str, allowed: str) -> None:
        """Note a problem with what stands under a key."""
        self.stated.problem(self.at(key), allowed)

    def missing(self, key: str, allowed: str) -> None:
        """Note that a key is needed."""
        self.stated.missing(self.at(key), allowed)


class Findings:
    """Collects findings row by row, each by the path of its row.

    ``selection`` holds for fasteners that state none, "all" for all of the lot. ``preload`` [N] is
    that of the joint as designed after tightening, NaN where it is not known. ``service_time`` [s]
    is that of the whole inspection, None until it is stated.
    """

    def __init__(
        self,
        draft: Draft,
        states: tuple[str, ...],
        selection: str,
        preload: float,
        service_time: float | None,
    ) -> None:
        self.draft = draft
        self.states = states
        self.selection = selection
        self.preload = preload
        self.findings: dict[str, Finding] = {}
        self.counts: dict[str, Count] = {}
        self.selections: dict[str, str] = {}
        self.service_time = service_time

    def read(self, row: Row) -> None:
        """Read one row."""
        kind, value = row.get("kind", str), row.get("value", str)
        if kind is None:
            return
        for key, kinds in _OF_A_KIND.items():
            if key in row and kind not in kinds:
                row.problem(key, f"remove it: '{kind}' has none")
        fastener = row.get("fastener", str) or ""
        selection = row.get("selection", str) or self.selection
        if kind in READINGS and READINGS[kind].of_tool:
            if "fastener" in row:
                row.problem("fastener", f"remove it: {kind} is of the tool")
            fastener = TOOL
        elif kind in READINGS or kind in OBSERVATIONS:
            if fastener == TOOL:
                row.problem("fastener", "another name: this one stands for the tool")
            elif fastener:
                self._select(row, fastener, selection)
            elif "fastener" not in row:
                row.missing("fastener", "a name or number of the fastener")
        if value is None:
            return
        if kind in READINGS:
            self._reading(row, kind, fastener, value)
        elif kind in OBSERVATIONS:
            self._observation(row, kind, fastener, value)
        elif kind == COUNT:
            self._count(row, value, selection)
        else:
            self._service_time(row)
        after = row.get("after", float)
        if after is not None and row.path in self.findings:
            self.findings[row.path] = replace(self.findings[row.path], after=after)

    def _select(self, row: Row, fastener: str, selection: str) -> None:
        known = self.selections.setdefault(fastener, selection)
        if self.selection == WHOLE_LOT != selection:
            row.problem(
                "selection", f"remove it: [investigation] says '{WHOLE_LOT}' were inspected"
            )
        elif known != selection:
            row.problem("selection", f"one selection: fastener {fastener} was '{known}'")

    def _reading(self, row: Row, kind: str, fastener: str, given: str) -> None:
        sense, words = MEASURED, given
        if given.casefold() in _FINGER_LOOSE:
            self._finger_loose(row, kind, fastener, given)
            return
        if match := _CENSORED.fullmatch(given):
            sense, words = _SENSES[match[1].casefold()], match[2]
        try:
            value = parse_quantity(words, READINGS[kind].dimension)
        except ValueError as error:
            row.problem("value", f"{error}; or 'below' or 'above' such a value")
            return
        if not READINGS[kind].is_difference and value < 0.0:
            row.problem("value", "a value of 0 or above")
            return
        if READINGS[kind].of_tool and abs(value) >= 1.0:
            row.problem("value", "the torque delivered over that set, less 1, such as '-12 %'")
            return
        of_temperature = kind == "temperature"
        name = self._temperature_input(row) if of_temperature else READINGS[kind].input
        error_sd = self._error(row, kind, sense, value)
        instrument = self._instrument(row)
        if error_sd is not None and name is not None and instrument is not None:
            self.findings[row.path] = Reading(
                kind, fastener, sense, value, error_sd, name, given, instrument
            )

    def _finger_loose(self, row: Row, kind: str, fastener: str, given: str) -> None:
        """Take a nut that fingers turn for one without preload, whatever reading it stands for."""
        if kind not in ("residual preload", "loosening torque", "tightening torque"):
            row.problem("value", READINGS[kind].dimension.with_article)
            return
        for key in ("sd", "instrument"):
            if key in row:
                row.problem(key, f"remove it: '{given}' has none")
        shares = (_FINGER_LOOSE_SHARE * self.preload, _FINGER_LOOSE_ERROR * self.preload)
        limit, error = (Magnitude(share, FORCE, 2) for share in shares)
        self._assume(
            "finger-loose",
            (
                "no preload left: below ",
                limit,
                ", told with an error of ",
                error,
                f", which are {100 * _FINGER_LOOSE_SHARE:g} and {100 * _FINGER_LOOSE_ERROR:g} % of "
                "the preload of the joint as designed",
            ),
        )
        self.findings[row.path] = Reading("residual preload", fastener, BELOW, *shares, "", given)

    def _instrument(self, row: Row) -> str | None:
        """Return the instrument of a reading, empty without one; None with the problem noted."""
        if "instrument" not in row:
            return ""
        name = row.get("instrument", str)
        stated = row.stated
        described = [stated.get(f"{path}.name", str) for path in stated.each(INSTRUMENTS)]
        if name is not None and name not in described:
            row.problem("instrument", f"one described under [[{INSTRUMENTS}]], with its bias_sd")
            return None
        return name

    def _error(self, row: Row, kind: str, sense: str, value: float) -> float | None:
        """Return the measuring error, one s.d.; a share of the value where given in per cent."""
        given = row.get("sd", str)
        if given is None:
            return None if "sd" in row else self._usual_error(row, kind, sense, value)
        is_difference = READINGS[kind].is_difference
        if given.endswith("%") and not is_difference:
            share = self._positive(row, "sd", RATIO)
            if share is not None and value == 0.0:
                row.problem("sd", "the error itself: a share of 0 is none")
                return None
            return None if share is None else share * value
        return self._positive(row, "sd", READINGS[kind].dimension.of_difference)

    def _positive(self, row: Row, key: str, dimension: Dimension) -> float | None:
        kind = Quantity(dimension, above=0.0)
        return kind.read(row.given(key), row.at(key), row.stated.problems)

    def _usual_error(self, row: Row, kind: str, sense: str, value: float) -> float | None:
        """Return the measuring error of a censored value that states none."""
        if sense == MEASURED or READINGS[kind].of_tool:
            row.missing("sd", "the measuring error as one standard deviation")
            return None
        if kind == "temperature":
            error = Magnitude(_CENSORED_TEMPERATURE_ERROR, TEMPERATURE_DIFFERENCE)
            self._assume("error of a censored temperature", (error,))
            return _CENSORED_TEMPERATURE_ERROR
        self._assume(
            "error of a censored value without sd", f"{100 * _CENSORED_ERROR:g} % of its limit"
        )
        if value == 0.0:
            row.missing("sd", "the measuring error, since a share of 0 is none")
            return None
        return _CENSORED_ERROR * value

    def _temperature_input(self, row: Row) -> str | None:
        """Return the input that a found temperature is a reading of."""
        if not self.states:
            row.problem("kind", "another kind: the case has no temperature state to compare with")
            return None
        state, part = row.get("state", str), row.get("part", str)
        if "state" not in row and len(self.states) == 1:
            state = self.states[0]
        elif "state" not in row:
            row.missing("state", Word(self.states).allowed)
        elif state is not None:
            state = Word(self.states).read(state, row.at("state"), row.stated.problems)
        return None if state is None or part is None else state_input(state, part)

    def _observation(self, row: Row, kind: str, fastener: str, given: str) -> None:
        grade = ""
        if OBSERVATIONS[kind].is_grade:
            try:
                grade = grade_named(given)
            except ValueError as unknown:
                row.problem("value", str(unknown))
                return
        seen = bool(grade) or _seen(OBSERVATIONS[kind], given)
        if seen is None:
            row.problem("value", OBSERVATIONS[kind].allowed)
            return
        error = row.get("error", float)
        if "error" not in row:
            usual = row.stated.field(row.at("error")).default
            assert usual is not None, "a row with a default"
            self._assume(f"chance of seeing {kind} wrongly", usual.words)
        if error is not None:
            self.findings[row.path] = Observation(kind, fastener, seen, error, given, grade)

    def _count(self, row: Row, given: str, selection: str) -> None:
        match = _COUNT.fullmatch(given)
        if match is None:
            row.problem("value", "so many loose of so many inspected, such as '3 of 20'")
            return
        loose, inspected = int(match[1]), int(match[2])
        if not loose <= inspected or not 1 <= inspected <= _MOST_INSPECTED:
            row.problem("value", f"no more loose than inspected, at most {_MOST_INSPECTED:,}")
            return
        if selection == "because loose" and "selection" in row:
            row.problem("selection", "'random': a count says nothing of those chosen for it")
        limit = row.get("limit", float)
        self.counts[row.path] = Count(loose, inspected, math.nan if limit is None else limit)

    def _service_time(self, row: Row) -> None:
        if self.service_time is not None:
            row.problem("value", "one time in service for all, here or in investigation.after")
            return
        self.service_time = self._positive(row, "value", TIME)

    def _assume(self, path: str, told: Told) -> None:
        self.draft.assume(path, told, JUDGEMENT)


def _seen(kind: ObservationKind, given: str) -> bool | None:
    """Return whether a word says that it was seen; None where it says neither."""
    word = " ".join(given.casefold().split())
    seen = {kind.seen, *kind.others}
    if word in seen:
        return True
    return False if word in {kind.not_seen, *(f"not {other}" for other in seen)} else None
