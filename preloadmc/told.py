"""Texts in which quantities stand, printed in the units of whoever reads them; and lists."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from preloadmc.units import Dimension, format_quantity


@dataclass(frozen=True, slots=True)
class Magnitude:
    """A quantity that is still to be printed in the reader's units, with so many digits.

    ``value`` is in N, mm, MPa, N·mm, K, rad, s.
    """

    value: float
    dimension: Dimension
    digits: int = 4

    def words(self, system: str = "metric") -> str:
        """Return it with its unit."""
        return format_quantity(self.value, self.dimension, system, self.digits)


Told = str | tuple[str | Magnitude, ...]
"""A text, in pieces where quantities stand in it."""


def told_words(told: Told, system: str = "metric") -> str:
    """Return a text with its quantities in the units of ``system``.

    Examples
    --------
    >>> from preloadmc.units import LENGTH
    >>> told_words((Magnitude(25.4, LENGTH), " of plain shank"), "inch")
    '1 in of plain shank'
    """
    pieces = (told,) if isinstance(told, str) else told
    return "".join(each if isinstance(each, str) else each.words(system) for each in pieces)


def percent(share: float) -> str:
    """Return a share as a percentage, without powers of ten and without noise in its last digits.

    Examples
    --------
    >>> percent(0.1), percent(1e-3), percent(1.0 - 0.999), percent(1e-6)
    ('10 %', '0.1 %', '0.1 %', '0.0001 %')
    """
    return f"{Decimal(f'{100.0 * share:.6g}').normalize():f} %"


def and_words(parts: Sequence[str]) -> str:
    """Return parts as a list in a sentence: "a", "a and b", "a, b and c".

    Examples
    --------
    >>> and_words(["slip", "yield", "separation"])
    'slip, yield and separation'
    """
    *first, last = parts
    return f"{', '.join(first)} and {last}" if first else last
