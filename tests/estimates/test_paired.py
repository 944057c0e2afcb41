"""Several models on common draws: planes and counts whose answers are closed."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr, ndtri

from preloadmc.errors import NotFiniteError
from preloadmc.estimates.event_points import Model
from preloadmc.estimates.paired import CommonCounts, paired_estimates
from preloadmc.estimates.probability import paired_difference

D = 3
DIRECTION = np.array([1.0, 2.0, 2.0]) / 3.0
OTHER = np.array([2.0, -2.0, 1.0]) / 3.0


def plane(beta, direction=DIRECTION):
    return lambda z: beta - z @ direction


def model(*planes, events=None, **more):
    def margins(z):
        return np.stack([each(z) for each in planes], axis=1)

    return Model(margins, events or ((tuple(range(len(planes)))),), **more)


def estimate(models, seed, *, block=2**14, most=16, precision=0.1, **more):
    def draw(k):
        return np.random.default_rng([seed, k]).standard_normal((block, D))

    return paired_estimates(
        models,
        D,
        block=draw,
        rng=np.random.default_rng(seed),
        first=1,
        most=most,
        precision=precision,
        **more,
    )


ONE = ((0,),)


def test_pairs_are_counted():
    # three samples: both miss, the first alone, neither
    z = np.array([[-2.0, 0.0, 0.0], [-1.0, 0.0, 0.0], [1.0, 0.0, 0.0]])
    models = [Model(lambda z: z[:, :1], ONE), Model(lambda z: z[:, :1] + 1.5, ONE)]
    counts = CommonCounts.of(models, z)
    assert counts.n == 3
    assert counts.pairs.tolist() == [[[2, 1], [1, 1]]]
    assert counts.discordant(0, 0, 1) == (1, 0)
    assert counts.difference(0, 0, 1, 0.95) == paired_difference(1, 1, 0, 1)
    both = counts + counts
    assert both.n == 6
    assert both.misses(0, 0) == 4


def test_an_event_of_no_margin_never_happens():
    models = [Model(lambda z: z[:, :1], ((0,), ()))]
    counts = CommonCounts.of(models, np.array([[-1.0], [1.0]]))
    assert (counts.misses(0, 0), counts.misses(1, 0)) == (1, 0)
    found = estimate([model(plane(1.0), events=((0,), ()))], 1)
    assert found.probability(1, 0).bound == "upper"


def test_a_margin_that_is_not_finite_raises():
    with pytest.raises(NotFiniteError, match="margin 0 came out nan"):
        estimate([Model(lambda z: np.full((len(z), 1), math.nan), ONE)], 1)


@pytest.mark.statistical
def test_plain_samples_where_they_are_enough(seed):
    betas = (1.0, 1.05)
    found = estimate([model(plane(beta), events=ONE) for beta in betas], seed)
    assert found.weighted is None
    # Every sample is a call of both models.
    assert found.model_calls == 2 * found.counts.n
    for i, beta in enumerate(betas):
        probability = found.probability(0, i)
        assert probability.method == "plain"
        assert stats.binomtest(probability.misses, probability.samples, ndtr(-beta)).pvalue > 1e-4
    exact = float(ndtr(-1.05) - ndtr(-1.0))
    difference = found.difference(0, 1, 0)
    assert difference.resolved
    assert abs(difference.value - exact) < difference.high - difference.low
    # one always holds where the other does: the pairs make the interval far narrower
    assert found.narrowing(0, 1, 0) > 4.0
    assert not found.never_apart(0, 1, 0)
    ratio = found.ratio(0, 1, 0)
    assert ratio.low < ndtr(-1.05) / ndtr(-1.0) < ratio.high * 1.02
    assert ratio.high - ratio.low < 0.05


@pytest.mark.statistical
@pytest.mark.parametrize("betas", [(4.0, 4.05), (4.0, 5.5), (5.9, 6.0)])
def test_small_probabilities_and_their_differences(seed, betas):
    found = estimate([model(plane(beta), events=ONE) for beta in betas], seed)
    assert found.weighted is not None
    for i, beta in enumerate(betas):
        probability = found.probability(0, i)
        assert probability.method == "importance"
        assert probability.reliable
        assert abs(math.log(probability.value / ndtr(-beta))) < 0.25
        assert probability.relative_half_width < 0.11
    exact = float(ndtr(-betas[1]) - ndtr(-betas[0]))
    difference = found.difference(0, 1, 0)
    assert difference.resolved
    assert abs(difference.value - exact) < difference.high - difference.low
    ratio = found.ratio(0, 1, 0)
    # The other way round it is the reciprocal, with its interval.
    back = found.ratio(0, 0, 1)
    assert [back.value, back.low, back.high] == pytest.approx(
        [1 / ratio.value, 1 / ratio.high, 1 / ratio.low], rel=1e-9
    )
    exact_ratio = float(ndtr(-betas[1]) / ndtr(-betas[0]))
    assert abs(math.log(ratio.value / exact_ratio)) < math.log(ratio.high / ratio.low)


def test_common_draws_are_far_narrower_than_separate_runs(seed):
    # measured: the scatter of the difference over seeds, of pairs and of separate runs
    near = [model(plane(4.0), events=ONE), model(plane(4.01), events=ONE)]
    paired, separate, told = [], [], []
    for k in range(30):
        found = estimate(near, 1000 * seed + k, precision=0.2)
        paired.append(found.difference(0, 1, 0).value)
        told.append(found.narrowing(0, 1, 0))
        one, other = (
            estimate([each], 7000 + 1000 * seed + 2 * k + i, precision=0.2)
            for i, each in enumerate(near)
        )
        separate.append(other.probability(0, 0).value - one.probability(0, 0).value)
    factor = np.std(separate) / np.std(paired)
    assert factor > 2.0
    assert np.median(told) > 3.0


@pytest.mark.statistical
@pytest.mark.parametrize("betas", [(1.0, 1.1), pytest.param((3.9, 4.0), marks=pytest.mark.slow)])
def test_coverage_of_the_paired_interval(seed, betas):
    runs = 200
    models = [model(plane(beta), events=ONE) for beta in betas]
    exact = float(ndtr(-betas[1]) - ndtr(-betas[0]))
    covered = 0
    for k in range(runs):
        found = estimate(models, 100_000 * seed + k, block=2**12, most=4, precision=0.2)
        difference = found.difference(0, 1, 0)
        covered += difference.low <= exact <= difference.high
    # not below 95 %, and an interval of 80 % would be noticed
    assert stats.binomtest(covered, runs, 0.95, alternative="less").pvalue > 1e-4
    assert stats.binomtest(covered, runs, 0.80, alternative="greater").pvalue < 1e-3


@pytest.mark.statistical
def test_several_events_share_the_draws(seed):
    # the third event is the union of the others, and never rarer than either
    events = ((0,), (1,), (0, 1))
    models = [
        model(plane(3.8), plane(4.5, OTHER), events=events),
        model(plane(4.1), plane(4.2, OTHER), events=events),
    ]
    found = estimate(models, seed)
    for i, (a, b) in enumerate([(3.8, 4.5), (4.1, 4.2)]):
        one, other, either = (found.probability(event, i) for event in range(3))
        assert either.value >= max(one.value, other.value)
        exact = 1.0 - (1.0 - ndtr(-a)) * (1.0 - ndtr(-b))  # orthogonal planes are independent
        assert abs(math.log(either.value / exact)) < 0.25


@pytest.mark.statistical
def test_a_rare_model_beside_a_common_one(seed):
    found = estimate([model(plane(1.5), events=ONE), model(plane(5.0), events=ONE)], seed)
    common, rare = found.probability(0, 0), found.probability(0, 1)
    assert (common.method, rare.method) == ("plain", "importance")
    assert found.difference(0, 1, 0).high < 0.0
    ratio = found.ratio(0, 1, 0)
    assert ratio.low < ndtr(-5.0) / ndtr(-1.5) * 1.1
    assert ratio.high > ndtr(-5.0) / ndtr(-1.5) / 1.1
    assert ratio.high < 2.0 * ratio.low


def test_equal_models_are_never_apart():
    for beta in (1.0, 4.5):
        found = estimate([model(plane(beta), events=ONE)] * 2, 3)
        assert found.never_apart(0, 0, 1)
        assert found.narrowing(0, 0, 1) == math.inf
        assert found.difference(0, 0, 1).value == 0.0
        assert not found.difference(0, 0, 1).resolved
        assert found.ratio(0, 0, 1).value == 1.0


def test_where_nothing_can_miss_plain_samples_bound_it():
    never = Model(lambda z: np.ones((len(z), 1)), ONE)
    found = estimate([never, never], 1)
    assert found.weighted is None
    assert found.probability(0, 0).bound == "upper"
    assert found.ratio(0, 0, 1) is None
    # beside one that can miss, it takes part in the mixture with no misses
    found = estimate([model(plane(4.5), events=ONE), never], 1)
    assert found.probability(0, 1).bound == "upper"
    assert found.difference(0, 1, 0).high < 0.0
    ratio = found.ratio(0, 1, 0)
    assert (ratio.value, ratio.low) == (0.0, 0.0)


@pytest.mark.statistical
def test_steps_are_left_to_plain_samples(seed):
    def steps(z):
        return np.where(z[:, :1] > 3.2, -1.0, 1.0)

    found = estimate([Model(steps, ONE, smooth=False)], seed, block=2**14, most=32)
    probability = found.probability(0, 0)
    assert found.weighted is None
    assert probability.method == "plain"
    assert probability.samples == 2**14 * 32
    assert stats.binomtest(probability.misses, probability.samples, ndtr(-3.2)).pvalue > 1e-4


def test_a_spread_finds_the_points_of_the_first_again():
    # the first with half the scatter behind the first column
    spread = np.array([0.5, 1.0, 1.0])
    steep = DIRECTION * spread
    calls = []

    def halved(z):
        calls.append(len(z))
        return (4.0 - z @ steep)[:, None]

    models = [model(plane(4.0), events=ONE), Model(halved, ONE, spread=spread)]
    found = estimate(models, 1, negligible=0.01)
    exact = float(ndtr(-4.0 / np.linalg.norm(steep)))
    assert abs(math.log(found.probability(0, 1).value / exact)) < 0.25
    # nothing left of the scatter: no start, no misses
    gone = [models[0], Model(lambda z: np.full((len(z), 1), 4.0), ONE, spread=np.zeros(D))]
    assert estimate(gone, 1).probability(0, 1).bound == "upper"


@pytest.mark.statistical
@pytest.mark.parametrize(("far", "factor"), [(4.2, 0.5), (5.2, 0.75), (6.1, 0.0)])
def test_a_spread_finds_points_that_did_not_matter_to_the_first(seed, far, factor):
    # one margin, two ways: with less scatter in the first column the second way makes the misses
    def margins(z):
        return np.minimum(3.5 - z[:, :1], far - z[:, 1:2])

    spread = np.array([factor, 1.0, 1.0])
    models = [Model(margins, ONE), Model(lambda z: margins(z * spread), ONE, spread=spread)]
    found = estimate(models, seed, negligible=1e-6, cross_check=False)
    for i, near in enumerate((3.5, 3.5 / factor if factor else math.inf)):
        # ways along different axes are independent
        exact = ndtr(-near) + ndtr(-far) - ndtr(-near) * ndtr(-far)
        p = found.probability(0, i)
        assert abs(math.log(p.value / exact)) < 0.3
        assert p.reliable


@pytest.mark.statistical
def test_a_second_estimate_finds_what_a_search_does_not(seed, monkeypatch):
    # the search looks along too few ways to see all of twenty planes in three inputs
    rows = np.random.default_rng(3).standard_normal((20, D))
    rows /= np.linalg.norm(rows, axis=1, keepdims=True)
    monkeypatch.setattr("preloadmc.estimates.event_points._LOOKS", 2)

    def margins(z):
        return 4.6 - (z @ rows.T).max(axis=1, keepdims=True)

    models = [Model(margins, ONE), model(plane(4.5), events=ONE)]
    found = estimate(models, seed)
    # draws from the half-spaces in turn, over how many each lies in: an unbiased estimate
    n, p = 200_000, ndtr(-4.6)
    rng = np.random.default_rng(1)
    z, mine = rng.standard_normal((n, D)), rows[np.arange(n) % 20]
    z += (-ndtri(p * rng.random(n)) - np.sum(z * mine, axis=1))[:, None] * mine
    exact = 20 * p * float(np.mean(1.0 / np.maximum((z @ rows.T >= 4.6).sum(axis=1), 1)))
    probability = found.probability(0, 0)
    assert abs(math.log(probability.value / exact)) < 0.25
    assert found.probability(0, 1).reliable


def test_plain_samples_that_contradict_are_said():
    found = estimate([model(plane(4.0), events=ONE)], 1)
    assert found.probability(0, 0).reliable
    # as if there were a second way to a miss, which no search had found
    seen = CommonCounts(10_000, np.array([[[50]]]))
    probability = replace(found, counts=seen).probability(0, 0)
    assert not probability.reliable
    assert probability.note == "plain sampling disagrees: 50 misses in 10000 samples"


def test_the_budget_ends_the_draws():
    found = estimate([model(plane(4.0), events=ONE)], 1, precision=1e-3, budget=5000)
    assert found.weighted.batches.draws <= 5000
    assert found.probability(0, 0).relative_half_width > 1e-3


def test_threads_change_nothing():
    models = [model(plane(beta), events=ONE) for beta in (1.5, 4.0)]
    one = estimate(models, 5)
    other = estimate(models, 5, map_=lambda f, ks: (f(k) for k in list(ks)))
    assert one.probability(0, 1) == other.probability(0, 1)
    assert one.counts.pairs.tolist() == other.counts.pairs.tolist()
