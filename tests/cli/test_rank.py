import json
from pathlib import Path


def test_a_ranking(call, case):
    result = call("rank", case)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "scatter of the residual preload" in result.stdout
    assert result.stdout.index("bearing friction") < result.stdout.index("thread friction")


def test_json(call, case):
    alone = call("rank", case, "--json", "-", "--seed", "3")
    assert alone.stderr == ""
    assert json.loads(alone.stdout)["seed"] == 3
    both = call("rank", case, "--json", "ranking.json", "--seed", "3")
    assert both.stdout.startswith("Test joint")
    assert Path("ranking.json").read_text(encoding="utf-8") == alone.stdout


def test_nothing_scatters(call, write_case):
    result = call("rank", write_case())
    assert result.exit_code == 2
    assert "nothing in this case scatters, so there is nothing to rank" in result.stderr


def test_what_scatters_does_not_reach_the_preload(call, write_case):
    strength = {"law": "normal", "mean": "950 MPa", "cov": "4 %"}
    result = call("rank", write_case({"fastener.yield_strength": strength}))
    assert result.exit_code == 1
    assert result.stderr.startswith("preloadmc: the quantity does not vary")
