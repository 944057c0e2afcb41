"""Ratings by remaining preload after a number of load cycles: thresholds and what meets them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from preloadmc.errors import UsageError
from preloadmc.units import RATIO, parse_quantity

FROM_MEMORY = "value from memory"
TYPED = "typed in"
RATED_CYCLES = 2000.0
_EXAMPLE = "such as 'good=85 %' or 'good=85 % at 2000'"


@dataclass(frozen=True, slots=True)
class Threshold:
    """A least share of the initial preload after ``cycles``, with where it comes from."""

    name: str
    share: float
    cycles: float
    source: str


# Thresholds of the open standards, from memory of DIN 25201-4:2010 and ISO 16130:2015.
REMEMBERED = (
    Threshold("secured by DIN 25201-4", 0.80, RATED_CYCLES, FROM_MEMORY),
    Threshold("good by ISO 16130", 0.85, RATED_CYCLES, FROM_MEMORY),
    Threshold("acceptable by ISO 16130", 0.40, RATED_CYCLES, FROM_MEMORY),
)


@dataclass(frozen=True, slots=True)
class Rating:
    """How the tests of one element stand to one threshold.

    ``reach`` of ``n`` tests keep that share or more; tests that were stopped earlier count among
    them only where they had missed it by then. ``limit`` is the tolerance limit there, or
    None; the tests show the threshold for the asked share of all where it is not below.
    """

    threshold: Threshold
    reach: int
    n: int
    limit: float | None

    @property
    def all_reach(self) -> bool:
        """Return whether every test keeps it."""
        return self.reach == self.n

    @property
    def is_shown(self) -> bool:
        """Return whether the tolerance limit keeps it too."""
        return self.all_reach and self.limit is not None and self.limit >= self.threshold.share


def thresholds_of(typed: Sequence[str]) -> tuple[Threshold, ...]:
    """Return the thresholds that were typed in; those of the standards where there are none.

    Parameters
    ----------
    typed : sequence of str
        Name, least share and, if not the usual ones, load cycles of each: "good=85 % at 2000".

    Raises
    ------
    UsageError
        If one cannot be read, or a name stands twice.

    Examples
    --------
    >>> thresholds_of(["good=85 % at 1500"])
    (Threshold(name='good', share=0.85, cycles=1500.0, source='typed in'),)
    >>> thresholds_of(["good=85 %"])[0].source
    'typed in; 2000 cycles: value from memory'
    """
    found: dict[str, Threshold] = {}
    for given in typed:
        name, equals, rest = (part.strip() for part in given.partition("="))
        words, at, cycles_words = (part.strip() for part in rest.partition(" at "))
        if not name or not equals or not words or bool(at) != bool(cycles_words):
            raise UsageError(f"--threshold {given!r}: a name and a share, {_EXAMPLE}")
        if name in found:
            raise UsageError(f"--threshold {given!r}: each name once")
        share, cycles, source = _number(given, words), RATED_CYCLES, TYPED
        if cycles_words:
            cycles = _number(given, cycles_words)
        else:
            source = f"{TYPED}; {RATED_CYCLES:.0f} cycles: {FROM_MEMORY}"
        if not 0.0 < share <= 1.0:
            raise UsageError(f"--threshold {given!r}: a share above 0 and at most 100 %")
        if not cycles >= 1.0:
            raise UsageError(f"--threshold {given!r}: 1 cycle or more")
        found[name] = Threshold(name, share, cycles, source)
    return tuple(found.values()) or REMEMBERED


def _number(given: str, words: str) -> float:
    try:
        return parse_quantity(words, RATIO)
    except ValueError as error:
        raise UsageError(f"--threshold {given!r}: {error}; {_EXAMPLE}") from error
