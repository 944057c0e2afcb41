"""Fits of test records: against closed forms, published values, and forward-made tests."""

import math

import numpy as np
import pytest
from scipy import stats

from preloadmc import fit, load_case, load_records
from preloadmc.errors import CaseError, UsageError
from preloadmc.mechanics.thread import thread
from preloadmc.mechanics.tightening import thread_torque_per_preload
from preloadmc.questions.fit import (
    TOOL_ERROR,
    FitQuestion,
    file_table,
    plan_claim,
    share_shown_by_count,
    summary_table,
)

# 20 unlubricated preloads in kN at 90 N·m: Shigley, 9th ed., Table 8-13, p. 438.
PRELOADS = (23.6, 27.6, 28.0, 29.4, 30.3, 30.7, 32.9, 33.8, 33.8, 33.8,
            34.7, 35.6, 35.6, 37.4, 37.8, 37.8, 39.2, 40.0, 40.5, 42.7)  # fmt: skip
BEARING_DIAMETER = 0.5 * (16.63 + 13.5)


@pytest.fixture
def records(tmp_path):
    """A function that writes a file of tests and reads it."""

    def make(text, name="tests.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return load_records(path)

    return make


def table(header, *columns):
    rows = zip(*columns, strict=True)
    return "\n".join([header, *(",".join(map(str, row)) for row in rows)]) + "\n"


def rig(thread_friction, bearing_friction, preload=38.0):
    """Torques of the rig of the base case, M12, by the exact torque equation."""
    geometry = thread("M12")
    in_thread = preload * thread_torque_per_preload(
        geometry.pitch, geometry.pitch_diameter, np.asarray(thread_friction)
    )
    return in_thread + preload * np.asarray(bearing_friction) * BEARING_DIAMETER / 2, in_thread


def only(result):
    (found,) = result.quantities
    return found


@pytest.mark.published
def test_moments_of_the_textbook_preloads(records):
    # Shigley prints mean 34.3 and s.d. 4.91 kN (divisor n - 1).
    found = only(fit(records(table("preload [kN]", PRELOADS))))
    assert found.moments.mean == pytest.approx(34_300.0, abs=50.0)
    assert found.moments.sd == pytest.approx(4_910.0, abs=5.0)
    # scipy.stats as the other library.
    low, high = stats.t.interval(0.95, 19, found.moments.mean, found.moments.sd / math.sqrt(20))
    assert (found.moments.mean_low, found.moments.mean_high) == pytest.approx((low, high))
    assert found.chosen.law == "normal"
    assert set(found.alike) == {"lognormal", "weibull"}


def test_limits_of_a_normal_law_by_the_factor(records):
    # Exact factor of 20 tests, content 99 %, confidence 95 %: scipy's non-central t.
    k = stats.nct.ppf(0.95, 19, math.sqrt(20) * stats.norm.ppf(0.99)) / math.sqrt(20)
    found = only(fit(records(table("preload [kN]", PRELOADS))))
    mean, sd = found.moments.mean, found.moments.sd
    assert found.limits.lower == pytest.approx(mean - k * sd)
    assert found.limits.upper == pytest.approx(mean + k * sd)
    assert found.limits_by_count.lower is None
    assert found.limits_by_count.tests_one_sided == 299


def test_a_lognormal_law_has_the_limits_of_its_logarithms(records):
    values = (0.11, 0.12, 0.13, 0.14, 0.125, 0.118, 0.131, 0.127)
    found = only(fit(records(table("thread", values))))
    k = stats.nct.ppf(0.95, 7, math.sqrt(8) * stats.norm.ppf(0.99)) / math.sqrt(8)
    logs = np.log(values)
    assert found.chosen.law == "lognormal"
    lower = math.exp(logs.mean() - k * logs.std(ddof=1))
    assert found.limits.lower == pytest.approx(lower)
    assert found.measured.input.name == "friction.thread"


def test_frictions_of_a_rig_are_those_that_made_its_torques(records, make_case):
    threads, bearings = (0.10, 0.12, 0.15, 0.13), (0.14, 0.11, 0.12, 0.13)
    torque, in_thread = rig(threads, bearings)
    header = "torque [N·m],preload [kN],thread torque [N·m]"
    file = records(table(header, torque, [38.0] * 4, in_thread))
    result = fit(file, case=make_case())
    by_name = {each.measured.name: each.measured for each in result.quantities}
    assert by_name["thread friction"].values == pytest.approx(threads)
    assert by_name["bearing friction"].values == pytest.approx(bearings)
    # T = K F d.
    assert by_name["nut factor"].values == pytest.approx(torque / (38.0 * 12.0))
    # The total friction explains the torque if it acts on both surfaces.
    alike, _ = rig(by_name["total friction"].values, by_name["total friction"].values)
    assert alike == pytest.approx(torque)
    expected = np.corrcoef(np.log(threads), np.log(bearings))[0, 1]
    assert result.friction_correlation.value == pytest.approx(expected)
    # Fisher's z of 4 tests has the standard deviation 1.
    half = stats.norm.ppf(0.975)
    assert result.friction_correlation.high == pytest.approx(math.tanh(math.atanh(expected) + half))


def test_a_bearing_torque_or_a_prevailing_torque_give_the_same_frictions(records, make_case):
    threads, bearings = (0.10, 0.12, 0.15), (0.14, 0.11, 0.12)
    torque, in_thread = rig(threads, bearings)
    header = "tightening torque [N·m],clamp force [kN],bearing torque [N·m],prevailing torque [N·m]"
    rows = (torque + 5.0, [38.0] * 3, torque - in_thread, [5.0] * 3)
    result = fit(records(table(header, *rows)), case=make_case())
    assert result.quantities[0].measured.values == pytest.approx(threads)
    assert result.quantities[1].measured.values == pytest.approx(bearings)


def test_without_thread_torque_the_total_and_the_nut_factor_are_left(records, make_case):
    torque, _ = rig((0.10, 0.12, 0.15), (0.14, 0.11, 0.12))
    file = records(table("torque [N·m],preload [kN]", torque, [38.0] * 3))
    result = fit(file, case=make_case())
    assert [each.measured.name for each in result.quantities] == ["total friction", "nut factor"]
    assert ("thread friction", "needs a column 'thread torque' or 'bearing torque'") in (
        result.not_fitted
    )
    with pytest.raises(UsageError, match=r"--case: columns 'torque' and 'preload' go with it"):
        fit(records("thread\n0.12\n0.13\n"), case=make_case())


def test_a_seat_that_cones_the_friction(records, make_case):
    torque, in_thread = rig((0.12, 0.13, 0.14), (0.12, 0.13, 0.15))
    header = "torque [N·m],preload [kN],thread torque [N·m]"
    file = records(table(header, torque, [38.0] * 3, in_thread))
    flat = fit(file, FitQuestion(column="bearing friction"), case=make_case())
    case = make_case({"fastener.seat_half_angle": "45 deg"})
    coned = fit(file, FitQuestion(column="bearing"), case=case)
    # On a cone of 90 deg the force on the face is F / sin 45 deg.
    ratio = coned.quantities[0].measured.values / flat.quantities[0].measured.values
    assert ratio == pytest.approx(math.sin(math.pi / 4))


def test_torques_that_no_friction_explains_are_told_by_line(records, make_case):
    # The pitch of an M12 alone takes P/(2 pi) = 0.279 N·m for each kN: 10.6 of 38 kN.
    header = "torque [N·m],preload [kN],thread torque [N·m]"
    file = records(table(header, (80.0, 81.0, 9.0), (38.0,) * 3, (40.0, 41.0, 8.0)))
    with pytest.raises(CaseError) as caught:
        fit(file, case=make_case())
    words = str(caught.value)
    assert "tests.csv, line 4: torques and preload that leave a thread friction above 0" in words
    assert "line 4: torques and preload that leave a nut factor" not in words
    file = records(table(header, (80.0, 0.0, 81.0), (38.0,) * 3, (40.0, 41.0, 42.0)))
    with pytest.raises(CaseError, match=r"tests.csv, line 3, torque: torque above 0"):
        fit(file, case=make_case())


def test_readings_of_a_tool(records):
    text = "set [N·m],reading [N·m]\n50,51\n50,50.5\n100,99\n100,102\n"
    found = only(fit(records(text), FitQuestion(tolerance=0.06)))
    errors = (0.02, 0.01, -0.01, 0.02)
    assert found.measured.name == TOOL_ERROR
    assert found.measured.values == pytest.approx(errors)
    assert found.measured.lots == ("50 N·m", "50 N·m", "100 N·m", "100 N·m")
    assert found.moments.mean == pytest.approx(0.01)
    # Cm = 2 x 6 %/(6 s), Cmk = (6 % - 1 %)/(3 s).
    sd = float(np.std(errors, ddof=1))
    assert found.capability.cm == pytest.approx(0.02 / sd)
    assert found.capability.cmk == pytest.approx(0.05 / (3 * sd))
    assert summary_table(found)["mean"] == "1 %"


def test_columns_are_taken_by_what_they_hold(records):
    text = table(
        "no,lot,thread,torque [N·m],rate [kN/h],note",
        range(1, 5), "ABAB", (0.12, 0.13, 0.14, 0.125), [84] * 4, range(4), ("x", "y", "z", "w"),
    )  # fmt: skip
    result = fit(records(text))
    assert [each.measured.name for each in result.quantities] == ["thread"]
    assert result.lot == "lot"
    assert dict(result.not_fitted) == {
        "no": "it counts the rows",
        "torque": "all values are equal",
        "rate": "nothing here is measured in kN/h",
    }
    with pytest.raises(UsageError, match=r"no column of numbers that scatter \(columns a\)"):
        fit(records("a\nx\ny\n"))


def test_a_friction_below_zero_is_refused(records):
    with pytest.raises(CaseError, match=r"line 3, thread: thread friction above 0 \(given: '-0.1"):
        fit(records("thread\n0.12\n-0.13\n0.14\n"))
    with pytest.raises(CaseError, match=r"line 2, friction of seat: a friction above 0"):
        fit(records("friction of seat\n0\n0.13\n0.14\n"))
    assert fit(records("embedding [um]\n0\n8\n9\n")).quantities
    with pytest.raises(CaseError, match=r"embedding of 0 or above"):
        fit(records("embedding [um]\n-1\n8\n9\n"))


def test_few_tests_tell_no_law_apart(records):
    # The last value alone would rule out every law, were there eight tests.
    values = (0.12, 0.121, 0.122, 0.1205, 0.1215, 0.1211, 0.5)
    found = only(fit(records(table("thread", values))))
    assert not any(each.unlikely for each in found.laws)
    assert not found.tells_laws
    result = fit(records(table("thread", values)))
    assert "(too few tests to tell laws apart)" in result.answer[0]
    assert "test more: with 7 tests" in result.answer[2]
    more = only(fit(records(table("thread", (*values, 0.1208)))))
    assert more.nothing_fits


@pytest.mark.statistical
def test_the_law_behind_many_tests_is_found(records, seed):
    rng = np.random.default_rng(seed)
    # Of 2000 values of a Weibull law of shape 3 neither a normal nor a lognormal law survives.
    values = 0.13 * rng.weibull(3.0, 2000)
    found = only(fit(records(table("thread", values))))
    assert found.chosen.law == "weibull"
    law = found.chosen.fit.law
    # The s.d. of the shape found is 0.78 shape/sqrt(n) (Fisher information): five of them.
    assert law.shape == pytest.approx(3.0, abs=5 * 0.78 * 3.0 / math.sqrt(2000))
    assert not found.alike


def test_lots_and_groups_that_differ(records):
    rng = np.random.default_rng(5)
    oil, wax = 0.14 * np.exp(0.05 * rng.standard_normal(9)), 0.10 + 0.002 * np.arange(9)
    text = table("batch,lubricant,thread", "AAABBBCCC" * 2, ["oil"] * 9 + ["wax"] * 9, [*oil, *wax])
    result = fit(records(text))
    assert result.lot == "batch"
    (group,) = only(result).groups
    assert dict(group.counts) == {"oil": 9, "wax": 9}
    assert group.difference.p_value < 0.001
    assert result.answer[2].startswith(
        "What to do: fit each lubricant by itself, as --where 'lubricant=oil': they differ; "
    )
    assert "Tests of several groups are fitted as one: lubricant (oil 9, wax 9)." in result.warnings
    one = fit(records(text), FitQuestion(where={"lubricant": "wax"}))
    assert only(one).measured.values == pytest.approx(wax)
    assert only(one).groups == ()
    # By --lot the same words are lots, which differ then.
    lots = fit(records(text), FitQuestion(lot="lubricant"))
    assert only(lots).lots.p_value < 0.001
    assert any(words.startswith("Lots differ in thread") for words in lots.warnings)
    assert "test more lots: they differ in thread, and 2 lots say" in lots.answer[2]


def test_drift_and_a_far_value_are_told_by_line(records):
    rising = [0.12 + 0.002 * i + 0.0005 * (-1) ** i for i in range(12)]
    result = fit(records(table("lot,thread", "A" * 12, rising)))
    assert "find out why thread rises from test to test" in result.answer[2]
    far = [0.12 + 0.001 * (i * 7 % 12) for i in range(12)]
    far[4] = 0.19
    result = fit(records(table("lot,thread", "A" * 12, far)))
    assert "check the test in line 6 (thread 0.19)" in result.answer[2]


def test_tests_without_a_value_are_told(records):
    result = fit(records("lot,thread\nA,0.12\nA,\nA,0.13\nA,0.14\n"))
    assert any(words.startswith("1 test has no value of thread") for words in result.warnings)


@pytest.mark.parametrize(
    ("question", "words"),
    [
        (FitQuestion(unit="N·m"), "--unit is of one column"),
        (FitQuestion(column="thread", unit="N·q"), "--unit: unknown unit 'q'"),
        (FitQuestion(column="thread", unit="N·s"), "nothing here is measured in N·s"),
        (FitQuestion(at_least="0.1"), "a limit is for one column: name it by --column, one of"),
        (FitQuestion(column="thread", at_most="1 kN"), "--at-most '1 kN': a ratio is wanted"),
        (FitQuestion(column="error", law="weibull"), "--law weibull: values above 0 only, and err"),
    ],
)
def test_questions_that_do_not_go_with_the_file(records, question, words):
    text = "thread,error\n0.12,-0.1\n0.13,0.2\n0.14,0.4\n"
    with pytest.raises(UsageError) as caught:
        fit(records(text), question)
    assert words in str(caught.value)


def test_an_unknown_column_beside_derived_ones(records):
    text = "set [N·m],reading [N·m]\n50,51\n50,50.5\n100,99\n"
    with pytest.raises(CaseError, match=r"--column: a column of tests.csv, or error of the tool"):
        fit(records(text), FitQuestion(column="eror"))


@pytest.mark.published
@pytest.mark.parametrize(
    ("content", "confidence", "tests"), [(0.95, 0.95, 59), (0.99, 0.95, 299), (0.90, 0.90, 22)]
)
def test_success_runs(content, confidence, tests):
    # ln(1 - confidence)/ln(content), rounded up: 58.40, 298.07, 21.85.
    assert plan_claim(content, confidence).tests == tests
    assert math.ceil(math.log(1 - confidence) / math.log(content)) == tests
    assert share_shown_by_count(tests, 0, confidence) >= content
    assert share_shown_by_count(tests - 1, 0, confidence) < content
    assert share_shown_by_count(3, 3, confidence) == 0.0


def test_a_claim_with_misses_by_the_binomial_law():
    # scipy.stats: with at most 2 misses of n, P(misses <= 2) <= 5 % where 5 % miss.
    plan = plan_claim(0.95, 0.95, misses=2)
    assert stats.binom.cdf(2, plan.tests, 0.05) <= 0.05 < stats.binom.cdf(2, plan.tests - 1, 0.05)
    assert plan.by_law[4.0] < plan.by_law[2.0]
    assert plan_claim(0.99, 0.95).by_law[2.0] is None
    assert plan.least_distance == pytest.approx(1.6449, abs=1e-4)


def claim(records, values, limit, *, is_least=True, content=0.99, law="lognormal"):
    side = {"at_least": limit} if is_least else {"at_most": limit}
    question = FitQuestion(column="thread", law=law, content=content, **side)
    result = fit(records(table("lot,thread", "A" * len(values), values)), question)
    return only(result).claims[0], result


def test_a_claim_shown_by_law_and_not_by_count(records):
    values = 0.13 * np.exp(0.1 * stats.norm.ppf((np.arange(25) + 0.5) / 25))
    found, result = claim(records, values, "0.07")
    logs = np.log(values)
    distance = (logs.mean() - math.log(0.07)) / logs.std(ddof=1)
    assert found.distance == pytest.approx(distance)
    # The share shown is that of which the limit is a tolerance limit.
    root = math.sqrt(25)
    nc = root * stats.norm.ppf(found.by_law)
    assert stats.nct.ppf(0.95, 24, nc) == pytest.approx(root * distance, rel=1e-5)
    assert found.shown_by_law
    assert not found.shown_by_count
    assert found.by_count == pytest.approx(0.05 ** (1 / 25))
    assert found.required_by_count == 299
    assert "is shown by the lognormal law" in result.answer[1]
    assert "274 more tests without a miss would show it whatever the law" in result.answer[2]


def test_a_claim_that_another_possible_law_does_not_show_is_not_made(records):
    values = 0.13 * np.exp(0.1 * stats.norm.ppf((np.arange(18) + 0.5) / 18))
    found, result = claim(records, values, "0.085")
    assert found.shown_by_law
    assert found.not_by == ("weibull",)
    assert "but not by weibull, possible too, or whatever the law" in result.answer[1]
    assert result.answer[2].startswith("What to do: make no claim: weibull is possible too")


def test_a_claim_that_more_tests_may_show_and_one_that_none_does(records):
    values = 0.13 * np.exp(0.1 * stats.norm.ppf((np.arange(25) + 0.5) / 25))
    found, result = claim(records, values, "0.10")
    assert not found.shown_by_law
    # 2.7 s.d. off, of which 2.33 are 99 %.
    factor = stats.nct.ppf(
        0.95, found.required_by_law - 1, math.sqrt(found.required_by_law) * stats.norm.ppf(0.99)
    )
    assert factor / math.sqrt(found.required_by_law) <= found.distance
    assert f"test {found.required_by_law - 25} more, which show it by the law" in result.answer[2]
    found, result = claim(records, values, "0.16", is_least=False)
    assert found.misses == 0
    assert found.required_by_law is None
    assert "change process or limit: no number of tests shows it by the law" in result.answer[2]


def test_a_claim_shown_by_count(records):
    values = [0.12 + 0.0001 * i for i in range(60)]
    found, result = claim(records, values, "0.10", content=0.95, law="normal")
    assert found.shown_by_count
    assert "the claim may be made for the lots" in result.answer[2]
    missed, result = claim(records, values, "0.1205", content=0.95, law="weibull")
    assert missed.misses == 5
    assert missed.distance is None
    assert "more tests without a further miss" in result.answer[2]
    assert "is not shown, neither by the weibull law" in result.answer[1]


def test_a_limit_where_a_law_has_no_values(records):
    found, _ = claim(records, (0.12, 0.13, 0.14), "-1")
    assert (found.by_law, found.distance) == (1.0, None)
    found, _ = claim(records, (0.12, 0.13, 0.14), "0", is_least=False)
    assert found.by_law == 0.0


@pytest.mark.parametrize("law", ["normal", "lognormal", "weibull", "gumbel"])
def test_the_lines_for_a_case_say_the_law_again(records, write_case, law):
    values = (0.11, 0.12, 0.13, 0.14, 0.125, 0.118, 0.131, 0.127)
    found = only(fit(records(table("thread", values)), FitQuestion(law=law)))
    stated = {key: value for key, value in summary_table(found).items() if key != "tests"}
    read = load_case(write_case({"friction.thread": stated})).laws["friction.thread"]
    taken = found.chosen.fit.law
    assert read.kind == law
    assert (read.mean, read.sd) == pytest.approx((taken.mean, taken.sd), rel=1e-4)
    z = np.array([-3.0, 0.0, 3.0])
    assert read.from_normal(z) == pytest.approx(taken.from_normal(z), rel=1e-4)


def test_a_temperature_has_the_width_of_a_difference(records):
    found = only(fit(records("t [degC]\n20\n22\n24\n")))
    assert summary_table(found) == {"law": "normal", "mean": "22 degC", "sd": "2 K", "tests": 3}


def test_the_same_seed_gives_the_same_numbers_and_another_others(records):
    file = records(table("thread", (0.11, 0.12, 0.13, 0.14, 0.125, 0.118, 0.131, 0.127)))
    p = [[each.p_value for each in only(fit(file, seed=s)).laws] for s in (3, 3, 4)]
    assert p[0] == p[1]
    assert p[0] != p[2]


def test_a_case_without_a_bearing_diameter(records, make_case):
    overrides = {
        "fastener.bearing_outer_diameter": None, "friction.thread": None, "friction.bearing": None,
        "friction.nut_factor": 0.16, "requirement.maximum_preload": "62 kN",
        "fastener.property_class": None,
    }  # fmt: skip
    torque, in_thread = rig((0.12, 0.13, 0.14), (0.12, 0.13, 0.15))
    header = "torque [N·m],preload [kN],thread torque [N·m]"
    file = records(table(header, torque, [38.0] * 3, in_thread))
    result = fit(file, case=make_case(overrides))
    assert [each.measured.name for each in result.quantities] == ["thread friction", "nut factor"]
    assert dict(result.not_fitted)["total friction"].endswith("states no bearing diameter")
    assert result.friction_correlation is None
    file = records(table("torque [N·m],preload [kN]", torque, [38.0] * 3))
    (factor,) = fit(file, case=make_case(overrides)).quantities
    assert factor.measured.name == "nut factor"


def test_what_follows_and_does_not_scatter(records, make_case):
    text = "set [N·m],reading [N·m],thread\n50,51,0.12\n100,102,0.13\n50,51,0.14\n"
    result = fit(records(text))
    assert (TOOL_ERROR, "all values are equal") in result.not_fitted
    header = "torque [N·m],preload [kN],thread torque [N·m]"
    file = records(table(header, (80.0, 80.0, 80.0), [38.0] * 3, (40.0, 41.0, 42.0)))
    result = fit(file, case=make_case())
    assert ("nut factor", "all values are equal") in result.not_fitted
    assert ("total friction", "all values are equal") in result.not_fitted
    with pytest.raises(CaseError, match="line 3, reading: a number"):
        fit(records("set [N·m],reading [N·m]\n50,51\n50,x\n50,49\n"))


def test_the_filter_goes_into_the_lines_for_a_case(records):
    text = "lubricant,thread\noil,0.12\nwax,0.1\noil,0.13\nwax,0.11\n"
    result = fit(records(text), FitQuestion(where={"lubricant": "oil"}))
    assert file_table(result, only(result)) == {
        "tests": "tests.csv",
        "column": "thread",
        "law": "lognormal",
        "where": {"lubricant": "oil"},
    }


def test_signs_of_inputs(records):
    # Strengths above 0; a quantity that is no input may be anything.
    with pytest.raises(CaseError, match="yield strength above 0"):
        fit(records("yield strength [MPa]\n940\n0\n950\n"))
    assert fit(records("bending [MPa]\n-40\n0\n50\n")).quantities


def test_a_claim_shown_by_count_and_not_by_the_law_taken(records):
    # A few far values widen the law; none of 60 is beyond the limit.
    values = [0.12 + 0.0001 * i for i in range(57)] + [0.3, 0.35, 0.4]
    found, result = claim(records, values, "0.11", content=0.95, law="normal")
    assert found.shown_by_count
    assert not found.shown_by_law
    assert "is shown whatever the law, but not by the normal law" in result.answer[1]
