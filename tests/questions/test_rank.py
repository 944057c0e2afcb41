"""Whose scatter makes the scatter of preload?"""

import numpy as np
import pytest

from preloadmc import rank
from preloadmc.errors import EstimateError, UsageError

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
FRICTIONS = {"friction": {"thread": LAW, "bearing": LAW}}


@pytest.mark.statistical
def test_a_sum_of_normals(make_case, seed):
    # F - f_Z/delta + change: the shares are those of the variances, 1 : 4 : 4.
    case = make_case(
        {
            "tightening.torque": {"law": "normal", "mean": "77.4 N·m", "cov": "2.5 %"},
            "settling.embedding": {"law": "normal", "mean": "20 um", "sd": "2 um"},
            "temperature.thermal_change": {"law": "normal", "mean": "0 kN", "sd": "1 kN"},
        }
    )
    result = rank(case, seed=seed)
    shares = {"tightening.torque": 1.0, "settling.embedding": 0.25, "temperature.thermal_change": 1}
    whole = sum(shares.values())
    for place, (name,) in enumerate(result.members):
        exact = shares[name] / whole
        half = result.indices.first[place] - result.indices.first_low[place]
        assert abs(result.indices.first[place] - exact) < 2 * half
        assert abs(result.indices.total[place] - exact) < 2 * half
        assert half < 0.06


def test_correlated_frictions_are_ranked_as_one_group(make_case):
    overrides = {"friction": {**FRICTIONS["friction"], "correlation": 0.4}}
    tool = {"tightening.tool": {"law": "normal", "cov": "3 %"}}
    result = rank(make_case({**overrides, **tool}))
    assert result.members == (
        ("tightening.tool",),
        ("friction.thread", "friction.bearing"),
    )
    assert result.indices.names == ("tool scatter", "thread friction with bearing friction")
    assert result.order == (1, 0)
    assert float(np.sum(result.indices.first)) == pytest.approx(1.0, abs=0.05)


def test_the_seed_of_the_case_unless_given(make_case):
    case = make_case(FRICTIONS)
    assert rank(case).seed == 7
    one, two, other = (rank(case, seed=s, base_samples=256) for s in (3, 3, 4))
    assert np.array_equal(one.indices.first, two.indices.first)
    assert not np.array_equal(one.indices.first, other.indices.first)
    assert one.indices.model_calls == 256 * 4


def test_nothing_scatters(make_case):
    with pytest.raises(UsageError, match="nothing in this case scatters, so there is nothing to"):
        rank(make_case())


def test_what_scatters_does_not_reach_the_preload(make_case):
    strength = {"law": "normal", "mean": "950 MPa", "cov": "4 %"}
    with pytest.raises(EstimateError, match="the quantity does not vary"):
        rank(make_case({"fastener.yield_strength": strength}))
