"""Simulation-based calibration: causes drawn from the priors rank evenly among posterior draws.

S. Talts et al., "Validating Bayesian inference algorithms with simulation-based calibration",
arXiv:1804.06788 (2018). The rank of the truth among 99 independent draws is uniform on 0 to 99.
Three statistics are asked: chi-square of the ranks in bins (any shape), their mean (a posterior
that is shifted) and their mean square about the middle (one that is too narrow or too wide).
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.stats import chi2, norm

from preloadmc.errors import EstimateError
from preloadmc.evidence import BELOW, MEASURED, Count, Evidence, Observation
from preloadmc.questions.infer.likelihood import SuspectModel, quantity
from preloadmc.questions.infer.weighing import Weighing

LEVEL = 1e-3
LOT = {"by": "lot", "fraction": 0.5}
# M12 of the base case with scatter, and five causes that leave different traces.
SCATTER = {
    "friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "12 %", "shared": LOT},
    "friction.bearing": {"law": "lognormal", "mean": 0.12, "cov": "12 %", "shared": LOT},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "settling.embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %", "shared": LOT},
}
SUSPECTS = [
    {
        "name": "dry",
        "prior": 1,
        "friction": {
            "thread": {"law": "lognormal", "mean": 0.17, "cov": "15 %", "shared": LOT},
            "bearing": {"law": "lognormal", "mean": 0.17, "cov": "15 %", "shared": LOT},
        },
    },
    {
        "name": "soft",
        "prior": 1,
        "settling": {
            "embedding": {"law": "lognormal", "mean": "40 um", "cov": "50 %", "shared": LOT}
        },
    },
    {
        "name": "missed",
        "prior": 2,
        "missed": {
            "share": {"law": "beta", "alpha": 2, "beta": 2, "low": 0, "high": 1},
            "preload_share": {"law": "uniform", "low": "5 %", "high": "50 %"},
        },
    },
    {
        "name": "turned",
        "prior": 1,
        "rotation": {"angle": {"law": "lognormal", "mean": "15 deg", "cov": "80 %"}},
    },
]
FOUND = [
    {"fastener": "1", "kind": "residual preload", "value": "30 kN", "sd": "2 kN"},
    {"fastener": "2", "kind": "residual preload", "value": "30 kN", "sd": "2 kN"},
    {"fastener": "1", "kind": "loosening torque", "value": "50 N·m", "sd": "4 N·m"},
    {"fastener": "3", "kind": "loosening torque", "value": "50 N·m", "sd": "4 N·m"},
    {"fastener": "2", "kind": "mark", "value": "not turned", "error": "10 %"},
    {"fastener": "3", "kind": "mark", "value": "not turned", "error": "10 %"},
    {"kind": "loose count", "value": "1 of 4", "limit": "25 kN"},
]
# A preload below this cannot be read off: it is reported as "below".
LEAST_READ = 15e3
DRAWS = 99
LOOSE_DRAWS = 20_000


@dataclass(frozen=True, slots=True)
class Truth:
    """What was drawn: suspect, friction number of the lot, preload the first fastener was given."""

    suspect: int
    friction: float
    preload: float


def simulated(case, rng, selection="random"):
    """A truth drawn from the priors, and the case with what is then found."""
    investigation = case.investigation
    prior = np.array([suspect.prior for suspect in investigation.suspects])
    chosen = int(rng.choice(len(prior), p=prior / prior.sum()))
    suspect = investigation.suspects[chosen]
    evidence = investigation.evidence
    model = SuspectModel(suspect, evidence, rng)
    d = len(model.columns)
    u = rng.standard_normal(d)
    z = _lot(model, u, rng.standard_normal((model.fasteners, d)))
    missed = rng.random(len(z)) < _missed_share(model.inspect(z), len(z))
    if selection != "random":
        for place in range(len(evidence.fasteners)):
            z[place], missed[place] = _one_told_loose(model, u, rng)
    inspection = model.inspect(z)
    preload = _pick("preload", inspection, missed)
    places = {name: place for place, name in enumerate(evidence.fasteners)}
    findings = []
    for finding in evidence.findings:
        place = places[finding.fastener]
        tight = np.broadcast_to(quantity(finding, inspection.values, inspection.tightened), len(z))
        truth = tight[place]
        if missed[place]:
            truth = np.broadcast_to(
                quantity(finding, inspection.values, inspection.missed), len(z)
            )[place]
        findings.append(_told(finding, float(truth), rng))
    counts = []
    at = len(places)
    for count in evidence.counts:
        told = [_told_loose(f, count.limit, rng) for f in preload[at : at + count.inspected]]
        counts.append(Count(sum(told), count.inspected, count.limit))
        at += count.inspected
    fresh = Evidence(
        tuple(findings),
        tuple(counts),
        evidence.selected,
        evidence.loose_below,
        evidence.service_time,
    )
    column = model.columns.index("friction.thread")
    truth = Truth(chosen, float(u[column]), float(_tightened(inspection, len(z))[0]))
    return truth, replace(case, investigation=replace(investigation, evidence=fresh))


def _tightened(inspection, n):
    return np.broadcast_to(np.asarray(inspection.tightened.preload, dtype=float), n)


def _pick(name, inspection, missed):
    n = len(missed)
    tight = np.broadcast_to(np.asarray(getattr(inspection.tightened, name), dtype=float), n)
    if inspection.missed is None:
        return tight.copy()
    return np.where(missed, getattr(inspection.missed, name), tight)


def _lot(model, u, v):
    return u * np.sqrt(model.fractions) + v * np.sqrt(1.0 - model.fractions)


def _missed_share(inspection, n):
    return np.zeros(n) if inspection.missed_share is None else inspection.missed_share


def _one_told_loose(model, u, rng):
    """One fastener of a lot as it is where it is told to be loose: z, and whether it was missed.

    Drawn from many by the chance of being told loose, with the many spread wide so that the rarest
    looseness has some.
    """
    v, weights = model.wide_own(rng, LOOSE_DRAWS)
    z = _lot(model, u, v)
    inspection = model.inspect(z)
    share = _missed_share(inspection, len(z))
    limit = model.loose_below

    def loose(found):
        preload = np.broadcast_to(np.asarray(found.preload, dtype=float), len(z))
        return norm.cdf((limit - preload) / (0.02 * limit))

    by_tight = weights * (1.0 - share) * loose(inspection.tightened)
    by_missed = (
        np.zeros(len(z))
        if inspection.missed is None
        else weights * share * loose(inspection.missed)
    )
    chances = np.concatenate([by_tight, by_missed])
    chosen = int(rng.choice(len(chances), p=chances / chances.sum()))
    return z[chosen % len(z)], chosen >= len(z)


def _told_loose(preload, limit, rng):
    return preload + 0.02 * limit * rng.standard_normal() < limit


def _told(finding, truth, rng):
    if isinstance(finding, Observation):
        return replace(finding, seen=bool(rng.random() < truth))
    value = truth + finding.error * rng.standard_normal()
    if finding.kind == "residual preload" and value < LEAST_READ:
        return replace(finding, sense=BELOW, value=LEAST_READ)
    return replace(finding, sense=MEASURED, value=value)


def posterior_draws(case, seed, rng, particles, runs):
    """Probabilities of the suspects, and 99 draws (friction, preload) from the posterior."""
    investigation = case.investigation
    prior = np.array([suspect.prior for suspect in investigation.suspects])
    weighing = Weighing(
        investigation.suspects,
        frozenset(),
        investigation.evidence,
        seed=seed,
        particles=particles,
        runs=runs,
        progress=None,
    )
    odds, pools = weighing.weigh()
    draws = []
    for chosen in rng.choice(len(prior), size=DRAWS, p=odds.probability):
        pool = pools[chosen]
        place = int(rng.integers(len(pool.common)))
        model = pool.model
        z = pool.members[:, place]
        preload = _tightened(model.inspect(z), len(z))[0]
        draws.append((pool.common[place, model.columns.index("friction.thread")], preload))
    return odds.probability, np.array(draws)


def rank_among(truth, draws, rng):
    """Rank of the truth among independent draws, from 0 to their number; ties at random."""
    ties = int((draws == truth).sum())
    return int((draws < truth).sum()) + int(rng.integers(ties + 1))


def calibrated(make_case, count, seed, selection="random", particles=128):
    overrides = {**SCATTER, "suspect": SUSPECTS, "evidence": FOUND}
    if selection != "random":
        overrides["investigation"] = {"selection": selection, "loose_below": "28 kN"}
    case = make_case(overrides)
    ranks, probabilities, truths, refused = [], [], [], 0
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        truth, found = simulated(case, rng, selection)
        try:
            probability, draws = posterior_draws(found, number, rng, particles, 2)
        except EstimateError:
            refused += 1
            continue
        ranks.append(
            [
                rank_among(value, draws[:, k], rng)
                for k, value in enumerate((truth.friction, truth.preload))
            ]
        )
        probabilities.append(probability)
        truths.append(truth.suspect)
    return np.array(ranks), np.array(probabilities), np.array(truths), refused


def p_values(ranks, bins):
    """Probabilities of statistics as far out, for uniform ranks: shape, shift, spread."""
    n = len(ranks)
    counts = np.bincount(ranks * bins // (DRAWS + 1), minlength=bins)
    shape = chi2.sf(((counts - n / bins) ** 2).sum() * bins / n, bins - 1)
    every = np.arange(DRAWS + 1)
    off, square = ranks - every.mean(), (ranks - every.mean()) ** 2
    shift = off.mean() / every.std() * np.sqrt(n)
    squares = (every - every.mean()) ** 2
    spread = (square.mean() - squares.mean()) / squares.std() * np.sqrt(n)
    return np.array([shape, 2 * norm.sf(abs(shift)), 2 * norm.sf(abs(spread))])


def power(count, bins, shift, narrow):
    """How often posteriors off by ``shift`` s.d., or too narrow by a factor, are noticed."""
    rng = np.random.default_rng(1)
    noticed = 0
    for _ in range(200):
        truth = shift + rng.standard_normal(count) / narrow
        ranks = rng.binomial(DRAWS, norm.cdf(truth))
        noticed += p_values(ranks, bins).min() < LEVEL
    return noticed / 200


def assert_reliable(probabilities, truths):
    """A reliability diagram: in each band of probability, as many are true as were predicted."""
    true = np.arange(probabilities.shape[1]) == truths[:, None]
    for low, high in ((0, 0.05), (0.05, 0.2), (0.2, 0.5), (0.5, 0.8), (0.8, 0.95), (0.95, 1.01)):
        band = (probabilities >= low) & (probabilities < high)
        predicted = probabilities[band]
        sd = np.sqrt((predicted * (1 - predicted)).sum())
        # A Monte Carlo error of a twentieth in the odds, on top of three and a half s.d.
        slack = 3.5 * sd + 0.05 * predicted.sum() * (1 - predicted.mean() if band.any() else 0) + 1
        assert abs(true[band].sum() - predicted.sum()) <= slack


@pytest.mark.slow
@pytest.mark.statistical
def test_240_investigations(make_case, seed):
    count, bins = 240, 10
    # Posteriors off by 0.35 of their own s.d., or with an s.d. of 0.72 of what it should be.
    assert power(count, bins, 0.35, 1.0) > 0.9
    assert power(count, bins, 0.0, 0.72) > 0.9
    ranks, probabilities, truths, refused = calibrated(make_case, count, seed)
    assert refused <= 0.05 * count
    for column in ranks.T:
        assert p_values(column, bins).min() > LEVEL
    assert_reliable(probabilities, truths)


@pytest.mark.slow
@pytest.mark.statistical
def test_100_investigations_of_those_chosen_because_loose(make_case, seed):
    count, bins = 100, 5
    # Fewer, since each takes longer: posteriors off by 0.5 of their s.d., or with 0.6 of it.
    assert power(count, bins, 0.5, 1.0) > 0.9
    assert power(count, bins, 0.0, 0.6) > 0.9
    ranks, probabilities, truths, refused = calibrated(make_case, count, seed, "because loose", 64)
    assert refused <= 0.05 * count
    for column in ranks.T:
        assert p_values(column, bins).min() > LEVEL
    assert_reliable(probabilities, truths)


@pytest.mark.statistical
def test_a_few_investigations(make_case, seed):
    # Too few for shape; a posterior on the wrong side would put all ranks in one half.
    ranks, probabilities, truths, refused = calibrated(make_case, 3, seed, particles=64)
    assert refused == 0
    assert (ranks < 95).any(axis=0).all()
    assert (ranks > 4).any(axis=0).all()
    assert_reliable(probabilities, truths)
