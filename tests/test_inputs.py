"""The list of inputs and their groups."""

import pytest

from preloadmc.inputs import INPUT_GROUPS, INPUT_KINDS, by_group, input_group


def test_every_input_belongs_to_a_group_of_the_table():
    names = [group.name for group in INPUT_GROUPS]
    assert len(set(names)) == len(names)
    # What no limit depends on is in none.
    ungrouped = {kind.name for kind in INPUT_KINDS.values() if not kind.group}
    assert ungrouped == {
        "tightening.accept.reading",
        "service.action.*.reading",
        "service.action.*.breakaway_ratio",
    }
    assert {kind.group for kind in INPUT_KINDS.values()} - {""} == set(names)
    assert by_group(ungrouped) == {}
    with pytest.raises(KeyError):
        input_group("lubricant")


def test_temperatures_of_all_states_are_in_one_group():
    hot, cold = "temperature.state.hot.fastener", "temperature.state.cold.clamped"
    assert by_group([hot, "load.axial", cold]) == {
        "temperature": (hot, cold),
        "load": ("load.axial",),
    }
