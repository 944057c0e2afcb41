"""The torque equation against worked examples, and its balance with release."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preloadmc.mechanics import tightening as t
from preloadmc.mechanics.measured_friction import (
    bearing_friction_from_torque,
    thread_friction_from_torque,
)
from preloadmc.mechanics.thread import thread

INCH = 25.4
LBF = 4.4482216152605
LBF_FT = LBF * 12 * INCH

M12 = {"pitch": 1.75, "pitch_diameter": 10.863, "bearing_diameter": 15.065}


@pytest.mark.published
@pytest.mark.parametrize(
    ("nut_factor", "torque"), [(0.30, 72.7), (0.25, 60.6), (0.20, 48.5), (0.15, 36.3), (0.10, 24.2)]
)
def test_torque_by_nut_factor(nut_factor, torque):
    # Mechanical Fastening, Joining, and Assembly, p. 85: 1275 lbf on 0.190 in.
    bracket = t.torque_per_preload_from_nut_factor(nut_factor, 0.190)
    assert t.preload_from_torque(torque, bracket, 0.0) == pytest.approx(1275.0, rel=0.002)


@pytest.mark.published
def test_torque_by_nut_factor_of_a_three_quarter_inch_bolt():
    # Shigley, 9th ed., Ex. 8-3b, p. 440.
    bracket = t.torque_per_preload_from_nut_factor(0.2, 0.75)
    assert 25_000.0 * bracket == pytest.approx(3750.0)


@pytest.mark.published
def test_torque_by_frictions_of_a_three_quarter_inch_bolt():
    # Shigley, 9th ed., Ex. 8-3c, p. 440, eq. 8-26: 3551 lbf·in, dm = 0.7093 in, collar 1.25 d.
    # The book keeps the product of friction and lead tangent that the bracket neglects:
    # (tan + mu')/(1 - mu' tan) against tan + mu', with mu' tan = 0.173 · 0.028, 0.5 % of the
    # thread's part.
    bracket = t.torque_per_preload(1 / 16, 0.7093, 0.15, 0.15, 1.25 * 0.75)
    assert 25_000 * bracket == pytest.approx(3551, rel=0.003)
    mu, tangent = 0.15 / math.cos(math.radians(30)), math.tan(math.radians(1.6066))
    thread_part = 0.7093 / 2 * (tangent + mu) / (1 - mu * tangent)
    exact = thread_part + 0.625 * 0.15 * 0.75
    assert 25_000 * exact == pytest.approx(3551, rel=0.001)
    assert bracket == pytest.approx(exact, rel=0.003)


@pytest.mark.published
def test_raising_and_lowering_a_power_screw():
    # Shigley, instructor's solution 8-4: 6 kN, dm 22.5, lead 5, f 0.08, collar 0.05 at 40 mm:
    # 16.23 N·m up, 6.622 N·m down. Square thread: no flank angle, so its cosine is divided out;
    # the neglected product is tan · f = 0.07 · 0.08 = 0.6 % of the thread part.
    dm = 22.5 * math.cos(math.radians(30))
    up = t.torque_per_preload(5.0, dm, 0.08, 0.05, 40.0)
    down = t.release_torque_per_preload(up, 5.0)
    assert 6000 * up == pytest.approx(16_230, rel=0.005)
    assert 6000 * down == pytest.approx(6_622, rel=0.002)


def test_torque_split_of_an_m12():
    # Closed form, terms of ISO 16047 and VDI 2230-1: friction 0.12, dw 16.63, hole 13.5.
    assert t.bearing_diameter_uniform_wear(16.63, 13.5) == pytest.approx(15.065)
    bracket = t.torque_per_preload(1.75, 10.863, 0.12, 0.12, 15.065)
    shares = t.torque_shares(bracket, 1.75, 10.863, 0.12)
    assert shares.pitch == pytest.approx(0.1439, abs=5e-5)
    assert shares.thread == pytest.approx(0.3889, abs=5e-5)
    assert shares.bearing == pytest.approx(0.4671, abs=5e-5)
    release = t.release_torque_per_preload(bracket, 1.75)
    assert bracket / 12 == pytest.approx(0.16125, abs=5e-6)
    assert release / bracket == pytest.approx(0.7121, abs=1e-4)
    # At 40 kN: 77.40 N·m on, 55.12 N·m off.
    assert 40 * bracket == pytest.approx(77.40, rel=1e-3)
    assert 40 * release == pytest.approx(55.12, rel=1e-3)


def test_total_friction_of_an_m12():
    # Closed form, ISO 16047 with its rounded 0.577: T = 84 N·m, F = 43 kN, total friction 0.1214.
    assert t.total_friction(84_000.0, 43_000.0, **M12) == pytest.approx(0.1214, rel=1e-3)


@pytest.mark.published
@pytest.mark.parametrize(
    ("preload", "low", "high"),
    [(5000, 0.08, 0.11), (4000, 0.11, 0.15), (2500, 0.19, 0.25)],
    ids=["plain seat", "serrated washer", "serrated flange"],
)
def test_friction_bands_of_a_five_sixteenths_nut(preload, low, high):
    # Common practice, no published source: 18 lbf·ft on 5/16-18 gives about these preloads; bands
    # of lubricated, plain and high friction. Nut 1/2 in across flats, hole 11/32 in.
    size = thread("5/16-18 UNC")
    ring = t.bearing_diameter_uniform_wear(0.5 * INCH, 11 / 32 * INCH)
    friction = t.total_friction(18 * LBF_FT, preload * LBF, size.pitch, size.pitch_diameter, ring)
    assert low <= friction <= high


@pytest.mark.published
def test_release_torque_of_a_five_sixteenths_nut():
    # Common practice, no published source: tightened with 22 lbf·ft to about 4000 lbf, settled by
    # about 10 %, released with about 15 lbf·ft. The ordinary torque balance gives it, as a band.
    size = thread("5/16-18 UNC")
    ring = t.bearing_diameter_uniform_wear(0.5 * INCH, 11 / 32 * INCH)
    friction = t.total_friction(22 * LBF_FT, 4000 * LBF, size.pitch, size.pitch_diameter, ring)
    bracket = t.torque_per_preload(size.pitch, size.pitch_diameter, friction, friction, ring)
    release = 3600 * LBF * t.release_torque_per_preload(bracket, size.pitch)
    assert 13 < release / LBF_FT < 17


def test_equal_friction_solves_the_bracket():
    friction = np.array([0.04, 0.12, 0.35])
    bracket = t.torque_per_preload(1.75, 10.863, friction, friction, 15.065)
    assert t.equal_friction_from_torque_per_preload(bracket, **M12) == pytest.approx(friction)


def test_a_torque_test_gives_its_frictions_back():
    preload = 40_000.0
    in_thread = t.thread_torque(preload, 1.75, 10.863, 0.10, 0.0)
    whole = preload * t.torque_per_preload(1.75, 10.863, 0.10, 0.16, 15.065)
    assert thread_friction_from_torque(in_thread, preload, 1.75, 10.863) == pytest.approx(0.10)
    under_head = whole - in_thread
    assert bearing_friction_from_torque(under_head, preload, 15.065) == pytest.approx(0.16)


def test_prevailing_torque_takes_its_part_first():
    assert t.preload_from_torque(1_500.0, 2.0, 1_500.0) == 0.0
    assert t.preload_from_torque(1_000.0, 2.0, 1_500.0) == -250.0
    assert t.thread_torque(0.0, 1.75, 10.863, 0.12, 1_500.0) == 1_500.0


def test_more_friction_makes_less_preload():
    friction = np.linspace(0.05, 0.4, 50)
    for frictions in ((friction, 0.12), (0.12, friction)):
        bracket = t.torque_per_preload(1.75, 10.863, *frictions, 15.065)
        preload = t.preload_from_torque(84_000.0, bracket, 0.0)
        assert np.all(np.diff(preload) < 0)


def test_the_bearing_has_its_own_term_and_the_pitch_has_all_without_friction():
    in_thread, in_seat = np.array([0.0, 0.2]), np.array([0.0, 0.1])
    bracket = t.torque_per_preload(1.75, 10.863, in_thread, in_seat, 15.065)
    shares = t.torque_shares(bracket, 1.75, 10.863, in_thread)
    assert shares.bearing * bracket == pytest.approx(in_seat * 15.065 / 2)
    assert shares.pitch[0] == 1.0


def test_a_flat_seat_is_a_countersink_of_a_right_angle():
    assert t.countersunk_seat_friction(0.12, math.pi / 2) == pytest.approx(0.12)
    # 90° included: half-angle 45°, factor sqrt 2.
    assert t.countersunk_seat_friction(0.12, math.pi / 4) == pytest.approx(0.12 * math.sqrt(2))
