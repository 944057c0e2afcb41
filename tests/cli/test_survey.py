"""`preloadmc survey` as a user meets it: registers, outputs, what is resumed and refused."""

import csv
import json
import shlex

import pytest

from preloadmc import __version__
from preloadmc.case_file.register import load_register
from preloadmc.report.unfinished import Unfinished

ROWS = (
    "joint;lot;tightening.torque [N·m];friction.thread.mean",
    "post 1;A;80;0,13",
    "post 2;A;70;0,13",
    "post 3;B;64;0,15",
    "post 4;B;heavy;0,15",
)


@pytest.fixture
def register(case, tmp_path):
    """A register of four rows, one of them wrong, beside its template."""
    path = tmp_path / "posts.csv"
    path.write_text("\n".join(ROWS) + "\n", encoding="utf-8")
    return path.name


@pytest.fixture
def survey(call, case, register):
    """Survey that register in this process, without runs of the worst joints."""
    return lambda *options: call(
        "survey", register, "--template", case, "--workers", 1, "--worst", 0, *options
    )


def begun_with(register, case):
    """What finished rows of the register depend on, as the command keeps it."""
    read = load_register(register, case)
    return {
        "program": __version__,
        "register": read.sha256,
        "template joint.toml": read.templates["joint.toml"].sha256,
        "--seed": 1,
        "--aim": False,
    }


def lines_of(path):
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def test_three_lines_come_first_and_a_wrong_row_stops_no_other(survey):
    shown = survey()
    assert (shown.exit_code, shown.stderr) == (0, "")
    answer = shown.stdout.partition("\n\n")[0].replace("\n  ", " ").splitlines()
    assert [line.partition(":")[0] for line in answer] == ["How many", "Which", "What to do"]
    assert "of 3 joints" in answer[0]
    assert "1 row was not judged" in answer[0]
    assert len(shown.stdout.splitlines()) <= 40


def test_the_folder_has_the_register_ranked_by_risk(survey, tmp_path):
    shown = survey("--out", "report")
    assert shown.exit_code == 0, shown.stderr
    rows = lines_of(tmp_path / "report" / "register.jsonl")
    assert [row["joint"] for row in rows] == ["post 3", "post 2", "post 1", "post 4"]
    with (tmp_path / "report" / "register.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert [row["joint"] for row in table] == [row["joint"] for row in rows]
    for row, cells in zip(rows[:3], table, strict=False):
        told = row["outcomes"]["under_preload"]["probability"]
        assert float(cells["under_preload.probability"]) == told
    assert "heavy" in table[3]["problems"]
    names = {path.name for path in (tmp_path / "report").iterdir()}
    assert names >= {"report.html", "report.txt", "report.json", "inputs"}
    copies = {path.name for path in (tmp_path / "report" / "inputs").iterdir()}
    assert copies == {"posts.csv", "joint.toml"}
    assert not (tmp_path / "report.unfinished").exists()


def test_the_report_repeats_itself(survey, call, tmp_path, monkeypatch):
    assert survey("--out", "report", "--seed", 5).exit_code == 0
    command = json.loads((tmp_path / "report" / "report.json").read_text(encoding="utf-8"))[
        "repeat"
    ]
    assert command == (
        "preloadmc survey inputs/posts.csv --template inputs/joint.toml --worst 0 --seed 5"
    )
    before = (tmp_path / "report" / "register.jsonl").read_text(encoding="utf-8")
    monkeypatch.chdir(tmp_path / "report")
    again = call(*shlex.split(command)[1:], "--workers", 1, "--out", tmp_path / "again")
    assert again.exit_code == 0, again.stderr
    after = (tmp_path / "again" / "register.jsonl").read_text(encoding="utf-8")
    # The template has another name from there.
    assert after.replace("inputs/joint.toml", "joint.toml") == before


def test_json_and_tables_on_their_own(survey, tmp_path):
    document = json.loads(survey("--json", "-", "--table", "joints.csv").stdout)
    assert document["counts"]["judged"] == 3
    assert document["expected"]["outside_window"]["value"] > 0.0
    with (tmp_path / "joints.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.DictReader(file))) == 4


def test_what_was_begun_is_finished(survey, case, register, tmp_path):
    assert survey("--out", "whole").exit_code == 0
    rows = lines_of(tmp_path / "whole" / "register.jsonl")
    with Unfinished.begin(tmp_path / "report", begun_with(register, case)) as store:
        store.add([{**row, "mark": "kept"} for row in rows if row["joint"] in ("post 1", "post 2")])
    refused = survey("--out", "report")
    assert refused.exit_code == 2
    assert "go on with --resume" in refused.stderr
    resumed = survey("--out", "report", "--resume")
    assert resumed.exit_code == 0, resumed.stderr
    found = lines_of(tmp_path / "report" / "register.jsonl")
    # Those that were finished are as they were kept, the others computed.
    assert [row.pop("mark", "") for row in found] == ["", "kept", "kept", ""]
    assert found == rows


@pytest.mark.parametrize(
    ("name", "added", "words"),
    [
        ("posts.csv", "post 5;;75;", "register: changed since the survey began"),
        ("joint.toml", "# new", "template joint.toml: changed since the survey began"),
    ],
)
def test_a_register_that_changed_is_not_resumed(
    survey, case, register, tmp_path, name, added, words
):
    with Unfinished.begin(tmp_path / "out", begun_with(register, case)) as store:
        store.add([{"key": "a"}])
    text = (tmp_path / name).read_text(encoding="utf-8")
    (tmp_path / name).write_text(f"{text}{added}\n", encoding="utf-8")
    refused = survey("--out", "out", "--resume")
    assert refused.exit_code == 2
    assert "cannot be resumed" in refused.stderr
    assert words in refused.stderr
    assert (tmp_path / "out.unfinished" / "rows.txt").read_text().endswith('{"key":"a"}\n')


def test_a_pattern_of_case_files(call, case, tmp_path):
    text = (tmp_path / case).read_text(encoding="utf-8")
    for name in ("a", "b"):
        (tmp_path / f"part {name}.toml").write_text(text, encoding="utf-8")
    shown = call("survey", "part *.toml", "--workers", 1, "--worst", 1, "--out", "report")
    assert shown.exit_code == 0, shown.stderr
    assert "of 2 joints" in shown.stdout
    document = json.loads((tmp_path / "report" / "report.json").read_text(encoding="utf-8"))
    assert document["repeat"].startswith(
        "preloadmc survey 'inputs/part a.toml' 'inputs/part b.toml'"
    )


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("posts.csv", "--resume"), "--resume: goes on with what is beside a report folder"),
        (("posts.csv", "--xlsx"), "--xlsx: of the register in a report folder"),
        (("posts.csv", "--cluster", "local", "--workers", "2"), "--cluster and --workers"),
        (("posts.csv", "joint.toml"), "a register and case files"),
        (("posts.csv", "posts.csv"), "2 registers"),
        (("joint.toml", "--template", "joint.toml"), "--template: of the rows of a table"),
        (("none*.toml",), "none*.toml: no file has such a name"),
        (("none.csv",), "none.csv"),
        (
            ("posts.csv", "--template", "joint.toml", "--resume", "--out", "r"),
            "no unfinished survey",
        ),
    ],
)
def test_what_is_refused(call, case, register, options, words):
    shown = call("survey", *options)
    assert shown.exit_code == 2
    assert words in shown.stderr
    assert shown.stdout == ""


def test_headings_that_are_no_paths_are_told_all_at_once(call, case, tmp_path):
    (tmp_path / "posts.csv").write_text("joint,tightening.torqe [N·m],Lot No.\na,80,7\n")
    shown = call("survey", "posts.csv", "--template", case)
    assert shown.exit_code == 2
    assert "2 problems" in shown.stderr
    assert "tightening.torque" in shown.stderr
