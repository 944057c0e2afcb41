"""Crossings of rising functions: against their inverses."""

import numpy as np
import pytest

from preloadmc.estimates.crossing import rising_crossing


def test_straight_lines_take_one_step_from_their_bracket():
    slopes, offsets = np.array([1.0, 3.0, 0.5]), np.array([10.0, 90.0, 9.0])
    calls = []

    def lines(x, rows):
        calls.append(len(rows))
        return slopes[rows] * x - offsets[rows]

    found = rising_crossing(lines, np.array([10.0, 30.0, 18.0]), 1.0, 1000.0)
    assert found == pytest.approx(offsets / slopes, rel=1e-14)
    assert calls == [3, 3, 3]


@pytest.mark.parametrize("start", [0.02, 1.0, 50.0])
def test_curves_and_kinks_are_found_from_anywhere(start):
    roots = np.geomspace(0.05, 40.0, 41)
    kinds = (
        lambda x, r: x**3 - r**3,
        lambda x, r: np.log(x / r),
        lambda x, r: np.minimum(x - r, 0.01 * (x - r)),
        lambda x, r: np.minimum(1e-6, x - r) ** 1.0,
        lambda x, r: np.tanh(8.0 * (x / r - 1.0)),
        lambda x, r: np.where(x < r, -1.0, 1.0),
    )
    for kind in kinds:
        found = rising_crossing(
            lambda x, rows, kind=kind: kind(x, roots[rows]), np.full(41, start), 0.01, 100.0
        )
        assert found == pytest.approx(roots, rel=1e-9)


def test_no_crossing_is_infinite():
    levels = np.array([0.001, 1.0, 1e6, 0.01, 100.0])
    found = rising_crossing(lambda x, rows: x - levels[rows], np.ones(5), 0.01, 100.0)
    assert found == pytest.approx([-np.inf, 1.0, np.inf, -np.inf, 100.0])


def test_a_plateau_below_zero_never_crosses():
    found = rising_crossing(lambda x, rows: np.minimum(x, 2.0) - 3.0, np.ones(1), 0.01, 100.0)
    assert found[0] == np.inf


def test_the_tolerance_is_kept():
    calls = []

    def cube(x, rows):
        calls.append(1)
        return x**3 - 7.0

    rough = rising_crossing(cube, np.ones(1), 0.01, 100.0, tolerance=1e-2)
    few = len(calls)
    fine = rising_crossing(cube, np.ones(1), 0.01, 100.0)
    assert rough == pytest.approx(7.0 ** (1 / 3), rel=1e-2)
    assert fine == pytest.approx(7.0 ** (1 / 3), rel=1e-9)
    assert few < len(calls) - few < 14
