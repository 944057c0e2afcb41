"""The report of an investigation: what was found, in words and numbers that agree."""

import json
import math
from dataclasses import replace

import pytest

from preloadmc import infer
from preloadmc.case_file import Rivals
from preloadmc.report.documents.document import as_json
from preloadmc.report.documents.infer import infer_document
from preloadmc.report.text.cautions import CAUTIONS
from preloadmc.report.text.infer import INVESTIGATION_CAUTIONS, infer_text

LAW = {"law": "lognormal", "mean": 0.12, "cov": "12 %"}
HOT = {"law": "normal", "mean": "90 degC", "sd": "5 K"}
EVERYTHING = {
    "friction.thread": LAW,
    "friction.bearing": LAW,
    "joint": None,
    "clamped": [{"material": "steel", "thickness": "30 mm"}],
    "temperature.assembly": "20 degC",
    "temperature.state": [{"name": "hot", "fastener": HOT, "clamped": HOT}],
    "seat": {"paint": "5 %", "hardness": {"law": "normal", "mean": 180, "sd": 10}},
    "investigation": {"loose_below": "25 kN"},
    "evidence": [
        {"fastener": 1, "kind": "residual preload", "value": "24 kN", "sd": "2 kN"},
        {"fastener": 1, "kind": "tightening torque", "value": "62 N·m", "sd": "4 N·m"},
        {"fastener": 2, "kind": "loosening torque", "value": "below 60 N·m"},
        {"fastener": 2, "kind": "mark", "value": "turned", "selection": "random"},
        {"fastener": 2, "kind": "rotation", "value": "12 deg", "sd": "5 deg"},
        {"fastener": 1, "kind": "temperature", "value": "104 degC", "sd": "3 K"},
        {"fastener": 1, "kind": "hardness", "value": 171, "sd": 5},
        {"fastener": 3, "kind": "paint", "value": "not found"},
        {"kind": "loose count", "value": "2 of 6"},
        {"kind": "time in service", "value": "20 d"},
    ],
    "suspect": [
        {"library": "missed tightening"},
        {"library": "transverse slip with rotation", "rotation": {"time": "500 h"}},
        {"library": "larger embedding"},
    ],
}


@pytest.fixture(scope="module")
def everything(session_case):
    """Every kind of evidence, weighed for the suspects named alone: quicker by far."""
    none = Rivals((), (), None)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("preloadmc.questions.infer.question.load_rivals", lambda case: none)
        return infer(session_case(EVERYTHING), runs=2, particles=64)


def test_every_kind_of_evidence_is_shown_as_found(everything):
    text = infer_text(everything)
    for words in (
        "residual preload, fastener 1",
        "24 kN ± 2 kN",
        "below 60 N·m",
        "12 deg ± 5 deg",
        "104 degC ± 3 K",
        "171 ± 5",
        "not found",
        "loose count, below 25 kN",
        "2 of 6",
        "20 days",
    ):
        assert words in text
    inch = infer_text(everything, "inch")
    assert "219.2 degF ± 5.4 degF" in inch or "219 degF ± 5.4 degF" in inch


def test_the_answer_comes_first_and_the_cautions_last(everything):
    text = infer_text(everything)
    lines = text.splitlines()
    assert [line.split(":")[0] for line in lines[:3]] == [
        "Likely cause",
        "How sure",
        "What next",
    ]
    whole = " ".join(text.split())
    for caution in (*INVESTIGATION_CAUTIONS, *CAUTIONS):
        assert caution in whole
    assert max(len(line) for line in lines[3:]) <= 80


def test_each_suspect_shows_its_source(everything):
    whole = " ".join(infer_text(everything).split())
    for verdict in everything.leading:
        assert f"[{verdict.suspect.source}]" in whole
    assert "Kass and A. E. Raftery" in whole


def test_the_document_says_the_same(everything):
    document = json.loads(as_json(infer_document(everything)))
    assert len(document["evidence"]["findings"]) == 8
    assert document["evidence"]["counts"] == [{"loose": 2, "inspected": 6, "limit": 25e3}]
    assert document["evidence"]["service_time"] == 20 * 86400
    first, shown = document["suspects"][0], everything.suspects[0]
    assert first["name"] == shown.suspect.name
    assert first["probability"] == shown.probability
    assert first["error"] == shown.error
    assert [each["position"] for each in first["fit"]] == [fit.position for fit in shown.fit]
    assert first["bayes_factor_against_design"] == pytest.approx(math.exp(shown.log_bayes_factor))
    assert document["answer"] == infer_text(everything).splitlines()[:3]
    paths = {item["path"] for item in document["assumptions"]}
    assert "investigation.as_designed" in paths
    assert document["cautions"][0] == INVESTIGATION_CAUTIONS[0]


def test_factors_beyond_number(everything):
    far = replace(everything.suspects[0], log_bayes_factor=1000.0)
    result = replace(everything, suspects=(far, *everything.suspects[1:]))
    document = infer_document(result)
    assert document["suspects"][0]["bayes_factor_against_design"] is None
    assert document["suspects"][0]["log_bayes_factor"] == 1000.0
    assert "x 10^434" in infer_text(result)


@pytest.mark.slow
def test_selected_fasteners_are_marked(make_case):
    case = make_case(
        {
            "friction.thread": LAW,
            "friction.bearing": LAW,
            "evidence": [
                {
                    "fastener": 1,
                    "kind": "residual preload",
                    "value": "24 kN",
                    "sd": "2 kN",
                    "selection": "because loose",
                }
            ],
            "suspect": [{"library": "dry thread"}],
        }
    )
    result = infer(case, runs=2, particles=64)
    (line,) = [line for line in infer_text(result).splitlines() if line.endswith("because loose")]
    assert line.startswith("residual preload, fastener 1")
    assert infer_document(result)["evidence"]["findings"][0]["because_loose"]


@pytest.mark.usefixtures("named_alone")
def test_a_certain_case_has_no_inputs_to_show(make_case):
    case = make_case({"evidence": EVERYTHING["evidence"][:1]})
    result = infer(case, runs=2)
    text = infer_text(result)
    assert "input of this lot" not in text
    assert "No further measurement could tell" in text
    assert "the joint as designed does not make such findings" in text
