import json
import os
from pathlib import Path

import pytest

from preloadmc.cli import run as run_command
from preloadmc.errors import NotFiniteError
from preloadmc.report import files as report_files


def listed(folder="."):
    return sorted(path.name for path in Path(folder).iterdir())


def nothing_written(case):
    return listed() == [case]


def test_text_alone(call, case):
    result = call("run", case)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("How likely: given these laws, ")
    assert nothing_written(case)


@pytest.mark.slow
def test_all_of_it_where_asked(call, case):
    full = call("run", case, "--full")
    assert (full.exit_code, full.stderr) == (0, "")
    assert full.stdout.startswith(call("run", case, "--quiet").stdout)
    for words in ("\nAssumed, with source:\n", "\nCautions:\n", "Method: plain sampling"):
        assert words in full.stdout
        assert words not in call("run", case).stdout


def test_the_same_text_twice(call, case):
    assert call("run", case).stdout == call("run", case, "--threads", "3").stdout
    assert call("run", case).stdout != call("run", case, "--seed", "8").stdout


@pytest.mark.parametrize(
    ("options", "samples", "seed"),
    [
        ([], 5000, 7),
        (["--samples", "700", "--seed", "9"], 700, 9),
        (["--samples", "1_000"], 1000, 7),
        (["--precision", "40 %"], 131_072, 7),
        (["--precision", "0.4"], 131_072, 7),
    ],
)
def test_options_before_the_case(call, case, options, samples, seed):
    result = call("run", case, "--json", "-", *options)
    document = json.loads(result.stdout)
    assert (document["samples"], document["seed"]) == (samples, seed)


def test_json_on_standard_output_and_nothing_else(call, case):
    result = call("run", case, "--json", "-")
    document = json.loads(result.stdout)
    assert result.stdout.endswith("}\n")
    assert result.stderr == ""
    assert document["case"] == case
    assert nothing_written(case)


def test_a_json_file_is_not_replaced_unless_asked(call, case):
    first = call("run", case, "--json", "out.json")
    assert first.stdout.startswith("How likely")
    content = Path("out.json").read_text(encoding="utf-8")
    assert json.loads(content)["question"] == "run"
    mask = os.umask(0)
    os.umask(mask)
    assert Path("out.json").stat().st_mode & 0o777 == 0o666 & ~mask
    again = call("run", case, "--json", "out.json", "--seed", "8")
    assert again.exit_code == 2
    assert "out.json: exists; name another file, or replace it with --overwrite" in again.stderr
    assert Path("out.json").read_text(encoding="utf-8") == content
    assert call("run", case, "--json", "out.json", "--seed", "8", "--overwrite").exit_code == 0
    assert json.loads(Path("out.json").read_text(encoding="utf-8"))["seed"] == 8
    assert listed() == [case, "out.json"]


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (".", "is a folder; a file is needed"),
        ("none/out.json", "its folder does not exist"),
        ("joint.toml/out.json", "its folder does not exist"),
    ],
)
def test_where_json_cannot_go(call, case, target, words):
    result = call("run", case, "--json", target)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
    assert nothing_written(case)


def test_a_json_file_that_cannot_be_written(call, case):
    result = call("run", case, "--json", "/proc/out.json", "--samples", "500")
    assert result.exit_code == 2
    assert "out.json: cannot be written: " in result.stderr


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--samples", "0"], "0 is not in the range 1<=x<=200000000"),
        (["--samples", str(10**12)], "1000000000000 is not in the range 1<=x<=200000000"),
        (["--samples", "many"], "'many' is not a valid integer range"),
        (["--seed", "-1"], "-1 is not in the range"),
        (["--threads", "0"], "0 is not in the range"),
        (["--precision", "0"], "'0': a share above 0 and at most 1, such as 0.05 or '5 %'"),
        (["--precision", "110 %"], "a share above 0 and at most 1"),
        (["--precision", "5 kN"], "'5 kN': a ratio is wanted"),
        (["--fail-above", "nan"], "'nan': a finite number"),
        (["--samples", "10", "--precision", "0.1"], "--samples and --precision: give one of them"),
        (["--units", "imperial"], "'imperial' is not one of 'metric', 'inch'"),
        (["--sampels", "10"], "--sampels"),
    ],
)
def test_options_that_make_no_sense(call, case, options, words):
    result = call("run", case, *options)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in " ".join(result.stderr.split())
    assert nothing_written(case)


def test_fail_above(call, case):
    # A few per cent of these joints are too loose.
    passed = call("run", case, "--fail-above", "20 %", "--json", "-")
    failed = call("run", case, "--fail-above", "1e-2", "--json", "-")
    assert (passed.exit_code, failed.exit_code) == (0, 3)
    assert failed.stdout == passed.stdout
    document = json.loads(passed.stdout)
    high = document["outcomes"]["outside_window"]["high"]
    assert call("run", case, "--fail-above", f"{high!r}").exit_code == 0
    assert call("run", case, "--fail-above", f"{high * (1 - 1e-9)!r}").exit_code == 3


def test_fail_above_holds_for_the_joint_as_a_whole(
    call, write_case, scatter, tmp_path, monkeypatch
):
    """Twelve fasteners: some of them in many joints, while one alone passes."""
    monkeypatch.chdir(tmp_path)
    group = {"fasteners": 12, "allowed": {"any_under": 0.9}}
    path = write_case({**scatter, "sampling": {"samples": 2000, "seed": 7}, "group": group})
    result = call("run", path.name, "--fail-above", "25 %", "--json", "-")
    document = json.loads(result.stdout)
    assert document["outcomes"]["outside_window"]["high"] < 0.25
    assert document["group"]["outcomes"]["any_under"]["low"] > 0.25
    assert result.exit_code == 3
    assert call("run", path.name, "--fail-above", "1").exit_code == 0


def test_an_error_of_the_programs_own_leaves_no_trace(call, case, monkeypatch):
    def fails(*_, **__):
        raise NotFiniteError("a margin is not a finite number: yield")

    monkeypatch.setattr(run_command, "run", fails)
    result = call("run", case, "--json", "out.json", "--out", "report")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr == "preloadmc: a margin is not a finite number: yield\n"
    assert nothing_written(case)


@pytest.mark.parametrize(
    ("out", "words"),
    [
        ("joint.toml", "joint.toml: is a file; a folder is needed for the report"),
        ("joint.toml/report", "joint.toml is not a folder"),
        (".", ".: holds joint.toml, which is read; name another folder"),
        ("/proc/report", "/proc/report: cannot be written: "),
    ],
)
def test_where_a_report_cannot_go(call, case, out, words):
    result = call("run", case, "--out", out, "--overwrite")
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
    assert nothing_written(case)


def test_a_report_folder(call, case, monkeypatch):
    result = call("run", case, "--out", "reports/joint")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.endswith("report: --out FOLDER.\nReport: reports/joint\n")
    folder = Path("reports/joint")
    files = {path.name for path in folder.iterdir()}
    assert {"report.txt", "report.html", "report.json", "manifest.json", "inputs"} == {
        name for name in files if not name.endswith(".svg")
    } - {"justification.html"}
    assert "preload.svg" in files
    assert (folder / "inputs" / "joint.toml").read_bytes() == Path(case).read_bytes()
    report = (folder / "report.txt").read_text(encoding="utf-8")
    assert report.splitlines()[:3] == call("run", case, "--quiet").stdout.splitlines()
    assert "Cautions:" in report
    assert json.loads((folder / "report.json").read_text(encoding="utf-8"))["seed"] == 7
    # The rest needs no drawing.
    monkeypatch.setattr(report_files, "run_figures", lambda *_: ())
    # Same case and options: replaced; other options: refused, unless asked for.
    assert call("run", case, "--out", "reports/joint").exit_code == 0
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert ">preloadmc run inputs/joint.toml<" in page
    other = call("run", case, "--out", "reports/joint", "--seed", "8")
    assert other.exit_code == 2
    assert "holds the report of another case or other options" in other.stderr
    assert call("run", case, "--out", "reports/joint", "--seed", "8", "--overwrite").exit_code == 0
    assert json.loads((folder / "report.json").read_text(encoding="utf-8"))["seed"] == 8
    assert listed("reports") == ["joint"]
