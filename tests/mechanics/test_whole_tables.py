"""Every row of the tables, written out a second time from its source.

Two entries of one value find a slip of the pen in either. "From memory" says that a value was not
seen in print.
"""

from __future__ import annotations

import numpy as np
import pytest

from preloadmc.mechanics import softening
from preloadmc.mechanics.friction_table import known_nut_factors, nut_factor_range
from preloadmc.mechanics.grades import grade
from preloadmc.mechanics.materials import known_materials, material
from preloadmc.mechanics.prevailing_torque import prevailing_torque
from preloadmc.mechanics.scatter_table import known_scatters, typical_scatter
from preloadmc.mechanics.securing import known_securing_elements, securing_element
from preloadmc.mechanics.thread import known_threads, thread

INCH = 25.4
LBF_INCH = 4.4482216152605 * INCH

# Half-width of the preload's band in per cent. Machinery's Handbook and NSTS 08307 as quoted in
# "Methods of Applying and Measuring Preload"; VDI 2230:1986 as on a supplier's page.
BANDS = {
    "by feel, Machinery's Handbook": (35, 35),
    "torque wrench, Machinery's Handbook": (25, 25),
    "turn of nut, Machinery's Handbook": (15, 15),
    "indicating washer, Machinery's Handbook": (10, 10),
    "controlled wrench below yield, Machinery's Handbook": (15, 15),
    "yield point sensed, Machinery's Handbook": (8, 8),
    "elongation, Machinery's Handbook": (3, 5),
    "strain gauges, Machinery's Handbook": (1, 1),
    "ultrasonic, Machinery's Handbook": (1, 1),
    "torque unlubricated, NSTS 08307": (35, 35),
    "torque cadmium plated, NSTS 08307": (30, 30),
    "torque lubricated, NSTS 08307": (25, 25),
    "hydraulic tensioner, NSTS 08307": (15, 15),
    "indicating washer, NSTS 08307": (10, 10),
    "ultrasonic, NSTS 08307": (10, 10),
    "elongation, NSTS 08307": (5, 5),
    "instrumented bolt, NSTS 08307": (5, 5),
    "yield controlled, VDI 2230:1986": (5, 12),
    "angle controlled, VDI 2230:1986": (5, 12),
    "hydraulic, VDI 2230:1986": (9, 23),
    "torque found on the joint, VDI 2230:1986": (17, 23),
    "torque by estimated friction, VDI 2230:1986": (23, 28),
    "power tool set by re-torque, VDI 2230:1986": (26, 43),
}
# Largest over smallest preload, VDI 2230-1:2015, Table A8 (values from memory; the wrench with
# smooth tightening as on a supplier's page).
RATIOS = {
    "torque wrench smooth, VDI 2230-1:2015": (1.6, 2.0),
    "ultrasonic, VDI 2230-1:2015": (1.05, 1.2),
    "elongation, VDI 2230-1:2015": (1.1, 1.5),
    "yield controlled, VDI 2230-1:2015": (1.2, 1.4),
    "angle controlled, VDI 2230-1:2015": (1.2, 1.4),
    "hydraulic, VDI 2230-1:2015": (1.2, 1.6),
    "torque found on the joint, VDI 2230-1:2015": (1.4, 1.6),
    "torque friction class B, VDI 2230-1:2015": (1.6, 2.0),
    "torque friction class A, VDI 2230-1:2015": (1.7, 2.5),
    "power tool set by re-torque, VDI 2230-1:2015": (1.7, 2.5),
    "impact wrench, VDI 2230-1:2015": (2.5, 4.0),
}


@pytest.mark.published
def test_typical_scatter():
    assert sorted(known_scatters()) == sorted([*BANDS, *RATIOS])
    for name, band in BANDS.items():
        row = typical_scatter(name)
        assert (100 * row.low, 100 * row.high) == pytest.approx(band), name
    for name, ratios in RATIOS.items():
        assert typical_scatter(name).scatter_ratios == pytest.approx(ratios), name


# Smallest and largest nut factor, and the mean where there is one. Shigley, 9th ed., Table 8-15,
# p. 439; suppliers' ranges; Bickford, Handbook of Bolts and Bolted Joints (values from memory).
NUT_FACTORS = {
    "black finish, not plated": (0.30, None, 0.30),
    "zinc plated": (0.20, None, 0.20),
    "lubricated": (0.18, None, 0.18),
    "cadmium plated": (0.16, None, 0.16),
    "steel, dry": (0.18, None, 0.27),
    "steel, machine oil": (0.10, None, 0.26),
    "cadmium, suppliers' range": (0.15, None, 0.19),
    "phosphate and oil, suppliers' range": (0.15, None, 0.22),
    "zinc, suppliers' range": (0.17, None, 0.35),
    "stainless on stainless": (0.30, None, 0.50),
    "zinc flake": (0.16, None, 0.32),
    "steel, as received": (0.158, 0.199, 0.267),
    "cadmium plate, tests": (0.106, 0.197, 0.328),
    "phosphate and oil, tests": (0.15, 0.19, 0.23),
    "zinc, tests": (0.262, 0.332, 0.398),
    "molybdenum disulphide paste": (0.10, 0.13, 0.16),
}


@pytest.mark.published
def test_nut_factors():
    found = {name: nut_factor_range(name) for name in known_nut_factors()}
    assert {name: (row.low, row.mean, row.high) for name, row in found.items()} == NUT_FACTORS


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "largest", "first", "fifth"),
    # ISO 2320, classes 5 and 8, N·m (values from memory).
    [
        ("M6", 3.0, 0.45, 0.30),
        ("M8", 6.0, 0.85, 0.60),
        ("M10", 10.5, 1.5, 1.0),
        ("M12", 15.5, 2.3, 1.6),
        ("M16", 32, 4.5, 3.0),
        ("M20", 54, 7.5, 5.3),
    ],
)
@pytest.mark.parametrize("kind", ["all-metal", "insert"])
def test_prevailing_torques_of_metric_nuts(name, kind, largest, first, fifth):
    found = prevailing_torque(thread(name), kind)
    assert [
        found.largest_first_assembly,
        found.smallest_first_removal,
        found.smallest_fifth_removal,
    ] == pytest.approx([1e3 * largest, 1e3 * first, 1e3 * fifth])


@pytest.mark.published
@pytest.mark.parametrize(
    ("size", "metal", "insert"),
    # US Army TM 9-6115-604-34, Table 1-3, minimum prevailing torque, lbf·in.
    [
        ("1/4-20", 4, 4),
        ("5/16-18", 5, 5),
        ("3/8-16", 12, 9),
        ("7/16-14", 15, 12),
        ("1/2-13", 20, 15),
        ("5/8-11", 34, 28),
        ("3/4-10", 51, 43),
    ],
)
def test_prevailing_torques_of_inch_nuts(size, metal, insert):
    for kind, smallest in (("all-metal", metal), ("insert", insert)):
        found = prevailing_torque(thread(size), kind)
        assert found.smallest_first_removal == pytest.approx(smallest * LBF_INCH)


# Modulus in GPa, expansion in 1e-6/K, limiting pressure in MPa. Moduli: Shigley, 9th ed., Table
# 8-8 (steel, aluminium 2024 and 7075, copper, grey iron). Expansions: Callister, Table B.6 (steels,
# grey iron, aluminium 2024, 6061 and 7075, AZ91, titanium, nickel alloy). Limiting pressures: VDI
# 2230-1:2003, but for the last three cast alloys. All others from memory.
MATERIALS = {
    "steel": (207, 11.7, None),
    "steel S235": (207, 11.7, 490),
    "steel E295": (207, 11.7, 710),
    "steel S355": (207, 11.7, 760),
    "medium-carbon steel": (207, 11.7, None),
    "steel C45": (207, 11.7, 630),
    "steel 16MnCr5": (207, 11.7, 900),
    "alloy steel": (207, 12.3, None),
    "alloy steel 34CrMo4": (207, 12.3, 870),
    "stainless steel A2": (193, 17.2, 630),
    "stainless steel A4": (193, 15.9, 460),
    "grey cast iron": (100, 11.4, 900),
    "ductile iron GJS-400": (169, 12.5, 700),
    "ductile iron GJS-500": (169, 12.5, 900),
    "ductile iron GJS-600": (169, 12.5, 1000),
    "aluminium 2024": (71, 22.9, None),
    "aluminium 5083": (70, 23, 230),
    "aluminium 6061": (68.9, 23.6, None),
    "aluminium 6082": (70, 23, 260),
    "aluminium 7075": (71, 23.4, 410),
    "aluminium die-cast AlSi9Cu3": (75, 21, 290),
    "aluminium cast AlSi9Cu3": (75, 21, 220),
    "aluminium cast AlSi7Mg": (74, 22, 230),
    "aluminium cast AlSi10Mg": (74, 21, 220),
    "aluminium cast AlSi12": (75, 20, 200),
    "magnesium AZ91": (45, 26.0, 280),
    "titanium Ti-6Al-4V": (114, 8.6, 890),
    "copper": (119, 17.0, None),
    "nickel alloy 625": (207, 12.8, None),
}


@pytest.mark.published
def test_materials():
    assert sorted(known_materials()) == sorted(MATERIALS)
    for name, (modulus, expansion, pressure) in MATERIALS.items():
        found = material(name)
        assert found.modulus == pytest.approx(modulus * 1e3), name
        assert found.expansion == pytest.approx(expansion * 1e-6), name
        assert found.limiting_pressure == pressure, name


# °C and GPa. ASME tables in Roark-type handbooks, carbon up to and above 0.3 % (the latter at
# -73 °C from memory); from memory: ASME BPVC II-D, TM-1 group G and TM-5; EN 1999-1-2, Table 2.
MODULI = {
    "steel": {
        -73: 208.2, 21: 203.4, 93: 198.6, 149: 195.1, 204: 191.0, 260: 188.2, 316: 184.1,
        371: 175.8, 427: 166.9,
    },
    "steel C45": {
        -73: 206.8, 21: 202.0, 93: 197.2, 149: 193.7, 204: 189.6, 260: 186.8, 316: 182.7,
        371: 174.4, 427: 165.5,
    },
    "stainless steel A2": {
        25: 195, 100: 189, 150: 186, 200: 183, 250: 179, 300: 176, 350: 172, 400: 169,
    },
    "aluminium 6082": {20: 70.0, 50: 69.3, 100: 67.9, 150: 65.1, 200: 60.2, 250: 54.6},
    "titanium Ti-6Al-4V": {25: 107, 100: 103, 150: 101, 200: 97, 250: 93, 300: 88},
}  # fmt: skip


@pytest.mark.published
@pytest.mark.parametrize("name", MODULI)
def test_moduli_at_temperature(name):
    row = MODULI[name]
    celsius, moduli = np.array(list(row)), np.array(list(row.values()))
    reference = celsius[moduli.argmax()]
    found = material(name).modulus_ratio(reference + 273.15, celsius + 273.15)
    assert found == pytest.approx(moduli / moduli.max())
    low, high = material(name).modulus_range
    assert (low, high) == pytest.approx((min(row) + 273.15, max(row) + 273.15))


# Strengths at °C, from memory: ISO 898-1:1999, Annex A (MPa); EN 1993-1-2:2005, Table E.1 and
# Annex C (1.4301, 1.4401) and EN 1999-1-2:2007, Table 1a, as shares.
STRENGTHS = {
    "CLASS_5_6": {20: 300, 100: 250, 200: 210, 250: 190, 300: 160},
    "CLASS_8_8": {20: 640, 100: 590, 200: 540, 250: 510, 300: 480},
    "CLASS_10_9": {20: 940, 100: 875, 200: 790, 250: 745, 300: 705},
    "CLASS_12_9": {20: 1100, 100: 1020, 200: 925, 250: 875, 300: 825},
    "CARBON_STEEL": {20: 1.0, 100: 1.0, 200: 0.89, 300: 0.78, 400: 0.65},
    "STAINLESS_A2": {20: 1.0, 100: 0.82, 200: 0.68, 300: 0.64, 400: 0.60},
    "STAINLESS_A4": {20: 1.0, 100: 0.88, 200: 0.76, 300: 0.71, 400: 0.66},
    "ALUMINIUM_5083": {20: 1.0, 100: 1.0, 150: 0.98, 200: 0.90, 250: 0.75, 300: 0.40},
    "ALUMINIUM_6061": {20: 1.0, 100: 0.95, 150: 0.91, 200: 0.79, 250: 0.55, 300: 0.31},
    "ALUMINIUM_6082": {20: 1.0, 100: 0.90, 150: 0.79, 200: 0.65, 250: 0.38, 300: 0.20},
}


@pytest.mark.published
@pytest.mark.parametrize("name", STRENGTHS)
def test_strengths_at_temperature(name):
    row = STRENGTHS[name]
    kelvin = np.array(list(row)) + 273.15
    ratios = np.array(list(row.values())) / row[20]
    table = getattr(softening, name)
    assert table.temperatures == pytest.approx(kelvin)
    assert table.ratio(kelvin) == pytest.approx(ratios)
    # Between two rows by a straight line, beyond the ends as at the ends.
    assert table.ratio((kelvin[-1] + kelvin[-2]) / 2) == pytest.approx(ratios[-2:].mean())
    assert table.ratio(kelvin[[0, -1]] + [-50.0, 50.0]) == pytest.approx(ratios[[0, -1]])


# ISO 261:1998, fine pitches of the sizes of ISO 262 and more (from memory).
FINE = {
    "0.35": "3 3.5",
    "0.5": "4 5",
    "0.75": "6 7 8 10",
    "1": "8 10 12 14 16 18 20 22 24 27 30",
    "1.25": "10 12 14",
    "1.5": "12 14 16 18 20 22 24 27 30 33 36 39 42 45 48 52 56 60 64",
    "2": "18 20 22 24 27 30 33 36 39 42 45 48 52 56 60 64",
    "3": "30 33 36 39 42 45 48 52 56 60 64",
    "4": "42 45 48 52 56 60 64",
}


@pytest.mark.published
def test_fine_pitches():
    written = {f"M{size}x{pitch}" for pitch, sizes in FINE.items() for size in sizes.split()}
    assert {name for name in known_threads() if "x" in name} == written
    for name in written:
        assert thread(name).pitch == float(name.partition("x")[2])


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "area"),
    [
        # ISO 898-1, nominal stress areas, mm², of sizes that no other test has (from memory; those
        # above M39 from tables of the trade).
        ("M3", 5.03), ("M3.5", 6.78), ("M4", 8.78), ("M5", 14.2), ("M7", 28.9), ("M39", 976),
        ("M42", 1120), ("M45", 1310), ("M48", 1470), ("M52", 1760), ("M56", 2030), ("M60", 2360),
        ("M64", 2680), ("M8x1", 39.2), ("M10x1", 64.5), ("M12x1.5", 88.1), ("M16x1.5", 167),
        ("M20x1.5", 272), ("M24x2", 384), ("M30x2", 621), ("M36x3", 865), ("M39x3", 1030),
    ],
)  # fmt: skip
def test_stress_areas(name, area):
    assert thread(name).stress_area == pytest.approx(area, rel=0.005)


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "area"),
    [
        # ASME B1.1, tensile stress areas, in² (from memory).
        ("1 1/8-7 UNC", 0.763), ("1 1/4-7 UNC", 0.969), ("1 3/8-6 UNC", 1.155),
        ("1 1/2-6 UNC", 1.405), ("1 1/8-12 UNF", 0.856), ("1 1/4-12 UNF", 1.073),
        ("1 3/8-12 UNF", 1.315), ("1 1/2-12 UNF", 1.581),
    ],
)  # fmt: skip
def test_inch_stress_areas(name, area):
    assert thread(name).stress_area / INCH**2 == pytest.approx(area, abs=0.0011)


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "size", "elongation", "hardness"),
    [
        # ISO 898-1:2013, Table 3, and SAE J429: elongation of a machined test piece in per cent,
        # Rockwell C hardness (values from memory).
        ("4.6", 12, 22, None), ("5.6", 12, 20, None), ("8.8", 12, 12, (22, 32)),
        ("8.8", 20, 12, (23, 34)), ("9.8", 12, 10, (28, 37)), ("10.9", 12, 9, (32, 39)),
        ("12.9", 12, 8, (39, 44)), ("SAE 5", 1.0 * INCH, 14, (25, 34)),
        ("SAE 5", 1.25 * INCH, 14, (19, 30)), ("SAE 7", 1.0 * INCH, 12, (28, 34)),
        ("SAE 8", 1.0 * INCH, 12, (33, 39)),
    ],
)  # fmt: skip
def test_ductility_and_hardness(name, size, elongation, hardness):
    found = grade(name, size)
    assert 100 * found.elongation == pytest.approx(elongation)
    assert found.hardness == hardness


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "size", "proof", "tensile", "yielding"),
    [
        # ISO 898-1:2013, Table 3 (from memory) and ISO 3506-1:2009, MPa.
        ("5.6", 12, 280, 500, 300),
        ("6.8", 12, 440, 600, 480),
        ("A2-80", 10, None, 800, 600),
        ("A4-50", 10, None, 500, 210),
        ("A4-70", 10, None, 700, 450),
    ],
)
def test_further_classes(name, size, proof, tensile, yielding):
    found = grade(name, size)
    strengths = found.proof_strength, found.tensile_strength, found.yield_strength
    assert strengths == (proof, tensile, yielding)


@pytest.mark.parametrize(
    ("name", "largest"),
    # Shigley, 9th ed., Tables 8-9 and 8-10: the largest size of each grade, in.
    [
        ("SAE 1", 1.5), ("SAE 2", 1.5), ("SAE 4", 1.5), ("SAE 5", 1.5), ("SAE 5.2", 1.0),
        ("SAE 7", 1.5), ("SAE 8", 1.5), ("SAE 8.2", 1.0), ("A325", 1.5), ("A490", 1.5),
    ],
)  # fmt: skip
def test_the_largest_size_of_a_grade(name, largest):
    assert grade(name, largest * INCH).name
    with pytest.raises(ValueError, match="is defined up to a diameter of"):
        grade(name, (largest + 0.03) * INCH)


def test_interfaces_that_a_securing_element_adds():
    # Counted: each washer and each further nut adds one face, a pair of washers two.
    added = {
        "spring washer": 1,
        "double nut": 1,
        "serrated washer": 1,
        "wedge-locking washers": 2,
        "tab washer": 1,
    }
    for name in known_securing_elements():
        assert securing_element(name).extra_interfaces == added.get(name, 0), name
