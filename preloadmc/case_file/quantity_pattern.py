"""Quantities as text, as a regular expression: a number with a unit of the right dimension.

A unit of one or two factors is judged. What more factors, negative or odd powers measure, no short
expression tells: they pass, if each factor is a known unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product

from preloadmc.units import DIVISOR, NUMBER, TEMPERATURE, Dimension, named_units

# All that is read as a product; a point and a hyphen only between letters.
_TIMES = "[*·⋅×. -]"
_POWERS = {1: "", 2: r"(?:\^?2|\^?²)", 3: r"(?:\^?3|\^?³)"}
# What is not judged: three factors, any other power, a power of a share.
_NOT_JUDGED = (
    r"(?:[*/·⋅×. ]|-(?=[A-Za-z°µμ])).*(?:[*/·⋅×. ]|-(?=[A-Za-z°µμ]))",
    r"⁻|\^[-¹0-14-9]",
    r"(?:%|ppm)[\^23²³]",
)
_ANY_POWER = r"[\^⁻¹²³\d-]*"


def units_of(dimension: Dimension) -> tuple[str, ...]:
    """Return units of a dimension: those that are printed, then the others that have a name.

    Examples
    --------
    >>> from preloadmc.units import TORQUE
    >>> units_of(TORQUE)
    ('N·m', 'lbf·ft', 'Nm', 'Nmm', 'kNm')
    """
    printed = (unit for unit in (dimension.metric, dimension.inch) if unit)
    named = (unit for unit in named_units().get(dimension.exponents, ()) if unit != "1")
    return tuple(dict.fromkeys((*printed, *named)))


def quantity_pattern(dimension: Dimension) -> str:
    """Return a regular expression of JSON Schema that every quantity of a dimension matches.

    Examples
    --------
    >>> import re
    >>> from preloadmc.units import TORQUE
    >>> pattern = re.compile(quantity_pattern(TORQUE))
    >>> [bool(pattern.search(text)) for text in ("84 N·m", "84 lbf ft", "84 MPa", "84 N/m", "84")]
    [True, True, False, False, False]
    """
    unit = "|".join(_units(dimension))
    may_be_bare = "" if any(dimension.exponents) else "?"
    return rf"^\s*{NUMBER}(?:\s*/\s*{DIVISOR})?\s*(?:{unit}){may_be_bare}\s*$"


def _units(dimension: Dimension) -> Iterator[str]:
    """Yield regular expressions that the units of a dimension match."""
    words = named_units()
    if dimension is TEMPERATURE:  # each unit has a zero of its own
        yield _one_of(words[dimension.exponents])
        return
    factors = [
        (exponents, power) for exponents in words for power in (_POWERS if any(exponents) else (1,))
    ]
    spelled = {factor: _one_of(words[factor[0]]) + _POWERS[factor[1]] for factor in factors}
    for factor in factors:
        if _measured(factor) == dimension.exponents:
            yield spelled[factor]
    for first, second in product(factors, factors):
        for between, sign in ((_TIMES, 1), ("/", -1)):
            if _measured(first, second, sign) == dimension.exponents:
                yield f"{spelled[first]}{between}{spelled[second]}"
    known = _one_of(word for each in words.values() for word in each)
    any_factor = f"{known}{_ANY_POWER}"
    yield rf"(?=.*(?:{'|'.join(_NOT_JUDGED)})){any_factor}(?:(?:{_TIMES}|/){any_factor})*"


_Factor = tuple[tuple[int, ...], int]


def _measured(first: _Factor, second: _Factor | None = None, sign: int = 1) -> tuple[int, ...]:
    """Return the exponents of a unit of one or two factors, each with its power."""
    exponents, power = first
    others, other = (exponents, 0) if second is None else second
    return tuple(power * a + sign * other * b for a, b in zip(exponents, others, strict=True))


def _one_of(units: Iterable[str]) -> str:
    """Return one of some units, in every way that each is spelled."""
    spelled = (unit.replace("u", "[uµμ]").replace("deg", "(?:deg|°)") for unit in units)
    return f"(?:{'|'.join(spelled)})"
