"""Fasteners that were looked at because loose, and turns that grow with time in service."""

import math

import numpy as np
import pytest
from scipy.stats import norm
from stated import reading, stated_case

from preloadmc.chance.streams import named_rng
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.question import infer

pytestmark = pytest.mark.usefixtures("named_alone")


@pytest.mark.statistical
def test_the_share_of_loose_ones_in_a_lot(make_case, seed):
    # Preload N(40, 4), half of the variance in common: given u, N(40 + 4 sqrt(1/2) u, 4 sqrt(1/2)),
    # told to be loose with an error of 2 % of 28 kN.
    case = stated_case(
        make_case, [reading(1, "27 kN")], [], investigation={"selection": "because loose"}
    )
    model = SuspectModel(
        case.investigation.suspects[0], case.investigation.evidence, named_rng(seed, "test")
    )
    u = np.linspace(-3, 3, 13)
    (share,) = model.loose_shares(u[:, None], [28e3])
    own = 4 * math.sqrt(0.5)
    exact = norm.cdf((28 - 40 - own * u) / math.hypot(own, 0.02 * 28))
    assert exact.min() < 1e-10
    assert np.log(share) == pytest.approx(np.log(exact), abs=0.25)
    known = model.of_lot
    assert known.at(known.prepare(u[:, None]), 1.0) == pytest.approx(-np.log(share))


def test_the_share_of_loose_ones_where_all_is_in_common(make_case):
    # Nothing of its own: a lot is loose as a whole, or not at all.
    case = stated_case(
        make_case, [reading(1, "27 kN")], [], 1.0, investigation={"selection": "because loose"}
    )
    model = SuspectModel(
        case.investigation.suspects[0], case.investigation.evidence, named_rng(1, "test")
    )
    (share,) = model.loose_shares(np.array([[-3.5], [-2.5]]), [28e3])
    assert share == pytest.approx(norm.cdf((28 - np.array([26, 30])) / (0.02 * 28)), abs=1e-9)


def test_those_chosen_because_loose_are_compared_with_loose_ones(make_case):
    # 27 kN is far out for a fastener of the lot, and ordinary for one that is told to be loose.
    positions = []
    for selection in ("random", "because loose"):
        case = stated_case(
            make_case, [reading(1, "27 kN", "1 kN")], [], investigation={"selection": selection}
        )
        (fit,) = infer(case, runs=2, particles=64).leading[0].fit
        positions.append(fit.prior_position)
    # P(N(40, sqrt(16 + 1)) < 27), two-sided.
    assert positions[0] == pytest.approx(2 * norm.cdf(-13 / math.sqrt(17)), rel=0.3)
    assert positions[1] > 0.3


@pytest.mark.slow
@pytest.mark.statistical
def test_those_chosen_because_loose_tell_less(make_case, seed):
    # One fastener at 27 kN. Drawn at random, 'low' explains it far better. Chosen because loose
    # (below 28 kN), its preload follows the law cut off there.
    suspects = [("low", 32, 4, 1.0)]
    odds = {}
    for selection in ("random", "because loose"):
        case = stated_case(
            make_case,
            [reading(1, "27 kN", "1 kN")],
            suspects,
            investigation={"selection": selection},
        )
        result = infer(case, seed=seed)
        odds[selection] = {v.suspect.name: v.log_evidence for v in result.suspects}

    def exact(mean, selected):
        # All of the variance given the common part is integrated over a grid.
        u = np.linspace(-8, 8, 4001)
        centre, own = mean + 4 * math.sqrt(0.5) * u, 4 * math.sqrt(0.5)
        preload = np.linspace(0, 60, 6001)
        density = norm.pdf(preload[None], centre[:, None], own)
        told = norm.cdf((28 - preload) / (0.02 * 28)) if selected else np.ones_like(preload)
        step = preload[1] - preload[0]
        share = (density * told).sum(axis=1) * step
        seen = (density * told * norm.pdf(27, preload, 1)).sum(axis=1) * step
        weights = norm.pdf(u) * (u[1] - u[0])
        ratio = np.divide(seen, share, out=np.zeros_like(seen), where=share > 1e-200)
        return math.log((weights * ratio).sum() / 1e3)

    for selection in odds:
        wanted = exact(32, selection != "random") - exact(40, selection != "random")
        found = odds[selection]["low"] - odds[selection]["as designed"]
        assert found == pytest.approx(wanted, abs=0.4)
    assert abs(odds["because loose"]["low"] - odds["because loose"]["as designed"]) < 1.0
    assert odds["random"]["low"] - odds["random"]["as designed"] > 2.0


def test_time_in_service_grows_the_turn(make_case):
    def model(hours):
        case = make_case(
            {
                "evidence": [
                    reading(1, "20 kN"),
                    {"kind": "time in service", "value": f"{hours} h"},
                ],
                "suspect": [{"name": "turns", "rotation": {"angle": "10 deg", "time": "100 h"}}],
            }
        )
        suspect = case.investigation.suspects[1]
        return SuspectModel(suspect, case.investigation.evidence, named_rng(1, "test"))

    for hours in (50, 100, 300):
        turned = model(hours).inspect(np.zeros((1, 0))).tightened.turned
        assert turned == pytest.approx(math.radians(0.1 * hours))
