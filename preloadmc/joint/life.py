"""The joint's life: from assembly through settling to every judged state."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.inputs import layer_input, state_input
from preloadmc.joint.assembly import assemble
from preloadmc.joint.facts import Joint
from preloadmc.joint.quantities import total_compliance
from preloadmc.joint.tightened import Assembly, Inputs
from preloadmc.mechanics import losses, service, thermal
from preloadmc.units import FloatLike


@dataclass(frozen=True, slots=True)
class JudgedState:
    """A state after settling. Preload in N before external load.

    ``preload`` is what an elastic joint would hold: neither clipped at zero nor capped at yield,
    so that a margin keeps its sign and slope. ``load_share`` is the share of an axial load that
    the fastener takes, or None where there is none.
    """

    name: str
    preload: FloatLike
    load_share: FloatLike | None
    axial: FloatLike | None
    transverse: FloatLike | None
    joint_friction: FloatLike | None

    @property
    def may_slip(self) -> bool:
        """Return whether a transverse load acts on faces of known friction."""
        return self.transverse is not None and self.joint_friction is not None

    @property
    def fastener_force(self) -> FloatLike:
        """Return the fastener's force under the axial load [N]."""
        if self.axial is None or self.load_share is None:
            return self.preload
        return service.fastener_force(self.preload, self.axial, self.load_share)


def preload_for_no_slip(joint: Joint, judged: JudgedState) -> FloatLike:
    """Return the preload that keeps the parts from slipping in a state, either way [N].

    Without a transverse load it is what an axial load takes off the clamp force.
    """
    assert judged.joint_friction is not None, "slip needs the friction between the parts"
    return service.preload_for_no_slip(
        0.0 if judged.transverse is None else np.abs(judged.transverse),
        judged.joint_friction,
        joint.slip_faces,
        0.0 if judged.axial is None else judged.axial,
        0.0 if judged.load_share is None else judged.load_share,
    )


def preload_for_no_separation(judged: JudgedState) -> FloatLike:
    """Return the preload that keeps the parts together in a state [N]."""
    return service.preload_for_no_separation(
        0.0 if judged.axial is None else judged.axial,
        0.0 if judged.load_share is None else judged.load_share,
    )


@dataclass(frozen=True, slots=True)
class State:
    """The joint's life on a block of samples: arrays (n,) or floats, forces in N.

    Margins are taken from ``assembly`` and the judged states, which are neither clipped nor
    capped; what a reader sees is ``assembled``, ``held`` and ``residual``.
    """

    assembly: Assembly
    settled: FloatLike
    judged: tuple[JudgedState, ...]

    @property
    def assembled(self) -> FloatLike:
        """Return the preload after tightening [N]: none where the fastener broke."""
        return self._intact(losses.not_below_zero(self.assembly.preload))

    def held(self, state: JudgedState) -> FloatLike:
        """Return the preload that the joint really holds in a state [N].

        A later state cannot hold more than yield, unless tightening had hardened the fastener.
        """
        preload = losses.not_below_zero(state.preload)
        later_yield = self.assembly.later_yield
        if later_yield is not None:
            preload = np.minimum(preload, np.maximum(later_yield, self.settled))
        return self._intact(preload)

    def named(self, name: str) -> JudgedState:
        """Return the judged state of that name."""
        return next(judged for judged in self.judged if judged.name == name)

    def left_of(self, force: FloatLike) -> FloatLike:
        """Return the preload that is left where tightening reaches a force [N].

        A tensioner pulls harder than what it leaves.
        """
        assembly = self.assembly
        left = 1.0 if assembly.peak is assembly.preload else assembly.preload / assembly.peak
        return force * left

    @property
    def residual(self) -> FloatLike:
        """Return the sample's smallest preload over the judged states [N]."""
        smallest = self.held(self.judged[0])
        for state in self.judged[1:]:
            smallest = np.minimum(smallest, self.held(state))
        return smallest

    def _intact(self, preload: FloatLike) -> FloatLike:
        assembly = self.assembly
        if assembly.plastic_elongation is not None:
            assert assembly.elongation_at_capacity is not None
            broken = assembly.plastic_elongation > assembly.elongation_at_capacity
        elif assembly.capacity is not None:
            broken = assembly.peak > assembly.capacity
        else:
            return preload
        return np.where(broken, 0.0, preload)


def evaluate(joint: Joint, x: Inputs) -> State:
    """Follow the joint from tightening through settling to every judged state.

    Parameters
    ----------
    joint : Joint
        Facts of the joint.
    x : mapping of str to float or ndarray (n,)
        Inputs by name, in N, mm, MPa, K, rad.

    Returns
    -------
    State
        Arrays (n,) or floats.
    """
    assembly = assemble(joint, x)
    settled = losses.preload_after_settling(
        assembly.preload,
        losses.embedding_force(x["settling.embedding"], total_compliance(x)),
        x["settling.relaxation"],
    )
    judged = tuple(_judged(joint, x, state, settled) for state in joint.judged_states)
    return State(assembly, settled, judged)


def _judged(joint: Joint, x: Inputs, state: str, settled: FloatLike) -> JudgedState:
    if joint.direct_thermal_change:
        preload = settled + x["temperature.thermal_change"]
    elif state == "settled":
        preload = settled
    else:
        preload = _preload_at_temperature(joint, x, state, settled)
    axial = _own_or_general(x, state, "axial", "load.axial")
    return JudgedState(
        state,
        preload,
        None if axial is None else _load_share(joint, x),
        axial,
        _own_or_general(x, state, "transverse", "load.transverse"),
        _own_or_general(x, state, "joint_friction", "friction.joint"),
    )


def _own_or_general(x: Inputs, state: str, quantity: str, general: str) -> FloatLike | None:
    own = x.get(state_input(state, quantity))
    return x.get(general) if own is None else own


def _load_share(joint: Joint, x: Inputs) -> FloatLike:
    return service.load_factor(
        x["joint.fastener_compliance"], x["joint.clamped_compliance"], joint.load_introduction
    )


@dataclass(frozen=True, slots=True)
class Warmed:
    """A joint at a state's temperatures: free growth of both sides [mm] and compliance [mm/N]."""

    growth: FloatLike
    stretch: FloatLike
    compliance: FloatLike


def warmed(joint: Joint, x: Inputs, state: str) -> Warmed:
    """Return how far parts and fastener would grow freely, and how soft the joint then is."""
    assembly = x["temperature.assembly"]
    fastener = x[state_input(state, "fastener")]
    common = x.get(state_input(state, "clamped"))
    fastener_compliance = x["joint.fastener_compliance"]
    clamped_compliance = x["joint.clamped_compliance"]
    hot: FloatLike = fastener_compliance / joint.fastener_material.modulus_ratio(assembly, fastener)
    changes: list[FloatLike] = []
    softer: dict[str, FloatLike] = {}
    for place, (part, share) in enumerate(zip(joint.parts, joint.part_shares, strict=True), 1):
        temperature = x[layer_input(state, place)] if common is None else common
        key = part.material.name if common is not None else f"{place}"
        if key not in softer:
            softer[key] = part.material.modulus_ratio(assembly, temperature)
        hot = hot + clamped_compliance * share / softer[key]
        changes.append(temperature - assembly)
    growth = thermal.thermal_growth(
        [part.material.expansion for part in joint.parts],
        [part.thickness for part in joint.parts],
        changes,
    )
    stretch = joint.fastener_material.expansion * joint.clamp_length * (fastener - assembly)
    return Warmed(growth, stretch, hot)


def _preload_at_temperature(joint: Joint, x: Inputs, state: str, settled: FloatLike) -> FloatLike:
    warm = warmed(joint, x, state)
    cold = x["joint.fastener_compliance"] + x["joint.clamped_compliance"]
    return thermal.preload_at_temperature(settled, cold, warm.compliance, warm.growth, warm.stretch)
