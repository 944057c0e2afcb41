"""Units by the words that people type for them: one table, and expressions of its units."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterator, Mapping
from difflib import get_close_matches
from functools import cache
from itertools import chain, product
from typing import NamedTuple

from preloadmc.typed_numbers import lowered

# Exponents of (force, length, temperature, angle, time).
Exponents = tuple[int, int, int, int, int]

OF_NONE: Exponents = (0, 0, 0, 0, 0)
OF_FORCE: Exponents = (1, 0, 0, 0, 0)
OF_LENGTH: Exponents = (0, 1, 0, 0, 0)
OF_TORQUE: Exponents = (1, 1, 0, 0, 0)
OF_STRESS: Exponents = (1, -2, 0, 0, 0)
OF_TEMPERATURE: Exponents = (0, 0, 1, 0, 0)
OF_ANGLE: Exponents = (0, 0, 0, 1, 0)
OF_TIME: Exponents = (0, 0, 0, 0, 1)
OF_AREA: Exponents = (0, 2, 0, 0, 0)
OF_COMPLIANCE: Exponents = (-1, 1, 0, 0, 0)
OF_EXPANSION: Exponents = (0, 0, -1, 0, 0)

# Exact by definition: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, g_n = 9.80665 m/s2, 1 d = 86400 s
# (NIST SP 811, Appendix B); 1 year = 365.25 d, the Julian year (IAU Style Manual, Sec. 5.15).
_INCH = 25.4
_LBF = 0.45359237 * 9.80665
_DAY = 86400.0

_UNITS: dict[str, tuple[float, Exponents]] = {
    "N": (1.0, OF_FORCE),
    "mN": (1e-3, OF_FORCE),
    "cN": (1e-2, OF_FORCE),
    "daN": (10.0, OF_FORCE),
    "kN": (1e3, OF_FORCE),
    "MN": (1e6, OF_FORCE),
    "lbf": (_LBF, OF_FORCE),
    "kip": (1e3 * _LBF, OF_FORCE),
    "kgf": (9.80665, OF_FORCE),
    "Nm": (1e3, OF_TORQUE),
    "Nmm": (1.0, OF_TORQUE),
    "kNm": (1e6, OF_TORQUE),
    "nm": (1e-6, OF_LENGTH),
    "um": (1e-3, OF_LENGTH),
    "mm": (1.0, OF_LENGTH),
    "cm": (10.0, OF_LENGTH),
    "m": (1e3, OF_LENGTH),
    "uin": (_INCH / 1e6, OF_LENGTH),
    "mil": (_INCH / 1e3, OF_LENGTH),
    "in": (_INCH, OF_LENGTH),
    "ft": (12 * _INCH, OF_LENGTH),
    "Pa": (1e-6, OF_STRESS),
    "kPa": (1e-3, OF_STRESS),
    "MPa": (1.0, OF_STRESS),
    "GPa": (1e3, OF_STRESS),
    "bar": (0.1, OF_STRESS),
    "psi": (_LBF / _INCH**2, OF_STRESS),
    "ksi": (1e3 * _LBF / _INCH**2, OF_STRESS),
    "Msi": (1e6 * _LBF / _INCH**2, OF_STRESS),
    "K": (1.0, OF_TEMPERATURE),
    "degC": (1.0, OF_TEMPERATURE),
    "degF": (5 / 9, OF_TEMPERATURE),
    "rad": (1.0, OF_ANGLE),
    "deg": (math.pi / 180, OF_ANGLE),
    "turn": (2 * math.pi, OF_ANGLE),
    "s": (1.0, OF_TIME),
    "min": (60.0, OF_TIME),
    "h": (3600.0, OF_TIME),
    "d": (_DAY, OF_TIME),
    "week": (7 * _DAY, OF_TIME),
    "year": (365.25 * _DAY, OF_TIME),
    "%": (1e-2, OF_NONE),
    "‰": (1e-3, OF_NONE),
    "ppm": (1e-6, OF_NONE),
    "1": (1.0, OF_NONE),
}
# Other words for them. There are no masses here, so that a pound is a force; a kilopond is the old
# name of a kilogram-force.
_SPELLINGS: dict[str, str] = {
    **dict.fromkeys(("newton", "newtons"), "N"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lbf"),
    "kips": "kip",
    "kp": "kgf",
    **dict.fromkeys(("micron", "microns"), "um"),
    **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("thou", "mils"), "mil"),
    **dict.fromkeys(("inch", "inches"), "in"),
    **dict.fromkeys(("foot", "feet"), "ft"),
    "kelvin": "K",
    "celsius": "degC",
    "fahrenheit": "degF",
    **dict.fromkeys(("degree", "degrees"), "deg"),
    **dict.fromkeys(("turns", "revolution", "revolutions"), "turn"),
    **dict.fromkeys(("sec", "second", "seconds"), "s"),
    **dict.fromkeys(("minute", "minutes"), "min"),
    **dict.fromkeys(("hr", "hrs", "hour", "hours"), "h"),
    **dict.fromkeys(("day", "days"), "d"),
    "weeks": "week",
    **dict.fromkeys(("years", "yr", "yrs"), "year"),
    **dict.fromkeys(("percent", "pct"), "%"),
}
# Torques in one word, as ftlb, kpm and Ncm.
_TORQUES: dict[str, tuple[str, ...]] = {
    word: (force, length)
    for forces, lengths, mirrored in (
        (("N", "kN", "MN", "mN", "cN", "daN", "kgf", "kp"), ("m", "cm", "mm"), False),
        (("lbf", "lb", "lbs"), ("ft", "in"), True),
    )
    for force in forces
    for length in lengths
    for word in ((force + length, length + force) if mirrored else (force + length,))
    if word not in _UNITS
}
# What is typed for a unit and is none of this program's, with what to write.
_OTHERS = {
    **dict.fromkeys(("kg", "g"), "is a mass: write a force in kgf, N or kN"),
    **dict.fromkeys(("kgm", "mkg", "kgcm"), "is written kgf·m or kgf·cm"),
    **dict.fromkeys(
        ("t", "ton", "tons", "tonne", "tonnes", "tonf", "tf"),
        "is one of several tons: write kN or lbf",
    ),
    **dict.fromkeys(("month", "months"), "has no fixed length: write days"),
}

DIVISORS = "put each divisor behind its own /, as in um/m/K"
# Of an expression in any letter case; no unit of this program has as many.
_MOST_READINGS = 64
_REPLACED = str.maketrans(
    {"µ": "u", "μ": "u", "·": "*", "⋅": "*", "×": "*", "°": "deg", "º": "deg", "˚": "deg",
     "℃": "degC", "℉": "degF", '"': "in", "″": "in", "”": "in"}
)  # fmt: skip
# In turn: words for signs, a point at the end of a short word, blanks about signs, and points,
# hyphens and blanks between units.
_TIDIED = (
    (re.compile(r"\bper cent\b"), "%"),
    (re.compile(r"\bper\b"), "/"),
    (re.compile(r"\bdeg(?:rees?)?\s*([CF])\b"), r"deg\1"),
    (re.compile(r"(?<=[A-Za-z])\.(?![A-Za-z])"), ""),
    (re.compile(r"\s*([*/^])\s*"), r"\1"),
    (re.compile(r"(?<=[A-Za-z])[.\-](?=[A-Za-z])|\s+"), "*"),
    (re.compile(r"(?<=[A-Za-z])(?=[23]\b)"), "^"),
    (re.compile(r"^/"), "1/"),
)
# A unit expression may begin with 1 only as in 1/K, and no quantity here needs a power above 9.
_TOKEN = re.compile(r"([*/])?([A-Za-z%‰]+|1(?=/))(?:\^(-?\d)(?!\d))?")

# Units with their powers.
Product = tuple[tuple[str, int], ...]


def unit_factor(unit: str) -> tuple[float, Exponents]:
    """Return the factor to N, mm, K, rad, s and the exponents of a unit expression.

    Parameters
    ----------
    unit : str
        Products and quotients of known units, such as ``N·m``, ``lbf*ft``, ``um/kN``, ``1/K``, and
        their usual spellings, such as ``ft-lb``.

    Raises
    ------
    ValueError
        If a unit is unknown or the expression cannot be read; the message names the nearest.

    Examples
    --------
    >>> unit_factor("kN")[0]
    1000.0
    >>> unit_factor("ft-lb") == unit_factor("lbf·ft") == unit_factor("ftlbs")
    True
    """
    factored: list[tuple[str, int]] = []
    for word, power in _words_of(unit):
        names = _names_of(word)
        if not names:
            if word.casefold() in _OTHERS:
                raise ValueError(f"'{word}' {_OTHERS[word.casefold()]}")
            raise ValueError(f"unknown unit '{word}'{_nearest(word)}")
        factored += ((name, power) for name in names)
    return multiplied(tuple(factored))


def _words_of(unit: str) -> Product:
    """Return the words of a unit expression with their powers; ValueError where it is none."""
    text = lowered(unit.strip()).translate(_REPLACED)
    for pattern, sign in _TIDIED:
        text = pattern.sub(sign, text)
    words, position = [], 0
    while position < len(text):
        match = _TOKEN.match(text, position)
        if match is None or (match[1] is None) != (position == 0):
            brackets = f": {DIVISORS}" if "(" in text and "/" in text else ""
            raise ValueError(f"cannot read the unit '{unit}'{brackets}")
        words.append((match[2], int(match[3] or 1) * (-1 if match[1] == "/" else 1)))
        position = match.end()
    return tuple(words)


def _names_of(word: str) -> tuple[str, ...]:
    """Return the units that a word names, in its letter case; none for another word."""
    if word in _UNITS:
        return (word,)
    if word in _TORQUES:
        return tuple(_SPELLINGS.get(name, name) for name in _TORQUES[word])
    return (_SPELLINGS[word],) if word in _SPELLINGS else ()


def _all_words() -> Iterator[str]:
    yield from (*_UNITS, *_SPELLINGS, *_TORQUES)


@cache
def _by_folded_word() -> dict[str, set[tuple[str, ...]]]:
    """Return what a word may name in any letter case; the degrees of a temperature may be left."""
    found: dict[str, set[tuple[str, ...]]] = {"c": {("degC",)}, "f": {("degF",)}}
    for word in _all_words():
        found.setdefault(word.casefold(), set()).add(_names_of(word))
    return found


def _may_name(word: str) -> Collection[tuple[str, ...]]:
    """Return what a word may name: another letter case matters not where it has no capitals."""
    names = _names_of(word)
    return (names,) if names and word != word.lower() else _by_folded_word()[word.casefold()]


class Spelling(NamedTuple):
    """A word for units; ``any_case`` tells whether letter case matters not.

    ``others`` are spellings of it with capitals that measure something else.
    """

    word: str
    any_case: bool
    others: tuple[str, ...] = ()


@cache
def spellings() -> Mapping[Exponents, tuple[Spelling, ...]]:
    """Return the words that are read as a unit, by the exponents of what they measure."""
    found: dict[Exponents, list[Spelling]] = {}
    for folded, choices in _by_folded_word().items():
        spelled = [word for word in _all_words() if word.casefold() == folded]
        measured = {names: multiplied(tuple((name, 1) for name in names)) for names in choices}
        for exponents in {exponents for _, exponents in measured.values()}:
            factors = {factor for factor, each in measured.values() if each == exponents}
            own = [word for word in spelled if measured[_names_of(word)][1] == exponents]
            others = tuple(word for word in spelled if word not in own and word != word.lower())
            found.setdefault(exponents, []).extend(
                [Spelling(folded, True, others)]
                if len(factors) == 1
                else (Spelling(word, False) for word in own)
            )
    return {exponents: tuple(words) for exponents, words in found.items()}


def named_units() -> Mapping[Exponents, tuple[str, ...]]:
    """Return the units of the table, by the exponents of what they measure."""
    found: dict[Exponents, tuple[str, ...]] = {}
    for name, (_, exponents) in _UNITS.items():
        found[exponents] = (*found.get(exponents, ()), name)
    return found


def multiplied(units: Product) -> tuple[float, Exponents]:
    """Return the factor to N, mm, K, rad, s and the exponents of units with their powers."""
    factor, exponents = 1.0, [0, 0, 0, 0, 0]
    for name, power in units:
        base, base_exponents = _UNITS[name]
        factor *= base**power
        exponents = [e + power * b for e, b in zip(exponents, base_exponents, strict=True)]
    return factor, (exponents[0], exponents[1], exponents[2], exponents[3], exponents[4])


def units_of(unit: str, wanted: Exponents) -> Product | None:
    """Return the units of an expression; None where they measure something else than is wanted.

    Letter case does not matter where it leaves one reading that measures what is wanted. But what
    is typed with capitals as a unit has them is that unit: no torque is meant by "nm" where "Nm"
    stands.

    Raises
    ------
    ValueError
        As `unit_factor` does, and where letter case alone tells which of several is meant.
    """
    words = _words_of(unit)
    try:
        exponents = unit_factor(unit)[1]
    except ValueError:
        if not all(word.casefold() in _by_folded_word() for word, _ in words):
            raise
    else:
        if exponents == wanted:
            return tuple((name, power) for word, power in words for name in _names_of(word))
    choices = [
        [tuple((name, power) for name in names) for names in _may_name(word)]
        for word, power in words
    ]
    if math.prod(map(len, choices)) > _MOST_READINGS:
        return None
    readings: dict[float, Product] = {}
    for parts in product(*choices):
        reading = tuple(chain.from_iterable(parts))
        factor, exponents = multiplied(reading)
        if exponents == wanted:
            readings[factor] = reading
    if len(readings) > 1:
        names = " or ".join("·".join(name for name, _ in each) for each in readings.values())
        raise ValueError(f"'{unit}' is {names}: write which")
    return next(iter(readings.values()), None)


def _nearest(word: str) -> str:
    """Return '; nearest: x' for the unit most like ``word``, or an empty text."""
    alike = [unit for unit in _UNITS if unit.lower() == word.lower()]
    alike = alike or [unit for unit in _UNITS if unit.startswith("deg") and unit[3:] == word]
    near = alike or get_close_matches(word, _UNITS, n=1, cutoff=0.6)
    return f"; nearest: {' or '.join(near)}" if near else ""
