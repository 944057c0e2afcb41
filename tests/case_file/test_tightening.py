"""The section [tightening]: what a method takes for granted, and says or asks of it."""

from __future__ import annotations

import math

import pytest

from preloadmc.chance.laws import Uniform

LAYERS = {"clamped": [{"material": "steel", "thickness": "40 mm"}]}
READ = {"law": "normal", "mean": "50 deg", "sd": "2 deg"}
SEATING = {"law": "uniform", "low": "0 deg", "high": "4 deg"}
SOFT = {"law": "normal", "mean": "3 um/kN", "cov": "6 %"}


def turned(**given):
    """A turn of 50 deg on from 20 N·m, where all that scatters is stated, with changes."""
    tightening = {
        "method": "torque then angle",
        "torque": "20 N·m",
        "angle": READ,
        "seating_angle": SEATING,
        **given,
    }
    return {
        **LAYERS,
        "tightening": {key: value for key, value in tightening.items() if value is not None},
        "joint.fastener_compliance": SOFT,
    }


class TestWhatATurnTakesForGranted:
    def test_seating_that_nobody_states_is_a_guide_with_scatter(self, make_case):
        case = make_case(turned(seating_angle=None))
        law = case.laws["tightening.seating_angle"]
        assert isinstance(law, Uniform)
        # Faces that close by 15 µm, over the pitch of an M6, 1 mm: 15/1000 of a turn.
        assert law.support == (0.0, pytest.approx(math.radians(0.015 * 360), rel=0.1))
        assert "tightening.seating_angle" in case.uncertain
        (said,) = (i for i in case.assumptions if i.path == "tightening.seating_angle")
        assert "uniform, 0 to 5 deg, a guide" in said.value
        assert said.source == "engineering judgement"
        stated = make_case(turned())
        assert not any(i.path == "tightening.seating_angle" for i in stated.assumptions)

    def test_a_turn_that_scatters_as_it_should_is_warned_of_nothing(self, make_case):
        assert make_case(turned()).warnings == ()

    @pytest.mark.parametrize(
        ("changed", "words"),
        [
            ({"angle": "50 deg"}, "tightening.angle has no scatter: the tool is taken to read"),
            ({"seating_angle": "2 deg"}, "tightening.seating_angle has no scatter: every joint"),
        ],
    )
    def test_an_angle_without_scatter_is_warned_of(self, make_case, changed, words):
        (warning,) = make_case(turned(**changed)).warnings
        assert warning.startswith(words)

    @pytest.mark.parametrize(
        "joint",
        [
            {"fastener_compliance": "3 um/kN", "clamped_compliance": "1 um/kN"},
            {"compliance": "4 um/kN"},
            None,
        ],
    )
    def test_a_stiffness_without_scatter_is_warned_of(self, make_case, joint):
        exact = {**turned(), "joint.fastener_compliance": None, "joint": joint}
        (warning,) = make_case(exact).warnings
        assert warning.startswith(
            "The stiffness is taken as exact: with 'torque then angle' it governs the scatter of "
            "preload; state it as a law"
        )

    def test_other_methods_are_not_warned_of_it(self, make_case):
        assert make_case(LAYERS).warnings == ()
