"""Compliance of parts and fastener against published joints and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from preloadmc.mechanics.compliance import (
    Layer,
    cone_angle_tapped,
    cone_angle_through,
    frustum_stiffness,
    pressed_pieces,
    sleeve_stiffness,
)
from preloadmc.mechanics.fastener import Segment, fastener_terms
from preloadmc.mechanics.service import load_factor
from preloadmc.mechanics.thread import thread

THIRTY = math.radians(30)


def clamped_compliance(layers, head_face, nut_face, half_angle):
    """Springs in series: the pieces of all layers, each by the modulus of its layer."""
    return sum(layer_compliances(layers, head_face, nut_face, half_angle))


def layer_compliances(layers, head_face, nut_face, half_angle):
    pieces = pressed_pieces(layers, head_face, nut_face, half_angle)
    return [
        sum(piece.shape for piece in pieces if piece.layer == place) / layer.modulus
        for place, layer in enumerate(layers)
    ]


def fastener_compliance(*facts):
    return sum(term.compliance for term in fastener_terms(*facts))


@pytest.mark.published
@pytest.mark.parametrize(
    ("thickness", "face", "modulus", "stiffness"),
    # Shigley, 9th ed., Ex. 8-5, p. 448: d = 5/8 in, Mpsi and Mlbf/in.
    [(0.5, 0.9375, 30, 46.46), (0.1875, 1.298, 30, 197.43), (0.3125, 0.9375, 16, 32.39)],
)
def test_frusta_of_a_cap_screw_joint(thickness, face, modulus, stiffness):
    found = frustum_stiffness(thickness, modulus, face, 0.625, THIRTY)
    assert found == pytest.approx(stiffness, rel=0.002)


@pytest.mark.published
def test_cap_screw_joint():
    # Shigley, 9th ed., Ex. 8-5, p. 448: km 17.40, kb 6.78 Mlbf/in, C 0.280. Washer 1/16 and cover
    # 5/8 of steel, then half a diameter of the tapped iron; faces 0.9375 in, hole = fastener 5/8.
    stack = [
        Layer(0.0625, 30.0, 0.625, None),
        Layer(0.625, 30.0, 0.625, None),
        Layer(0.3125, 16.0, 0.625, None),
    ]
    parts = clamped_compliance(stack, 0.9375, 0.9375, THIRTY)
    fastener = 1.0 / (0.226 * 30)
    assert 1 / parts == pytest.approx(17.40, rel=0.002)
    assert 1 / fastener == pytest.approx(6.78, abs=0.005)
    assert load_factor(fastener, parts, 1.0) == pytest.approx(0.280, abs=0.0005)


@pytest.mark.published
def test_metric_joint_of_steel_and_iron():
    # Shigley, instructor's solution 8-22: M12, 20 mm steel (207) and 25 mm iron (100 GPa), faces
    # 18 mm: frusta 4470, 52 230, 2074; km 1379, kb 466.8 MN/m; C 0.253.
    assert frustum_stiffness(20.0, 207e3, 18.0, 12.0, THIRTY) == pytest.approx(4470e3, rel=0.002)
    assert frustum_stiffness(2.5, 100e3, 41.09, 12.0, THIRTY) == pytest.approx(52_230e3, rel=0.002)
    assert frustum_stiffness(22.5, 100e3, 18.0, 12.0, THIRTY) == pytest.approx(2074e3, rel=0.002)
    stack = [Layer(20.0, 207e3, 12.0, None), Layer(25.0, 100e3, 12.0, None)]
    parts = clamped_compliance(stack, 18.0, 18.0, THIRTY)
    fastener = 30.0 / (113.0 * 207e3) + 15.0 / (84.3 * 207e3)
    assert 1 / parts == pytest.approx(1379e3, rel=0.002)
    assert 1 / fastener == pytest.approx(466.8e3, rel=0.002)
    assert load_factor(fastener, parts, 1.0) == pytest.approx(0.253, rel=0.002)


@pytest.mark.published
@pytest.mark.parametrize("grip", [10.0, 24.0, 60.0])
def test_one_material_is_the_closed_form_of_the_whole_joint(grip):
    # Shigley, 9th ed., eq. 8-22 (face 1.5 d, 30°); its 0.5774 is rounded from tan 30°.
    d, E = 12.0, 207e3
    expected = 0.5774 * math.pi * E * d
    expected /= 2 * math.log(5 * (0.5774 * grip + 0.5 * d) / (0.5774 * grip + 2.5 * d))
    parts = clamped_compliance([Layer(grip, E, d, None)], 1.5 * d, 1.5 * d, THIRTY)
    assert 1 / parts == pytest.approx(expected, rel=2e-4)


@pytest.mark.published
@pytest.mark.parametrize(
    ("modulus", "A", "B"),
    # Shigley, 9th ed., Table 8-8, p. 430: finite-element fit km/(E d) = A exp(B d/l).
    [(207e3, 0.78715, 0.62873), (71e3, 0.79670, 0.63816), (100e3, 0.77871, 0.61616)],
)
@pytest.mark.parametrize("slenderness", [0.25, 0.5])
def test_frusta_agree_with_the_finite_element_fit(modulus, A, B, slenderness):
    # Another method, hence a band: within 10 %.
    d = 12.0
    parts = clamped_compliance([Layer(d / slenderness, modulus, d, None)], 18.0, 18.0, THIRTY)
    assert 1 / (parts * modulus * d) == pytest.approx(A * math.exp(B * slenderness), rel=0.10)


@pytest.mark.parametrize("nut", [True, False])
def test_unlimited_cone_is_that_of_the_guideline(nut):
    # VDI 2230-1:2003 (from memory): 2/(w pi E d tan) ln[(D+d)(D + w l tan - d)/((D-d)(D + w l tan
    # + d))] with w = 1 for a through-bolt, 2 for a tapped hole.
    D, d, grip, E, angle = 18.0, 13.5, 30.0, 205e3, math.radians(27)
    w, tan = (1 if nut else 2), math.tan(angle)
    ratio = (D + d) * (D + w * grip * tan - d) / ((D - d) * (D + w * grip * tan + d))
    expected = 2 / (w * math.pi * E * d * tan) * math.log(ratio)
    found = clamped_compliance([Layer(grip, E, d, None)], D, D if nut else None, angle)
    assert found == pytest.approx(expected, rel=1e-12)


def test_narrow_part_goes_on_as_a_sleeve():
    # VDI 2230-1:2003 (from memory): cones until the outer diameter, a sleeve between them.
    D, d, outer, grip, E = 18.0, 13.5, 24.0, 40.0, 205e3
    cone = (outer - D) / (2 * math.tan(THIRTY))
    expected = 2 / frustum_stiffness(cone, E, D, d, THIRTY)
    expected += 1 / sleeve_stiffness(grip - 2 * cone, E, outer, d)
    found = clamped_compliance([Layer(grip, E, d, outer)], D, D, THIRTY)
    assert found == pytest.approx(expected, rel=1e-12)


def test_part_no_wider_than_the_head_is_a_sleeve():
    sleeve = [Layer(40.0, 70e3, 10.0, 16.0)]
    expected = 1 / sleeve_stiffness(40.0, 70e3, 16.0, 10.0)
    assert clamped_compliance(sleeve, 18.0, 18.0, THIRTY) == pytest.approx(expected, rel=1e-12)
    assert clamped_compliance(sleeve, 16.0, None, THIRTY) == pytest.approx(expected, rel=1e-12)


def test_cutting_a_layer_in_two_changes_nothing():
    whole = clamped_compliance([Layer(30.0, 205e3, 13.5, 40.0)], 18.0, 20.0, THIRTY)
    cut = [Layer(7.0, 205e3, 13.5, 40.0), Layer(23.0, 205e3, 13.5, 40.0)]
    assert clamped_compliance(cut, 18.0, 20.0, THIRTY) == pytest.approx(whole, rel=1e-12)


def test_turning_the_joint_round_changes_nothing():
    stack = [Layer(8.0, 70e3, 13.5, None), Layer(20.0, 205e3, 14.0, 30.0)]
    forth = clamped_compliance(stack, 18.0, 22.0, THIRTY)
    back = clamped_compliance(stack[::-1], 22.0, 18.0, THIRTY)
    assert forth == pytest.approx(back, rel=1e-12)


def test_cones_of_unequal_faces_have_the_same_diameter_where_they_meet():
    # From the cut at which both are 26 mm wide: 18 + 2 x tan = 22 + 2 (30 - x) tan.
    x = 15 + 4 / (4 * math.tan(THIRTY))
    expected = 1 / frustum_stiffness(x, 205e3, 18.0, 13.5, THIRTY)
    expected += 1 / frustum_stiffness(30.0 - x, 205e3, 22.0, 13.5, THIRTY)
    found = clamped_compliance([Layer(30.0, 205e3, 13.5, None)], 18.0, 22.0, THIRTY)
    assert found == pytest.approx(expected, rel=1e-12)


def pressed_diameter(layers, head_face, nut_face, half_angle, depth):
    """The smallest of the two cones and the layer, each cone cut back to every layer it passes."""

    def spread(passed, face, depth):
        for layer in passed:
            limit = layer.outer_diameter or math.inf
            within = min(depth, layer.thickness)
            face = min(min(face, limit) + 2 * within * math.tan(half_angle), limit)
            depth -= within
            if depth <= 0.0:
                break
        return face

    grip = sum(layer.thickness for layer in layers)
    from_nut = math.inf if nut_face is None else spread(layers[::-1], nut_face, grip - depth)
    return min(spread(layers, head_face, depth), from_nut)


def test_pieces_add_up_to_the_integral_over_the_pressed_diameter(seed):
    # First principles: the parts give way by the integral of dz/(E pi/4 (D² - d²)), with D the
    # smallest of both cones and the layer at each depth; by quadrature, on random stacks.
    rng = np.random.default_rng(seed)
    limited = 0
    for _ in range(40):
        stack = [
            Layer(
                rng.uniform(2.0, 20.0),
                rng.choice([70e3, 100e3, 207e3]),
                rng.uniform(12.5, 14.0),
                rng.uniform(16.0, 40.0) if rng.random() < 0.7 else None,
            )
            for _ in range(rng.integers(1, 5))
        ]
        head, nut = rng.uniform(15.0, 24.0, 2)
        joint = (stack, head, nut if rng.random() < 0.8 else None, rng.uniform(0.35, 0.7))
        expected, start = 0.0, 0.0
        for layer in stack:
            end, hole = start + layer.thickness, layer.hole_diameter

            def flexible(depth, hole=hole, joint=joint):
                return 4 / (math.pi * (pressed_diameter(*joint, depth) ** 2 - hole**2))

            # A little inside, where the layer is not in doubt; in parts, which miss no kink.
            cuts = np.linspace(start + 1e-9, end - 1e-9, 41)
            softness = quad(flexible, cuts[0], cuts[-1], points=cuts[1:-1], limit=500)[0]
            expected += softness / layer.modulus
            start = end
        assert clamped_compliance(*joint) == pytest.approx(expected, rel=1e-6)
        limited += any(piece.kind == "sleeve" for piece in pressed_pieces(*joint))
    assert limited > 10


def test_cones_spread_on_from_a_narrow_layer_and_meet_where_they_cross():
    # A ring of 20 mm between wide plates. In each plate the cone from its own end, of 18 mm, meets
    # that from the ring, of 20 mm: 18 + 2 x tan = 20 + 2 (t - x) tan.
    def plate(t):
        x = t / 2 + 2 / (4 * math.tan(THIRTY))
        return 1 / frustum_stiffness(x, 205e3, 18.0, 13.5, THIRTY) + 1 / frustum_stiffness(
            t - x, 205e3, 20.0, 13.5, THIRTY
        )

    stack = [
        Layer(10.0, 205e3, 13.5, None),
        Layer(4.0, 205e3, 13.5, 20.0),
        Layer(26.0, 205e3, 13.5, None),
    ]
    expected = plate(10.0) + 1 / sleeve_stiffness(4.0, 205e3, 20.0, 13.5) + plate(26.0)
    assert clamped_compliance(stack, 18.0, 18.0, THIRTY) == pytest.approx(expected, rel=1e-12)
    pieces = pressed_pieces(stack, 18.0, 18.0, THIRTY)
    assert [(piece.layer, piece.kind, piece.side) for piece in pieces] == [
        (0, "cone", "head"),
        (0, "cone", "nut"),
        (1, "sleeve", ""),
        (2, "cone", "head"),
        (2, "cone", "nut"),
    ]


def test_a_far_larger_nut_leaves_the_whole_grip_to_the_head():
    plate = [Layer(5.0, 205e3, 13.5, None)]
    only_head = clamped_compliance(plate, 18.0, None, THIRTY)
    assert clamped_compliance(plate, 18.0, 60.0, THIRTY) == pytest.approx(only_head, rel=1e-12)
    assert clamped_compliance(plate, 60.0, 18.0, THIRTY) == pytest.approx(only_head, rel=1e-12)


def test_layers_add_up_and_follow_their_own_modulus():
    soft = np.array([60e3, 70e3])
    stack = [Layer(8.0, soft, 13.5, None), Layer(20.0, 205e3, 13.5, None)]
    each = layer_compliances(stack, 18.0, 18.0, THIRTY)
    assert clamped_compliance(stack, 18.0, 18.0, THIRTY) == pytest.approx(each[0] + each[1])
    assert each[0] * soft == pytest.approx([each[0][0] * soft[0]] * 2)


def test_larger_hole_thicker_grip_and_steeper_cone_make_a_softer_joint():
    def parts(grip, hole, degrees):
        return clamped_compliance(
            [Layer(grip, 205e3, hole, None)], 20.0, 20.0, math.radians(degrees)
        )

    assert parts(30.0, 14.0, 30) > parts(30.0, 13.0, 30)
    assert parts(31.0, 13.0, 30) > parts(30.0, 13.0, 30)
    assert parts(30.0, 13.0, 25) > parts(30.0, 13.0, 30)


def test_a_face_inside_its_hole_is_refused():
    with pytest.raises(ValueError, match=r"pressed face \(12 mm\) must be larger than the hole"):
        clamped_compliance([Layer(30.0, 205e3, 13.5, None)], 12.0, None, THIRTY)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ((0.0, 205e3, 13.5, None), "thickness of a layer must be above zero"),
        ((10.0, 205e3, 0.0, None), "hole of a layer must be above zero"),
        ((10.0, 205e3, 13.5, 13.5), "outer diameter of a layer"),
    ],
)
def test_an_impossible_layer_cannot_be_built(values, words):
    with pytest.raises(ValueError, match=words):
        Layer(*values)


@pytest.mark.parametrize(
    ("values", "words"), [((-1.0, 80.0), "cannot be negative"), ((1.0, 0.0), "above zero")]
)
def test_an_impossible_segment_cannot_be_built(values, words):
    with pytest.raises(ValueError, match=words):
        Segment(*values)


def test_cone_angles_are_those_of_the_guideline():
    # VDI 2230-1:2003 (formulas from memory): beta = l/dW = 3, y = DA/dW = 2.
    through = 0.362 + 0.032 * math.log(3 / 2) + 0.153 * math.log(2)
    tapped = 0.348 + 0.013 * math.log(3) + 0.193 * math.log(2)
    assert math.tan(cone_angle_through(10.0, 30.0, 20.0)) == pytest.approx(through)
    assert math.tan(cone_angle_tapped(10.0, 30.0, 20.0)) == pytest.approx(tapped)
    assert 20 < math.degrees(cone_angle_through(10.0, 30.0, 20.0)) < 30


@pytest.mark.parametrize(("head", "head_length"), [("hexagon", 0.5), ("socket", 0.4)])
@pytest.mark.parametrize(("mate", "mate_length"), [("nut", 0.4), ("tapped hole", 0.33)])
def test_fastener_is_the_sum_of_its_parts(head, head_length, mate, mate_length):
    # VDI 2230-1:2003 (substitute lengths from memory).
    size = thread("M12")
    nominal = math.pi / 4 * 12**2
    segments = [Segment(20.0, nominal), Segment(10.0, size.core_area)]
    expected = (head_length * 12 / nominal + 20 / nominal + 10 / size.core_area) / 205e3
    expected += 0.5 * 12 / size.core_area / 205e3 + mate_length * 12 / nominal / 100e3
    found = fastener_compliance(segments, 12.0, size.core_area, 205e3, head, mate, 100e3)
    assert found == pytest.approx(expected, rel=1e-12)


def test_an_unknown_head_or_mate_is_refused():
    with pytest.raises(ValueError, match="unknown head 'hex'"):
        fastener_compliance([], 12.0, 76.0, 205e3, "hex", "nut", 205e3)
    with pytest.raises(
        ValueError, match=r"unknown mate of the thread 'tapped'; nearest: tapped hole"
    ):
        fastener_compliance([], 12.0, 76.0, 205e3, "hexagon", "tapped", 205e3)


def test_a_cone_that_meets_the_outer_diameter_at_a_border_of_layers():
    # By rounding alone the cone goes on into the second layer, where it has no depth to press.
    angle = math.radians(30.0)
    outer = math.nextafter(16.63 + 2 * 10.0 * math.tan(angle), math.inf)
    layers = [Layer(t, 205e3, 13.5, outer) for t in (10.0, 2.0)]
    pieces = pressed_pieces(layers, 16.63, None, angle)
    assert [(piece.layer, piece.kind) for piece in pieces] == [(0, "cone"), (1, "sleeve")]
    assert pieces[1].thickness == 2.0
