"""`preloadmc fit --decay` as a user meets it."""

import csv
import json
from pathlib import Path

import pytest

RECORD = "cycles;preload [kN]\n0;40,0\n500;37,0\n2000;{last}\n"


@pytest.fixture
def here(tmp_path, monkeypatch):
    """A current folder with two records of one test each."""
    for name, last in (("one", "34,0"), ("two", "35,2")):
        (tmp_path / f"{name}.csv").write_text(RECORD.format(last=last), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def shipped(case_files):
    """The shipped records."""
    return case_files[0].parent / "vibration_tests.csv"


def test_the_shipped_records(call, shipped):
    result = call("fit", "--decay", shipped)
    assert (result.exit_code, result.stderr) == (0, "")
    text = " ".join(result.stdout.split())
    assert text.startswith(
        "What remains: wedge washer keeps 86 % of the initial preload after 2000 "
    )
    assert "limit too, and misses 'secured by DIN 25201-4' in some tests; all of this" in text
    assert "wedge washer secured by DIN 25201-4* 80 % 2000 5 of 7 missed" in text
    assert "*: value from memory; type in that of your edition by --threshold." in text
    lines = result.stdout.splitlines()
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 80
    full = call("fit", "--decay", shipped, "--full").stdout
    assert max(map(len, full.splitlines()[3:])) <= 80
    assert shipped.read_text(encoding="utf-8").startswith("# Invented records")


def test_typed_thresholds_are_not_from_memory(call, here):
    result = call("fit", "--decay", "one.csv", "two.csv", "--threshold", "good=84 % at 1500")
    assert result.exit_code == 0
    assert "memory" not in result.stdout
    assert "tested element good 84 % 1500 2 of 2" in " ".join(result.stdout.split())
    full = call("fit", "--decay", "one.csv", "--threshold", "good=84 % at 1500", "--full").stdout
    assert "good: typed in." in full
    assert "memory" not in full


def test_a_report_folder_repeats_itself(call, here, monkeypatch):
    options = ("--at", "1000", "--remainder", "90 %", "--claim", "95 %", "--law", "weibull")
    command = ("fit", "--decay", "one.csv", "two.csv", *options)
    result = call(*command, "--out", "made", "--table", "rows.csv", "--json", "made.json")
    assert (result.exit_code, result.stderr) == (0, "")
    names = {path.name for path in Path("made").rglob("*.*")}
    assert names == {
        "report.txt", "report.html", "report.json", "manifest.json", "decay.svg", "lifetimes.svg",
        "one.csv", "two.csv",
    }  # fmt: skip
    page = Path("made/report.html").read_text(encoding="utf-8")
    assert "seed" not in page
    document = json.loads(Path("made/report.json").read_text(encoding="utf-8"))
    assert document["question"] == "decay"
    assert set(document["inputs"]) == {"one.csv", "two.csv"}
    rows = list(csv.DictReader(Path("rows.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert [row["cycles"] for row in rows] == ["1000.0"]
    (found,) = json.loads(Path("made.json").read_text(encoding="utf-8"))["elements"]
    assert float(rows[0]["mean"]) == found["remaining"][0]["mean"] == pytest.approx(0.905)
    other = call("fit", "--decay", "one.csv", "two.csv", "--out", "made")
    assert "holds the report of another case or other options" in other.stderr
    text = Path("made/report.txt").read_text(encoding="utf-8")
    monkeypatch.chdir("made")
    words = document["repeat"].split()
    assert words[:4] == ["preloadmc", "fit", "inputs/one.csv", "inputs/two.csv"]
    again = call(
        "fit", "--decay", "inputs/one.csv", "inputs/two.csv", *options, "--full"
    )  # fmt: skip
    assert again.stdout == text


def test_what_does_not_go_together(call, here):
    for arguments, words in (
        (("--decay",), "FILES are missing"),
        (("--decay", "one.csv", "--column", "preload", "--seed", "1"), "--column and --seed: not"),
        (("one.csv", "two.csv"), "one FILE, not 2; several are for --decay"),
        (("one.csv", "--at", "500"), "--at, --remainder and --threshold: with --decay alone"),
        (("--decay", "one.csv", "--claim", "20 %"), "--claim 0.2: from 50 %"),
        (("--decay", "one.csv", "--table", "t.txt"), ".csv"),
        (("--decay", "none.csv"), "none.csv"),
    ):
        result = call("fit", *arguments)
        assert result.exit_code == 2
        assert words in result.stderr


def test_results_in_python(here):
    from preloadmc import decay, load_records

    result = decay([load_records("one.csv"), load_records("two.csv")])
    document = result.to_dict()
    assert document["elements"][0]["remaining"][0]["mean"] == pytest.approx(0.865)
    assert "What remains" in result._repr_html_()
