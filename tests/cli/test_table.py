"""`--table`: what is written, what is refused, and that it is refused before any sampling."""

import csv
import json
import subprocess
import sys
from pathlib import Path

import pytest


@pytest.fixture
def no_sampling(monkeypatch):
    """Let every run fail as soon as it begins."""

    def sample(*_, **__):
        raise AssertionError("sampled")

    monkeypatch.setattr("preloadmc.cli.run.run", sample)


def test_the_table_of_a_run_has_the_numbers_of_its_document(call, case):
    done = call("run", case, "--table", "run.csv", "--json", "run.json")
    assert (done.exit_code, done.stderr) == (0, "")
    document = json.loads(Path("run.json").read_text(encoding="utf-8"))
    with Path("run.csv").open(encoding="utf-8", newline="") as file:
        rows = {(row["kind"], row["name"]): row for row in csv.DictReader(file)}
    for name, outcome in document["outcomes"].items():
        row = rows["outcome", name]
        assert float(row["probability"]) == outcome["probability"]
        assert int(row["samples"]) == outcome["samples"]
        # Both sides of the window are judged: nothing is missing where both together are not.
        assert row["verdict"] == ("" if name == "outside_window" else outcome["verdict"])
        assert row["allowed"] == ("" if outcome["allowed"] is None else str(outcome["allowed"]))


@pytest.mark.parametrize("file", ["run.csv", "run.xlsx"])
def test_the_same_question_writes_the_same_bytes(call, case, file):
    written = []
    for _ in range(2):
        assert call("run", case, "--table", file, "--overwrite").exit_code == 0
        written.append(Path(file).read_bytes())
    assert written[0] == written[1]
    call("run", case, "--table", file, "--overwrite", "--seed", 8)
    assert Path(file).read_bytes() != written[0]


def test_a_plan_of_tests_is_a_table_too(call, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = call("fit", "--claim", "95 %", "--confidence", "95 %", "--table", "plan.csv")
    assert done.exit_code == 0
    with Path("plan.csv").open(encoding="utf-8", newline="") as file:
        (first, *_) = csv.DictReader(file)
    # 0.95^59 = 0.0485 is the first power below 5 %.
    assert (first["misses"], first["tests"]) == ("0", "59")


def test_nothing_is_overwritten_unless_asked(call, case, no_sampling):
    Path("run.csv").write_text("mine", encoding="utf-8")
    done = call("run", case, "--table", "run.csv")
    assert done.exit_code == 2
    assert "run.csv: exists; name another file, or replace it with --overwrite" in done.stderr
    assert Path("run.csv").read_text(encoding="utf-8") == "mine"


def test_all_problems_at_once_and_before_sampling(call, case, no_sampling):
    Path("run.json").write_text("mine", encoding="utf-8")
    done = call("run", case, "--json", "run.json", "--table", "nowhere/run.ods")
    assert done.exit_code == 2
    for words in (
        "3 problems with what is to be written",
        "run.json: exists",
        "run.ods: its folder does not exist",
        "run.ods: a table is written as .csv or .xlsx",
    ):
        assert words in " ".join(done.stderr.split())


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--json", "one.csv"), "one.csv: is where the JSON goes"),
        (("--out", "."), "one.csv: lies in the report folder"),
    ],
)
def test_a_table_has_a_place_of_its_own(call, case, no_sampling, more, words):
    done = call("run", case, "--table", "one.csv", *more)
    assert done.exit_code == 2
    assert words in done.stderr


def test_the_case_itself_is_never_written_over(call, write_case, scatter, tmp_path, no_sampling):
    case = write_case(scatter, "joint.csv")
    done = call("run", case, "--table", case, "--overwrite")
    assert done.exit_code == 2
    assert "which is read; name another file" in done.stderr


def test_without_openpyxl_the_message_says_what_to_install(call, case, no_sampling, monkeypatch):
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    done = call("run", case, "--table", "run.xlsx")
    assert done.exit_code == 2
    assert "pip install 'preloadmc[xlsx]'" in done.stderr


def test_explaining_a_case_imports_nothing_of_tables(case):
    code = (
        "import sys\n"
        "from preloadmc.cli.main import main\n"
        f"try: main(['check', {case!r}])\n"
        "except SystemExit: pass\n"
        "heavy = ('openpyxl', 'pandas', 'preloadmc.report.documents', 'preloadmc.report.tables')\n"
        "print([name for name in sys.modules if name.startswith(heavy)], file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("Test joint")
    assert done.stderr == "[]\n"
