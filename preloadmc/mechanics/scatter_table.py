"""Typical scatter of assembled preload by tightening method, as published."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.mechanics.bounds import scatter_half_width, scatter_ratio_of_half_width
from preloadmc.mechanics.names import folded, row_named


@dataclass(frozen=True, slots=True)
class TypicalScatter:
    """A published range of scatter; used only when asked for by name.

    Parameters
    ----------
    name : str
        Method and source in short, the name to ask for.
    method : str
        Tightening method: "torque", "torque then angle", "yield point sensed", "hydraulic
        tensioning", "elongation measured", "pulse or impact", "by feel", "indicating washer".
    low, high : float
        Half-width about the middle preload, of the best and of the worst case stated.
    source : str
        Publication, with its mark. None states which share of joints the band holds.
    """

    name: str
    method: str
    low: float
    high: float
    source: str

    @property
    def scatter_ratios(self) -> tuple[float, float]:
        """Largest over smallest preload, of the best and of the worst case stated."""
        return (
            float(scatter_ratio_of_half_width(self.low)),
            float(scatter_ratio_of_half_width(self.high)),
        )


_HANDBOOK = "Machinery's Handbook, accuracy of preload application"
_NASA = "NSTS 08307 Rev. A (1998), typical uncertainties"
_VDI_1986 = "VDI 2230:1986, preload tolerance"
_VDI_2015_PRINT = "VDI 2230-1:2015, tightening factor"
_VDI_2015 = "VDI 2230-1:2015, Table A8, tightening factor (value from memory)"


def _band(label: str, method: str, low: float, high: float, source: str) -> TypicalScatter:
    return TypicalScatter(label, method, low / 100, high / 100, source)


def _ratio(label: str, method: str, low: float, high: float, source: str) -> TypicalScatter:
    return TypicalScatter(
        label,
        method,
        float(scatter_half_width(low)),
        float(scatter_half_width(high)),
        source,
    )


_ROWS = (
    _band("by feel, Machinery's Handbook", "by feel", 35, 35, _HANDBOOK),
    _band("torque wrench, Machinery's Handbook", "torque", 25, 25, _HANDBOOK),
    _band("turn of nut, Machinery's Handbook", "torque then angle", 15, 15, _HANDBOOK),
    _band("indicating washer, Machinery's Handbook", "indicating washer", 10, 10, _HANDBOOK),
    _band("controlled wrench below yield, Machinery's Handbook", "torque", 15, 15, _HANDBOOK),
    _band("yield point sensed, Machinery's Handbook", "yield point sensed", 8, 8, _HANDBOOK),
    _band("elongation, Machinery's Handbook", "elongation measured", 3, 5, _HANDBOOK),
    _band("strain gauges, Machinery's Handbook", "elongation measured", 1, 1, _HANDBOOK),
    _band("ultrasonic, Machinery's Handbook", "elongation measured", 1, 1, _HANDBOOK),
    _band("torque unlubricated, NSTS 08307", "torque", 35, 35, _NASA),
    _band("torque cadmium plated, NSTS 08307", "torque", 30, 30, _NASA),
    _band("torque lubricated, NSTS 08307", "torque", 25, 25, _NASA),
    _band("hydraulic tensioner, NSTS 08307", "hydraulic tensioning", 15, 15, _NASA),
    _band("indicating washer, NSTS 08307", "indicating washer", 10, 10, _NASA),
    _band("ultrasonic, NSTS 08307", "elongation measured", 10, 10, _NASA),
    _band("elongation, NSTS 08307", "elongation measured", 5, 5, _NASA),
    _band("instrumented bolt, NSTS 08307", "elongation measured", 5, 5, _NASA),
    _band("yield controlled, VDI 2230:1986", "yield point sensed", 5, 12, _VDI_1986),
    _band("angle controlled, VDI 2230:1986", "torque then angle", 5, 12, _VDI_1986),
    _band("hydraulic, VDI 2230:1986", "hydraulic tensioning", 9, 23, _VDI_1986),
    _band("torque found on the joint, VDI 2230:1986", "torque", 17, 23, _VDI_1986),
    _band("torque by estimated friction, VDI 2230:1986", "torque", 23, 28, _VDI_1986),
    _band("power tool set by re-torque, VDI 2230:1986", "torque", 26, 43, _VDI_1986),
    _ratio("torque wrench smooth, VDI 2230-1:2015", "torque", 1.6, 2.0, _VDI_2015_PRINT),
    _ratio("ultrasonic, VDI 2230-1:2015", "elongation measured", 1.05, 1.2, _VDI_2015),
    _ratio("elongation, VDI 2230-1:2015", "elongation measured", 1.1, 1.5, _VDI_2015),
    _ratio("yield controlled, VDI 2230-1:2015", "yield point sensed", 1.2, 1.4, _VDI_2015),
    _ratio("angle controlled, VDI 2230-1:2015", "torque then angle", 1.2, 1.4, _VDI_2015),
    _ratio("hydraulic, VDI 2230-1:2015", "hydraulic tensioning", 1.2, 1.6, _VDI_2015),
    _ratio("torque found on the joint, VDI 2230-1:2015", "torque", 1.4, 1.6, _VDI_2015),
    _ratio("torque friction class B, VDI 2230-1:2015", "torque", 1.6, 2.0, _VDI_2015),
    _ratio("torque friction class A, VDI 2230-1:2015", "torque", 1.7, 2.5, _VDI_2015),
    _ratio("power tool set by re-torque, VDI 2230-1:2015", "torque", 1.7, 2.5, _VDI_2015),
    _ratio("impact wrench, VDI 2230-1:2015", "pulse or impact", 2.5, 4.0, _VDI_2015),
)
_BY_NAME = {folded(row.name): row for row in _ROWS}


def typical_scatter(name: str) -> TypicalScatter:
    """Row of the table by its name.

    Parameters
    ----------
    name : str
        One of `known_scatters`; the letter case does not matter.

    Returns
    -------
    TypicalScatter

    Raises
    ------
    ValueError
        No such row, with the nearest names.

    Examples
    --------
    >>> typical_scatter("torque lubricated, NSTS 08307").high
    0.25
    """
    return row_named("typical scatter", name, _BY_NAME, known_scatters())


def known_scatters() -> tuple[str, ...]:
    """Names of every row of the table."""
    return tuple(row.name for row in _ROWS)
