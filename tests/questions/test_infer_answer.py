"""The three plain lines of an investigation."""

import math
from dataclasses import replace

import pytest

from preloadmc.questions.infer.answer import chance_words, factor_words, infer_answer
from preloadmc.questions.infer.next_measurement import Candidate
from preloadmc.questions.infer.prior_sensitivity import PriorSensitivity
from preloadmc.questions.infer.question import infer
from preloadmc.questions.infer.records import OtherCause, Unnamed


@pytest.fixture
def result(make_case):
    stated = {"law": "normal", "mean": "40 kN", "sd": "4 kN"}
    case = make_case(
        {
            "friction": {"thread": 0.12},
            "fastener.property_class": None,
            "tightening": {"method": "stated scatter", "preload": stated},
            "evidence": [
                {"fastener": 1, "kind": "residual preload", "value": "37 kN", "sd": "2 kN"}
            ],
            "suspect": [
                {"name": "low", "tightening": {"preload": {**stated, "mean": "33 kN"}}},
                {"name": "lower", "tightening": {"preload": {**stated, "mean": "28 kN"}}},
            ],
        }
    )
    found = infer(case, runs=2, particles=64)
    return replace(found, other_cause=OtherCause(None, 0.0, ()))


def with_lead(result, lead):
    known = result.sensitivity
    return replace(result, sensitivity=PriorSensitivity(known.low, known.high, known.even, lead))


def test_the_first_and_those_behind_it_are_named(result):
    cause = infer_answer(result)[0]
    first, second, *_ = result.suspects
    assert cause.startswith(f"Likely cause: not told apart: {first.suspect.name} ")
    assert f"; {second.suspect.name} " in cause
    clear = (replace(first, probability=0.7), replace(second, probability=0.2))
    cause = infer_answer(replace(result, suspects=(*clear, *result.suspects[2:])))[0]
    assert cause.startswith(f"Likely cause: {first.suspect.name} 70 ")
    assert f"; then {second.suspect.name} 20 " in cause
    assert cause.endswith("(among the suspects named).")


def test_how_sure_says_what_it_takes(result):
    assert "until its prior weight falls to 1/7.5" in infer_answer(with_lead(result, 7.46))[1]
    assert "no plausible prior changes that" in infer_answer(with_lead(result, 5e4))[1]
    assert "no plausible prior" in infer_answer(with_lead(result, math.inf))[1]


def fails(verdict):
    return replace(verdict, fit_check=replace(verdict.fit_check, chance_of_such_findings=0.005))


def test_a_leader_that_does_not_fit(result):
    first, *others = result.suspects
    unfit = replace(result, suspects=(fails(first), *others))
    sure = infer_answer(with_lead(unfit, 5e4))[1]
    assert "it does not explain what was found" in sure
    assert "no plausible prior" not in sure


def test_no_line_is_sure_where_nothing_fits(result):
    shown = [fails(each) if each.fit_check else each for each in result.suspects]
    cause, sure, following = infer_answer(
        with_lead(replace(result, suspects=tuple(shown), next_measurements=()), 5e4)
    )
    assert "NO SUSPECT EXPLAINS WHAT WAS FOUND (least bad: " in cause
    assert "no plausible prior" not in sure
    assert "look for a cause that is not on the list" in following


def left_out(result, log_factor):
    first = result.suspects[0]
    suspect = replace(first.suspect, name="soft foot", note="one foot stands hollow")
    return Unnamed(suspect, log_factor, 0.1, first.fit_check)


def test_a_suspect_left_out_that_fits_as_well_is_named(result):
    other = OtherCause(-3.0, 0.1, (left_out(result, -0.5),))
    cause, sure, following = infer_answer(
        with_lead(replace(result, other_cause=other, next_measurements=()), 5e4)
    )
    assert cause.endswith("'soft foot', not named, would fit as well.")
    assert "among those named alone" in sure
    assert "no plausible prior" not in sure
    assert "from soft foot; look for what one of them alone leaves" in following
    assert "one foot stands hollow" in following
    # One that is clearly behind is not: Bayes factor 1/4 is beyond "barely discriminating".
    behind = replace(result, other_cause=OtherCause(-3.0, 0.1, (left_out(result, -math.log(4.0)),)))
    assert "soft foot" not in " ".join(infer_answer(behind))


def test_laws_that_explain_nearly_anything_and_fit_better(result):
    sure = infer_answer(with_lead(replace(result, other_cause=OtherCause(2.0, 0.1, ())), 5e4))[1]
    assert "a cause may be missing" in sure
    assert "no plausible prior" not in sure


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [(0.18, 0.16, "not told apart"), (0.55, 0.45, "not told apart"), (0.7, 0.2, "low 70 %")],
)
def test_likely_is_said_of_a_clear_lead_alone(result, first, second, words):
    head, runner_up, *others = result.suspects
    changed = (
        replace(head, suspect=replace(head.suspect, name="low"), probability=first, error=0.0),
        replace(runner_up, probability=second, error=0.0),
        *others,
    )
    assert infer_answer(replace(result, suspects=changed))[0].startswith(f"Likely cause: {words}")


def test_what_next(result):
    candidate = Candidate("mark", "7", 0.05, 0.5, 0.01, 0.46)
    told = infer_answer(replace(result, next_measurements=(candidate,)))[2]
    assert told == "What next: mark on fastener 7 (46 % of the remaining uncertainty)."
    told = infer_answer(
        replace(result, next_measurements=(replace(candidate, share_of_what_is_open=0.001),))
    )[2]
    assert told == "What next: no further finding of these kinds would change the odds much."


@pytest.mark.parametrize(
    ("log_factor", "words"),
    [
        (0.0, "1.0"),
        (math.log(3.27), "3.3"),
        (math.log(5000.0), "5000"),
        (math.log(9.7e5), "1 x 10^6"),
        (-math.log(2e6), "1/2 x 10^6"),
        (math.inf, "beyond number"),
    ],
)
def test_factors_in_words(log_factor, words):
    assert factor_words(log_factor) == words


@pytest.mark.parametrize(
    ("probability", "error", "words"),
    [
        (0.05, 0.001, "5.0 ± 0.1 %"),
        (0.5, 0.0, "50 %"),
        (0.94, 0.02, "94 ± 2 %"),
        (0.9999, 0.0, "above 99.9 %"),
        (0.0, 0.0, "below 0.1 %"),
    ],
)
def test_chances_in_words(probability, error, words):
    assert chance_words(probability, error) == words
