"""Creep, spells, service and actions in a case file: what is asked for, and what is refused."""

import re

import pytest

from preloadmc import check
from preloadmc.errors import CaseError

PAINT = {"name": "paint", "rate": "3 %", "reference": "1 h"}
CHANGE = {"friction.change_per_tightening": "5 %"}


def creep(*without, **more):
    return {
        "settling.over_time": [
            {key: value for key, value in {**PAINT, **more}.items() if key not in without}
        ]
    }


def hot(*spells):
    """States that are hot, each with what is said of when."""
    state = {"fastener": "60 degC", "clamped": "60 degC"}
    names = ("hot", "warm")
    return {
        "clamped": [{"material": "steel", "thickness": "32 mm"}],
        "temperature.assembly": "20 degC",
        "temperature.state": [
            {"name": name, **state, **spell} for name, spell in zip(names, spells, strict=False)
        ],
    }


def act(*actions):
    return {"service.times": ["5 years"], "service.action": list(actions), **CHANGE}


RETIGHTEN = {"at": "1 year", "do": "retighten"}
ANGLE = {
    "clamped": [{"material": "steel", "thickness": "32 mm"}],
    "joint": {},
    "tightening": {"method": "torque then angle", "torque": "40 N·m", "angle": "30 deg"},
}
YEARLY = {"duration": "1 day", "every": "1 year"}


@pytest.mark.parametrize(
    ("overrides", "words"),
    [
        ({"service.times": ["5 years", "1 year"]}, "service.times: times that rise, each once"),
        ({"service.times": ["1 year", "1 year"]}, "service.times: times that rise, each once"),
        ({"service.times": ["1 year", "24 months"]}, "'months' has no fixed length"),
        ({"service.times": ["0 h", "1 year"]}, "service.times[1]: a time above 0"),
        ({"service.times": ["-1 year"]}, "service.times[1]: a time above 0"),
        ({"service.times": [5]}, "service.times: a list, each a time above 0, with its unit"),
        ({"service.times": []}, "service.times: "),
        (
            act(RETIGHTEN, {"at": "1 day", "do": "retighten"}),
            "service.action[2].at: later than the one before, 1 year",
        ),
        (act(RETIGHTEN, RETIGHTEN), "service.action[2].at: later than the one before, 1 year"),
        (act({"at": "0 h", "do": "retighten"}), "service.action[1].at: a time above 0"),
        (
            act({"at": "1 year", "do": "tighten"}),
            "service.action[1].do: one of 'retighten', 'check', 'replace'; nearest: ",
        ),
        (act({"do": "retighten"}), "service.action[1].at: missing; "),
        (act({"at": "1 year"}), "service.action[1].do: missing; "),
        (
            act(RETIGHTEN | {"pass_torque": "60 N·m"}),
            "service.action[1].pass_torque: remove it: only a check reads a torque",
        ),
        (
            act({"at": "1 year", "do": "replace", "reading": "3 %"}),
            "service.action[1].reading: remove it: only a check reads a torque",
        ),
        (
            act(RETIGHTEN) | {"friction.change_per_tightening": None},
            "friction.change_per_tightening: missing; how each tightening changes the friction",
        ),
        (
            {"tightening.tightened_before": 1},
            "friction.change_per_tightening: missing; how each tightening changes the friction",
        ),
        ({"tightening.tightened_before": -1}, "tightening.tightened_before: "),
        ({"tightening.tightened_before": 1.5}, "tightening.tightened_before: "),
        (
            act(RETIGHTEN) | ANGLE,
            "service.action[1].do: replace: 'torque then angle' tells nothing of a fastener",
        ),
        (creep("rate"), "settling.over_time[1].rate: missing; share lost in each decade of time"),
        (creep("reference"), "settling.over_time[1].reference: missing; the time from which"),
        (creep(reference="0 h"), "settling.over_time[1].reference: a time above 0"),
        (creep(rate="-3 %"), "settling.over_time[1].rate: "),
        (creep(rate="130 %"), "settling.over_time[1].rate: "),
        (creep(material="painted face"), "settling.over_time[1].material: "),
        (creep(name="a.b"), "settling.over_time[1].name: a unique name without a full stop"),
        (creep(state="hot"), "settling.over_time[1].state: one of the states: none"),
        (
            creep(state="cold") | hot(YEARLY),
            "settling.over_time[1].state: one of the states: hot",
        ),
        (
            creep(state="hot") | hot({}),
            "settling.over_time[1].state: a state with a duration, in which it creeps",
        ),
        (
            creep(temperature="60 degC") | hot({}),
            "settling.over_time[1].doubling: missing; beside temperature",
        ),
        (
            creep(doubling="10 K") | hot({}),
            "settling.over_time[1].temperature: missing; beside doubling",
        ),
        (
            creep(temperature="60 degC", doubling="10 K"),
            "temperature.assembly: missing; at which it creeps outside of all states",
        ),
        (
            {"settling.over_time": [PAINT, PAINT]},
            "settling.over_time[2].name: a unique name without a full stop",
        ),
        (
            hot({"start": "0 h"}),
            "temperature.state[1].duration: missing; how long it lasts, beside start",
        ),
        (
            hot({"every": "1 day"}),
            "temperature.state[1].duration: missing; how long it lasts, beside every",
        ),
        (hot({"duration": "8 h"}), "temperature.state[1].every: missing; after which it comes"),
        (
            hot({"duration": "2 days", "every": "1 day"}),
            "temperature.state[1].duration: at most 1 day, the time of every",
        ),
        (
            hot({"duration": "13 h", "every": "1 day"}, {"duration": "12 h", "every": "1 day"}),
            "temperature.state: durations that fit in the time: its states take 104.167 % of it",
        ),
    ],
)
def test_what_cannot_be_is_refused(make_case, overrides, words):
    with pytest.raises(CaseError, match=re.escape(words)):
        make_case(overrides)


def test_states_may_take_all_of_the_time(make_case):
    shares = {"duration": "12 h", "every": "1 day"}
    case = make_case(hot(shares, shares) | {"service.times": ["1 year"]})
    assert [case.joint.service.share(name) for name in ("hot", "warm")] == [0.5, 0.5]


def test_a_replacement_suits_any_method(make_case):
    case = make_case(
        ANGLE
        | {"service.times": ["5 years"], "service.action": [{"at": "1 year", "do": "replace"}]}
    )
    assert case.joint.service.actions[0].does == "replace"


def test_the_table_of_creep_gives_rate_and_reference_with_their_source(make_case):
    case = make_case(creep("rate", "reference", "name", material="painted faces"))
    law = case.laws["settling.over_time.painted faces.rate"]
    assert (law.mean, law.sd / law.mean) == (pytest.approx(0.03), pytest.approx(0.5))
    told = {each.path: each for each in check(case).case.assumptions}
    assert "from memory" in told["settling.over_time[1].rate"].source
    assert str(told["settling.over_time[1].reference"].value) == "1 h"
    # A figure of its own stands before the table's.
    own = make_case(creep("reference", material="painted faces"))
    assert own.laws["settling.over_time.paint.rate"].mean == pytest.approx(0.03)
    assert own.joint.service.creep[0].reference == pytest.approx(3600.0)


def test_an_action_draws_the_tool_anew_and_the_friction_only_of_a_new_fastener(make_case):
    scatter = {
        "friction.thread": {"law": "lognormal", "mean": 0.12, "cov": "9 %"},
        "friction.bearing": {"law": "lognormal", "mean": 0.12, "cov": "9 %"},
        "tightening.tool": {"law": "normal", "cov": "4 %"},
        "friction.correlation": 0.5,
    }
    replace = {"at": "2 years", "do": "replace"}
    case = make_case(scatter | act(RETIGHTEN, replace))
    again = {name for name in case.laws if name.startswith("again.")}
    assert again == {
        "again.1.tightening.tool",
        "again.2.tightening.tool",
        "again.2.friction.thread",
        "again.2.friction.bearing",
    }
    pair = ("again.2.friction.thread", "again.2.friction.bearing")
    assert {frozenset(each): rho for each, rho in case.correlations.items()}[frozenset(pair)] == 0.5


def test_a_case_without_these_keys_has_no_service(make_case):
    case = make_case()
    assert case.joint.service is None
    assert not any(each.path.startswith("service") for each in case.assumptions)
