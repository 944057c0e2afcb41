"""The JSON document: keys that a pipeline can rely on, numbers that JSON knows."""

import json
import math

import pytest

from preloadmc import __version__, rank, run
from preloadmc.report.documents.document import as_json
from preloadmc.report.documents.rank import rank_document
from preloadmc.report.documents.run import run_document
from preloadmc.report.text.cautions import CAUTIONS

SCATTER = {
    "friction.thread": {"law": "lognormal", "mean": 0.13, "cov": "12 %"},
    "friction.bearing": {"law": "lognormal", "mean": 0.13, "cov": "14 %"},
    "requirement.minimum_preload": "33 kN",
    "requirement.allowed_under": "1 %",
}


@pytest.fixture
def case(make_case):
    return make_case(SCATTER)


@pytest.fixture
def document(case):
    return json.loads(as_json(run_document(run(case))))


def test_the_head(case, document):
    assert document["schema"] == 1
    assert document["preloadmc"] == __version__
    assert document["case"] == case.source
    assert document["case_sha256"] == case.sha256
    assert (document["seed"], document["samples"]) == (7, 20_000)
    assert document["question"] == "run"


def test_an_outcome_never_travels_without_its_interval_method_and_cost(document):
    assert set(document["outcomes"]) == {"under_preload", "over_preload", "outside_window"}
    under = document["outcomes"]["under_preload"]
    assert set(under) >= {
        "probability",
        "low",
        "high",
        "confidence",
        "method",
        "samples",
        "model_calls",
        "misses",
        "beta",
        "per_million",
        "allowed",
        "verdict",
    }
    assert under["low"] < under["probability"] < under["high"]
    assert (under["method"], under["confidence"], under["model_calls"]) == ("plain", 0.95, 20_000)
    assert under["probability"] == under["misses"] / 20_000
    assert (under["allowed"], under["verdict"]) == (0.01, "misses")
    assert "bound" not in under


def test_preload_is_in_newtons(document):
    assert list(document["preload"]) == ["assembled", "settled", "residual"]
    assembled = document["preload"]["assembled"]
    assert set(assembled) >= {"mean", "sd", "p01", "p50", "p99", "unit"}
    assert assembled["unit"] == "N"
    assert 30e3 < assembled["p01"] < assembled["p50"] < assembled["p99"] < 60e3
    for name in ("p01", "p50", "p99"):
        assert assembled[f"{name}_low"] < assembled[name] < assembled[f"{name}_high"]


def test_what_dominates_the_misses(document):
    under = document["outcomes"]["under_preload"]["dominates"]
    assert [item["name"] for item in under["inputs"]] == ["bearing friction", "thread friction"]
    assert sum(item["share"] for item in under["inputs"]) == pytest.approx(1.0)
    first = under["inputs"][0]
    assert first["members"] == ["friction.bearing"]
    assert first["share_low"] < first["share"] < first["share_high"]
    assert 0.0 < first["mean_low"] < first["mean"] < first["mean_high"]
    assert first["sd_low"] < first["sd"] < first["sd_high"] < 1.0
    assert 0.0 < first["cosine"] < 1.0
    assert under["effective_misses"] > 100


def test_limits_ranking_assumptions_and_cautions(case):
    document = json.loads(as_json(run_document(run(case, ranking=True))))
    limits = {limit["limit"]: limit for limit in document["limits"]}
    assert limits["minimum preload"]["sides"] == ["under"]
    assert limits["minimum preload"]["governing_state"] == "settled"
    names = [item["name"] for item in document["ranking"]["inputs"]]
    assert names == ["bearing friction", "thread friction"]
    assert document["ranking"]["quantity"] == "residual preload"
    first = document["ranking"]["inputs"][0]
    assert first["members"] == ["friction.bearing"]
    assert first["first_low"] < first["first"] < first["first_high"]
    assert first["total_low"] < first["total"] < first["total_high"]
    shapley = document["ranking"]["shapley"]["inputs"]
    assert [item["name"] for item in shapley] == names
    assert sum(item["share"] for item in shapley) == pytest.approx(1.0)
    assert shapley[0]["low"] < shapley[0]["share"] < shapley[0]["high"]
    misses = document["ranking"]["misses"]
    assert misses["under_preload"] == document["outcomes"]["under_preload"]["dominates"]
    assert {"path", "value", "source"} == set(document["assumptions"][0])
    assert len(document["assumptions"]) == len(case.assumptions)
    assert document["cautions"] == list(CAUTIONS)
    assert "sampling error only" in document["intervals"]
    assert document["answer"][0].startswith("How likely: ")


def test_zero_misses_are_marked_as_a_bound(make_case):
    # The tool cannot bring the preload near either limit: no estimator finds a way to a miss.
    case = make_case({"tightening.tool": {"law": "uniform", "half_width": "1 %"}})
    document = json.loads(as_json(run_document(run(case))))
    under = document["outcomes"]["under_preload"]
    assert (under["probability"], under["low"], under["bound"]) == (0.0, 0.0, "upper")
    assert under["high"] == pytest.approx(3.69 / 20_000, rel=1e-3)
    # No number of JSON is infinite.
    assert under["beta"] is None
    assert document["ranking"] is None


def test_what_does_not_scatter_is_certain(make_case):
    document = json.loads(as_json(run_document(run(make_case({})))))
    under = document["outcomes"]["under_preload"]
    assert (under["probability"], under["high"], under["note"]) == (0.0, 0.0, "certain")
    assert "bound" not in under
    assert set(document["capability"].values()) == {None}


def test_a_ranking(case):
    document = json.loads(as_json(rank_document(rank(case, seed=3, base_samples=256))))
    assert (document["question"], document["seed"]) == ("rank", 3)
    ranking = document["ranking"]
    assert ranking["base_samples"] == 256
    assert ranking["replicates"] == 8
    assert ranking["model_calls"] == 4 * 256 * 8
    assert ranking["all_model_calls"] > ranking["model_calls"]
    assert ranking["order_not_settled"] == ranking["pairs"] == ranking["convergence"] == []
    assert document["answer"][0].startswith("What dominates the variance of the residual preload: ")
    asked = {"of": "residual", "groups": [], "second_order": False, "convergence": False}
    assert document["asked"] == asked


def test_a_ranking_with_all_that_can_be_asked(case):
    result = rank(
        case, of="yield", groups=["friction"], second_order=True, convergence=True, base_samples=256
    )
    document = json.loads(as_json(rank_document(result)))
    assert document["asked"] == {
        "of": "yield",
        "groups": ["friction"],
        "second_order": True,
        "convergence": True,
    }
    ranking = document["ranking"]
    assert ranking["quantity"] == "margin of yield"
    assert ranking["inputs"][0]["members"] == ["friction.thread", "friction.bearing"]
    assert [part["base_samples"] for part in ranking["convergence"]] == [64, 128, 256]
    # A group of several inputs has no shift of its own.
    group = ranking["misses"]["under_preload"]["inputs"][0]
    assert (group["share"], group["mean"], group["cosine"]) == (1.0, None, None)
    assert document["cautions"] == list(CAUTIONS)


def test_as_json_knows_no_nan():
    text = as_json({"a": math.nan, "b": [math.inf, 1.5], "c": {"d": -math.inf}, "e": "µm"})
    assert json.loads(text) == {"a": None, "b": [None, 1.5], "c": {"d": None}, "e": "µm"}
    assert "µm" in text
    assert text.endswith("}\n")


def test_the_same_document_for_the_same_case_and_seed(case):
    one, two = (as_json(run_document(run(case))) for _ in range(2))
    assert one == two
