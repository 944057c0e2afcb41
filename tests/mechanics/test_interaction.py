"""Elastic interaction against a network of springs, solved stage by stage."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_bvp
from scipy.optimize import lsq_linear

from preloadmc.mechanics import interaction
from preloadmc.mechanics.interaction import (
    after_each_pass,
    by_neighbour,
    from_stiffness,
    passes_until,
    spread,
    takes_too_much,
)
from preloadmc.mechanics.tightening_order import around, star


def _network(rng, n):
    """Return a compliance matrix A of unequal fasteners on parts that couple all of them."""
    parts = np.exp(-np.abs(np.subtract.outer(np.arange(n), np.arange(n))) / 1.5)
    scale = np.sqrt(rng.uniform(0.5, 1.5, n))
    return np.diag(rng.uniform(2.0, 4.0, n)) + scale[:, None] * parts * scale


def _coefficients(A):
    inverse = np.linalg.inv(A)
    C = -inverse / np.diag(inverse)
    np.fill_diagonal(C, 0.0)
    return C


def _by_turning(A, targets, passes):
    """Return the preloads after each pass; those not yet tightened are no part of the network.

    A group is turned in by lengths t that bring each to its goal, ``dF = A^-1 t`` over all that
    are tight; those above their goals are left alone.
    """
    F, tight, found = np.zeros(len(A)), [], []
    for share, order in passes:
        for group in order:
            tight = sorted({*tight, *group})
            inverse = np.linalg.inv(A[np.ix_(tight, tight)])
            own = [tight.index(i) for i in group]
            short = share * targets[list(group)] - F[list(group)]
            F[tight] += inverse[:, own] @ _least_turns(inverse[np.ix_(own, own)], short)
        found.append(F.copy())
    return np.array(found)


def _least_turns(block, short):
    # Minimum of t block t/2 - short t over t >= 0, which has those conditions, as least squares.
    L = np.linalg.cholesky(block)
    return lsq_linear(L.T, np.linalg.solve(L, short), (0.0, np.inf), tol=1e-15).x


@pytest.mark.parametrize("n", [2, 3, 8])
@pytest.mark.parametrize("tools", [1, 2, 4, 8])
@pytest.mark.parametrize("pattern", [star, around])
def test_every_stage_is_that_of_the_network(n, tools, pattern):
    rng = np.random.default_rng(n)
    A, targets = _network(rng, n), rng.uniform(0.9, 1.1, (5, n))
    order = pattern(n, tools)
    # A pass of one group each shows every stage; those not tightened yet press nothing.
    passes = [(share, (group,)) for share in (0.7, 1.0, 1.0) for group in order]
    found = after_each_pass(targets, _coefficients(A), passes)
    expected = np.array([_by_turning(A, row, passes) for row in targets])
    assert found == pytest.approx(np.swapaxes(expected, 0, 1), rel=1e-7)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), tools=st.integers(2, 5))
def test_those_above_their_goals_are_left_alone(seed, tools):
    # Uneven goals in a second pass: some fasteners of a group hold more already, and may fall
    # short as the others are tightened.
    rng = np.random.default_rng(seed)
    A, targets = _network(rng, 5), rng.uniform(0.5, 1.5, 5)
    passes = [(1.0, around(5, 5)), (1.0, star(5)), (rng.uniform(0.8, 1.1), star(5, tools))]
    found = after_each_pass(targets[None], _coefficients(A), passes)[:, 0]
    assert found == pytest.approx(_by_turning(A, targets, passes), rel=1e-6)


def test_two_fasteners_by_hand():
    # Each takes 20 %: 0 is brought to 100, 1 to 100 takes 20 from it; then 0 gains 20, which takes
    # 4 from 1.
    C = np.array([[0.0, 0.2], [0.2, 0.0]])
    passes = [(1.0, ((0,), (1,))), (1.0, ((0,),))]
    found = after_each_pass(np.full((1, 2), 100.0), C, passes)
    assert found[:, 0] == pytest.approx(np.array([[80.0, 100.0], [100.0, 96.0]]))
    # Both at once: no loss at all.
    assert after_each_pass(np.full((1, 2), 100.0), C, [(1.0, ((0, 1),))])[0, 0] == pytest.approx(
        [100.0, 100.0], rel=0, abs=0
    )


def test_without_interaction_targets_are_reached_bit_for_bit():
    rng = np.random.default_rng(2)
    targets = rng.lognormal(10.0, 0.3, (200, 6))
    for tools in (1, 2, 4, 6):
        passes = [(0.3, around(6, tools)), (1.0, star(6, tools)), (0.7, star(6, tools))]
        found = after_each_pass(targets, np.zeros((6, 6)), passes)
        assert np.array_equal(found[0], 0.3 * targets)
        assert np.array_equal(found[1], targets)
        # Tightening never loosens.
        assert np.array_equal(found[2], targets)


def test_equal_fasteners_may_be_named_in_any_order():
    rng = np.random.default_rng(6)
    targets = rng.uniform(0.9, 1.1, (10, 6))
    C = by_neighbour(6, [0.12, 0.03], closed=True)
    # A closed circle counted from its third fastener, the other way round.
    named = (2 - np.arange(6)) % 6
    order = star(6, 2)
    renamed = tuple(tuple(int(named[i]) for i in group) for group in order)
    before = after_each_pass(targets, C, [(0.5, order), (1.0, order)])
    after = after_each_pass(targets[:, named], C, [(0.5, renamed), (1.0, renamed)])
    assert after == pytest.approx(before[:, :, named], rel=1e-13)


def test_a_second_full_pass_evens_the_preloads():
    C = by_neighbour(8, [0.15, 0.03], closed=True)
    for tools in (1, 2, 4):
        found = after_each_pass(np.ones((1, 8)), C, [(1.0, star(8, tools))] * 4)[:, 0]
        spreads = [spread(preloads) for preloads in found]
        assert spreads[0] > 0.1
        assert all(later < 0.5 * earlier for earlier, later in pairwise(spreads))


def test_what_is_lost_ends_at_zero_and_arrays_stay_as_they_were():
    C = np.array([[0.0, 0.7, 0.7], [0.1, 0.0, 0.0], [0.1, 0.0, 0.0]])
    targets = np.ones((3, 3))
    found = after_each_pass(targets, C, [(1.0, around(3))])
    assert found[0].tolist() == [[0.0, 1.0, 1.0]] * 3
    assert np.array_equal(targets, np.ones((3, 3)))
    assert C[0].tolist() == [0.0, 0.7, 0.7]


def test_force_units_change_nothing():
    rng = np.random.default_rng(7)
    targets = rng.uniform(0.8, 1.2, (20, 5))
    passes = [(0.6, star(5, 2)), (1.0, star(5, 2))]
    C = by_neighbour(5, [0.1, 0.05], closed=True)
    newtons, pounds = (after_each_pass(targets * f, C, passes) for f in (4.448, 1.0))
    assert newtons == pytest.approx(4.448 * pounds, rel=1e-12)


def test_no_gains_exist_where_neighbours_take_more_than_is_given():
    C = np.array([[0.0, 2.0], [2.0, 0.0]])
    with pytest.raises(ValueError, match="that no elastic parts can have"):
        after_each_pass(np.ones((1, 2)), C, [(1.0, ((0, 1),))])


def test_neighbours_by_distance():
    row = by_neighbour(5, [0.1, 0.02], closed=False)
    assert row[0].tolist() == [0.0, 0.1, 0.02, 0.0, 0.0]
    assert row[2].tolist() == [0.02, 0.1, 0.0, 0.1, 0.02]
    ring = by_neighbour(5, [0.1, 0.02], closed=True)
    assert ring[0].tolist() == [0.0, 0.1, 0.02, 0.02, 0.1]
    assert np.array_equal(ring, np.roll(ring, (1, 1), axis=(0, 1)))
    # Small circles: one fastener on both sides, and a second neighbour that is a first one too.
    assert by_neighbour(2, [0.1], closed=True).tolist() == [[0.0, 0.2], [0.2, 0.0]]
    assert by_neighbour(3, [0.1, 0.02], closed=True)[0] == pytest.approx([0.0, 0.12, 0.12])
    assert by_neighbour(1, [], closed=True).tolist() == [[0.0]]
    with pytest.raises(ValueError, match="3 fasteners have no more than 2 neighbours, not 3"):
        by_neighbour(3, [0.1, 0.02, 0.01], closed=True)


STRIP = 205e3 * 40.0 * 20.0**3 / 12  # 40 mm wide and 20 mm thick, of steel


def test_deflection_of_a_closed_beam_by_fourier_series():
    # E I w'''' + k w = F delta on a circle of length L: w = sum cos(q x)/(E I q⁴ + k)/L. Terms
    # fall as q^-4: 20,000 of them leave 1e-11.
    length, k, x = 300.0, 9e3, np.array([0.0, 20.0, 90.0, 150.0])
    q = 2 * math.pi / length * np.arange(-20_000, 20_001)
    series = (np.cos(np.outer(x, q)) / (STRIP * q**4 + k)).sum(axis=1) / length
    found = interaction._deflection(x, k, STRIP, length)
    assert found == pytest.approx(series, rel=1e-8)
    # Images that are far away are none.
    near, far = (interaction._deflection(x, k, STRIP, at) for at in (None, 1e4))
    assert far == pytest.approx(near, rel=1e-12)


def test_deflection_of_a_long_beam_by_a_boundary_value_problem():
    # Half of the beam, x from 0 to 400 mm: no slope and half of the force at the load, clamped at
    # the end, lengths in 1/b.
    k = 14e3
    b = (k / (4 * STRIP)) ** 0.25

    def beam(s, w):
        return np.vstack((w[1], w[2], w[3], -4 * w[0]))

    def ends(start, end):
        # E I w''' = F/2 at the load; w in units of F b/(2 k) makes w''' = 4.
        return np.array([start[1], start[3] - 4.0, end[0], end[1]])

    s = np.linspace(0.0, 400.0 * b, 400)
    solved = solve_bvp(beam, ends, s, np.zeros((4, 400)), tol=1e-8, max_nodes=20_000)
    assert solved.success
    x = np.array([0.0, 30.0, 60.0, 100.0])
    expected = b / (2 * k) * solved.sol(b * x)[0]
    found = interaction._deflection(x, k, STRIP, None)
    assert found == pytest.approx(expected, rel=1e-4, abs=1e-5 * found[0])


@pytest.mark.parametrize("closed", [True, False])
@pytest.mark.parametrize("pitch", [2.0, 20.0, 60.0, 300.0])
def test_one_force_presses_in_by_the_compliance_of_the_parts(closed, pitch):
    length = 8 * pitch if closed else None
    k = interaction._foundation(1e-6, STRIP, length)
    assert interaction._deflection(0.0, k, STRIP, length) == pytest.approx(1e-6, rel=1e-12)


@pytest.mark.parametrize("closed", [True, False])
def test_coefficients_from_stiffness_are_those_of_the_network(closed):
    n, pitch = 8, 45.0
    C = from_stiffness(n, pitch, closed, 3e-6, 1e-6, STRIP)
    length = n * pitch if closed else None
    k = interaction._foundation(1e-6, STRIP, length)
    P = np.array(
        [
            [float(interaction._deflection(abs(i - j) * pitch, k, STRIP, length)) for j in range(n)]
            for i in range(n)
        ]
    )
    A = 3e-6 * np.eye(n) + P
    # Tighten the third one alone: all other lengths stay.
    u = np.zeros(n)
    u[2] = 1.0
    F = np.linalg.solve(A, u)
    assert -F / F[2] == pytest.approx(np.where(np.arange(n) == 2, -1.0, C[:, 2]), rel=1e-9)
    assert takes_too_much(C) == ()


def test_stiff_fasteners_far_apart_hardly_know_each_other():
    assert np.abs(from_stiffness(6, 2e3, False, 3e-6, 1e-6, STRIP)).max() < 1e-12
    soft, stiff = (from_stiffness(8, 40.0, True, c, 1e-6, STRIP)[0, 1] for c in (6e-6, 2e-6))
    # Long slender fasteners lose less of their preload.
    assert 0 < soft < stiff
    # As thick a ring as one likes settles as a whole: all others share alike, and P is
    # delta_P everywhere. Then A^-1 (Sherman-Morrison) gives c = p/(1 + (n - 1) p), p = P/delta_S.
    rigid = from_stiffness(8, 40.0, True, 3e-6, 1e-6, 1e6 * STRIP)
    p = 1e-6 / 3e-6
    assert rigid[0, 1:] == pytest.approx(p / (1 + 7 * p), rel=1e-4)


def test_a_change_of_units_leaves_coefficients_alone():
    mm = from_stiffness(8, 50.0, True, 3e-6, 1e-6, STRIP)
    # Inches and pounds: 25.4 mm, 4.448222 N.
    inches = from_stiffness(
        8,
        50.0 / 25.4,
        True,
        3e-6 * 4.448222 / 25.4,
        1e-6 * 4.448222 / 25.4,
        STRIP / 4.448222 / 25.4**2,
    )
    assert inches == pytest.approx(mm, rel=1e-9, abs=1e-12)


def test_spread_and_passes_until_it_is_small():
    assert spread(np.array([8.0, 10.0, 12.0])) == pytest.approx(0.4)
    assert spread(np.zeros(3)) == math.inf
    C = by_neighbour(8, [0.1], closed=True)
    order = around(8)
    for share in (0.3, 0.05, 0.01, 1e-4):
        count = passes_until(np.full(8, 4e4), C, order, share)
        found = after_each_pass(np.full((1, 8), 4e4), C, [(1.0, order)] * count)[:, 0]
        assert spread(found[-1]) <= share
        assert count == 1 or spread(found[-2]) > share
    # Uneven targets count as even once each is reached.
    assert passes_until(np.linspace(1.0, 2.0, 8), np.zeros((8, 8)), order, 0.0) == 1
    assert passes_until(np.ones(8), by_neighbour(8, [0.49], closed=True), order, 1e-12) is None


def test_coefficients_that_take_everything_are_told():
    assert takes_too_much(by_neighbour(8, [0.3, 0.1], closed=True)) == ()
    assert takes_too_much(by_neighbour(4, [0.5], closed=True)) == (0, 1, 2, 3)
    # Along a row those at the ends have one neighbour alone.
    assert takes_too_much(by_neighbour(4, [0.5], closed=False)) == (1, 2)
    # Gains beside losses: every sum is below one, yet twisting the four costs no work.
    twisting = by_neighbour(4, [-0.6, 0.1], closed=True)
    assert twisting.sum(axis=1).max() < 1
    assert takes_too_much(twisting) == (0, 1, 2, 3)
