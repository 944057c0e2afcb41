"""A state of the joint after settling: preload, loads, and where the fastener yields."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from preloadmc.inputs import state_input
from preloadmc.joint.facts import Joint
from preloadmc.joint.heat import fastener_strength_left, temperature_of_layer
from preloadmc.joint.plan import SETTLED
from preloadmc.joint.quantities import total_compliance
from preloadmc.joint.tightened import Assembly, Inputs
from preloadmc.mechanics import service, thermal
from preloadmc.units import FloatLike


@dataclass(frozen=True, slots=True)
class JudgedState:
    """A state after settling. Preload in N before external load.

    ``largest`` is what an elastic joint would hold the first time: neither clipped at zero nor
    capped at yield, so that a margin keeps its sign and slope. ``preload`` is the least that it
    holds once the states have come again and again: without ``lost``, the elongation [mm] that
    yield of the fastener in any of them has cost at the state's ``compliance`` [mm/N]. ``from_``
    is the preload at the temperature of assembly that it comes from, as an elastic joint holds it.
    ``later_yield`` is the preload at which the fastener yields at room temperature without a load,
    ``yields_at`` is the preload [N] at which it yields in this state, None where no strength is
    known, and ``strength_left`` the strength of the fastener over that at room temperature.
    ``load_share`` is the share of an axial load that the fastener takes while the parts stay
    closed. Loads [N] and friction are None where none is stated.
    """

    name: str
    largest: FloatLike
    preload: FloatLike
    lost: FloatLike
    compliance: FloatLike
    from_: FloatLike
    later_yield: FloatLike | None
    yields_at: FloatLike | None
    strength_left: FloatLike
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
        """Return the fastener's largest force under the axial load [N]."""
        if self.axial is None or self.load_share is None:
            return self.largest
        return service.fastener_force(self.largest, self.axial, self.load_share)

    def preload_at(self, fastener_force: FloatLike) -> FloatLike:
        """Return the preload at which the fastener reaches a force under the axial load [N]."""
        if self.axial is None or self.load_share is None:
            return fastener_force
        return service.preload_at_fastener_force(fastener_force, self.axial, self.load_share)


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


def elastic_state(
    joint: Joint,
    x: Inputs,
    made: Assembly,
    state: str,
    settled: FloatLike,
    like: JudgedState | None = None,
    name: str = "",
) -> JudgedState:
    """Return a state as an elastic joint would come to it from a preload at assembly temperature.

    It is called as the state is, unless by another ``name``. One that is ``like`` it at another
    time has its temperatures and loads.
    """
    if like is not None:
        return replace(
            like,
            name=name,
            largest=like.largest + (settled - like.from_) * (total_compliance(x) / like.compliance),
            from_=settled,
            later_yield=made.later_yield,
            yields_at=_yields_at(made, like.strength_left, like.axial, like.load_share),
        )
    if state == SETTLED or joint.direct_thermal_change:
        preload = settled if state == SETTLED else settled + x["temperature.thermal_change"]
        compliance = total_compliance(x)
        apart = x.get("joint.fastener_compliance"), x.get("joint.clamped_compliance")
    else:
        warm = warmed(joint, x, state)
        apart = warm.fastener_compliance, warm.clamped_compliance
        compliance = warm.compliance
        preload = thermal.preload_at_temperature(
            settled, total_compliance(x), compliance, warm.growth, warm.stretch
        )
    axial = _own_or_general(x, state, "axial", "load.axial")
    share = None if axial is None else _load_share(joint, *apart)
    left = fastener_strength_left(joint, x, state)
    return JudgedState(
        name=name or state,
        largest=preload,
        preload=preload,
        lost=0.0,
        compliance=compliance,
        from_=settled,
        later_yield=made.later_yield,
        yields_at=_yields_at(made, left, axial, share),
        strength_left=left,
        load_share=share,
        axial=axial,
        transverse=_own_or_general(x, state, "transverse", "load.transverse"),
        joint_friction=_own_or_general(x, state, "joint_friction", "friction.joint"),
    )


def _load_share(
    joint: Joint, fastener_compliance: FloatLike | None, clamped_compliance: FloatLike | None
) -> FloatLike:
    assert fastener_compliance is not None, "the case file asks for both under an axial load"
    assert clamped_compliance is not None, "the case file asks for both under an axial load"
    return service.load_factor(fastener_compliance, clamped_compliance, joint.load_introduction)


def _yields_at(
    made: Assembly, left: FloatLike, axial: FloatLike | None, share: FloatLike | None
) -> FloatLike | None:
    """Return the preload at which the fastener yields in a state [N].

    Tightening past yield has hardened it up to the force that it then reached. A tensile load
    stretches it as well; one that presses the parts comes and goes.
    """
    if made.later_yield is None:
        return None
    most: FloatLike = np.maximum(made.later_yield, made.peak) * left
    if axial is None or share is None:
        return most
    return service.preload_at_fastener_force(most, np.maximum(axial, 0.0), share)


def _own_or_general(x: Inputs, state: str, quantity: str, general: str) -> FloatLike | None:
    own = x.get(state_input(state, quantity))
    return x.get(general) if own is None else own


@dataclass(frozen=True, slots=True)
class Warmed:
    """A joint at a state's temperatures: free growth of both sides [mm] and compliances [mm/N]."""

    growth: FloatLike
    stretch: FloatLike
    fastener_compliance: FloatLike
    clamped_compliance: FloatLike

    @property
    def compliance(self) -> FloatLike:
        """Return that of the whole joint [mm/N]."""
        return self.fastener_compliance + self.clamped_compliance


def warmed(joint: Joint, x: Inputs, state: str) -> Warmed:
    """Return how far parts and fastener would grow freely, and how soft the joint then is."""
    state = joint.state_of(state)
    assembly = x["temperature.assembly"]
    fastener = x[state_input(state, "fastener")]
    common = x.get(state_input(state, "clamped"))
    cold_fastener, cold_parts = x["joint.fastener_compliance"], x["joint.clamped_compliance"]
    hot_fastener = cold_fastener / joint.fastener_material.modulus_ratio(assembly, fastener)
    hot_parts: FloatLike = 0.0
    changes: list[FloatLike] = []
    softer: dict[str, FloatLike] = {}
    for place, (part, share) in enumerate(zip(joint.parts, joint.part_shares, strict=True), 1):
        temperature = temperature_of_layer(joint, x, state, place)
        key = part.material.name if common is not None else f"{place}"
        if key not in softer:
            softer[key] = part.material.modulus_ratio(assembly, temperature)
        hot_parts = hot_parts + cold_parts * share / softer[key]
        changes.append(temperature - assembly)
    growth = thermal.thermal_growth(
        [part.material.expansion for part in joint.parts],
        [part.thickness for part in joint.parts],
        changes,
    )
    stretch = joint.fastener_material.expansion * joint.clamp_length * (fastener - assembly)
    return Warmed(growth, stretch, hot_fastener, hot_parts)
