import json
from pathlib import Path

import pytest

CHANGE = [{"name": "better tool", "tightening": {"tool": {"law": "normal", "cov": "1 %"}}}]


@pytest.fixture
def with_alternative(write_case, scatter, tmp_path, monkeypatch):
    path = write_case({**scatter, "name": "as today", "alternative": CHANGE})
    monkeypatch.chdir(tmp_path)
    return path.name


def test_a_comparison(call, with_alternative):
    result = call("compare", with_alternative, "--seed", "3")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("How likely: given these laws, of joints end outside")
    assert '"better tool" changes:' in result.stdout


def test_json(call, with_alternative):
    alone = call("compare", with_alternative, "--json", "-")
    assert alone.stderr == ""
    document = json.loads(alone.stdout)
    assert document["question"] == "compare"
    assert [each["name"] for each in document["alternatives"]] == ["as today", "better tool"]
    both = call("compare", with_alternative, "--json", "found.json", "--threads", "1")
    assert both.stdout.startswith("How likely: ")
    assert Path("found.json").read_text(encoding="utf-8") == alone.stdout


def test_a_report_folder(call, with_alternative):
    result = call("compare", with_alternative, "--out", "report", "--precision", "20 %")
    assert result.exit_code == 0
    assert result.stdout.endswith("\nReport: report\n")
    names = {path.name for path in Path("report").iterdir()}
    assert {"report.txt", "report.html", "report.json", "case.toml", "justification.txt"} <= names
    assert {"preloads.png", "preloads.svg", "control_1.png"} <= names
    page = Path("report/report.html").read_text(encoding="utf-8")
    assert ">preloadmc compare case.toml --precision 0.2<" in page
    # of the same case and options it is replaced, of others refused
    assert (
        call("compare", with_alternative, "--out", "report", "--precision", "20 %").exit_code == 0
    )
    refused = call("compare", with_alternative, "--out", "report", "--precision", "10 %")
    assert refused.exit_code == 2
    assert "other options" in refused.stderr
    assert call("compare", with_alternative, "--out", "report", "--overwrite").exit_code == 0


def test_nothing_to_compare(call, case):
    result = call("compare", case)
    assert result.exit_code == 2
    assert "joint.toml: nothing to compare with; add [[alternative]] tables" in result.stderr


def test_units(call, with_alternative):
    call("compare", with_alternative, "--out", "inch", "--units", "inch")
    assert "preload (lbf)" in Path("inch/preloads.svg").read_text(encoding="utf-8")
