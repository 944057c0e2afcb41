"""Laws that tests stand behind, as a case file states them: every way, and every plain error."""

import json
import math
import shutil

import numpy as np
import pytest
from click.testing import CliRunner
from scipy import stats

from preloadmc import load_case
from preloadmc.case_file import as_found
from preloadmc.chance.extreme_knowledge import ExtremeTests
from preloadmc.chance.laws import Constant, Gumbel, LogNormal, Normal, Weibull
from preloadmc.chance.normal_knowledge import LotTests, NormalTests
from preloadmc.chance.tested_law import Tested
from preloadmc.cli.main import main
from preloadmc.errors import CaseError

# Made up.
RECORDS = """lot;lubricant;thread;bearing [%];torque [N·m];note
A;oil;0,12;13;80;first
A;oil;0,125;12;81;second
B;oil;0,131;14;79;
B;grease;0,10;11;82;
C;grease;0,104;11,5;80,5;
C;grease;0,11;11,8;80;
"""
THREAD = [0.12, 0.125, 0.131, 0.10, 0.104, 0.11]
LUBRICANTS = ["oil", "oil", "oil", "grease", "grease", "grease"]
LOTS = list("AABBCC")
ONE = "thread\n0.12\n0.13\n0.125\n0.14\n"
FILES = {
    "found.csv": RECORDS,
    "data/one.csv": ONE,
    "data/factors.csv": "no;K\n1;0,19\n2;0,2\n3;0,205\n4;0,196\n",
    "negative.csv": ONE.replace("0.13", "-0.13"),
    "equal.csv": "thread\n0.12\n0.12\n0.12\n",
    "two.csv": "thread\n0.12\n0.13\n",
    "single.csv": "thread\n0.12\n",
    "text.csv": ONE.replace("0.125", "high"),
    "mixed.csv": "torque\n84 N·m\n85\n86 N·m\n",
    "lone lots.csv": "lot,thread\nA,0.12\nB,0.13\nC,0.125\n",
}
LAW = {"law": "lognormal"}
NORMAL = {"law": "normal"}


@pytest.fixture
def files(tmp_path):
    """The CSV files, in the folder of the case file."""
    (tmp_path / "data").mkdir()
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "latin.csv").write_bytes(b"thread\n0.12\n\xff\n")


@pytest.fixture
def law(make_case, files):
    """A function that returns an input of a case where a law is stated for it."""

    def read(given, path="friction.thread"):
        found = make_case({path: given}).laws[path]
        assert isinstance(found, Tested)
        return found

    return read


@pytest.fixture
def refused(make_case, files):
    """A function that returns the problems of a case where a law is stated for an input."""

    def read(given, path="friction.thread", **more):
        with pytest.raises(CaseError) as error:
            make_case({path: given, **more})
        return [str(problem) for problem in error.value.problems]

    return read


def logs(values):
    return np.log(values).mean(), np.log(values).std(ddof=1)


@pytest.mark.parametrize(
    ("given", "values", "words"),
    [
        ({"tests": THREAD}, THREAD, "6 tests"),
        ({"tests": ["12 %", 0.13, "0.125"]}, [0.12, 0.13, 0.125], "3 tests"),
        ({"tests": [12, 13, "12.5 %"], "unit": "%"}, [0.12, 0.13, 0.125], "3 tests"),
        ({"tests": "found.csv", "column": "thread"}, THREAD, "6 tests (found.csv, thread)"),
        ({"tests": "found.csv", "column": "Thread", "where": {}}, THREAD, None),
        (
            {"tests": "found.csv", "column": "thread", "where": {"lubricant": "OIL"}},
            THREAD[:3],
            "3 tests (found.csv, thread, lubricant = OIL)",
        ),
        (
            {"tests": "found.csv", "column": "bearing"},
            [0.13, 0.12, 0.14, 0.11, 0.115, 0.118],
            "6 tests (found.csv, bearing)",
        ),
        # The one column of a file needs no name.
        ({"tests": "data/one.csv"}, [0.12, 0.13, 0.125, 0.14], "4 tests (data/one.csv, thread)"),
    ],
)
def test_values_one_by_one(law, given, values, words):
    found = law({**LAW, **given})
    known = found.knowledge
    assert (known.mean, known.sd) == pytest.approx(logs(values))
    assert (known.tests, found.tests) == (len(values), len(values))
    assert isinstance(found.fitted, LogNormal)
    assert words is None or found.source == words
    assert found.price is None


def test_values_of_every_law(law):
    values = np.array([0.12, 0.13, 0.125, 0.14])
    normal = law({**NORMAL, "tests": "data/one.csv"})
    assert normal.knowledge == NormalTests(float(values.mean()), float(values.std(ddof=1)), 4)
    gumbel = law({"law": "gumbel", "tests": values.tolist()})
    assert gumbel.knowledge == ExtremeTests(tuple(values))
    weibull = law({"law": "weibull", "tests": values.tolist(), "test_price": 40})
    assert weibull.knowledge == ExtremeTests(tuple(np.log(values)), smallest=True)
    assert weibull.price == 40.0


def test_units_of_values(law):
    lbf_ft = 4.4482216152605 * 304.8
    path = "tightening.torque"
    found = law({**NORMAL, "tests": ["84 N·m", "62 lbf·ft", "85 N·m"]}, path)
    assert found.mean == pytest.approx((169e3 + 62 * lbf_ft) / 3)
    assert law({**NORMAL, "tests": [84, 85, 86], "unit": "N·m"}, path).mean == 85e3
    assert law({**NORMAL, "tests": "found.csv", "column": "torque"}, path).mean == pytest.approx(
        1e3 * (80 + 81 + 79 + 82 + 80.5 + 80) / 6
    )
    # Scatter of a tool is about its set value.
    tool = law({**NORMAL, "tests": ["-2 %", "3 %", "1 %"]}, "tightening.tool")
    assert (tool.mean, tool.sd) == pytest.approx((1.0 + 0.02 / 3, np.std([-2, 3, 1], ddof=1) / 100))


def test_lots(law, make_case):
    found = law({**LAW, "tests": "found.csv", "column": "thread", "lot": "lot"})
    known = LotTests.of(np.log(THREAD).tolist(), LOTS)
    assert found.knowledge == known
    assert found.source == "6 tests (found.csv, thread) of 3 lots"
    given = {**NORMAL, "tests": "found.csv", "column": "bearing", "lot": "lubricant"}
    case = make_case({"friction.bearing": given})
    # What fasteners of a lot have in common is the share of the variance between lots.
    between, within = LotTests.of([0.13, 0.12, 0.14, 0.11, 0.115, 0.118], LUBRICANTS).likely
    assert between > 0.0
    assert case.shared["friction.bearing"].by == "lot"
    assert case.shared["friction.bearing"].fraction == pytest.approx(
        between**2 / (between**2 + within**2)
    )
    # An error as large as all that was seen leaves nothing to have in common.
    given = {**LAW, "tests": "found.csv", "column": "thread", "lot": "lot"}
    case = make_case({"friction.thread": {**given, "measuring": {"sd": 0.012}}})
    assert case.shared["friction.thread"].fraction == 0.0
    assert any("measuring error is" in words for words in case.warnings)


@pytest.mark.parametrize(
    ("law_", "measuring", "error"),
    [
        # An s.d. of the logarithm is one of the value over its mean, 0.12875.
        (LAW, {"sd": 0.003}, 0.003 / 0.12875),
        (LAW, {"cov": "2 %"}, 0.02),
        (NORMAL, {"sd": 0.003}, 0.003),
        (NORMAL, {"cov": 0.02}, 0.02 * 0.12875),
    ],
)
def test_a_measuring_error_is_taken_out(law, law_, measuring, error):
    found = law({**law_, "tests": "data/one.csv", "measuring": measuring})
    known = found.knowledge
    assert known.measuring == pytest.approx(error)
    left = found.fitted.log_sd if law_ is LAW else found.fitted.sd
    assert left == pytest.approx(math.sqrt(known.sd**2 - error**2))


def test_a_measuring_error_that_makes_most_of_the_scatter_is_warned_of(make_case, files):
    given = {**LAW, "tests": "data/one.csv", "measuring": {"cov": "5 %"}}
    case = make_case({"friction.thread": given})
    share = 100 * 0.05 / logs([0.12, 0.13, 0.125, 0.14])[1]
    (words,) = (words for words in case.warnings if "measuring" in words)
    assert words.startswith(
        f"friction.thread: the measuring error is {share:.0f} % of the scatter seen: what is left"
    )
    small = make_case({"friction.thread": {**given, "measuring": {"cov": "2 %"}}})
    assert not any("measuring" in words for words in small.warnings)


@pytest.mark.parametrize(("key", "words"), [("tests", "25 tests"), ("as_good_as", "as good as 25")])
def test_a_law_by_its_numbers_and_how_many_tests_there_were(law, key, words):
    normal = law({**NORMAL, "mean": 0.13, "sd": 0.006, key: 25})
    assert normal.fitted == Normal(0.13, 0.006)
    assert normal.knowledge == NormalTests(0.13, 0.006, 25)
    assert normal.source.startswith(words)
    lognormal = law({**LAW, "mean": 0.13, "cov": "10 %", key: 25, "test_price": 0})
    # s.d. of the logarithm: sqrt(ln(1 + cov^2)).
    assert lognormal.knowledge.sd == pytest.approx(math.sqrt(math.log(1.01)))
    assert lognormal.fitted.mean == pytest.approx(0.13)
    assert lognormal.price == 0.0
    gumbel = law({"law": "gumbel", "mean": 0.13, "cov": "10 %", key: 25})
    assert isinstance(gumbel.fitted, Gumbel)
    assert (gumbel.mean, gumbel.sd, gumbel.tests) == pytest.approx((0.13, 0.013, 25))
    weibull = law({"law": "weibull", "shape": 9, "scale": 0.13, key: 25})
    assert isinstance(weibull.fitted, Weibull)
    assert (weibull.fitted.shape, weibull.fitted.scale) == pytest.approx((9.0, 0.13))
    assert law({"law": "weibull", "mean": 0.13, "cov": "9 %", key: 25}).mean == pytest.approx(0.13)


def test_a_law_without_tests_is_as_before(make_case):
    case = make_case({"friction.thread": {**LAW, "mean": 0.13, "cov": "10 %"}})
    assert isinstance(case.laws["friction.thread"], LogNormal)
    assert (case.tested, case.unknowns) == ({}, 0)


def test_the_confidence_is_assumed_where_tests_ask_for_it(make_case):
    def listed(**more):
        case = make_case({"friction.thread": {**LAW, "mean": 0.13, "cov": "10 %", **more}})
        return [each.value for each in case.assumptions if each.path == "requirement.confidence"]

    assert listed() == []
    assert listed(tests=25) == ["95 %: with what confidence a limit meets"]


P = "friction.thread"
NO_SCATTER = "or there is no scatter to see"
JUDGEMENT = "are set by judgement, and tests do not tell them"


@pytest.mark.parametrize(
    ("given", "problem"),
    [
        # How many there are, and that they differ.
        ({"tests": [0.12]}, f"{P}.tests: at least 3 values: fewer tell no scatter"),
        ({"tests": []}, f"{P}.tests: at least 3 values"),
        ({"tests": [0.12, 0.12, 0.12]}, "tests that are all equal tell no scatter"),
        ({"tests": "single.csv"}, f"at least 3 tests, {NO_SCATTER} (given: '1 test')"),
        ({"tests": "two.csv"}, f"at least 3 tests, {NO_SCATTER} (given: '2 tests')"),
        ({"tests": "equal.csv"}, "equal.csv, thread: values that differ: all 3 are equal"),
        ({"mean": 0.13, "cov": 0.1, "tests": 2}, f"{P}.tests: a whole number from 3 to"),
        ({"mean": 0.13, "cov": 0.1, "as_good_as": 0}, f"{P}.as_good_as: a whole number from 3 to"),
        ({"mean": 0.13, "cov": 0.1, "tests": 2.5}, "a whole number"),
        (
            {"law": "gumbel", "mean": 0.13, "cov": 0.1, "tests": 10_001},
            f"{P}.tests: at most 10,000 tests of a gumbel law",
        ),
        # What the values are.
        ({"tests": "text.csv"}, "text.csv, line 4, thread: a number; leave the cell empty"),
        (
            {"tests": "negative.csv"},
            "negative.csv, line 3, thread: a quantity that is above 0 (given: '-0.13')",
        ),
        ({"tests": [0.12, -0.13, 0.14]}, f"{P}.tests[2]: a quantity that is above 0"),
        ({"tests": [0.12, True, 0.14]}, f"{P}.tests[2]: "),
        (
            {"tests": "found.csv", "column": "torque"},
            "found.csv, line 2, torque: a ratio is wanted (none, or %); 'N·m' is another dimension",
        ),
        # Where they are.
        (
            {"tests": "found.csv", "column": "thraed"},
            f"{P}.column: a column of found.csv: 'lot', 'lubricant', 'thread', 'bearing', "
            "'torque', 'note'; nearest: 'thread' (given: 'thraed')",
        ),
        (
            {"tests": "found.csv"},
            f"{P}.column: missing; one of lot, lubricant, thread, bearing, torque, note",
        ),
        ({"tests": "found.csv", "column": 3}, f"{P}.column: a name, as text (given: 3)"),
        (
            {"tests": "found.csv", "column": "thread", "lot": "lots"},
            f"{P}.lot: a column of found.csv",
        ),
        ({"tests": "found.csv", "column": "thread", "lot": 3}, f"{P}.lot: a name, as text"),
        (
            {"tests": "found.csv", "column": "thread", "where": {"lubricand": "oil"}},
            "nearest: 'lubricant' (given: 'lubricand')",
        ),
        (
            {"tests": "found.csv", "column": "thread", "where": {"lubricant": "wax"}},
            f"{P}.where: a group that is not empty; the column 'lubricant' has 'oil' (3), "
            "'grease' (3) (given: 'lubricant = wax')",
        ),
        (
            {"tests": "found.csv", "column": "thread", "where": {"lubricant": ["oil"]}},
            f"{P}.where.lubricant: a word of the column",
        ),
        (
            {"tests": "found.csv", "column": "thread", "where": "oil"},
            f"{P}.where: a table of keys (given: 'oil')",
        ),
        ({"tests": "missing.csv"}, "a CSV file that can be read: No such file or directory"),
        ({"tests": "data"}, "it is no regular file"),
        ({"tests": "latin.csv"}, "a CSV file in UTF-8 ('CSV UTF-8' in a spreadsheet's list"),
        ({"tests": "../found.csv"}, "in the folder of the case file or below it"),
        ({"tests": "/etc/passwd"}, "in the folder of the case file or below it"),
        # Laws.
        ({"law": "uniform", "tests": "data/one.csv"}, f"{P}.law: one of normal, lognormal, weib"),
        (
            {"law": "beta", "tests": [0.1, 0.2, 0.3]},
            f"where tests stand behind it: the ends of a beta law {JUDGEMENT} (given: 'beta')",
        ),
        (
            {"law": "uniform", "low": 0.1, "high": 0.2, "as_good_as": 8},
            f"the ends of a uniform law {JUDGEMENT}",
        ),
        (
            {"law": "tabulated", "tests": "data/one.csv"},
            "a tabulated law is its values, and says nothing of how sure they make us",
        ),
        (
            {"law": "constant", "value": 0.1, "tests": 8},
            "a constant has no scatter to be known",
        ),
        (
            {"law": "weibull", "shape": 9, "scale": 0.1, "location": 0.02, "tests": 8},
            f"{P}.tests: nothing beside a weibull law that does not begin at 0",
        ),
        (
            {"law": None, "tests": "data/one.csv"},
            f"{P}.law: missing; law of the quantity: one of 'normal'",
        ),
        # Keys that exclude each other.
        (
            {"mean": 0.13, "cov": 0.1, "tests": 8, "as_good_as": 8},
            f"{P}.as_good_as: nothing beside tests: it is for a law that none stand behind",
        ),
        ({"tests": THREAD, "as_good_as": 8}, f"{P}.as_good_as: unknown key"),
        ({"tests": THREAD, "column": "thread"}, f"{P}.column: unknown key"),
        ({"tests": "data/one.csv", "mean": 0.13}, f"{P}.mean: unknown key"),
        (
            {"mean": 0.13, "cov": 0.1, "test_price": 40},
            f"{P}.test_price: nothing where no tests stand behind the law",
        ),
        ({"tests": THREAD, "test_price": -1}, f"{P}.test_price: a ratio at least 0"),
        # Lots and errors.
        (
            {"tests": "lone lots.csv", "column": "thread", "lot": "lot"},
            f"{P}.tests: scatter within lots takes a lot of two tests or more; each has one",
        ),
        (
            {
                "tests": "found.csv",
                "column": "thread",
                "lot": "lubricant",
                "where": {"lubricant": "oil"},
            },
            f"{P}.tests: scatter between lots takes two lots or more, not 1",
        ),
        (
            {
                "tests": "found.csv",
                "column": "thread",
                "lot": "lot",
                "shared": {"by": "lot", "fraction": 0.3},
            },
            f"{P}.shared: remove it: the lots of the tests tell what lots have in common",
        ),
        (
            {"law": "weibull", "tests": "found.csv", "column": "thread", "lot": "lot"},
            f"{P}.tests: a lot column goes with a normal or lognormal law alone",
        ),
        (
            {"law": "weibull", "tests": THREAD, "measuring": {"sd": 0.001}},
            f"{P}.measuring: nothing: an error is taken out of normal and lognormal laws alone",
        ),
        ({"tests": THREAD, "measuring": 0.1}, f"{P}.measuring: a table of keys (given: 0.1)"),
        ({"tests": THREAD, "measuring": {"var": 1}}, f"{P}.measuring: {{ sd = ... }} in the unit"),
        ({"tests": THREAD, "measuring": {"sd": 0.1, "cov": 0.1}}, f"{P}.measuring: {{ sd = "),
        ({"tests": THREAD, "measuring": {"sd": -1}}, f"{P}.measuring.sd: a ratio above 0"),
        (
            {"tests": THREAD, "measuring": {"sd": 2.0}},
            f"{P}.tests: the scatter seen is far smaller than the measuring error stated",
        ),
    ],
)
def test_one_plain_problem(refused, given, problem):
    stated = {**LAW, **given}
    (words,) = refused({key: value for key, value in stated.items() if value is not None})
    assert problem in words


@pytest.mark.parametrize(
    ("given", "problem"),
    [
        ({"tests": "mixed.csv"}, "mixed.csv, line 3, torque: a torque needs a unit"),
        ({"tests": "mixed.csv", "unit": "N·m"}, "mixed.csv, torque: units in all cells or in none"),
        ({"tests": ["84 N·m", "62 kN", "85 N·m"]}, "'kN' is another dimension (given: '62 kN')"),
    ],
)
def test_units_that_do_not_fit(refused, given, problem):
    (words,) = refused({**NORMAL, **given}, "tightening.torque")
    assert problem in words


@pytest.mark.parametrize("kind", ["lognormal", "weibull"])
def test_a_logarithm_of_nothing(refused, kind):
    # A relaxation may be none.
    (words,) = refused({"law": kind, "tests": [0.0, 0.05, 0.03]}, "settling.relaxation")
    assert f"law: normal or gumbel: a {kind} law has no value of 0 or below" in words


def test_a_temperature_has_no_cov(refused):
    tests = {**NORMAL, "tests": ["60 degC", "62 degC", "65 degC"], "measuring": {"cov": "1 %"}}
    states = [{"name": "hot", "fastener": tests, "clamped": "60 degC"}]
    (words,) = refused(
        [{"material": "steel", "thickness": "32 mm"}],
        "clamped",
        temperature={"assembly": "20 degC", "state": states},
        joint=None,
    )
    assert words.startswith("temperature.state[1].fastener.measuring.cov: sd in K: a cov of a temp")


def test_every_problem_at_once_each_with_its_path(refused):
    words = refused(
        {**LAW, "tests": [0.12, "x", -0.1, "3 kN"]},
        **{
            "friction.bearing": {**LAW, "tests": "negative.csv", "test_price": -1},
            "tightening.tool": {**NORMAL, "tests": "missing.csv"},
        },
    )
    assert sorted(each.partition(": ")[0] for each in words) == [
        "friction.bearing.test_price",
        "friction.thread.tests[2]",
        "friction.thread.tests[3]",
        "friction.thread.tests[4]",
        "negative.csv, line 3, thread",
        "tightening.tool.tests",
    ]


def test_very_many_problems_are_cut_off(refused):
    words = refused(
        {**LAW, "tests": ["x"] * 190}, **{"friction.bearing": {**LAW, "tests": ["x"] * 190}}
    )
    assert 190 < len(words) <= 201


def test_tests_of_extremes_are_not_endless(refused, monkeypatch):
    monkeypatch.setattr("preloadmc.case_file.law_of_tests.MOST_EXTREMES", 5)
    (words,) = refused({"law": "weibull", "tests": THREAD})
    assert words.startswith("friction.thread.tests: at most 5 tests of a weibull law: with more, ")


def test_a_file_that_is_too_long(refused, monkeypatch):
    monkeypatch.setattr("preloadmc.case_file.named_tests.LARGEST_RECORDS", 20)
    (words,) = refused({**LAW, "tests": "data/one.csv"})
    assert words.startswith("friction.thread.tests: a CSV file of at most 20 bytes")


SCATTER = {
    "friction.thread": {**LAW, "tests": "found.csv", "column": "thread", "test_price": 40},
    "friction.bearing": {**LAW, "tests": "data/one.csv"},
    "requirement.allowed_under": "1 %",
    "requirement.allowed_over": "1 %",
}


def test_the_files_belong_to_the_case(make_case, files):
    case = make_case(SCATTER)
    assert case.files == {"joint.toml": case.text, "found.csv": RECORDS, "data/one.csv": ONE}
    assert list(case.tested) == ["friction.thread", "friction.bearing"]
    assert case.unknowns == 4
    assert make_case({"friction.bearing": SCATTER["friction.bearing"]}).tables == {
        "data/one.csv": ONE
    }


def test_alternatives_and_suspects_may_know_a_law_from_tests(make_case, files):
    tested = {"thread": SCATTER["friction.thread"]}
    case = make_case(
        {
            "friction.thread": {**LAW, "mean": 0.13, "cov": "12 %"},
            "friction.bearing": {**LAW, "mean": 0.13, "cov": "12 %"},
            "alternative": [{"name": "tested", "friction": tested}],
            "evidence": [
                {"fastener": 1, "kind": "residual preload", "value": "24 kN", "sd": "2 kN"}
            ],
            "suspect": [
                {"library": "dry thread"},
                {"name": "other", "prior": 1, "friction": {"bearing": SCATTER["friction.bearing"]}},
            ],
        }
    )
    (alternative,) = case.alternatives
    assert case.tested == {}
    assert list(alternative.tested) == ["friction.thread"]
    assert alternative.laws["friction.bearing"] == case.laws["friction.bearing"]
    suspect = next(each for each in case.investigation.suspects if each.name == "other")
    assert list(suspect.case.tested) == ["friction.bearing"]
    assert set(case.files) == {"joint.toml", "found.csv", "data/one.csv"}
    text = as_found(case, suspect, {}, "inputs").text
    assert 'tests = "inputs/data/one.csv"' in text


def test_an_alternative_may_state_a_law_without_its_tests(make_case, files):
    plain = {**LAW, "mean": 0.13, "cov": "12 %"}
    case = make_case(
        {**SCATTER, "alternative": [{"name": "as said", "friction": {"thread": plain}}]}
    )
    (alternative,) = case.alternatives
    assert list(alternative.tested) == ["friction.bearing"]


def test_a_problem_in_an_alternative_names_it(refused):
    wrong = {"thread": {**LAW, "tests": "missing.csv"}}
    (words,) = refused(0.12, alternative=[{"name": "tested", "friction": wrong}])
    assert words.startswith("alternative[1].friction.thread.tests: a CSV file that can be read")


def call(*arguments):
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


# One quantity that scatters, so that a run is short.
FACTOR = {**LAW, "tests": "data/factors.csv", "column": "K", "test_price": 40}
SHORT = {
    "friction": {"nut_factor": FACTOR},
    "requirement.allowed_under": "20 %",
    "requirement.allowed_over": "1 %",
}


def test_check_tells_the_tests_and_copies_of_the_files_are_the_same_case(
    write_case, files, tmp_path
):
    case = load_case(write_case(SHORT))
    checked = call("check", case.source)
    assert checked.exit_code == 0
    assert "4 tests (data/factors.csv, K)" in " ".join(checked.stdout.split())
    for name, text in case.files.items():
        copy = tmp_path / "inputs" / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_text(text, encoding="utf-8")
    (tmp_path / "joint.toml").unlink()
    shutil.rmtree(tmp_path / "data")
    again = load_case(tmp_path / "inputs" / "joint.toml")
    assert (again.laws, again.sha256) == (case.laws, case.sha256)
    assert call("check", again.source).stdout == checked.stdout


@pytest.mark.slow
def test_a_report_takes_the_files_along(write_case, files, tmp_path, monkeypatch):
    case = write_case(SHORT)
    folder = tmp_path / "report"
    assert call("run", case, "--samples", "500", "--out", folder).exit_code == 0
    copy = folder / "inputs" / "data" / "factors.csv"
    assert copy.read_text(encoding="utf-8") == FILES["data/factors.csv"]
    document = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    assert set(document["inputs"]) == {"joint.toml", "data/factors.csv"}
    # In the folder alone, the command that it names gives the same again.
    case.unlink()
    shutil.rmtree(tmp_path / "data")
    program, *words = document["repeat"].split()
    assert program == "preloadmc"
    monkeypatch.chdir(folder)
    again = call(*words, "--json", "-")
    assert json.loads(again.stdout)["outcomes"] == document["outcomes"]


def test_a_constant_is_no_law_of_tests(make_case):
    assert make_case().laws["friction.thread"] == Constant(0.12)


def test_tests_that_many_leave_the_law_that_was_fitted(law):
    known = law({**NORMAL, "mean": 0.13, "sd": 0.006, "tests": 1_000_000})
    # Student's law with a million degrees is the normal law.
    assert known.cdf(0.11) == pytest.approx(stats.norm.cdf(0.11, 0.13, 0.006), rel=1e-3)
