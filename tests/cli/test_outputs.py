"""What a report folder holds of its inputs, the command in it, and outputs that meet inputs."""

import json
import re
import shlex
import subprocess
import sys
from html import unescape
from pathlib import Path

import pytest

from preloadmc.report import files as report_files

PROGRAM = [sys.executable, "-c", "from preloadmc.cli.main import main; main()"]
FOUND = "fastener,kind,value,sd\n1,residual preload,24 kN,2 kN\n2,mark,not turned,\n"
SUSPECTS = [{"library": "dry thread"}]
RUNDOWNS = "joint,torque\n" + "".join(
    f"{joint},{torque} N·m\n" for joint in ("hard", "soft") for torque in (88, 89, 90, 91, 92)
)


@pytest.fixture(autouse=True)
def no_drawing(monkeypatch):
    """Reports without figures: nothing here is about them."""
    for name in ("run_figures", "infer_figures"):
        monkeypatch.setattr(report_files, name, lambda *_: ())


@pytest.fixture
def loosened(write_case, scatter, tmp_path, monkeypatch):
    """A function that writes a case with findings in a file of the given name."""
    monkeypatch.chdir(tmp_path)

    def write(name):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(FOUND, encoding="utf-8")
        found = {"investigation": {"evidence": name}, "suspect": SUSPECTS}
        return write_case({**scatter, **found}, "my joint.toml").name

    return write


def repeated(folder):
    """Run the command of a report in its folder; all of its output."""
    command = json.loads((folder / "report.json").read_text(encoding="utf-8"))["repeat"]
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert command in [unescape(words) for words in re.findall(r"<pre[^>]*>([^<]*)</pre>", page)]
    program, *arguments = shlex.split(command)
    assert program == "preloadmc"
    done = subprocess.run(
        [*PROGRAM, *arguments, "--full"], cwd=folder, capture_output=True, text=True, check=True
    )
    assert done.stderr == ""
    return done.stdout


@pytest.mark.parametrize(
    "name",
    [
        "report.json",
        pytest.param("case.toml", marks=pytest.mark.slow),
        pytest.param("data/2026/found.csv", marks=pytest.mark.slow),
    ],
)
def test_findings_of_any_name_leave_the_report_whole(call, loosened, name, tmp_path):
    case = loosened(name)
    assert call("infer", case, "--out", "report", "--units", "metric").exit_code == 0
    folder = tmp_path / "report"
    assert (folder / "inputs" / name).read_text(encoding="utf-8") == FOUND
    assert (folder / "inputs" / case).read_bytes() == Path(case).read_bytes()
    document = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    assert document["question"] == "infer"
    assert set(document["inputs"]) == {case, name}
    assert document["repeat"] == "preloadmc infer 'inputs/my joint.toml' --units metric"
    # A folder that was moved elsewhere, without the files that it was made from.
    Path(case).unlink()
    (tmp_path / name).unlink()
    moved = folder.rename(tmp_path / "moved")
    assert repeated(moved) == (moved / "report.txt").read_text(encoding="utf-8")


@pytest.mark.slow
def test_a_run_on_a_case_with_tables_takes_them_along(call, write_case, scatter, tmp_path):
    (tmp_path / "tests").mkdir()
    table = tmp_path / "tests" / "rundowns.csv"
    table.write_text(RUNDOWNS, encoding="utf-8")
    tool = {"rundowns": "tests/rundowns.csv", "target": "90 N·m"}
    case = write_case({**scatter, "tightening.tool": tool})
    folder = tmp_path / "report"
    options = ["--samples", "700", "--seed", "9", "--out", folder]
    assert call("run", case, *options).exit_code == 0
    assert (folder / "inputs" / "tests" / "rundowns.csv").read_text(encoding="utf-8") == RUNDOWNS
    first = (folder / "report.txt").read_text(encoding="utf-8")
    assert repeated(folder).splitlines()[0] == first.splitlines()[0]
    # Another table is another case, though the case file is the same.
    assert call("run", case, *options).exit_code == 0
    table.write_text(RUNDOWNS.replace("88", "87"), encoding="utf-8")
    refused = call("run", case, *options)
    assert refused.exit_code == 2
    assert "holds the report of another case or other options" in refused.stderr
    assert call("run", case, *options, "--overwrite").exit_code == 0


def test_a_person_s_file_in_a_report(call, case, tmp_path):
    options = ["--samples", "500", "--out", "report"]
    assert call("run", case, *options).exit_code == 0
    Path("report/notes.txt").write_text("mine", encoding="utf-8")
    for more in ([], ["--overwrite"]):
        refused = call("run", case, *options, *more)
        assert (refused.exit_code, refused.stdout) == (2, "")
        assert "report: holds what is not of the report: notes.txt; move" in refused.stderr
    assert Path("report/notes.txt").read_text(encoding="utf-8") == "mine"


def test_the_result_is_shown_where_its_folder_can_no_longer_be_written(call, case, monkeypatch):
    options = ["--samples", "500", "--out", "report", "--json", "out.json"]
    assert call("run", case, *options[:4]).exit_code == 0

    def meanwhile(*_):
        Path("report/notes.txt").write_text("mine", encoding="utf-8")
        return ()

    monkeypatch.setattr(report_files, "run_figures", meanwhile)
    result = call("run", case, *options)
    assert result.exit_code == 1
    assert result.stdout.startswith("How likely: ")
    assert "Report: " not in result.stdout
    assert result.stderr.startswith("preloadmc: report: holds what is not of the report: notes.t")
    assert result.stderr.endswith("; written: out.json\n")
    assert json.loads(Path("out.json").read_text(encoding="utf-8"))["samples"] == 500


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--json", "joint.toml"], "joint.toml: is joint.toml, which is read"),
        (["--json", "link"], "link: is joint.toml, which is read"),
        (["--json", "hard"], "hard: is joint.toml, which is read"),
        (["--json", "./there/../joint.toml"], "which is read; name another file"),
        (["--json", "/dev/null"], "/dev/null: is a device, pipe or socket; a file is needed"),
        (["--json", "there/out.json", "--out", "there"], "lies in the report folder there, or"),
        (["--json", "new", "--out", "new/report"], "lies in the report folder new/report, or"),
        (["--out", "."], ".: holds joint.toml, which is read; name another folder"),
        (["--out", "around/.."], "holds joint.toml, which is read; name another folder"),
        (["--json", "x" * 300], "cannot be written: File name too long"),
        (["--out", "x" * 300], "cannot be written: File name too long"),
    ],
)
def test_outputs_that_meet_inputs_or_each_other(call, case, options, words):
    Path("link").symlink_to(case)
    Path("hard").hardlink_to(case)
    Path("there").mkdir()
    Path("around").mkdir()
    before = (Path(case).read_bytes(), sorted(Path().rglob("*")))
    result = call("run", case, *options, "--overwrite")
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
    assert (Path(case).read_bytes(), sorted(Path().rglob("*"))) == before


def test_findings_are_not_overwritten(call, loosened):
    case = loosened("data/found.csv")
    result = call("infer", case, "--json", "data/found.csv", "--overwrite")
    assert result.exit_code == 2
    assert "is data/found.csv, which is read; name another file" in result.stderr
    result = call("infer", case, "--out", "data", "--overwrite")
    assert result.exit_code == 2
    assert "data: holds data/found.csv, which is read; name another folder" in result.stderr
    assert Path("data/found.csv").read_text(encoding="utf-8") == FOUND


def test_png_is_of_the_figures_of_a_folder(call, case):
    result = call("run", case, "--png")
    assert result.exit_code == 2
    assert "--png: of the figures of a report folder; give --out too" in result.stderr
    assert call("run", "--help").stdout.count("--png") == 1
