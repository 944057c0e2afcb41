"""Thread geometry against the tables of the standards."""

from __future__ import annotations

import math

import pytest

from preloadmc.mechanics.thread import known_threads, thread

INCH = 25.4

# P, d2, D1, d3, As, A(d3): ISO 724:1993 basic profile; stress areas of ISO 898-1.
ISO_COARSE = [
    ("M6", 1, 5.350, 4.917, 4.773, 20.12, 17.89),
    ("M8", 1.25, 7.188, 6.647, 6.466, 36.61, 32.84),
    ("M10", 1.5, 9.026, 8.376, 8.160, 57.99, 52.29),
    ("M12", 1.75, 10.863, 10.106, 9.853, 84.27, 76.25),
    ("M14", 2, 12.701, 11.835, 11.546, 115.44, 104.71),
    ("M16", 2, 14.701, 13.835, 13.546, 156.67, 144.12),
    ("M18", 2.5, 16.376, 15.294, 14.933, 192.47, 175.14),
    ("M20", 2.5, 18.376, 17.294, 16.933, 244.79, 225.19),
    ("M22", 2.5, 20.376, 19.294, 18.933, 303.40, 281.53),
    ("M24", 3, 22.051, 20.752, 20.319, 352.50, 324.27),
    ("M27", 3, 25.051, 23.752, 23.319, 459.41, 427.09),
    ("M30", 3.5, 27.727, 26.211, 25.706, 560.59, 518.99),
    ("M33", 3.5, 30.727, 29.211, 28.706, 693.55, 647.19),
    ("M36", 4, 33.402, 31.670, 31.093, 816.72, 759.28),
]

# ISO 898-1, nominal stress areas as printed, mm².
ISO_898_AREAS = [
    ("M6", 20.1),
    ("M8", 36.6),
    ("M10", 58.0),
    ("M12", 84.3),
    ("M14", 115),
    ("M16", 157),
    ("M18", 192),
    ("M20", 245),
    ("M22", 303),
    ("M24", 353),
    ("M27", 459),
    ("M30", 561),
    ("M33", 694),
    ("M36", 817),
]

# Shigley, 9th ed., Table 8-2, p. 413: tensile stress areas, in².
UNIFIED_AREAS = [
    ("1/4-20 UNC", 0.0318),
    ("1/4-28 UNF", 0.0364),
    ("5/16-18 UNC", 0.0524),
    ("5/16-24 UNF", 0.0580),
    ("3/8-16 UNC", 0.0775),
    ("3/8-24 UNF", 0.0878),
    ("7/16-14 UNC", 0.1063),
    ("7/16-20 UNF", 0.1187),
    ("1/2-13 UNC", 0.1419),
    ("1/2-20 UNF", 0.1599),
    ("9/16-12 UNC", 0.182),
    ("9/16-18 UNF", 0.203),
    ("5/8-11 UNC", 0.226),
    ("5/8-18 UNF", 0.256),
    ("3/4-10 UNC", 0.334),
    ("3/4-16 UNF", 0.373),
    ("7/8-9 UNC", 0.462),
    ("7/8-14 UNF", 0.509),
    ("1-8 UNC", 0.606),
    ("1-12 UNF", 0.663),
]


@pytest.mark.published
@pytest.mark.parametrize(("name", "pitch", "d2", "D1", "d3", "area", "core"), ISO_COARSE)
def test_geometry_is_that_of_the_iso_profile(name, pitch, d2, D1, d3, area, core):
    found = thread(name)
    assert found.pitch == pitch
    # Half the last printed digit, and the rounding of the six-digit constants.
    assert found.pitch_diameter == pytest.approx(d2, abs=0.00051)
    assert found.internal_minor_diameter == pytest.approx(D1, abs=0.00051)
    assert found.core_diameter == pytest.approx(d3, abs=0.00051)
    assert found.stress_area == pytest.approx(area, abs=0.0051)
    assert found.core_area == pytest.approx(core, abs=0.0051)


def _half_last_digit(text: float) -> float:
    """Half of the last place of a value printed to three significant digits."""
    return 0.5 * 10.0 ** (math.floor(math.log10(text)) - 2)


@pytest.mark.published
@pytest.mark.parametrize(("name", "area"), ISO_898_AREAS)
def test_stress_areas_are_those_of_iso_898_1(name, area):
    assert thread(name).stress_area == pytest.approx(area, abs=_half_last_digit(area))


@pytest.mark.published
@pytest.mark.parametrize(("name", "area"), UNIFIED_AREAS)
def test_inch_stress_areas_are_those_of_shigley_table_8_2(name, area):
    # Shigley averages pitch and sharp root diameter, ASME B1.1 rounds otherwise: within 0.3 %.
    assert thread(name).stress_area / INCH**2 == pytest.approx(area, rel=0.003)


def test_every_thread_has_consistent_geometry():
    for name in known_threads():
        found = thread(name)
        assert found.designation == name
        assert (
            0 < found.core_diameter < found.stress_diameter < found.pitch_diameter < found.diameter
        )
        assert found.core_diameter < found.internal_minor_diameter < found.pitch_diameter
        assert found.stress_diameter == pytest.approx(math.sqrt(4 * found.stress_area / math.pi))
        assert found.lead_angle == pytest.approx(
            math.atan(found.pitch / math.pi / found.pitch_diameter)
        )


def test_the_tables_span_the_stated_sizes():
    sizes = [thread(name).diameter for name in known_threads() if name.startswith("M")]
    assert (min(sizes), max(sizes)) == (3.0, 64.0)
    inches = [thread(name).diameter / INCH for name in known_threads() if "UN" in name]
    assert (min(inches), max(inches)) == pytest.approx((0.25, 1.5))


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        (" m12 ", "M12"),
        ("M12x1.75", "M12"),
        ("M12×1.25", "M12x1.25"),
        ("m12 X 1,25", "M12x1.25"),
        ("5/16-18", "5/16-18 UNC"),
        ("1/2 - 20 unf", "1/2-20 UNF"),
        ('1/2"-13', "1/2-13 UNC"),
        ("1-1/8-7 UNC", "1 1/8-7 UNC"),
        ("1 1/2-12", "1 1/2-12 UNF"),
        ("1-8", "1-8 UNC"),
    ],
)
def test_usual_spellings_are_understood(written, meant):
    assert thread(written).designation == meant


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("M12x1.3", r"unknown thread 'M12x1.3'; nearest: .*M12x1.25"),
        ("5/16-18 UNF", r"nearest: .*5/16-18 UNC"),
        ("bolt", r"unknown thread 'bolt'; known: M3, "),
        ("", r"unknown thread ''; known: M3, "),
    ],
)
def test_an_unknown_thread_is_refused_with_the_nearest_spellings(written, words):
    with pytest.raises(ValueError, match=words):
        thread(written)
