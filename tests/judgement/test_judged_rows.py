"""Rows judged all at once: as one by one, and the same bits whichever stand beside them."""

from pathlib import Path

import numpy as np
import pytest

from preloadmc.case_file import load_case
from preloadmc.chance.laws import Constant
from preloadmc.judgement import rows_together
from preloadmc.judgement.rows import can_be_together, judge_cases, judged_alone
from preloadmc.judgement.verdicts import MEETS, MISSES
from preloadmc.questions.aim import Setting, case_at

CASES = Path(__file__).parents[2] / "cases"
SETTINGS = np.linspace(0.7, 1.3, 12)


def shipped(name):
    return load_case(CASES / f"{name}.toml")


def rows_of(name, settings=SETTINGS):
    case = shipped(name)
    return [case_at(case, f * Setting.of(case).present) for f in settings]


def told(judged):
    """All numbers of a row, in full."""
    found = judged.judgement
    return repr(
        [
            [(e.name, e.governing_state, e.probability, e.verdict) for e in found.outcomes],
            [(e.name, e.governing_state, e.probability, e.verdict) for e in found.limits],
            [(side, each.share, each.mean) for side, each in judged.misses.items()],
        ]
    )


@pytest.mark.parametrize(
    "name", ["drive_line_joint", pytest.param("crane_bracket", marks=pytest.mark.slow)]
)
def test_order_and_size_of_batches_change_no_bit(name):
    cases = rows_of(name)
    keys = [f"joint {n}" for n in range(len(cases))]
    whole = [told(found) for found, _ in judge_cases(cases, keys, seed=3)]
    order = np.random.default_rng(1).permutation(len(cases))
    for size in (1, 5):
        for start in range(0, len(cases), size):
            places = order[start : start + size]
            part = judge_cases([cases[n] for n in places], [keys[n] for n in places], seed=3)
            assert [told(found) for found, _ in part] == [whole[n] for n in places]


@pytest.mark.statistical
@pytest.mark.parametrize(
    "name",
    [
        "drive_line_joint",
        *(
            pytest.param(name, marks=pytest.mark.slow)
            for name in ("benchmark", "crane_bracket", "motor_flange", "securing_choice")
        ),
    ],
)
def test_rows_have_the_probabilities_and_verdicts_of_a_case_alone(name):
    cases = rows_of(name, SETTINGS[::3])
    found = judge_cases(cases, [str(n) for n in range(len(cases))], seed=3)
    assert sum(is_together for _, is_together in found) >= len(cases) - 1
    for case, (row, _) in zip(cases, found, strict=True):
        alone = judged_alone(case, seed=11)
        for each in (*row.judgement.outcomes, *row.judgement.limits):
            other = alone.judgement.named(each.name)
            # Two intervals at 95 % of one number miss each other seldom, and then by little.
            assert each.probability.low <= 1.3 * other.probability.high
            assert 1.3 * each.probability.high >= other.probability.low
            if MEETS in (each.verdict, other.verdict):
                assert MISSES not in (each.verdict, other.verdict)
        assert row.judgement.unknown == alone.judgement.unknown


def test_what_dominates_is_what_a_case_alone_tells():
    (case,) = rows_of("drive_line_joint", [0.75])
    ((row, _),) = judge_cases([case], ["a"], seed=3)
    alone = judged_alone(case, seed=11)
    one, other = (each.misses["under_preload"].share for each in (row, alone))
    # Shares of a normal fit and of a spline fit, each known to some points.
    assert one == pytest.approx(other, abs=0.08)


@pytest.mark.filterwarnings("ignore:overflow")
def test_a_case_that_is_not_finite_is_told_and_spoils_no_other():
    cases = rows_of("drive_line_joint", [0.8, 1.0, 1.2])
    keys = ["a", "b", "c"]
    clean = judge_cases(cases, keys, seed=3)
    cases[1] = cases[1].with_laws({"tightening.torque": Constant(1e308)})
    found = judge_cases(cases, keys, seed=3)
    assert "finite" in found[1][0]
    assert [told(found[n][0]) for n in (0, 2)] == [told(clean[n][0]) for n in (0, 2)]


@pytest.mark.parametrize("name", ["filter_cover", "tested_friction"])
def test_several_fasteners_and_laws_of_tests_are_judged_alone(name):
    assert not can_be_together(shipped(name))


def test_nothing_that_scatters_is_judged_alone(make_case):
    case = make_case({})
    assert not can_be_together(case)
    ((row, is_together),) = judge_cases([case], ["a"], seed=1)
    assert not is_together
    assert row.judgement.under.probability.value in (0.0, 1.0)


def test_rows_whose_facts_no_formula_takes_as_arrays_are_judged_one_by_one(monkeypatch):
    cases = rows_of("drive_line_joint", [0.9, 1.1])
    keys = ["a", "b"]
    whole = [told(found) for found, _ in judge_cases(cases, keys, seed=3)]
    made = rows_together.RowMargins

    def of_one(given):
        if len(given) > 1:
            raise ValueError("the truth value of an array is ambiguous")
        return made(given)

    monkeypatch.setattr(rows_together, "RowMargins", of_one)
    found = judge_cases(cases, keys, seed=3)
    assert [told(each) for each, _ in found] == whole
    assert all(is_together for _, is_together in found)
