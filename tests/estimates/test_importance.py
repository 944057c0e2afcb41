import math

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr
from tail_problems import PROBLEMS

from preloadmc.estimates.curvature import curvature
from preloadmc.estimates.design_point import design_points
from preloadmc.estimates.importance import (
    BATCHES,
    failure_sample,
    importance_batches,
    sample_limits,
)
from preloadmc.estimates.mixture import around, standard_normal


def plane(beta, d=3):
    direction = np.arange(1.0, d + 1.0)
    direction /= np.linalg.norm(direction)
    return lambda z: (beta - z @ direction)[:, None]


def mixture_of(margins, d):
    points = design_points(margins, d, rng=np.random.default_rng(0))
    return around(points, [curvature(margins, point) for point in points])


@pytest.mark.statistical
@pytest.mark.parametrize("beta", [1.5, 4.75, 6.0, 8.0])
def test_plane_closed_form(beta, seed):
    margins = plane(beta)
    batches, _ = importance_batches(
        margins,
        mixture_of(margins, 3),
        precision=0.05,
        confidence=0.95,
        budget=100_000,
        rng=np.random.default_rng(seed),
    )
    estimate = batches.probability(confidence=0.999, model_calls=batches.draws)
    assert estimate.low <= ndtr(-beta) <= estimate.high
    assert estimate.high / estimate.low < 1.3
    assert estimate.reliable
    assert estimate.method == "importance"
    assert batches.draws % BATCHES == 0


@pytest.mark.statistical
def test_weighted_misses_are_those_of_the_tail(seed):
    # beyond a plane at beta the distance along its normal has mean phi(beta)/Phi(-beta) and the
    # inputs across it stay standard normal
    beta, direction = 4.0, np.array([0.6, 0.8])

    def margins(z):
        return (beta - z @ direction)[:, None]

    sample = failure_sample(
        margins, mixture_of(margins, 2), size=20_000, rng=np.random.default_rng(seed)
    )
    assert sample.weights.sum() == pytest.approx(1.0)
    assert sample.effective_size > 3000
    along, across = sample.z @ direction, sample.z @ np.array([-0.8, 0.6])
    expected = stats.norm.pdf(beta) / ndtr(-beta)
    assert sample.weights @ along == pytest.approx(expected, abs=0.02)
    assert sample.weights @ across == pytest.approx(0.0, abs=0.08)
    assert sample.weights @ across**2 == pytest.approx(1.0, abs=0.12)


@pytest.mark.statistical
def test_differences_on_one_mixture(seed):
    first, second = plane(4.0), plane(4.02)
    points = [
        point
        for margins in (first, second)
        for point in design_points(margins, 3, rng=np.random.default_rng(0))
    ]
    mixture = around(points, [curvature(first, point) for point in points])
    batches = sample_limits(
        [first, second], mixture, per_batch=1000, rng=np.random.default_rng(seed)
    )
    exact = float(ndtr(-4.0) - ndtr(-4.02))
    difference = batches.difference(0, 1, confidence=0.999)
    assert difference.low <= exact <= difference.high
    assert difference.resolved
    # far narrower than the difference of two separate runs
    a, b = (batches.probability(i, confidence=0.999, model_calls=0) for i in (0, 1))
    assert difference.high - difference.low < 0.5 * math.hypot(a.high - a.low, b.high - b.low)
    with pytest.raises(IndexError):
        batches.probability(2, confidence=0.95, model_calls=0)


def test_no_miss_is_no_estimate():
    batches, _ = importance_batches(
        plane(9.0),
        standard_normal(3),
        precision=0.2,
        confidence=0.95,
        budget=2000,
        rng=np.random.default_rng(0),
    )
    estimate = batches.probability(confidence=0.95, model_calls=batches.draws)
    assert (estimate.value, estimate.low, estimate.high) == (0.0, 0.0, 1.0)
    assert estimate.bound == "upper"
    assert not estimate.reliable
    assert "only 0 effective misses" in estimate.note
    assert batches.draws <= 2000


def test_bad_weights_are_said(seed):
    # a mixture around the wrong place sees the misses only through its standard normal
    margins = plane(2.5)
    wrong = mixture_of(lambda z: plane(4.0)(-z), 3)
    batches, _ = importance_batches(
        margins,
        wrong,
        precision=0.2,
        confidence=0.95,
        budget=3000,
        rng=np.random.default_rng(seed),
    )
    estimate = batches.probability(confidence=0.95, model_calls=batches.draws)
    assert not estimate.reliable
    assert "carries" in estimate.note


def test_hopeless_weights_end_early():
    problem = PROBLEMS["RP63"]
    points = design_points(problem.margins, problem.d, rng=np.random.default_rng(0))
    batches, _ = importance_batches(
        problem.margins,
        around(points, [None] * len(points)),
        precision=0.2,
        confidence=0.95,
        budget=10**6,
        rng=np.random.default_rng(0),
    )
    estimate = batches.probability(confidence=0.95, model_calls=0)
    assert batches.draws < 100_000
    assert not estimate.reliable
    assert "scatter too much" in estimate.note


@pytest.mark.statistical
def test_a_fitted_normal_saves_draws_at_a_corner(seed):
    problem = PROBLEMS["RP25"]
    points = design_points(problem.margins, 2, rng=np.random.default_rng(2))
    first = around(points, [None] * len(points))
    batches, last = importance_batches(
        problem.margins,
        first,
        precision=0.2,
        confidence=0.999,
        budget=10**6,
        rng=np.random.default_rng(seed),
    )
    assert len(last.components) == len(first.components) + 1
    estimate = batches.probability(confidence=0.999, model_calls=0)
    assert estimate.low <= problem.p <= estimate.high
