"""Whose scatter makes the scatter of preload, and whose the misses?"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import log_ndtr, ndtr

from preloadmc import load_case, rank, run
from preloadmc.chance.streams import named_rng
from preloadmc.engine import margin_function, sample
from preloadmc.errors import EstimateError, UsageError
from preloadmc.estimates.design_point import design_points
from preloadmc.estimates.miss_shares import miss_shares
from preloadmc.estimates.mixture import around
from preloadmc.estimates.subset import subset_runs
from preloadmc.judgement.estimate import estimate_outcome
from preloadmc.judgement.misses import (
    ENOUGH_MISSES,
    Unranked,
    gather_misses,
    normal_correlation,
    own_normals,
    rank_misses,
    ranked_inputs,
)
from preloadmc.questions.rank import BASE_SAMPLES, MOST_SAMPLES, quantity

LAW = {"law": "lognormal", "mean": 0.13, "cov": "12 %"}
FRICTIONS = {"friction": {"thread": LAW, "bearing": LAW}}
SUM = {
    "tightening.torque": {"law": "normal", "mean": "77.4 N·m", "cov": "2.5 %"},
    "settling.embedding": {"law": "normal", "mean": "20 um", "sd": "2 um"},
    # So far below zero that service asks for more than the settled joint in every sample.
    "temperature.thermal_change": {"law": "normal", "mean": "-20 kN", "sd": "1 kN"},
    "requirement.minimum_preload": "8 kN",
}


def linear_shares(cosines, beta):
    """Closed form for g = beta - a.z: the density of z_i given a miss is in proportion to
    phi(z) Phi((a_i z - beta)/sqrt(1 - a_i^2)); its divergence from phi by quadrature."""
    z = np.linspace(-12.0, 12.0, 100_001)
    found = []
    for a in np.abs(cosines):
        log_ratio = log_ndtr((a * z - beta) / math.sqrt(1.0 - a * a)) - log_ndtr(-beta)
        density = np.exp(log_ratio - 0.5 * z * z) / math.sqrt(2.0 * math.pi)
        found.append(float(np.sum(density * log_ratio) * (z[1] - z[0])))
    return np.array(found) / sum(found)


@pytest.mark.statistical
def test_a_sum_of_normals(make_case, seed):
    # F - f_Z/delta + change: the shares are those of the variances, 1 : 4 : 4.
    result = rank(make_case(SUM), seed=seed)
    shares = {"tightening.torque": 1.0, "settling.embedding": 0.25, "temperature.thermal_change": 1}
    whole = sum(shares.values())
    for place, (name,) in enumerate(result.members):
        exact = shares[name] / whole
        half = result.indices.first[place] - result.indices.first_low[place]
        assert abs(result.indices.first[place] - exact) < 2 * half
        assert abs(result.indices.total[place] - exact) < 2 * half
        assert abs(result.shapley.share[place] - exact) < 0.01
        assert half < 0.06


@pytest.mark.statistical
@pytest.mark.parametrize("beta", [2.3263, 4.7534])
def test_misses_of_a_sum_of_normals(make_case, seed, beta):
    # Torque, embedding and thermal change add up to a normal preload: a linear limit in normals,
    # with the cosines of the variances' shares, 4/9, 1/9, 4/9; p = 1e-2 and 1e-6.
    case = make_case(SUM)
    found = sample(case, seed=1, samples=1000, precision=None).moments["residual"]
    torque_sd = 0.025 * (found.mean + 20e-3 / 4e-6 + 20e3)
    sd = math.sqrt(torque_sd**2 + 500.0**2 + 1000.0**2)
    mean = quantity(case, "residual")[1](np.zeros((1, 3)))[0]
    limits = {"requirement.minimum_preload": f"{mean - beta * sd} N"}
    result = rank(make_case({**SUM, **limits}), seed=seed)
    under, over = result.misses.values()
    cosines = np.array([torque_sd, 500.0, 1000.0]) / sd
    assert under.cosines == pytest.approx([-cosines[0], cosines[1], -cosines[2]], abs=1e-3)
    exact = linear_shares(cosines, beta)
    half = under.shares.share_high - under.shares.share
    assert (np.abs(under.shares.share - exact) < 1.6 * half).all()
    assert (half < 0.04).all()
    # Given a miss a.z has the mean phi(beta)/Phi(-beta).
    shift = math.exp(-0.5 * beta * beta) / math.sqrt(2.0 * math.pi) / ndtr(-beta)
    assert under.shares.mean == pytest.approx(np.array(under.cosines) * shift, abs=0.15)
    assert isinstance(over, Unranked)


def test_correlated_frictions_have_one_index_and_a_share_each(make_case):
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
    assert result.shapley.names == ("tool scatter", "thread friction", "bearing friction")
    assert result.shapley.share[1:].sum() == pytest.approx(result.indices.total[1], abs=0.03)
    assert result.shapley.ordering.places == (2, 1, 0)


def test_groups_are_ranked_as_one(make_case):
    overrides = {**FRICTIONS, "tightening.tool": {"law": "normal", "cov": "3 %"}}
    case = make_case({**overrides, "requirement.minimum_preload": "36 kN"})
    result = rank(case, groups=["friction", "tool"])
    # A group of one input is that input.
    assert result.shapley.names == ("tool scatter", "friction as a whole")
    assert result.members == (("tightening.tool",), ("friction.thread", "friction.bearing"))
    under = result.misses["under_preload"]
    assert under.shares.names == result.shapley.names
    assert under.cosines[0] < 0.0
    assert under.cosines[1] is None
    assert np.isnan(under.shares.mean[1])
    assert under.shares.share[1] > 0.8
    single = rank(case).misses["under_preload"]
    assert under.shares.share[0] == pytest.approx(single.shares.share[0], abs=0.05)


def test_a_group_that_correlation_ties_to_another(make_case):
    case = make_case(
        {**SUM, **FRICTIONS, "tightening.tool": {"law": "normal", "cov": "3 %"}},
    )
    tied = {
        ("tightening.tool", "friction.thread"): 0.3,
        ("settling.embedding", "tightening.torque"): 0.2,
    }
    result = rank(replace(case, correlations=tied), groups=["friction"], base_samples=256)
    assert result.members == (
        ("tightening.torque", "settling.embedding"),
        ("tightening.tool", "friction.thread", "friction.bearing"),
        ("temperature.thermal_change",),
    )
    assert result.indices.names[1] == "tool scatter with friction as a whole"
    assert len(result.ranked) == 5


def test_the_designs_grow_until_the_leading_order_is_settled(make_case):
    clear = rank(make_case(FRICTIONS))
    assert clear.indices.base_samples == BASE_SAMPLES
    assert clear.indices.ordering.unsettled(leading=3) == ()
    alike = {
        **SUM,
        "tightening.torque": "77.4 N·m",
        "temperature.thermal_change": {"law": "normal", "mean": "-20 kN", "sd": "0.5 kN"},
    }
    equal = rank(make_case(alike), base_samples=1024)
    assert equal.indices.base_samples == MOST_SAMPLES
    assert len(equal.indices.ordering.unsettled(leading=3)) == 1


def test_second_order_and_convergence_where_asked(make_case):
    plain = rank(make_case(FRICTIONS), base_samples=256)
    assert plain.indices.pairs == plain.convergence == ()
    result = rank(make_case(FRICTIONS), base_samples=256, second_order=True, convergence=True)
    (pair,) = result.indices.pairs
    assert pair.names == ("thread friction", "bearing friction")
    assert [part.base_samples for part in result.convergence] == [64, 128, 256]
    assert result.all_model_calls > plain.all_model_calls
    # One input has no pair.
    alone = rank(make_case({"friction.thread": LAW}), base_samples=256, second_order=True)
    assert alone.indices.pairs == ()


def test_the_variance_of_another_quantity(make_case):
    strength = {"fastener.yield_strength": {"law": "normal", "mean": "1000 MPa", "cov": "4 %"}}
    case = make_case({**FRICTIONS, **strength, "tightening.torque": "60 N·m"})
    residual, assembled, settled, margin, stated = (
        rank(case, of=of, base_samples=512)
        for of in ("residual", "assembled", "settled", "yield", "minimum preload")
    )
    words = [each.quantity for each in (residual, assembled, settled, margin, stated)]
    assert words == [
        "residual preload",
        "assembled preload",
        "preload, settled",
        "margin of yield",
        "margin of minimum preload",
    ]
    place = residual.indices.names.index("yield strength")
    assert residual.indices.total[place] == pytest.approx(0.0, abs=1e-9)
    assert margin.indices.total[place] > 0.1
    # A constant minimum takes nothing from the residual preload's variance.
    assert stated.indices.total == pytest.approx(residual.indices.total, rel=1e-9, abs=1e-12)
    with pytest.raises(
        UsageError, match="'slip' cannot be ranked in this case; one of assembled, "
    ):
        rank(case, of="slip")


def test_the_smallest_margin_over_the_states(case_files):
    (path,) = [path for path in case_files if path.stem == "sensor_lid"]
    case = load_case(path)
    z = np.random.default_rng(1).standard_normal((500, len(case.uncertain)))
    _, margin = quantity(case, "minimum preload")
    expected = margin_function(case, "under_preload")(z)
    # The margins of being under are those of the minimum, and of breaking in tightening.
    assert (margin(z) >= expected.min(axis=1)).all()
    _, residual = quantity(case, "residual")
    assert margin(z) == pytest.approx(residual(z) - 3800.0)


def test_the_seed_of_the_case_unless_given(make_case):
    case = make_case(FRICTIONS)
    assert rank(case, base_samples=64).seed == 7
    one, two, other = (rank(case, seed=s, base_samples=256) for s in (3, 3, 4))
    assert np.array_equal(one.indices.first, two.indices.first)
    assert np.array_equal(one.shapley.share, two.shapley.share)
    assert not np.array_equal(one.indices.first, other.indices.first)
    assert one.indices.model_calls == one.indices.base_samples * 4 * one.indices.replicates


def test_a_run_and_a_ranking_of_its_own_agree(make_case):
    case = make_case({**FRICTIONS, "requirement.minimum_preload": "33 kN"})
    of_run = run(case, ranking=True)
    assert of_run.ranking.misses["under_preload"] is of_run.estimates["under_preload"].dominates
    alone = rank(case).misses["under_preload"]
    assert alone.shares.share == pytest.approx(
        of_run.ranking.misses["under_preload"].shares.share, abs=0.05
    )
    assert run(case).ranking is None


def test_answers_say_where_the_rankings_differ(make_case):
    # Yield bounds one side only; embedding matters to the other.
    case = make_case(
        {
            **FRICTIONS,
            "fastener.yield_strength": {"law": "normal", "mean": "940 MPa", "cov": "6 %"},
            "requirement.minimum_preload": "33 kN",
        }
    )
    first, second, third = rank(case).answer
    assert first.startswith(
        "What dominates the variance of the residual preload: bearing friction "
    )
    assert second.startswith("What dominates the misses: being too loose: bearing friction ")
    assert "; being too tight: yield strength " in second
    assert third.startswith("Where they differ: yield strength makes ")
    assert third.endswith(" % of being too tight, but 0 % of being too loose.")
    alike = rank(make_case({"friction.thread": LAW, "requirement.minimum_preload": "36 kN"}))
    assert alike.answer[2].startswith("Where they differ: nowhere by more than sampling error")
    missed = rank(make_case({"friction.thread": {**LAW, "cov": "1 %"}}))
    assert missed.answer[1:] == (
        "What dominates the misses: no miss was found, so there is none to rank.",
        "Where they differ: there is one ranking only.",
    )


def test_nothing_scatters(make_case):
    with pytest.raises(UsageError, match="nothing in this case scatters, so there is nothing to"):
        rank(make_case())


def test_what_scatters_does_not_reach_the_preload(make_case):
    strength = {"law": "normal", "mean": "950 MPa", "cov": "4 %"}
    with pytest.raises(EstimateError, match="the quantity does not vary"):
        rank(make_case({"fastener.yield_strength": strength}))


def test_groups_that_are_not_there(make_case):
    case = make_case(FRICTIONS)
    with pytest.raises(
        UsageError, match="group 'tool': nothing of it scatters in this case; one of f"
    ):
        ranked_inputs(case, ["tool"])


# Misses: where they come from


def test_plenty_of_plain_misses_are_ranked_as_they_are(make_case):
    case = make_case({**FRICTIONS, "requirement.minimum_preload": "36 kN"})
    drawn = sample(case, seed=1, samples=100_000, precision=None)
    found = estimate_outcome(case, drawn, "under_preload", seed=1, precision=0.2, method=None)
    assert drawn.kept.under.sum() > ENOUGH_MISSES
    assert found.misses.model_calls == 0
    assert np.ptp(found.misses.sample.weights) == 0.0
    # Few are drawn anew where they lie; both agree.
    few = sample(case, seed=1, samples=5000, precision=None)
    drawn_anew = estimate_outcome(case, few, "under_preload", seed=1, precision=0.2, method=None)
    assert drawn_anew.misses.model_calls > 0
    assert drawn_anew.misses.sample.effective_size > 500
    assert found.dominates.shares.share == pytest.approx(
        drawn_anew.dominates.shares.share, abs=0.05
    )


def test_a_mixture_that_serves_badly_is_passed_over(make_case):
    case = make_case({**FRICTIONS, "requirement.minimum_preload": "33.8 kN"})
    drawn = sample(case, seed=1, samples=20_000, precision=None)
    points = design_points(margin_function(case, "over_preload"), 2, rng=np.random.default_rng(1))
    away = around(points, [None] * len(points))
    found = gather_misses(case, drawn, "under_preload", seed=1, mixture=away)
    assert len(found.sample.z) == drawn.kept.under.sum()
    assert found.model_calls > 0
    assert found.cosines == {}


def test_misses_of_subset_simulation(make_case):
    case = make_case({**FRICTIONS, "requirement.minimum_preload": "26 kN"})
    drawn = sample(case, seed=1, samples=2000, precision=None)
    margins = margin_function(case, "under_preload")
    chains = subset_runs(margins, 2, rng=named_rng(1, "test")).sample
    found = gather_misses(case, drawn, "under_preload", seed=1, sample=chains)
    assert np.array_equal(found.sample.weights, chains.weights)
    assert found.blocks == 10
    exact = estimate_outcome(case, drawn, "under_preload", seed=1, precision=0.2, method=None)
    shares = rank_misses(case, found).shares.share
    assert shares == pytest.approx(exact.dominates.shares.share, abs=0.06)


def test_own_normals_are_those_of_the_laws(make_case):
    case = make_case(
        {
            "friction": {**FRICTIONS["friction"], "correlation": -0.5},
            "tightening.tool": {"law": "normal", "cov": "3 %"},
        }
    )
    z = np.random.default_rng(1).standard_normal((2000, 3))
    own = own_normals(case, z)
    x = case.inputs(z, case.uncertain)
    for column, name in enumerate(case.uncertain):
        assert own[:, column] == pytest.approx(case.laws[name].to_normal(x[name]), abs=1e-9)
    expected = normal_correlation(case)
    assert expected[1, 2] == expected[2, 1] == -0.5
    assert np.corrcoef(own, rowvar=False) == pytest.approx(expected, abs=0.08)


def test_why_misses_are_not_ranked(make_case):
    # Every joint misses: a miss says nothing.
    case = make_case({**FRICTIONS, "requirement.minimum_preload": "61 kN"})
    drawn = sample(case, seed=1, samples=5000, precision=None)
    found = estimate_outcome(case, drawn, "under_preload", seed=1, precision=0.2, method=None)
    assert isinstance(found.dominates, Unranked)
    assert found.dominates.reason.startswith("nearly every fastener")
    # Steps have no design point, and a few samples hold too few misses.
    table = {"law": "tabulated", "values": [0.12, 0.13, 0.14, 0.17]}
    case = make_case({"friction": {"nut_factor": table}, "requirement.minimum_preload": "41 kN"})
    drawn = sample(case, seed=1, samples=40, precision=None)
    found = estimate_outcome(case, drawn, "under_preload", seed=1, precision=0.5, method="plain")
    assert isinstance(found.dominates, Unranked)
    assert "effective misses, where 50 are needed" in found.dominates.reason


def test_a_tabulated_law_is_ranked_by_its_normal(make_case):
    # A miss needs the largest of four values: the divergence is ln 4, and there is nothing else.
    table = {"law": "tabulated", "values": [0.12, 0.13, 0.14, 0.17]}
    case = make_case({"friction": {"nut_factor": table}, "requirement.minimum_preload": "41 kN"})
    drawn = sample(case, seed=1, samples=40_000, precision=None)
    found = estimate_outcome(case, drawn, "under_preload", seed=1, precision=0.2, method=None)
    assert found.dominates.shares.divergence[0] == pytest.approx(math.log(4.0), abs=0.05)
    z = found.misses.sample.z
    alone = miss_shares(z, found.misses.sample.weights, ["nut factor"])
    assert alone.share == pytest.approx([1.0])
