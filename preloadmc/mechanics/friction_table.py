"""Typical friction classes and nut factors, as published."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.mechanics.names import folded, row_named


@dataclass(frozen=True, slots=True)
class FrictionClass:
    """Range of friction in thread and seat for a kind of surface and lubricant.

    Parameters
    ----------
    name : str
        Letter of the class.
    low : float
        Smallest coefficient of friction.
    high : float or None
        Largest; None where the class is open upwards.
    surfaces : str
        Surfaces and lubricants that belong to it.
    source : str
        Publication.
    """

    name: str
    low: float
    high: float | None
    surfaces: str
    source: str


@dataclass(frozen=True, slots=True)
class NutFactorRange:
    """Range of the nut factor of ``T = K F d`` for a surface.

    Parameters
    ----------
    surface : str
        Surface and lubricant, the name to ask for.
    low, high : float
        Smallest and largest nut factor stated; equal where the source gives one value.
    mean : float or None
        Mean, where the source states one.
    source : str
        Publication, with its mark.
    """

    surface: str
    low: float
    high: float
    mean: float | None
    source: str


_CLASSES_SOURCE = "VDI 2230-1, Table A5"
_CLASSES = (
    FrictionClass(
        "A",
        0.04,
        0.10,
        "solid lubricant such as molybdenum disulphide (MoS2) or graphite, in a paste, top coat or"
        " varnish; wax",
        _CLASSES_SOURCE,
    ),
    FrictionClass(
        "B",
        0.08,
        0.16,
        "as A, with greases or oils, or as delivered; hot-dip galvanised with MoS2; aluminium and"
        " magnesium; austenitic steel with paste or wax",
        _CLASSES_SOURCE,
    ),
    FrictionClass(
        "C",
        0.14,
        0.24,
        "lightly oiled as delivered; zinc, zinc-iron, zinc-nickel; zinc flake without lubricant;"
        " austenitic steel with wax",
        _CLASSES_SOURCE,
    ),
    FrictionClass(
        "D",
        0.20,
        0.35,
        "austenitic steel with oil; zinc, zinc-iron; hot-dip galvanised dry",
        _CLASSES_SOURCE,
    ),
    FrictionClass(
        "E",
        0.30,
        None,
        "zinc-iron, zinc-nickel, austenitic steel, aluminium and magnesium, all dry",
        _CLASSES_SOURCE,
    ),
)

_SHIGLEY = "Shigley, 9th ed., Table 8-15, p. 439"
_SUPPLIERS = "ranges of suppliers' data, no standard behind them"
_BICKFORD = "Bickford, Handbook of Bolts and Bolted Joints (value from memory)"
_NUT_FACTORS = (
    NutFactorRange("black finish, not plated", 0.30, 0.30, None, _SHIGLEY),
    NutFactorRange("zinc plated", 0.20, 0.20, None, _SHIGLEY),
    NutFactorRange("lubricated", 0.18, 0.18, None, _SHIGLEY),
    NutFactorRange("cadmium plated", 0.16, 0.16, None, _SHIGLEY),
    NutFactorRange("steel, dry", 0.18, 0.27, None, _SUPPLIERS),
    NutFactorRange("steel, machine oil", 0.10, 0.26, None, _SUPPLIERS),
    NutFactorRange("cadmium, suppliers' range", 0.15, 0.19, None, _SUPPLIERS),
    NutFactorRange("phosphate and oil, suppliers' range", 0.15, 0.22, None, _SUPPLIERS),
    NutFactorRange("zinc, suppliers' range", 0.17, 0.35, None, _SUPPLIERS),
    NutFactorRange("stainless on stainless", 0.30, 0.50, None, _SUPPLIERS),
    NutFactorRange("zinc flake", 0.16, 0.32, None, _SUPPLIERS),
    NutFactorRange("steel, as received", 0.158, 0.267, 0.199, _BICKFORD),
    NutFactorRange("cadmium plate, tests", 0.106, 0.328, 0.197, _BICKFORD),
    NutFactorRange("phosphate and oil, tests", 0.15, 0.23, 0.19, _BICKFORD),
    NutFactorRange("zinc, tests", 0.262, 0.398, 0.332, _BICKFORD),
    NutFactorRange("molybdenum disulphide paste", 0.10, 0.16, 0.13, _BICKFORD),
)
_CLASS_BY_NAME = {folded(row.name): row for row in _CLASSES}
_FACTOR_BY_NAME = {folded(row.surface): row for row in _NUT_FACTORS}
# Usual names of surfaces, to those of the tables.
_USUAL_NAMES = {
    "mos2 paste": "molybdenum disulphide paste",
    "molybdenum disulfide paste": "molybdenum disulphide paste",
    "molybdenum-disulphide paste": "molybdenum disulphide paste",
    "slightly oiled": "lightly oiled",
}
_CLASS_BY_NAME["molybdenum disulphide paste"] = _CLASS_BY_NAME["a"]
_CLASS_BY_NAME["lightly oiled"] = _CLASS_BY_NAME["c"]


def _spelling(name: str) -> str:
    return _USUAL_NAMES.get(folded(name), folded(name))


def friction_class(name: str) -> FrictionClass:
    """Friction class by its letter or by a usual name of its surface.

    Parameters
    ----------
    name : str
        "A" to "E", "lightly oiled", "molybdenum disulphide paste".

    Returns
    -------
    FrictionClass

    Raises
    ------
    ValueError
        No such class.

    Examples
    --------
    >>> friction_class("B").low, friction_class("B").high
    (0.08, 0.16)
    """
    return row_named("friction class", name, _CLASS_BY_NAME, known_friction_classes(), _spelling)


def known_friction_classes() -> tuple[str, ...]:
    """Letters of every friction class."""
    return tuple(row.name for row in _CLASSES)


def nut_factor_range(surface: str) -> NutFactorRange:
    """Nut factors of a surface.

    Parameters
    ----------
    surface : str
        One of `known_nut_factors`; the letter case does not matter.

    Returns
    -------
    NutFactorRange

    Raises
    ------
    ValueError
        No such surface, with the nearest names.

    Examples
    --------
    >>> nut_factor_range("zinc plated").low
    0.2
    """
    return row_named("surface", surface, _FACTOR_BY_NAME, known_nut_factors(), _spelling)


def known_nut_factors() -> tuple[str, ...]:
    """Names of every surface with nut factors."""
    return tuple(row.surface for row in _NUT_FACTORS)
