"""What was found on joints in service: records of readings, observations and counts."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.units import ANGLE, FORCE, RATIO, TEMPERATURE, TORQUE, Dimension

# Readings by name: what each measures.
READINGS: dict[str, Dimension] = {
    "residual preload": FORCE,
    "tightening torque": TORQUE,
    "loosening torque": TORQUE,
    "rotation": ANGLE,
    "temperature": TEMPERATURE,
    "hardness": RATIO,
}
# Observations by name: what was seen where it was there, and where it was not.
OBSERVATIONS: dict[str, tuple[str, str]] = {
    "mark": ("turned", "not turned"),
    "paint": ("found", "not found"),
}
COUNT = "loose count"
SERVICE_TIME = "time in service"
KINDS = (*READINGS, *OBSERVATIONS, COUNT, SERVICE_TIME)
SELECTIONS = ("random", "because loose")
MEASURED, BELOW, ABOVE = "measured", "below", "above"


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured or censored value on one fastener, in N, mm, MPa, K, rad.

    ``sense`` is "measured", "below" or "above"; ``error`` the s.d. of the measuring error.
    ``input`` names the case's input that a temperature is a reading of, and is empty otherwise.
    ``words`` is the value as it was written.
    """

    kind: str
    fastener: str
    sense: str
    value: float
    error: float
    input: str
    words: str


@dataclass(frozen=True, slots=True)
class Observation:
    """Something seen or not seen on one fastener; ``error`` is the chance of seeing it wrongly."""

    kind: str
    fastener: str
    seen: bool
    error: float
    words: str


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
class Evidence:
    """All that was found on the joints of one lot.

    ``selected`` are the fasteners that were looked at because they were loose: their preload was
    below ``loose_below`` [N], None where nobody says what loose means. ``service_time`` is in
    seconds, None where not stated. ``table_name`` and ``table_text`` are the CSV file as given,
    empty where there is none.
    """

    findings: tuple[Finding, ...]
    counts: tuple[Count, ...]
    selected: frozenset[str]
    loose_below: float | None
    service_time: float | None
    table_name: str = ""
    table_text: str = ""

    @property
    def fasteners(self) -> tuple[str, ...]:
        """Return the fasteners with findings, in the order found."""
        return tuple(dict.fromkeys(finding.fastener for finding in self.findings))
