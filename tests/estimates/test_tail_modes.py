"""Many ways to a miss, in one margin or in many inputs: found, or said to be not reliable."""

import numpy as np
import pytest
from mode_problems import MODE_PROBLEMS

from preloadmc.estimates.tail import tail_probability

# those that take well under a second; tests/benchmarks/tail_modes.py counts all over many seeds
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
