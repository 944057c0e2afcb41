import json
from pathlib import Path

import pytest


def test_a_ranking(call, case):
    result = call("rank", case, "--full")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].startswith("What dominates the variance of the residual preload: bearing ")
    assert lines[1].startswith("What dominates the misses: being too loose: bearing friction ")
    assert lines[2].startswith("Where they differ: ")
    assert lines[3:5] == ["", "Test joint"]
    assert "variance of the residual preload" in result.stdout
    assert "acting together" not in result.stdout
    assert "base samples   " not in result.stdout
    # The program's own time is told on the terminal only.
    assert " model calls, " in result.stdout
    assert result.stdout.index("- Results support, and do not replace") > 0


def test_what_may_be_asked(call, case):
    options = ("--of", "yield", "--group", "friction", "--second-order", "--convergence")
    result = call("rank", case, *options, "--units", "inch", "--full")
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith(
        "What dominates the variance of the margin of yield: friction as a whole 100 %"
    )
    assert "Total index [%] as the designs grow:" in result.stdout


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--of", "slip"), "'slip' cannot be ranked in this case; one of assembled, settled, "),
        (("--group", "tool"), "group 'tool': nothing of it scatters in this case; one of friction"),
    ],
)
def test_what_is_not_there(call, case, options, words):
    result = call("rank", case, *options)
    assert result.exit_code == 2
    assert result.stderr.startswith("preloadmc: ")
    assert words in result.stderr
    assert result.stdout == ""


def test_json(call, case):
    alone = call("rank", case, "--json", "-", "--seed", "3")
    assert alone.stderr == ""
    assert json.loads(alone.stdout)["seed"] == 3
    both = call("rank", case, "--json", "ranking.json", "--seed", "3")
    assert both.stdout.startswith("What dominates the variance")
    assert Path("ranking.json").read_text(encoding="utf-8") == alone.stdout


def test_a_report_folder(call, case):
    result = call("rank", case, "--out", "ranked", "--convergence", "--png")
    assert result.stdout.endswith("\nReport: ranked\n")
    names = {path.name for path in Path("ranked").iterdir()}
    figures = {
        f"{name}.{kind}"
        for name in ("rankings", "convergence", "ranking")
        for kind in ("png", "svg")
    }
    files = {"report.txt", "report.html", "report.json", "manifest.json", "inputs"}
    assert names == files | figures
    text = Path("ranked/report.txt").read_text(encoding="utf-8")
    assert text.startswith("What dominates the variance")
    page = Path("ranked/report.html").read_text(encoding="utf-8")
    assert ">preloadmc rank inputs/joint.toml --convergence<" in page
    before = {path: path.read_bytes() for path in Path("ranked").rglob("*.*")}
    # The same case and options replace it by the same, to the last byte.
    assert call("rank", case, "--out", "ranked", "--convergence", "--png").exit_code == 0
    assert {path: path.read_bytes() for path in Path("ranked").rglob("*.*")} == before
    # Without PNG too, as it is the same question: what is left is the same, but for the manifest.
    assert call("rank", case, "--out", "ranked", "--convergence").exit_code == 0
    after = {path: path.read_bytes() for path in Path("ranked").rglob("*.*")}
    assert {path.name for path in before} - {path.name for path in after} == {
        "rankings.png", "convergence.png", "ranking.png"
    }  # fmt: skip
    manifest = after.pop(Path("ranked/manifest.json"))
    assert set(json.loads(manifest)["files"]) == {
        path.relative_to("ranked").as_posix() for path in after
    }
    assert after.items() <= before.items()
    other = call("rank", case, "--out", "ranked")
    assert other.exit_code == 2
    assert "holds the report of another case or other options" in other.stderr
    assert call("rank", case, "--out", "ranked", "--overwrite").exit_code == 0
    assert not Path("ranked/convergence.svg").exists()


def test_a_run_ranks_the_variance_only_for_its_folder(call, case):
    alone = call("run", case, "--json", "-")
    assert json.loads(alone.stdout)["ranking"] is None
    result = call("run", case, "--out", "made")
    assert result.exit_code == 0
    document = json.loads(Path("made/report.json").read_text(encoding="utf-8"))
    assert document["ranking"]["inputs"][0]["name"] == "bearing friction"
    assert Path("made/rankings.svg").exists()


def test_nothing_scatters(call, write_case):
    result = call("rank", write_case())
    assert result.exit_code == 2
    assert "nothing in this case scatters, so there is nothing to rank" in result.stderr


def test_what_scatters_does_not_reach_the_preload(call, write_case):
    strength = {"law": "normal", "mean": "950 MPa", "cov": "4 %"}
    result = call("rank", write_case({"fastener.yield_strength": strength}))
    assert result.exit_code == 1
    assert result.stderr.startswith("preloadmc: the quantity does not vary")
