"""The joint's life: from assembly through settling to every judged state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.inputs import state_input
from preloadmc.joint.assembly import assemble
from preloadmc.joint.facts import Joint
from preloadmc.joint.group import taken_by_neighbours
from preloadmc.joint.heat import fastener_strength_left, temperature_of_layer
from preloadmc.joint.quantities import total_compliance
from preloadmc.joint.tightened import Assembly, Inputs
from preloadmc.mechanics import hardening, losses, service, thermal
from preloadmc.units import FloatLike


@dataclass(frozen=True, slots=True)
class JudgedState:
    """A state after settling. Preload in N before external load.

    ``largest`` is what an elastic joint would hold the first time: neither clipped at zero nor
    capped at yield, so that a margin keeps its sign and slope. ``preload`` is the least that it
    holds once the states have come again and again: without ``lost``, the elongation [mm] that
    yield of the fastener in any of them has cost at the state's ``compliance`` [mm/N].
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


@dataclass(frozen=True, slots=True)
class State:
    """The joint's life on a block of samples: arrays (n,) or floats, forces in N.

    ``all_tightened`` is the preload once all fasteners of the joint are tightened, ``settled`` that
    before any state of service. Margins are taken from ``assembly`` and
    the judged states, which are not clipped; what a reader sees is ``assembled``, ``held`` and
    ``residual``.
    """

    assembly: Assembly
    all_tightened: FloatLike
    settled: FloatLike
    judged: tuple[JudgedState, ...]

    @property
    def assembled(self) -> FloatLike:
        """Return the preload after tightening [N]: none where the fastener broke."""
        return self._intact(losses.not_below_zero(self.assembly.preload))

    @property
    def has_neighbours(self) -> bool:
        """Return whether other fasteners of the joint take preload from this one."""
        return self.all_tightened is not self.assembly.preload

    @property
    def left_by_neighbours(self) -> FloatLike:
        """Return the preload once all fasteners of the joint are tightened [N]."""
        return self._intact(losses.not_below_zero(self.all_tightened))

    def held(self, state: JudgedState) -> FloatLike:
        """Return the least preload that the joint really holds in a state [N]."""
        return self._intact(losses.not_below_zero(state.preload))

    def named(self, name: str) -> JudgedState:
        """Return the judged state of that name."""
        return next(judged for judged in self.judged if judged.name == name)

    def left_of(self, force: FloatLike) -> FloatLike:
        """Return the preload that is left where tightening reaches a force [N].

        A tensioner pulls harder than what it leaves.
        """
        assembly = self.assembly
        left = assembly.preload / assembly.peak if assembly.pulls_harder else 1.0
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
    made = assemble(joint, x)
    held = made.preload
    taken = taken_by_neighbours(joint.method.setting_input, x, held)
    if taken is not None:
        held = held - taken
    settled = losses.preload_after_settling(
        held,
        losses.embedding_force(x["settling.embedding"], total_compliance(x)),
        x["settling.relaxation"],
    )
    elastic = [_elastic(joint, x, made, state, settled) for state in joint.judged_states]
    return State(made, held, settled, _without_what_yields(joint, elastic))


def _elastic(
    joint: Joint, x: Inputs, made: Assembly, state: str, settled: FloatLike
) -> JudgedState:
    """Return a state as an elastic joint would come to it."""
    if state == "settled" or joint.direct_thermal_change:
        preload = settled if state == "settled" else settled + x["temperature.thermal_change"]
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
        name=state,
        largest=preload,
        preload=preload,
        lost=0.0,
        compliance=compliance,
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


def _without_what_yields(joint: Joint, states: Sequence[JudgedState]) -> tuple[JudgedState, ...]:
    """Return the states without the elongation that yield in any of them costs.

    The fastener is ideally plastic: what a state would stretch it beyond yield stays as plastic
    elongation, and only more than that yields again. Whatever the order in which states come, the
    one that stretches it most therefore decides, as soon as it has come once; a state that comes
    only once knows what came before it alone.
    """
    beyond = [
        hardening.plastic_elongation_from_excess(state.largest, state.yields_at, state.compliance)
        for state in states
        if state.yields_at is not None
    ]
    if not beyond:
        return tuple(states)
    left = []
    for place, state in enumerate(states):
        lost: FloatLike = 0.0
        for elongation in beyond[: place + 1] if state.name in joint.once else beyond:
            lost = np.maximum(lost, elongation)
        left.append(replace(state, lost=lost, preload=state.largest - lost / state.compliance))
    return tuple(left)


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
