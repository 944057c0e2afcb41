"""What values the quantities of a joint usually have, and beyond what none can be.

A value beyond what is usual is warned of, with what was likely meant by it; one beyond what is
possible is refused. A bound is a quantity as it would be typed.
"""

from __future__ import annotations

from typing import NamedTuple

JUDGEMENT = "engineering judgement"
# No joint that is meant to hold misses a limit more often.
MOST_ALLOWED = "10 %"


class PlausibleRange(NamedTuple):
    """The values that one quantity of a joint usually has.

    Parameters
    ----------
    path : str
        Its key in the case file, with ``[]`` for each of a list.
    low, high : str
        Usual values lie between, and at them.
    likely : tuple of str
        Units that may have been meant in place of the one typed, the likeliest first; those of a
        plain ratio, "%" and "/10", are a forgotten percent sign and a point that has slipped.
    source : str
        Where the usual values are from.
    least, most : str
        No value is possible beyond; empty where nothing is said but by the sign of the input.
    smallest : str
        Of either sign, usual values are as large as this, or 0; empty where small ones are usual.
    """

    path: str
    low: str
    high: str
    likely: tuple[str, ...] = ()
    source: str = JUDGEMENT
    least: str = ""
    most: str = ""
    smallest: str = ""


_RATIO = ("/10", "%")
_SMALL = ("um", "mil")
_DEGREES = ("degC", "degF")
_EXPANSION = ("ppm/K", "1/K")
# Moduli: magnesium to cemented carbide; diamond, the stiffest material, has about 1,200 GPa.
_MODULI = "moduli of metals, from memory"
_STIFFEST = "1500 GPa"
# Tungsten melts.
_HOTTEST = "3420 degC"


def _length(path: str, low: str, high: str) -> PlausibleRange:
    """Return the row of a length of fastener or layer, which is no film and no bridge."""
    return PlausibleRange(path, low, high, ("mm", "in"), least="1 um", most="1000 m")


def _force(path: str, low: str, high: str) -> PlausibleRange:
    """Return the row of a force; the strongest steel of a metre across breaks at 3 GN."""
    return PlausibleRange(path, low, high, ("kN", "N", "lbf"), least="-1e5 MN", most="1e5 MN")


def _force_of_one(path: str, low: str = "0 N") -> PlausibleRange:
    """Return the row of what one fastener holds or carries; a screw of 1 mm yields at 300 N."""
    return _force(path, low, "5 MN")._replace(smallest="50 N")


def _torque(path: str, low: str, high: str) -> PlausibleRange:
    """Return the row of a torque; what breaks a metre of the strongest steel is 500 MN·m."""
    return PlausibleRange(path, low, high, ("N·m", "lbf·ft", "N·mm"), most="1e6 kN·m")


def _strength(path: str, low: str, high: str) -> PlausibleRange:
    """Return the row of a strength or a limit of pressure; no solid in bulk bears 100 GPa."""
    return PlausibleRange(path, low, high, ("MPa", "GPa", "ksi"), least="1 Pa", most="100 GPa")


def _friction(path: str, low: str = "0.02", high: str = "0.6") -> PlausibleRange:
    """Return the row of a friction; no pair of dry solids holds ten times what presses it.

    Clean soft metals reach about 4 (from memory).
    """
    return PlausibleRange(path, low, high, _RATIO, least="0.0001", most="10")


def _compliance(path: str, low: str, high: str) -> PlausibleRange:
    """Return the row of a compliance; a cube of steel of 5 m has 1e-6 µm/kN, a spring 1 m/N."""
    return PlausibleRange(
        path, low, high, ("um/kN", "mm/N", "mil/kip"), least="1e-6 um/kN", most="1 m/N"
    )


def _heat(path: str, low: str = "-170 degC", high: str = "1000 degC") -> PlausibleRange:
    """Return the row of a temperature of solid parts, down to those of liquefied gas in ships.

    What is colder is more easily a temperature in degC typed with a K.
    """
    return PlausibleRange(path, low, high, _DEGREES, most=_HOTTEST)


def _angle(path: str, low: str, high: str) -> PlausibleRange:
    """Return the row of an angle that a nut turns; no thread has a thousand turns to go."""
    return PlausibleRange(path, low, high, ("deg",), most="1000 turn")


# One row, one quantity. Widths are generous: watch screws to the bolts of a reactor head.
# fmt: off
_ROWS = (
    PlausibleRange("fastener.modulus", "40 GPa", "700 GPa", ("GPa", "MPa", "psi"), _MODULI,
                   "1 Pa", _STIFFEST),
    # Invar to zinc; no metal is beyond 100 ppm/K.
    PlausibleRange("fastener.expansion", "0 ppm/K", "40 ppm/K", _EXPANSION,
                   "expansions of metals, from memory", "-100 ppm/K", "100 ppm/K"),
    _length("fastener.segment[].diameter", "0.5 mm", "500 mm"),
    _length("fastener.segment[].length", "0.1 mm", "5 m"),
    _length("fastener.bearing_outer_diameter", "1 mm", "600 mm"),
    _length("fastener.nut_bearing_outer_diameter", "1 mm", "600 mm"),
    _length("fastener.hole_diameter", "1 mm", "500 mm"),
    _length("fastener.bearing_diameter", "1 mm", "600 mm"),
    _length("fastener.engagement", "0.5 mm", "500 mm"),
    _length("fastener.nut_width_across_flats", "1 mm", "600 mm"),
    _strength("fastener.mate_tensile_strength", "50 MPa", "3000 MPa"),
    _strength("fastener.yield_strength", "50 MPa", "2500 MPa"),
    _strength("fastener.tensile_strength", "100 MPa", "3000 MPa"),
    PlausibleRange("fastener.plastic_strain", "0.5 %", "60 %", _RATIO, most="1000 %"),
    # A layer may be a polymer, which is softer and grows more than metals do; below a GPa lie
    # gaskets and rubber, and moduli of metals typed in MPa.
    PlausibleRange("clamped[].modulus", "1 GPa", "700 GPa", ("GPa", "MPa", "psi"), JUDGEMENT,
                   "1 Pa", _STIFFEST),
    PlausibleRange("clamped[].expansion", "-10 ppm/K", "100 ppm/K", _EXPANSION,
                   "expansions of metals and filled polymers, from memory",
                   "-100 ppm/K", "300 ppm/K"),
    _length("clamped[].thickness", "0.02 mm", "2 m"),
    _length("clamped[].hole_diameter", "1 mm", "500 mm"),
    _length("clamped[].outer_diameter", "2 mm", "10 m"),
    _strength("clamped[].limiting_pressure", "5 MPa", "5000 MPa"),
    _compliance("joint.fastener_compliance", "0.005 um/kN", "2000 um/kN"),
    _compliance("joint.clamped_compliance", "0.001 um/kN", "2000 um/kN"),
    _compliance("joint.compliance", "0.005 um/kN", "4000 um/kN"),
    _friction("friction.thread"),
    _friction("friction.bearing"),
    _friction("friction.total"),
    _friction("friction.nut_factor", "0.05", "0.8"),
    _friction("friction.joint", "0.02", "1"),
    # Fresh lubricant lowers it, galled faces raise it.
    PlausibleRange("friction.change_per_tightening", "-30 %", "50 %", ("%",),
                   least="-99 %", most="900 %"),
    _torque("tightening.torque", "0.01 N·m", "100 kN·m"),
    # A tool that is off by its whole set value gives no torque at all.
    PlausibleRange("tightening.bias", "-50 %", "50 %", ("%",), least="-99 %", most="900 %"),
    PlausibleRange("tightening.tool", "0.1", "3", most="10"),
    _angle("tightening.angle", "1 deg", "1080 deg"),
    _angle("tightening.seating_angle", "0 deg", "360 deg"),
    PlausibleRange("tightening.detector_ratio", "0.5", "1.5", _RATIO, least="0.01", most="10"),
    _force("tightening.pump_force", "100 N", "50 MN"),
    PlausibleRange("tightening.transfer_ratio", "0.2", "1.05", _RATIO, least="0.01", most="10"),
    PlausibleRange("tightening.elongation", "1 um", "20 mm", _SMALL, least="1 nm", most="1 m"),
    _force("tightening.preload", "50 N", "50 MN"),
    _torque("tightening.prevailing_torque", "0 N·m", "2 kN·m"),
    PlausibleRange("tightening.accept.reading", "0.5", "1.5", most="10"),
    PlausibleRange("settling.embedding", "0 um", "200 um", _SMALL, most="1 m"),
    # A decade takes a quarter of the preload only where something is about to fail.
    PlausibleRange("securing.remaining", "2 %", "100 %", ("%",), most="150 %"),
    PlausibleRange("settling.over_time[].rate", "0 %", "25 %", ("%",)),
    # All of it is possible: die-cast parts creep when they are hot.
    PlausibleRange("settling.relaxation", "0 %", "80 %"),
    _force("temperature.thermal_change", "-10 MN", "10 MN"),
    _heat("temperature.assembly", "-60 degC", "250 degC"),
    _heat("temperature.state[].fastener"),
    _heat("temperature.state[].clamped"),
    _heat("temperature.state[].clamped[]"),
    _force_of_one("temperature.state[].axial", "-5 MN"),
    _force_of_one("temperature.state[].transverse", "-5 MN"),
    _friction("temperature.state[].joint_friction", "0.02", "1"),
    _force_of_one("load.axial", "-5 MN"),
    _force_of_one("load.transverse", "-5 MN"),
    _force_of_one("requirement.minimum_preload"),
    _force_of_one("requirement.minimum_clamp"),
    _force_of_one("requirement.maximum_preload", "50 N"),
    PlausibleRange("requirement.maximum_plastic_elongation", "0.1 um", "50 mm", _SMALL,
                   least="1 nm", most="1 m"),
    _angle("rotation.angle", "0 deg", "3600 deg"),
    PlausibleRange("missed.share", "0 %", "100 %"),
    PlausibleRange("missed.preload_share", "0 %", "100 %"),
    PlausibleRange("missed.torque_share", "0 %", "150 %", ("%",), most="1000 %"),
    PlausibleRange("setting.error", "-60 %", "100 %", ("%",), least="-99 %", most="900 %"),
    PlausibleRange("rotation.overload", "0", "100", most="1e6"),
    PlausibleRange("seat.hardness", "1", "3000", most="1e6"),
    PlausibleRange("seat.paint", "0 %", "100 %"),
    PlausibleRange("seat.washer", "0 %", "100 %"),
    _torque("investigation.prevailing_torque", "0 N·m", "2 kN·m"),
    _force("group.axial", "-500 MN", "500 MN")._replace(smallest="50 N"),
    _force("group.transverse", "-500 MN", "500 MN")._replace(smallest="50 N"),
    _torque("group.bending_moment", "-100 MN·m", "100 MN·m"),
    _torque("group.torsional_moment", "-100 MN·m", "100 MN·m"),
    _force("group.minimum_total_clamp", "0 N", "500 MN")._replace(smallest="50 N"),
    _strength("fatigue.endurance_limit", "10 MPa", "500 MPa"),
    _length("group.circle", "5 mm", "20 m"),
    _length("group.row", "2 mm", "5 m"),
    PlausibleRange("investigation.breakaway_ratio", "0.5", "3", _RATIO, least="0.01", most="100"),
    PlausibleRange("service.action[].reading", "0.5", "1.5", most="10"),
    PlausibleRange("service.action[].breakaway_ratio", "0.5", "3", _RATIO, least="0.01",
                   most="100"),
)
# fmt: on
PLAUSIBLE_RANGES: dict[str, PlausibleRange] = {row.path: row for row in _ROWS}
