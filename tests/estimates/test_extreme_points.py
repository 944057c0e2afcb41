"""Likeliest points of a given reliability index: against geometry in closed form."""

import math

import numpy as np
import pytest
from scipy.special import ndtr

from preloadmc.estimates.extreme_points import extreme_points, ladder_mixture, start_directions
from preloadmc.estimates.mixture import NormalAround


def linear(slope):
    return lambda z: 3.0 + z @ slope


@pytest.mark.parametrize("d", [1, 2, 7])
def test_a_plane_has_its_point_along_its_slope(d, seed):
    rng = np.random.default_rng(seed)
    slope = rng.standard_normal(d)
    steep = float(np.linalg.norm(slope))
    score = linear(slope)
    ladder = extreme_points(score, [1.0, 4.0], start_directions(score, d, rng=rng))
    for beta, points in zip((1.0, 4.0), ladder, strict=True):
        (found,) = points
        assert found.level == pytest.approx(3.0 + beta * steep, rel=1e-6)
        assert found.point.z == pytest.approx(beta * slope / steep, abs=1e-3 * beta)
        assert found.point.slope == pytest.approx(steep, rel=1e-5)
        assert found.point.converged


def test_an_ellipse_has_two_points_at_the_ends_of_its_axis(seed):
    """On |z| = beta the quadratic form z' A z is largest along its first eigenvector, both ways."""
    rng = np.random.default_rng(seed)
    axes = np.linalg.qr(rng.standard_normal((3, 3)))[0]
    matrix = axes @ np.diag([3.0, 1.0, 0.2]) @ axes.T

    def score(z):
        return np.sum((z @ matrix) * z, axis=1)

    (points,) = extreme_points(score, [3.0], start_directions(score, 3, rng=rng))
    assert len(points) == 2
    for found in points:
        assert found.level == pytest.approx(27.0, rel=1e-3)
        assert abs(found.point.z @ axes[:, 0]) == pytest.approx(3.0, rel=1e-3)


def test_a_nearly_round_ellipse_is_left_after_some_steps():
    """Where all ways are nearly alike the search is slow, and any of them will do."""

    def score(z):
        return z[:, 0] ** 2 + 1.15 * z[:, 1] ** 2

    start = np.array([[math.cos(0.15), math.sin(0.15)]])
    (points,) = extreme_points(score, [3.0], start)
    assert 9.0 < points[0].level <= 1.15 * 9.0


def test_a_far_rarer_way_is_dropped():
    def score(z):
        return np.maximum(z[:, 0], 0.3 * z[:, 1])

    (points,) = extreme_points(score, [4.0], np.array([[1.0, 0.0], [0.0, 1.0]]))
    (found,) = points
    assert found.point.z == pytest.approx([4.0, 0.0])


def test_a_step_on_the_way_is_got_over():
    """Where the slope leads down a kink, a shorter move is taken or the search stands still."""

    def score(z):
        return np.minimum(z[:, 0] + 2.0 * z[:, 1], 2.0 * z[:, 0] + z[:, 1])

    (points,) = extreme_points(score, [3.0], np.array([[1.0, 0.0]]))
    # The ridge z1 = z2: 3 beta/sqrt(2).
    assert points[0].level == pytest.approx(9.0 / math.sqrt(2.0), rel=0.03)
    assert not points[0].point.converged


def test_a_flat_score_has_a_point_that_has_not_converged(seed):
    def score(z):
        return np.ones(len(z))

    directions = start_directions(score, 2, rng=np.random.default_rng(seed))
    (points,) = extreme_points(score, [2.0], directions)
    assert all(not found.point.converged for found in points)
    mixture = ladder_mixture([(score, points)])
    assert all(isinstance(component, NormalAround) for component in mixture.components)


@pytest.mark.statistical
def test_the_mixture_weighs_every_level_of_a_plane_right(seed):
    rng = np.random.default_rng(seed)
    score = linear(np.array([0.6, 0.8]))
    ladder = extreme_points(score, [2.0, 4.0, 6.0], start_directions(score, 2, rng=rng))
    mixture = ladder_mixture([(score, [point for points in ladder for point in points])])
    assert mixture.shares.sum() == pytest.approx(0.9)
    z = mixture.sample(20_000, rng)
    weights = mixture.weights(z)
    for beta in (1.0, 2.5, 4.0, 5.5):
        parts = weights * (score(z) > 3.0 + beta)
        exact = float(ndtr(-beta))
        cov = float(parts.std()) / math.sqrt(len(z)) / exact
        assert cov < 0.06
        assert float(parts.mean()) == pytest.approx(exact, rel=4.5 * cov)
        # A formula that takes Phi(-beta) for another level would be noticed.
        assert abs(float(parts.mean()) / float(ndtr(-beta - 0.3)) - 1.0) > 4.5 * cov
