"""`preloadmc aim` as a user meets it."""

import json
from pathlib import Path

import pytest

from preloadmc.questions.aim.setting import Setting


def test_the_answer_comes_first(call, case):
    result = call("aim", case, "--full")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert [line.split(":")[0] for line in lines[:3]] == [
        "How likely",
        "What limits",
        "What to set",
    ]
    assert "model calls, " in result.stdout
    assert "Cautions:" in result.stdout


def test_json(call, case):
    alone = call("aim", case, "--json", "-", "--seed", "3")
    assert alone.stderr == ""
    document = json.loads(alone.stdout)
    assert (document["question"], document["seed"]) == ("aim", 3)
    setting = document["setting"]
    assert setting["verdict"] == "meets"
    low, high = setting["interval"]
    assert low <= setting["to_set"]["setting"] <= high
    assert [at["setting"] for at in setting["interval_limits"]] == [low, high]
    for at in (setting["to_set"], *setting["interval_limits"]):
        assert {"minimum preload", "maximum preload", "breaking in tightening"} <= {
            each["limit"] for each in at["limits"]
        }
    both = call("aim", case, "--json", "aim.json", "--seed", "3")
    assert both.stdout.startswith("How likely")
    assert Path("aim.json").read_text(encoding="utf-8") == alone.stdout
    again = call("aim", case, "--json", "aim.json")
    assert again.exit_code == 2
    assert "--overwrite" in again.stderr


def test_a_report_folder(call, case):
    result = call("aim", case, "--out", "report", "--units", "inch")
    assert result.exit_code == 0
    assert result.stdout.endswith("Report: report\n")
    assert {path.name for path in Path("report").iterdir()} == {
        "report.txt",
        "report.html",
        "report.json",
        "justification.html",
        "manifest.json",
        "inputs",
        "setting.svg",
    }
    text = Path("report/report.txt").read_text(encoding="utf-8")
    assert "lbf·ft" in text
    page = Path("report/report.html").read_text(encoding="utf-8")
    assert ">preloadmc aim inputs/joint.toml --units inch<" in page
    assert call("aim", case, "--out", "report", "--units", "inch").exit_code == 0
    other = call("aim", case, "--out", "report")
    assert other.exit_code == 2
    assert "other options" in other.stderr
    assert call("aim", case, "--out", "report", "--overwrite").exit_code == 0


def test_no_setting_is_a_result(call, write_case, scatter):
    """Seats that are crushed below what the minimum asks: exit code 0, and no setting to set."""
    layer = {"material": "steel", "thickness": "16 mm", "limiting_pressure": "500 MPa"}
    path = write_case({**scatter, "clamped": [layer, layer]})
    result = call("aim", path, "--quiet")
    assert (result.exit_code, result.stderr) == (0, "")
    assert len(result.stdout.splitlines()) == 3
    assert "What to set: no set torque meets every limit; it would take " in result.stdout
    document = json.loads(call("aim", path, "--json", "-").stdout)
    assert document["setting"]["to_set"] is None
    closed = document["setting"]["closed_by"]
    assert closed["low"]["limits"] == ["under_preload"]
    assert closed["high"]["limits"] == ["pressure under head", "pressure under nut"]
    misses = {
        each["limit"]
        for each in document["setting"]["least_missed"]["limits"]
        if each["verdict"] == "misses"
    }
    assert {"pressure under head", "pressure under nut"} <= misses


def test_nothing_scatters(call, write_case):
    result = call("aim", write_case())
    assert result.exit_code == 2
    assert "nothing in this case scatters, so there is nothing to aim for" in result.stderr


def test_a_wrong_curve_is_not_hidden(call, case, monkeypatch):
    moved = Setting.moved
    monkeypatch.setattr(Setting, "moved", lambda self, x, to: moved(self, x, 1.08 * to))
    result = call("aim", case)
    assert result.exit_code == 0
    answer = call("aim", case, "--quiet").stdout.splitlines()[2]
    assert answer.endswith(
        " Search and independent check disagree: the report has both, and no justification is made "
        "of them."
    )
    assert "DISAGREES" in result.stdout


@pytest.mark.parametrize("words", ["set", "scatter"])
def test_help(call, words):
    result = call("aim", "--help")
    assert result.exit_code == 0
    assert words in result.stdout
    assert "aim" in call("--help").stdout
