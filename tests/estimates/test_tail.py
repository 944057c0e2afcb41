import math

import numpy as np
import pytest
from scipy.special import ndtr
from tail_problems import (
    PRELOAD_MINIMUM,
    PROBLEMS,
    four_branch_columns,
    preload_margin,
    preload_probability,
    rp33,
)

from preloadmc.errors import EstimateError, NotFiniteError, UsageError
from preloadmc.estimates.design_point import DesignPoint, design_points
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.plain import FirstLook
from preloadmc.estimates.probability import Probability
from preloadmc.estimates.second_estimate import SecondEstimate
from preloadmc.estimates.subset import SubsetRuns
from preloadmc.estimates.tail import tail_probability

# the benchmark counts over many seeds at 95 %; a single seed is asked for 99.9 %
CONFIDENCE = 0.999


def estimate(name, seed, **options):
    problem = PROBLEMS[name]
    options = {"precision": 0.35, "confidence": CONFIDENCE} | options
    return tail_probability(problem.margins, problem.d, rng=np.random.default_rng(seed), **options)


@pytest.mark.statistical
@pytest.mark.parametrize("name", PROBLEMS)
def test_listed_problems_by_choice(name, seed):
    p = estimate(name, seed).probability
    assert p.low <= PROBLEMS[name].p <= p.high or not p.reliable
    assert p.high / p.low < 3.0


@pytest.mark.statistical
@pytest.mark.parametrize("name", [name for name, problem in PROBLEMS.items() if problem.listed])
def test_listed_problems_by_importance_sampling(name, seed):
    found = estimate(name, seed, method="importance")
    p = found.probability
    assert p.low <= PROBLEMS[name].p <= p.high or not p.reliable
    assert p.high / p.low < 3.0
    assert p.method == "importance"
    assert p.model_calls < 40_000  # the longest, RP25, takes 28,000 at most in 95 % of seeds
    assert found.check_calls > 0


@pytest.mark.parametrize("p", PRELOAD_MINIMUM)
def test_seven_inputs_against_conditional_quadrature(p, seed):
    minimum = PRELOAD_MINIMUM[p]

    def margins(z):
        return preload_margin(z, minimum)[:, None]

    centre = design_points(margins, 7, rng=np.random.default_rng(0))[0].z[1:]
    exact = preload_probability(minimum, centre, 6)
    assert exact == pytest.approx(PROBLEMS[f"preload, {p:.0e}".replace("e-0", "e-")].p, rel=1e-3)
    found = tail_probability(
        margins, 7, rng=np.random.default_rng(seed), confidence=CONFIDENCE, precision=0.35
    )
    estimate = found.probability
    assert estimate.low <= exact <= estimate.high
    assert estimate.method == "importance"
    assert estimate.reliable
    assert estimate.model_calls < 2000
    # a single point tells how a miss comes about
    assert len(found.points) == 1
    assert found.curvatures[0] is not None
    # common practice, no published source: the first-order figure alone is far too low here
    assert ndtr(-found.points[0].beta) < 0.7 * exact


@pytest.mark.statistical
def test_any_of_several_limits(seed):
    problem = PROBLEMS["four-branch"]
    columns = tail_probability(
        four_branch_columns,
        2,
        rng=np.random.default_rng(seed),
        method="importance",
        confidence=CONFIDENCE,
    ).probability
    assert columns.low <= problem.p <= columns.high

    def series(z):
        return np.column_stack([3.0 * math.sqrt(3.0) - z.sum(axis=1), 3.0 - z[:, 2]])

    assert (series(np.eye(3)).min(axis=1) == rp33(np.eye(3))).all()
    found = tail_probability(series, 3, rng=np.random.default_rng(seed), method="importance")
    assert {point.column for point in found.points} == {0, 1}


def test_plain_where_it_is_cheap(seed):
    found = estimate("axial beam", seed, precision=0.1, confidence=0.95)
    p = found.probability
    assert p.method == "plain"
    assert p.relative_half_width < 0.14
    assert p.model_calls < 50_000
    assert (found.points, found.check) == ((), None)
    assert found.mixture is not None
    assert found.sample.effective_size == pytest.approx(p.misses)


def test_a_forced_plain_estimate_may_be_a_bound(seed):
    found = estimate("RP111", seed, method="plain", budget=2000)
    assert found.probability.bound == "upper"
    assert found.probability.samples == 2000
    assert found.sample.largest_share == 1.0
    assert found.sample.effective_size == 0.0


def test_precision_not_reached_is_said(seed):
    p = estimate("four-branch", seed, method="plain", budget=4000, precision=0.02).probability
    assert "where 2 % was asked" in p.note
    assert p.reliable


@pytest.mark.statistical
def test_subset_by_force_and_with_steps(seed):
    problem = PROBLEMS["RP111"]
    forced = estimate("RP111", seed, method="subset", precision=0.5).probability
    assert forced.method == "subset"
    assert forced.low <= problem.p <= forced.high

    def jagged(z):
        return problem.margins(np.floor(z * 50.0) / 50.0 + 0.01)

    chosen = tail_probability(
        jagged, 2, rng=np.random.default_rng(seed), smooth=False, confidence=CONFIDENCE
    )
    assert chosen.probability.method == "subset"
    # steps of a fiftieth about the middle move the probability by less than one per cent
    assert chosen.probability.low <= problem.p <= chosen.probability.high
    assert chosen.mixture is None
    assert chosen.check is not None


def test_subset_alone_has_no_check(seed):
    found = estimate("RP111", seed, method="subset", precision=5.0, cross_check=False)
    assert (found.check, found.check_calls) == (None, 0)


def test_a_small_budget_keeps_the_first_runs(seed):
    found = estimate("RP111", seed, method="subset", precision=0.1, budget=20_000)
    assert found.probability.samples < 80_000
    assert "was asked" in found.probability.note


def test_steps_under_forced_importance_sampling_are_flagged(seed):
    p = estimate("RP111", seed, method="importance", smooth=False).probability
    assert not p.reliable
    assert "margins with steps" in p.note


def step(z):
    return np.where(z[:, :1] < 4.5, 1.0, -1.0)


def test_no_design_point():
    with pytest.raises(EstimateError, match="no design point"):
        tail_probability(step, 2, rng=np.random.default_rng(0), method="importance")
    found = tail_probability(step, 2, rng=np.random.default_rng(0), budget=10_000)
    assert found.probability.method == "subset"
    assert "no design point was found" in found.probability.note
    assert not found.probability.reliable


@pytest.mark.slow
def test_what_importance_sampling_is_not_meant_for_is_flagged(seed):
    many = estimate("RP63", seed, method="importance", budget=100_000).probability
    assert not many.reliable


@pytest.mark.statistical
def test_a_problem_that_misleads_levels_and_searches(seed):
    for run in range(10):
        p = estimate("RP110", seed + run, method="importance").probability
        assert p.low <= PROBLEMS["RP110"].p <= p.high or not p.reliable


def test_importance_sampling_gives_way_to_subset(seed):
    # too rare for the budget of plain sampling, and weights that waste draws in 100 dimensions
    found = estimate("RP63", seed, budget=20_000, precision=0.5)
    assert found.probability.method == "subset"
    assert "given up" in found.probability.note


def hidden(z):
    """A gentle slope to a plane at 4.5 hides a sudden drop at 3.9 on the other side."""
    gentle = 4.5 - z[:, 0]
    drop = np.where(z[:, 0] < -3.0, 20.0 * (z[:, 0] + 3.9), 18.0)
    return np.minimum(gentle, drop)[:, None]


def hidden_from_levels(z):
    """The same, but the drop begins only at the edge: only plain sampling can see it."""
    return np.where(z[:, :1] < -3.2, -1.0, 4.5 - z[:, :1])


@pytest.mark.statistical
def test_a_region_the_search_missed_is_found_or_said(seed):
    exact = float(ndtr(-4.5) + ndtr(-3.9))
    found = tail_probability(
        hidden, 2, rng=np.random.default_rng(seed), method="importance", confidence=CONFIDENCE
    )
    p = found.probability
    assert p.low <= exact <= p.high


@pytest.mark.statistical
@pytest.mark.parametrize("beta", [2.7, 4.75])
def test_bad_weights_lead_to_the_misses(beta, seed, monkeypatch):
    # a search that ends in the wrong place is put right by the misses seen, be it those of the
    # mixture's standard normal or those of the check
    monkeypatch.setattr(
        "preloadmc.estimates.tail.design_points",
        lambda *_, **__: (DesignPoint.standing_in(np.array([0.0, -5.0])),),
    )
    found = tail_probability(
        lambda z: beta - z[:, :1],
        2,
        rng=np.random.default_rng(seed),
        method="importance",
        confidence=CONFIDENCE,
    )
    p = found.probability
    assert p.reliable
    assert p.low <= ndtr(-beta) <= p.high


@pytest.mark.statistical
def test_what_cannot_be_put_right_is_flagged(seed, monkeypatch):
    monkeypatch.setattr("preloadmc.estimates.tail._REPAIRS", 0)
    monkeypatch.setattr(
        "preloadmc.estimates.tail.design_points",
        lambda *_, **__: (DesignPoint.standing_in(np.array([0.0, -5.0])),),
    )
    found = tail_probability(
        lambda z: 2.7 - z[:, :1],
        2,
        rng=np.random.default_rng(seed),
        method="importance",
        cross_check=False,
        budget=3000,
    )
    assert not found.probability.reliable


@pytest.mark.statistical
def test_a_check_that_disagrees_leads_to_the_other_regions(seed, monkeypatch):
    # three planes, of which the search sees one
    monkeypatch.setattr(
        "preloadmc.estimates.tail.design_points",
        lambda margins, d, rng: design_points(lambda z: 4.5 - z[:, :1], d, rng=rng),
    )
    found = tail_probability(
        lambda z: 4.5 - np.maximum(np.abs(z[:, 1:]), z[:, :1]),
        2,
        rng=np.random.default_rng(seed),
        confidence=CONFIDENCE,
    )
    p = found.probability
    assert (p.method, len(found.points)) == ("importance", 3)
    assert p.low <= 3.0 * ndtr(-4.5) <= p.high


@pytest.mark.statistical
def test_plain_sampling_contradicts(seed):
    found = tail_probability(
        hidden_from_levels, 2, rng=np.random.default_rng(seed), method="importance"
    )
    exact = float(ndtr(-4.5) + ndtr(-3.2))
    p = found.probability
    assert p.low <= exact <= p.high or not p.reliable


def test_what_is_too_rare_for_the_check_is_not_doubted(seed):
    found = tail_probability(lambda z: 8.4 - z[:, :1], 2, rng=np.random.default_rng(seed))
    assert found.probability.reliable
    assert found.probability.value == pytest.approx(ndtr(-8.4), rel=0.4)


def test_a_weak_check_does_not_doubt_what_it_cannot_tell():
    # ten runs of which one makes nearly all of the mean: it scatters by nearly 100 %
    estimates = np.array([1e-6, *[1e-8] * 9])
    none = FailureSample.of(np.empty((0, 2)), np.empty(0))
    weak = SubsetRuns(estimates, none, stuck=0, below=0.0, draws=10_000)
    assert "their mean scatters by" in weak.doubts[0]
    second = SecondEstimate(lambda z: z, 2, FirstLook(0, 10**5), weak, 100, weak.draws)
    assert second.doubt(weighted(2.0 * weak.value)) == ""
    assert "not confirmed by subset simulation" in second.doubt(weighted(0.5 * weak.value))


def test_what_stands_after_a_disagreement():
    none = FailureSample.of(np.empty((0, 2)), np.empty(0))
    runs = SubsetRuns(np.linspace(0.9e-6, 1.1e-6, 10), none, stuck=0, below=0.0, draws=10_000)
    sound, doubted = weighted(2e-5), weighted(2e-5).noted("weights", reliable=False)
    for look, estimate, stands in (
        # misses that neither contradicts, and what is drawn well finds more
        (FirstLook(2, 10**5), sound, "importance"),
        (FirstLook(2, 10**5), doubted, "subset"),
        # twenty in a million contradict one in a million, whoever says so
        (FirstLook(20, 10**6), sound, "importance"),
        (FirstLook(20, 10**6), doubted, "plain"),
        (FirstLook(20, 10**6), weighted(1e-6), "plain"),
    ):
        second = SecondEstimate(lambda z: z, 2, look, runs, 100, runs.draws)
        assert second.better_founded(estimate) == stands


def weighted(value):
    """A sound estimate by importance sampling, known to a fifth."""
    return Probability(value, value / 1.2, value * 1.2, 0.95, "importance", 500, 500)


def test_looks_seen_before_are_used():
    look = FirstLook(0, 10**6)
    calls = []

    def margins(z):
        calls.append(len(z))
        return 4.5 - z[:, :1]

    found = tail_probability(margins, 2, rng=np.random.default_rng(0), look=look)
    assert found.probability.reliable
    assert sum(calls) == found.probability.model_calls + found.check_calls - look.samples
    # fifty misses in a million say 5e-5, not 3.4e-6
    wrong = FirstLook(9, 10**5)
    found = tail_probability(margins, 2, rng=np.random.default_rng(0), look=wrong)
    assert not found.probability.reliable
    assert "plain sampling disagrees: 9 misses in 100000 samples" in found.probability.note
    found = tail_probability(
        margins, 2, rng=np.random.default_rng(0), look=wrong, method="subset", precision=1.0
    )
    assert "plain sampling disagrees" in found.probability.note


def test_same_generator_same_estimate():
    first, again = estimate("RP35", 4).probability, estimate("RP35", 4).probability
    assert first == again


def test_a_margin_that_is_not_finite_raises():
    for method in (None, "plain", "importance", "subset"):
        with pytest.raises(NotFiniteError, match="came out nan"):
            tail_probability(
                lambda z: np.where(z[:, :1] > 1.0, np.nan, 1.0 + z[:, :1] ** 2),
                2,
                rng=np.random.default_rng(0),
                method=method,
            )


def test_bad_requests():
    with pytest.raises(UsageError, match="one of plain, importance, subset, given 'form'"):
        estimate("R-S", 0, method="form")
    with pytest.raises(UsageError, match="at least 2000"):
        estimate("R-S", 0, budget=100)
