"""The limits beside the preload window, from loosening by slip to spontaneous back-off."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from preloadmc.joint import (
    AT_ASSEMBLY,
    Inputs,
    Joint,
    JudgedState,
    State,
    fastener_strength_left,
    layer_strength_left,
    mate_strength_left,
    preload_for_no_slip,
    temperature_of_layer,
    temperature_of_mate,
    thread_friction,
)
from preloadmc.joint.assembly import LATER_TORSION
from preloadmc.joint.shape import engaged_thread, faces_without_limit
from preloadmc.limits.records import (
    ABOVE,
    BELOW,
    WANTED_LAW,
    Found,
    LimitKind,
    Margin,
    Requirement,
    always,
    has_input,
)
from preloadmc.mechanics import loosening, stress, tightening
from preloadmc.mechanics.materials import Material
from preloadmc.mechanics.softening import SOFT_FROM
from preloadmc.units import (
    FORCE,
    LENGTH,
    RATIO,
    STRESS,
    TEMPERATURE,
    FloatLike,
    format_quantity,
)


def _loosening(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    if joint.securing is None or joint.securing.missing:
        return
    for judged in state.judged:
        if judged.may_slip:
            yield Found(judged.name, _held_while_slipping(joint, requirement, x, judged), 1.0)


def _held_while_slipping(
    joint: Joint, requirement: Requirement, x: Inputs, judged: JudgedState
) -> FloatLike:
    """Return how far the joint is from loosening by slip, as a share: below zero it loosens.

    Either the parts do not slip, or the securing element holds by its own rule. A positive lock
    keeps the fastener on, and no preload with it.
    """
    securing = joint.securing
    assert securing is not None
    needed = preload_for_no_slip(joint, judged)
    # A loose joint is no further from loosening where more is asked of it.
    no_slip = (np.maximum(judged.preload, 0.0) - needed) / np.maximum(needed, 1.0)
    rule = securing.element.loosening
    held: FloatLike
    if rule == "prevailing torque" and securing.worn_torque is not None:
        # None is assured where an axial load acts while the parts slip.
        assured = loosening.preload_held_by_prevailing_torque(
            securing.worn_torque, joint.thread.pitch
        )
        wanted = x.get("requirement.minimum_preload", needed)
        axial = 0.0 if judged.axial is None else judged.axial
        held = np.where(np.asarray(axial) != 0.0, -1.0, assured / np.maximum(wanted, 1.0) - 1.0)
    elif rule == "ramp" and securing.ramp_angle is not None and securing.bites:
        lead = joint.thread.lead_angle
        held = loosening.ramp_excess(securing.ramp_angle, lead) / lead
    elif rule == "breakaway torque" and securing.breakaway_torque is not None:
        pitch_torque = loosening.pitch_torque(np.maximum(judged.preload, 1.0), joint.thread.pitch)
        held = securing.breakaway_torque / pitch_torque - 1.0
    else:
        return no_slip
    return np.maximum(no_slip, held)


def _rule_unknown(joint: Joint, requirement: Requirement, x: Inputs) -> Iterator[tuple[str, str]]:
    if joint.securing is not None and joint.securing.missing and has_input(x, "transverse"):
        missing = ", ".join(joint.securing.missing)
        yield "loosening by transverse slip", f"state {missing} of {joint.securing.element.name}"


LOOSENING = LimitKind(
    "loosening by transverse slip",
    ABOVE,
    RATIO,
    always(),
    _loosening,
    in_preload=False,
    unjudged=_rule_unknown,
    compared_as="loosening by slip",
    remedy="a securing element that holds while the parts slip, or no slip",
)


def _yield_in_service(
    joint: Joint, requirement: Requirement, x: Inputs, state: State
) -> Iterator[Found]:
    if "fastener.yield_strength" not in x:
        return
    strength = service_strength(joint, x, state)
    for judged in state.judged:
        if judged.axial is not None:
            equivalent = stress.surface_stress(
                judged.fastener_force,
                state.assembly.thread_torque,
                joint.section.area,
                joint.section.diameter,
                LATER_TORSION,
            )
            most = strength * judged.strength_left
            yield Found(judged.name, most - equivalent, most)


def service_strength(joint: Joint, x: Inputs, state: State) -> FloatLike:
    """Return the stress [MPa] at which the fastener yields in service.

    A fastener that tightening carried past yield has hardened up to the stress it then reached.
    """
    strength = x["fastener.yield_strength"]
    if not joint.method.passes_yield:
        return strength
    reached = stress.equivalent_stress(
        state.assembly.peak,
        state.assembly.thread_torque,
        joint.section.area,
        joint.section.diameter,
        1.0,
    )
    return np.maximum(strength, reached)


def _yields_at(joint: Joint, x: Inputs, state: State, margin: Margin) -> FloatLike:
    """Return the preload at which the fastener yields under the load of a state.

    The torsion stays that of tightening; the fastener's share of the load is taken off.
    """
    judged = state.named(margin.limit.state)
    tension = stress.tension_at_surface_stress(
        service_strength(joint, x, state) * judged.strength_left,
        state.assembly.thread_torque,
        joint.section.area,
        joint.section.diameter,
        LATER_TORSION,
    )
    return judged.preload_at(tension)


def _strength_unknown(
    joint: Joint, requirement: Requirement, x: Inputs
) -> Iterator[tuple[str, str]]:
    if has_input(x, "axial") and "fastener.yield_strength" not in x:
        yield "yield in service", "state property_class or yield_strength of [fastener]"


YIELD_IN_SERVICE = LimitKind(
    "yield in service",
    BELOW,
    STRESS,
    always(),
    _yield_in_service,
    reached=_yields_at,
    unjudged=_strength_unknown,
    remedy="a stronger fastener or a smaller axial load",
)


def _pressure(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    if joint.has_no_upper_end:
        return
    for face in joint.bearing_faces:
        for name, force in _fastener_forces(joint, state, at_mate=face.at_mate):
            left = layer_strength_left(joint, x, name, face.material, face.layer)
            most = face.limiting_force * left
            yield Found(name, most - force, most, f"pressure under {face.where}")


def _fastener_forces(joint: Joint, state: State, *, at_mate: bool) -> list[tuple[str, FloatLike]]:
    """Return the force that one end carries at assembly and in every judged state [N]."""
    at_assembly = [(AT_ASSEMBLY, _force_at_assembly(joint, state, at_mate=at_mate))]
    return [*at_assembly, *((judged.name, judged.fastener_force) for judged in state.judged)]


def _force_at_assembly(joint: Joint, state: State, *, at_mate: bool) -> FloatLike:
    """Return the largest force that tightening puts on one end of the fastener [N]."""
    pulled_there = at_mate == joint.pulled_at_mate
    return state.assembly.preload if pulled_there else state.assembly.peak


def _pressure_unknown(
    joint: Joint, requirement: Requirement, x: Inputs
) -> Iterator[tuple[str, str]]:
    """Yield the ends where no limiting pressure, or no upper end of the preload, is known."""
    known = [face.where for face in joint.bearing_faces]
    if joint.has_no_upper_end:
        yield from ((f"pressure under {where}", f"state {WANTED_LAW}") for where in known)
    ends = joint.parts[:1], joint.parts[-1:]
    for where, pressed in zip(joint.geometry.ends, ends, strict=False):
        if where in known:
            continue
        if not pressed:
            words = "state the [[clamped]] layers"
        elif pressed[0].limiting_pressure is None:
            words = _asked(pressed[0].material)
        else:
            words = "state bearing_outer_diameter of [fastener]"
        yield f"pressure under {where}", words
    for face in faces_without_limit(joint.geometry, joint.parts):
        if face.where not in joint.geometry.ends:
            yield f"pressure under {face.where}", _asked(face.material)


def _pressure_unsure(
    joint: Joint, requirement: Requirement, x: Inputs
) -> Iterator[tuple[str, str]]:
    if joint.has_no_upper_end:
        return
    for face in joint.bearing_faces:
        for state in joint.states:
            temperature = float(temperature_of_layer(joint, x, state, face.layer))
            for words in _softer_than_known(face.material, temperature, joint.thread.unit_system):
                yield f"pressure under {face.where} in state {state}", words


def _asked(material: Material) -> str:
    return f"state limiting_pressure of the layer of {material.name}"


def _softer_than_known(material: Material, temperature: float, system: str) -> Iterator[str]:
    """Yield how a material is judged that is so hot [K] that nobody knows how soft it is."""
    if material.softening is None and temperature > SOFT_FROM:
        at = format_quantity(temperature, TEMPERATURE, system)
        yield f"at room temperature, since how strong {material.name} is at {at} is not known"


def _reached_at(joint: Joint, state: State, margin: Margin, *, at_mate: bool) -> FloatLike:
    """Return the preload at which the fastener's force reaches what one of its ends carries."""
    if margin.limit.state != AT_ASSEMBLY:
        return state.named(margin.limit.state).preload_at(margin.reference)
    if at_mate == joint.pulled_at_mate:
        return margin.reference
    return state.left_of(margin.reference)


def _pressure_reached(joint: Joint, x: Inputs, state: State, margin: Margin) -> FloatLike:
    (at_mate,) = (
        face.at_mate
        for face in joint.bearing_faces
        if margin.limit.name == f"pressure under {face.where}"
    )
    return _reached_at(joint, state, margin, at_mate=at_mate)


PRESSURE = LimitKind(
    "pressure",
    BELOW,
    FORCE,
    always(),
    _pressure,
    reached=_pressure_reached,
    unjudged=_pressure_unknown,
    unsure_strength=_pressure_unsure,
    places=(
        "pressure under head",
        "pressure under nut",
        "pressure under upper nut",
        "pressure under lower nut",
    ),
    remedy="a larger bearing face, a hardened washer or a harder part",
)


def _stripping(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    if not joint.geometry.tells_stripping or joint.has_no_upper_end:
        return
    cold = _strips_at(joint, x, AT_ASSEMBLY)
    for name, force in _fastener_forces(joint, state, at_mate=True):
        most = _strips_at(joint, x, name) if joint.state_of(name) in joint.states else cold
        yield Found(name, most - force, most)


def _strips_at(joint: Joint, x: Inputs, state: str) -> FloatLike:
    """Return the force at which the engaged thread strips in a state [N]."""
    tensile = x["fastener.tensile_strength"] * fastener_strength_left(joint, x, state)
    mate_left = mate_strength_left(joint, x, state)
    return engaged_thread(joint.geometry, joint.thread, tensile, mate_left).stripping_force


def _engagement_unknown(
    joint: Joint, requirement: Requirement, x: Inputs
) -> Iterator[tuple[str, str]]:
    if not joint.geometry.tells_stripping:
        yield "thread stripping", "state engagement and mate_tensile_strength of [fastener]"
        return
    if joint.geometry.is_stud and not joint.geometry.has_nut:
        yield (
            "thread stripping in the nut",
            "engagement is that of the tapped hole; no key describes the nut of the stud: take one "
            "of full height and of the stud's class",
        )
    if joint.has_no_upper_end:
        yield "thread stripping", f"state {WANTED_LAW}"


def _stripping_unsure(
    joint: Joint, requirement: Requirement, x: Inputs
) -> Iterator[tuple[str, str]]:
    if not joint.geometry.tells_stripping or joint.has_no_upper_end:
        return
    for state in joint.states:
        temperature = float(temperature_of_mate(joint, x, state))
        for words in _softer_than_known(joint.mate_material, temperature, joint.thread.unit_system):
            yield f"thread stripping in state {state}", words


def _stripping_reached(joint: Joint, x: Inputs, state: State, margin: Margin) -> FloatLike:
    return _reached_at(joint, state, margin, at_mate=True)


STRIPPING = LimitKind(
    "thread stripping",
    BELOW,
    FORCE,
    always(),
    _stripping,
    reached=_stripping_reached,
    unjudged=_engagement_unknown,
    unsure_strength=_stripping_unsure,
    remedy="a longer engagement or a stronger mate",
)


def _back_off(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    """Release torque per preload must stay positive."""
    per_preload, friction = state.assembly.per_preload, thread_friction(joint, x)
    if per_preload is None or friction is None:
        return
    thread = joint.thread
    release = tightening.release_torque_per_preload(
        per_preload, thread.pitch, thread.pitch_diameter, friction
    )
    yield Found(joint.judged_states[0], release, thread.pitch / (2 * math.pi))


BACK_OFF = LimitKind(
    "spontaneous back-off",
    ABOVE,
    LENGTH,
    always(),
    _back_off,
    in_preload=False,
    follows_preload=False,
    compared_as="spontaneous back-off",
    remedy="more friction in thread and seat, or a finer thread",
)
