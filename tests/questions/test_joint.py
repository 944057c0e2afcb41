"""Questions about a joint of several fasteners: runs, orders, lots, settings, choices, findings."""

import math

import numpy as np
import pytest
from scipy import stats
from stated import preload_law, reading, stated_case

from preloadmc import aim, check, compare, infer, run
from preloadmc.judgement.joint_events import judged_joint
from preloadmc.judgement.judge import judge
from preloadmc.judgement.verdicts import MEETS, MISSES
from preloadmc.mechanics.interaction import after_each_pass, passes_until
from preloadmc.questions.aim.setting import case_at
from preloadmc.questions.derive import derive
from preloadmc.questions.run.lots import lot_shares
from preloadmc.questions.run.whole_joint import best_order, order_trials, with_order
from preloadmc.report.text.case import check_text
from preloadmc.report.text.changes import change_lines
from preloadmc.whole_joint import WholeJoint

FRICTION = {
    "law": "lognormal",
    "mean": 0.12,
    "cov": "8 %",
    "shared": {"by": "lot", "fraction": 0.5},
}
SCATTER = {
    "friction.thread": FRICTION,
    "friction.bearing": FRICTION,
    "tightening.tool": {"law": "normal", "cov": "3 %"},
    "sampling": {"samples": 5000, "seed": 7},
}
SOFT = {
    "fasteners": 4,
    "circle": "120 mm",
    "order": "star",
    "passes": ["50 %", "100 %"],
    "interaction": {"neighbours": ["12 %", "2 %"]},
}
# Soft parts: as stated the least fastener has 33 kN, after a last round 39 kN.
SOFT_JOINT = {
    **SCATTER,
    "requirement.minimum_preload": "28 kN",
    "group": {**SOFT, "allowed": {"any_under": 5e-3, "any_over": 1e-3}},
}


@pytest.fixture(scope="module")
def soft(session_case):
    """A run of a joint that misses as it is tightened, and would not with a last round."""
    return run(session_case(SOFT_JOINT))


def test_a_run_tries_the_orders_in_the_passes_of_the_case(soft):
    facts = soft.case.group.facts
    alike = np.ones(4)
    trials = {(each.order, each.last_round): each for each in soft.group.orders}
    assert {*trials} == {("star", False), ("star", True), ("around", False), ("around", True)}
    assert [each.stated for each in soft.group.orders] == [True, False, False, False]
    for each in soft.group.orders:
        left = after_each_pass(alike[None], facts.coefficients, each.sequence)[-1, 0]
        assert each.least_left == pytest.approx(left.min())
        assert each.spread == pytest.approx(np.ptp(left) / left.mean())
        order = each.sequence[0][1]
        assert each.passes_until_even == passes_until(alike, facts.coefficients, order, 0.1)
        assert [share for share, _ in each.sequence] == [0.5, 1.0, *([1.0] * each.last_round)]
    assert trials["star", True].least_left > 1.1 * trials["star", False].least_left


def test_a_run_tells_which_fastener_keeps_least_and_how_even_each_pass_leaves_them(soft):
    joint, facts = soft.group, soft.case.group.facts
    # Nominally: what the passes leave of equal preloads.
    left = after_each_pass(np.ones((1, 4)), facts.coefficients, facts.passes)[:, 0]
    assert left[-1, joint.weakest_place] == pytest.approx(left[-1].min(), abs=0.005)
    assert joint.weakest_place == soft.case.group.governing
    medians = joint.passes[:, 2] / (soft.checked.nominal.path["assembled"])
    np.testing.assert_allclose(medians, left, rtol=0.02)
    # Scatter makes spreads larger than those of equal preloads, and 95 % lie above the median.
    nominal = np.ptp(left, axis=1) / left.mean(axis=1)
    assert (joint.spreads[:, 0] > nominal).all()
    assert (joint.spreads[:, 1] > joint.spreads[:, 0]).all()
    assert joint.spreads[0, 0] > joint.spreads[1, 0]


def test_a_better_order_is_said_only_where_it_meets(soft, session_case):
    assert soft.judgement.verdict == MISSES
    assert "tighten in this order: star, then a last round at the full setting" in soft.answer[2]
    assert "every limit judged then meets what is allowed" in soft.answer[2]
    better = best_order(soft.group.orders)
    last_round = {**SOFT_JOINT["group"], "final_round": True}
    of_last_round = session_case({**SOFT_JOINT, "group": last_round})
    assert with_order(soft.case, better).group.facts.passes == of_last_round.group.facts.passes
    # That order, by another seed, meets, and no other is better.
    assert judge(of_last_round, seed=91).verdict == MEETS
    assert best_order([*order_trials(of_last_round)]) is None


@pytest.mark.slow
def test_an_order_that_would_not_meet_either_is_not_proposed(make_case):
    asked = {**SOFT, "allowed": {"any_under": 1e-10, "any_over": 1e-3}}
    result = run(make_case({**SOFT_JOINT, "group": asked}))
    better = best_order(result.group.orders)
    assert better is not None
    assert judge(with_order(result.case, better), seed=3).verdict != MEETS
    assert "tighten in this order" not in result.answer[2]


def test_without_interaction_there_is_no_order_to_try(make_case):
    assert [*order_trials(make_case({**SCATTER, "group": {"fasteners": 4}}))] == []


@pytest.mark.statistical
def test_lots_of_normal_preloads_have_a_closed_form(make_case, seed):
    """Given the lot, u in common, fasteners are independent; its joints miss by 1 - (1 - p(u))^n.

    That falls with u: a lot beyond the share asked for is one below the u at which it is reached.
    """
    n, f, beta, asked = 8, 0.5, 2.8, 0.01
    shared = {"by": "lot", "fraction": f}
    case = make_case(
        {
            "tightening": preload_law(40, 2, shared=shared),
            "requirement.minimum_preload": f"{40 - 2 * beta} kN",
            "group": {"fasteners": n, "lot_share": asked, "allowed": {"any_under": 0.05}},
        }
    )
    lots = lot_shares(case, judged_joint(case, seed=seed), seed)
    assert (lots.event, lots.differ_by, lots.asked) == ("any_under", ("tightening.preload",), asked)

    def missed(u):
        one = stats.norm.cdf((-beta - math.sqrt(f) * u) / math.sqrt(1.0 - f))
        return -np.expm1(n * np.log1p(-one))

    # One fastener at which just the share asked for misses, and the u that makes it so.
    single = -math.expm1(math.log1p(-asked) / n)
    u = (-beta - math.sqrt(1.0 - f) * stats.norm.ppf(single)) / math.sqrt(f)
    exact = stats.norm.cdf(u)
    assert 0.1 < exact < 0.5
    # Lots from low discrepancy numbers; a common factor brings the mean to the estimate's.
    assert lots.share_of_lots == pytest.approx(exact, abs=0.03)
    for found, p in zip(lots.quantiles, (0.05, 0.5, 0.95), strict=True):
        assert found == pytest.approx(float(missed(stats.norm.ppf(1.0 - p))), rel=0.15)


@pytest.mark.statistical
def test_lots_are_as_nested_samples_of_lots_and_joints_show(make_case, seed):
    """Torque, friction in part that of the lot, a load of the joint: 250 lots of 1,500 joints."""
    case = make_case(
        {
            **SCATTER,
            "requirement.minimum_preload": None,
            "requirement.minimum_clamp": "31.5 kN",
            "group": {
                "fasteners": 8,
                "axial": {"law": "normal", "mean": "20 kN", "sd": "4 kN"},
                "allowed": {"any_under": 0.05},
            },
        }
    )
    judged = judged_joint(case, seed=seed)
    lots = lot_shares(case, judged, seed)
    assert lots.differ_by == ("friction.thread", "friction.bearing")
    whole = WholeJoint(case)
    places = whole.places(("lot", "tool"))
    margins = whole.worst_margins("under_preload")
    rng = np.random.default_rng(seed)
    many, joints = 250, 1500
    shares = []
    for lot in rng.standard_normal((many, len(places))):
        u, v = whole.unmixed(rng.standard_normal((joints, whole.numbers)))
        u[:, places] = lot
        shares.append(np.mean((margins(u, v) < 0.0).any(axis=1)))
    shares = np.array(shares)
    assert 3e-3 < shares.mean() < 5e-2
    # Mean over lots: standard error of the nested sample.
    error = shares.std() / math.sqrt(many)
    assert lots.misses.mean() == pytest.approx(shares.mean(), abs=4 * error)
    # Share of lots beyond 1 %: binomial of 250; that a lot has 1,500 joints blurs it by less.
    share = float(np.mean(shares > lots.asked))
    assert lots.share_of_lots == pytest.approx(share, abs=4 * math.sqrt(share * (1 - share) / many))
    assert np.quantile(lots.misses, 0.9) == pytest.approx(float(np.quantile(shares, 0.9)), rel=0.4)


AIMED = {
    **SCATTER,
    "requirement.minimum_preload": "30 kN",
    "requirement.maximum_preload": "56 kN",
}


@pytest.mark.slow
def test_aim_names_a_setting_at_which_the_joint_meets(make_case):
    allowed = {"any_outside": 1e-2}
    result = aim(make_case({**AIMED, "group": {"fasteners": 2, "allowed": allowed}}))
    assert result.to_set is not None
    low, high = result.aim.interval
    assert low < result.to_set.setting < high
    assert judge(case_at(result.case, result.to_set.setting), seed=55).verdict == MEETS


@pytest.mark.parametrize(
    "allowed",
    [
        pytest.param({"any_under": 1e-3, "any_over": 1e-3}, marks=pytest.mark.slow),
        pytest.param({"any_outside": 2e-3}, marks=pytest.mark.slow),
    ],
    ids=str,
)
def test_aim_names_settings_at_which_the_joint_meets(make_case, allowed):
    """Settings on which another seed agrees; a little beyond each end it misses."""
    result = aim(make_case({**AIMED, "group": {"fasteners": 6, "allowed": allowed}}))
    assert result.to_set is not None
    assert judge(case_at(result.case, result.to_set.setting), seed=55).verdict == MEETS
    low, high = result.aim.interval
    for end in (low, high):
        judged = judge(case_at(result.case, end), seed=56)
        for name, most in allowed.items():
            # Beyond what is allowed by no more than other random numbers may say.
            assert judged.named(name).known.value <= 1.05 * most
    for beyond in (0.97 * low, 1.03 * high):
        assert judge(case_at(result.case, beyond), seed=57).verdict == MISSES
    # One fastener alone, held to the same numbers, would bear a wider interval.
    sides = {"requirement.allowed_under": 2e-3, "requirement.allowed_over": 2e-3}
    alone = aim(make_case({**AIMED, **sides})).aim.interval
    assert alone[0] < low < high < alone[1]


@pytest.mark.slow
def test_another_order_is_compared_by_the_joint_and_named(make_case):
    case = make_case(
        {
            **SOFT_JOINT,
            "name": "as it is",
            "alternative": [{"name": "last round", "group": {"final_round": True}}],
        }
    )
    result = compare(case)
    first, second = result.alternatives
    assert (first.verdict, second.verdict) == (MISSES, MEETS)
    assert first.judged.named("any_under").verdict == MISSES
    assert result.chosen is second
    assert change_lines(first.case, second.case, "metric") == [
        "passes: 50 %, 100 %, 100 % instead of 50 %, 100 %"
    ]
    assert "last round" in result.answer[2]


@pytest.mark.usefixtures("named_alone")
def test_findings_of_a_fastener_of_a_joint_are_weighed(make_case):
    """A reading far below what the joint was designed for tells for the suspect that is low."""
    findings = [reading(place, "33 kN") for place in (1, 2, 3)]
    group = {"fasteners": 4}
    case = stated_case(make_case, findings, [("low", 33, 4, 1.0)], group=group)
    alone = stated_case(make_case, findings, [("low", 33, 4, 1.0)])
    found, without = (infer(each, particles=256, runs=2, seed=5) for each in (case, alone))
    by_name = [
        {verdict.suspect.name: verdict.probability for verdict in each.suspects}
        for each in (found, without)
    ]
    assert by_name[0]["low"] > 0.7
    # Without interaction a fastener is the same in a joint and alone.
    assert by_name[0] == by_name[1]


LOADED = {
    "fasteners": 6,
    "circle": "150 mm",
    "axial": "24 kN",
    "bending_moment": "0.5 kN·m",
    "bending_direction": "60 deg",
    "transverse": "6 kN",
    "torsional_moment": "0.2 kN·m",
    "interaction": {"neighbours": ["10 %"]},
}


def test_the_derivation_says_what_a_run_says_at_nominal_values(make_case, worked_out):
    case = make_case({**SCATTER, "friction.joint": 0.2, "group": LOADED})
    derivation = derive(case)
    steps = {step.symbol: step for step in derivation.steps}
    for symbol in ("F_A", "F_b", "F_Q", "F_N"):
        step = steps[symbol]
        assert worked_out(step) == pytest.approx(step.value, rel=1e-9)
    # Rigid plate: F/6 + 2 M cos(a)/(6 r), a from where the moment opens it; M/(6 r) across.
    angle = math.radians(60 * case.group.governing)
    opens = 2 * 0.5e6 / (6 * 75.0) * math.cos(angle - math.radians(60))
    assert steps["F_A"].value == pytest.approx(24e3 / 6 + opens)
    across = (6e3 / 6 - 0.2e6 / (6 * 75) * math.sin(angle), 0.2e6 / (6 * 75) * math.cos(angle))
    assert steps["F_Q"].value == pytest.approx(math.hypot(*across))
    assert steps["F_A"].value == case.means["load.axial"]
    nominal = check(case).nominal
    assert steps["F_N"].value == pytest.approx(nominal.path["all tightened"])
    # Neighbours tightened after it take their 10 % each; its turn comes first.
    facts = case.group.facts
    left = after_each_pass(np.ones((1, 6)), facts.coefficients, facts.passes)[-1, 0]
    share = left[case.group.governing]
    # Nominal are means; the others are at their medians, hardly apart.
    assert steps["F_N"].value == pytest.approx(share * nominal.path["assembled"], rel=2e-3)


def test_check_names_the_joint_its_places_and_the_fastener_that_governs(make_case):
    case = make_case({**SCATTER, "friction.joint": 0.2, "group": LOADED})
    text = " ".join(check_text(check(case), "metric").split())
    assert (
        "The joint has 6 fasteners on a circle of 150 mm in diameter, tightened in the order"
        in text
    )
    assert f"fastener {case.group.governing + 1}, which has least to spare" in text
    # Without interaction: the moment opens the joint at 60 degrees, at the second of six.
    names = ("fasteners", "circle", "axial", "bending_moment", "bending_direction")
    case = make_case({**SCATTER, "group": {name: LOADED[name] for name in names}})
    assert case.group.governing == 1
    typed = make_case(
        {
            **SCATTER,
            "group": {"fasteners": 2, "positions": [["0 mm", "0 mm"], ["80 mm", "0 mm"]]},
        }
    )
    assert "has 2 fasteners on places as stated" in " ".join(
        check_text(check(typed), "metric").split()
    )
