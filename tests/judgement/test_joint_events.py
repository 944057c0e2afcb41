"""All fasteners of a joint as they are judged: closed forms, what is in common, and what is not."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import special, stats
from scipy.integrate import quad

from preloadmc.joint_samples import sample_joints
from preloadmc.judgement.joint_events import judged_joint
from preloadmc.judgement.judge import judge
from preloadmc.judgement.verdicts import MEETS, MISSES, NOT_JUDGED
from preloadmc.questions.bounds import bounds
from preloadmc.questions.derive import derive
from preloadmc.whole_joint import WholeJoint

N, MEAN, SD = 8, 40e3, 2e3


def stated(fraction, least, group, **overrides):
    """A joint whose preload is stated: normal, of which the fasteners share a fraction."""
    preload = {
        "law": "normal",
        "mean": f"{MEAN} N",
        "sd": f"{SD} N",
        "shared": {"by": "lot", "fraction": fraction},
    }
    return {
        "tightening": {"method": "stated scatter", "preload": preload},
        "requirement.minimum_preload": f"{least} N",
        "group": {"fasteners": N, **group},
        **overrides,
    }


def at(p):
    """The preload that a fastener falls short of with probability p."""
    return MEAN + SD * float(stats.norm.ppf(p))


def agrees(found, exact):
    """Whether an estimate is within twice its interval's half width, about four standard errors."""
    wide = 2.0 * math.log(found.high / found.value)
    return found.reliable and abs(math.log(found.value / exact)) < wide


def probability(case, name, seed):
    """The estimate of one event."""
    (found,) = judged_joint(case, seed=seed, names=[name]).events
    return found.judged.probability


@pytest.mark.statistical
@pytest.mark.parametrize("p", [1e-2, 1e-4])
def test_independent_fasteners_miss_by_the_binomial_law(make_case, seed, p):
    case = make_case(stated(0.0, at(p), {"at_least": N - 1}))
    found = probability(case, "any_under", seed)
    assert agrees(found, 1.0 - (1.0 - p) ** N)
    assert not agrees(found, p)
    fewer = probability(case, "fewer_than_k", seed)
    assert agrees(fewer, stats.binom.sf(1, N, p))
    assert not agrees(fewer, stats.binom.sf(2, N, p))
    assert not agrees(fewer, stats.binom.sf(1, N // 2, p))
    single = judge(case, seed=seed).under.probability
    if single.bound is None:
        assert agrees(found, 1.0 - (1.0 - single.value) ** N)


@pytest.mark.statistical
@pytest.mark.parametrize("p", [1e-2, 1e-4])
def test_where_all_is_common_one_misses_as_often_as_any_and_as_all(make_case, seed, p):
    case = make_case(stated(1.0, at(p), {"at_least": 1}))
    for name in ("any_under", "fewer_than_k"):
        found = probability(case, name, seed)
        assert agrees(found, p)
        assert not agrees(found, N * p)


@pytest.mark.statistical
@pytest.mark.parametrize("p", [1e-2, 1e-4, 1e-6])
def test_half_in_common_is_one_integral(make_case, seed, p):
    """Given what is shared the fasteners are independent: integrate over it (Dunnett and Sobel)."""
    beta, root = -float(stats.norm.ppf(p)), math.sqrt(0.5)

    def given(u, k):
        one = stats.norm.sf((beta - root * u) / root)
        return stats.binom.sf(k - 1, N, one) * stats.norm.pdf(u)

    case = make_case(stated(0.5, at(p), {"at_least": N - 1}))
    judged = judged_joint(case, seed=seed, names=["any_under", "fewer_than_k"])
    for name, k in (("any_under", 1), ("fewer_than_k", 2)):
        exact = quad(given, -5.0, 15.0, args=(k,), points=[beta * root, beta], limit=200)[0]
        found = judged.named(name)
        assert agrees(found.judged.probability, exact)
        # Independent fasteners would give another number, except of any of them far out.
        if k == 2:
            assert not agrees(found.judged.probability, stats.binom.sf(1, N, p))
        assert found.common_share == pytest.approx(0.5, abs=1e-6)
        assert found.all_common == pytest.approx(p, rel=0.4)


@pytest.mark.statistical
@pytest.mark.parametrize(("fraction", "p"), [(0.0, 1e-2), (0.0, 1e-6), (0.5, 1e-4), (1.0, 1e-6)])
def test_the_total_clamp_force_of_normal_preloads_is_normal(make_case, seed, fraction, p):
    # Var = n s²(1 - f) + n² s² f.
    sd = SD * math.sqrt(N * (1.0 - fraction) + N**2 * fraction)
    needed = N * MEAN + sd * float(stats.norm.ppf(p))
    group = {"minimum_total_clamp": f"{needed} N", "allowed": {"total_clamp": p / 30}}
    found = probability(make_case(stated(fraction, 20e3, group)), "total_clamp", seed)
    assert agrees(found, p)
    other = SD * N if fraction == 0.0 else SD * math.sqrt(N)
    assert not agrees(found, stats.norm.cdf((needed - N * MEAN) / other))


def test_the_total_clamp_force_with_all_apart_and_all_common_is_told_beside_it(make_case, seed):
    sd = SD * math.sqrt(0.5 * N + 0.5 * N**2)
    needed = N * MEAN - 3.0 * sd
    case = make_case(stated(0.5, 20e3, {"minimum_total_clamp": f"{needed} N"}))
    found = judged_joint(case, seed=seed).named("total_clamp")
    assert found.all_common == pytest.approx(stats.norm.cdf(-3.0 * sd / (N * SD)), rel=0.4)
    assert found.independent == pytest.approx(
        stats.norm.cdf(-3.0 * sd / (math.sqrt(N) * SD)), rel=0.4
    )


@pytest.mark.statistical
def test_the_mean_of_several_fasteners_scatters_as_the_deterministic_rule_says(make_case, seed):
    """NASA-STD-5020 divides the scatter of independent fasteners by the root of their number.

    Uncertainty 15 % at a s.d. of 5 % of the mean: three standard deviations, so that all together
    fall short of n times the smallest preload with Phi(-3) = 1.35e-3.
    """
    check = {
        "uncertainty": "15 %",
        "control_tolerance": "0 %",
        "averaged_fasteners": N,
        "relaxation_tested": True,
    }
    case = make_case(stated(0.0, 20e3, {"minimum_total_clamp": "1 kN"}, deterministic=check))
    (nasa,) = bounds(derive(case)).approaches
    assert nasa.smallest_assembled == pytest.approx(MEAN - 3.0 * SD / math.sqrt(N))
    group = {"minimum_total_clamp": f"{N * nasa.smallest_assembled} N"}
    found = probability(make_case(stated(0.0, 20e3, group)), "total_clamp", seed)
    assert agrees(found, stats.norm.cdf(-3.0))
    # A lot in common breaks the rule, as its caution says.
    shared = probability(make_case(stated(0.5, 20e3, group)), "total_clamp", seed)
    assert shared.low > 10.0 * found.high


@pytest.mark.statistical
@pytest.mark.parametrize("p", [1e-2, 1e-5])
def test_a_centred_force_slips_where_the_sum_of_friction_forces_is_less(make_case, seed, p):
    # One face: mu times the sum of n independent normal preloads.
    held = N * MEAN + math.sqrt(N) * SD * float(stats.norm.ppf(p))
    group = {"transverse": f"{0.2 * held} N"}
    case = make_case(stated(0.0, 10e3, group, **{"friction.joint": 0.2}))
    found = probability(case, "slip_capacity", seed)
    assert agrees(found, p)
    assert not agrees(found, 3.0 * p)
    # Each fastener takes an even share, so that one of them slips first much sooner.
    first = probability(case, "first_slip", seed)
    single = stats.norm.cdf((held / N - MEAN) / SD)
    assert agrees(first, 1.0 - (1.0 - single) ** N)


@pytest.mark.statistical
@pytest.mark.parametrize("fraction", [0.0, 1.0])
def test_one_weak_fastener_misses_in_the_place_of_all_others(make_case, seed, fraction):
    """Two s.d. less of preload in one of eight: apart 1 - (1 - p)^7 (1 - q), in common q."""
    p = 1e-4
    q = float(stats.norm.cdf(stats.norm.ppf(p) + 2.0))
    weak = {"tightening": {"preload": {"law": "normal", "mean": f"{MEAN - 2 * SD} N"}}}
    weak["tightening"]["preload"] |= {
        "sd": f"{SD} N",
        "shared": {"by": "lot", "fraction": fraction},
    }
    case = make_case(stated(fraction, at(p), {"exception": [{"fasteners": [1], **weak}]}))
    found = judged_joint(case, seed=seed).named("any_under")
    exact = 1.0 - (1.0 - p) ** 7 * (1.0 - q) if fraction == 0.0 else q
    assert agrees(found.judged.probability, exact)
    assert agrees(found.by_fastener[0], q)
    assert all(agrees(each, p) for each in found.by_fastener[1:])
    # One fastener stands for those that are as the case says: its own laws are those.
    assert case.group.governing == 1
    assert agrees(judge(case, seed=seed).under.plain, p) or judge(case, seed=seed).under.plain.bound


def test_a_fastener_that_differs_moves_with_what_it_has_in_common(make_case):
    """A torque that it does not state is that of all; one that it states is its own."""
    other = {"fasteners": [3], "friction": {"thread": 0.2}}
    own = {"fasteners": [4], "tightening": {"torque": "50 N·m"}}
    case = make_case({"group": {"fasteners": N, "exception": [other, own]}})
    moved = case.with_laws({"tightening.torque": case.laws["tightening.torque"].scaled(1.1)})

    def tightened(of):
        whole = WholeJoint(of)
        return whole.tightened(np.zeros((1, whole.shared)), np.zeros((1, N, whole.own)))[0]

    ratio = tightened(moved) / tightened(case)
    np.testing.assert_allclose(ratio, [1.1, 1.1, 1.1, 1.0, 1.1, 1.1, 1.1, 1.1], rtol=1e-12)


SCATTER = {
    "friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "12 %"},
    "friction.bearing": {"law": "lognormal", "mean": 0.12, "cov": "12 %"},
    "tightening.tool": {"law": "normal", "cov": "4 %"},
    "requirement.minimum_preload": None,
    "requirement.minimum_clamp": "33 kN",
    "requirement.maximum_preload": "58 kN",
}


@pytest.mark.parametrize("least", ["33 kN", "22 kN"])
def test_the_whole_is_no_less_than_a_part_and_one_event_has_one_number(make_case, seed, least):
    case = make_case(
        {**SCATTER, "requirement.minimum_clamp": least, "group": {"fasteners": 6, "at_least": 6}}
    )
    found = judged_joint(case, seed=seed)
    under, over, outside = (found.named(f"any_{side}") for side in ("under", "over", "outside"))
    for side in (under, over):
        assert outside.judged.probability.value >= side.judged.probability.value
        assert outside.judged.probability.high >= side.judged.probability.high
        assert outside.independent >= side.independent
        assert outside.all_common >= side.all_common
    clamp = found.named("least_clamp")
    assert clamp.judged.label != under.judged.label
    for part in ("check", "independent", "all_common", "common_share", "by_fastener"):
        assert getattr(clamp, part) == getattr(under, part)
    assert clamp.judged.probability == under.judged.probability
    assert probability(case, "least_clamp", seed) == under.judged.probability
    # All six must hold: too few hold where any does not.
    fewer = found.named("fewer_than_k").judged.probability
    assert fewer.value == pytest.approx(under.judged.probability.value, rel=0.3)


def test_what_is_allowed_of_the_joint_makes_the_verdict(make_case, seed):
    sides = {"requirement.allowed_under": 0.1, "requirement.allowed_over": 0.1}
    p = 2e-2

    def judged(**allowed):
        group = {"minimum_total_clamp": "100 kN", **({"allowed": allowed} if allowed else {})}
        return judge(make_case({**stated(0.0, at(p), group), **sides}), seed=seed)

    # 1 - 0.98^8 = 0.149.
    assert judged(any_under=0.2).verdict == MEETS
    missed = judged(any_under=0.1)
    assert (missed.verdict, missed.under.verdict) == (MISSES, MEETS)
    assert missed.named("any_under").allowed == 0.1
    assert [each.name for each in missed.with_verdict(MISSES)] == ["any_under"]
    # Of what nothing is allowed, nothing is asked.
    assert judged(total_clamp=1e-3).verdict == MEETS
    nothing = judged()
    assert nothing.verdict == NOT_JUDGED
    assert {each.verdict for each in nothing.of_joint} == {NOT_JUDGED}


def test_the_number_of_a_fastener_means_nothing_beyond_its_place(make_case, seed):
    circle = [(75 * math.cos(a), 75 * math.sin(a)) for a in np.arange(6) * math.pi / 3]
    order = [3, 0, 5, 1, 4, 2]

    def joint(places):
        group = {
            "fasteners": 6,
            "positions": [[f"{circle[i][0]} mm", f"{circle[i][1]} mm"] for i in places],
            "axial": {"law": "normal", "mean": "30 kN", "sd": "3 kN"},
            "bending_moment": "0.4 kN·m",
            "transverse": "6 kN",
            "torsional_moment": {"law": "normal", "mean": "0.2 kN·m", "sd": "0.03 kN·m"},
        }
        return make_case({**SCATTER, "friction.joint": 0.15, "group": group})

    case, other = joint(range(6)), joint(order)
    assert order[other.group.governing] == case.group.governing
    first, second = WholeJoint(case), WholeJoint(other)
    u, v = first.unmixed(np.random.default_rng(seed).standard_normal((500, first.numbers)))
    for event in ("outside_window", "slip"):
        worst = first.worst_margins(event)(u, v)[:, order]
        np.testing.assert_allclose(second.worst_margins(event)(u, v[:, order]), worst, rtol=1e-9)
    z = np.column_stack([u, v.reshape(500, -1)])
    moved = np.column_stack([u, v[:, order].reshape(500, -1)])
    np.testing.assert_allclose(
        second.margins_of("slip_capacity")(moved), first.margins_of("slip_capacity")(z), rtol=1e-6
    )


def test_interaction_of_nothing_changes_no_bit(make_case, seed):
    group = {"fasteners": 6, "circle": "150 mm", "allowed": {"any_under": 0.01}}
    still = {**group, "interaction": {"neighbours": ["0 %"]}, "passes": ["50 %", "100 %"]}
    alone, plain, none = (
        make_case({**SCATTER, **({} if each is None else {"group": each})})
        for each in (None, group, still)
    )
    of_plain, of_none = judge(plain, seed=seed), judge(none, seed=seed)
    assert of_none == of_plain
    single = judge(replace(alone, requirement=plain.requirement), seed=seed)
    assert single.outcomes == of_plain.outcomes
    assert single.limits == of_plain.limits


@pytest.mark.statistical
@pytest.mark.parametrize("fraction", [0.0, 0.5, 1.0])
def test_what_neighbours_take_of_one_fastener_is_about_what_they_take_in_joints(
    make_case, seed, fraction
):
    """Mean and s.d. of the governing fastener, alone and in whole joints.

    The regression leaves out what the neighbours' own scatter adds to what they take: at 11 % from
    each of two, up to 2 x 0.11² = 2.4 % of the variance where nothing is in common.
    """
    shared = {"by": "lot", "fraction": fraction}
    laws = {
        **SCATTER,
        "friction.thread": {**SCATTER["friction.thread"], "shared": shared},
        "friction.bearing": {**SCATTER["friction.bearing"], "shared": shared},
        "tightening.tool": {**SCATTER["tightening.tool"], "shared": shared},
        "group": {
            "fasteners": 8,
            "circle": "240 mm",
            "order": "star",
            "passes": ["50 %", "100 %"],
            "interaction": {"neighbours": ["11 %", "2 %"]},
        },
    }
    case = make_case(laws)
    assert case.group.alike == pytest.approx(fraction, abs=1e-9)
    whole = WholeJoint(case)
    joints = sample_joints(whole, seed, ["under_preload"], [])
    (one,) = (
        whole.of_station(member, fasteners[0], "under_preload")
        for member, fasteners in whole.stations
        if case.group.governing in fasteners
    )
    rng = np.random.default_rng(seed)
    m = 100_000
    alone = one(rng.standard_normal((m, whole.shared)), rng.standard_normal((m, whole.own)))
    # Without a load, the margin is the residual preload less the clamp force needed.
    alone = alone.min(axis=1) + 33e3
    together = joints.residual[:, case.group.governing]
    assert alone.mean() == pytest.approx(together.mean(), rel=2e-3)
    # Standard error of the s.d. of 32,768: 0.4 %.
    ratio = float(together.std() / alone.std())
    assert 1.0 - 0.016 < ratio < 1.0 + 0.016 + 0.012 * (1.0 - fraction)
    assert together.mean() < 0.9 * joints.passes[-1].max(axis=1).mean()


TESTED = {"law": "normal", "mean": f"{MEAN} N", "sd": f"{SD} N", "tests": 9}


@pytest.mark.statistical
def test_tests_behind_a_law_are_averaged_over_what_they_leave_open(make_case, seed):
    """Predicted: a location and a s.d. for the joint, drawn as nine tests say, then fasteners."""
    least = MEAN - 5.0 * SD
    case = make_case(
        {
            "tightening": {"method": "stated scatter", "preload": TESTED},
            "requirement.minimum_preload": f"{least} N",
            "requirement.allowed_under": 0.1,
            "group": {
                "fasteners": N,
                "at_least": N - 1,
                "allowed": {"any_under": 0.1, "fewer_than_k": 0.1},
            },
        }
    )
    rng = np.random.default_rng(seed)
    sigma = SD * np.sqrt(8.0 / rng.chisquare(8, 2_000_000))
    mean = MEAN + sigma / 3.0 * rng.standard_normal(len(sigma))
    one = stats.norm.cdf((least - mean) / sigma)
    judged = judge(case, seed=seed)
    for name, k in (("any_under", 1), ("fewer_than_k", 2)):
        each = special.betainc(k, N - k + 1, one)
        found = judged.named(name)
        assert agrees(found.probability, float(each.mean()))
        if k == 2:
            # Not as if each fastener had tests of its own.
            assert not agrees(found.probability, stats.binom.sf(1, N, one.mean()))
        band = found.band
        assert band is not None
        assert band.levels == ("knowledge",)
        # That of the joint given what is not known: a quantile of the same draws.
        assert band.upper == pytest.approx(float(np.quantile(each, 0.95)), rel=0.2)
        assert found.upper >= max(band.upper, found.probability.high)
    found = judged.named("any_under")
    assert found.band.upper > found.probability.high
    assert found.upper > judged.under.upper


def test_correlated_tests_leave_correlated_locations_open_in_joints_too(make_case, seed):
    """Both frictions measured in the same tests: a fastener without scatter of its own tells it."""
    tested = {"law": "normal", "mean": 0.12, "sd": 0.004, "tests": 9}
    case = make_case(
        {
            "friction": {"thread": tested, "bearing": tested, "correlation": 0.8},
            "group": {"fasteners": 3},
        }
    )
    whole = WholeJoint(case)
    u = np.random.default_rng(seed).standard_normal((4000, whole.shared))
    (made,) = whole.made(u, np.zeros((4000, 3, whole.own)))
    expected = case.parameters(u)
    for name, (location, _) in expected.items():
        np.testing.assert_allclose(made.by_fastener(made.x[name])[:, 2], location, rtol=1e-12)
    # 0.8 E[s]²/E[s²], E[s]²/E[s²] = 0.9 for eight degrees of freedom.
    found = np.corrcoef(*(location for location, _ in expected.values()))[0, 1]
    assert 0.6 < found < 0.8
