"""The likeliest way to miss an outcome."""

import numpy as np
import pytest
from scipy.special import ndtri

from preloadmc.engine import sample
from preloadmc.estimates.design_point import DesignPoint
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.judgement.estimate import estimate_outcome, likeliest_miss
from preloadmc.judgement.misses import Misses

# Bounded friction and a high torque: too little preload is left by those that break, at low
# friction, and hardly ever by what embeds.
BREAKS = {
    "fastener.thread": "M10",
    "fastener.property_class": "12.9",
    "friction.thread": {"law": "uniform", "low": 0.04, "high": 0.1},
    "friction.bearing": {"law": "uniform", "low": 0.04, "high": 0.1},
    "friction.correlation": 0.5,
    "tightening.torque": "48 N·m",
    "tightening.tool": {"tolerance": "4 %", "coverage": "2 sd"},
    "requirement.minimum_preload": "10 kN",
    "requirement.maximum_preload": {"from": "yield", "fraction": "90 %"},
}
FRICTION = {"friction.thread": {"law": "normal", "mean": 0.12, "cov": "10 %"}}


def test_the_likeliest_way_is_that_of_the_probability(make_case):
    case = make_case(BREAKS)
    drawn = sample(case, seed=1, samples=100_000, precision=None)
    found = estimate_outcome(case, drawn, "under_preload", seed=1, precision=0.2, method=None)
    miss = found.likeliest_miss
    assert miss.limit == "breaking in tightening"
    # Nothing else misses: the distance is about the reliability index.
    assert miss.beta == pytest.approx(-ndtri(found.probability.value), abs=0.5)
    of = {item.name: item.z for item in miss.inputs}
    assert of["friction.thread"] < -1.0
    assert of["friction.bearing"] < -1.0
    # The cosines are of the same point.
    assert (
        found.misses.cosines["friction.thread"] < -0.5
        or found.misses.cosines["friction.bearing"] < -0.5
    )


def stalled(beta, *, converged=False):
    return DesignPoint(np.array([beta]), beta, np.array([1.0]), 1.0, 0, converged)


def misses(*z):
    rows = np.array(z)[:, None] if z else np.empty((0, 1))
    return Misses("under_preload", FailureSample.of(rows, np.ones(len(z))), {}, 1, 0)


def test_a_nearer_miss_stands_in_for_a_far_point(make_case):
    case = make_case(FRICTION)
    far = (stalled(2.0), stalled(7.7, converged=True))
    found = likeliest_miss(case, far, misses(2.6, 2.4, 3.0), 0.01)
    assert found.beta == pytest.approx(2.4)
    # 0.12 (1 + 0.1 * 2.4)
    assert found.inputs[0].value == pytest.approx(0.1488)
    assert found.limit == "minimum preload"


def test_a_nearer_stalled_search_leaves_a_far_point_untold(make_case):
    far = (stalled(2.0), stalled(7.7, converged=True))
    assert likeliest_miss(make_case(FRICTION), far, misses(), 0.01) is None


@pytest.mark.parametrize("points", [(), (stalled(2.0),)])
def test_no_miss_far_beyond_the_probability_is_told(make_case, points):
    # P = 1 %: beta is 2.33, so that 3.4 is no likely way
    case = make_case(FRICTION)
    assert likeliest_miss(case, points, misses(3.4, 4.0), 0.01) is None
    assert likeliest_miss(case, points, misses(3.2, 4.0), 0.01).beta == pytest.approx(3.2)


def test_a_point_is_told_where_no_miss_is_clearly_nearer(make_case):
    near = (stalled(2.3, converged=True),)
    assert likeliest_miss(make_case(FRICTION), near, misses(2.25), 0.01).beta == 2.3
