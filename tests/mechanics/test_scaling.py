"""Every formula follows a change of the units of force and length.

Each row states the dimensions (powers of force and length) of a formula's arguments and result. At
random values and random rescalings of force and length, the result must rescale as stated.
"""

from __future__ import annotations

import inspect
from dataclasses import dataclass, fields, is_dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from preloadmc.mechanics import (
    bounds,
    compliance,
    control,
    fastener,
    hardening,
    loosening,
    losses,
    measured_friction,
    service,
    stress,
    stripping,
    structural,
    thermal,
    tightening,
    torsion,
)

NUMBER, FORCE, LENGTH, TORQUE = (0, 0), (1, 0), (0, 1), (1, 1)
STRESS, AREA, COMPLIANCE, STIFFNESS = (1, -2), (0, 2), (-1, 1), (1, -1)


@dataclass(frozen=True)
class Argument:
    """A value's dimensions and the range it is drawn from."""

    dimensions: tuple[int, int]
    low: float
    high: float


FRICTION = Argument(NUMBER, 0.05, 0.4)
SHARE = Argument(NUMBER, 0.05, 0.95)
ANGLE = Argument(NUMBER, 0.1, 1.2)
F = Argument(FORCE, 1e3, 1e5)
T = Argument(TORQUE, 1e3, 1e5)
P = Argument(LENGTH, 0.5, 3.0)
D = Argument(LENGTH, 9.0, 12.0)
WIDE = Argument(LENGTH, 13.0, 18.0)
HOLE = Argument(LENGTH, 5.0, 12.0)
THICK = Argument(LENGTH, 2.0, 60.0)
R = Argument(STRESS, 200.0, 1200.0)
E = Argument(STRESS, 5e4, 2.2e5)
A = Argument(AREA, 20.0, 400.0)
DELTA = Argument(COMPLIANCE, 1e-6, 1e-5)
LITTLE = Argument(LENGTH, 1e-3, 0.5)
TWIST = Argument((-1, -1), 1e-7, 1e-6)

SECTION = (A, D, P, D, FRICTION)
BRACKET = (P, D, FRICTION, FRICTION, WIDE)

FORMULAS = [
    (bounds.largest_preload, (F, SHARE, FRICTION, F), FORCE),
    (bounds.scatter_half_width, (SHARE,), NUMBER),
    (bounds.scatter_ratio_of_half_width, (SHARE,), NUMBER),
    (bounds.smallest_from_scatter_ratio, (F, SHARE), FORCE),
    (bounds.smallest_preload, (F, SHARE, SHARE, SHARE, F, F, F), FORCE),
    (compliance.cone_angle_tapped, (D, THICK, WIDE), NUMBER),
    (compliance.cone_angle_through, (D, THICK, WIDE), NUMBER),
    (compliance.frustum_stiffness, (THICK, E, WIDE, HOLE, ANGLE), STIFFNESS),
    (compliance.sleeve_stiffness, (THICK, E, WIDE, HOLE), STIFFNESS),
    (control.angle_to_preload, (F, P, DELTA), NUMBER),
    (control.preload_after_angle, (F, ANGLE, P, DELTA), FORCE),
    (control.preload_at_sensed_yield, (F, SHARE), FORCE),
    (control.preload_from_elongation, (LITTLE, DELTA), FORCE),
    (control.preload_from_tensioner, (F, SHARE), FORCE),
    (hardening.elongation_at_capacity, (SHARE, THICK), LENGTH),
    (
        hardening.plastic_elongation_from_preload,
        (F, Argument(FORCE, 1e3, 5e4), Argument(FORCE, 6e4, 9e4), LITTLE),
        LENGTH,
    ),
    (hardening.plastic_elongation_from_excess, (F, F, DELTA), LENGTH),
    (
        hardening.preload_past_yield,
        (F, Argument(FORCE, 1e3, 5e4), Argument(FORCE, 6e4, 9e4), DELTA, LITTLE),
        FORCE,
    ),
    (loosening.breakaway_excess, (T, F, P), TORQUE),
    (loosening.pitch_torque, (F, P), TORQUE),
    (loosening.preload_held_by_prevailing_torque, (T, P), FORCE),
    (loosening.ramp_excess, (ANGLE, ANGLE), NUMBER),
    (losses.embedding_force, (LITTLE, DELTA), FORCE),
    (losses.not_below_zero, (F,), FORCE),
    (losses.preload_after_settling, (F, F, SHARE), FORCE),
    (losses.rotation_loss, (ANGLE, P, DELTA), FORCE),
    (measured_friction.bearing_friction_from_torque, (T, F, WIDE), NUMBER),
    (measured_friction.thread_friction_from_linear, (FRICTION, P, D), NUMBER),
    (measured_friction.thread_friction_from_torque, (T, F, P, D), NUMBER),
    (service.clamp_force, (F, F, SHARE), FORCE),
    (service.fastener_force, (F, F, SHARE), FORCE),
    (service.load_factor, (DELTA, DELTA, SHARE), NUMBER),
    (service.preload_at_fastener_force, (F, F, SHARE), FORCE),
    (service.preload_for_no_separation, (F, SHARE), FORCE),
    (service.preload_for_no_slip, (F, FRICTION, SHARE, F, SHARE), FORCE),
    (stress.equivalent_stress, (F, T, A, D, SHARE), STRESS),
    (stress.surface_stress, (F, T, A, D, SHARE), STRESS),
    (stress.tension_at_surface_stress, (R, T, A, D, SHARE), FORCE),
    (stress.yield_preload, (*SECTION, R, T, SHARE), FORCE),
    (stripping.bending_factors, (SHARE,), NUMBER),
    (stripping.dilation_factor, (WIDE, D), NUMBER),
    (stripping.effective_engagement, (WIDE, P), LENGTH),
    (stripping.external_shear_area, (THICK, P, D, D), AREA),
    (stripping.full_engagement, (F, F, THICK, P), LENGTH),
    (stripping.internal_shear_area, (THICK, P, D, D), AREA),
    (stripping.stripping_force, (A, A, R, R, SHARE), FORCE),
    (structural.structural_preload, (R, A), FORCE),
    (thermal.preload_at_temperature, (F, DELTA, DELTA, LITTLE, LITTLE), FORCE),
    (tightening.bearing_diameter_uniform_wear, (WIDE, HOLE), LENGTH),
    (tightening.countersunk_seat_friction, (FRICTION, ANGLE), NUMBER),
    (tightening.equal_friction_from_torque_per_preload, (P, P, D, WIDE), NUMBER),
    (tightening.preload_from_torque, (T, P, T), FORCE),
    (tightening.linear_thread_torque_per_preload, (P, D, FRICTION), LENGTH),
    (tightening.release_torque_per_preload, (D, P, D, FRICTION), LENGTH),
    (tightening.thread_torque, (F, P, D, FRICTION, T), TORQUE),
    (tightening.thread_torque_per_preload, (P, D, FRICTION), LENGTH),
    (tightening.torque_per_preload, BRACKET, LENGTH),
    (tightening.torque_per_preload_from_nut_factor, (FRICTION, D), LENGTH),
    (tightening.torque_shares, (D, P, D, FRICTION), NUMBER),
    (tightening.total_friction, (T, F, P, D, WIDE), NUMBER),
    (torsion.shear_modulus, (E, SHARE), STRESS),
    (torsion.wind_up_compliance, (TWIST, P, P), COMPLIANCE),
]

# Formulas of records and words rather than plain numbers: their own tests below.
COMPOSED = {
    compliance.pressed_pieces,
    fastener.fastener_segments,
    fastener.fastener_terms,
    fastener.terms_between_ends,
    fastener.terms_over_gauge_length,
    fastener.weakest_section,
    losses.embedding_total,
    thermal.thermal_growth,
    torsion.torsional_compliance,
}

MODULES = (
    bounds,
    compliance,
    control,
    fastener,
    hardening,
    loosening,
    losses,
    measured_friction,
    service,
    stress,
    stripping,
    structural,
    thermal,
    tightening,
    torsion,
)


def _numbers(result):
    if is_dataclass(result):
        return np.array([float(getattr(result, field.name)) for field in fields(result)])
    return np.array(result, dtype=float)


def _factor(dimensions, force, length):
    return force ** dimensions[0] * length ** dimensions[1]


def test_every_formula_has_its_row():
    formulas = {
        function
        for module in MODULES
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if function.__module__ == module.__name__ and not name.startswith("_")
    }
    assert formulas == {function for function, *_ in FORMULAS} | COMPOSED


SCALE = st.floats(0.05, 20.0)
ORDINARY = {
    NUMBER: 0.1,
    FORCE: 1e4,
    LENGTH: 1.0,
    TORQUE: 1e4,
    STRESS: 100.0,
    AREA: 100.0,
    STIFFNESS: 1e5,
    COMPLIANCE: 1e-6,
}


@pytest.mark.parametrize(
    ("function", "arguments", "result"), FORMULAS, ids=[row[0].__name__ for row in FORMULAS]
)
@settings(max_examples=40)
@given(data=st.data(), force=SCALE, length=SCALE)
def test_a_change_of_units_changes_nothing(function, arguments, result, data, force, length):
    values = [data.draw(st.floats(a.low, a.high)) for a in arguments]
    scaled = [
        value * _factor(a.dimensions, force, length)
        for value, a in zip(values, arguments, strict=True)
    ]
    expected = _numbers(function(*values)) * _factor(result, force, length)
    # Where terms cancel, rounding is measured by an ordinary value of that kind.
    rounding = 1e-9 * ORDINARY[result] * _factor(result, force, length)
    assert _numbers(function(*scaled)) == pytest.approx(expected, rel=1e-7, abs=rounding)


@given(
    thickness=st.tuples(st.floats(2.0, 30.0), st.floats(2.0, 30.0)),
    outer=st.one_of(st.none(), st.floats(14.0, 60.0)),
    nut=st.one_of(st.none(), st.floats(14.0, 24.0)),
    force=SCALE,
    length=SCALE,
)
def test_a_change_of_units_leaves_the_stack_alone(thickness, outer, nut, force, length):
    def parts(force, length):
        modulus = 205e3 * _factor(STRESS, force, length)
        layers = [
            compliance.Layer(
                t * length,
                modulus * share,
                13.5 * length,
                None if outer is None else outer * length,
            )
            for t, share in zip(thickness, (1.0, 0.35), strict=True)
        ]
        face = None if nut is None else nut * length
        pieces = compliance.pressed_pieces(layers, 18.0 * length, face, 0.5)
        return sum(piece.shape / layers[piece.layer].modulus for piece in pieces)

    expected = parts(1.0, 1.0) * _factor(COMPLIANCE, force, length)
    assert parts(force, length) == pytest.approx(expected, rel=1e-9)


@given(force=SCALE, length=SCALE)
def test_a_change_of_units_leaves_fastener_and_growth_alone(force, length):
    def whole(force, length):
        modulus = 205e3 * _factor(STRESS, force, length)
        segment = fastener.Segment(20.0 * length, 84.0 * length**2)
        terms = fastener.fastener_terms(
            [segment], 12.0 * length, 76.0 * length**2, modulus, "socket", "tapped hole", modulus
        )
        return sum(term.compliance for term in terms)

    expected = whole(1.0, 1.0) * _factor(COMPLIANCE, force, length)
    assert whole(force, length) == pytest.approx(expected, rel=1e-12)
    growth = thermal.thermal_growth([12e-6], [30.0 * length], [80.0])
    assert growth == pytest.approx(thermal.thermal_growth([12e-6], [30.0], [80.0]) * length)


# The cone angles are geometry of one joint, not of samples.
OF_SAMPLES = [
    row
    for row in FORMULAS
    if row[0] not in {compliance.cone_angle_tapped, compliance.cone_angle_through}
]


@pytest.mark.parametrize(
    ("function", "arguments", "result"), OF_SAMPLES, ids=[row[0].__name__ for row in OF_SAMPLES]
)
def test_arrays_give_what_floats_give_and_stay_as_they_were(function, arguments, result):
    rng = np.random.default_rng(20_231)
    columns = [rng.uniform(a.low, a.high, 5) for a in arguments]
    kept = [column.copy() for column in columns]
    whole = function(*columns)
    assert all(np.array_equal(*pair) for pair in zip(columns, kept, strict=True))
    if is_dataclass(whole):
        whole = np.array([getattr(whole, field.name) for field in fields(whole)])
    for i in range(5):
        one = _numbers(function(*(float(column[i]) for column in columns)))
        assert np.asarray(whole)[..., i] == pytest.approx(one, rel=1e-12)
