"""Loosening rules by hand calculation."""

from __future__ import annotations

import math

import pytest

from preloadmc.mechanics import loosening
from preloadmc.mechanics.thread import thread
from preloadmc.mechanics.tightening import release_torque_per_preload, torque_per_preload


def test_the_nut_stops_where_pitch_torque_meets_prevailing_torque():
    held = loosening.preload_held_by_prevailing_torque(1_600.0, 1.75)
    assert held == pytest.approx(2 * math.pi * 1_600 / 1.75)
    assert loosening.pitch_torque(held, 1.75) == pytest.approx(1_600.0)


@pytest.mark.published
def test_self_locking_of_an_m12():
    # Shigley, 9th ed., eq. 8-3, for a 60° thread; M12: lead angle 2.94°, friction above 0.044
    # (values from memory).
    size = thread("M12")
    assert math.degrees(size.lead_angle) == pytest.approx(2.94, abs=0.005)
    friction = math.tan(size.lead_angle) * math.cos(math.radians(30))
    assert friction == pytest.approx(0.044, abs=0.0005)
    # There a frictionless seat needs no release torque.
    bracket = torque_per_preload(size.pitch, size.pitch_diameter, friction, 0.0, 15.0)
    back = release_torque_per_preload(bracket, size.pitch, size.pitch_diameter, friction)
    assert back == pytest.approx(0.0, abs=1e-12)


def test_ramps_must_be_steeper_than_the_thread():
    lead = thread("M12").lead_angle
    assert loosening.ramp_excess(lead, lead) == 0.0
    assert loosening.ramp_excess(2 * lead, lead) > 0
    assert loosening.ramp_excess(0.5 * lead, lead) < 0


def test_the_bond_must_outlast_the_pitch_torque():
    at_limit = loosening.pitch_torque(40e3, 1.75)
    assert loosening.breakaway_excess(at_limit, 40e3, 1.75) == pytest.approx(0.0)
    assert loosening.breakaway_excess(2 * at_limit, 40e3, 1.75) == pytest.approx(at_limit)
