"""Shear areas, tolerance limits and stripping force."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preloadmc.mechanics import stripping
from preloadmc.mechanics.grades import grade
from preloadmc.mechanics.thread import thread
from preloadmc.mechanics.tolerance import SOURCE, least_material

INCH = 25.4


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "major", "pitch", "internal_pitch", "internal_minor"),
    [
        # ISO 965-2, limits of 6g (smallest) and 6H (largest), mm (values from memory).
        ("M3", 2.874, 2.580, 2.775, 2.599),
        ("M4", 3.838, 3.433, 3.663, 3.422),
        ("M5", 4.826, 4.361, 4.605, 4.334),
        ("M8", 7.760, 7.042, 7.348, 6.912),
        ("M10", 9.732, 8.862, 9.206, 8.676),
        ("M12", 11.701, 10.679, 11.063, 10.441),
        ("M20", 19.623, 18.164, 18.600, 17.744),
    ],
)
def test_metric_limits_of_size(name, major, pitch, internal_pitch, internal_minor):
    basic, found = thread(name), least_material(thread(name))
    # The standard rounds allowance and tolerance to preferred numbers, which step by 6 %.
    for value, limit, nominal in (
        (found.diameter, major, basic.diameter),
        (found.pitch_diameter, pitch, basic.pitch_diameter),
        (found.internal_pitch_diameter, internal_pitch, basic.pitch_diameter),
        (found.internal_minor_diameter, internal_minor, basic.internal_minor_diameter),
    ):
        assert value == pytest.approx(limit, abs=0.06 * abs(limit - nominal))


@pytest.mark.published
def test_inch_limits_of_size():
    # ASME B1.1, 1/2-13 UNC: 2A major 0.4876, pitch 0.4435; 2B pitch 0.4565, minor 0.434 in
    # (values from memory).
    found = least_material(thread("1/2-13 UNC"))
    assert found.diameter / INCH == pytest.approx(0.4876, abs=0.0001)
    assert found.pitch_diameter / INCH == pytest.approx(0.4435, abs=0.0001)
    assert found.internal_pitch_diameter / INCH == pytest.approx(0.4565, abs=0.0001)
    assert found.internal_minor_diameter / INCH == pytest.approx(0.434, abs=0.0005)
    assert "from memory" in SOURCE


@pytest.mark.parametrize("name", ["M3", "M4x0.5", "M64", "M20", "1/4-28 UNF", "1 1/2-6 UNC"])
def test_least_material_is_less_than_basic(name):
    basic, least = thread(name), least_material(thread(name))
    assert basic.core_diameter < least.pitch_diameter < basic.pitch_diameter
    assert least.pitch_diameter < least.diameter < basic.diameter
    assert least.internal_pitch_diameter > basic.pitch_diameter
    assert basic.internal_minor_diameter < least.internal_minor_diameter < least.diameter


def test_basic_profile_shears_over_its_known_shares_of_the_pitch():
    # Closed form: on the 60° profile the fastener's tooth is 3/4 P thick at D1, the nut's 7/8 P
    # thick at d.
    for name in ("M6", "M20", "1/2-13 UNC"):
        size = thread(name)
        external = stripping.external_shear_area(
            10.0, size.pitch, size.internal_minor_diameter, size.pitch_diameter
        )
        internal = stripping.internal_shear_area(
            10.0, size.pitch, size.diameter, size.pitch_diameter
        )
        assert external == pytest.approx(
            0.75 * math.pi * size.internal_minor_diameter * 10.0, rel=1e-5
        )
        assert internal == pytest.approx(0.875 * math.pi * size.diameter * 10.0, rel=1e-5)


def _force(size, engagement, fastener_strength, nut_strength, flats):
    least = least_material(size)
    length = stripping.effective_engagement(engagement, size.pitch)
    external = stripping.external_shear_area(
        length, size.pitch, least.internal_minor_diameter, least.pitch_diameter
    )
    internal = stripping.internal_shear_area(
        length, size.pitch, least.diameter, least.internal_pitch_diameter
    )
    ratio = stripping.STEEL_SHEAR_RATIO
    return stripping.stripping_force(
        external,
        internal,
        ratio * fastener_strength,
        ratio * nut_strength,
        stripping.dilation_factor(flats, size.diameter),
    )


@pytest.mark.parametrize("name", ["M6", "M12x1.25", "M20", "1/2-13 UNC"])
@pytest.mark.parametrize("mate_strength", [200.0, 600.0, 1200.0])
@pytest.mark.parametrize("across", [1.5, 5.0])
def test_at_its_full_engagement_the_thread_strips_where_the_fastener_breaks(
    name, mate_strength, across
):
    # Closed form, there and back: R_m A_s of class 10.9 equals the stripping force at that length,
    # from whatever length it was found.
    size = thread(name)
    breaking = 1040.0 * size.stress_area
    facts = (1040.0, mate_strength, across * size.diameter)
    for engagement in (0.5 * size.diameter, 2.0 * size.diameter):
        strips = _force(size, engagement, *facts)
        carried = stripping.effective_engagement(engagement, size.pitch)
        length = stripping.full_engagement(breaking, strips, carried, size.pitch)
        assert _force(size, length, *facts) == pytest.approx(breaking, rel=1e-12)


@pytest.mark.published
def test_engagement_in_a_soft_part_is_that_of_the_trade():
    # Common practice, no published source: class 8.8 wants about 0.8 to 1.2 diameters in steel of
    # 500 MPa and 1.5 to 2.2 in aluminium of 250 MPa.
    size = thread("M12")
    breaking = 830.0 * size.stress_area
    for strength, low, high in ((500.0, 0.8, 1.2), (250.0, 1.5, 2.2)):
        strips = _force(size, 12.0, 830.0, strength, 60.0)
        carried = stripping.effective_engagement(12.0, size.pitch)
        length = stripping.full_engagement(breaking, strips, carried, size.pitch)
        assert low < length / size.diameter < high


@pytest.mark.published
def test_a_standard_nut_lets_the_bolt_break_first_and_a_thin_one_does_not():
    # ISO 898-2 (from memory): a nut of its class, 0.9 d high, lets the bolt break in its thread; a
    # thin nut of 0.5 d strips. M12, class 8.8, nut of 890 MPa, 18 mm across flats.
    size = thread("M12")
    tensile = grade("8.8", 12.0).tensile_strength
    breaking = tensile * size.stress_area
    assert _force(size, 10.8, tensile, 890.0, 18.0) > breaking
    assert _force(size, 6.0, tensile, 890.0, 18.0) < breaking


@pytest.mark.published
@pytest.mark.parametrize(
    ("ratio", "fastener", "nut"),
    # E. M. Alexander, SAE paper 770420 (1977): ends of the ranges (values from memory).
    [(0.4, 0.897, 1.055), (1.0, 0.897, 0.897), (2.2, 1.187, 0.897), (0.1, 0.897, 1.055)],
)
def test_bending_factors_at_the_ends_of_their_ranges(ratio, fastener, nut):
    found = stripping.bending_factors(ratio)
    assert found[0] == pytest.approx(fastener, abs=0.0006)
    assert found[1] == pytest.approx(nut, abs=0.0006)


def test_wide_parts_do_not_spread():
    assert stripping.dilation_factor(np.array([22.8, 40.0]), 12.0) == pytest.approx([1.0, 1.0])
    assert stripping.dilation_factor(18.0, 12.0) < 1


def test_more_engagement_and_a_stronger_part_strip_later():
    size = thread("M10")
    engagement = np.linspace(6.0, 20.0, 20)
    assert np.all(np.diff(_force(size, engagement, 1040.0, 300.0, 40.0)) > 0)
    strength = np.linspace(150.0, 900.0, 50)
    assert np.all(np.diff(_force(size, 12.0, 1040.0, strength, 40.0)) > 0)
