"""`preloadmc fit` as a user meets it."""

import json
import re
from pathlib import Path

import pytest

RECORDS = "lot;thread\n" + "".join(
    f"{lot};0,1{i}{j}\n" for j, lot in enumerate("ABC") for i in range(1, 5)
)


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A current folder with a file of tests."""
    (tmp_path / "friction.csv").write_text(RECORDS, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def shipped(case_files):
    """The shipped tests and the case that gives their geometry."""
    folder = case_files[0].parent
    return folder / "friction_tests.csv", folder / "conveyor_bracket.toml"


def test_the_answer_comes_first(call, here):
    result = call("fit", "friction.csv", "--full")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].startswith("Which law: thread lognormal, mean 0.1")
    assert lines[1].startswith("How sure: hardly a value lies below 0.0")
    assert lines[2].startswith("What to do: test more lots: 3 lots say little of how far lots ")
    assert lines[3:5] == ["", "friction.csv"]
    assert '\nthread = { tests = "friction.csv", column = "thread", law = "logn' in result.stdout
    assert max(map(len, (line for line in lines[3:] if " = " not in line))) <= 80
    quiet = call("fit", "friction.csv", "-q")
    assert quiet.stdout.splitlines() == lines[:3]


def test_the_shipped_tests_by_the_command_of_the_readme(call, shipped):
    tests, case = shipped
    result = call("fit", tests, "--case", case, "--where", "lubricant=oil")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("Which law: thread friction lognormal; ")
    assert "nut factor lognormal" in " ".join(result.stdout.split())
    assert re.search(r"\nthread friction +18 +lognormal +0\.127 +cov 9\.88 %", result.stdout)
    assert "How sure: 18 tests of each; " in result.stdout
    # Without the case the file does not say what thread it was.
    plain = call("fit", tests)
    assert "give thread and bearing diameter by --case CASE" in " ".join(plain.stdout.split())
    text = tests.read_text(encoding="utf-8")
    assert text.startswith("# Invented data")
    assert len(text.splitlines()) == 4 + 24


def test_json(call, here):
    alone = call("fit", "friction.csv", "--json", "-", "--at-least", "0.05", "--law", "normal")
    assert alone.stderr == ""
    document = json.loads(alone.stdout)
    assert document["question"] == "fit"
    assert document["lot"] == "lot"
    (quantity,) = document["quantities"]
    assert quantity["input"] == "friction.thread"
    assert quantity["law"] == "normal"
    assert quantity["case"]["tests"] == quantity["tests"] == 12
    assert quantity["tests_case"]["lot"] == "lot"
    assert quantity["lots"]["sizes"] == [4, 4, 4]
    assert quantity["limits_by_count"]["lower"] is None
    assert quantity["limits"]["two_sided"][0] < quantity["mean"]
    (claim,) = quantity["claims"]
    assert claim["limit"] == 0.05
    assert claim["shown_by_law"] == (claim["by_law"] >= 0.99)
    assert set(claim["by_other_laws"]) <= {"lognormal", "weibull", "gumbel"}
    both = call("fit", "friction.csv", "--json", "fit.json")
    assert both.stdout.startswith("Which law: ")
    assert json.loads(Path("fit.json").read_text(encoding="utf-8"))["quantities"]


def test_a_report_folder_repeats_itself(call, shipped, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    tests, case = shipped
    options = ("--case", case, "--where", "lubricant=oil", "--column", "thread friction")
    result = call("fit", tests, *options, "--out", "made")
    assert result.stdout.endswith("\nReport: made\n")
    names = {path.name for path in Path("made").rglob("*.*")}
    assert names == {
        "report.txt", "report.html", "report.json", "manifest.json", "fit_1.svg",
        "derived.csv", "friction_tests.csv", "conveyor_bracket.toml",
    }  # fmt: skip
    before = {path: path.read_bytes() for path in Path("made").rglob("*.*")}
    assert call("fit", tests, *options, "--out", "made").exit_code == 0
    assert {path: path.read_bytes() for path in Path("made").rglob("*.*")} == before
    other = call("fit", tests, *options, "--out", "made", "--claim", "95 %")
    assert other.exit_code == 2
    assert "holds the report of another case or other options" in other.stderr
    document = json.loads(Path("made/report.json").read_text(encoding="utf-8"))
    assert document["repeat"] == (
        "preloadmc fit inputs/friction_tests.csv --column 'thread friction' "
        "--where lubricant=oil --case inputs/conveyor_bracket.toml"
    )
    text = Path("made/report.txt").read_text(encoding="utf-8")
    # What follows from several columns is read again from its own table.
    again = call("fit", "made/derived.csv", "--column", "thread friction")
    assert again.stdout.partition("\nHow")[0].replace("\n  ", " ") == text.splitlines()[0]
    monkeypatch.chdir("made")
    repeated = call(
        "fit", "inputs/friction_tests.csv", "--column", "thread friction",
        "--where", "lubricant=oil", "--case", "inputs/conveyor_bracket.toml", "--full",
    )  # fmt: skip
    assert repeated.stdout == text


def test_a_report_does_not_lie_about_what_is_read(call, here):
    result = call("fit", "friction.csv", "--json", "friction.csv", "--overwrite")
    assert result.exit_code == 2
    assert "friction.csv: is friction.csv, which is read; name another file" in result.stderr


def test_how_many_tests_a_claim_takes(call, here):
    result = call("fit", "--claim", "95 %", "--confidence", "95 %", "--misses", "0")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith(
        "How many: 59 tests without a miss show that 95 % of all meet a limit.\n"
        "How sure: with 95 % confidence, "
    )
    # scipy.stats.binom.cdf(1, 93, 0.05) = 0.0500, of 92 tests 0.0521.
    assert re.search(r"\n1 +93\n", result.stdout)
    missed = call("fit", "--claim", "0.95", "--misses", "2", "--json", "-")
    document = json.loads(missed.stdout)
    # scipy.stats.binom.cdf(2, 124, 0.05) = 0.0494, of 123 tests 0.0514.
    assert (document["tests"], document["misses"], document["confidence"]) == (124, 2, 0.95)
    assert document["by_normal_law"][0] == {"distance": 2.0, "tests": 67}
    assert "124 tests with at most 2 missing" in document["answer"][0]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "FILE is missing; without it, --claim, --confidence and --misses"),
        (["--claim", "95 %", "--where", "a=b"], "FILE is missing"),
        (["--claim", "95 %", "--out", "made"], "--out: a report folder needs FILE"),
        (["--claim", "40 %"], "--claim 0.4: from 50 % to below 100 %"),
        (["--claim", "95 %", "--confidence", "100 %"], "--confidence 1: from 50 % to below"),
        (["friction.csv", "--misses", "1"], "--misses is for a claim without FILE"),
        (["friction.csv", "--where", "lot"], "--where 'lot': a column and a word, such as"),
        (["friction.csv", "--where", "lot=A", "--where", "lot=B"], "'lot=B': each column once"),
        (["friction.csv", "--where", "lot=D"], "the column 'lot' has 'A' (4), 'B' (4), 'C' (4)"),
        (["friction.csv", "--column", "thraed"], "nearest: 'thread' (given: 'thraed')"),
        (["friction.csv", "--lot", "batch"], "--lot: a column of friction.csv: 'lot', 'thread'"),
        (["none.csv"], "none.csv: 1 problem\n  - file: a CSV file that can be read: No such"),
        (["/dev/zero"], "a CSV file that can be read: it is no regular file"),
        (["latin.csv"], "file: text in UTF-8 ('CSV UTF-8' in a spreadsheet's list of formats)"),
        (["fr\x1b.csv"], "file: a file with a name of printable characters is needed"),
        (["large.csv"], "file: at most 64,000,000 bytes; take a sample of the rows"),
    ],
)
def test_what_is_refused(call, here, arguments, words):
    Path("latin.csv").write_bytes("torque [N·m]\n84\n85\n".encode("latin-1"))
    Path("fr\x1b.csv").write_text(RECORDS, encoding="utf-8")
    with Path("large.csv").open("wb") as file:
        file.truncate(64_000_001)
    result = call("fit", *arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert " ".join(words.split()) in " ".join(result.stderr.split())


def test_a_temperature_is_shown_in_the_unit_of_its_column(call, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    rows = "".join(f"{place};{'AB'[place % 2]};{20 + place / 10}\n" for place in range(8))
    (tmp_path / "room.csv").write_text(f"no.;Los;Temp [°C]\n{rows}", encoding="utf-8")
    result = call("fit", "room.csv", "--column", "Temp", "--full")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "20.35 °C" in result.stdout or "20.4 °C" in result.stdout
    # The word for a lot in another language is known too.
    assert "\nlot  tests" in result.stdout
