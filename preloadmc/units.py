"""Quantities with units: read once into N, mm, MPa, K, rad, s, written once on the way out."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FloatLike = float | Array

# Exponents of (force, length, temperature, angle, time).
_Exponents = tuple[int, int, int, int, int]

_NONE: _Exponents = (0, 0, 0, 0, 0)
_FORCE: _Exponents = (1, 0, 0, 0, 0)
_LENGTH: _Exponents = (0, 1, 0, 0, 0)
_TORQUE: _Exponents = (1, 1, 0, 0, 0)
_STRESS: _Exponents = (1, -2, 0, 0, 0)
_TEMPERATURE: _Exponents = (0, 0, 1, 0, 0)
_ANGLE: _Exponents = (0, 0, 0, 1, 0)
_TIME: _Exponents = (0, 0, 0, 0, 1)
_AREA: _Exponents = (0, 2, 0, 0, 0)
_COMPLIANCE: _Exponents = (-1, 1, 0, 0, 0)
_EXPANSION: _Exponents = (0, 0, -1, 0, 0)

# The unit of every number inside.
_INTERNAL: dict[_Exponents, str] = {
    _NONE: "",
    _FORCE: "N",
    _LENGTH: "mm",
    _TORQUE: "N·mm",
    _STRESS: "MPa",
    _TEMPERATURE: "K",
    _ANGLE: "rad",
    _TIME: "s",
    _AREA: "mm²",
    _COMPLIANCE: "mm/N",
    _EXPANSION: "1/K",
}

# Exact by definition: 1 in = 25.4 mm; 1 lb = 0.45359237 kg; g_n = 9.80665 m/s2 (BIPM, NIST SP 811).
_INCH = 25.4
_LBF = 0.45359237 * 9.80665

_UNITS: dict[str, tuple[float, _Exponents]] = {
    "N": (1.0, _FORCE),
    "kN": (1e3, _FORCE),
    "MN": (1e6, _FORCE),
    "lbf": (_LBF, _FORCE),
    "kip": (1e3 * _LBF, _FORCE),
    "kgf": (9.80665, _FORCE),
    "Nm": (1e3, _TORQUE),
    "Nmm": (1.0, _TORQUE),
    "kNm": (1e6, _TORQUE),
    "nm": (1e-6, _LENGTH),
    "um": (1e-3, _LENGTH),
    "mm": (1.0, _LENGTH),
    "cm": (10.0, _LENGTH),
    "m": (1e3, _LENGTH),
    "in": (_INCH, _LENGTH),
    "mil": (_INCH / 1e3, _LENGTH),
    "ft": (12 * _INCH, _LENGTH),
    "Pa": (1e-6, _STRESS),
    "kPa": (1e-3, _STRESS),
    "MPa": (1.0, _STRESS),
    "GPa": (1e3, _STRESS),
    "bar": (0.1, _STRESS),
    "psi": (_LBF / _INCH**2, _STRESS),
    "ksi": (1e3 * _LBF / _INCH**2, _STRESS),
    "K": (1.0, _TEMPERATURE),
    "degC": (1.0, _TEMPERATURE),
    "degF": (5 / 9, _TEMPERATURE),
    "rad": (1.0, _ANGLE),
    "deg": (math.pi / 180, _ANGLE),
    "turn": (2 * math.pi, _ANGLE),
    "s": (1.0, _TIME),
    "min": (60.0, _TIME),
    "h": (3600.0, _TIME),
    "d": (86400.0, _TIME),
    "%": (1e-2, _NONE),
    "ppm": (1e-6, _NONE),
    "1": (1.0, _NONE),
}

_REPLACED = str.maketrans(
    {"µ": "u", "μ": "u", "·": "*", "⋅": "*", "×": "*", "²": "^2", "³": "^3", "⁻": "^-", "¹": "1"}
)


@dataclass(frozen=True, slots=True)
class Dimension:
    """What a quantity measures, with the unit it is printed in for each unit system."""

    name: str
    exponents: _Exponents
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


FORCE = Dimension("force", _FORCE, "kN", "lbf")
TORQUE = Dimension("torque", _TORQUE, "N·m", "lbf·ft")
LENGTH = Dimension("length", _LENGTH, "mm", "in")
SMALL_LENGTH = Dimension("length", _LENGTH, "µm", "mil")
AREA = Dimension("area", _AREA, "mm²", "in²")
STRESS = Dimension("stress", _STRESS, "MPa", "ksi")
COMPLIANCE = Dimension("compliance", _COMPLIANCE, "µm/kN", "mil/kip")
EXPANSION = Dimension("thermal expansion", _EXPANSION, "ppm/K", "ppm/degF")
TEMPERATURE = Dimension("temperature", _TEMPERATURE, "degC", "degF")
TEMPERATURE_DIFFERENCE = Dimension("temperature difference", _TEMPERATURE, "K", "degF")
RATIO = Dimension("ratio", _NONE, "", "")
PERCENT = Dimension("ratio", _NONE, "%", "%")
ANGLE = Dimension("angle", _ANGLE, "deg", "deg")
TIME = Dimension("time", _TIME, "h", "h")

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

# Sizes in N, mm, MPa, N·mm, K, rad, s that anything can have, with much to spare: powers and
# products of such numbers stay far from where floating point ends.
SMALLEST, LARGEST = 1e-20, 1e20
# No number with its unit is longer.
LONGEST_QUANTITY = 100

# The number of a quantity, and what may divide it as in 3/8.
NUMBER = r"[+-]?(?:\d[\d_]*\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
DIVISOR = r"[1-9]\d*"
_NUMBER = re.compile(rf"\s*({NUMBER})(?:\s*/\s*({DIVISOR}))?\s*(.*)", re.DOTALL)
# A unit expression may begin with 1 only as in 1/K, and no quantity here needs a power above 9.
_TOKEN = re.compile(r"([*/])?([A-Za-z%]+|1(?=/))(?:\^(-?\d)(?!\d))?")


def unit_factor(unit: str) -> tuple[float, _Exponents]:
    """Return the factor to N, mm, K, rad, s and the exponents of a unit expression.

    Parameters
    ----------
    unit : str
        Products and quotients of known units, such as ``N·m``, ``lbf*ft``, ``um/kN``, ``1/K``.

    Raises
    ------
    ValueError
        If a unit is unknown or the expression cannot be read; the message names the nearest.

    Examples
    --------
    >>> unit_factor("kN")[0]
    1000.0
    """
    text = unit.strip().translate(_REPLACED).replace("°", "deg").replace(" ", "*")
    text = re.sub(r"(?<=[A-Za-z])[.\-](?=[A-Za-z])", "*", text)
    text = re.sub(r"(?<=[A-Za-z])(?=[23]\b)", "^", text)
    factor, exponents, position = 1.0, [0, 0, 0, 0, 0], 0
    while position < len(text):
        match = _TOKEN.match(text, position)
        if match is None or (match[1] is None) != (position == 0):
            raise ValueError(f"cannot read the unit '{unit}'")
        if match[2] not in _UNITS:
            raise ValueError(f"unknown unit '{match[2]}'{_nearest(match[2])}")
        power = int(match[3] or 1) * (-1 if match[1] == "/" else 1)
        base, base_exponents = _UNITS[match[2]]
        factor *= base**power
        exponents = [e + power * b for e, b in zip(exponents, base_exponents, strict=True)]
        position = match.end()
    return factor, (exponents[0], exponents[1], exponents[2], exponents[3], exponents[4])


def named_units() -> dict[_Exponents, tuple[str, ...]]:
    """Return the units that have a name of their own, by the exponents of what they measure."""
    found: dict[_Exponents, tuple[str, ...]] = {}
    for name, (_, exponents) in _UNITS.items():
        found[exponents] = (*found.get(exponents, ()), name)
    return found


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


def _nearest(word: str) -> str:
    """Return '; nearest: x' for the unit most like ``word``, or an empty text."""
    alike = [unit for unit in _UNITS if unit.lower() == word.lower()]
    alike = alike or [unit for unit in _UNITS if unit.startswith("deg") and unit[3:] == word]
    near = alike or get_close_matches(word, _UNITS, n=1, cutoff=0.6)
    return f"; nearest: {' or '.join(near)}" if near else ""


def split_quantity(given: str) -> tuple[float, str] | None:
    """Return number and unit of a quantity as typed; None where it does not begin with a number.

    Examples
    --------
    >>> split_quantity("84 N·m"), split_quantity("3/8 in"), split_quantity("much")
    ((84.0, 'N·m'), (0.375, 'in'), None)
    """
    match = _NUMBER.fullmatch(given) if len(given) <= LONGEST_QUANTITY else None
    if match is None:
        return None
    return float(match[1].replace("_", "")) / float(match[2] or 1), match[3].strip()


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
        split = split_quantity(given)
        if split is None:
            raise ValueError(
                f"a finite number with its unit ({dimension.examples or 'none, or %'})"
            )
        number, unit = split
        if unit.startswith(","):
            raise ValueError("a point before the decimals, not a comma")
    else:
        unit = ""
        try:
            number = float(given)
        except OverflowError:  # a whole number beyond the largest float
            number = math.inf
    if not math.isfinite(number):
        raise ValueError("a finite number")
    if not unit:
        if dimension.exponents != _NONE:
            raise ValueError(f"{dimension.with_article} needs a unit, such as {dimension.examples}")
        return _of_possible_size(number, dimension)
    try:
        factor, exponents = unit_factor(unit)
    except ValueError as error:
        such_as = f"; {dimension.with_article} is wanted, such as in {dimension.examples}"
        raise ValueError(f"{error}{such_as if dimension.examples else ''}") from None
    if exponents != dimension.exponents:
        allowed = dimension.examples or "none, or %"
        raise ValueError(
            f"{dimension.with_article} is wanted ({allowed}); '{unit}' is another dimension"
        )
    if dimension is TEMPERATURE:
        plain = unit.replace("°", "deg")
        offset = {"K": 0.0, "degC": 273.15, "degF": 273.15 - 32 * 5 / 9}.get(plain)
        if offset is None:
            raise ValueError("a temperature is wanted in K, degC or degF")
        return _of_possible_size(number * factor + offset, dimension)
    return _of_possible_size(number * factor, dimension)


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
    if dimension is TEMPERATURE:
        return round((value - parse_quantity(f"0 {unit}", TEMPERATURE)) / unit_factor(unit)[0], 9)
    return value / unit_factor(unit)[0]


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
