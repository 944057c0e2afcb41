"""Investigations of many fasteners: own numbers summed over points, and readings over a grid."""

import math

import numpy as np
import pytest
from scipy.stats import norm
from stated import LOT, reading, stated_case

from preloadmc.chance.streams import named_rng
from preloadmc.evidence import ABOVE, BELOW, MEASURED, Reading
from preloadmc.questions.infer import many_fasteners
from preloadmc.questions.infer.drawn_lots import DrawnLots, by_fastener
from preloadmc.questions.infer.likelihood import SuspectModel
from preloadmc.questions.infer.many_fasteners import ManyFasteners
from preloadmc.questions.infer.next_measurement import _asked_of
from preloadmc.questions.infer.particles import pooled, run_particles
from preloadmc.questions.infer.question import infer
from preloadmc.questions.infer.true_values import TrueValues, mean_likelihoods

pytestmark = pytest.mark.usefixtures("named_alone")

# M12 of the base case: five inputs with numbers of their own, none of them a normal law of preload.
SCATTER = {
    "friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "12 %", "shared": LOT},
    "friction.bearing": {"law": "lognormal", "mean": 0.12, "cov": "12 %", "shared": LOT},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "settling.embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %", "shared": LOT},
}
MISSED = {
    "name": "missed",
    "missed": {
        "share": {"law": "beta", "alpha": 2, "beta": 6, "low": 0, "high": 1, "shared": LOT},
        "preload_share": {"law": "uniform", "low": "5 %", "high": "50 %"},
    },
}


def readings(lots, n, mean=36.0, own=3.0):
    """Readings that scatter, in kN: a lot of its own for every ``lots``."""
    values = mean + own * np.random.default_rng(lots).standard_normal(n)
    return [round(float(value), 2) for value in values]


def model_of(case, place=0):
    investigation = case.investigation
    return SuspectModel(investigation.suspects[place], investigation.evidence, named_rng(1, "m"))


def joint_normal(values, mean, sd, fraction, error):
    """Log evidence of readings [kN], and mean and s.d. of the lot's number u: a joint normal law.

    The covariance of readings is ``sd^2 f`` off the diagonal; u has covariance ``sd sqrt(f)`` with
    each.
    """
    n = len(values)
    covariance = sd**2 * (
        np.full((n, n), fraction) + (1 - fraction) * np.eye(n)
    ) + error**2 * np.eye(n)
    off = np.array(values) - mean
    log_evidence = -0.5 * (
        off @ np.linalg.solve(covariance, off)
        + np.linalg.slogdet(covariance)[1]
        + n * math.log(2 * math.pi)
    ) - n * math.log(1e3)
    weights = np.linalg.solve(covariance, np.full(n, sd * math.sqrt(fraction)))
    return log_evidence, weights @ off, math.sqrt(1 - weights.sum() * sd * math.sqrt(fraction))


@pytest.mark.statistical
@pytest.mark.parametrize("count", [40, 400])
def test_many_readings_of_normal_preloads(make_case, count, seed):
    values = readings(1, count)
    case = stated_case(make_case, [reading(k, f"{v} kN") for k, v in enumerate(values)], [])
    evidence = case.investigation.evidence
    runs = [
        run_particles(case.investigation.suspects[0], evidence, seed, k, 256, 6) for k in range(6)
    ]
    exact, mean, sd = joint_normal(values, 40, 4, 0.5, 2.0)
    logs = [run.posterior.log_evidence for run in runs]
    # Normal laws lose nothing to the points: what is left is the error of the particles.
    assert np.mean(logs) == pytest.approx(exact, abs=0.2)
    pool = pooled(runs, seed)
    assert pool.members.shape[0] == 0
    assert pool.common[:, 0].mean() == pytest.approx(mean, abs=0.2 * sd)
    assert pool.common[:, 0].std() == pytest.approx(sd, rel=0.12)
    # One fastener given the lot and its reading: weights 1/8 and 1/4 by the variances 8 and 4.
    drawn = pool.many.draw(["3"], pool.common, named_rng(seed, "draw"))["3"]
    preload = np.asarray(pool.model.inspect(drawn.z).tightened.preload) / 1e3
    lot = 40 + 4 * math.sqrt(0.5) * mean
    assert preload.mean() == pytest.approx((lot / 8 + values[3] / 4) / (3 / 8), abs=0.25)
    assert preload.std() == pytest.approx(math.sqrt(8 / 3), rel=0.1)
    assert not drawn.is_missed.any()


def mean_over_own_numbers(model, u, own):
    """Log likelihood of all fasteners in lots u, each by its mean over own numbers drawn."""
    found = np.empty(len(u))
    for k, lot in enumerate(u):
        z = lot * np.sqrt(model.fractions) + own * np.sqrt(1 - model.fractions)
        block = np.broadcast_to(z, (model.fasteners, *z.shape))
        found[k] = np.log(np.exp(model.of_fasteners(block)).mean(axis=1)).sum()
    return found


@pytest.mark.statistical
@pytest.mark.parametrize("place", [0, 1])
def test_points_stand_for_all_own_numbers(make_case, place, monkeypatch, seed):
    # A measured value, one below a limit, a torque, marks on two of them, and 9 kN where some
    # are missed; a mean over 20,000 own numbers is known to about 1 %.
    monkeypatch.setattr(many_fasteners, "FEW", 0)
    rows = [
        reading(1, "36 kN"),
        reading(2, "9 kN" if place else "42 kN"),
        reading(3, "below 38 kN"),
        {"fastener": 4, "kind": "loosening torque", "value": "52 N·m", "sd": "4 N·m"},
        reading(5, "40 kN"),
        {"fastener": 5, "kind": "mark", "value": "not turned", "error": "10 %"},
        {"fastener": 6, "kind": "mark", "value": "turned", "error": "10 %"},
    ]
    case = make_case({**SCATTER, "suspect": [MISSED], "evidence": rows})
    model = model_of(case, place)
    rng = named_rng(seed, "lots")
    u = 0.3 * rng.standard_normal((4, len(model.columns)))
    own = rng.standard_normal((20_000, len(model.columns)))
    exact = mean_over_own_numbers(model, u, own)
    many = ManyFasteners(model, named_rng(seed, "points"))
    assert many.names == set(model.places)
    assert many.others.findings == ()
    assert many.log_likelihood(u) == pytest.approx(exact, abs=0.1)


def test_who_is_followed_one_by_one(make_case):
    rows = [reading(k, "36 kN") for k in range(1, 20)]
    rows += [{"fastener": 2, "kind": "loosening torque", "value": "52 N·m", "sd": "4 N·m"}]
    case = make_case({**SCATTER, "evidence": rows})
    many = ManyFasteners(model_of(case), named_rng(1, "points"))
    # Two readings on one fastener have a direction each.
    assert many.names == {str(k) for k in range(1, 20)} - {"2"}
    assert [each.kind for each in many.others.findings] == ["residual preload", "loosening torque"]
    # A reading much finer than its scatter would fall between points.
    fine = [reading(k, "36 kN", "0.02 kN") for k in range(1, 20)]
    case = make_case({**SCATTER, "evidence": fine})
    assert not ManyFasteners(model_of(case), named_rng(1, "points")).names
    # Few are followed whatever was found.
    case = make_case({**SCATTER, "evidence": rows[:16]})
    assert not ManyFasteners(model_of(case), named_rng(1, "points")).names


@pytest.mark.statistical
def test_the_evidence_is_that_of_fasteners_followed_one_by_one(make_case, monkeypatch, seed):
    rows = [reading(k, f"{v} kN") for k, v in enumerate(readings(2, 16, 30.0))]
    rows += [reading(20, "12 kN"), reading(21, "9 kN")]
    case = make_case({**SCATTER, "suspect": [MISSED], "evidence": rows})
    suspect, evidence = case.investigation.suspects[1], case.investigation.evidence
    logs = []
    for few in (100, 0):
        monkeypatch.setattr(many_fasteners, "FEW", few)
        runs = [run_particles(suspect, evidence, seed, k, 128, 6) for k in range(4)]
        each = np.array([run.posterior.log_evidence for run in runs])
        assert each.std(ddof=1) < 1.0
        logs.append(math.log(np.exp(each - each.max()).mean()) + each.max())
    # Missed ones change the evidence by tens.
    assert logs[0] == pytest.approx(logs[1], abs=0.6)


def test_lots_drawn_by_the_laws_are_the_same_on_a_grid(make_case, monkeypatch):
    rows = [reading(k, f"{v} kN") for k, v in enumerate(readings(3, 18))]
    rows += [reading(30, "below 30 kN"), reading(31, "above 35 kN")]
    rows += [
        {"fastener": k, "kind": "mark", "value": "not turned", "error": "10 %"} for k in (2, 30)
    ]
    case = make_case({**SCATTER, "suspect": [MISSED], "evidence": rows})
    findings = case.investigation.evidence.findings
    for place in (0, 1):
        lots = DrawnLots(model_of(case, place), named_rng(1, "lots"), 64, 64)
        on_grid = np.array(lots.log_of_fasteners(findings))
        with monkeypatch.context() as patch:
            patch.setattr("preloadmc.questions.infer.drawn_lots.FEW", 1000)
            by_itself = np.array(lots.log_of_fasteners(findings))
        assert on_grid.shape == (len(by_fastener(findings)), 64)
        near = by_itself > -30.0
        assert near.mean() > 0.9
        assert on_grid[near] == pytest.approx(by_itself[near], abs=0.02, rel=0.01)


def test_a_value_shared_out_to_a_grid_keeps_its_likelihood():
    # One value between two of the grid, a reading of it by each sense: normal density over its
    # largest, and normal chances.
    grid = TrueValues.between(0.0, 10.0, 0.125)
    value, error = 5.04, 1.0
    read = [
        Reading("residual preload", "1", sense, 5.9, error, "", "")
        for sense in (MEASURED, BELOW, ABOVE)
    ]
    shares = grid.shares(np.array([[value]]), np.array([[1.0]]))
    assert shares.sum() == pytest.approx(1.0)
    off = (5.9 - value) / error
    exact = [math.exp(-0.5 * off**2), norm.cdf(off), norm.sf(off)]
    found = mean_likelihoods(shares, grid.likelihoods(read))
    assert found[0] == pytest.approx(exact, rel=2e-3)
    # Over all places between two of the grid the mean is exact to the fourth power of the step.
    values = (5.0 + np.arange(64) / 64 * grid.step)[:, None]
    off = (5.9 - values[:, 0]) / error
    found = mean_likelihoods(grid.shares(values, np.ones((64, 1))), grid.likelihoods(read[:1]))
    assert found.mean() == pytest.approx(np.exp(-0.5 * off**2).mean(), rel=2e-5)


def test_small_products_are_those_of_the_whole():
    rng = np.random.default_rng(1)
    shares, likelihoods = rng.random((70, 3000)), rng.random((3000, 41))
    assert mean_likelihoods(shares, likelihoods) == pytest.approx(shares @ likelihoods)


def test_of_many_alike_the_next_finding_is_thought_of_some(make_case):
    rows = [reading(k, f"{v} kN") for k, v in enumerate(readings(4, 60))]
    rows += [{"fastener": 7, "kind": "mark", "value": "turned", "error": "10 %"}]
    evidence = stated_case(make_case, rows[:-1], []).investigation.evidence
    asked = _asked_of(evidence)
    assert len(asked) == 24
    values = {f.fastener: f.value for f in evidence.findings}
    assert {min(values, key=values.get), max(values, key=values.get)} <= set(asked)
    # One with a finding that the others lack is always among them.
    assert "7" in _asked_of(make_case({**SCATTER, "evidence": rows}).investigation.evidence)


def test_an_investigation_of_many_readings_is_told_apart(make_case, seed):
    # 60 readings about 33 kN: 'low' against 'as designed' by the joint normal laws.
    values = readings(5, 60, 33.0)
    findings = [reading(k, f"{v} kN") for k, v in enumerate(values)]
    suspects = [("low", 34, 4, 1.0)]
    result = infer(stated_case(make_case, findings, suspects), seed=seed, particles=64, runs=2)
    exact = joint_normal(values, 34, 4, 0.5, 2.0)[0] - joint_normal(values, 40, 4, 0.5, 2.0)[0]
    first, second = result.suspects
    odds = exact if first.suspect.name == "low" else -exact
    assert first.log_evidence - second.log_evidence == pytest.approx(odds, abs=0.6)
    assert first.explains_the_evidence
