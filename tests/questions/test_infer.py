"""Investigations: a planted cause comes out, closed forms hold, and doubt is said."""

import math

import numpy as np
import pytest
from scipy.stats import norm

from preloadmc.case_file.suspect_section import library
from preloadmc.chance.streams import named_rng
from preloadmc.errors import EstimateError, UsageError
from preloadmc.questions import infer as infer_module
from preloadmc.questions.fit import FindingFit, is_explained
from preloadmc.questions.infer import infer
from preloadmc.questions.infer_answer import chance_words, infer_answer
from preloadmc.questions.likelihood import SuspectModel
from preloadmc.questions.next_measurement import ANOTHER

LOT = {"by": "lot", "fraction": 0.5}
# A preload known by its law alone: the evidence then has a closed form.
STATED = {
    "friction": {"thread": 0.12},
    "fastener.property_class": None,
    "requirement": {"minimum_preload": "28 kN", "maximum_preload": "62 kN"},
}


def preload_law(mean, sd, **more):
    return {
        "method": "stated scatter",
        "preload": {"law": "normal", "mean": f"{mean} kN", "sd": f"{sd} kN", **more},
    }


def reading(fastener, value, sd="2 kN", **more):
    return {"fastener": fastener, "kind": "residual preload", "value": value, "sd": sd, **more}


def stated_case(make_case, findings, suspects, fraction=0.5, **more):
    shared = {"shared": {"by": "lot", "fraction": fraction}}
    return make_case(
        {
            **STATED,
            "tightening": preload_law(40, 4, **shared),
            "evidence": findings,
            "suspect": [
                {"name": name, "tightening": preload_law(mean, sd, **shared), "prior": prior}
                for name, mean, sd, prior in suspects
            ],
            **more,
        }
    )


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
    for verdict in result.verdicts:
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
    (missed,) = [v for v in result.verdicts if v.suspect.name == "missed"]
    density = 3 * norm.logpdf(0, 0, math.sqrt(20)) + 2 * norm.logpdf(0.1, 0, 2) - 5 * math.log(1e3)
    exact = math.log(6 * beta(4, 11) / beta(1, 3)) + density
    assert missed.log_evidence == pytest.approx(exact, abs=0.2)
    (share,) = [each for each in missed.inputs if each.name == "missed.share"]
    # Posterior Beta(1 + 3, 3 + 8): median 0.26.
    from scipy.stats import beta as beta_law

    assert share.median == pytest.approx(beta_law.ppf(0.5, 4, 11), abs=0.03)


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
    for verdict in result.verdicts:
        sd = 4.0 if verdict.suspect.name == "as designed" else 6.5
        chance = norm.cdf(34, 40, math.hypot(sd, 0.68))
        exact = binom.logpmf(23, 500, chance)
        # The share is a mean over 128 points in each of the runs.
        assert verdict.log_evidence == pytest.approx(exact, abs=0.2 * abs(exact) + 0.5)


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
        odds[selection] = {v.suspect.name: v.log_evidence for v in result.verdicts}

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


SCATTERED = {
    "friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "12 %", "shared": LOT},
    "friction.bearing": {"law": "lognormal", "mean": 0.12, "cov": "12 %", "shared": LOT},
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "settling.embedding": {"law": "lognormal", "mean": "8 um", "cov": "30 %"},
    "seat": {"paint": "5 %"},
}
ALL = [
    {"library": name}
    for name in library()
    if name not in ("wrong property class", "over-lubricated", "temperature beyond design")
]
PLANTED = {
    "transverse slip with rotation": [
        reading(1, "21 kN"),
        reading(2, "31 kN"),
        {"fastener": 1, "kind": "mark", "value": "turned"},
        {"fastener": 2, "kind": "mark", "value": "turned"},
        {"fastener": 3, "kind": "rotation", "value": "35 deg", "sd": "5 deg"},
    ],
    "dry thread": [
        reading(1, "24 kN"),
        reading(2, "22 kN"),
        {"fastener": 1, "kind": "loosening torque", "value": "66 N·m", "sd": "4 N·m"},
        {"fastener": 2, "kind": "loosening torque", "value": "60 N·m", "sd": "4 N·m"},
        {"fastener": 2, "kind": "mark", "value": "not turned"},
    ],
    "missed tightening": [
        reading(1, "38 kN"),
        reading(2, "39 kN"),
        {"fastener": 3, "kind": "residual preload", "value": "finger-loose"},
        {"fastener": 3, "kind": "mark", "value": "not turned"},
        {"kind": "loose count", "value": "2 of 8", "limit": "10 kN"},
    ],
    "paint under the head": [
        reading(1, "26 kN"),
        reading(2, "30 kN"),
        {"fastener": 1, "kind": "paint", "value": "found"},
        {"fastener": 2, "kind": "paint", "value": "found"},
        {"fastener": 2, "kind": "mark", "value": "not turned"},
    ],
    "tool out of calibration": [
        reading(1, "27 kN", "1 kN"),
        reading(2, "26 kN", "1 kN"),
        reading(3, "28 kN", "1 kN"),
        {"fastener": 1, "kind": "loosening torque", "value": "38 N·m", "sd": "2 N·m"},
        {"fastener": 2, "kind": "paint", "value": "not found"},
        {"fastener": 3, "kind": "paint", "value": "not found"},
        {"fastener": 4, "kind": "loosening torque", "value": "37 N·m", "sd": "2 N·m"},
    ],
}


@pytest.mark.parametrize("cause", PLANTED)
def test_a_planted_cause_comes_out(make_case, cause):
    case = make_case({**SCATTERED, "evidence": PLANTED[cause], "suspect": ALL})
    first = infer(case, runs=2, particles=128).verdicts[0]
    assert first.suspect.name == cause
    assert first.probability > 0.6
    assert first.explained


class TestShigley:
    """J. E. Shigley, 9th ed., Table 8-13 (Blake and Kurtz 1965): 20 unlubricated tests at 90 N·m.

    Suspects by the band that NASA-STD-5020A gives a torque-controlled preload: +-35 % as received,
    +-25 % lubricated, read as three standard deviations of a band about one common mean.
    """

    PRELOADS = (
        *(23.6, 27.6, 28.0, 29.4, 30.3, 30.7, 32.9, 33.8, 33.8, 33.8),
        *(34.7, 35.6, 35.6, 37.4, 37.8, 37.8, 39.2, 40.0, 40.5, 42.7),
    )

    @pytest.mark.published
    def test_unlubricated_tests_speak_for_no_lubricant(self, make_case):
        def nut_factor(band):
            law = {"law": "normal", "mean": 0.2, "half_width": f"{0.2 * band}", "coverage": "3 sd"}
            return {"nut_factor": {**law, "shared": {"by": "lot", "fraction": 0.2}}}

        case = make_case(
            {
                "fastener.thread": "M12x1.25",
                "tightening.torque": "90 N·m",
                "friction": nut_factor(0.35),
                "requirement": {"minimum_preload": "10 kN"},
                "evidence": [
                    reading(place, f"{value} kN", "1 %")
                    for place, value in enumerate(self.PRELOADS)
                ],
                "suspect": [{"name": "lubricated", "friction": nut_factor(0.25)}],
            }
        )
        result = infer(case, runs=3)
        first = result.verdicts[0]
        assert first.suspect.name == "as designed"
        assert first.probability > 0.95
        (factor,) = [each for each in first.inputs if each.name == "friction.nut_factor"]
        # The tests' own mean nut factor, 90/(12 x 34.26) = 0.2189 and 0.2236 test by test.
        assert factor.median == pytest.approx(0.22, abs=0.008)


def test_no_suspect_explains_the_data(make_case):
    case = stated_case(make_case, [reading(1, "5 kN"), reading(2, "80 kN")], [("low", 33, 5, 1)])
    result = infer(case, runs=2)
    assert "No suspect explains the evidence" in result.warnings[-1]
    assert "NO SUSPECT EXPLAINS" in infer_answer(result)[0]


def test_a_leader_that_does_not_explain_all_is_said(monkeypatch, make_case):
    case = stated_case(make_case, [reading(1, "37 kN")], [("low", 33, 5, 1)])
    seen = []

    def first_fails(fits):
        seen.append(fits)
        return len(seen) > 1

    monkeypatch.setattr(infer_module, "is_explained", first_fails)
    assert "does not explain all" in infer(case, runs=2).warnings[-1]


def test_explained_allows_for_the_number_of_findings():
    def fits(position, n):
        return tuple(FindingFit(None, 0, 0, 0, position, 1.0) for _ in range(n))

    assert is_explained(fits(0.02, 1))
    assert not is_explained(fits(0.009, 1))
    assert is_explained(fits(0.0011, 10))
    assert is_explained(())


def test_priors_scale_the_odds_and_nothing_else(make_case):
    findings = [reading(1, "36 kN")]
    even = infer(stated_case(make_case, findings, [("low", 33, 5, 1.0)]), runs=2)
    tilted = infer(stated_case(make_case, findings, [("low", 33, 5, 3.0)]), runs=2)

    def odds(result):
        found = {v.suspect.name: v.probability for v in result.verdicts}
        return found["low"] / found["as designed"]

    assert odds(tilted) == pytest.approx(3 * odds(even))
    names = [v.suspect.name for v in even.verdicts]
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
    ranked = [each.kind for each in result.measurements]
    assert ranked[0] in ("loosening torque", "tightening torque")
    assert all(0 <= each.share <= 1 for each in result.measurements)
    bits = [each.bits for each in result.measurements]
    assert bits == sorted(bits, reverse=True)
    # Nothing turns in either: marks tell nothing.
    (mark,) = [each for each in result.measurements if each.kind == "mark"]
    assert mark.bits < 0.001
    # Preloads of these two were read; of another they would add less than torque.
    (preload,) = [each for each in result.measurements if each.kind == "residual preload"]
    assert preload.fastener == ANOTHER


def test_a_pair_of_causes(make_case):
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
    alone = infer(case, runs=2)
    assert len(alone.verdicts) == 3
    together = infer(case, runs=2, pairs=True)
    assert together.verdicts[0].suspect.name == (
        "paint under the head + transverse slip with rotation"
    )


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
        turned = model(hours).see(np.zeros((1, 0))).tightened.turned
        assert turned == pytest.approx(math.radians(0.1 * hours))


def test_nothing_scatters(make_case):
    case = make_case(
        {
            "evidence": [reading(1, "38 kN"), {"kind": "loose count", "value": "0 of 3"}],
            "suspect": [{"name": "dry", "friction": {"thread": 0.2, "bearing": 0.2}}],
        }
    )
    result = infer(case, runs=2)
    assert result.verdicts[0].suspect.name == "as designed"
    assert result.verdicts[0].error == 0.0
    assert result.leading[0].inputs == ()


def test_the_same_seed_gives_the_same_answer(make_case):
    case = stated_case(make_case, [reading(1, "36 kN")], [("low", 33, 5, 1.0)])
    first, second = (infer(case, runs=2, seed=3) for _ in range(2))
    assert [v.probability for v in first.verdicts] == [v.probability for v in second.verdicts]
    assert first.measurements == second.measurements
    assert infer(case, runs=2, seed=4).verdicts[0].probability != first.verdicts[0].probability


def test_the_order_of_suspects_changes_nothing(make_case):
    suspects = [("low", 33, 5, 1.0), ("lower", 30, 4.9, 2.0)]
    found = []
    for order in (suspects, suspects[::-1]):
        result = infer(stated_case(make_case, [reading(1, "36 kN")], order), runs=2)
        found.append({v.suspect.name: v.log_evidence for v in result.verdicts})
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


def test_a_collapse_is_refused_in_words(make_case, monkeypatch):
    monkeypatch.setattr(infer_module, "LEAST_EFFECTIVE", 1e9)
    monkeypatch.setattr(infer_module, "MOST_EVIDENCE_ERROR", 1e-9)
    case = stated_case(make_case, [reading(1, "36 kN")], [("low", 33, 5, 1.0)])
    with pytest.raises(EstimateError, match="no probability can be claimed, the samples collapse"):
        infer(case, runs=2, particles=64)


def test_a_leader_alone_has_nothing_to_measure(make_case):
    case = stated_case(make_case, [reading(1, "40 kN")], [])
    result = infer(case, runs=2)
    assert result.measurements == ()
    cause, sure, following = infer_answer(result)
    assert "as designed, above 99.9 %" in cause
    assert "no rival" in sure
    assert following == "What next: name suspects."


def test_chances_are_as_exact_as_their_error():
    assert chance_words(0.05, 0.001) == "5.0 +- 0.1 %"
    assert chance_words(0.5, 0.0) == "50 %"
