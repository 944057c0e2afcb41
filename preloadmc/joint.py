"""The joint: the mechanics assembled into the states of its life."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from preloadmc.inputs import state_input
from preloadmc.mechanics import losses, service, stress, thermal, tightening
from preloadmc.mechanics.materials import Material
from preloadmc.mechanics.thread import Thread
from preloadmc.units import FloatLike

Inputs = Mapping[str, FloatLike]

# Share of the thread torque that still twists the fastener after tightening
# (from memory of VDI 2230).
LATER_TORSION = 0.5


@dataclass(frozen=True, slots=True)
class ClampedPart:
    """One layer between head and nut. Lengths in mm, pressure in MPa."""

    material: Material
    thickness: float
    hole_diameter: float
    outer_diameter: float | None
    limiting_pressure: float | None


@dataclass(frozen=True, slots=True)
class Joint:
    """What is fixed about the joint: everything that is a fact and not a law.

    ``part_shares`` (k,) are the shares of the clamped parts' compliance, one a layer, adding to 1.
    """

    thread: Thread
    method: str
    uses_nut_factor: bool
    fastener_material: Material
    parts: tuple[ClampedPart, ...]
    part_shares: tuple[float, ...]
    states: tuple[str, ...]
    direct_thermal_change: bool
    seat_factor: float
    slip_faces: int
    load_introduction: float

    @property
    def clamp_length(self) -> float:
        """Return the thickness of all layers together [mm]."""
        return sum(part.thickness for part in self.parts)

    @property
    def stays_elastic(self) -> bool:
        """Return whether the tightening method is meant to leave the fastener below yield."""
        return self.method == "torque"

    @property
    def judged_states(self) -> tuple[str, ...]:
        """Return the names of the states in which preload is judged, in order of life."""
        if self.direct_thermal_change:
            return ("service",)
        return ("settled", *self.states)


@dataclass(frozen=True, slots=True)
class JudgedState:
    """A state after settling. Preload in N before external load.

    ``preload`` is what an elastic joint would hold: neither clipped at zero nor capped at yield,
    so that a margin keeps its sign and slope. ``later_yield`` is the preload [N] at which the
    fastener yields with the torsion left in later states, or None; ``load_share`` the share of
    an axial load that the fastener takes, or None where there is none.
    """

    name: str
    preload: FloatLike
    later_yield: FloatLike | None
    load_share: FloatLike | None
    axial: FloatLike | None
    transverse: FloatLike | None
    joint_friction: FloatLike | None


@dataclass(frozen=True, slots=True)
class State:
    """The joint's life on a block of samples: arrays (n,) or floats, forces in N.

    ``tightened`` is the preload of the tightening equation, neither clipped nor capped: it is
    equilibrium up to ``capacity``, where the fastener breaks. Margins are taken from it; what a
    reader sees is ``assembled``, ``held`` and ``residual``.
    """

    tightened: FloatLike
    yield_preload: FloatLike | None
    capacity: FloatLike | None
    settled: FloatLike
    judged: tuple[JudgedState, ...]

    @property
    def assembled(self) -> FloatLike:
        """Return the preload after tightening [N]: none where the fastener broke."""
        return self._intact(losses.not_below_zero(self.tightened))

    def held(self, state: JudgedState) -> FloatLike:
        """Return the preload that the joint really holds in a state [N].

        A later state cannot hold more than yield, unless tightening had hardened the fastener.
        """
        preload = losses.not_below_zero(state.preload)
        if state.later_yield is not None:
            preload = np.minimum(preload, np.maximum(state.later_yield, self.settled))
        return self._intact(preload)

    @property
    def residual(self) -> FloatLike:
        """Return the sample's smallest preload over the judged states [N]."""
        smallest = self.held(self.judged[0])
        for state in self.judged[1:]:
            smallest = np.minimum(smallest, self.held(state))
        return smallest

    def _intact(self, preload: FloatLike) -> FloatLike:
        if self.capacity is None:
            return preload
        return np.where(self.tightened > self.capacity, 0.0, preload)


def torque_per_preload(joint: Joint, x: Inputs) -> FloatLike:
    """Return tightening torque per preload [mm], by frictions or by nut factor."""
    if joint.uses_nut_factor:
        return tightening.torque_per_preload_from_nut_factor(
            x["friction.nut_factor"], joint.thread.diameter
        )
    return tightening.torque_per_preload(
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        x["friction.thread"],
        x["friction.bearing"] * joint.seat_factor,
        x["fastener.bearing_diameter"],
    )


def thread_friction(joint: Joint, x: Inputs, per_preload: FloatLike) -> FloatLike:
    """Return thread friction, solved from the nut factor where none is given (equal frictions)."""
    if "friction.thread" in x:
        return x["friction.thread"]
    return tightening.equal_friction_from_torque_per_preload(
        per_preload,
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        x["fastener.bearing_diameter"],
    )


def applied_torque(x: Inputs) -> FloatLike:
    """Return the torque that the tool applies [N·mm]: T_set (1 + bias)(1 + e).

    The input ``tightening.tool`` is the factor ``1 + e``.
    """
    return x["tightening.torque"] * (1.0 + x["tightening.bias"]) * x["tightening.tool"]


def _total_compliance(x: Inputs) -> FloatLike:
    if "joint.compliance" in x:
        return x["joint.compliance"]
    return x["joint.fastener_compliance"] + x["joint.clamped_compliance"]


def _load_share(joint: Joint, x: Inputs) -> FloatLike | None:
    if "joint.clamped_compliance" not in x:
        return None
    return service.load_factor(
        x["joint.fastener_compliance"], x["joint.clamped_compliance"], joint.load_introduction
    )


def _preload_at_temperature(joint: Joint, x: Inputs, state: str, settled: FloatLike) -> FloatLike:
    assembly = x["temperature.assembly"]
    fastener = x[state_input(state, "fastener")]
    clamped = x[state_input(state, "clamped")]
    fastener_compliance = x["joint.fastener_compliance"]
    clamped_compliance = x["joint.clamped_compliance"]
    hot: FloatLike = fastener_compliance / joint.fastener_material.modulus_ratio(assembly, fastener)
    for part, share in zip(joint.parts, joint.part_shares, strict=True):
        ratio = part.material.modulus_ratio(assembly, clamped)
        hot = hot + clamped_compliance * share / ratio
    growth = thermal.thermal_growth(
        [part.material.expansion for part in joint.parts],
        [part.thickness for part in joint.parts],
        [clamped - assembly] * len(joint.parts),
    )
    stretch = joint.fastener_material.expansion * joint.clamp_length * (fastener - assembly)
    return thermal.preload_at_temperature(
        settled, fastener_compliance + clamped_compliance, hot, growth, stretch
    )


def _strength_preload(
    joint: Joint, x: Inputs, strength: str, friction: FloatLike, torsion_share: float
) -> FloatLike | None:
    """Return the preload at which tension with torsion reaches a strength, None if not given."""
    if strength not in x:
        return None
    return stress.yield_preload(
        joint.thread.stress_area,
        joint.thread.stress_diameter,
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        friction,
        x[strength],
        x["tightening.prevailing_torque"],
        torsion_share,
    )


def _own_or_general(x: Inputs, state: str, quantity: str, general: str) -> FloatLike | None:
    own = x.get(state_input(state, quantity))
    return x.get(general) if own is None else own


def _judged(
    joint: Joint, x: Inputs, state: str, settled: FloatLike, later_yield: FloatLike | None
) -> JudgedState:
    if state == "service" and joint.direct_thermal_change:
        preload = settled + x["temperature.thermal_change"]
    elif state == "settled":
        preload = settled
    else:
        preload = _preload_at_temperature(joint, x, state, settled)
    axial = _own_or_general(x, state, "axial", "load.axial")
    return JudgedState(
        state,
        preload,
        later_yield,
        _load_share(joint, x) if axial is not None else None,
        axial,
        _own_or_general(x, state, "transverse", "load.transverse"),
        _own_or_general(x, state, "joint_friction", "friction.joint"),
    )


def evaluate(joint: Joint, x: Inputs) -> State:
    """Follow the joint from tightening through settling to every judged state.

    Parameters
    ----------
    joint : Joint
        Facts of the joint.
    x : mapping of str to float or ndarray (n,)
        Inputs by name, in N, mm, MPa, K.

    Returns
    -------
    State
        Arrays (n,) or floats.
    """
    per_preload = torque_per_preload(joint, x)
    tightened = tightening.preload_from_torque(
        applied_torque(x), per_preload, x["tightening.prevailing_torque"]
    )
    friction = thread_friction(joint, x, per_preload)
    later_yield = (
        _strength_preload(joint, x, "fastener.yield_strength", friction, LATER_TORSION)
        if joint.judged_states != ("settled",)
        else None
    )
    settled = losses.preload_after_settling(
        tightened,
        losses.embedding_force(x["settling.embedding"], _total_compliance(x)),
        x["settling.relaxation"],
    )
    return State(
        tightened,
        _strength_preload(joint, x, "fastener.yield_strength", friction, 1.0),
        _strength_preload(joint, x, "fastener.tensile_strength", friction, 1.0),
        settled,
        tuple(_judged(joint, x, state, settled, later_yield) for state in joint.judged_states),
    )
