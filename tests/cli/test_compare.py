import json
from pathlib import Path

import pytest

from preloadmc import load_case

CHANGE = [{"name": "better tool", "tightening": {"tool": {"law": "normal", "cov": "1 %"}}}]


@pytest.fixture
def with_alternative(write_case, scatter, tmp_path, monkeypatch):
    path = write_case({**scatter, "name": "as today", "alternative": CHANGE})
    monkeypatch.chdir(tmp_path)
    return path.name


def test_a_comparison(call, with_alternative):
    result = call("compare", with_alternative, "--seed", "3", "--full")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith(
        'How likely: given these laws, share of fasteners outside the preload window: "as today" '
    )
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
    assert {
        "report.txt",
        "report.html",
        "report.json",
        "manifest.json",
        "inputs",
        "justification.html",
    } <= names
    assert {"preloads.svg", "control_1.svg"} <= names
    page = Path("report/report.html").read_text(encoding="utf-8")
    assert ">preloadmc compare inputs/joint.toml --precision 0.2<" in page
    # of the same case and options it is replaced, of others refused
    assert (
        call("compare", with_alternative, "--out", "report", "--precision", "20 %").exit_code == 0
    )
    refused = call("compare", with_alternative, "--out", "report", "--precision", "10 %")
    assert refused.exit_code == 2
    assert "other options" in refused.stderr
    assert call("compare", with_alternative, "--out", "report", "--overwrite").exit_code == 0


@pytest.mark.slow
def test_each_at_its_best_setting(call, write_case, scatter, tmp_path, monkeypatch):
    asked = {"requirement.allowed_under": "1 %", "requirement.allowed_over": "1 %"}
    path = write_case({**scatter, **asked, "name": "as today", "alternative": CHANGE})
    monkeypatch.chdir(tmp_path)
    result = call("compare", path.name, "--aim", "--json", "found.json", "--out", "report")
    assert (result.exit_code, result.stderr) == (0, "")
    document = json.loads(Path("found.json").read_text(encoding="utf-8"))
    assert document["asked"]["aim"] is True
    # as aim finds it for a case of its own
    alone = write_case({**scatter, **asked, **{f"tightening.{key}": value for key, value in
                        CHANGE[0]["tightening"].items()}}, "alone.toml")  # fmt: skip
    call("aim", alone, "--json", "alone.json")
    found = json.loads(Path("alone.json").read_text(encoding="utf-8"))
    used = document["alternatives"][1]["setting"]
    assert used["best"] is True
    assert used["value"] == pytest.approx(found["setting"]["to_set"]["setting"])
    assert used["typed"] == pytest.approx(found["setting"]["present"]["setting"])
    assert used["value"] != used["typed"]
    page = Path("report/report.html").read_text(encoding="utf-8")
    assert ">preloadmc compare inputs/joint.toml --aim<" in page
    # a report of the settings stated does not replace that of the best ones
    refused = call("compare", path.name, "--out", "report")
    assert refused.exit_code == 2
    assert "other options" in refused.stderr


def test_the_best_setting_needs_scatter(call, write_case, tmp_path, monkeypatch):
    path = write_case({"alternative": [{"name": "more", "tightening": {"torque": "80 N·m"}}]})
    monkeypatch.chdir(tmp_path)
    assert call("compare", path.name).exit_code == 0
    refused = call("compare", path.name, "--aim")
    assert refused.exit_code == 2
    assert "scatters" in refused.stderr


def test_nothing_to_compare(call, case):
    result = call("compare", case)
    assert result.exit_code == 2
    assert "joint.toml: nothing to compare with; add [[alternative]] tables" in result.stderr


def test_alternatives_of_another_file_are_set_against_the_joint_as_found(
    call, write_case, scatter, tmp_path, monkeypatch
):
    (tmp_path / "found").mkdir()
    write_case({**scatter, "name": "as found"}, "found/as_found.toml")
    cures = write_case({"alternative": CHANGE}, "cures.toml").name
    monkeypatch.chdir(tmp_path)
    result = call("compare", cures, "--from", "found", "--out", "report")
    assert (result.exit_code, result.stderr) == (0, "")
    document = json.loads(Path("report/report.json").read_text(encoding="utf-8"))
    assert [each["name"] for each in document["alternatives"]] == ["as found", "better tool"]
    # The copy holds both, so that the report repeats itself alone.
    assert document["repeat"] == "preloadmc compare inputs/as_found.toml"
    copy = load_case("report/inputs/as_found.toml")
    assert (copy.name, [each.name for each in copy.alternatives]) == ("as found", ["better tool"])
    assert copy.sha256 == document["case_sha256"]
    # Nothing that is read is overwritten.
    for refused in (
        call("compare", cures, "--from", "found", "--json", cures, "--overwrite"),
        call("compare", cures, "--from", "found", "--out", "found", "--overwrite"),
    ):
        assert refused.exit_code == 2
        assert "read" in refused.stderr


def test_units(call, with_alternative):
    call("compare", with_alternative, "--out", "inch", "--units", "inch")
    assert "preload (lbf)" in Path("inch/preloads.svg").read_text(encoding="utf-8")
