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
    return plain * joint.securing.torque_ratio


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
class _Basis:
    """What every method may draw on: torque per preload, and the strengths with its torsion."""

    per_preload: FloatLike | None
    yield_preload: FloatLike | None
    capacity: FloatLike | None


@dataclass(frozen=True, slots=True)
class _Tightened:
    """What a method leaves; the fields of `Assembly` of the same names, where they differ."""

    preload: FloatLike
    peak: FloatLike | None = None
    plastic_elongation: FloatLike | None = None
    elongation_at_capacity: FloatLike | None = None


def assemble(joint: Joint, x: Inputs) -> Assembly:
    """Tighten the joint by its method.

    Parameters
    ----------
    joint : Joint
        Facts of the joint.
    x : mapping of str to float or ndarray (n,)
        Inputs by name, in N, mm, MPa, K, rad.
    """
    friction = thread_friction(joint, x)
    # A tensioner pulls the fastener without twisting it.
    torsion = 0.0 if joint.method == "hydraulic tensioning" else 1.0
    basis = _Basis(
        torque_per_preload(joint, x),
        _preload_at(joint, x, "fastener.yield_strength", friction, torsion),
        _preload_at(joint, x, "fastener.tensile_strength", friction, torsion),
    )
    made = METHODS[joint.method](joint, x, basis)
    has_later_states = joint.judged_states != ("settled",)
    return Assembly(
        preload=made.preload,
        peak=made.preload if made.peak is None else made.peak,
        yield_preload=basis.yield_preload,
        capacity=basis.capacity,
        later_yield=_preload_at(
            joint, x, "fastener.yield_strength", friction, torsion * LATER_TORSION
        )
        if has_later_states
        else None,
        plastic_elongation=made.plastic_elongation,
        elongation_at_capacity=made.elongation_at_capacity,
        thread_torque=_twist(joint, x, made.preload, friction)
        if torsion
        else np.zeros_like(made.preload),
        per_preload=basis.per_preload,
    )


def _preload_at(
    joint: Joint, x: Inputs, strength: str, friction: FloatLike | None, torsion_share: float
) -> FloatLike | None:
    """Return the preload at which tension with torsion reaches a strength, None if not known."""
    if strength not in x or (friction is None and torsion_share > 0.0):
        return None
    return stress.yield_preload(
        joint.section.area,
        joint.section.diameter,
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        0.0 if friction is None else friction,
        x[strength],
        x["tightening.prevailing_torque"],
        torsion_share,
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


def _by_torque(joint: Joint, x: Inputs, basis: _Basis) -> _Tightened:
    assert basis.per_preload is not None, "the case file asks for what torque needs"
    torque = x["tightening.torque"] * control_factor(x)
    return _Tightened(
        tightening.preload_from_torque(torque, basis.per_preload, x["tightening.prevailing_torque"])
    )


def _by_angle(joint: Joint, x: Inputs, basis: _Basis) -> _Tightened:
    yield_preload, capacity = _strengths(basis)
    compliance = total_compliance(x)
    elastic = control.preload_after_angle(
        _by_torque(joint, x, basis).preload,
        x["tightening.angle"] - x["tightening.seating_angle"],
        joint.thread.pitch,
        compliance,
    )
    stretch = hardening.elongation_at_capacity(x["fastener.plastic_strain"], joint.weak_length)
    preload = hardening.preload_past_yield(elastic, yield_preload, capacity, compliance, stretch)
    return _Tightened(
        preload,
        plastic_elongation=hardening.plastic_elongation_from_turn(elastic, preload, compliance),
        elongation_at_capacity=stretch,
    )


def _by_yield_point(joint: Joint, x: Inputs, basis: _Basis) -> _Tightened:
    yield_preload, capacity = _strengths(basis)
    preload = control.preload_at_sensed_yield(yield_preload, x["tightening.detector_ratio"])
    stretch = hardening.elongation_at_capacity(x["fastener.plastic_strain"], joint.weak_length)
    return _Tightened(
        preload,
        plastic_elongation=hardening.plastic_elongation_from_preload(
            preload, yield_preload, capacity, stretch
        ),
        elongation_at_capacity=stretch,
    )


def _strengths(basis: _Basis) -> tuple[FloatLike, FloatLike]:
    assert basis.yield_preload is not None, "the case file asks for strengths"
    assert basis.capacity is not None, "the case file asks for strengths"
    return basis.yield_preload, basis.capacity


def _by_tensioner(joint: Joint, x: Inputs, basis: _Basis) -> _Tightened:
    force = x["tightening.pump_force"] * control_factor(x)
    preload = control.preload_from_tensioner(force, x["tightening.transfer_ratio"])
    return _Tightened(preload, peak=force)


def _by_elongation(joint: Joint, x: Inputs, basis: _Basis) -> _Tightened:
    elongation = x["tightening.elongation"] * control_factor(x)
    return _Tightened(control.preload_from_elongation(elongation, x["joint.fastener_compliance"]))


def _as_stated(joint: Joint, x: Inputs, basis: _Basis) -> _Tightened:
    return _Tightened(x["tightening.preload"])


METHODS: dict[str, Callable[[Joint, Inputs, _Basis], _Tightened]] = {
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
