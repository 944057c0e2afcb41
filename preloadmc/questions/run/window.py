"""Where the limits of the preload window lie at each stage of the joint's life."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.joint import evaluate
from preloadmc.limits import BREAKING, UNDER, margins
from preloadmc.questions.run.ladder import Rung, preload_reached
from preloadmc.questions.run.question import RunResult
from preloadmc.units import FORCE, Array, format_quantity

_SAMPLES = 2**16
_SHORT = {
    "minimum preload": "minimum",
    "maximum preload": "maximum",
    "slip": "no slip",
    "separation": "no separation",
}


@dataclass(frozen=True, slots=True)
class StageLimit(Rung):
    """One limit at one stage of the joint's life: the preload [N] at which it is missed."""

    @property
    def stage(self) -> str:
        """Return the stage as the path of the preload names it."""
        return "assembled" if self.state == "assembly" else self.state

    @property
    def short_name(self) -> str:
        """Return the name without what every limit is about, such as "minimum"."""
        return _SHORT.get(self.name, self.name)

    def value_words(self, system: str) -> str:
        """Return the preload in words, such as "28 kN", or "median 28 kN" where it varies."""
        value = format_quantity(self.median, FORCE, system, 3)
        return f"median {value}" if self.varies else value


def stage_limits(result: RunResult) -> tuple[StageLimit, ...]:
    """Return the strictest minimum and the strictest maximum at each stage that has one."""
    return case_limits(result.case, result.samples.kept.z, result.samples.columns)


def case_limits(case: Case, z: Array, columns: Sequence[str]) -> tuple[StageLimit, ...]:
    """Return the strictest limits at each stage of a case, over the joints z (n, d)."""
    strictest: dict[tuple[str, str], StageLimit] = {}
    for limit in _all(case, z, columns):
        place = limit.stage, limit.side
        other = strictest.get(place)
        sign = 1.0 if limit.side == UNDER else -1.0
        if other is None or sign * limit.median > sign * other.median:
            strictest[place] = limit
    return tuple(strictest.values())


def _all(case: Case, z: Array, columns: Sequence[str]) -> Iterator[StageLimit]:
    x = case.inputs(z[:_SAMPLES], columns)
    state = evaluate(case.joint, x)
    for margin in margins(case.joint, case.requirement, x, state):
        limit = margin.limit
        if limit.name == BREAKING:
            continue
        reached = preload_reached(case.joint, x, state, margin)
        if reached is None:
            continue
        (side,) = limit.sides
        yield StageLimit.at(limit, side, reached)
