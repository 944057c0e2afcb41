import numpy as np
import pytest
from scipy import stats
from tail_problems import PROBLEMS

from preloadmc.estimates.curvature import curvature
from preloadmc.estimates.design_point import design_points
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.mixture import (
    AlongSurface,
    NormalAround,
    around,
    standard_normal,
    with_fitted_normal,
)

TURNED = np.array([[0.6, 0.8], [-0.8, 0.6]])


def test_normal_ratio_is_that_of_the_densities():
    component = NormalAround(np.array([1.0, -2.0]), TURNED, np.array([0.5, 2.0]))
    covariance = TURNED.T @ np.diag([0.25, 4.0]) @ TURNED
    z = np.random.default_rng(0).standard_normal((50, 2)) * 2.0
    expected = stats.multivariate_normal([1.0, -2.0], covariance).pdf(z)
    expected /= stats.multivariate_normal([0.0, 0.0]).pdf(z)
    assert component.ratio(z) == pytest.approx(expected)
    plain = NormalAround(np.array([1.0, -2.0]), np.empty((0, 2)), np.empty(0))
    expected = stats.multivariate_normal([1.0, -2.0]).pdf(z)
    expected /= stats.multivariate_normal([0.0, 0.0]).pdf(z)
    assert plain.ratio(z) == pytest.approx(expected)


def test_draws_follow_the_normal(seed):
    component = NormalAround(np.array([1.0, -2.0]), TURNED[:1], np.array([2.0]))
    z = component.place(np.random.default_rng(seed).standard_normal((40_000, 2)))
    expected = np.eye(2) + 3.0 * np.outer(TURNED[0], TURNED[0])
    assert z.mean(axis=0) == pytest.approx([1.0, -2.0], abs=0.05)
    assert np.cov(z.T) == pytest.approx(expected, abs=0.1)


def test_density_along_a_surface_integrates_to_one():
    component = AlongSurface(3.0, TURNED[0], TURNED[1:], np.array([1.3]), np.array([-0.2]))
    grid = np.linspace(-12.0, 12.0, 1601)
    z = np.stack(np.meshgrid(grid, grid, indexing="ij"), axis=-1).reshape(-1, 2)
    density = component.ratio(z) * np.exp(-0.5 * np.sum(z * z, axis=1)) / (2.0 * np.pi)
    assert density.sum() * (grid[1] - grid[0]) ** 2 == pytest.approx(1.0, abs=1e-3)


@pytest.mark.statistical
@pytest.mark.parametrize("name", ["four-branch", "RP33", "RP54"])
def test_weights_average_one_and_never_exceed_ten(name, seed):
    # E_q[phi/q] = 1 for any density q that is positive everywhere: draws and density agree
    problem = PROBLEMS[name]
    points = design_points(problem.margins, problem.d, rng=np.random.default_rng(1))
    mixture = around(points, [curvature(problem.margins, point) for point in points])
    rng = np.random.default_rng(seed)
    weights = mixture.weights(mixture.sample(100_000, rng))
    error = weights.std() / np.sqrt(len(weights))
    assert abs(weights.mean() - 1.0) < 4.0 * error
    assert error < 0.02
    assert weights.max() <= 10.0 + 1e-9


def test_points_far_less_likely_get_no_part():
    def margins(z):
        return np.column_stack([3.0 - z[:, 0], 6.0 + z[:, 1], 0.5 + z[:, 1] + 0.0 * z[:, 0]])

    points = design_points(margins, 2, rng=np.random.default_rng(0))
    mixture = around(points, [None] * len(points))
    assert len(points) == 3
    assert len(mixture.components) == 2
    assert mixture.shares.sum() == pytest.approx(0.9)


def test_standard_normal_has_no_weights():
    mixture = standard_normal(3)
    z = mixture.sample(10, np.random.default_rng(0))
    assert z.shape == (10, 3)
    assert (mixture.weights(z) == 1.0).all()


def test_fitted_normal_takes_half():
    z = np.random.default_rng(0).normal([3.0, 0.0], [0.1, 2.0], (2000, 2))
    mixture = with_fitted_normal(standard_normal(2), FailureSample.of(z, np.ones(2000)))
    (fitted,) = mixture.components
    assert isinstance(fitted, NormalAround)
    assert fitted.centre == pytest.approx([3.0, 0.0], abs=0.2)
    # widened by a fifth, as three standard errors allow
    assert fitted.sd == pytest.approx([0.12, 2.4], rel=0.06)
    assert mixture.shares == pytest.approx([0.9])
