import math
from dataclasses import replace

import numpy as np
import openturns as ot
import pytest
from tail_problems import PROBLEMS, preload_margin

from preloadmc.errors import NotFiniteError
from preloadmc.estimates.design_point import DesignPoint, design_points, distinct, search_from
from preloadmc.estimates.margins import BLOCK, CountedMargins


def find(name, seed=1):
    problem = PROBLEMS[name]
    return design_points(problem.margins, problem.d, rng=np.random.default_rng(seed))


def test_linear_margin_closed_form():
    # R - S with N(4, 1) and N(2, 1): beta = 2/sqrt 2, the point (-1, 1)
    (point,) = find("R-S")
    assert point.beta == pytest.approx(math.sqrt(2.0), rel=1e-6)
    assert point.z == pytest.approx([-1.0, 1.0], abs=1e-6)
    assert point.direction == pytest.approx(np.array([-1.0, 1.0]) / math.sqrt(2.0), abs=1e-6)
    assert point.slope == pytest.approx(math.sqrt(2.0), rel=1e-6)
    assert point.converged


@pytest.mark.parametrize(
    ("name", "distances"),
    [
        ("four-branch", [3.0, 3.0, 3.5, 3.5]),
        ("RP22", [2.5]),
        ("RP24", [2.5]),
        ("RP33", [3.0, 3.0]),
        ("RP75", [math.sqrt(6.0)] * 2),  # x = y = +-sqrt 3
        ("RP110", [4.0, 5.0]),
        ("RP111", [5.0] * 4),  # |x| = |y| = sqrt 12.5
    ],
)
def test_all_points_of_a_margin_closed_form(name, distances, seed):
    for run in range(5):
        points = find(name, seed + run)
        assert [point.beta for point in points] == pytest.approx(distances, abs=5e-3)
        assert all(point.converged for point in points)


@pytest.mark.parametrize("minimum", [20650.0, 16400.0])
def test_point_of_seven_inputs_against_openturns(minimum):
    function = ot.PythonFunction(
        7, 1, func_sample=lambda z: preload_margin(np.asarray(z), minimum).reshape(-1, 1)
    )
    vector = ot.CompositeRandomVector(function, ot.RandomVector(ot.Normal(7)))
    from_origin = ot.AbdoRackwitz()
    from_origin.setStartingPoint([0.0] * 7)
    form = ot.FORM(from_origin, ot.ThresholdEvent(vector, ot.Less(), 0.0))
    form.run()
    reference = form.getResult()
    counted = CountedMargins(lambda z: preload_margin(z, minimum)[:, None])
    (point,) = design_points(counted, 7, rng=np.random.default_rng(3))
    assert point.beta == pytest.approx(reference.getHasoferReliabilityIndex(), abs=2e-3)
    expected = np.array(reference.getStandardSpaceDesignPoint())
    assert float(point.z @ expected) / (point.beta * np.linalg.norm(expected)) > 0.9995
    calls = []
    for seed in range(9):
        counted = CountedMargins(lambda z: preload_margin(z, minimum)[:, None])
        design_points(counted, 7, rng=np.random.default_rng(seed))
        calls.append(counted.calls)
    assert np.median(calls) < 300


def test_columns_are_searched_together():
    def margins(z):
        return np.column_stack([3.0 - z[:, 0], 4.0 + z[:, 1], 2.5 + z[:, 0]])

    points = design_points(margins, 2, rng=np.random.default_rng(0))
    assert [(point.column, round(point.beta, 6)) for point in points] == [
        (2, 2.5),
        (0, 3.0),
        (1, 4.0),
    ]


def test_a_corner_is_found_and_said_not_to_have_converged(seed):
    # RP25 misses in a wedge: its nearest point is where both margins vanish
    for run in range(5):
        points = find("RP25", seed + run)
        assert points
        assert not points[0].converged
        # the corner lies at (2.162, 2.584), 3.369 away; near it on the surface is enough
        assert 3.3 < points[0].beta < 4.5


def test_a_search_that_swings_to_and_fro_converges():
    # Misses lie in a disc of radius 2 about (4, 0): the nearest point is (2, 0). Each full step
    # turns the sideways distance t to about -t beta/R = -t.
    points = design_points(
        lambda z: np.linalg.norm(z - [4.0, 0.0], axis=1)[:, None] - 2.0,
        2,
        rng=np.random.default_rng(0),
        near=[(np.array([2.0, 1.0]), 0)],
    )
    (point,) = points
    assert point.converged
    assert point.beta == pytest.approx(2.0, abs=1e-3)
    assert point.z == pytest.approx([2.0, 0.0], abs=0.05)


def test_an_origin_that_misses_has_a_negative_distance():
    (point,) = design_points(lambda z: -1.0 - z[:, :1], 2, rng=np.random.default_rng(0))
    assert point.beta == pytest.approx(-1.0, abs=1e-6)


@pytest.mark.parametrize(
    "margin",
    [
        lambda z: np.full((len(z), 1), 2.0),  # flat
        lambda z: 1.0 + np.sum(z**2, axis=1, keepdims=True),  # never misses, stalls at the origin
        lambda z: 1.0 + np.abs(z[:, :1] - 2.0),  # never misses, stalls away from it
        lambda z: np.where(z[:, :1] < 3.0, 1.0, -1.0),  # a step
    ],
)
def test_no_point_where_there_is_none(margin):
    assert design_points(margin, 3, rng=np.random.default_rng(0)) == ()


def test_search_from_given_places():
    problem = PROBLEMS["RP75"]
    points = search_from(
        problem.margins, np.array([[2.0, 1.0], [-1.0, -2.5]]), rng=np.random.default_rng(0)
    )
    assert sorted(float(point.z[0]) for point in points) == pytest.approx(
        [-math.sqrt(3.0), math.sqrt(3.0)], abs=0.02
    )


def test_searches_end_after_some_rounds(monkeypatch):
    monkeypatch.setattr("preloadmc.estimates.design_point._ROUNDS", 1)
    assert 1 < len(find("RP111")) <= 4


def test_a_stalled_search_repeats_a_converged_one_in_its_direction():
    (point,) = find("R-S")
    stalled = replace(point, z=2.5 * point.z, converged=False)
    elsewhere = replace(point, z=-2.5 * point.z, converged=False)
    assert distinct([stalled, elsewhere, point]) == [point, elsewhere]


def test_repeated_points_are_dropped_and_stand_ins_kept():
    (point,) = find("R-S")
    other = DesignPoint.standing_in(np.array([0.0, 4.0]))
    assert (other.beta, other.converged) == (4.0, False)
    assert distinct([other, point, point]) == [point, other]


@pytest.mark.parametrize("units", [(1.0, 1.0), (1e5, 1e-2), (1e-2, 1e5)])
def test_a_search_goes_for_the_margin_that_is_missed_most_whatever_its_unit(units):
    def margins(z):
        return (3.0 - z[:, :2]) * units

    start = np.array([[3.1, 4.5]])  # past the first limit by a thirtieth, past the second by a half
    (point,) = search_from(margins, start, rng=np.random.default_rng(0))
    assert point.column == 1
    assert point.z == pytest.approx([0.0, 3.0], abs=1e-6)


def test_same_generator_same_points():
    first, again = find("RP14", 5), find("RP14", 5)
    assert [point.z.tolist() for point in first] == [point.z.tolist() for point in again]


def test_margins_are_counted_in_blocks_and_checked():
    sizes = []

    def margins(z):
        sizes.append(len(z))
        return z

    counted = CountedMargins(margins)
    assert counted(np.zeros((BLOCK + 5, 2))).shape == (BLOCK + 5, 2)
    assert sizes == [BLOCK, 5]
    assert counted.calls == BLOCK + 5
    for bad in (math.nan, math.inf):
        with pytest.raises(NotFiniteError, match="margin 1 came out"):
            counted(np.array([[0.0, 0.0], [0.0, bad]]))
