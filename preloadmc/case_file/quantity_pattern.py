"""Quantities as text, as a regular expression: a number with a unit of the right dimension.

All is made of the table of units (`unit_words.py`), in each letter case that is read. A unit of one
or two factors is judged. What more factors, negative or odd powers measure, no short expression
tells: they pass, if each factor is a known unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from itertools import product

from preloadmc.case_file.typed_spreads import SIGN
from preloadmc.typed_numbers import number_pattern
from preloadmc.unit_words import OF_NONE, Exponents, Spelling, named_units, spellings
from preloadmc.units import TEMPERATURE, Dimension

# All that is read as a product or a quotient, and what stands before the divisor in 1/K.
_TIMES = r"(?:\s*[*·⋅×]\s*|\s+|[.−–-])"
_OVER = r"\s*(?:/|\bper\b)\s*"
_ONE_OVER = rf"(?:1{_OVER}|{_OVER})"
_BETWEEN = rf"(?:{_OVER}|{_TIMES})"
_POWERS = {1: r"\.?", 2: r"(?:\s*\^\s*2|2|²)", 3: r"(?:\s*\^\s*3|3|³)"}
_ANY_POWER = r"(?:\.|[23]|[⁰¹²³⁴-⁹⁻]+|\s*\^\s*[−–-]?\d)?"
# What is not judged: any other power, a power of a share.
_ODD = r"[⁻⁰¹⁴-⁹]|\^\s*[−–014-9-]|(?:[%‰]|[Pp][Pp][Mm])\s*[\^23²³]"
# Degrees are also typed as a sign, and with a blank before the scale; so are inches.
_ALSO = {
    "degc": "℃|deg(?:rees?)?\\s+C|[°º˚]\\s+C",
    "degf": "℉|deg(?:rees?)?\\s+F|[°º˚]\\s+F",
    "%": r"\bper cent\b",
}
_SIGNS = {"[Dd][Ee][Gg]": "(?:[Dd][Ee][Gg]|[°º˚])", "[Ii][Nn]": '(?:[Ii][Nn]|["″”])'}


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

    Before it may stand the ± of a half width. A unit that is not judged has an expression of its
    own, `odd_pattern`.

    Examples
    --------
    >>> import re
    >>> from preloadmc.units import TORQUE
    >>> pattern = re.compile(quantity_pattern(TORQUE))
    >>> [bool(pattern.search(text)) for text in ("84 N·m", "62 FT-LBS", "84 MPa", "84 N/m", "84")]
    [True, True, False, False, False]
    """
    unit = "|".join(_units(dimension))
    may_be_bare = "" if any(dimension.exponents) else "?"
    return number_pattern(f"(?:{SIGN})?", f"(?:{unit}){may_be_bare}")


def odd_pattern() -> str:
    """Return a regular expression of JSON Schema for a number with a unit that is not judged."""
    known = "|".join(_spelled(Spelling(each.word, True)) for each in _all_spellings())
    factor = f"(?:{known}){_ANY_POWER}"
    odd = rf"(?=.*(?:{_ODD})){factor}(?:{_BETWEEN}{factor})*"
    divisor = rf"{_ONE_OVER}{factor}(?:{_BETWEEN}{factor})*"
    unit = f"{odd}|{factor}(?:{_BETWEEN}{factor}){{2,}}|(?=.*(?:{_ODD})){divisor}"
    unit = f"{unit}|{_ONE_OVER}{factor}(?:{_BETWEEN}{factor})+"
    return number_pattern(f"(?:{SIGN})?", f"(?:{unit})")


def _units(dimension: Dimension) -> Iterator[str]:
    """Yield regular expressions that the units of a dimension match."""
    words = spellings()
    if dimension is TEMPERATURE:  # each unit has a zero of its own
        yield _one_of(dimension.exponents)
        return
    factors = [
        (exponents, power) for exponents in words for power in (_POWERS if any(exponents) else (1,))
    ]
    spelled = {factor: _one_of(factor[0]) + _POWERS[factor[1]] for factor in factors}
    for factor in factors:
        if _measured(factor) == dimension.exponents:
            yield spelled[factor]
        if _measured((OF_NONE, 1), factor, -1) == dimension.exponents:
            yield f"{_ONE_OVER}{spelled[factor]}"
    for first, second in product(factors, factors):
        for between, sign in ((_TIMES, 1), (_OVER, -1)):
            if _measured(first, second, sign) == dimension.exponents:
                yield f"{spelled[first]}{between}{spelled[second]}"


_Factor = tuple[Exponents, int]


def _measured(first: _Factor, second: _Factor | None = None, sign: int = 1) -> tuple[int, ...]:
    """Return the exponents of a unit of one or two factors, each with its power."""
    exponents, power = first
    others, other = (exponents, 0) if second is None else second
    return tuple(power * a + sign * other * b for a, b in zip(exponents, others, strict=True))


def _all_spellings() -> Iterator[Spelling]:
    for words in spellings().values():
        yield from words


@cache
def _one_of(exponents: Exponents) -> str:
    """Return one of the units that measure the same, in every way that each is spelled."""
    return f"(?:{'|'.join(map(_spelled, _unlike_one(spellings()[exponents])))})"


def _unlike_one(words: Iterable[Spelling]) -> Iterator[Spelling]:
    # The number 1 stands before a divisor alone.
    return (each for each in words if each.word != "1")


def _spelled(spelling: Spelling) -> str:
    """Return a unit as a regular expression; those of JSON Schema know no letter case."""
    word = spelling.word
    if not spelling.any_case:
        return word.replace("u", "[uµμ]")
    found = "".join(
        f"[{mark.upper()}{mark}{'µμ' if mark == 'u' else ''}]" if mark.isalpha() else mark
        for mark in word
    )
    for letters, sign in _SIGNS.items():
        found = found.replace(letters, sign)
    others = "".join(rf"(?!{other}(?![A-Za-z]))" for other in spelling.others)
    return "|".join(filter(None, (others + found, _ALSO.get(word))))
