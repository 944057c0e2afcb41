"""The text of a fit, and what its table hands on."""

import numpy as np
import pytest

from preloadmc import fit, load_records
from preloadmc.questions.fit import FitQuestion, plan_claim, share_below
from preloadmc.report.documents.document import as_json
from preloadmc.report.documents.fit import fit_document
from preloadmc.report.text.fit import fit_text, plan_text
from preloadmc.report.text.fit_table import derived_table

HEADER = "lot,torque [N·m],preload [kN],thread torque [N·m],clamp length [mm]"
TORQUES = ((76.0, 37.9), (80.1, 41.2), (78.4, 39.9), (84.2, 42.0), (79.9, 40.3), (74.1, 38.8))
RIG = (
    HEADER + "\n" + "".join(f"{'AB'[i % 2]},{t},38.0,{s},40\n" for i, (t, s) in enumerate(TORQUES))
)


@pytest.fixture
def asked(tmp_path):
    """A function that fits a text and returns the result."""

    def ask(text, question=None, case=None):
        path = tmp_path / "tests.csv"
        path.write_text(text, encoding="utf-8")
        return fit(load_records(path), question, case=case)

    return ask


def words(result):
    return " ".join(fit_text(result).split())


def test_a_rig_in_words(asked, make_case):
    result = asked(RIG, case=make_case())
    text = words(result)
    assert "M12, bearing diameter 15.06 mm." in text
    assert "Thread and bearing friction of the same 6 tests: correlation " in text
    assert "- Not fitted: clamp length: all values are equal." in text
    assert "99 % of all, 95 % confidence" in text
    assert "whatever the law takes 299 tests takes 473" in text
    assert "lot tests mean s.d. A 3 " in text
    assert text.count("For a case file, ") == len(result.quantities) == 4
    assert result.answer[0].count(";") == 3
    assert all(line.endswith(".") for line in result.answer)


def test_the_table_of_what_follows_is_read_as_tests(asked, make_case):
    result = asked(RIG, case=make_case())
    again = asked(derived_table(result))
    by_name = {each.measured.name: each for each in again.quantities}
    for each in result.quantities:
        found = by_name[each.measured.name]
        assert found.measured.values == pytest.approx(each.measured.values, rel=1e-6)
        assert found.measured.lots == each.measured.lots
    assert derived_table(again) == ""
    tool = asked("set [N·m],reading [N·m]\n50,51\n50,50.5\n50,49\n")
    assert derived_table(tool) == ""
    assert "# or" not in fit_text(tool)


def test_a_tool_in_words(asked):
    text = "set [N·m],reading [N·m]\n50,51\n50,50.5\n50,49\n50,50.2\n"
    found = words(asked(text, FitQuestion(tolerance=0.06)))
    assert "error of the tool [%], 4 tests found 95 % from to" in found
    assert "Cmk within the tolerance" in found
    assert '[tightening] tool = { law = "normal", mean = "0.35 %", sd = ' in found


def test_a_correlation_that_is_there_gets_its_line(asked, make_case):
    rows = [(70.0 + 2 * i + (i % 2), 36.0 + i + 0.1 * (i % 3)) for i in range(8)]
    text = HEADER + "\n" + "".join(f"A,{t},38.0,{s},40\n" for t, s in rows)
    result = asked(text, case=make_case())
    assert result.friction_correlation.low > 0.0
    assert "\ncorrelation = 0.9" in fit_text(result)


def test_limits_by_count_where_there_are_enough_tests(asked):
    values = np.linspace(0.10, 0.15, 100)
    text = "lot,thread\n" + "".join(f"A,{value:.6f}\n" for value in values)
    found = words(asked(text, FitQuestion(content=0.95)))
    # 100 tests: the 2nd largest is a 95 % limit at 95 %, the pair takes 93.
    assert "whatever the law 0.101 0.149 0.1 to 0.15" in found


def test_a_claim_in_words(asked):
    text = "lot,thread\n" + "".join(f"A,{0.12 + 0.001 * i}\n" for i in range(10))
    found = words(asked(text, FitQuestion(at_least="0.115", at_most="0.15", law="lognormal")))
    assert "At least 0.115: 0 of 10 tests miss it. They show with 95 % confidence that it" in found
    # The tenth root of 0.05 is 0.7411.
    assert "holds for 74.1 % of all whatever the law; " in found
    assert "At most 0.15: 0 of 10 tests miss it." in found


def test_lots_that_differ_are_told_to_narrow_limits(asked):
    rows = [
        f"{lot},{base + 0.001 * i}\n" for lot, base in (("A", 0.12), ("B", 0.15)) for i in range(5)
    ]
    found = words(asked("lot,thread\n" + "".join(rows), FitQuestion(law="lognormal")))
    assert "- Warning: Lots differ in thread: limits and intervals count each test as ind" in found
    assert "Odd. Lots: s.d. 16 % between and 1.2 % within 2 lots (p < 0.001" in found


def test_groups_without_a_difference_to_test(asked):
    rows = [f"x{i % 4},{0.12 + 0.001 * i}\n" for i in range(8)]
    found = words(asked("note,thread\n" + "".join(rows)))
    assert "Groups by note: x0 2, x1 2, x2 2, x3 2 (p = " in found
    # One test of each word says nothing of a difference, and one word is no group.
    rows = "a,x,0.12\na,y,0.13\nb,x,0.14\nb,x,0.15\n"
    few = words(asked(f"lab,note,thread\n{rows}", FitQuestion(where={"lab": "a"})))
    assert "- Groups by note: x 1, y 1." in few
    one = words(asked(f"lab,note,thread\n{rows}", FitQuestion(where={"lab": "b"})))
    assert "Groups by" not in one


def test_two_tests_far_apart(asked):
    result = asked("thread,no\n0.0001,\n0.9,7\n")
    assert "no: fewer than 2 values" in words(result)
    assert "if the lognormal law holds" in words(result)
    wider = asked("thread\n1e-6\n1.5e6\n")
    # exp(37.1 x 19.8) is beyond the largest number.
    assert " none " in words(wider)
    document = fit_document(result)
    (quantity,) = document["quantities"]
    assert quantity["lots"] is quantity["drift"] is quantity["farthest"] is None
    assert as_json(document)


def test_the_plan_of_a_claim_in_words():
    text = plan_text(plan_claim(0.99, 0.95))
    assert text.startswith("How many: 299 tests without a miss show that 99 % of all meet")
    assert "limit from the mean [s.d.]  tests by a normal law" in text
    assert " none shows it\n" in text
    assert max(map(len, text.splitlines()[3:])) <= 80


@pytest.mark.parametrize(
    # Never more than is shown.
    ("share", "said"),
    [(0.98999, "98.9 %"), (0.990001, "99 %"), (0.9999999, "99.99999 %"), (0.5, "50 %")],
)
def test_a_share_that_is_shown_is_cut_off(share, said):
    assert share_below(share) == said
