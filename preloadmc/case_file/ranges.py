"""Values held against what the quantities of joints usually are, and against what is possible."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, NamedTuple

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity
from preloadmc.case_file.law_kind import LawOf, StatedLaw
from preloadmc.chance.laws import Constant, Law
from preloadmc.plausible import JUDGEMENT, MOST_ALLOWED, PLAUSIBLE_RANGES, PlausibleRange
from preloadmc.told import percent
from preloadmc.typed_numbers import split_quantity
from preloadmc.units import RATIO, Dimension, format_number, format_quantity, parse_quantity

# A law is warned of where more than one value in ten thousand is not usual: then it shows in
# results.
_SHOWS = 1e-4
# The keys of a law that say where it lies.
_LOCATIONS = ("value", "mean", "mode", "low", "high")
_ROUNDING = 1e-12
# Paths of allowed probabilities begin so.
_ALLOWED = ("requirement.allowed", "group.allowed.")
# A bare number above is more easily a forgotten percent sign than 1 % or more.
_BARE_ALLOWED = 0.011
# Above, the share that holds is likelier than the share that misses.
_HALF = 0.5


class _Held(NamedTuple):
    """A stated value beside the row that it is held against.

    ``about`` is what was added to the file's value before it became ``law``.
    """

    row: PlausibleRange
    dimension: Dimension
    about: float
    law: Law
    given: Any

    def beyond(self, low: str, high: str) -> float:
        """Return the probability of values beyond two bounds, each as typed or empty."""
        below = above = 0.0
        # A bound itself is within, however it was converted.
        if low:
            at = self._at(low)
            below = float(self.law.cdf(math.nextafter(at - _ROUNDING * abs(at), -math.inf)))
        if high:
            at = self._at(high)
            above = float(self.law.sf(at + _ROUNDING * abs(at)))
        return below + above

    def unusual(self) -> float:
        """Return the probability of values that are not usual."""
        return max(self.beyond(self.row.low, self.row.high), self._too_small())

    @property
    def usual(self) -> str:
        """What is usual, in words."""
        row = self.row
        words = f"{row.low} to {row.high}"
        if row.smallest:
            signs = "±" if row.low.startswith("-") else ""
            words = f"{signs}{row.smallest} to {signs}{row.high}"
        if row.smallest and row.low != row.smallest:
            words += ", or 0"
        return f"usual is {words} ({row.source})"

    def _too_small(self) -> float:
        """Return 1 where hardly any value is as large as usual, but the law is not about 0."""
        if not self.row.smallest or not self.law.mean:
            return 0.0
        size = self._at(self.row.smallest)
        at = size * (1.0 - _ROUNDING)
        return float(float(self.law.cdf(at)) - float(self.law.cdf(-at)) > 1.0 - _SHOWS)

    def meant(self) -> str:
        """Return what was likely meant, as a question; empty where nothing else is usual."""
        for text in self._texts():
            number, unit = split_quantity(text) or (0.0, "")
            if not number or self._typed(number, unit):
                continue
            for likely in self.row.likely:
                slipped = likely == "/10"
                typed = self._typed(number / 10 if slipped else number, unit if slipped else likely)
                if typed:
                    return f"; is {typed} meant?"
        return ""

    def _at(self, bound: str) -> float:
        return _bound(bound, self.dimension)

    def _texts(self) -> Iterator[str]:
        """Yield what was typed as a location."""
        given = self.given
        each = (
            [given[key] for key in _LOCATIONS if key in given]
            if isinstance(given, Mapping)
            else [given]
        )
        yield from (str(text) for text in each if not isinstance(text, Mapping | list | bool))

    def _typed(self, number: float, unit: str) -> str:
        """Return a quantity as it is typed; empty where it is not usual."""
        try:
            value = self.about + parse_quantity(f"{number!r} {unit}", self.dimension)
        except ValueError:  # of a size that nothing has
            return ""
        usual = self._at(self.row.low) <= value <= self._at(self.row.high)
        if self.row.smallest:
            usual = usual and abs(value) >= self._at(self.row.smallest)
        return f"{number:g} {unit}".rstrip() if usual else ""


@cache
def _bound(words: str, dimension: Dimension) -> float:
    """Return a bound as typed in its row; every value of the quantity asks for it again."""
    return parse_quantity(words, dimension)


def impossible(field: Field, value: object, given: Any) -> str:
    """Return what is wrong with a value that no joint can have; empty where nothing is."""
    held = _held(field, value, given)
    if held is None or not (held.row.least or held.row.most):
        return ""
    beyond = held.beyond(held.row.least, held.row.most)
    if not beyond > NEGLIGIBLE_BELOW_ZERO:
        return ""
    bounds = [
        f"{word} {bound}"
        for word, bound in (("at least", held.row.least), ("at most", held.row.most))
        if bound
    ]
    words = f"{held.dimension.with_article} of {' and '.join(bounds)}, beyond which none can be"
    if not isinstance(held.law, Constant):
        words += f" (this law goes beyond with probability {beyond:.2g})"
    return f"{words}{held.meant()}"


def unusual(field: Field, value: object, given: Any) -> str:
    """Return what to warn of in a value that joints do not usually have, as the end of a sentence.

    Empty where nothing is.
    """
    if field.path.startswith(_ALLOWED) and isinstance(value, float):
        return _doubt_of_allowed(value, given)
    held = _held(field, value, given)
    if held is None:
        return ""
    beyond = held.unusual()
    if not beyond > _SHOWS:
        return ""
    if isinstance(held.law, Constant):
        is_so = format_quantity(held.law.value, held.dimension)
        if isinstance(given, str):
            is_so = given.strip()
        return f"{is_so}; {held.usual}{held.meant() or '.'}"
    mean = format_quantity(held.law.mean, held.dimension)
    share = f"{format_number(100 * beyond, 2)} %"
    return f"a law of mean {mean}, of which {share} is unusual; {held.usual}{held.meant() or '.'}"


def _doubt_of_allowed(value: float, given: Any) -> str:
    """Return what to warn of in an allowed probability; 1 is that of a side that does not matter.

    Examples
    --------
    >>> _doubt_of_allowed(0.1, 0.1).partition(";")[0]
    '0.1 is 10 %'
    >>> _doubt_of_allowed(1.0, 1), _doubt_of_allowed(0.1, "10 %"), _doubt_of_allowed(0.01, 0.01)
    ('', '', '')
    """
    text = str(given).strip()
    number, unit = split_quantity(text) or (value, "")
    is_bare = not unit and "/" not in text and value > _BARE_ALLOWED
    is_large = value > parse_quantity(MOST_ALLOWED, RATIO)
    if value == 1.0 or not (is_bare or is_large):
        return ""
    share = percent(value)
    is_so = f"{text} is {share}" if is_bare else text
    usual = f"; usual is at most {MOST_ALLOWED} ({JUDGEMENT})" if is_large else ""
    meant = ""
    if value > _HALF:
        meant = percent(1.0 - value)
    elif is_bare:
        meant = f"{number:g} %"
    meant = f"; is {meant} meant?" if meant else "."
    return f"{is_so}{usual}{meant} It is the probability with which the limit may be missed."


def _held(field: Field, value: object, given: Any) -> _Held | None:
    """Return a value beside its row; None where the table has none, or it is no quantity."""
    row = PLAUSIBLE_RANGES.get(field.path)
    if row is None:
        return None
    if isinstance(value, StatedLaw) and isinstance(field.kind, LawOf):
        kind = field.kind.input
        return _Held(row, kind.dimension, kind.about, value.law.best_estimate(), given)
    if isinstance(value, float) and isinstance(field.kind, Quantity):
        return _Held(row, field.kind.dimension, 0.0, Constant(value), given)
    return None
