"""Tightening by angle, yield point, hydraulic force and elongation, by hand calculation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preloadmc.mechanics import control
from preloadmc.mechanics.stress import yield_preload
from preloadmc.mechanics.thread import thread


@pytest.mark.published
def test_a_third_of_a_turn():
    # Textbook exercise as quoted in an engineering forum: bolt 20 mm, pitch 2.5 mm, tube 40/22 mm,
    # 350 mm long: 241 MPa and -86.3 MPa (moduli 207 and 71 GPa inferred).
    bolt, tube = math.pi / 4 * 20**2, math.pi / 4 * (40**2 - 22**2)
    compliance = 350 / (207e3 * bolt) + 350 / (71e3 * tube)
    preload = control.preload_after_angle(0.0, math.radians(120), 2.5, compliance)
    assert preload / bolt == pytest.approx(241, rel=0.002)
    assert preload / tube == pytest.approx(86.3, rel=0.002)


def test_angle_and_preload_invert_each_other():
    angle = np.radians([0.0, 30.0, 90.0])
    preload = control.preload_after_angle(8e3, angle, 1.75, 5e-6)
    assert preload[0] == 8e3
    # A turn of 2 pi stretches fastener and parts by one pitch together.
    assert 2 * math.pi * (preload - 8e3) * 5e-6 / 1.75 == pytest.approx(angle)


def test_a_stiffer_joint_gains_more_per_degree():
    gain = control.preload_after_angle(0.0, 1.0, 1.75, np.array([3e-6, 5e-6, 9e-6]))
    assert np.all(np.diff(gain) < 0)


def test_sensed_yield_depends_on_thread_friction_only_through_torsion():
    size = thread("M10")
    limit = yield_preload(
        size.stress_area,
        size.stress_diameter,
        size.pitch,
        size.pitch_diameter,
        np.array([0.08, 0.14]),
        940.0,
        0.0,
        1.0,
    )
    preload = control.preload_at_sensed_yield(limit, 0.98)
    assert preload == pytest.approx(0.98 * limit)
    assert preload[0] > preload[1]


def test_tensioner_hands_over_its_share():
    assert control.preload_from_tensioner(80e3, np.array([0.7, 1.0])) == pytest.approx([56e3, 80e3])


def test_elongation_times_stiffness_is_preload():
    # Closed form: a 100 mm bar of 58 mm² and 205 GPa under 30 kN stretches by 0.2523 mm.
    compliance = 100 / (205e3 * 58)
    assert control.preload_from_elongation(30e3 * compliance, compliance) == pytest.approx(30e3)
    assert 30e3 * compliance == pytest.approx(0.2523, abs=5e-5)
