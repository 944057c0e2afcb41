"""Investigations: a planted cause comes out, closed forms hold, and doubt is said."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm
from stated import LOT, STATED, preload_law, reading, stated_case

from preloadmc.errors import EstimateError, UsageError
from preloadmc.questions.infer import particles, weighing
from preloadmc.questions.infer import question as infer_module
from preloadmc.questions.infer.answer import infer_answer
from preloadmc.questions.infer.fit_check import FitCheck, check_fit
from preloadmc.questions.infer.next_measurement import ANOTHER
from preloadmc.questions.infer.question import infer

pytestmark = pytest.mark.usefixtures("named_alone")


def exact_log_evidence(values, mean, sd, fraction, error):
    """Joint normal law of readings that share a part of their variance, kN to N."""
    n = len(values)
    covariance = sd**2 * (
        np.full((n, n), fraction) + (1 - fraction) * np.eye(n)
    ) + error**2 * np.eye(n)
    off = np.array(values) - mean
    return -0.5 * (
        off @ np.linalg.solve(covariance, off)
        + np.linalg.slogdet(covariance)[1]
        + n * math.log(2 * math.pi)
    ) - n * math.log(1e3)


@pytest.mark.statistical
@pytest.mark.parametrize("fraction", [0.1, 0.5, 1.0])
def test_odds_of_normal_means_with_known_error(make_case, fraction, seed):
    values = [35.0, 33.0, 37.5]
    suspects = [("low", 33, 5, 1.0), ("lower", 30, 4.9, 2.0)]
    findings = [reading(place, f"{value} kN") for place, value in enumerate(values)]
    result = infer(stated_case(make_case, findings, suspects, fraction), seed=seed)
    logs = {
        name: exact_log_evidence(values, mean, sd, fraction, 2.0)
        for name, mean, sd, _ in [("as designed", 40, 4, 1.0), *suspects]
    }
    weights = {"as designed": 1.0, "low": 1.0, "lower": 2.0}
    total = sum(weights[name] * math.exp(log) for name, log in logs.items())
    for verdict in result.suspects:
        name = verdict.suspect.name
        exact = weights[name] * math.exp(logs[name]) / total
        assert verdict.probability == pytest.approx(exact, abs=4 * verdict.error + 0.01)
        assert verdict.error < 0.05
        assert verdict.log_evidence == pytest.approx(logs[name], abs=0.25)


@pytest.mark.statistical
def test_a_share_of_missed_ones_is_beta_binomial(make_case, seed):
    # Missed with a share of Beta(1, 3), told apart for sure: 2 of 5 by name and 1 of 6 counted.
    # Evidence for one order of the five: B(4, 11)/B(1, 3) times 6 ways of the count.
    from scipy.special import beta

    findings = [reading(place, "40 kN" if place > 2 else "0.1 kN") for place in range(1, 6)]
    case = make_case(
        {
            **STATED,
            "tightening": preload_law(40, 4),
            "evidence": [*findings, {"kind": "loose count", "value": "1 of 6", "limit": "10 kN"}],
            "suspect": [
                {
                    "name": "missed",
                    "missed": {
                        "share": {"law": "beta", "alpha": 1, "beta": 3, "low": 0, "high": 1},
                        "preload_share": 0.0,
                    },
                }
            ],
        }
    )
    result = infer(case, seed=seed)
    (missed,) = [v for v in result.suspects if v.suspect.name == "missed"]
    density = 3 * norm.logpdf(0, 0, math.sqrt(20)) + 2 * norm.logpdf(0.1, 0, 2) - 5 * math.log(1e3)
    exact = math.log(6 * beta(4, 11) / beta(1, 3)) + density
    assert missed.log_evidence == pytest.approx(exact, abs=0.2)
    (share,) = [each for each in missed.inputs if each.name == "missed.share"]
    # Posterior Beta(1 + 3, 3 + 8): median 0.26.
    from scipy.stats import beta as beta_law

    assert share.p50 == pytest.approx(beta_law.ppf(0.5, 4, 11), abs=0.03)


@pytest.mark.statistical
def test_a_large_count_goes_by_the_share(make_case, seed):
    # 23 of 500 below 34 kN where preload is N(40, 4) without anything in common: P = 0.0668
    # (told with 2 % error: sd sqrt(16 + 0.68^2)); the count is binomial.
    from scipy.stats import binom

    case = stated_case(
        make_case,
        [{"kind": "loose count", "value": "23 of 500", "limit": "34 kN"}],
        [("wide", 40, 6.5, 1.0)],
        fraction=1e-12,
    )
    result = infer(case, seed=seed)
    for verdict in result.suspects:
        sd = 4.0 if verdict.suspect.name == "as designed" else 6.5
        chance = norm.cdf(34, 40, math.hypot(sd, 0.68))
        exact = binom.logpmf(23, 500, chance)
        # The share is a mean over 128 points in each of the runs.
        assert verdict.log_evidence == pytest.approx(exact, abs=0.2 * abs(exact) + 0.5)


SCATTERED = {
    "friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "12 %", "shared": LOT},
    "friction.bearing": {"law": "lognormal", "mean": 0.12, "cov": "12 %", "shared": LOT},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "settling.embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %"},
    "seat": {"paint": "5 %"},
}


def test_no_suspect_explains_the_data(make_case):
    case = stated_case(make_case, [reading(1, "5 kN"), reading(2, "80 kN")], [("low", 33, 5, 1)])
    result = infer(case, runs=2)
    assert any("No suspect explains the findings" in words for words in result.warnings)
    assert "NO SUSPECT EXPLAINS" in infer_answer(result)[0]


def test_a_leader_that_does_not_explain_all_is_said(monkeypatch, make_case):
    case = stated_case(make_case, [reading(1, "37 kN")], [("low", 33, 5, 1)])
    seen = []

    def first_fails(model, rng):
        seen.append(model)
        return FitCheck(0.01 if len(seen) == 1 else 0.5, check_fit(model, rng).oddest)

    monkeypatch.setattr(infer_module, "check_fit", first_fails)
    told = infer(case, runs=2).warnings
    assert any("does not explain the findings" in words for words in told)


def test_priors_scale_the_odds_and_nothing_else(make_case):
    findings = [reading(1, "36 kN")]
    even = infer(stated_case(make_case, findings, [("low", 33, 5, 1.0)]), runs=2)
    tilted = infer(stated_case(make_case, findings, [("low", 33, 5, 3.0)]), runs=2)

    def odds(result):
        found = {v.suspect.name: v.probability for v in result.suspects}
        return found["low"] / found["as designed"]

    assert odds(tilted) == pytest.approx(3 * odds(even))
    names = [v.suspect.name for v in even.suspects]
    at_three = even.sensitivity.high[names.index("low")]
    assert at_three / (1 - at_three) == pytest.approx(3 * odds(even))


def test_the_next_measurement_separates_what_is_still_open(make_case):
    # Same preload by less torque, or by more friction: the torque to turn back tells.
    case = make_case(
        {
            **SCATTERED,
            "evidence": [reading(1, "27 kN"), reading(2, "26 kN")],
            "suspect": [{"library": "tool out of calibration"}, {"library": "dry thread"}],
        }
    )
    result = infer(case, runs=2)
    ranked = [each.kind for each in result.next_measurements]
    # A calibration tells at once; of what is found on fasteners, a torque.
    assert ranked[0] == "tool calibration"
    assert ranked[1] in ("loosening torque", "tightening torque", "recorded torque")
    assert all(0 <= each.share_of_what_is_open <= 1 for each in result.next_measurements)
    bits = [each.bits for each in result.next_measurements]
    assert bits == sorted(bits, reverse=True)
    # Nothing turns in either: marks tell nothing.
    (mark,) = [each for each in result.next_measurements if each.kind == "mark"]
    assert mark.bits < 0.001
    # Preloads of these two were read; of another they would add less than torque.
    (preload,) = [each for each in result.next_measurements if each.kind == "residual preload"]
    assert preload.fastener == ANOTHER


def test_a_pair_of_causes(make_case, with_rivals):
    findings = [
        reading(1, "15 kN"),
        {"fastener": 1, "kind": "paint", "value": "found"},
        {"fastener": 2, "kind": "paint", "value": "found"},
        {"fastener": 1, "kind": "mark", "value": "turned"},
        {"fastener": 2, "kind": "mark", "value": "turned"},
        {"fastener": 3, "kind": "mark", "value": "turned"},
        {"fastener": 3, "kind": "paint", "value": "found"},
    ]
    suspects = [
        {"library": "paint under the head"},
        {"library": "transverse slip with rotation"},
    ]
    case = make_case({**SCATTERED, "evidence": findings, "suspect": suspects})
    together = infer(case, runs=2)
    assert together.suspects[0].suspect.name == (
        "paint under the head + transverse slip with rotation"
    )
    # 10 % beforehand for the one pair there is.
    assert together.suspects[0].prior == pytest.approx(0.1)
    alone = infer(
        make_case(
            {
                **SCATTERED,
                "evidence": findings,
                "suspect": suspects,
                "investigation": {"two_causes": 0},
            }
        ),
        runs=2,
    )
    assert len(alone.suspects) == 3


def test_nothing_scatters(make_case):
    case = make_case(
        {
            "evidence": [reading(1, "38 kN"), {"kind": "loose count", "value": "0 of 3"}],
            "suspect": [{"name": "dry", "friction": {"thread": 0.2, "bearing": 0.2}}],
        }
    )
    result = infer(case, runs=2)
    assert result.suspects[0].suspect.name == "as designed"
    assert result.suspects[0].error == 0.0
    assert result.leading[0].inputs == ()


def test_the_same_seed_gives_the_same_answer(make_case):
    case = stated_case(make_case, [reading(1, "36 kN")], [("low", 33, 5, 1.0)])
    first, second = (infer(case, runs=2, seed=3) for _ in range(2))
    assert [v.probability for v in first.suspects] == [v.probability for v in second.suspects]
    assert first.next_measurements == second.next_measurements
    assert infer(case, runs=2, seed=4).suspects[0].probability != first.suspects[0].probability


def test_the_order_of_suspects_changes_nothing(make_case):
    suspects = [("low", 33, 5, 1.0), ("lower", 30, 4.9, 2.0)]
    found = []
    for order in (suspects, suspects[::-1]):
        result = infer(stated_case(make_case, [reading(1, "36 kN")], order), runs=2)
        found.append({v.suspect.name: v.log_evidence for v in result.suspects})
    assert found[0] == found[1]


def test_progress_is_told(make_case):
    told = []
    case = stated_case(make_case, [reading(1, "36 kN")], [("low", 33, 5, 1.0)])
    infer(case, runs=2, progress=lambda done, planned: told.append((done, planned)))
    assert told[-1][0] == told[-1][1] == len(told)


def test_a_case_without_evidence_is_refused(make_case):
    with pytest.raises(UsageError, match="holds no evidence"):
        infer(make_case())


@pytest.mark.parametrize("asked", [{"runs": 1}, {"particles": 10}])
def test_too_few_runs_or_particles_are_refused(make_case, asked):
    case = stated_case(make_case, [reading(1, "36 kN")], [("low", 33, 5, 1.0)])
    with pytest.raises(UsageError, match="at least 2 runs"):
        infer(case, **asked)


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        ({"MOST_EVIDENCE_ERROR": 1e-9}, "its evidence is known to"),
        ({"trouble": "hardly any move"}, "as designed: hardly any move"),
        ({"effective": 7.0}, "effective sample size 7"),
    ],
)
def test_a_collapse_is_refused_in_words(make_case, monkeypatch, broken, words):
    def pooled(runs, seed):
        return replace(particles.pooled(runs, seed), **broken)

    if "MOST_EVIDENCE_ERROR" in broken:
        monkeypatch.setattr(weighing, "MOST_EVIDENCE_ERROR", 1e-9)
    else:
        monkeypatch.setattr(weighing, "pooled", pooled)
    case = stated_case(make_case, [reading(1, "36 kN")], [("low", 33, 5, 1.0)])
    with pytest.raises(EstimateError, match="no probability can be claimed, the samples") as caught:
        infer(case, runs=2, particles=64)
    assert "even with 256 particles a run" in str(caught.value)
    assert words in str(caught.value)


def test_what_nobody_can_have_done_is_refused(make_case, monkeypatch):
    def impossible(*given):
        run = particles.run_particles(*given)
        return replace(run, posterior=replace(run.posterior, log_evidence=-math.inf))

    monkeypatch.setattr(weighing, "run_particles", impossible)
    case = stated_case(make_case, [reading(1, "36 kN")], [("low", 33, 5, 1.0)])
    with pytest.raises(EstimateError, match="no suspect makes what was found possible at all"):
        infer(case, runs=2, particles=64)


def test_a_missed_fastener_is_known_by_its_own_findings(make_case):
    # Two of three were missed; which ones is known, so that torque on the third tells no more than
    # the spread of its own law, and a further one may be either.
    findings = [reading(1, "1 kN"), reading(2, "2 kN"), reading(3, "38 kN")]
    missed = {"law": "beta", "alpha": 1, "beta": 1, "low": 0, "high": 1}
    case = make_case(
        {
            **SCATTERED,
            "evidence": findings,
            "suspect": [
                {"name": "run down", "missed": {"share": missed, "preload_share": "4 %"}},
                {"name": "snug", "missed": {"share": missed, "preload_share": "5 %"}},
            ],
        }
    )
    result = infer(case, runs=2, particles=128)
    assert {v.suspect.name for v in result.suspects[:2]} == {"run down", "snug"}
    kinds = {each.kind: each for each in result.next_measurements}
    # A torque on one that was missed tells 4 from 5 %: only there.
    assert kinds["loosening torque"].fastener in ("1", "2")


def test_a_leader_alone_has_nothing_to_measure(make_case):
    case = stated_case(make_case, [reading(1, "40 kN")], [])
    result = infer(case, runs=2)
    assert result.next_measurements == ()
    cause, sure, following = infer_answer(result)
    assert cause.startswith("Likely cause: none is weighed, since no suspect is named; ")
    assert "explains what was found; name suspects" in sure
    assert following.startswith("What next: `preloadmc run` on the as_found.toml")


@pytest.mark.parametrize(("load", "idle"), [("0.1 kN", ["'slip'"]), ("30 kN", [])])
def test_a_suspect_that_cannot_act_is_said(make_case, load, idle):
    scatter = {"law": "lognormal", "mean": 0.12, "cov": "8 %"}
    case = make_case(
        {
            "friction": {"thread": scatter, "bearing": scatter, "joint": 0.2},
            "load.transverse": load,
            "evidence": [reading(1, "20 kN", "10 kN")],
            "suspect": [{"name": "slip", "rotation": {"angle": "10 deg"}}],
        }
    )
    told = [words for words in infer(case, runs=2).warnings if "has no effect here" in words]
    assert [words.partition(" has no effect")[0] for words in told] == idle


@pytest.mark.slow
def test_shipped_suspects_left_out_are_told_where_they_fit_as_well(make_case, with_rivals):
    # Friction as of dry threads, which nobody named.
    findings = [
        reading(1, "24 kN", "1 kN"),
        reading(2, "23 kN", "1 kN"),
        torque_back(1, "66 N·m"),
        torque_back(2, "62 N·m"),
        {"fastener": 2, "kind": "mark", "value": "not turned"},
    ]
    case = make_case(
        {**SCATTERED, "evidence": findings, "suspect": [{"library": "larger embedding"}]}
    )
    result = infer(case, runs=2, particles=64)
    named = [each.suspect.name for each in result.other_cause.as_well]
    assert "dry thread" in named
    assert not result.is_sure
    assert any("dry thread" in words for words in result.warnings)
    assert "not named, would fit as well" in infer_answer(result)[0]


def torque_back(fastener, value):
    return {"fastener": fastener, "kind": "loosening torque", "value": value, "sd": "3 N·m"}


def next_kinds(make_case, findings, **investigation):
    suspects = [{"library": "dry thread"}, {"library": "larger embedding"}]
    case = make_case(
        {
            **SCATTERED,
            "evidence": findings,
            "suspect": suspects,
            "investigation": {"two_causes": 0, "loose_below": "20 kN", **investigation},
        }
    )
    return infer(case, runs=2, particles=64).next_measurements


def test_nothing_is_measured_on_a_nut_that_is_undone(make_case):
    findings = [reading(1, "28 kN"), torque_back(2, "52 N·m")]
    assert "2" not in {each.fastener for each in next_kinds(make_case, findings)}


def test_nothing_is_measured_on_another_where_the_whole_lot_was_inspected(make_case):
    findings = [reading(1, "28 kN"), reading(2, "27 kN")]
    some = {each.fastener for each in next_kinds(make_case, findings)}
    assert ANOTHER in some
    whole = {each.fastener for each in next_kinds(make_case, findings, selection="all")}
    assert ANOTHER not in whole
    assert not any("others" in each for each in whole)


@pytest.mark.parametrize("unit", ["price", "time"])
def test_what_measuring_takes_orders_it(make_case, unit):
    findings = [reading(1, "28 kN")]
    dearest, *others = next_kinds(make_case, findings)
    few, much = {"price": ("1", "1e6"), "time": ("1 s", "1e6 s")}[unit]
    measurement = [
        {"kind": dearest.kind, unit: float(much) if unit == "price" else much},
        {"kind": others[0].kind, unit: float(few) if unit == "price" else few},
    ]
    ordered = next_kinds(make_case, findings, measurement=measurement)
    assert [each.kind for each in ordered[:2]] == [others[0].kind, dearest.kind]
    assert getattr(ordered[0].effort, unit) == 1.0
    assert all(each.effort is None for each in ordered[2:])
