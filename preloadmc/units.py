"""Quantities with units: read once into N, mm, MPa, K, rad, s, written once on the way out."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from preloadmc.typed_numbers import doubt_in_number, split_quantity
from preloadmc.unit_words import (
    DIVISORS,
    OF_ANGLE,
    OF_AREA,
    OF_COMPLIANCE,
    OF_EXPANSION,
    OF_FORCE,
    OF_LENGTH,
    OF_NONE,
    OF_STRESS,
    OF_TEMPERATURE,
    OF_TIME,
    OF_TORQUE,
    Exponents,
    multiplied,
    unit_factor,
    units_of,
)

Array = NDArray[np.float64]
FloatLike = float | Array

# The unit of every number inside.
_INTERNAL: dict[Exponents, str] = {
    OF_NONE: "",
    OF_FORCE: "N",
    OF_LENGTH: "mm",
    OF_TORQUE: "N·mm",
    OF_STRESS: "MPa",
    OF_TEMPERATURE: "K",
    OF_ANGLE: "rad",
    OF_TIME: "s",
    OF_AREA: "mm²",
    OF_COMPLIANCE: "mm/N",
    OF_EXPANSION: "1/K",
}


@dataclass(frozen=True, slots=True)
class Dimension:
    """What a quantity measures, with the unit it is printed in for each unit system."""

    name: str
    exponents: Exponents
    metric: str
    inch: str

    @property
    def with_article(self) -> str:
        """Return the name with its article, for messages."""
        return f"an {self.name}" if self.name[0] in "aeiou" else f"a {self.name}"

    def unit(self, system: str) -> str:
        """Return the printed unit for ``system``, "metric" or "inch"."""
        return self.inch if system == "inch" else self.metric

    @property
    def of_difference(self) -> Dimension:
        """Return the dimension of a width, such as an s.d.: that of a temperature has no zero."""
        return TEMPERATURE_DIFFERENCE if self is TEMPERATURE else self

    @property
    def internal(self) -> str:
        """Return the unit of its numbers inside the program and in documents."""
        return _INTERNAL[self.exponents]

    @property
    def examples(self) -> str:
        """Return the two printed units, for messages."""
        return self.metric if self.metric == self.inch else f"{self.metric} or {self.inch}"


FORCE = Dimension("force", OF_FORCE, "kN", "lbf")
TORQUE = Dimension("torque", OF_TORQUE, "N·m", "lbf·ft")
LENGTH = Dimension("length", OF_LENGTH, "mm", "in")
SMALL_LENGTH = Dimension("length", OF_LENGTH, "µm", "mil")
AREA = Dimension("area", OF_AREA, "mm²", "in²")
STRESS = Dimension("stress", OF_STRESS, "MPa", "ksi")
COMPLIANCE = Dimension("compliance", OF_COMPLIANCE, "µm/kN", "mil/kip")
EXPANSION = Dimension("thermal expansion", OF_EXPANSION, "ppm/K", "ppm/degF")
TEMPERATURE = Dimension("temperature", OF_TEMPERATURE, "degC", "degF")
TEMPERATURE_DIFFERENCE = Dimension("temperature difference", OF_TEMPERATURE, "K", "degF")
RATIO = Dimension("ratio", OF_NONE, "", "")
PERCENT = Dimension("ratio", OF_NONE, "%", "%")
ANGLE = Dimension("angle", OF_ANGLE, "deg", "deg")
TIME = Dimension("time", OF_TIME, "h", "h")

# Every dimension by its name; the others are printed in another unit, and named alike.
DIMENSIONS = {
    each.name: each
    for each in (
        RATIO, FORCE, TORQUE, LENGTH, AREA, STRESS, COMPLIANCE, EXPANSION, TEMPERATURE,
        TEMPERATURE_DIFFERENCE, ANGLE, TIME,
    )
}  # fmt: skip
_BY_EXPONENTS = {
    each.exponents: each for each in DIMENSIONS.values() if each is not TEMPERATURE_DIFFERENCE
}

_MULTIPLIED_BEHIND = re.compile(r"/[^/]*[A-Za-z][*·⋅. -][A-Za-z]")
# What the zeros of temperature scales are [K].
_ZEROS = {("K", 1): 0.0, ("degC", 1): 273.15, ("degF", 1): 273.15 - 32 * 5 / 9}
# Sizes in N, mm, MPa, N·mm, K, rad, s that anything can have, with much to spare: powers and
# products of such numbers stay far from where floating point ends.
SMALLEST, LARGEST = 1e-20, 1e20


@lru_cache(maxsize=4096)  # a register has the same few units in each row
def unit_scale(unit: str, dimension: Dimension) -> tuple[float, float]:
    """Return zero and size of a unit in N, mm, MPa, K, rad, s.

    Letter case does not matter where one unit alone can be meant in a quantity of this dimension:
    "KN" is kN, "nm" of a torque N·m.

    Parameters
    ----------
    unit : str
        As typed; empty for a bare number, which only a ratio is.
    dimension : Dimension
        What the unit must measure.

    Raises
    ------
    ValueError
        In plain words: no unit, an unknown one, another dimension, or one of several.

    Examples
    --------
    >>> unit_scale("KN", FORCE), unit_scale("nm", TORQUE), unit_scale("C", TEMPERATURE)
    ((0.0, 1000.0), (0.0, 1000.0), (273.15, 1.0))
    """
    if not unit:
        if dimension.exponents != OF_NONE:
            raise ValueError(f"{dimension.with_article} needs a unit, such as {dimension.examples}")
        return 0.0, 1.0
    try:
        units = units_of(unit, dimension.exponents)
    except ValueError as error:
        such_as = f"; {dimension.with_article} is wanted, such as in {dimension.examples}"
        raise ValueError(f"{error}{such_as if dimension.examples else ''}") from None
    if units is None:
        allowed = dimension.examples or "none, or %"
        # µm/m·K is often typed for µm/(m·K).
        divisors = f"; {DIVISORS}" if _MULTIPLIED_BEHIND.search(unit) else ""
        raise ValueError(
            f"{dimension.with_article} is wanted ({allowed}); '{unit}' is another dimension"
            f"{divisors}"
        )
    factor = multiplied(units)[0]
    if dimension is not TEMPERATURE:
        return 0.0, factor
    if len(units) > 1 or units[0] not in _ZEROS:
        raise ValueError("a temperature is wanted in K, degC or degF")
    return _ZEROS[units[0]], factor


def dimension_of(unit: str) -> Dimension | None:
    """Return what a unit measures; None where nothing of this program is measured in it.

    Raises
    ------
    ValueError
        As `unit_factor` does.

    Examples
    --------
    >>> dimension_of("N·m").name, dimension_of("").name, dimension_of("N·s")
    ('torque', 'ratio', None)
    """
    return _BY_EXPONENTS.get(unit_factor(unit)[1])


def parse_quantity(given: str | float, dimension: Dimension) -> float:
    """Return a quantity in N, mm, MPa, K, rad, s.

    Parameters
    ----------
    given : str or float
        A number with its unit; a bare number only for a ratio.
    dimension : Dimension
        What the quantity must measure.

    Returns
    -------
    float
        The quantity [N, mm, MPa, N·mm, K, rad, s].

    Raises
    ------
    ValueError
        In plain words: no unit, another dimension, unknown unit, not a finite number, a size that
        nothing has.

    Examples
    --------
    >>> round(parse_quantity("62 lbf·ft", TORQUE))
    84061
    >>> parse_quantity("6 %", RATIO)
    0.06
    """
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        such_as = (
            f"with its unit, such as {dimension.examples}" if dimension.examples else "or number"
        )
        raise ValueError(f"{dimension.with_article} as text {such_as}")
    if isinstance(given, str):
        if doubt := doubt_in_number(given):
            raise ValueError(doubt)
        split = split_quantity(given)
        if split is None:
            raise ValueError(
                f"a finite number with its unit ({dimension.examples or 'none, or %'})"
            )
        number, unit = split
    else:
        unit = ""
        try:
            number = float(given)
        except OverflowError:  # a whole number beyond the largest float
            number = math.inf
    if not math.isfinite(number):
        raise ValueError("a finite number")
    if not isinstance(given, str) and dimension.exponents != OF_NONE:
        raise ValueError(
            f"{dimension.with_article} needs a unit, such as {dimension.examples}: "
            f'"{given} {dimension.metric}"'
        )
    zero, factor = unit_scale(unit, dimension)
    return _of_possible_size(number * factor + zero, dimension)


def _of_possible_size(value: float, dimension: Dimension) -> float:
    """Return a quantity [N, mm, MPa, K, rad, s]; ValueError where nothing is of such a size."""
    if value and not SMALLEST <= abs(value) <= LARGEST:
        unit = f" {dimension.internal}" if dimension.internal else ""
        raise ValueError(
            f"{dimension.with_article} between {SMALLEST:g} and {LARGEST:g}{unit}, apart from its "
            "sign, or 0"
        )
    return value


def to_unit(value: float, unit: str, dimension: Dimension) -> float:
    """Return an internal value as a number of ``unit``.

    Parameters
    ----------
    value : float
        Quantity in N, mm, MPa, N·mm, K, rad, s.
    unit : str
        A unit of the dimension, such as "kN" or "lbf·ft"; empty for a ratio.
    dimension : Dimension
        What the quantity measures: a temperature has a zero of its own in each unit.

    Returns
    -------
    float
        Number of the unit.

    Examples
    --------
    >>> to_unit(368.15, "degC", TEMPERATURE)
    95.0
    """
    if not unit:
        return value
    zero, factor = unit_scale(unit, dimension)
    return round((value - zero) / factor, 9) if dimension is TEMPERATURE else value / factor


def format_number(value: float, digits: int = 4) -> str:
    """Return ``value`` with ``digits`` significant digits, without trailing noise.

    Parameters
    ----------
    value : float
        Number to print.
    digits : int
        Significant digits; whole digits are never cut.

    Returns
    -------
    str
        Without trailing zeros; with an exponent below 0.001 and from 10 million on.

    Examples
    --------
    >>> format_number(84061.0), format_number(0.00012345, 2), format_number(0.2500)
    ('84061', '1.2e-04', '0.25')
    """
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    exponent = math.floor(math.log10(abs(value)))
    if exponent < -3 or exponent >= 7:
        return f"{value:.{digits - 1}e}"
    text = f"{value:.{max(digits - 1 - exponent, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def format_quantity(
    value: float, dimension: Dimension, system: str = "metric", digits: int = 4
) -> str:
    """Return an internal value as text with its printed unit.

    Parameters
    ----------
    value : float
        Quantity in N, mm, MPa, N·mm, K, rad, s.
    dimension : Dimension
        What it measures.
    system : {"metric", "inch"}
        Whose unit is printed.
    digits : int
        Significant digits.

    Returns
    -------
    str
        Number and unit, such as "28 kN".

    Examples
    --------
    >>> format_quantity(28000.0, FORCE)
    '28 kN'
    >>> format_quantity(28000.0, FORCE, "inch")
    '6295 lbf'
    """
    unit = dimension.unit(system)
    text = format_number(to_unit(value, unit, dimension), digits)
    return f"{text} {unit}" if unit else text


# From long to short: what a time is told in.
_TOLD_IN = (("year", "years"), ("d", "days"), ("h", "h"), ("min", "min"), ("s", "s"))
_ONE = {"year": "year", "d": "day"}


def time_words(seconds: float) -> str:
    """Return a time in words, in the longest unit that tells it in three figures.

    Parameters
    ----------
    seconds : float
        Time [s], not negative.

    Examples
    --------
    >>> time_words(5 * 365.25 * 86400.0), time_words(86400.0), time_words(5400.0)
    ('5 years', '1 day', '1.5 h')
    """
    if seconds == 0.0:
        return "0 h"
    longest = None
    for unit, many in _TOLD_IN:
        number = to_unit(seconds, unit, TIME)
        if number < (0.5 if unit == "year" else 1.0 - 1e-9) and unit != "s":
            continue
        text = format_number(number, 3)
        words = f"{text} {_ONE.get(unit, many) if text == '1' else many}"
        if abs(float(text) - number) <= 1e-6 * number:
            return words
        if number >= 1.0 or unit == "s":
            longest = longest or words
    assert longest is not None, "any time has seconds"
    return longest
