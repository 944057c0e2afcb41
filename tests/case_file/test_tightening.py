"""The section [tightening]: what a method takes for granted, and says or asks of it."""

from __future__ import annotations

import math

import pytest

from preloadmc import derive
from preloadmc.chance.laws import Uniform
from preloadmc.errors import CaseError
from preloadmc.joint import METHODS, evaluate

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


WRENCH = {"law": "normal", "cov": "4 %"}
TORQUE = {"method": "torque", "torque": "60 N·m", "bias": "-3 %", "tool": WRENCH}
PUMP = {"method": "hydraulic tensioning", "pump_force": "50 kN", "transfer_ratio": 0.8}
STRETCH = {"method": "elongation measured", "elongation": "120 um"}
SENSED = {"method": "yield point sensed", "detector_ratio": 1.0}
STATED = {"method": "stated scatter", "preload": "35 kN"}
IMPACT = {"method": "pulse or impact", "torque": "55 N·m"}
ANGLE = {"method": "torque then angle", "torque": "20 N·m", "angle": READ}
# A requirement that every method can be held to.
WINDOW = {"requirement": {"minimum_preload": "20 kN", "maximum_preload": "60 kN"}}
PLASTIC = {"fastener.plastic_strain": 0.06}
ASKED = (
    r"alternative\[1\]\.tightening\.tool: missing; the scatter of what this method controls, "
    r'the {}, about its set value \("0 %" if'
)


class TestAnotherMethodInAnAlternative:
    def changed(self, make_case, before, after, **overrides):
        alternative = {"name": "other", "tightening": after}
        case = make_case(
            {**LAYERS, **WINDOW, "tightening": before, "alternative": [alternative], **overrides}
        )
        return case.alternatives[0]

    @pytest.mark.parametrize("after", [IMPACT, ANGLE], ids=lambda after: after["method"])
    @pytest.mark.parametrize("back", [False, True])
    def test_a_torque_is_a_torque(self, make_case, after, back):
        before = TORQUE
        if back:
            before = {**after, "bias": "-3 %", "tool": WRENCH}
            after = {"method": "torque", "torque": "60 N·m"}
        other = self.changed(make_case, before, after)
        assert other.joint.method.name == after["method"]
        tool = other.laws["tightening.tool"]
        assert (tool.mean, tool.sd) == (1.0, pytest.approx(0.04))
        assert other.laws["tightening.bias"].mean == -0.03
        # The set value belongs to its method.
        shown = f"{other.laws['tightening.torque'].mean / 1e3:g} N·m"
        assert shown == after["torque"]

    def test_its_own_tool_goes_before_that_of_the_case(self, make_case):
        better = {"law": "normal", "cov": "2 %"}
        other = self.changed(make_case, TORQUE, {**ANGLE, "tool": better})
        assert other.laws["tightening.tool"].sd == pytest.approx(0.02)
        # Key by key, as in every alternative: the bias stays until it is stated anew.
        assert other.laws["tightening.bias"].mean == -0.03
        other = self.changed(make_case, TORQUE, {**ANGLE, "bias": "1 %"})
        assert other.laws["tightening.tool"].sd == pytest.approx(0.04)
        assert other.laws["tightening.bias"].mean == 0.01

    @pytest.mark.parametrize(
        ("before", "after", "quantity"),
        [
            (TORQUE, PUMP, "pump force"),
            (TORQUE, STRETCH, "measured elongation"),
            ({**PUMP, "tool": WRENCH}, STRETCH, "measured elongation"),
            ({**STRETCH, "tool": WRENCH}, PUMP, "pump force"),
            ({**PUMP, "tool": WRENCH}, ANGLE, "set torque"),
            ({**STRETCH, "tool": WRENCH}, {"method": "torque", "torque": "60 N·m"}, "set torque"),
            (STATED, IMPACT, "set torque"),
            # Nothing was stated, so there is nothing to keep.
            ({"method": "torque", "torque": "60 N·m"}, IMPACT, "set torque"),
        ],
    )
    def test_another_quantity_asks_for_its_own_scatter(self, make_case, before, after, quantity):
        with pytest.raises(CaseError, match=ASKED.format(quantity)) as caught:
            self.changed(make_case, before, after)
        assert len(caught.value.problems) == 1
        tool = {"law": "normal", "cov": "2 %"}
        other = self.changed(make_case, before, {**after, "tool": tool})
        assert other.laws["tightening.tool"].sd == pytest.approx(0.02)
        # A bias of another quantity is none of this one.
        assert other.laws["tightening.bias"].mean == 0.0

    def test_no_scatter_is_said_to_be_none(self, make_case):
        other = self.changed(make_case, TORQUE, {**PUMP, "tool": "0 %"})
        assert other.laws["tightening.tool"].mean == 1.0
        assert other.laws["tightening.tool"].sd == 0.0

    def test_a_set_value_with_scatter_is_scatter_stated(self, make_case):
        force = {"law": "normal", "mean": "50 kN", "cov": "2 %"}
        other = self.changed(make_case, TORQUE, {**PUMP, "pump_force": force})
        assert other.laws["tightening.pump_force"].sd == pytest.approx(1e3)

    def test_what_is_missing_is_asked_for_at_once(self, make_case):
        with pytest.raises(CaseError) as caught:
            self.changed(make_case, TORQUE, {"method": "hydraulic tensioning"})
        assert {problem.path for problem in caught.value.problems} == {
            "alternative[1].tightening.tool",
            "alternative[1].tightening.pump_force",
            "alternative[1].tightening.transfer_ratio",
        }

    @pytest.mark.parametrize("after", [STATED, SENSED], ids=lambda after: after["method"])
    def test_a_method_without_a_tool_asks_for_none(self, make_case, after):
        other = self.changed(make_case, TORQUE, after, **PLASTIC)
        assert other.laws["tightening.tool"].sd == 0.0
        assert other.laws["tightening.bias"].mean == 0.0

    def test_the_same_method_named_again_changes_nothing(self, make_case):
        other = self.changed(make_case, TORQUE, {"method": "torque", "bias": "1 %"})
        assert other.laws["tightening.torque"].mean == 60e3
        assert other.laws["tightening.tool"].sd == pytest.approx(0.04)

    def test_a_case_of_its_own_may_leave_the_tool_out_and_says_so(self, make_case):
        case = make_case({"tightening": {"method": "torque", "torque": "60 N·m"}})
        (said,) = (item for item in case.assumptions if item.path == "tightening.tool")
        assert said.value == "none: the tool repeats exactly"

    def test_a_suspect_of_another_method_is_asked_too(self, make_case):
        suspect = {"name": "pumped", "tightening": PUMP}
        found = {"fastener": "1", "kind": "residual preload", "value": "20 kN", "sd": "1 kN"}
        with pytest.raises(
            CaseError, match=r"suspect\[1\]\.tightening\.tool: missing; the scatter"
        ):
            make_case({"tightening": TORQUE, "evidence": [found], "suspect": [suspect]})

    def test_methods_that_set_one_quantity_share_its_key(self):
        """Every method with a tool says which of its own quantities the scatter is about."""
        about = {method.name: method.scatter_about for method in METHODS.values()}
        assert {name for name, key in about.items() if key == "torque"} == {
            "torque",
            "torque then angle",
            "pulse or impact",
        }
        for method in METHODS.values():
            keys = {control.key for control in method.controls if control.is_set}
            assert method.scatter_about in keys | {""}


class TestAPulseTool:
    # VDI 2230-1:2015, Table A8 (from memory): tightening factor 2.5 to 4, a half width of
    # (2.5 - 1)/(2.5 + 1) = 42.9 % to 60 %.
    WORDS = (
        "tightening.tool scatters by ±{} % (3 s.d.), less than the table of typical scatter gives "
        "'pulse or impact': ±42.9 to 60 % of the preload, friction included (VDI 2230-1:2015, "
        "Table A8, tightening factor (value from memory))."
    )

    @pytest.mark.parametrize(
        ("tool", "shown"),
        [
            ({"law": "normal", "cov": "4 %"}, "12"),
            ({"law": "normal", "cov": "14.2 %"}, "42.6"),
            # +-6 % as 2 s.d.
            ({"tolerance": "6 %", "coverage": "2 sd"}, "9"),
            (None, "0"),
        ],
    )
    def test_less_scatter_than_in_print_is_doubted(self, make_case, tool, shown):
        tightening = {**IMPACT, "tool": tool} if tool else IMPACT
        assert make_case({"tightening": tightening}).warnings == (self.WORDS.format(shown),)

    def test_scatter_of_the_set_torque_counts(self, make_case):
        # Both together: sqrt(9² + 12²) = 15 %, 45 % at 3 s.d.
        torque = {"law": "normal", "mean": "55 N·m", "cov": "9 %"}
        tool = {"law": "normal", "cov": "12 %"}
        assert make_case({"tightening": {**IMPACT, "torque": torque, "tool": tool}}).warnings == ()

    def test_as_much_as_in_print_is_not_doubted(self, make_case):
        tool = {"law": "lognormal", "cov": "14.4 %"}
        assert make_case({"tightening": {**IMPACT, "tool": tool}}).warnings == ()

    def test_a_wrench_is_not_held_against_it(self, make_case):
        assert make_case({"tightening": TORQUE}).warnings == ()

    def test_the_scatter_of_a_wrench_kept_for_a_pulse_tool_is_doubted(self, make_case):
        case = make_case(
            {"tightening": TORQUE, "alternative": [{"name": "pulse", "tightening": IMPACT}]}
        )
        assert case.alternatives[0].warnings == (self.WORDS.format("12"),)


PLATES = [
    {"material": "steel", "thickness": "20 mm", "hole_diameter": "14 mm"},
    {"material": "steel", "thickness": "20 mm"},
]
FLANGED = {"clamped": PLATES, "fastener.nut_bearing_outer_diameter": "24 mm"}


class TestWhichSideIsTurned:
    """The torque goes into the face that turns: D_b = (D_o + d_h)/2 of that side, ISO 16047."""

    def said(self, case):
        return [item.value for item in case.assumptions if item.path == "tightening.turned"]

    @pytest.mark.parametrize(
        ("turned", "expected"),
        [
            # (16.63 + 14)/2 under the head, whose layer has a hole of its own
            ({}, 15.315),
            ({"tightening.turned": "head"}, 15.315),
            # (24 + 13.5)/2 under the nut
            ({"tightening.turned": "nut"}, 18.75),
            # without a face of its own the nut has that of the head: (16.63 + 13.5)/2
            ({"tightening.turned": "nut", "fastener.nut_bearing_outer_diameter": None}, 15.065),
        ],
    )
    def test_its_face_and_hole_make_the_bearing_diameter(self, make_case, turned, expected):
        case = make_case({**FLANGED, **turned})
        assert case.laws["fastener.bearing_diameter"].mean == pytest.approx(expected, rel=1e-12)
        (step,) = (step for step in derive(case).steps if step.symbol == "D_b")
        assert step.value == pytest.approx(expected, rel=1e-12)

    def test_a_wider_nut_that_turns_takes_more_of_the_torque(self, make_case):
        # F = T/(arm + mu D_b/2): the brackets differ by 0.12 (18.75 - 15.315)/2.
        forces = [
            float(evaluate(case.joint, case.means).assembled)
            for side in ("head", "nut")
            for case in (make_case({**FLANGED, "tightening.turned": side}),)
        ]
        brackets = [77.4e3 / force for force in forces]
        assert brackets[1] - brackets[0] == pytest.approx(0.06 * (18.75 - 15.315), rel=1e-9)

    def test_the_head_is_assumed_and_said_only_where_it_matters(self, make_case):
        assert self.said(make_case(FLANGED)) == ["head: the face under the head takes the torque"]
        assert self.said(make_case({"clamped": PLATES})) == []
        alike = {**FLANGED, "fastener.nut_bearing_outer_diameter": "16.63 mm"}
        assert self.said(make_case(alike)) == []

    def test_a_tapped_hole_has_no_nut_to_turn(self, make_case):
        with pytest.raises(
            CaseError, match=r"tightening\.turned: .*'head': the fastener is screwed"
        ):
            make_case({"fastener.mate": "tapped hole", "tightening.turned": "nut"})

    def test_a_countersunk_head_wedges_only_where_it_turns(self, make_case):
        # 1/sin 45° = sqrt(2)
        wedged = {"fastener.seat_half_angle": "45 deg"}
        assert make_case(wedged).joint.seat_factor == pytest.approx(2**0.5)
        assert make_case({**wedged, "tightening.turned": "nut"}).joint.seat_factor == 1.0
