"""The judgement: what is known of either side together."""

from dataclasses import replace

import pytest

from preloadmc.engine import sample
from preloadmc.estimates.probability import Probability
from preloadmc.judgement.judge import judgement

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}


def weighted(value, share):
    return Probability(
        value, value * (1.0 - share), value * (1.0 + share), 0.95, "importance", 500, 800
    )


@pytest.fixture
def judged(make_case):
    case = make_case({"friction.thread": LAW, "requirement.minimum_preload": "36 kN"})
    drawn = sample(case, seed=1, samples=2000, precision=None)

    def function(**estimated):
        names = {
            "under": "under_preload",
            "over": "over_preload",
            "outside": "outside_window",
        }
        found = {names[key]: each for key, each in estimated.items()}
        return judgement(case, drawn, found, seed=1, forced=True).outside.probability

    return function


def test_either_side_is_never_known_better_than_a_side(judged):
    under, over, outside = weighted(1e-3, 0.2), weighted(2e-5, 0.1), weighted(1.03e-3, 0.02)
    found = judged(under=under, over=over, outside=outside)
    assert found.value == outside.value
    # arms of 0.2 of 1e-3
    assert (found.low, found.high) == pytest.approx((0.83e-3, 1.23e-3))
    # what is known worse stays as it is
    rough = weighted(1.03e-3, 0.3)
    assert judged(under=under, over=over, outside=rough) == rough
    # nor is it less likely than a side
    low = weighted(0.9e-3, 0.02)
    assert judged(under=under, over=over, outside=low) == under
    # a side in doubt says nothing
    doubted = replace(under, reliable=False)
    found = judged(under=doubted, over=over, outside=outside)
    assert (found.low, found.high) == (outside.low, outside.high)


def test_counts_on_common_samples_stay_exact(judged):
    plain = judged()
    assert (plain.method, plain.samples) == ("plain", 2000)
    assert plain.low < plain.value < plain.high
