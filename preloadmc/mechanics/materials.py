"""Materials of fasteners and clamped parts: stiffness, expansion, limiting pressure."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from preloadmc.mechanics.names import folded, row_named
from preloadmc.mechanics.softening import (
    ALUMINIUM_5083,
    ALUMINIUM_6061,
    ALUMINIUM_6082,
    CARBON_STEEL,
    CLASS_8_8,
    STAINLESS_A2,
    STAINLESS_A4,
    ZERO_CELSIUS,
    Softening,
)
from preloadmc.units import FloatLike

TemperatureTable = tuple[tuple[float, ...], tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class Material:
    """A material at room temperature, and its modulus at others.

    Parameters
    ----------
    name : str
        Name by which `material` finds it.
    modulus : float
        Young's modulus at 20 °C [MPa].
    expansion : float
        Mean coefficient of thermal expansion near room temperature [1/K].
    source : str
        Where the values stand; says so where one is from memory.
    limiting_pressure : float or None
        Pressure under head or nut above which the surface creeps or flattens [MPa].
    modulus_table : tuple or None
        Temperatures [K], rising, and moduli there in any unit; only their ratios are used.
    softening : Softening or None
        How its strength, and with it the limiting pressure, falls with temperature.
    """

    name: str
    modulus: float
    expansion: float
    source: str
    limiting_pressure: float | None = None
    modulus_table: TemperatureTable | None = None
    softening: Softening | None = None

    def __post_init__(self) -> None:
        if not self.modulus > 0:
            raise ValueError(f"modulus of {self.name} must be above zero, not {self.modulus:g} MPa")
        if self.limiting_pressure is not None and not self.limiting_pressure > 0:
            raise ValueError(
                f"limiting pressure of {self.name} must be above zero,"
                f" not {self.limiting_pressure:g} MPa"
            )

    @property
    def modulus_range(self) -> tuple[float, float] | None:
        """Temperatures that the modulus table covers [K]; None without a table."""
        if self.modulus_table is None:
            return None
        temperatures = self.modulus_table[0]
        return temperatures[0], temperatures[-1]

    def modulus_ratio(self, reference: FloatLike, temperature: FloatLike) -> FloatLike:
        """Modulus at one temperature over that at another.

        Parameters
        ----------
        reference, temperature : float or ndarray
            Temperatures [K].

        Returns
        -------
        float or ndarray
            ``E(temperature)/E(reference)``, linear between the rows of the table, constant beyond
            its ends, and one where the material has no table.
        """
        if self.modulus_table is None:
            return 1.0
        ratio: FloatLike = np.interp(temperature, *self.modulus_table) / np.interp(
            reference, *self.modulus_table
        )
        return ratio

    def strength_ratio(self, temperature: FloatLike) -> FloatLike:
        """Strength at a temperature [K] over that at 20 °C; one where no table is known."""
        return 1.0 if self.softening is None else self.softening.ratio(temperature)


def _celsius(temperatures: tuple[float, ...], moduli: tuple[float, ...]) -> TemperatureTable:
    return tuple(t + ZERO_CELSIUS for t in temperatures), moduli


_MEMORY = "(value from memory)"
_CALLISTER = "expansion: Callister, Materials Science and Engineering, Table B.6"
_SHIGLEY = "modulus: Shigley, 9th ed., Table 8-8"
_STEEL_TABLE = "modulus at temperature: ASME table as printed in Roark-type handbooks"
_HIGH_CARBON_SOURCE = f"{_STEEL_TABLE}, carbon above 0.3 %; at -73 °C from memory"
_PRESSURE = "limiting pressure: VDI 2230-1:2003"
_PRESSURE_OPEN = "limiting pressure: VDI 2230-1:2003, marked there as not verified"

# E in GPa against °C; carbon content up to 0.3 %, above 0.3 % (there at -73 °C from memory).
_LOW_CARBON = _celsius(
    (-73, 21, 93, 149, 204, 260, 316, 371, 427),
    (208.2, 203.4, 198.6, 195.1, 191.0, 188.2, 184.1, 175.8, 166.9),
)
_HIGH_CARBON = _celsius(
    (-73, 21, 93, 149, 204, 260, 316, 371, 427),
    (206.8, 202.0, 197.2, 193.7, 189.6, 186.8, 182.7, 174.4, 165.5),
)
# From memory: ASME BPVC II-D, Table TM-1 group G; EN 1999-1-2, Table 2; ASME BPVC II-D, TM-5.
_AUSTENITIC = _celsius(
    (25, 100, 150, 200, 250, 300, 350, 400), (195, 189, 186, 183, 179, 176, 172, 169)
)
_ALUMINIUM = _celsius((20, 50, 100, 150, 200, 250), (70.0, 69.3, 67.9, 65.1, 60.2, 54.6))
_TITANIUM = _celsius((25, 100, 150, 200, 250, 300), (107, 103, 101, 97, 93, 88))
_AUSTENITIC_SOURCE = f"modulus at temperature: ASME BPVC II-D, TM-1 {_MEMORY}"
_ALUMINIUM_SOURCE = f"modulus at temperature: EN 1999-1-2, Table 2 {_MEMORY}"
_TITANIUM_SOURCE = f"modulus at temperature: ratio of ASME BPVC II-D, TM-5 {_MEMORY}"


def _steel(
    name: str,
    pressure: float | None,
    pressure_source: str,
    moduli: TemperatureTable = _LOW_CARBON,
    expansion: tuple[float, str] = (11.7e-6, "1020"),
    softening: Softening = CARBON_STEEL,
) -> Material:
    """A steel; hardened and tempered ones soften sooner than the others."""
    sources = (
        _SHIGLEY,
        f"{_CALLISTER} ({expansion[1]})",
        _STEEL_TABLE if moduli is _LOW_CARBON else _HIGH_CARBON_SOURCE,
        pressure_source,
        softening.source,
    )
    source = "; ".join(filter(None, sources))
    return Material(name, 207e3, expansion[0], source, pressure, moduli, softening)


def _alloy_steel(name: str, pressure: float | None, pressure_source: str) -> Material:
    expansion = 12.3e-6, "4140"
    return _steel(name, pressure, pressure_source, _HIGH_CARBON, expansion, CLASS_8_8)


def _ductile_iron(grade: str, pressure: float) -> Material:
    source = f"modulus and expansion: handbook {_MEMORY}; {_PRESSURE_OPEN}"
    return Material(f"ductile iron {grade}", 169e3, 12.5e-6, source, pressure)


def _aluminium(
    name: str,
    modulus: tuple[float, str],
    expansion: tuple[float, str],
    pressure: float | None,
    softening: Softening | None = None,
) -> Material:
    sources = [modulus[1], expansion[1], _ALUMINIUM_SOURCE]
    if pressure is not None:
        sources.append(_PRESSURE_OPEN)
    if softening is not None:
        sources.append(softening.source)
    return Material(
        f"aluminium {name}",
        modulus[0],
        expansion[0],
        "; ".join(sources),
        pressure,
        _ALUMINIUM,
        softening,
    )


def _cast_aluminium(alloy: str, modulus: float, expansion: float, pressure: float) -> Material:
    source = f"modulus and expansion: handbook {_MEMORY}; limiting pressure: guide, as that of "
    source += f"cast AlSi9Cu3 by the tensile strengths {_MEMORY}; {_ALUMINIUM_SOURCE}"
    return Material(f"aluminium cast {alloy}", modulus, expansion, source, pressure, _ALUMINIUM)


_ALUMINIUM_SHIGLEY = (71e3, _SHIGLEY)
_EN_1999 = (70e3, f"modulus: EN 1999-1-1 {_MEMORY}")
_EN_1999_EXPANSION = (23e-6, f"expansion: EN 1999-1-1 {_MEMORY}")

_MATERIALS = (
    _steel("steel", None, ""),
    _steel("steel S235", 490, _PRESSURE),
    _steel("steel E295", 710, _PRESSURE),
    _steel("steel S355", 760, _PRESSURE),
    _steel("medium-carbon steel", None, "", _HIGH_CARBON, softening=CLASS_8_8),
    _steel("steel C45", 630, f"{_PRESSURE_OPEN} (Cq45)", _HIGH_CARBON, softening=CLASS_8_8),
    _steel("steel 16MnCr5", 900, _PRESSURE_OPEN, softening=CLASS_8_8),
    _alloy_steel("alloy steel", None, ""),
    _alloy_steel("alloy steel 34CrMo4", 870, _PRESSURE_OPEN),
    Material(
        "stainless steel A2",
        193e3,
        17.2e-6,
        f"modulus: handbook {_MEMORY}; {_CALLISTER} (304); {_AUSTENITIC_SOURCE};"
        f" {_PRESSURE} (X5CrNi18-12); {STAINLESS_A2.source}",
        630,
        _AUSTENITIC,
        STAINLESS_A2,
    ),
    Material(
        "stainless steel A4",
        193e3,
        15.9e-6,
        f"modulus: handbook {_MEMORY}; {_CALLISTER} (316); {_AUSTENITIC_SOURCE};"
        f" {_PRESSURE_OPEN} (X5CrNiMo17-12-2); {STAINLESS_A4.source}",
        460,
        _AUSTENITIC,
        STAINLESS_A4,
    ),
    Material(
        "grey cast iron",
        100e3,
        11.4e-6,
        f"{_SHIGLEY}; {_CALLISTER}; {_PRESSURE} (GJL-250)",
        900,
    ),
    _ductile_iron("GJS-400", 700),
    _ductile_iron("GJS-500", 900),
    _ductile_iron("GJS-600", 1000),
    _aluminium("2024", _ALUMINIUM_SHIGLEY, (22.9e-6, f"{_CALLISTER} (2024)"), None),
    _aluminium("5083", _EN_1999, _EN_1999_EXPANSION, 230, ALUMINIUM_5083),
    _aluminium(
        "6061",
        (68.9e3, f"modulus: handbook {_MEMORY}"),
        (23.6e-6, f"{_CALLISTER} (6061)"),
        None,
        ALUMINIUM_6061,
    ),
    _aluminium("6082", _EN_1999, _EN_1999_EXPANSION, 260, ALUMINIUM_6082),
    _aluminium("7075", _ALUMINIUM_SHIGLEY, (23.4e-6, f"{_CALLISTER} (7075)"), 410),
    _aluminium(
        "die-cast AlSi9Cu3",
        (75e3, f"modulus: handbook {_MEMORY}"),
        (21e-6, f"expansion: handbook {_MEMORY}"),
        290,
    ),
    _aluminium(
        "cast AlSi9Cu3",
        (75e3, f"modulus: handbook {_MEMORY}"),
        (21e-6, f"expansion: handbook {_MEMORY}"),
        220,
    ),
    _cast_aluminium("AlSi7Mg", 74e3, 22e-6, 230),
    _cast_aluminium("AlSi10Mg", 74e3, 21e-6, 220),
    _cast_aluminium("AlSi12", 75e3, 20e-6, 200),
    Material(
        "magnesium AZ91",
        45e3,
        26.0e-6,
        f"modulus: handbook {_MEMORY}; {_CALLISTER}; {_PRESSURE_OPEN}",
        280,
    ),
    Material(
        "titanium Ti-6Al-4V",
        114e3,
        8.6e-6,
        f"modulus: handbook {_MEMORY}; {_CALLISTER}; {_TITANIUM_SOURCE}; {_PRESSURE_OPEN}",
        890,
        _TITANIUM,
    ),
    Material(
        "copper",
        119e3,
        17.0e-6,
        f"{_SHIGLEY}; expansion: handbook {_MEMORY}",
    ),
    Material(
        "nickel alloy 625",
        207e3,
        12.8e-6,
        f"modulus: handbook {_MEMORY}; {_CALLISTER}",
    ),
)
# Standards that a name may begin with.
_STANDARD_MARK = re.compile(r"^(?:en ?)?(?:ac|aw)[- ]|^en[- ](?=gj)")
# The qualities of EN 10025-2, as in S355J2+N, differ in toughness alone.
_STRUCTURAL_STEEL = re.compile(r"(?:steel )?(s235|s355)(?:j[r02]|k2)?(?:\+?[nmc]{1,2})?")
# Elongation and qualities of EN 1563 differ, as in GJS-400-18-LT, not stiffness and pressure; the
# names before it, GG25 and GGG40, are of DIN 1691 and DIN 1693 (from memory).
_IRON = re.compile(
    r"(?:ductile iron )?(gj[ls])[- ]?(\d{3})(?:[- ]\d{1,2}[a-z]?(?:[- ][a-z]{1,2})?)?"
)
_OLD_IRON = re.compile(r"gg(g?)[- ]?(\d\d)(?:\.\d)?")
_BY_NAME = {folded(item.name): item for item in _MATERIALS}
_ALIASES = {
    "carbon steel": "steel",
    "s235": "steel s235",
    "s355": "steel s355",
    "e295": "steel e295",
    "c45": "steel c45",
    "medium carbon steel": "medium-carbon steel",
    "34crmo4": "alloy steel 34crmo4",
    "stainless steel 304": "stainless steel a2",
    "stainless a2": "stainless steel a2",
    "304": "stainless steel a2",
    "stainless steel 316": "stainless steel a4",
    "stainless a4": "stainless steel a4",
    "316": "stainless steel a4",
    # Numbers of EN 10088-1, from memory.
    "304l": "stainless steel a2",
    "1.4301": "stainless steel a2",
    "1.4307": "stainless steel a2",
    "316l": "stainless steel a4",
    "1.4401": "stainless steel a4",
    "1.4404": "stainless steel a4",
    "gjl-250": "grey cast iron",
    "gjs-400": "ductile iron gjs-400",
    "gjs-500": "ductile iron gjs-500",
    "gjs-600": "ductile iron gjs-600",
    **{alloy: f"aluminium {alloy}" for alloy in ("2024", "5083", "6061", "6082", "7075")},
    **{f"al {alloy}": f"aluminium {alloy}" for alloy in ("2024", "5083", "6061", "6082", "7075")},
    "gray cast iron": "grey cast iron",
    "grey iron": "grey cast iron",
    "gray iron": "grey cast iron",
    "ductile iron": "ductile iron gjs-400",
    "46000": "aluminium die-cast alsi9cu3",
    "die-cast aluminium": "aluminium die-cast alsi9cu3",
    "cast aluminium": "aluminium cast alsi9cu3",
    **{
        written: f"aluminium cast {alloy}"
        for alloy, spellings in {
            "alsi9cu3": ("alsi9cu3",),
            "alsi7mg": ("alsi7mg", "alsi7mg0.3", "42000", "42100"),
            "alsi10mg": ("alsi10mg", "43000", "43400"),
            "alsi12": ("alsi12", "44200", "44300"),
        }.items()
        for spelling in spellings
        for written in (spelling, f"aluminium {spelling}")
    },
    "az91": "magnesium az91",
    "ti-6al-4v": "titanium ti-6al-4v",
    "titanium": "titanium ti-6al-4v",
}


def material(name: str) -> Material:
    """Material by name.

    Parameters
    ----------
    name : str
        One of `known_materials` or a usual other spelling ("aluminum 6082", "stainless 316", "EN
        AC-42100");
        the letter case does not matter.

    Returns
    -------
    Material

    Raises
    ------
    ValueError
        No such material, with the nearest names.

    Examples
    --------
    >>> material("aluminium 7075").expansion
    2.34e-05
    """
    return row_named("material", name, _BY_NAME, known_materials(), _spelling)


def _spelling(name: str) -> str:
    """The table's spelling of a usual name."""
    plain = re.sub(r"[()\[\],;]", " ", name.casefold().replace("aluminum", "aluminium"))
    spelling = folded(_STANDARD_MARK.sub("", folded(plain)))
    if iron := _IRON.fullmatch(spelling):
        spelling = f"{iron[1]}-{iron[2]}"
    elif old := _OLD_IRON.fullmatch(spelling):
        spelling = f"gj{'s' if old[1] else 'l'}-{old[2]}0"
    if quality := _STRUCTURAL_STEEL.fullmatch(spelling):
        spelling = f"steel {quality[1]}"
    return _ALIASES.get(spelling, spelling)


def known_materials() -> tuple[str, ...]:
    """Names of every material of the table."""
    return tuple(item.name for item in _MATERIALS)
