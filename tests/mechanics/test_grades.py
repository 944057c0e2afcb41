"""Strengths of property classes and grades against the standards' tables."""

from __future__ import annotations

import math

import pytest

from preloadmc.mechanics.grades import (
    USUAL_STRENGTH_EXCESS,
    grade,
    grade_sizes,
    known_grades,
)
from preloadmc.mechanics.thread import thread

KPSI = 6.894757293168361
INCH = 25.4

# Sp, Rm, Rp0.2 (or ReL) in MPa: ISO 898-1 and ISO 3506-1.
ISO = [
    ("4.6", 12, 225, 400, 240),
    ("4.8", 12, 310, 420, 340),
    ("5.8", 12, 380, 520, 420),
    ("8.8", 16, 580, 800, 640),
    ("8.8", 18, 600, 830, 660),
    ("9.8", 16, 650, 900, 720),
    ("10.9", 20, 830, 1040, 940),
    ("12.9", 20, 970, 1220, 1100),
    ("A2-50", 10, None, 500, 210),
    ("A2-70", 10, None, 700, 450),
    ("A4-80", 10, None, 800, 600),
]

# Shigley, 9th ed., Table 8-9, p. 433 (and 8-10): proof, tensile, yield in kpsi.
INCH_GRADES = [
    ("SAE 1", 0.5, 33, 60, 36),
    ("SAE 2", 0.75, 55, 74, 57),
    ("SAE 2", 0.875, 33, 60, 36),
    ("SAE 4", 0.5, 65, 115, 100),
    ("SAE 5", 1.0, 85, 120, 92),
    ("SAE 5", 1.125, 74, 105, 81),
    ("SAE 5.2", 0.5, 85, 120, 92),
    ("SAE 7", 0.5, 105, 133, 115),
    ("SAE 8", 0.3125, 120, 150, 130),
    ("SAE 8.2", 0.5, 120, 150, 130),
    ("A325", 0.75, 85, 120, 92),
    ("A490", 0.75, 120, 150, 130),
    ("A354 BD", 0.75, 120, 150, 130),
]

# ISO 898-1 (as EN ISO 898-1): proof loads of 8.8, 10.9 and 12.9, N.
PROOF_LOADS = [
    ("M6", 11_600, 16_700, 19_500),
    ("M8", 21_200, 30_400, 35_500),
    ("M10", 33_700, 48_100, 56_300),
    ("M12", 48_900, 70_000, 81_800),
    ("M14", 66_700, 95_500, 112_000),
    ("M16", 91_000, 130_000, 152_000),
    ("M18", 115_000, 159_000, 186_000),
    ("M20", 147_000, 203_000, 238_000),
    ("M22", 182_000, 252_000, 294_000),
    ("M24", 212_000, 293_000, 342_000),
    ("M27", 275_000, 381_000, 445_000),
]

# ISO 898-1: smallest ultimate loads of 8.8, 10.9 and 12.9, N.
ULTIMATE_LOADS = [
    ("M8", 29_200, 38_100, 44_600),
    ("M10", 46_400, 60_300, 70_800),
    ("M12", 67_400, 87_700, 103_000),
    ("M16", 125_000, 163_000, 192_000),
    ("M20", 203_000, 255_000, 299_000),
    ("M24", 293_000, 367_000, 431_000),
    ("M30", 466_000, 583_000, 684_000),
    ("M36", 678_000, 850_000, 997_000),
]


def _third_digit(load: float) -> float:
    """The standard rounds loads to three digits, not always to the nearest."""
    return 10.0 ** (math.floor(math.log10(load)) - 2)


# Loads whose last digit depends on the stress area that the standard rounds to three digits: M14
# has 115.44 mm² (115), M16 156.67 mm² (157). All others follow from the exact area.
BY_ROUNDED_AREA = {("proof", "M14", "8.8"), ("proof", "M14", "10.9"), ("proof", "M16", "8.8")}


def _holds(kind: str, size: str, name: str, strength: float, load: float) -> bool:
    """Whether a load of the standard is strength times area: exact, or rounded where listed."""
    area = thread(size).stress_area
    within = _third_digit(load)
    exact = abs(strength * area - load) <= within
    if (kind, size, name) not in BY_ROUNDED_AREA:
        return exact
    return not exact and abs(strength * float(f"{area:.3g}") - load) <= within


@pytest.mark.published
@pytest.mark.parametrize(("name", "size", "proof", "tensile", "yielding"), ISO)
def test_iso_classes(name, size, proof, tensile, yielding):
    found = grade(name, size)
    assert found.name == name
    assert (found.proof_strength, found.tensile_strength, found.yield_strength) == (
        proof,
        tensile,
        yielding,
    )


@pytest.mark.published
@pytest.mark.parametrize(("name", "size", "proof", "tensile", "yielding"), INCH_GRADES)
def test_inch_grades(name, size, proof, tensile, yielding):
    found = grade(name, size * INCH)
    assert found.proof_strength == pytest.approx(proof * KPSI)
    assert found.tensile_strength == pytest.approx(tensile * KPSI)
    assert found.yield_strength == pytest.approx(yielding * KPSI)


@pytest.mark.published
@pytest.mark.parametrize(("size", "c88", "c109", "c129"), PROOF_LOADS)
def test_proof_loads(size, c88, c109, c129):
    for name, expected in (("8.8", c88), ("10.9", c109), ("12.9", c129)):
        found = grade(name, thread(size).diameter)
        assert _holds("proof", size, name, found.proof_strength, expected), name


@pytest.mark.published
@pytest.mark.parametrize(("size", "c88", "c109", "c129"), ULTIMATE_LOADS)
def test_ultimate_loads(size, c88, c109, c129):
    for name, expected in (("8.8", c88), ("10.9", c109), ("12.9", c129)):
        found = grade(name, thread(size).diameter)
        assert _holds("ultimate", size, name, found.tensile_strength, expected), name


@pytest.mark.published
def test_recommended_preload_of_a_reused_joint():
    # Ugural, Mechanical Design of Machine Components, Ex. 15.7, and Shigley, 9th ed., Ex. 8-5,
    # p. 449: 75 % of proof, 5/8-11 UNC grade 5, 14.4 kip.
    bolt = thread("5/8-11 UNC")
    kip = 4448.2216152605
    preload = 0.75 * grade("SAE 5", bolt.diameter).proof_strength * bolt.stress_area
    assert preload / kip == pytest.approx(14.4, abs=0.05)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("class 10.9", "10.9"),
        ("ISO 898-1 8.8", "8.8"),
        ("a2-70", "A2-70"),
        ("A4 80", "A4-80"),
        ("grade 5", "SAE J429 grade 5"),
        ("SAE grade 8", "SAE J429 grade 8"),
        ("SAE J429 grade 5.2", "SAE J429 grade 5.2"),
        ("ASTM A354 BD", "ASTM A354 BD"),
    ],
)
def test_usual_names_are_understood(written, meant):
    assert grade(written, 10.0).name == meant


def test_every_known_name_is_found_and_names_its_source():
    for name in known_grades():
        found = grade(name, 10.0)
        assert found.name == name
        assert 0 < found.yield_strength < found.tensile_strength
        assert found.source
        if found.hardness is not None:
            assert found.hardness[0] < found.hardness[1]
            assert "from memory" in found.source


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("8.9", "unknown property class or grade '8.9'; nearest: 8.8"),
        ("SAE 9", "nearest: SAE J429 grade 1, SAE J429 grade 2"),
        ("wood", "unknown property class or grade 'wood'; known: 4.6"),
    ],
)
def test_an_unknown_grade_is_refused_with_the_nearest_names(written, words):
    with pytest.raises(ValueError, match=words):
        grade(written, 10.0)


@pytest.mark.parametrize(("name", "size"), [("9.8", 20.0), ("SAE 8", 50.0)])
def test_a_size_outside_the_standard_is_refused(name, size):
    with pytest.raises(ValueError, match=f"is defined up to a diameter of .* not {size:g} mm"):
        grade(name, size)


@pytest.mark.parametrize(
    ("name", "limit"),
    # ISO 3506-1:2009, Table 2, classes 70 and 80 up to M24, 50 up to M39; ISO 898-1:2013, clause 1,
    # up to M39 (values from memory). The inch grades end without such a clause.
    [("A2-70", 24.0), ("A4-80", 24.0), ("A2-50", 39.0), ("10.9", 39.0), ("SAE 8", None)],
)
def test_larger_sizes_are_as_agreed(name, limit):
    assert grade(name, 12.0).agreed_above == limit


def test_the_sizes_of_a_grade_follow_each_other():
    # ISO 898-1:2013, Table 3: class 8.8 changes above 16 mm, 9.8 ends there; Shigley, 9th ed.,
    # Table 8-9: grade 5 changes above 1 in and ends at 1 1/2 in.
    assert grade_sizes("8.8") == ((0.0, 16.0), (16.0, math.inf))
    assert grade_sizes("9.8") == ((0.0, 16.0),)
    assert grade_sizes("SAE J429 grade 5") == ((0.0, 25.4), (25.4, pytest.approx(38.1)))


def test_the_usual_excess_of_strength_says_that_it_is_from_memory():
    # Value from memory: mean about 1.1 times the minimum, cov 3 to 5 %.
    assert USUAL_STRENGTH_EXCESS.mean_ratio == pytest.approx(1.1)
    assert 0.03 <= USUAL_STRENGTH_EXCESS.cov <= 0.05
    assert "value from memory" in USUAL_STRENGTH_EXCESS.source
