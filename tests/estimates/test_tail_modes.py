"""Many ways to a miss, in one margin or in many inputs: found, or said to be not reliable."""

import numpy as np
import pytest
from mode_problems import MODE_PROBLEMS, random_planes

from preloadmc.estimates.plain import FirstLook
from preloadmc.estimates.tail import tail_probability

# those that take well under a second; tests/benchmarks/tail_coverage.py counts all over many seeds
QUICK = (
    "20 axes at 4.8",
    "10 axes both ways",
    "20 planes in 6 inputs",
    "island beside a plane",
    "steep island",
    "island in 8 inputs",
    "hole",
    "cosine valley in 2 inputs",
    "cosine valley in 6 inputs",
    "plane with steps in 4 inputs",
    "preload with a ripple",
)


@pytest.mark.statistical
@pytest.mark.parametrize("name", QUICK)
def test_many_ways_are_found_or_said(name, seed):
    problem = MODE_PROBLEMS[name]
    p = tail_probability(
        problem.margins, problem.d, rng=np.random.default_rng(seed), confidence=0.999
    ).probability
    assert p.low <= problem.p <= p.high or not p.reliable
    assert p.high < 5.0 * p.low or not p.reliable


@pytest.mark.statistical
def test_counts_alone_do_not_vouch_for_half_of_the_ways(seed):
    # A case's own plain samples count the misses. Some eighty in a million are known to a fifth,
    # which half of twenty ways does not contradict once its own scatter is allowed for.
    problem = random_planes(20, 6, 4.465)
    values = []
    for run in range(12):
        rng = np.random.default_rng([seed, run])
        look = FirstLook(rng.binomial(1_000_000, problem.p), 1_000_000)
        found = tail_probability(problem.margins, problem.d, rng=rng, look=look).probability
        assert found.reliable
        values.append(found.value / problem.p)
    # each scatters by a tenth at most; three standard errors of the mean
    assert np.mean(values) == pytest.approx(1.0, abs=0.09)
    assert min(values) > 0.7


@pytest.mark.statistical
def test_a_way_that_only_plain_samples_see_is_found_or_said(seed):
    problem = MODE_PROBLEMS["hole"]
    silent = flagged = 0
    for run in range(15):
        found = tail_probability(
            problem.margins, problem.d, rng=np.random.default_rng([seed, run]), confidence=0.999
        ).probability
        flagged += not found.reliable
        silent += found.reliable and not found.low <= problem.p <= found.high
    # one in 500 is not seen among a third of a million: two in 15 have a probability of 4e-4
    assert silent <= 1
    assert flagged <= 4
