"""Wind-up of the shank against the equations it follows from, and the energy of a turn."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preloadmc.mechanics import torsion
from preloadmc.mechanics.control import preload_after_angle
from preloadmc.mechanics.fastener import Segment
from preloadmc.mechanics.thread import thread
from preloadmc.mechanics.tightening import thread_torque

M12 = thread("M12")
SHANK, FREE = 22.0, 18.0
SEGMENTS = (Segment(SHANK, math.pi / 4 * 12.0**2), Segment(FREE, M12.core_area))
G = 205e3 / 2.6
COMPLIANCE = 4e-6


def arm(friction):
    return thread_torque(1.0, M12.pitch, M12.pitch_diameter, friction, 0.0)


@pytest.mark.published
def test_shear_modulus_of_structural_steel():
    # EN 1993-1-1:2005, Sec. 3.2.6 (from memory): E 210 000, nu 0.3, G about 81 000 N/mm².
    assert torsion.shear_modulus(210e3, torsion.POISSON_RATIO) == pytest.approx(81e3, abs=500)


def test_a_stepped_shaft_twists_by_the_sum_of_its_parts():
    # phi = sum 32 T l/(pi d⁴ G), written in diameters.
    lengths = ((SHANK, 12.0), (FREE, M12.core_diameter))
    twist = sum(32 * 5e3 * length / (math.pi * d**4 * G) for length, d in lengths)
    assert 5e3 * torsion.torsional_compliance(SEGMENTS, G) == pytest.approx(twist, rel=1e-12)


@pytest.mark.parametrize("friction", [0.0, 0.08, 0.2])
@pytest.mark.parametrize("prevailing", [0.0, 4e3])
def test_a_turn_splits_into_helix_and_twist(friction, prevailing):
    # Three equations for preload, thread torque and twist at the end of the turn, solved together:
    # helix (theta - twist + twist_s) P/(2 pi) = (F - F_s) delta; T = F a + T_p; twist = c T.
    snug, turn, pitch = 8e3, math.radians(60.0), M12.pitch
    lead, c = pitch / (2 * math.pi), torsion.torsional_compliance(SEGMENTS, G)
    angles = M12.lead_angle + math.atan(friction * 2 / math.sqrt(3))
    a = M12.pitch_diameter / 2 * math.tan(angles)
    twist_before = c * (snug * a + prevailing)
    equations = np.array([[COMPLIANCE, 0.0, lead], [-a, 1.0, 0.0], [0.0, -c, 1.0]])
    right = np.array([turn * lead + twist_before * lead + snug * COMPLIANCE, prevailing, 0.0])
    scale = np.diag([1e4, 1e4, 1e-2])
    preload, _, twist = scale @ np.linalg.solve(equations @ scale, right)
    wind_up = torsion.wind_up_compliance(c, arm(friction), pitch)
    found = preload_after_angle(snug, turn, pitch, COMPLIANCE + wind_up)
    assert found == pytest.approx(preload, rel=1e-9)
    assert twist > twist_before
    # What it costs is no rounding.
    assert found < 0.995 * preload_after_angle(snug, turn, pitch, COMPLIANCE)


def test_without_friction_no_work_is_lost():
    # The thread torque rises in proportion to the turn: its work is half the torque times the turn,
    # and all of it is stored: in stretch, F² delta/2, and in twist, c T²/2.
    turn, c = math.radians(90.0), torsion.torsional_compliance(SEGMENTS, G)
    wind_up = torsion.wind_up_compliance(c, arm(0.0), M12.pitch)
    preload = preload_after_angle(0.0, turn, M12.pitch, COMPLIANCE + wind_up)
    torque = preload * M12.pitch / (2 * math.pi)
    stored = preload**2 * COMPLIANCE / 2 + c * torque**2 / 2
    assert torque * turn / 2 == pytest.approx(stored, rel=1e-12)


def test_more_thread_friction_winds_up_more():
    twist = torsion.torsional_compliance(SEGMENTS, G)
    rising = torsion.wind_up_compliance(twist, arm(np.array([0.0, 0.1, 0.2])), M12.pitch)
    assert np.all(np.diff(rising) > 0.0)
