"""An input, a key or a form of an input added here as one row, and nowhere else, is read."""

from __future__ import annotations

from dataclasses import replace

import pytest

from preloadmc.case import Assumption
from preloadmc.case_file import keys
from preloadmc.case_file.field import Field, Form
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.kinds import Quantity
from preloadmc.chance.laws import Constant, Normal
from preloadmc.errors import CaseError
from preloadmc.inputs import INPUT_KINDS, NOT_GIVEN, Default, InputKind, input_order
from preloadmc.units import RATIO, SMALL_LENGTH

HOT = {
    "joint": {},
    "clamped": [{"material": "steel", "thickness": "32 mm"}],
    "temperature.assembly": "20 degC",
}
CREEP = InputKind(
    "settling.creep",
    "creep",
    SMALL_LENGTH,
    "settling",
    "not negative",
    meaning="length lost by creep of a coating",
    example='"2 um"',
    default=Default(0.0, "0: nothing creeps"),
)
SHOCK = InputKind(
    "temperature.state.*.shock",
    "shock",
    RATIO,
    "load",
    meaning="share by which a load is exceeded",
    example="1.2",
)


def problem_paths(make_case, overrides):
    """The paths of the problems of a case."""
    with pytest.raises(CaseError) as caught:
        make_case(overrides)
    return [problem.path for problem in caught.value.problems]


class TestAnInputAddedAsOneRow:
    @pytest.fixture(autouse=True)
    def added(self, monkeypatch):
        for row in (CREEP, SHOCK):
            monkeypatch.setitem(INPUT_KINDS, row.name, row)

    def test_it_is_a_law_among_the_others(self, make_case):
        law = {
            "law": "normal",
            "mean": "8 um",
            "sd": "1 um",
            "shared": {"by": "lot", "fraction": 1},
        }
        case = make_case({"settling.creep": law})
        assert case.laws["settling.creep"] == Normal(0.008, 0.001)
        assert case.shared["settling.creep"].by == "lot"
        assert list(case.laws)[-1] == "settling.creep"
        assert input_order("settling.creep")[0] == len(INPUT_KINDS) - 2

    def test_it_is_assumed_where_nobody_states_it(self, make_case):
        case = make_case()
        assert case.laws["settling.creep"] == Constant(0.0)
        assert Assumption("settling.creep", "0: nothing creeps", NOT_GIVEN) in case.assumptions

    @pytest.mark.parametrize(
        ("given", "words"),
        [
            ("2 kN", r"settling\.creep: a length is wanted"),
            ("-2 um", r"settling\.creep: a quantity that is 0 or above"),
            ({"law": "normal", "mean": "2 um"}, r"settling\.creep: one spread"),
        ],
    )
    def test_it_is_refused_where_it_cannot_be(self, make_case, given, words):
        with pytest.raises(CaseError, match=words):
            make_case({"settling.creep": given})

    def test_a_misspelt_key_is_nearest_to_it(self, make_case):
        with pytest.raises(CaseError, match=r"settling\.crep: unknown key; nearest: 'creep'"):
            make_case({"settling.crep": "2 um"})

    def test_what_it_needs_beside_it_is_asked_for(self, monkeypatch, make_case):
        row = replace(CREEP, needs="settling.embedding")
        monkeypatch.setitem(INPUT_KINDS, row.name, row)
        words = r"settling\.embedding: missing; the length lost as rough faces settle"
        with pytest.raises(CaseError, match=words):
            make_case({"settling.creep": "2 um"})
        both = {"settling.creep": "2 um", "settling.embedding": "8 um"}
        assert make_case(both).laws["settling.creep"] == Constant(0.002)

    def test_an_alternative_changes_it(self, make_case):
        case = make_case({"alternative": [{"name": "coated", "settling": {"creep": "4 um"}}]})
        assert case.alternatives[0].laws["settling.creep"] == Constant(0.004)

    def test_each_state_has_its_own(self, make_case):
        state = {"name": "hot", "fastener": "60 degC", "clamped": "60 degC", "shock": 1.2}
        case = make_case({**HOT, "temperature.state": [state, {**state, "name": "cold"}]})
        for name in ("hot", "cold"):
            assert case.laws[f"temperature.state.{name}.shock"] == Constant(1.2)

    def test_it_is_a_row_of_the_list(self):
        row = next(row for row in all_fields() if row.path == "settling.creep")
        assert (row.meaning, row.example, row.default) == (
            CREEP.meaning,
            CREEP.example,
            CREEP.default,
        )
        assert row.kind.allowed == "a length of 0 or above, or a law of one"


def test_a_key_added_as_one_row_is_read(monkeypatch, make_case):
    row = Field("sampling.budget", Quantity(RATIO, above=0.0), "budget", "2.0", needed=True)
    monkeypatch.setattr(keys, "_FACTS", (*keys._FACTS, row))
    assert problem_paths(make_case, {}) == ["sampling.budget"]
    assert problem_paths(make_case, {"sampling.budget": 0}) == ["sampling.budget"]
    assert make_case({"sampling.budget": 3}).sampling.seed == 7


def test_a_form_added_as_one_record_makes_a_law(monkeypatch, make_case):
    rate = "settling.relaxation.per_decade"

    def relaxed(draft):
        each = draft.stated.get(rate, float)
        return None if each is None else Constant(6.0 * each)

    form = Form(
        "settling.relaxation",
        "per_decade",
        (Field(rate, Quantity(RATIO, low=0.0, high=0.2), "loss in each decade of time", '"1 %"'),),
        relaxed,
    )
    monkeypatch.setattr(keys, "_FORMS", (*keys._FORMS, form))
    case = make_case({"settling.relaxation": {"per_decade": "1 %"}})
    assert case.laws["settling.relaxation"] == Constant(0.06)
    assert problem_paths(make_case, {"settling.relaxation": {"per_decade": "30 %"}}) == [rate]
    # A law is still a law.
    assert make_case({"settling.relaxation": "4 %"}).laws["settling.relaxation"] == Constant(0.04)


def test_what_a_row_replaces_falls_away_where_an_alternative_states_it(monkeypatch, make_case):
    row = replace(CREEP, replaces=("relaxation",))
    monkeypatch.setitem(INPUT_KINDS, row.name, row)
    changed = {"name": "coated", "settling": {"creep": "4 um"}}
    case = make_case({"settling.relaxation": "5 %", "alternative": [changed]})
    assert case.laws["settling.relaxation"] == Constant(0.05)
    assert case.alternatives[0].laws["settling.relaxation"] == Constant(0.0)
