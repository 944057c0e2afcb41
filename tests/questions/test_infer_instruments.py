"""Readings of one instrument share its unknown error."""

import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm
from stated import reading, stated_case

from preloadmc.chance.streams import named_rng
from preloadmc.inputs import input_label
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.question import infer

GAUGES = {"investigation.instrument": [{"name": "A", "bias_sd": "10 %"}]}
VALUES = (34.0, 36.0, 35.0)


def case_of(make_case, **more):
    findings = [reading(place, f"{value} kN", **more) for place, value in enumerate(VALUES)]
    return stated_case(make_case, findings, [("low", 35, 4, 1.0)], **GAUGES)


def test_one_error_multiplies_every_reading(make_case):
    case = case_of(make_case, instrument="A")
    (designed, _) = case.investigation.suspects
    model = SuspectModel(designed, case.investigation.evidence, named_rng(1, "test"))
    place = model.columns.index("instrument.A")
    assert model.fractions[place] == 1.0
    z = np.zeros((3, 1, len(model.columns)))
    z[:, 0, place] = -1.2
    # Preload 40 kN at its mean, read 12 % low with 2 kN of error.
    exact = [norm.logpdf(1e3 * value, 40e3 * 0.88, 2e3) for value in VALUES]
    assert model.of_fasteners(z)[:, 0] == pytest.approx(exact)
    assert input_label("instrument.A") == "own error of instrument A"


def log_density(mean, error=0.0):
    """Of the readings, given the instrument's error: normal, half of the variance in common."""
    own = (1 + error) ** 2 * 16.0 * (0.5 + 0.5 * np.eye(3)) + 4.0 * np.eye(3)
    return multivariate_normal.logpdf(VALUES, np.full(3, mean * (1 + error)), own)


@pytest.mark.statistical
def test_odds_with_a_common_error(make_case, seed):
    def exact(mean):
        b, step = np.linspace(-0.6, 0.6, 1201, retstep=True)
        given = np.exp([log_density(mean, each) for each in b])
        return math.log(np.sum(given * norm.pdf(b, 0, 0.1)) * step) - 3 * math.log(1e3)

    result = infer(case_of(make_case, instrument="A"), seed=seed, runs=2, particles=128)
    found = {each.suspect.name: each.log_evidence for each in result.suspects}
    assert found["as designed"] == pytest.approx(exact(40.0), abs=0.25)
    assert found["low"] == pytest.approx(exact(35.0), abs=0.25)
    # Without the instrument's own error, the same readings tell the two apart by more.
    apart = exact(35.0) - exact(40.0)
    assert 0.0 < apart < 0.6 * (log_density(35.0) - log_density(40.0))
