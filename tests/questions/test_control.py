"""What control of one source of scatter is worth."""

import numpy as np
import pytest
from scipy import stats

from preloadmc.chance.laws import Constant
from preloadmc.chance.streams import normal_chunk
from preloadmc.questions.control import control, without_scatter

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
CASE = {
    "friction": {"thread": LAW, "bearing": LAW, "correlation": 0.4},
    "tightening.tool": {"law": "normal", "cov": "5 %"},
    "requirement.minimum_preload": "34 kN",
}


def test_what_is_held_is_held_at_its_mean_and_the_rest_unchanged(make_case):
    case = make_case(CASE)
    held = without_scatter(case, ["friction.thread"])
    assert held.laws["friction.thread"] == Constant(0.13)
    assert held.correlations == {}
    others = set(case.laws) - {"friction.thread"}
    assert all(held.laws[name] is case.laws[name] for name in others)
    assert without_scatter(case, ["tightening.tool"]).correlations == case.correlations


@pytest.mark.statistical
def test_the_probability_that_would_be_left(make_case, seed):
    # A normal tool beside a normal temperature: without the tool, the change alone.
    case = make_case(
        {
            "tightening.tool": {"law": "normal", "cov": "5 %"},
            "temperature.thermal_change": {"law": "normal", "mean": "0 kN", "sd": "1 kN"},
            "requirement.minimum_preload": "38.5 kN",
        }
    )
    n = 200_000
    found = control(case, ("tightening.tool",), "under_preload", normal_chunk(seed, 0, n, 2))
    mean = 77.4e3 / (0.16125 * 12)
    after = stats.norm.cdf((38.5e3 - mean) / 1e3)
    before = stats.norm.cdf((38.5e3 - mean) / np.hypot(0.05 * mean, 1e3))
    assert stats.binomtest(found.probability.misses, n, after).pvalue > 1e-4
    assert stats.binomtest(found.probability.misses, n, 1.05 * after).pvalue < 1e-4
    half = (found.difference.high - found.difference.low) / 2
    assert abs(found.difference.value - (after - before)) < 2 * half < 0.01
    assert found.names == ("tightening.tool",)


def test_on_common_samples_the_pairs_stay_pairs(make_case):
    # The input that is held does nothing to yield: no sample changes side.
    case = make_case(
        {**CASE, "fastener.yield_strength": {"law": "normal", "mean": "1100 MPa", "cov": "2 %"}}
    )
    z = normal_chunk(1, 0, 5000, 4)
    found = control(case, ("fastener.yield_strength",), "under_preload", z)
    assert found.difference.value == 0.0
    assert found.difference.high < 0.001
