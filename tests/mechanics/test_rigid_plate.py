"""Loads shared out by a rigid plate, against equilibrium, symmetry and a worked joint."""

from __future__ import annotations

import math

import numpy as np
import pytest

from preloadmc.mechanics.rigid_plate import axial_shares, circle, row, transverse_shares


def _turned(positions, angle):
    cos, sin = math.cos(angle), math.sin(angle)
    return positions @ np.array([[cos, sin], [-sin, cos]])


@pytest.fixture
def scattered():
    # No symmetry, and an origin far from the centroid.
    return np.random.default_rng(4).uniform(-80.0, 80.0, (7, 2)) + np.array([300.0, -40.0])


def test_axial_forces_balance_each_load_alone(scattered):
    shares = axial_shares(scattered)
    x, y = (scattered - scattered.mean(axis=0)).T
    # Moment of a force F_z at (x, y): (y F_z, -x F_z).
    found = np.vstack((shares.sum(axis=0), y @ shares, -x @ shares))
    assert found == pytest.approx(np.eye(3), abs=1e-12)


def test_axial_forces_lie_in_a_plane(scattered):
    shares = axial_shares(scattered)
    plane = np.column_stack((np.ones(7), scattered))
    left_over = shares - plane @ np.linalg.lstsq(plane, shares)[0]
    assert np.abs(left_over).max() < 1e-12


@pytest.mark.parametrize("n", [3, 4, 8, 12])
def test_moment_on_a_circle(n):
    # Closed form: sum y² = n D²/8 on any regular circle, so F_i = M y_i / (n D²/8).
    positions = circle(n, 160.0, 0.3)
    expected = positions[:, 1] / (n * 160.0**2 / 8)
    assert axial_shares(positions)[:, 1] == pytest.approx(expected, rel=1e-12, abs=1e-15)


def test_shares_turn_with_the_axes(scattered):
    angle = 0.7
    turned = _turned(scattered, angle)
    cos, sin = math.cos(angle), math.sin(angle)
    # A moment about the turned x axis is (cos, sin) in the old ones.
    before, after = axial_shares(scattered), axial_shares(turned)
    assert after[:, 1] * cos + after[:, 2] * sin == pytest.approx(before[:, 1], abs=1e-13)
    before, after = transverse_shares(scattered), transverse_shares(turned)
    assert after[:, :, 2] == pytest.approx(_turned(before[:, :, 2], angle), abs=1e-14)


def test_transverse_forces_balance_each_load_alone(scattered):
    shares = transverse_shares(scattered)
    x, y = (scattered - scattered.mean(axis=0)).T
    moment = x @ shares[:, 1] - y @ shares[:, 0]
    found = np.vstack((shares.sum(axis=0), moment))
    assert found == pytest.approx(np.eye(3), abs=1e-12)


@pytest.mark.published
def test_a_bar_on_a_channel():
    # Shigley, 9th ed., chapter 8, bar bolted to a channel by four M16 and loaded at its end
    # (values from memory): 16 kN, 425 mm from the centroid, bolts at ±75 and ±60 mm; primary
    # shear 4 kN, arm 96.0 mm, secondary shear 17.7 kN, 21.0 kN on the most loaded two.
    bolts = np.array([[75.0, 60.0], [75.0, -60.0], [-75.0, 60.0], [-75.0, -60.0]])
    shares = transverse_shares(bolts)
    assert np.hypot(*bolts[0]) == pytest.approx(96.0, abs=0.05)
    primary = shares @ [0.0, -16.0, 0.0]
    secondary = shares @ [0.0, 0.0, -16.0 * 425.0]
    assert np.hypot(*primary.T) == pytest.approx(4.0, abs=1e-12)
    assert np.hypot(*secondary.T) == pytest.approx(17.7, abs=0.05)
    total = np.hypot(*(primary + secondary).T)
    assert total[:2] == pytest.approx(21.0, abs=0.05)
    assert total[2:].max() < total[:2].min()


def test_fasteners_on_one_line_take_no_moment_about_it():
    slanted = _turned(row(4, 37.0), 0.4) + np.array([10.0, 90.0])
    for positions in (row(4, 37.0), slanted, row(1, 37.0)):
        with pytest.raises(ValueError, match="on one line cannot take a bending moment"):
            axial_shares(positions)
    almost = row(4, 37.0)
    almost[0, 1] = 1.0
    assert np.isfinite(axial_shares(almost)).all()
    # They still take a moment about the axis across the plate.
    assert transverse_shares(slanted).shape == (4, 2, 3)


def test_fasteners_at_one_place_take_no_torsion():
    with pytest.raises(ValueError, match="at one place cannot take a moment about their axis"):
        transverse_shares(row(1, 37.0))


def test_places_are_centred_and_evenly_spaced():
    ring = circle(5, 80.0, 0.2)
    assert ring.mean(axis=0) == pytest.approx([0.0, 0.0], abs=1e-13)
    assert np.hypot(*ring.T) == pytest.approx(40.0)
    assert math.atan2(ring[0, 1], ring[0, 0]) == pytest.approx(0.2)
    steps = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    assert steps == pytest.approx(80.0 * math.sin(math.pi / 5))
    assert row(4, 30.0)[:, 0].tolist() == [-45.0, -15.0, 15.0, 45.0]


def test_a_change_of_the_unit_of_length_changes_moments_alone(scattered):
    # Per moment, a share has one over length: 25.4 mm to the inch.
    in_inches, in_mm = axial_shares(scattered / 25.4), axial_shares(scattered)
    assert in_inches == pytest.approx(in_mm * [1.0, 25.4, 25.4], rel=1e-9)
    in_inches, in_mm = transverse_shares(scattered / 25.4), transverse_shares(scattered)
    assert in_inches == pytest.approx(in_mm * [1.0, 1.0, 25.4], rel=1e-9)
