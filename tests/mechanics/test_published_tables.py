"""How the data tables are asked: every row has a source, other names find it, wrong ones do not."""

from __future__ import annotations

import pytest

from preloadmc.mechanics.friction_table import (
    friction_class,
    known_friction_classes,
    known_nut_factors,
    nut_factor_range,
)
from preloadmc.mechanics.prevailing_torque import prevailing_torque
from preloadmc.mechanics.scatter_table import known_scatters, typical_scatter
from preloadmc.mechanics.securing import (
    known_securing_elements,
    securing_element,
)
from preloadmc.mechanics.thread import thread

LBF_INCH = 4.4482216152605 * 25.4


def test_every_scatter_row_is_a_band_with_a_source():
    for name in known_scatters():
        row = typical_scatter(name.upper())
        assert 0 < row.low <= row.high < 1
        assert row.source
        assert row.method


@pytest.mark.published
def test_friction_classes():
    # VDI 2230-1, Table A5.
    bands = {name: (friction_class(name).low, friction_class(name).high) for name in "ABCDE"}
    assert bands == {
        "A": (0.04, 0.10),
        "B": (0.08, 0.16),
        "C": (0.14, 0.24),
        "D": (0.20, 0.35),
        "E": (0.30, None),
    }
    assert known_friction_classes() == tuple("ABCDE")


def test_every_nut_factor_row_is_a_band_with_a_source():
    for surface in known_nut_factors():
        row = nut_factor_range(surface)
        assert 0 < row.low <= (row.mean or row.low) <= row.high < 1
        assert row.source


def test_every_securing_element_has_a_rule_a_note_and_a_source():
    for name in known_securing_elements():
        element = securing_element(name)
        assert element.loosening in {
            "no slip", "prevailing torque", "ramp", "breakaway torque", "positive lock",
        }  # fmt: skip
        assert element.note
        assert element.source
        if name != "none":
            assert "transverse-vibration test" in element.note


@pytest.mark.published
def test_prevailing_torques():
    # ISO 2320 (values from memory), N·m; US Army TM 9-6115-604-34, Table 1-3, lbf·in.
    metric = prevailing_torque(thread("M12x1.25"), "insert")
    assert metric.largest_first_assembly == 15.5e3
    assert (metric.smallest_first_removal, metric.smallest_fifth_removal) == (2.3e3, 1.6e3)
    for name, kind, smallest in (
        ("5/16-18 UNC", "insert", 5),
        ("3/8-24 UNF", "all-metal", 12),
        ("3/8-24 UNF", "insert", 9),
        ("3/4-10 UNC", "all-metal", 51),
    ):
        found = prevailing_torque(thread(name), kind)
        assert found.smallest_first_removal == pytest.approx(smallest * LBF_INCH)
        assert found.largest_first_assembly is None


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: typical_scatter("torque wrench"), r"unknown typical scatter .* nearest: torque"),
        (lambda: friction_class("F"), r"unknown friction class 'F'; known: A, B, C, D, E"),
        (lambda: nut_factor_range("zinc plate"), r"nearest: zinc plated"),
        (lambda: securing_element("spring"), r"unknown securing element 'spring'; nearest: spring"),
        (lambda: prevailing_torque(thread("M12"), "nylon"), r"unknown kind of locking nut"),
        (
            lambda: prevailing_torque(thread("M64"), "insert"),
            r"unknown size of a locking nut 'M64'",
        ),
    ],
)
def test_unknown_names_are_refused_with_the_nearest(call, words):
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.parametrize(
    ("written", "letter"),
    # VDI 2230-1, Table A5: pastes with MoS2 are class A, as delivered and lightly oiled class C.
    [("MoS2 paste", "A"), ("Molybdenum disulphide paste", "A"), ("lightly oiled", "C")],
)
def test_a_friction_class_by_its_surface(written, letter):
    assert friction_class(written).name == letter


def test_a_nut_factor_by_another_spelling():
    assert nut_factor_range("MoS2 paste") == nut_factor_range("molybdenum disulphide paste")
