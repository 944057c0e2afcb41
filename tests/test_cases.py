"""Every shipped case: reads, is explained, runs and is ranked."""

from pathlib import Path

import pytest

from preloadmc import check, load_case, rank, run
from preloadmc.report.text.case import check_text
from preloadmc.report.text.rank import rank_text
from preloadmc.report.text.run import run_text

CASES = sorted((Path(__file__).parent.parent / "cases").glob("*.toml"))


def test_cases_are_shipped():
    assert {path.stem for path in CASES} >= {
        "benchmark",
        "conveyor_bracket",
        "pump_cover",
        "sensor_lid",
    }


# Those that take more than some seconds; other tests run both too.
LONG = ("filter_cover", "tested_friction")


@pytest.mark.parametrize(
    "path",
    [
        pytest.param(path, marks=[pytest.mark.slow] if path.stem in LONG else [], id=path.stem)
        for path in CASES
    ],
)
def test_a_shipped_case(path):
    case = load_case(path)
    assert path.read_text(encoding="utf-8").startswith("# "), "a comment that teaches"
    assert case.title in check_text(check(case))
    result = run(case, samples=20_000)
    text = run_text(result, case.unit_system)
    assert text.startswith("How likely: ")
    for outcome in result.outcomes:
        probability = outcome.probability
        assert 0.0 <= probability.low <= probability.value <= probability.high <= 1.0
    for stage in result.preload:
        assert stage.sd > 0.0
        assert 0.0 < stage.quantile(0.01) < stage.quantile(0.99)
    assert "total [%]" in rank_text(rank(case, base_samples=256))
    assert not any("breaks" in warning for warning in result.warnings)


def test_the_case_of_the_speed_figures_has_seven_inputs():
    (path,) = [path for path in CASES if path.stem == "benchmark"]
    assert len(load_case(path).uncertain) == 7
