"""Fatigue of threads: amplitude, endurance limits, mean stress, finite life."""

import math

import numpy as np
import pytest

from preloadmc.mechanics import fatigue
from preloadmc.mechanics.service import fastener_force

KPSI = 6.894757


@pytest.mark.published
def test_amplitude_of_a_pulsating_load():
    # Shigley, 9th ed., Problem 8-37: M30, A_t 561 mm², C 0.33, P 80 kN, preload 252.45 kN:
    # sigma_a 23.53 MPa.
    found = fatigue.stress_amplitude(252.45e3 + 0.33 * 80e3, 252.45e3, 561.0)
    assert found == pytest.approx(23.53, abs=0.005)
    assert fatigue.stress_amplitude(252.45e3, 252.45e3 + 0.33 * 80e3, 561.0) == found


@pytest.mark.published
def test_amplitude_without_preload():
    # Ugural, Mechanical Design of Machine Components, Ex. 15.7: 5/8-11, 0 to 7 kip, not preloaded:
    # 15.5 ksi.
    force = fastener_force(0.0, 7.0, 0.188), fastener_force(0.0, 0.0, 0.188)
    assert fatigue.stress_amplitude(*force, 0.226) == pytest.approx(15.5, abs=0.05)


@pytest.mark.published
def test_gerber_at_the_end_of_a_load_line():
    # The same: S_e 129, S_ut 830 MPa, preload stress 450 MPa; S_a 77.0 MPa, 3.27 times 23.53.
    assert fatigue.gerber_amplitude(129.0, 830.0, 450.0 + 77.0) == pytest.approx(77.0, abs=0.05)
    n_f = 77.0 / fatigue.stress_amplitude(0.33 * 80e3, 0.0, 561.0)
    assert n_f == pytest.approx(3.27, abs=0.005)


def test_goodman_at_the_end_of_a_load_line():
    # Shigley, 9th ed., Sec. 8-11: S_a = S_e (S_ut - sigma_i)/(S_ut + S_e), the same line by hand.
    amplitude = 129.0 * (830.0 - 450.0) / (830.0 + 129.0)
    found = fatigue.goodman_amplitude(129.0, 830.0, 450.0 + amplitude)
    assert found == pytest.approx(amplitude, rel=1e-12)


@pytest.mark.published
@pytest.mark.parametrize(
    ("rule", "amplitude", "factor"),
    [(fatigue.goodman_amplitude, 7.55, 2.44), (fatigue.gerber_amplitude, 11.33, 3.65)],
)
def test_fatigue_of_a_cap_screw(rule, amplitude, factor):
    # Shigley, 9th ed., Ex. 8-5 (these values from memory): 5 kip, C 0.280, A_t 0.226 in², preload
    # 63.72 kpsi, S_e 18.6, S_ut 120 kpsi; sigma_a 3.10 kpsi.
    acts = fatigue.stress_amplitude(0.280 * 5.0, 0.0, 0.226)
    assert acts == pytest.approx(3.10, abs=0.005)
    assert amplitude / acts == pytest.approx(factor, abs=0.01)
    assert rule(18.6, 120.0, 63.72 + amplitude) == pytest.approx(amplitude, abs=0.01)


def test_goodman_is_on_the_safe_side_of_gerber():
    mean = np.linspace(1.0, 829.0, 50)
    goodman = fatigue.goodman_amplitude(129.0, 830.0, mean)
    gerber = fatigue.gerber_amplitude(129.0, 830.0, mean)
    assert (goodman < gerber).all()
    assert (gerber < 129.0).all()
    assert fatigue.goodman_amplitude(129.0, 830.0, 900.0) < 0.0
    assert fatigue.gerber_amplitude(129.0, 830.0, 900.0) < 0.0


@pytest.mark.parametrize(
    # 0.85 (150/d + 45), VDI 2230-1:2003 (from memory), by hand.
    ("diameter", "limit"),
    [(8.0, 54.1875), (12.0, 48.875), (16.0, 46.21875), (30.0, 42.5)],
)
def test_threads_rolled_before_heat_treatment(diameter, limit):
    assert fatigue.rolled_before_heat_treatment(diameter) == pytest.approx(limit, rel=1e-12)


def test_threads_rolled_after_heat_treatment_bear_less_the_tighter_they_are():
    # 2 - F_Sm/F_0.2min, VDI 2230-1:2003 (from memory), not above that at 0.3.
    mean = np.array([0.0, 0.3, 0.7, 1.0]) * 100e3
    found = fatigue.rolled_after_factor(mean, 100e3)
    assert found == pytest.approx([1.7, 1.7, 1.3, 1.0])


@pytest.mark.parametrize(
    ("cycles", "slope", "factor"),
    [(2e6, 3.0, 1.0), (1e9, 3.0, 1.0), (2e3 * 125, 3.0, 2.0), (31_250, 6.0, 2.0)],
)
def test_fewer_cycles_bear_more(cycles, slope, factor):
    assert fatigue.finite_life_factor(cycles, slope) == pytest.approx(factor, rel=1e-12)


@pytest.mark.published
@pytest.mark.parametrize(
    ("grade", "diameter", "limit"),
    # Shigley, 9th ed., Table 8-17 (from memory; 129 MPa of 8.8 stands in Problem 8-37), kpsi or
    # MPa, at both ends of each row.
    [
        ("SAE J429 grade 5", 25.4 / 4, 18.6 * KPSI),
        ("SAE J429 grade 5", 25.4, 18.6 * KPSI),
        ("SAE J429 grade 5", 1.125 * 25.4, 16.3 * KPSI),
        ("SAE J429 grade 5", 1.5 * 25.4, 16.3 * KPSI),
        ("SAE J429 grade 7", 25.4, 20.6 * KPSI),
        ("SAE J429 grade 8", 1.5 * 25.4, 23.2 * KPSI),
        ("8.8", 16.0, 129.0),
        ("8.8", 36.0, 129.0),
        ("9.8", 1.6, 140.0),
        ("10.9", 5.0, 162.0),
        ("12.9", 36.0, 190.0),
    ],
)
def test_fully_corrected_limits(grade, diameter, limit):
    assert fatigue.fully_corrected_limit(grade, diameter) == pytest.approx(limit, rel=1e-6)
    rows = [row for row in fatigue.fully_corrected_rows() if row[0] == grade]
    assert any(math.isclose(row[3], limit, rel_tol=1e-6) for row in rows)


def test_a_class_or_size_that_the_table_lacks():
    with pytest.raises(ValueError, match=r"the table has 8\.8 from 16 to 36 mm, not 12 mm"):
        fatigue.fully_corrected_limit("8.8", 12.0)
    with pytest.raises(ValueError, match=r"unknown class or grade '4\.6'"):
        fatigue.fully_corrected_limit("4.6", 20.0)
    with pytest.raises(ValueError, match="not 27 mm"):
        fatigue.fully_corrected_limit("SAE J429 grade 5", 27.0)
