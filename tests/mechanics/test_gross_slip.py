"""Slip of a whole group, against linear programming, a general minimiser and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog, minimize

from preloadmc.mechanics.gross_slip import slip_load_factor
from preloadmc.mechanics.rigid_plate import circle, row


def _by_equilibrium(capacities, positions, force, moment, sides=720):
    """Return the largest factor at which forces inside the capacities balance the load.

    The circle of admissible forces is replaced by a polygon inside it, so that the factor is a
    lower bound (static theorem), short of the exact one by at most 1 - cos(pi/sides) = 1e-5.
    """
    n = len(capacities)
    x, y = (positions - positions.mean(axis=0)).T
    # Unknown: factor, then x and y of each force.
    balance = np.zeros((3, 1 + 2 * n))
    balance[:, 0] = -np.array([*force, moment])
    balance[0, 1::2] = balance[1, 2::2] = 1.0
    balance[2, 1::2], balance[2, 2::2] = -y, x
    angles = 2 * math.pi * np.arange(sides) / sides
    inside = np.zeros((n, sides, 1 + 2 * n))
    for i in range(n):
        inside[i, :, 1 + 2 * i], inside[i, :, 2 + 2 * i] = np.cos(angles), np.sin(angles)
    limits = np.repeat(capacities * math.cos(math.pi / sides), sides)
    cost = np.zeros(1 + 2 * n)
    cost[0] = -1.0
    found = linprog(
        cost, inside.reshape(n * sides, -1), limits, balance, np.zeros(3), bounds=(None, None)
    )
    assert found.success
    return -found.fun


def _random_group(rng, n, kind):
    positions = circle(n, 2.0) if kind == "circle" else row(n, 1.0)
    if kind == "scattered":
        positions = rng.normal(size=(n, 2))
    return rng.lognormal(0.0, 0.6, n), positions, rng.normal(size=2), rng.normal()


def _one(capacities, positions, force, moment):
    return slip_load_factor(
        np.asarray(capacities)[None], positions, np.asarray(force)[None], np.array([moment])
    )[0]


@pytest.mark.parametrize("kind", ["circle", "row", "scattered"])
@pytest.mark.parametrize("n", [2, 3, 4, 7])
def test_agrees_with_equilibrium_by_linear_programming(kind, n):
    rng = np.random.default_rng(11)
    for _ in range(3):
        group = _random_group(rng, n, kind)
        lower, found = _by_equilibrium(*group), _one(*group)
        # Above the lower bound, by no more than the polygon costs and 1e-6.
        assert lower * (1 - 1e-9) <= found <= lower * (1.00001 + 1e-6)


@pytest.mark.parametrize("n", [3, 5, 8])
def test_agrees_with_a_general_minimiser(n):
    rng = np.random.default_rng(12)
    capacities, positions, force, moment = _random_group(rng, n, "scattered")
    x, y = (positions - positions.mean(axis=0)).T
    load = np.array([*force, moment])

    def work(motion):
        return float(capacities @ np.hypot(motion[0] - motion[2] * y, motion[1] + motion[2] * x))

    found = minimize(
        work,
        load / (load @ load),
        method="SLSQP",
        constraints={"type": "eq", "fun": lambda motion: load @ motion - 1.0},
        options={"ftol": 1e-14, "maxiter": 1000},
    )
    assert _one(capacities, positions, force, moment) == pytest.approx(found.fun, rel=1e-6)


def _bound_from_a_fastener(k, share, angle):
    """Return a row or circle whose exact centre of motion is at fastener k, and its factor.

    Choose the motion, a rotation about k; all other forces follow, that of k is any one inside
    its capacity. Their sum is a load at which the joint just slips: its factor is one.
    """
    positions = circle(6, 120.0, 0.1)
    capacities = np.array([4e3, 5e3, 3e3, 6e3, 4.5e3, 5.5e3])
    arms = positions - positions[k]
    reach = np.hypot(*arms.T)
    turned = np.column_stack((-arms[:, 1], arms[:, 0])) / np.where(reach > 0, reach, 1.0)[:, None]
    forces = capacities[:, None] * turned
    forces[k] = share * capacities[k] * np.array([math.cos(angle), math.sin(angle)])
    moment = positions[:, 0] @ forces[:, 1] - positions[:, 1] @ forces[:, 0]
    return capacities, positions, forces.sum(axis=0), moment


@settings(deadline=None)
@given(k=st.integers(0, 5), share=st.floats(0.0, 1.0), angle=st.floats(0.0, 6.3))
def test_centre_of_motion_at_a_fastener(k, share, angle):
    # At share 1 the kink is just about to be left.
    assert _one(*_bound_from_a_fastener(k, share, angle)) == pytest.approx(1.0, rel=1e-9)


@settings(max_examples=200, deadline=None)
@given(
    distance=st.floats(1e-9, 300.0),
    angle=st.floats(0.0, 6.3),
    line=st.booleans(),
    n=st.integers(2, 8),
)
def test_centre_of_motion_near_a_fastener_or_anywhere(distance, angle, line, n):
    # As above, with the centre anywhere: the load follows in closed form, its factor is one.
    positions = row(n, 40.0) if line else circle(n, 120.0)
    capacities = 4e3 + 500.0 * (np.arange(n) % 3)
    centre = positions[0] + distance * np.array([math.cos(angle), math.sin(angle)])
    arms = positions - centre
    reach = np.hypot(*arms.T)[:, None]
    unit = np.column_stack((-arms[:, 1], arms[:, 0])) / np.where(reach > 0, reach, 1.0)
    forces = capacities[:, None] * unit
    moment = positions[:, 0] @ forces[:, 1] - positions[:, 1] @ forces[:, 0]
    assert _one(capacities, positions, forces.sum(axis=0), moment) == pytest.approx(1.0, rel=1e-6)


def test_a_centred_force_on_equal_fasteners_meets_the_sum_of_all():
    rng = np.random.default_rng(3)
    force = rng.normal(size=(50, 2))
    for positions in (circle(6, 100.0), row(6, 20.0)):
        factor = slip_load_factor(np.full((50, 6), 4e3), positions, force, np.zeros(50))
        assert factor == pytest.approx(24e3 / np.hypot(*force.T), rel=1e-9)


def test_a_centred_force_turns_a_plate_whose_fasteners_differ():
    # Two fasteners at ±a across the force: moments about each leave Q_min at either side, so the
    # load is 2 Q_min, less than the sum.
    across = row(2, 80.0)
    assert _one([3e3, 5e3], across, [0.0, 1e3], 0.0) == pytest.approx(6.0, rel=1e-9)
    # Along their line it meets both.
    assert _one([3e3, 5e3], across, [1e3, 0.0], 0.0) == pytest.approx(8.0, rel=1e-9)


@pytest.mark.parametrize("n", [2, 3, 8, 20])
def test_moment_on_a_circle(n):
    # Closed form: about the centre all arms are D/2.
    factor = _one(np.full(n, 5e3), circle(n, 140.0, 0.2), [0.0, 0.0], 1e5)
    assert factor == pytest.approx(n * 5e3 * 70.0 / 1e5, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    turn=st.floats(0.0, 6.3),
    length=st.floats(0.01, 100.0),
    unit=st.floats(0.01, 100.0),
)
def test_axes_and_units_change_nothing(seed, turn, length, unit):
    rng = np.random.default_rng(seed)
    capacities, positions, force, moment = _random_group(rng, 5, "scattered")
    frame = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    seen = _one(
        capacities * unit,
        (positions @ frame) * length + np.array([7.0, -3.0]),
        (force @ frame) * unit,
        moment * unit * length,
    )
    here = _one(capacities, positions, force, moment)
    assert seen == pytest.approx(here, rel=2e-6)
    # Twice the load, half the factor; mirrored and reversed, the same.
    assert _one(capacities, positions, 2 * force, 2 * moment) == pytest.approx(here / 2, rel=2e-6)
    assert _one(capacities, positions, -force, -moment) == pytest.approx(here, rel=2e-6)
    mirrored = _one(capacities, positions * [1, -1], force * [1, -1], -moment)
    assert mirrored == pytest.approx(here, rel=2e-6)


def test_more_capacity_never_slips_earlier():
    rng = np.random.default_rng(8)
    capacities = rng.lognormal(0.0, 0.5, (400, 6))
    more = capacities * (1 + rng.uniform(0.0, 0.2, (400, 6)))
    loads = rng.normal(size=(400, 2)), rng.normal(size=400)
    before = slip_load_factor(capacities, circle(6, 2.0), *loads)
    after = slip_load_factor(more, circle(6, 2.0), *loads)
    assert (after >= before * (1 - 1e-6)).all()


def test_what_holds_nothing_and_what_is_not_loaded():
    ring = circle(4, 100.0)
    none, force = np.zeros((2, 4)), np.array([[1e3, 0.0], [0.0, 0.0]])
    assert slip_load_factor(none, ring, force, np.zeros(2)).tolist() == [0.0, math.inf]
    assert _one([5e3] * 4, ring, [0.0, 0.0], 0.0) == math.inf


def test_one_fastener_carries_no_moment():
    assert _one([5e3], row(1, 0.0), [0.6e3, 0.8e3], 0.0) == pytest.approx(5.0, rel=1e-12)
    assert _one([5e3], row(1, 0.0), [1e3, 0.0], 1.0) == 0.0
    # The same where only one of them is clamped: a force past it turns the plate, one through it
    # meets its capacity.
    ring = circle(4, 100.0)
    assert _one([5e3, 0.0, 0.0, 0.0], ring, [0.0, 1e3], 0.0) == 0.0
    assert _one([5e3, 0.0, 0.0, 0.0], ring, [0.0, 1e3], 50e3) == pytest.approx(5.0, rel=1e-6)
    assert _one([5e3, 0.0, 0.0, 0.0], ring, [1e3, 0.0], 0.0) == pytest.approx(5.0, rel=1e-6)


def test_samples_do_not_know_each_other():
    rng = np.random.default_rng(9)
    capacities, force = rng.lognormal(0.0, 0.5, (60, 5)), rng.normal(size=(60, 2))
    moment, kept = rng.normal(size=60), capacities.copy()
    whole = slip_load_factor(capacities, circle(5, 2.0), force, moment)
    assert np.array_equal(capacities, kept)
    alone = [_one(capacities[i], circle(5, 2.0), force[i], moment[i]) for i in range(60)]
    assert whole == pytest.approx(np.array(alone), rel=1e-12)


def test_an_accuracy_that_cannot_be_reached_ends_in_the_best_found(monkeypatch):
    # An instantaneous centre away from all fasteners, so that no kink proves the factor at once.
    group = np.linspace(4e3, 6e3, 6), circle(6, 120.0), np.array([1e3, 500.0]), 10e3
    exact = _one(*group)
    monkeypatch.setattr("preloadmc.mechanics.gross_slip._GAP", -1.0)
    assert _one(*group) == pytest.approx(exact, rel=1e-6)
