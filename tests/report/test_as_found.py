"""The joint as found as a file of a report: how sure the cause is, and what is left out."""

import pytest

from preloadmc import load_case, run
from preloadmc.case_file import AS_FOUND
from preloadmc.questions.infer.fit_check import FitCheck
from preloadmc.questions.infer.records import InferResult, InputPosterior, OtherCause, Verdict
from preloadmc.report.text.as_found import as_found_text

LAW = {"law": "lognormal", "mean": 0.12, "cov": "12 %"}
DRY, MISSED = "dry thread", "missed tightening"


@pytest.fixture
def investigated(make_case):
    return make_case(
        {
            "friction.thread": LAW,
            "friction.bearing": LAW,
            "evidence": [
                {"fastener": 1, "kind": "residual preload", "value": "20 kN", "sd": "2 kN"}
            ],
            "suspect": [{"library": DRY}, {"library": MISSED}],
        }
    )


def result(case, *names, wider=None, inputs=()):
    """A result in which these suspects are shown in full, the first with these inputs after."""
    suspects = {each.name: each for each in case.investigation.suspects}
    verdicts = [
        Verdict(
            suspects[name], 0.3, 0.8 / place, 0.01, 0.0, 0.0, 0.0, 100.0, (),
            FitCheck(0.5, None), inputs if place == 1 else (),
        )
        for place, name in enumerate(names, 1)
    ]  # fmt: skip
    return InferResult(
        case=case,
        evidence=case.investigation.evidence,
        seed=1,
        particles=64,
        runs=2,
        suspects=tuple(verdicts),
        sensitivity=None,
        other_cause=OtherCause(wider, 0.0, ()),
        next_measurements=(),
        assumptions=(),
        warnings=(),
    )


def top_of(found):
    lines = as_found_text(found, "inputs").splitlines()
    return " ".join(line.removeprefix("# ") for line in lines if line.startswith("# "))


def test_the_file_is_a_case_with_the_laws_after_the_evidence(investigated, tmp_path):
    (dry,) = (each for each in investigated.investigation.suspects if each.name == DRY)
    law = dry.case.laws["friction.thread"]
    after = InputPosterior("friction.thread", law, 0.24, 0.28, 0.28**2 / 0.24, 0.4)
    # Of no use to a run: nothing of it may come into the file.
    angle = InputPosterior("rotation.angle", law, 0.1, 0.2, 0.3, 0.4)
    path = tmp_path / AS_FOUND
    found = result(investigated, DRY, inputs=(after, angle))
    path.write_text(as_found_text(found, "inputs"), encoding="utf-8")
    case = load_case(path)
    assert case.laws["friction.thread"].quantile(0.5) == pytest.approx(0.28, rel=1e-3)
    assert case.laws["friction.bearing"].mean == pytest.approx(0.20)  # of the shipped suspect
    assert not any(name.startswith("rotation") for name in case.laws)
    designed, held = (run(each).samples.moments["residual"].mean for each in (investigated, case))
    assert held < 0.7 * designed


def test_a_sure_cause_is_not_doubted(investigated):
    found = result(investigated, DRY)
    assert found.is_sure
    words = top_of(found)
    assert words.startswith(f"The joint as found, if the cause is '{DRY}' (80 % among")
    assert "NOT SURE" not in words
    assert "[rotation], [missed], [seat]" in words
    assert "the joint that was found is worse" not in words


def test_other_causes_are_told_where_several_lead(investigated):
    words = top_of(result(investigated, DRY, MISSED))
    assert "NOT SURE: other causes may be at work: 'missed tightening' (40 %). A cure" in words


def test_other_causes_are_told_where_one_that_nobody_named_is_likely(investigated):
    assert "NOT SURE: other causes may be at work. " in top_of(
        result(investigated, DRY, wider=100.0)
    )


def test_a_cause_that_a_run_cannot_show_is_said_to_be_missing(investigated):
    words = top_of(result(investigated, MISSED))
    assert "missed.preload_share, missed.share (the cause is not in this file)" in words


def test_an_input_whose_law_could_not_be_written_is_named(investigated):
    strength = investigated.laws["fastener.yield_strength"]
    after = InputPosterior("fastener.yield_strength", strength, 800.0, 850.0, 900.0, 0.4)
    words = top_of(result(investigated, DRY, inputs=(after,)))
    assert "as before here: fastener.yield_strength." in words


def test_alternatives_that_the_joint_cannot_have_are_said_to_be_left_out(make_case):
    named = [{"name": "as found", "tightening": {"torque": "90 N·m"}}]
    case = make_case(
        {
            "alternative": named,
            "evidence": [
                {"fastener": 1, "kind": "residual preload", "value": "20 kN", "sd": "2 kN"}
            ],
            "suspect": [{"library": DRY}],
        }
    )
    assert "The alternatives of the case are left out" in top_of(result(case, DRY))
