"""A hand calculation as records: steps with their formula in symbols and in numbers."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from preloadmc.units import (
    ANGLE,
    AREA,
    COMPLIANCE,
    EXPANSION,
    FORCE,
    LENGTH,
    PERCENT,
    RATIO,
    SMALL_LENGTH,
    STRESS,
    TEMPERATURE,
    TORQUE,
    Dimension,
    FloatLike,
    format_quantity,
)

# A symbol in braces, with the sign of a quotient before it and of a power or quotient after it.
_PLACE = re.compile(r"(/)?\{([^}]+)\}(?=([²³/])?)")


@dataclass(frozen=True, slots=True)
class Value:
    """A quantity of a formula: its symbol there, its value in N, mm, MPa, K, rad."""

    symbol: str
    value: float
    dimension: Dimension

    def words(self, system: str, before: str = "", after: str = "") -> str:
        """Return the value with its unit, in brackets where its neighbours ask for them.

        A sign, a power and a quotient beside a unit that is a quotient itself do.
        """
        text = format_quantity(self.value, self.dimension, system)
        power = after in ("²", "³")
        quotient = "/" in text and "/" in (before, after)
        return f"({text})" if text.startswith("-") or power or quotient else text


@dataclass(frozen=True, slots=True)
class Step:
    """One step: ``symbol = formula``.

    In ``formula`` each symbol of ``values`` stands in braces; an empty formula is a value as
    stated. ``value`` is in N, mm, MPa, K, rad.
    """

    title: str
    symbol: str
    formula: str
    values: tuple[Value, ...]
    value: float
    dimension: Dimension
    source: str
    note: str = ""

    @property
    def in_symbols(self) -> str:
        """Return the right side of the formula in symbols."""
        return self.formula.replace("{", "").replace("}", "")

    def in_numbers(self, system: str) -> str:
        """Return the right side of the formula with numbers and units put in."""
        known = {value.symbol: value for value in self.values}

        def words(match: re.Match[str]) -> str:
            before, symbol, after = match[1] or "", match[2], match[3] or ""
            return before + known[symbol].words(system, before, after)

        return _PLACE.sub(words, self.formula)

    def result(self, system: str) -> str:
        """Return the value with its unit."""
        return format_quantity(self.value, self.dimension, system)


@dataclass(frozen=True, slots=True)
class Chapter:
    """Steps that belong together."""

    title: str
    steps: tuple[Step, ...]


def _maker(dimension: Dimension) -> Callable[[str, FloatLike | None], Value]:
    def made(symbol: str, value: FloatLike | None) -> Value:
        assert value is not None, symbol
        return Value(symbol, float(value), dimension)

    return made


force, length, ratio, stress, area = (_maker(d) for d in (FORCE, LENGTH, RATIO, STRESS, AREA))
torque, compliance, small = (_maker(d) for d in (TORQUE, COMPLIANCE, SMALL_LENGTH))
percent, temperature, expansion = (_maker(d) for d in (PERCENT, TEMPERATURE, EXPANSION))
angle = _maker(ANGLE)
