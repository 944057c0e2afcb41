"""Aiming where laws are known from tests only: the upper limits bound the settings."""

import numpy as np
import pytest

from preloadmc import aim
from preloadmc.judgement.bands import Bands
from preloadmc.questions.aim.setting import case_at

FRICTION = {"law": "lognormal", "mean": 0.12, "cov": "8 %", "tests": 12}
CASE = {
    "friction": {"total": FRICTION},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "requirement.minimum_preload": "26 kN",
    "requirement.allowed_under": 5e-3,
    "requirement.allowed_over": 5e-3,
}


@pytest.fixture(scope="module")
def result(session_case):
    return aim(session_case(CASE))


def test_the_upper_limits_are_met_at_both_ends_and_not_beyond(result):
    low, high = result.aim.interval
    for at, side, beyond in ((low, "under_preload", 0.98), (high, "over_preload", 1.02)):
        within, outside = (
            Bands.of(case_at(result.case, factor * at), result.seed).band(side)
            for factor in (1.0, beyond)
        )
        assert within.upper_high <= 5e-3 * 1.03
        assert outside.upper_high > 5e-3
    # What is predicted alone would allow more.
    predicted = result.under.value[np.searchsorted(result.under.levels, low)]
    assert predicted < 0.5 * 5e-3
    assert result.answer[0].startswith("How likely: given these laws and their tests, ")
    assert "with confidence below" in result.answer[0]


def test_bands_hold_the_curves(result):
    for curve in result.curve.values():
        assert (curve.low <= curve.value).all()
        assert (curve.value <= curve.high).all()
    # Twelve tests leave more open than thousands of draws.
    at = np.searchsorted(result.under.levels, result.aim.interval[0])
    assert result.under.high[at] > 2.0 * result.under.value[at]


@pytest.mark.slow
def test_what_tests_alone_settle_is_not_sent_to_more_samples(session_case):
    few = {
        "friction": {"total": {**FRICTION, "tests": 6}},
        "requirement.allowed_under": 2e-3,
        "requirement.allowed_over": 2e-3,
    }
    found = aim(session_case({**CASE, **few}))
    assert found.aim.interval is None
    assert "run it, which names the tests that would settle it" in found.answer[2]
    assert "--precision" not in found.answer[2]
