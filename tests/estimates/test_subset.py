import numpy as np
import pytest
from scipy.special import ndtr
from tail_problems import PROBLEMS

from preloadmc.estimates.subset import subset_runs


@pytest.mark.statistical
@pytest.mark.parametrize("name", ["RP54", "RP75", "RP63", "RP111", "RP77"])
def test_listed_problems(name, seed):
    problem = PROBLEMS[name]
    runs = subset_runs(problem.margins, problem.d, rng=np.random.default_rng(seed))
    estimate = runs.probability(confidence=0.999, model_calls=runs.draws)
    assert estimate.low <= problem.p <= estimate.high
    assert estimate.high / estimate.low < 12.0
    assert (estimate.method, estimate.samples) == ("subset", runs.draws)


@pytest.mark.statistical
def test_misses_are_weighted_by_their_runs(seed):
    beta = 4.0
    runs = subset_runs(lambda z: beta - z[:, :1], 2, rng=np.random.default_rng(seed))
    expected = np.exp(-0.5 * beta**2) / np.sqrt(2.0 * np.pi) / ndtr(-beta)
    assert runs.sample.weights.sum() == pytest.approx(1.0)
    assert runs.sample.weights @ runs.sample.z[:, 0] == pytest.approx(expected, abs=0.05)


@pytest.mark.statistical
def test_steps_are_counted_where_margins_tie(seed):
    # floor(z) steps: P(3.5 - floor(2 z)/2 < 0) = P(z >= 4)
    def margins(z):
        return (3.75 - np.floor(2.0 * z[:, :1]) / 2.0 + 0.0 * z[:, 1:]).min(axis=1)[:, None]

    runs = subset_runs(margins, 2, rng=np.random.default_rng(seed))
    estimate = runs.probability(confidence=0.999, model_calls=0)
    assert estimate.low <= ndtr(-4.0) <= estimate.high
    assert estimate.high / estimate.low < 6.0


def test_no_slope_is_no_way_down():
    runs = subset_runs(
        lambda z: np.where(z[:, :1] > 9.0, -1.0, 1.0), 2, rng=np.random.default_rng(0)
    )
    estimate = runs.probability(confidence=0.95, model_calls=runs.draws)
    assert (estimate.value, estimate.low, estimate.high) == (0.0, 0.0, 1.0)
    assert estimate.bound == "upper"
    assert not estimate.reliable
    assert "10 of 10 runs found no way" in estimate.note


def test_a_margin_that_never_misses_ends():
    runs = subset_runs(
        lambda z: 1.0 + np.exp(-z[:, :1]), 2, rng=np.random.default_rng(0), per_level=200
    )
    assert runs.stuck == 10


def test_misleading_levels_are_seen_in_the_scatter(seed):
    problem = PROBLEMS["RP110"]
    runs = subset_runs(problem.margins, problem.d, rng=np.random.default_rng(seed))
    assert runs.doubts


def of_two_units(z):
    """Planes at 4.5 and 10, the farther one with the smaller numbers: as N and mm."""
    return np.column_stack([100.0 * (4.5 - z[:, 0]), 0.01 * (10.0 - z[:, 1])])


@pytest.mark.statistical
def test_margins_in_different_units_compare(seed):
    # measured by its numbers alone the farther plane would lead every run away
    runs = subset_runs(of_two_units, 2, rng=np.random.default_rng(seed))
    estimate = runs.probability(confidence=0.999, model_calls=0)
    assert estimate.low <= ndtr(-4.5) <= estimate.high
    assert estimate.reliable
    other = subset_runs(
        lambda z: of_two_units(z) * np.array([2.0**-20, 2.0**20]),
        2,
        rng=np.random.default_rng(seed),
    )
    assert other.estimates.tolist() == runs.estimates.tolist()


@pytest.mark.statistical
def test_a_flat_margin_beside_another_leads_nowhere(seed):
    def margins(z):
        return np.column_stack([4.5 - z[:, 0], np.full(len(z), 0.01)])

    runs = subset_runs(margins, 2, rng=np.random.default_rng(seed))
    alone = subset_runs(lambda z: margins(z)[:, :1], 2, rng=np.random.default_rng(seed))
    assert runs.estimates.tolist() == alone.estimates.tolist()
