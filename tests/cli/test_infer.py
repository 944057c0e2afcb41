import json
import shutil
from pathlib import Path

import pytest

from preloadmc import load_case
from preloadmc.questions.infer import weighing

pytestmark = pytest.mark.usefixtures("named_alone")

REPOSITORY = Path(__file__).parent.parent.parent
FOUND = "fastener,kind,value,sd\n1,residual preload,24 kN,2 kN\n2,mark,not turned,\n"
SUSPECTS = [{"library": "dry thread"}, {"library": "transverse slip with rotation"}]


@pytest.fixture
def loosened(write_case, scatter, tmp_path, monkeypatch):
    (tmp_path / "found.csv").write_text(FOUND, encoding="utf-8")
    path = write_case({**scatter, "investigation": {"evidence": "found.csv"}, "suspect": SUSPECTS})
    monkeypatch.chdir(tmp_path)
    return path.name


def test_an_investigation(call, loosened):
    result = call("infer", loosened, "--full")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].startswith("Likely cause: dry thread ")
    assert lines[1].startswith("How sure: ")
    assert lines[2].startswith("What next: ")
    assert "Do not retighten, loosen or inspect a loaded or pressurised joint" in " ".join(lines)


def test_json(call, loosened):
    alone = call("infer", loosened, "--json", "-", "--seed", "3")
    assert (alone.exit_code, alone.stderr) == (0, "")
    document = json.loads(alone.stdout)
    assert (document["question"], document["seed"]) == ("infer", 3)
    assert sum(each["probability"] for each in document["suspects"]) == pytest.approx(1.0)
    again = call("infer", loosened, "--json", "found.json", "--seed", "3")
    assert Path("found.json").read_text(encoding="utf-8") == alone.stdout
    assert again.stdout.startswith("Likely cause: ")
    refused = call("infer", loosened, "--json", "found.json")
    assert refused.exit_code == 2
    assert "exists" in refused.stderr


def test_two_causes_at_once_are_weighed_without_being_asked(call, loosened):
    words = " ".join(call("infer", loosened, "--full").stdout.split())
    assert "10 %: chance beforehand that two suspects are at work together" in words


@pytest.mark.slow
def test_units(call, loosened):
    assert "24 kN ± 2 kN" in call("infer", loosened, "--full").stdout
    assert "5395 lbf" in call("infer", loosened, "--units", "inch", "--full").stdout


def test_a_report_folder(call, loosened):
    assert call("infer", loosened, "--out", "report").exit_code == 0
    names = {path.name for path in Path("report").iterdir()}
    assert {"report.txt", "report.html", "report.json", "manifest.json", "inputs"} <= names
    assert "as_found.toml" in json.loads(Path("report/manifest.json").read_text("utf-8"))["files"]
    assert call("check", "report/as_found.toml").exit_code == 0
    assert {"odds.svg", "fit-1.svg", "next-measurement.svg"} <= names
    assert Path("report/inputs/found.csv").read_text(encoding="utf-8") == FOUND
    # The same case again replaces it; other findings do not, unless asked.
    assert call("infer", loosened, "--out", "report").exit_code == 0
    Path("found.csv").write_text(FOUND.replace("24 kN", "25 kN"), encoding="utf-8")
    refused = call("infer", loosened, "--out", "report")
    assert refused.exit_code == 2
    assert "another case or other options" in refused.stderr
    assert call("infer", loosened, "--out", "report", "--overwrite").exit_code == 0


@pytest.mark.slow
def test_a_folder_is_a_case_of_its_own(call, loosened):
    call("infer", loosened, "--out", "report")
    first = Path("report/report.txt").read_text(encoding="utf-8")
    assert call("infer", "report/inputs/joint.toml", "--full").stdout == first


def test_bad_evidence_is_told_by_line(call, loosened):
    Path("found.csv").write_text(
        "fastener,kind,value\n1,mark,maybe\n2,residual preload,9\n", encoding="utf-8"
    )
    result = call("infer", loosened)
    assert result.exit_code == 2
    assert "2 problems" in result.stderr
    assert "found.csv, line 2, value: 'turned' or 'not turned'" in result.stderr
    assert "found.csv, line 3, value: a force needs a unit" in result.stderr


def test_a_case_without_evidence(call, case):
    result = call("infer", case)
    assert result.exit_code == 2
    assert "holds no evidence; add [[evidence]] and [[suspect]]" in result.stderr


def test_a_collapse_has_exit_code_1(call, loosened, monkeypatch):
    monkeypatch.setattr(weighing, "MOST_EVIDENCE_ERROR", 1e-9)
    monkeypatch.setattr(weighing, "_DOUBLINGS", 0)
    result = call("infer", loosened, "--out", "report")
    assert result.exit_code == 1
    assert "the samples collapse" in result.stderr
    assert not Path("report").exists()


@pytest.mark.slow
def test_the_shipped_case_runs_from_anywhere(call, tmp_path, monkeypatch):
    for name in ("loosened_cover.toml", "loosened_cover.csv"):
        shutil.copy(REPOSITORY / "cases" / name, tmp_path)
    monkeypatch.chdir("/")
    result = call("infer", tmp_path / "loosened_cover.toml")
    assert result.exit_code == 0
    assert result.stdout.startswith("Likely cause: paint under the head ")
    # It would clear the tool at once, or convict it.
    assert "What next: tool calibration on the tool" in result.stdout


def test_the_suspect_that_the_shipped_case_shows_as_a_comment_can_be_had(tmp_path):
    text = (REPOSITORY / "cases" / "loosened_cover.toml").read_text(encoding="utf-8")
    shutil.copy(REPOSITORY / "cases" / "loosened_cover.csv", tmp_path)
    before, mark, example = text.rpartition("# [[suspect]]")
    assert mark
    lines = [line.removeprefix("# ") for line in (mark + example).splitlines()]
    path = tmp_path / "cover.toml"
    path.write_text(before + "\n".join(lines), encoding="utf-8")
    own = load_case(path).investigation.suspects[-1]
    assert (own.name, own.prior) == ("shims left in", 0.5)
    assert own.changes == {"settling.embedding", "friction.joint"}


def test_other_commands_read_the_same_file(call, loosened):
    assert call("check", loosened).exit_code == 0
    assert call("run", loosened).exit_code == 0
