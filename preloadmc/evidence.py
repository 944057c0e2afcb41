"""What was found on joints in service: records of readings, observations and counts."""

from __future__ import annotations

import math
from dataclasses import dataclass

from preloadmc.units import ANGLE, FORCE, PERCENT, RATIO, TEMPERATURE, TORQUE, Dimension


@dataclass(frozen=True, slots=True)
class ReadingKind:
    """What a kind of reading measures.

    ``input`` names the input that it is a reading of; empty where the joint itself shows it
    (`joint.found`), and for a temperature, whose input follows from state and part.
    ``usual_error`` is the measuring error of a reading to come where no finding states one, in N,
    mm, MPa, K, rad; None for a share of the value. ``is_difference`` tells a value whose zero
    means nothing to its error: it may be negative, and its error is never a share of it.
    ``of_tool`` tells what is read of the tool, and of no fastener.
    """

    dimension: Dimension
    input: str = ""
    usual_error: float | None = None
    is_difference: bool = False
    of_tool: bool = False


@dataclass(frozen=True, slots=True)
class ObservationKind:
    """What is seen or not seen: the words for both.

    ``input`` names the input that is the chance of it; empty where the joint itself shows it.
    ``others`` are other words for ``seen``, each of them with "not" before it for ``not_seen``.
    ``is_grade`` tells what is a property class and no word of two.
    """

    seen: str
    not_seen: str
    input: str = ""
    others: tuple[str, ...] = ()
    is_grade: bool = False

    @property
    def allowed(self) -> str:
        """Return what may be found, for messages."""
        if self.is_grade:
            return "a property class or grade, such as '5.6'"
        return f"'{self.seen}' or '{self.not_seen}'"


# The usual errors are engineering judgement.
READINGS: dict[str, ReadingKind] = {
    "residual preload": ReadingKind(FORCE),
    "tightening torque": ReadingKind(TORQUE),
    "loosening torque": ReadingKind(TORQUE),
    "rotation": ReadingKind(ANGLE, usual_error=math.radians(5.0)),
    "temperature": ReadingKind(TEMPERATURE, usual_error=3.0, is_difference=True),
    "hardness": ReadingKind(RATIO, "seat.hardness"),
    "recorded torque": ReadingKind(TORQUE),
    "tool calibration": ReadingKind(
        PERCENT, "tightening.bias", usual_error=0.01, is_difference=True, of_tool=True
    ),
}
OBSERVATIONS: dict[str, ObservationKind] = {
    "mark": ObservationKind("turned", "not turned", others=("rotated", "moved")),
    "paint": ObservationKind("found", "not found", "seat.paint"),
    "washer": ObservationKind("other", "as drawn", "seat.washer", others=("another", "wrong")),
    "slip mark": ObservationKind("found", "not found"),
    "gap": ObservationKind("found", "not found"),
    "thread bottomed": ObservationKind("found", "not found"),
    "head mark": ObservationKind("as designed", "another class", is_grade=True),
}
# A fastener that was turned for one of these has no preload, mark or torque left to find.
UNDOING = ("tightening torque", "loosening torque")
# What a reading of the tool is found on, in place of a fastener.
TOOL = "the tool"
COUNT = "loose count"
SERVICE_TIME = "time in service"
KINDS = (*READINGS, *OBSERVATIONS, COUNT, SERVICE_TIME)
SELECTIONS = ("random", "because loose")
# Of all that were looked at: every fastener of the lot was.
WHOLE_LOT = "all"
MEASURED, BELOW, ABOVE = "measured", "below", "above"


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured or censored value on one fastener, in N, mm, MPa, K, rad.

    ``sense`` is "measured", "below" or "above"; ``error`` the s.d. of the measuring error.
    ``input`` names the input that it is a reading of, empty where the joint itself shows it.
    ``words`` is the value as it was written. ``instrument`` names the one that it was read with,
    whose own error all its readings share; empty where it has none. ``after`` is the time since
    tightening [s], None where it is that of the inspection.
    """

    kind: str
    fastener: str
    sense: str
    value: float
    error: float
    input: str
    words: str
    instrument: str = ""
    after: float | None = None


@dataclass(frozen=True, slots=True)
class Observation:
    """Something seen or not seen on one fastener; ``error`` is the chance of seeing it wrongly.

    ``grade`` is the property class that was read, empty for other kinds. ``after`` is the time
    since tightening [s], None where it is that of the inspection.
    """

    kind: str
    fastener: str
    seen: bool
    error: float
    words: str
    grade: str = ""
    after: float | None = None

    @property
    def input(self) -> str:
        """Return the input that is the chance of it, empty where the joint itself shows it."""
        return OBSERVATIONS[self.kind].input


@dataclass(frozen=True, slots=True)
class Count:
    """So many loose among so many inspected at random: a preload below ``limit`` [N] is loose.

    They are other fasteners than those with findings of their own.
    """

    loose: int
    inspected: int
    limit: float

    @property
    def words(self) -> str:
        """Return the count as it was written."""
        return f"{self.loose} of {self.inspected}"


Finding = Reading | Observation


@dataclass(frozen=True, slots=True)
class BoltCircle:
    """Fasteners 1 to ``fasteners``, clockwise from the top, on a circle of ``diameter`` [mm]."""

    fasteners: int
    diameter: float

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of its fasteners in their order."""
        return tuple(str(place) for place in range(1, self.fasteners + 1))


@dataclass(frozen=True, slots=True)
class Inspection:
    """What was inspected, when and by whom; empty where not stated, and no circle then."""

    asset: str
    drawing: str
    date: str
    inspector: str
    circle: BoltCircle | None


@dataclass(frozen=True, slots=True)
class Effort:
    """What a measurement to come takes: a price in any currency, a time [s]; None if not stated."""

    price: float | None
    time: float | None


@dataclass(frozen=True, slots=True)
class Evidence:
    """All that was found on the joints of one lot.

    ``selected`` are the fasteners that were looked at because they were loose: their preload was
    below ``loose_below`` [N], None where nobody says what loose means. ``service_time`` [s] is the
    time since tightening of the inspection, and of every finding that has none of its own; None
    where no time is known. ``table_name`` and ``table_text`` are the CSV file as given, empty where
    there is none. ``lot_size`` is how many fasteners the lot has, None where that is not known.
    """

    findings: tuple[Finding, ...]
    counts: tuple[Count, ...]
    selected: frozenset[str]
    loose_below: float | None
    service_time: float | None
    table_name: str = ""
    table_text: str = ""
    lot_size: int | None = None

    @property
    def is_whole_lot(self) -> bool:
        """Return whether no fastener of the lot is left to be looked at."""
        counted = sum(count.inspected for count in self.counts)
        return self.lot_size is not None and len(self.fasteners) + counted >= self.lot_size

    @property
    def other_times(self) -> tuple[float, ...]:
        """Return the times of findings made at another time than the inspection [s], rising."""
        times = {finding.after for finding in self.findings}
        return tuple(sorted(each for each in times - {self.service_time} if each is not None))

    def time_of(self, finding: Finding) -> float:
        """Return the time since tightening of a finding [s]; 0 where no time is known."""
        return finding.after or self.service_time or 0.0

    @property
    def undone(self) -> tuple[str, ...]:
        """Return the fasteners on which something was found after they were turned for a torque."""
        turned: dict[str, float] = {}
        for each in self.findings:
            if each.kind in UNDOING:
                first = turned.get(each.fastener, math.inf)
                turned[each.fastener] = min(first, self.time_of(each))
        later = (
            each.fastener
            for each in self.findings
            if not each.input and self.time_of(each) > turned.get(each.fastener, math.inf)
        )
        return tuple(dict.fromkeys(later))

    @property
    def fasteners(self) -> tuple[str, ...]:
        """Return the fasteners with findings, in the order found."""
        names = dict.fromkeys(finding.fastener for finding in self.findings)
        return tuple(name for name in names if name != TOOL)
