"""Assembly: what each tightening method controls, and the preload that comes of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from preloadmc.joint.facts import Joint
from preloadmc.mechanics import control, hardening, stress, tightening
from preloadmc.units import FloatLike

Inputs = Mapping[str, FloatLike]

# Share of the thread torque that still twists the fastener after tightening
# (from memory of VDI 2230).
LATER_TORSION = 0.5


@dataclass(frozen=True, slots=True)
class Assembly:
    """The joint just tightened, on a block of samples: arrays (n,) or floats, forces in N.

    ``preload`` is what the method leaves, ``peak`` the largest force of tightening; both are
    neither clipped nor capped, so that margins keep their sign and slope. ``yield_preload`` and
    ``capacity`` (where the fastener breaks) go with the torsion of the method; None where no
    strength is given. ``plastic_elongation`` [mm] and ``elongation_at_capacity`` [mm] are None for
    methods that are meant to stay elastic. ``thread_torque`` [N·mm] twists the fastener.
    """

    preload: FloatLike
    peak: FloatLike
    yield_preload: FloatLike | None
    capacity: FloatLike | None
    later_yield: FloatLike | None
    plastic_elongation: FloatLike | None
    elongation_at_capacity: FloatLike | None
    thread_torque: FloatLike
    per_preload: FloatLike | None


def control_factor(x: Inputs) -> FloatLike:
    """Return what the tool makes of the set value: (1 + bias)(1 + e).

    The input ``tightening.tool`` is the factor ``1 + e``.
    """
    return (1.0 + x["tightening.bias"]) * x["tightening.tool"]


def total_compliance(x: Inputs) -> FloatLike:
    """Return delta_S + delta_P [mm/N]."""
    if "joint.compliance" in x:
        return x["joint.compliance"]
    return x["joint.fastener_compliance"] + x["joint.clamped_compliance"]


def torque_per_preload(joint: Joint, x: Inputs) -> FloatLike | None:
    """Return tightening torque per preload [mm]; None where no friction under the head is known.

    A securing element asks its share of torque on top, taken up at the seat.
    """
    plain = _plain_torque_per_preload(joint, x)
    if plain is None or joint.securing is None:
        return plain
    return plain * joint.securing.element.torque_ratio


def _plain_torque_per_preload(joint: Joint, x: Inputs) -> FloatLike | None:
    if joint.uses_nut_factor:
        return tightening.torque_per_preload_from_nut_factor(
            x["friction.nut_factor"], joint.thread.diameter
        )
    if "friction.bearing" not in x or "fastener.bearing_diameter" not in x:
        return None
    return tightening.torque_per_preload(
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        x["friction.thread"],
        x["friction.bearing"] * joint.seat_factor,
        x["fastener.bearing_diameter"],
    )


def thread_friction(joint: Joint, x: Inputs) -> FloatLike | None:
    """Return thread friction, solved from the nut factor where none is given (equal frictions)."""
    if "friction.thread" in x:
        return x["friction.thread"]
    if "friction.nut_factor" not in x or "fastener.bearing_diameter" not in x:
        return None
    per_preload = tightening.torque_per_preload_from_nut_factor(
        x["friction.nut_factor"], joint.thread.diameter
    )
    return tightening.equal_friction_from_torque_per_preload(
        per_preload,
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        x["fastener.bearing_diameter"] * joint.seat_factor,
    )


@dataclass(frozen=True, slots=True)
class _Strength:
    """Preloads at yield and at the tensile strength for the torsion of the method."""

    yield_preload: FloatLike | None
    capacity: FloatLike | None
    later_yield: FloatLike | None


def assemble(joint: Joint, x: Inputs) -> Assembly:
    """Tighten the joint by its method.

    Parameters
    ----------
    joint : Joint
        Facts of the joint.
    x : mapping of str to float or ndarray (n,)
        Inputs by name, in N, mm, MPa, K, rad.
    """
    per_preload = torque_per_preload(joint, x)
    friction = thread_friction(joint, x)
    strength = _strength(joint, x, friction)
    return METHODS[joint.method](joint, x, per_preload, friction, strength)


def _strength(joint: Joint, x: Inputs, friction: FloatLike | None) -> _Strength:
    torsion = 0.0 if joint.method == "hydraulic tensioning" else 1.0

    def preload_at(strength: str, share: float) -> FloatLike | None:
        if strength not in x or (friction is None and share > 0.0):
            return None
        return stress.yield_preload(
            joint.section.area,
            joint.section.diameter,
            joint.thread.pitch,
            joint.thread.pitch_diameter,
            0.0 if friction is None else friction,
            x[strength],
            x["tightening.prevailing_torque"],
            share,
        )

    later = torsion * LATER_TORSION
    return _Strength(
        preload_at("fastener.yield_strength", torsion),
        preload_at("fastener.tensile_strength", torsion),
        preload_at("fastener.yield_strength", later)
        if joint.judged_states != ("settled",)
        else None,
    )


def _twist(joint: Joint, x: Inputs, preload: FloatLike, friction: FloatLike | None) -> FloatLike:
    """Return the torque in the shank [N·mm]; without a known friction, that of the pitch alone."""
    return tightening.thread_torque(
        preload,
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        0.0 if friction is None else friction,
        x["tightening.prevailing_torque"],
    )


def _elastic(
    joint: Joint,
    x: Inputs,
    preload: FloatLike,
    per_preload: FloatLike | None,
    friction: FloatLike | None,
    strength: _Strength,
) -> Assembly:
    return Assembly(
        preload,
        preload,
        strength.yield_preload,
        strength.capacity,
        strength.later_yield,
        None,
        None,
        _twist(joint, x, preload, friction),
        per_preload,
    )


def _snug(joint: Joint, x: Inputs, per_preload: FloatLike | None) -> FloatLike:
    assert per_preload is not None, "the case file asks for what torque needs"
    return tightening.preload_from_torque(
        x["tightening.torque"] * control_factor(x), per_preload, x["tightening.prevailing_torque"]
    )


def _by_torque(
    joint: Joint,
    x: Inputs,
    per_preload: FloatLike | None,
    friction: FloatLike | None,
    strength: _Strength,
) -> Assembly:
    preload = _snug(joint, x, per_preload)
    return _elastic(joint, x, preload, per_preload, friction, strength)


def _by_angle(
    joint: Joint,
    x: Inputs,
    per_preload: FloatLike | None,
    friction: FloatLike | None,
    strength: _Strength,
) -> Assembly:
    assert strength.yield_preload is not None, "the case file asks for strengths"
    assert strength.capacity is not None, "the case file asks for strengths"
    compliance = total_compliance(x)
    elastic = control.preload_after_angle(
        _snug(joint, x, per_preload),
        x["tightening.angle"] - x["tightening.seating_angle"],
        joint.thread.pitch,
        compliance,
    )
    stretch = hardening.elongation_at_capacity(x["fastener.plastic_strain"], joint.weak_length)
    preload = hardening.preload_past_yield(
        elastic, strength.yield_preload, strength.capacity, compliance, stretch
    )
    return Assembly(
        preload,
        preload,
        strength.yield_preload,
        strength.capacity,
        strength.later_yield,
        hardening.plastic_elongation_from_turn(elastic, preload, compliance),
        stretch,
        _twist(joint, x, preload, friction),
        per_preload,
    )


def _by_yield_point(
    joint: Joint,
    x: Inputs,
    per_preload: FloatLike | None,
    friction: FloatLike | None,
    strength: _Strength,
) -> Assembly:
    assert strength.yield_preload is not None, "the case file asks for strengths"
    assert strength.capacity is not None, "the case file asks for strengths"
    preload = control.preload_at_sensed_yield(
        strength.yield_preload, x["tightening.detector_ratio"]
    )
    stretch = hardening.elongation_at_capacity(x["fastener.plastic_strain"], joint.weak_length)
    return Assembly(
        preload,
        preload,
        strength.yield_preload,
        strength.capacity,
        strength.later_yield,
        hardening.plastic_elongation_from_preload(
            preload, strength.yield_preload, strength.capacity, stretch
        ),
        stretch,
        _twist(joint, x, preload, friction),
        per_preload,
    )


def _by_tensioner(
    joint: Joint,
    x: Inputs,
    per_preload: FloatLike | None,
    friction: FloatLike | None,
    strength: _Strength,
) -> Assembly:
    force = x["tightening.pump_force"] * control_factor(x)
    preload = control.preload_from_tensioner(force, x["tightening.transfer_ratio"])
    return Assembly(
        preload,
        force,
        strength.yield_preload,
        strength.capacity,
        strength.later_yield,
        None,
        None,
        np.zeros_like(preload),
        per_preload,
    )


def _by_elongation(
    joint: Joint,
    x: Inputs,
    per_preload: FloatLike | None,
    friction: FloatLike | None,
    strength: _Strength,
) -> Assembly:
    preload = control.preload_from_elongation(
        x["tightening.elongation"] * control_factor(x), x["joint.fastener_compliance"]
    )
    return _elastic(joint, x, preload, per_preload, friction, strength)


def _as_stated(
    joint: Joint,
    x: Inputs,
    per_preload: FloatLike | None,
    friction: FloatLike | None,
    strength: _Strength,
) -> Assembly:
    return _elastic(joint, x, x["tightening.preload"], per_preload, friction, strength)


_Method = Callable[[Joint, Inputs, FloatLike | None, FloatLike | None, _Strength], Assembly]

METHODS: dict[str, _Method] = {
    "torque": _by_torque,
    "torque then angle": _by_angle,
    "yield point sensed": _by_yield_point,
    "hydraulic tensioning": _by_tensioner,
    "elongation measured": _by_elongation,
    "pulse or impact": _by_torque,
    "stated scatter": _as_stated,
}
# Methods that set a torque, and methods that are meant to carry the fastener past yield.
TORQUE_METHODS = ("torque", "torque then angle", "pulse or impact")
PLASTIC_METHODS = ("torque then angle", "yield point sensed")
