"""All fasteners of a joint: what they share, what each has, and what one takes from another."""

import math

import numpy as np
import pytest
from scipy import stats

from preloadmc.engine import margin_function
from preloadmc.joint import evaluate
from preloadmc.joint_samples import sample_joints
from preloadmc.mechanics.interaction import after_each_pass
from preloadmc.whole_joint import WholeJoint

SCATTER = {
    "friction.thread": {
        "law": "lognormal",
        "mean": 0.12,
        "cov": "10 %",
        "shared": {"by": "lot", "fraction": 0.6},
    },
    "friction.bearing": {"law": "normal", "mean": 0.12, "cov": "8 %"},
    "tightening.tool": {"law": "normal", "cov": "4 %"},
    "tightening.bias": {"law": "normal", "mean": "0 %", "sd": "2 %"},
}
GROUP = {"fasteners": 6, "circle": "150 mm"}


def drawn(whole, m, seed):
    """Shared and own normal numbers of m joints."""
    return whole.unmixed(np.random.default_rng(seed).standard_normal((m, whole.numbers)))


def test_one_fastener_of_a_joint_is_the_single_one_to_the_last_bit(make_case, seed):
    case = make_case({**SCATTER, "group": GROUP})
    single = make_case(SCATTER)
    whole = WholeJoint(case)
    u, v = drawn(whole, 1000, seed)
    # sqrt(f) u + sqrt(1 - f) v, by the definition of the shared part.
    f = np.array([case.group.fractions[name] for name in whole.columns])
    common, apart = f > 0.0, f < 1.0
    z = np.zeros((1000, len(f)))
    z[:, common] = u * np.sqrt(f[common])
    z[:, apart] += v[:, 2] * np.sqrt(1.0 - f[apart])
    expected = margin_function(single, "outside_window")(z)
    member, _ = whole.station_of(2)
    np.testing.assert_array_equal(
        whole.of_station(member, 2, "outside_window")(u, v[:, 2]), expected
    )
    np.testing.assert_array_equal(
        whole.worst_margins("outside_window")(u, v)[:, 2], expected.min(axis=1)
    )


def test_two_fasteners_are_correlated_by_the_share_they_have_in_common(make_case, seed):
    case = make_case({**SCATTER, "friction.bearing": 0.12, "tightening.tool": 0.0, "group": GROUP})
    whole = WholeJoint(case)
    u, v = drawn(whole, 20_000, seed)
    (made,) = whole.made(u, v)
    friction = np.log(made.by_fastener(made.x["friction.thread"]))
    found = float(np.corrcoef(friction[:, 0], friction[:, 4])[0, 1])
    # Fisher's z of 20,000 pairs has a standard error of 1/sqrt(n).
    assert math.atanh(found) == pytest.approx(math.atanh(0.6), abs=4.0 / math.sqrt(20_000))
    assert np.ptp(made.by_fastener(made.x["tightening.bias"]), axis=1).max() == 0.0


def test_equal_fasteners_may_change_places(make_case, seed):
    whole = WholeJoint(make_case({**SCATTER, "group": GROUP}))
    u, v = drawn(whole, 500, seed)
    order = np.array([3, 0, 5, 1, 2, 4])
    worst = whole.worst_margins("under_preload")
    np.testing.assert_array_equal(worst(u, v[:, order]), worst(u, v)[:, order])


def test_loads_of_the_joint_are_shared_out_whole(make_case, seed):
    """The axial shares add up to the force, and their moments to the bending moment."""
    group = {
        **GROUP,
        "axial": "30 kN",
        "bending_moment": {"law": "normal", "mean": "0.8 kN·m", "cov": "10 %"},
        "bending_direction": "40 deg",
    }
    case = make_case({**SCATTER, "group": group})
    whole = WholeJoint(case)
    u, v = drawn(whole, 50, seed)
    (made,) = whole.made(u, v)
    axial = made.by_fastener(made.x["load.axial"])
    np.testing.assert_allclose(axial.sum(axis=1), 30e3, rtol=1e-12)
    x, y = whole.group.facts.positions.T
    along = x * math.cos(math.radians(40)) + y * math.sin(math.radians(40))
    moment = made.by_fastener(made.x["group.bending_moment"])[:, 0]
    np.testing.assert_allclose(axial @ along, moment, rtol=1e-9)
    assert len(whole.stations) == 6


def test_a_torsional_moment_and_a_force_balance_what_the_fasteners_carry(make_case, seed):
    group = {**GROUP, "transverse": "6 kN", "torsional_moment": "0.5 kN·m"}
    case = make_case({**SCATTER, "friction.joint": 0.2, "group": group})
    facts = case.group.facts
    carried = 6e3 * facts.transverse + 0.5e6 * facts.torsional
    np.testing.assert_allclose(carried.sum(axis=0), [6e3, 0.0], atol=1e-9)
    x, y = facts.positions.T
    assert float(np.sum(x * carried[:, 1] - y * carried[:, 0])) == pytest.approx(0.5e6)
    whole = WholeJoint(case)
    u, v = drawn(whole, 3, seed)
    (made,) = whole.made(u, v)
    expected = np.hypot(*carried.T)
    np.testing.assert_allclose(made.by_fastener(made.x["load.transverse"])[0], expected)


def test_neighbours_take_what_the_passes_say(make_case, seed):
    group = {
        **GROUP,
        "order": "star",
        "passes": ["40 %", "100 %"],
        "interaction": {"neighbours": ["12 %", "3 %"]},
    }
    case = make_case({**SCATTER, "group": group})
    whole = WholeJoint(case)
    u, v = drawn(whole, 200, seed)
    facts = case.group.facts
    tightened = whole.tightened(u, v)
    left = after_each_pass(tightened, facts.coefficients, facts.passes)[-1]
    (made,) = whole.made(u, v)
    np.testing.assert_allclose(made.by_fastener(made.state.all_tightened), left, rtol=1e-12)
    np.testing.assert_allclose(made.by_fastener(made.state.assembly.preload), tightened, rtol=1e-15)
    assert float((left / tightened).min()) < 0.95


def test_no_interaction_gives_the_joint_without_it_bit_for_bit(make_case, seed):
    zero = {**GROUP, "interaction": {"neighbours": ["0 %"]}, "passes": ["50 %", "100 %"]}
    plain = WholeJoint(make_case({**SCATTER, "group": GROUP}))
    whole = WholeJoint(make_case({**SCATTER, "group": zero}))
    u, v = drawn(whole, 300, seed)
    worst = [each.worst_margins("outside_window")(u, v) for each in (plain, whole)]
    np.testing.assert_array_equal(*worst)


def test_an_exception_has_laws_of_its_own(make_case, seed):
    other = [{"fasteners": [2, 5], "friction": {"thread": 0.2}}]
    case = make_case({**SCATTER, "group": {**GROUP, "exception": other}})
    whole = WholeJoint(case)
    u, v = drawn(whole, 100, seed)
    tightened = whole.tightened(u, v)
    assert [member.fasteners.tolist() for member in whole.members] == [[0, 2, 3, 5], [1, 4]]
    alone = evaluate(
        (changed := make_case({**SCATTER, "friction.thread": 0.2})).joint, changed.means
    )
    still = WholeJoint(case)
    at_rest = still.tightened(np.zeros((1, still.shared)), np.zeros((1, 6, still.own)))[0]
    assert at_rest[1] == pytest.approx(float(alone.assembly.preload))
    assert (tightened[:, [1, 4]].mean(axis=0) < tightened[:, [0, 2, 3, 5]].mean()).all()


def test_what_tests_leave_open_is_one_for_the_joint_and_predicts_as_one_fastener(make_case, seed):
    """Over many joints a fastener's friction has the law of the next value: Student's."""
    tested = {"law": "normal", "mean": 0.12, "sd": 0.01, "tests": 8}
    case = make_case({"friction.thread": tested, "group": GROUP})
    whole = WholeJoint(case)
    u, v = drawn(whole, 4000, seed)
    (made,) = whole.made(u, v)
    friction = made.by_fastener(made.x["friction.thread"])
    scale = 0.01 * math.sqrt(1.0 + 1.0 / 8.0)
    assert stats.kstest((friction[:, 3] - 0.12) / scale, stats.t(7).cdf).pvalue > 1e-4
    # In common: the location, of variance sigma²/8 beside sigma² of each fastener's own.
    found = float(np.corrcoef(friction[:, 0], friction[:, 1])[0, 1])
    assert found == pytest.approx(1.0 / 9.0, abs=0.08)


def test_samples_of_joints_count_what_their_margins_say(make_case, seed):
    case = make_case(
        {
            **SCATTER,
            "group": {**GROUP, "minimum_total_clamp": "280 kN"},
            "requirement.minimum_preload": "44 kN",
        }
    )
    whole = WholeJoint(case)
    found = sample_joints(whole, seed, ["under_preload"], ["total_clamp"])
    short = found.residual < 44e3
    np.testing.assert_array_equal(found.by_fastener["under_preload"], short.sum(axis=0))
    at_least = [int(np.count_nonzero(short.sum(axis=1) >= k)) for k in range(7)]
    np.testing.assert_array_equal(found.by_joint["under_preload"], at_least)
    assert 0 < at_least[2] < at_least[1] < found.joints
    assert found.of_joint["total_clamp"] == np.count_nonzero(found.residual.sum(axis=1) < 280e3) > 0


def test_the_whole_joint_slips_where_friction_is_used_up(make_case):
    """A centred force: the sum of friction forces; a moment alone: times the radius."""
    laws = {"friction.joint": 0.2, "group": {**GROUP, "transverse": "40 kN"}}
    whole = WholeJoint(make_case(laws))
    z = np.zeros((1, whole.numbers))
    preload = float(whole.tightened(*whole.unmixed(z))[0, 0])
    margin = float(whole.margins_of("slip_capacity")(z)[0, 0])
    assert margin == pytest.approx(6 * 0.2 * preload / 40e3 - 1.0)
    turned = {"friction.joint": 0.2, "group": {**GROUP, "torsional_moment": "2 kN·m"}}
    whole = WholeJoint(make_case(turned))
    margin = float(whole.margins_of("slip_capacity")(np.zeros((1, whole.numbers)))[0, 0])
    assert margin == pytest.approx(6 * 0.2 * preload * 75.0 / 2e6 - 1.0, rel=1e-5)
