"""Fasteners that act upon each other, against an integral and another library."""

import math

import numpy as np
import pytest
from group_problems import network, problems
from numpy.random import default_rng
from scipy.special import ndtr, ndtri

from preloadmc.errors import UsageError
from preloadmc.estimates import coupled
from preloadmc.estimates.coupled import coupled_at_least_k
from preloadmc.estimates.equicorrelated import group_probability
from preloadmc.estimates.group import Kind, at_least_k
from preloadmc.estimates.probability import Probability


def uncoupled(beta, common):
    """Margins beta - x, each with a shared and an own part."""
    root, own = math.sqrt(common), math.sqrt(1.0 - common)
    return lambda u, v: beta - root * u - own * v[:, :, 0]


def agrees(p, exact):
    """One seed: within the interval made half as wide again, 99.6 %."""
    spread = 1.5 * max(math.log(p.high / p.value), math.log(p.value / p.low))
    assert abs(math.log(p.value / exact)) < spread
    assert p.reliable, p.note
    assert p.relative_half_width < 0.25


@pytest.mark.statistical
@pytest.mark.parametrize("p", [1e-2, 1e-4, 1e-6])
@pytest.mark.parametrize(("n", "k"), [(8, 1), (8, 2), (60, 4)])
def test_a_network_by_the_integral(n, k, p, seed):
    problem = network(p, 0.6, n, k)
    found = problem.estimate(seed)
    agrees(found.probability, problem.p)
    assert len(found.single) == n
    assert found.single[0].low / 1.1 < p < found.single[0].high * 1.1
    assert found.probability.model_calls < 50_000


@pytest.mark.statistical
def test_a_ring_by_another_library(seed):
    # Each of four relieves its two neighbours; the positions differ in load.
    ot = pytest.importorskip("openturns")
    n, shared = 4, 0.5
    factor = np.eye(n) - 0.3 * (np.roll(np.eye(n), 1, axis=0) + np.roll(np.eye(n), -1, axis=0))
    covariance = factor @ factor.T + shared * np.ones((n, n))
    beta = -float(ndtri(1e-3)) * math.sqrt(covariance[0, 0]) + np.array([0.0, 0.2, 0.0, 0.2])
    law = ot.Normal(ot.Point(n, 0.0), ot.CovarianceMatrix(covariance.tolist()))
    exact = 1.0 - law.computeCDF(ot.Point(beta.tolist()))

    def joint(u, v):
        return beta - math.sqrt(shared) * u - v[:, :, 0] @ factor.T

    single = ndtr(-beta / math.sqrt(covariance[0, 0]))
    # Opposite ones are alike; nothing is lost where that is not said.
    for alike in ([0, 1, 0, 1], None):
        found = coupled_at_least_k(joint, n, 1, 1, 1, rng=default_rng(seed), alike=alike)
        agrees(found.probability, exact)
        for each, known in zip(found.single, single, strict=True):
            assert each.low / 1.3 < known < each.high * 1.3
        if alike:
            assert found.single[0] == found.single[2]


@pytest.mark.statistical
@pytest.mark.parametrize("k", [1, 2])
def test_without_coupling_it_is_a_group(k, seed):
    beta, common = 4.0, 0.6
    found = coupled_at_least_k(
        uncoupled(beta, common), 8, 1, 1, k, rng=default_rng(seed), alike=[0] * 8
    ).probability
    root, own = math.sqrt(common), math.sqrt(1.0 - common)
    kind = Kind(8, lambda u, v: beta - root * u - own * v)
    group = at_least_k([kind], 1, 1, k, rng=default_rng(seed)).probability
    assert found.low / 1.1 < group.value < found.high * 1.1
    assert found.method == "importance"


@pytest.mark.statistical
def test_where_too_few_are_seen_another_estimate_stands(seed):
    # Two of eight at 1e-6 each, little shared: single misses hardly tell.
    exact = float(group_probability(1e-6, 0.3, 8, 2))
    joint = uncoupled(-float(ndtri(1e-6)), 0.3)
    found = coupled_at_least_k(joint, 8, 1, 1, 2, rng=default_rng(seed), alike=[0] * 8)
    p = found.probability
    assert p.method == "subset"
    assert "importance sampling was given up" in p.note
    assert p.low / 3.0 < exact < 3.0 * p.high
    assert found.single[0].value == pytest.approx(1e-6, rel=0.25)


def test_where_none_is_seen_another_estimate_stands():
    found = coupled_at_least_k(uncoupled(4.5, 0.01), 6, 1, 1, 6, rng=default_rng(1), alike=[0] * 6)
    assert found.probability.method == "subset"
    assert "given up at 0" in found.probability.note


@pytest.mark.statistical
def test_steps(seed):
    smooth = uncoupled(2.75, 0.6)
    found = coupled_at_least_k(
        lambda u, v: np.ceil(2.0 * smooth(u, v)) - 0.5,
        8,
        1,
        1,
        4,
        rng=default_rng(seed),
        alike=[0] * 8,
        smooth=False,
    )
    # ceil(2 m) < 1/2 where m <= 0
    exact = float(group_probability(ndtr(-2.75), 0.6, 8, 4))
    assert found.probability.low / 1.5 < exact < 1.5 * found.probability.high
    assert found.single[0].low / 1.2 < ndtr(-2.75) < 1.2 * found.single[0].high


@pytest.mark.statistical
def test_a_fastener_that_never_misses(seed):
    part = uncoupled(4.0, 0.6)

    def joint(u, v):
        margins = part(u, v)
        margins[:, 0] = 5.0
        return margins

    found = coupled_at_least_k(joint, 5, 1, 1, 1, rng=default_rng(seed), alike=[0, 1, 1, 1, 1])
    agrees(found.probability, float(group_probability(ndtr(-4.0), 0.6, 4, 1)))
    assert found.single[0].value == 0.0


def test_none_that_misses():
    found = coupled_at_least_k(
        lambda u, v: np.full(v.shape[:2], 5.0), 3, 1, 1, 1, rng=default_rng(1), alike=[0] * 3
    )
    assert found.probability.value == 0.0
    assert "no design point was found" in found.probability.note


def test_a_check_that_sees_more_stands(monkeypatch):
    # Draws that are told half of their weight.
    whole = coupled.around

    class Halved:
        def __init__(self, mixture):
            self.sample = mixture.sample
            self.weights = lambda z: 0.4 * mixture.weights(z)

    monkeypatch.setattr(coupled, "around", lambda *given: Halved(whole(*given)))
    found = network(1e-5, 0.6, 8, 1).estimate(1).probability
    assert found.method == "subset"
    assert "subset simulation disagrees" in found.note


def test_the_same_seed_gives_the_same_bits(monkeypatch):
    one, two, other = (network(1e-4, 0.6, 8, 2).estimate(seed) for seed in (3, 3, 4))
    assert one.probability == two.probability
    assert one.single == two.single
    assert one.probability != other.probability


def test_small_blocks_are_the_same_to_rounding(monkeypatch):
    # Only the draws of a batch are split, which moves the estimate within its interval.
    monkeypatch.setattr(coupled, "_NUMBERS", 2**9)
    problem = network(1e-4, 0.6, 8, 1)
    found = problem.estimate(1).probability
    assert isinstance(found, Probability)
    assert found.low / 1.1 < problem.p < found.high * 1.1


def test_refusals():
    joint = uncoupled(4.0, 0.6)
    with pytest.raises(UsageError, match="k must lie between 1 and the 8"):
        coupled_at_least_k(joint, 8, 1, 1, 9, rng=default_rng(1))
    with pytest.raises(UsageError, match="8 fasteners need as many labels, given 2"):
        coupled_at_least_k(joint, 8, 1, 1, 1, rng=default_rng(1), alike=[0, 1])


@pytest.mark.statistical
def test_intervals_cover(seed):
    problem = problems(1e-4)[5]
    found = [problem.estimate(1000 * seed + i).probability for i in range(20)]
    covered = sum(each.low <= problem.p <= each.high or not each.reliable for each in found)
    # At 95 %, fewer than 16 of 20 come once in 400.
    assert covered >= 16


@pytest.mark.slow
@pytest.mark.statistical
@pytest.mark.parametrize("p", [1e-2, 1e-4, 1e-6])
@pytest.mark.parametrize("place", [5, 6])
def test_intervals_cover_over_many_seeds(place, p, seed):
    problem = problems(p)[place]
    found = [problem.estimate(1000 * seed + i).probability for i in range(500)]
    covered = sum(each.low <= problem.p <= each.high or not each.reliable for each in found)
    # At 94 %, fewer than 454 of 500 come once in 700.
    assert covered >= 454
