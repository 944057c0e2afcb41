"""What a derivation finds: its chapters, and the margin of every limit at nominal values."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.joint import State
from preloadmc.limits import Limit
from preloadmc.steps import Chapter, Step
from preloadmc.units import Dimension


@dataclass(frozen=True, slots=True)
class NominalMargin:
    """The margin of one limit in one state at nominal values; negative is a miss.

    ``share`` is the margin over what is allowed or can be carried, None where that is nothing.
    """

    limit: Limit
    value: float
    reference: float
    dimension: Dimension

    @property
    def share(self) -> float | None:
        """Return the margin over its reference."""
        return self.value / self.reference if self.reference > 0.0 else None


@dataclass(frozen=True, slots=True)
class Derivation:
    """The joint and its window derived with every input at its mean."""

    case: Case
    state: State
    chapters: tuple[Chapter, ...]
    margins: tuple[NominalMargin, ...]

    @property
    def steps(self) -> Iterator[Step]:
        """Return all steps in their order."""
        return (step for chapter in self.chapters for step in chapter.steps)
