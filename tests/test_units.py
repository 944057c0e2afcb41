import math

import pint
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from preloadmc import unit_words, units
from preloadmc.units import (
    ANGLE,
    COMPLIANCE,
    EXPANSION,
    FORCE,
    LENGTH,
    PERCENT,
    RATIO,
    SMALL_LENGTH,
    STRESS,
    TEMPERATURE,
    TEMPERATURE_DIFFERENCE,
    TIME,
    TORQUE,
    Dimension,
    format_number,
    format_quantity,
    parse_quantity,
    to_unit,
    unit_factor,
)

REGISTRY = pint.UnitRegistry()
PINT = {
    "N": "newton",
    "mN": "millinewton",
    "cN": "centinewton",
    "daN": "decanewton",
    "kN": "kilonewton",
    "MN": "meganewton",
    "lbf": "force_pound",
    "kip": "kip",
    "kgf": "force_kilogram",
    "Nm": "newton * meter",
    "Nmm": "newton * millimeter",
    "kNm": "kilonewton * meter",
    "nm": "nanometer",
    "um": "micrometer",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "in": "inch",
    "uin": "microinch",
    "mil": "thou",
    "ft": "foot",
    "Pa": "pascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "GPa": "gigapascal",
    "bar": "bar",
    "psi": "psi",
    "ksi": "ksi",
    "Msi": "1e6 * psi",
    "K": "kelvin",
    "degC": "delta_degC",
    "degF": "delta_degF",
    "rad": "radian",
    "deg": "degree",
    "turn": "turn",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "d": "day",
    "week": "week",
    "year": "julian_year",
    "%": "percent",
    "‰": "permille",
    "ppm": "ppm",
}
BASES = ("newton", "millimeter", "kelvin", "radian", "second")


@pytest.mark.parametrize("unit", PINT)
def test_every_unit_against_pint(unit):
    factor, exponents = unit_factor(unit)
    inside = math.prod(
        (REGISTRY(base) ** power for base, power in zip(BASES, exponents, strict=True)),
        start=REGISTRY("dimensionless"),
    )
    theirs = REGISTRY(PINT[unit]).to(inside.units)
    assert factor == pytest.approx(theirs.magnitude, rel=1e-12)


def test_the_list_compared_with_pint_is_complete():
    assert set(unit_words._UNITS) == {*PINT, "1"}


@given(
    st.sampled_from(sorted(PINT)),
    st.sampled_from(sorted(PINT)),
    st.integers(1, 3),
    st.floats(1e-3, 1e3),
)
def test_quotients_against_pint(first, second, power, number):
    assume(second != "%")
    factor, exponents = unit_factor(f"{first}/{second}^{power}")
    assume(units.SMALLEST < number * factor < units.LARGEST)
    made = Dimension("made up", exponents, "1", "1")
    assert parse_quantity(f"{number!r} {first}/{second}^{power}", made) == pytest.approx(
        number * factor, rel=1e-12
    )
    theirs = number * REGISTRY(PINT[first]) / REGISTRY(PINT[second]) ** power
    inside = math.prod(
        (REGISTRY(base) ** power for base, power in zip(BASES, exponents, strict=True)),
        start=REGISTRY("dimensionless"),
    )
    assert number * factor == pytest.approx(theirs.to(inside.units).magnitude, rel=1e-9)


@pytest.mark.parametrize("degrees", [-40.0, 0.0, 20.0, 451.0])
@pytest.mark.parametrize("unit", ["degC", "degF"])
def test_temperatures_against_pint(degrees, unit):
    theirs = REGISTRY.Quantity(degrees, unit).to("kelvin").magnitude
    assert parse_quantity(f"{degrees} {unit}", TEMPERATURE) == pytest.approx(theirs, rel=1e-12)
    assert to_unit(theirs, unit, TEMPERATURE) == pytest.approx(degrees, abs=1e-8)
    difference = REGISTRY.Quantity(degrees, f"delta_{unit}").to("kelvin").magnitude
    assert parse_quantity(f"{degrees} {unit}", TEMPERATURE_DIFFERENCE) == pytest.approx(difference)


@pytest.mark.parametrize(
    "text",
    ["84 N·m", "84 N.m", "84 N*m", "84 Nm", "84 N m", "84 N-m", "84N⋅m", "8.4e1 Nm"],
)
def test_spellings_of_torque(text):
    assert parse_quantity(text, TORQUE) == pytest.approx(84_000.0)


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("62 lbf·ft", TORQUE, 62 * 4.4482216152605 * 304.8),
        ("62 lbf-ft", TORQUE, 62 * 4.4482216152605 * 304.8),
        ("62 ft-lbf", TORQUE, 62 * 4.4482216152605 * 304.8),
        ("11 µm", SMALL_LENGTH, 0.011),
        ("11 μm", LENGTH, 0.011),
        ("3.2e-6 mm/N", COMPLIANCE, 3.2e-6),
        ("3.2 µm·kN⁻¹", COMPLIANCE, 3.2e-6),
        ("11.7 ppm/K", EXPANSION, 11.7e-6),
        ("11.7e-6 1/K", EXPANSION, 11.7e-6),
        ("6.5 ppm/degF", EXPANSION, 6.5e-6 * 1.8),
        ("17/32 in", LENGTH, 17 / 32 * 25.4),
        ("640 N/mm²", STRESS, 640.0),
        ("640 N/mm2", STRESS, 640.0),
        ("0.25 turn", ANGLE, math.pi / 2),
        ("30°", ANGLE, math.pi / 6),
        ("-35 °C", TEMPERATURE, 238.15),
        ("1_000 N", FORCE, 1000.0),
        ("6 %", RATIO, 0.06),
        ("0.06", RATIO, 0.06),
        (0.06, RATIO, 0.06),
        (2, RATIO, 2.0),
        # As people type: 1 lbf = 4.4482216152605 N, 1 ft = 304.8 mm, 1 in = 25.4 mm,
        # 1 kgf = 1 kp = 9.80665 N, exact by definition (NIST SP 811, Appendix B).
        *(
            (f"62 {foot_pounds}", TORQUE, 62 * 4.4482216152605 * 304.8)
            for foot_pounds in (
                "ft-lb",
                "ft·lb",
                "ft lb",
                "ft-lbs",
                "ft.lbs.",
                "lb-ft",
                "lbf ft",
                "lbft",
                "ftlb",
                "FT-LB",
                "foot-pounds",
                "lb*ft",
            )
        ),
        *(
            (f"800 {inch_pounds}", TORQUE, 800 * 4.4482216152605 * 25.4)
            for inch_pounds in ("in-lb", "in·lbs", "inlb", "lb.in", "in.-lb", "lbf-in")
        ),
        ("9.2 kpm", TORQUE, 9.2 * 9806.65),
        ("9.2 kgf·m", TORQUE, 9.2 * 9806.65),
        ("92 kgf.cm", TORQUE, 9.2 * 980.665),
        ("90 nm", TORQUE, 90e3),
        ("90 NM", TORQUE, 90e3),
        ("90 newton metres", TORQUE, 90e3),
        ("900 Ncm", TORQUE, 9e3),
        ("28 KN", FORCE, 28e3),
        ("28 kn", FORCE, 28e3),
        ("28 lb", FORCE, 28 * 4.4482216152605),
        ("28 kips", FORCE, 28e3 * 4.4482216152605),
        ("28 mpa", STRESS, 28.0),
        ("28 MPA", STRESS, 28.0),
        ("205 Gpa", STRESS, 205e3),
        ("30 Msi", STRESS, 30e6 * 4.4482216152605 / 25.4**2),
        ("0.654 inch", LENGTH, 0.654 * 25.4),
        ("0.654 in.", LENGTH, 0.654 * 25.4),
        ('15/16"', LENGTH, 15 / 16 * 25.4),
        ("1 1/2 in", LENGTH, 38.1),
        ("1-1/2 in", LENGTH, 38.1),
        ("½ in", LENGTH, 12.7),
        ("16.6 MM", LENGTH, 16.6),
        ("0.3 thou", SMALL_LENGTH, 0.3 * 0.0254),
        ("8 microns", SMALL_LENGTH, 0.008),
        ("15,33 mm", LENGTH, 15.33),
        ("0,130", RATIO, 0.13),
        ("33 000 N", FORCE, 33e3),
        ("33'000 N", FORCE, 33e3),
        ("33 000.5 N", FORCE, 33000.5),
        ("140C", TEMPERATURE, 413.15),
        ("140 C", TEMPERATURE, 413.15),
        ("140 °C", TEMPERATURE, 413.15),
        ("140 ℃", TEMPERATURE, 413.15),
        ("140 deg C", TEMPERATURE, 413.15),
        ("140 celsius", TEMPERATURE, 413.15),
        ("−5 °C", TEMPERATURE, 268.15),
        ("68 F", TEMPERATURE, 293.15),
        ("12e-6/K", EXPANSION, 12e-6),
        ("12e-6 /K", EXPANSION, 12e-6),
        ("12E-6/°C", EXPANSION, 12e-6),
        ("12e-6 per K", EXPANSION, 12e-6),
        ("12×10⁻⁶/K", EXPANSION, 12e-6),
        ("12*10^-6 1/K", EXPANSION, 12e-6),
        ("12 x 10^-6 /K", EXPANSION, 12e-6),
        ("12×10-6 K⁻¹", EXPANSION, 12e-6),
        ("12 µm/m/K", EXPANSION, 12e-6),
        ("6.5 µin/in/F", EXPANSION, 6.5e-6 * 1.8),
        ("90 degrees", ANGLE, math.pi / 2),
        ("2 turns", ANGLE, 4 * math.pi),
        ("3 days", TIME, 3 * 86400.0),
        ("2 weeks", TIME, 14 * 86400.0),
        ("10 years", TIME, 10 * 365.25 * 86400.0),
        ("5 percent", RATIO, 0.05),
        ("5 per cent", RATIO, 0.05),
        ("1 ‰", RATIO, 0.001),
    ],
)
def test_what_a_case_file_may_hold(text, dimension, expected):
    assert parse_quantity(text, dimension) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    [
        ("28", FORCE, "a force needs a unit, such as kN or lbf"),
        (28, FORCE, "a force needs a unit"),
        (0.5, ANGLE, "an angle needs a unit, such as deg"),
        (True, FORCE, "a force as text with its unit, such as kN or lbf"),
        (True, RATIO, "a ratio as text or number"),
        ([1], RATIO, "a ratio as text or number"),
        ("28 mm", FORCE, r"a force is wanted \(kN or lbf\); 'mm' is another dimension"),
        ("3 kN", RATIO, r"a ratio is wanted \(none, or %\)"),
        # Letter case alone would tell 28 MN from 28 mN; a capital is typed on purpose.
        ("28 mn", FORCE, "'mn' is mN or MN: write which|'mn' is MN or mN: write which"),
        ("28 Nm", LENGTH, "'Nm' is another dimension"),
        ("28 MNM", TORQUE, "write which"),
        ("28 kg", FORCE, "'kg' is a mass: write a force in kgf, N or kN; a force is wanted"),
        ("28 kgm", TORQUE, "'kgm' is written kgf·m or kgf·cm"),
        ("28 t", FORCE, "'t' is one of several tons: write kN or lbf"),
        ("2 months", TIME, "'months' has no fixed length: write days"),
        ("28 qqqq", FORCE, "unknown unit 'qqqq'; a force is wanted, such as in kN or lbf"),
        ("1,090 N", FORCE, "'1.090 N' or '1090 N': the comma may be either"),
        ("1.090,5 N", FORCE, "'1090.5': one point, before the decimals"),
        ("1,090.5 N", FORCE, "'1090.5': one point, before the decimals"),
        ("1,090,000 N", FORCE, "'1090000': one point, before the decimals"),
        ("1.090.000 N", FORCE, "'1090000': one point, before the decimals"),
        (
            "12 um/m·K",
            EXPANSION,
            "another dimension; put each divisor behind its own /, as in um/m",
        ),
        ("12 um/(m·K)", EXPANSION, "cannot read the unit 'um/.m·K.': put each divisor behind its"),
        ("20 °", TEMPERATURE, "a temperature is wanted .degC or degF.; '°' is another dimension"),
        ("28 kN/", FORCE, "cannot read the unit 'kN/'"),
        ("28 kN^99", FORCE, r"cannot read the unit 'kN\^99'"),
        ("28 cm^9999", LENGTH, "cannot read the unit"),
        # "2 1 kN" may be 21 kN with a slip of the finger, never 2 kN.
        ("2 1 kN", FORCE, "cannot read the unit '1 kN'"),
        ("1 3/2 in", LENGTH, "a finite number with its unit"),
        ("12×106 1/K", EXPANSION, "cannot read the unit '×106 1/K'"),
        ("10 - 12 kN", FORCE, "cannot read the unit"),
        ("about 28 kN", FORCE, r"a finite number with its unit \(kN or lbf\)"),
        ("nan kN", FORCE, "a finite number with its unit"),
        ("inf kN", FORCE, "a finite number with its unit"),
        ("", RATIO, r"a finite number with its unit \(none, or %\)"),
        ("1e999 kN", FORCE, "a finite number"),
        (math.nan, RATIO, "a finite number"),
        (math.inf, RATIO, "a finite number"),
        (10**400, RATIO, "a finite number"),
        ("20 degC/m*m", TEMPERATURE, "a temperature is wanted in K, degC or degF"),
    ],
)
def test_what_a_case_file_may_not_hold(text, dimension, words):
    with pytest.raises(ValueError, match=words):
        parse_quantity(text, dimension)


@given(
    st.sampled_from([FORCE, TORQUE, LENGTH, SMALL_LENGTH, STRESS, COMPLIANCE, EXPANSION, PERCENT]),
    st.sampled_from(["metric", "inch"]),
    st.floats(1e-9, 1e9),
    st.sampled_from([-1.0, 1.0]),
)
def test_what_is_written_reads_back(dimension, system, value, sign):
    text = format_quantity(sign * value, dimension, system, 6)
    assert parse_quantity(text, dimension) == pytest.approx(sign * value, rel=1e-5)


@given(st.floats(1.0, 2000.0), st.sampled_from(["metric", "inch"]))
def test_a_temperature_that_is_written_reads_back(kelvin, system):
    text = format_quantity(kelvin, TEMPERATURE, system, 8)
    assert parse_quantity(text, TEMPERATURE) == pytest.approx(kelvin, abs=1e-4)


def test_a_dimension_without_unit_is_written_bare():
    assert format_quantity(0.12, RATIO) == "0.12"
    assert format_quantity(0.06, PERCENT) == "6 %"
    assert format_quantity(293.15, TEMPERATURE) == "20 degC"


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0.0, 4, "0"),
        (math.inf, 4, "inf"),
        (1234567.0, 4, "1234567"),
        (12345678.0, 4, "1.235e+07"),
        (0.00123449, 3, "0.00123"),
        (0.000123449, 3, "1.23e-04"),
        (100.0, 4, "100"),
        (-0.5, 4, "-0.5"),
    ],
)
def test_numbers_in_a_report(value, digits, text):
    assert format_number(value, digits) == text


def test_every_dimension_has_the_unit_of_the_numbers_inside():
    dimensions = [each for each in vars(units).values() if isinstance(each, Dimension)]
    assert len(dimensions) > 10
    for each in dimensions:
        assert unit_factor(each.internal) == (1.0, each.exponents)
