"""Limit states by name: margins of every sample, negative where the requirement is missed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from preloadmc.errors import NotFiniteError
from preloadmc.joint import Inputs, Joint, JudgedState, State, thread_friction
from preloadmc.joint.assembly import LATER_TORSION
from preloadmc.mechanics import loosening, service, stress
from preloadmc.units import Array, FloatLike

UNDER, OVER = "under", "over"
BREAKING = "breaking in tightening"
# Requirements that a minimum preload can be derived from, by the limit that then governs.
DERIVED_MINIMUM = {"no slip": "slip", "no separation": "separation"}


@dataclass(frozen=True, slots=True)
class Requirement:
    """The preload window and how often it may be missed.

    ``minimum_from`` is "stated", "no slip" or "no separation"; ``maximum_from`` is "stated",
    "yield" or "" where yield at assembly alone bounds the preload. ``yield_fraction`` belongs to
    "yield". Allowed probabilities are None where none is asked.
    """

    minimum_from: str
    maximum_from: str
    yield_fraction: float
    allowed_under: float | None
    allowed_over: float | None


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit in one state; ``sides`` are the outcomes that a miss belongs to, maybe none."""

    name: str
    state: str
    sides: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Margin:
    """A limit with its margins, (n,) or float: negative is a miss.

    ``values`` and ``reference``, what is allowed or can be carried, are in the limit's own unit.
    """

    limit: Limit
    values: FloatLike
    reference: FloatLike


def margins(
    joint: Joint, requirement: Requirement, x: Inputs, state: State, *, others: bool = False
) -> tuple[Margin, ...]:
    """Return the margins of the limits that the case has, in a fixed order.

    Parameters
    ----------
    joint, requirement : Joint, Requirement
        Facts of the joint and of its window.
    x : mapping of str to float or ndarray (n,)
        Inputs by name.
    state : State
        What `joint.evaluate` returned for them.
    others : bool
        Whether to judge the limits that are neither under nor over as well.
    """
    found = (
        *_under(joint, requirement, x, state),
        *_breaking(state),
        *_over(joint, requirement, x, state),
    )
    return (*found, *_others(joint, requirement, x, state)) if others else found


def _less(limit: Limit, value: FloatLike, most: FloatLike) -> Margin:
    """Margin of a value that must stay below what is allowed."""
    return Margin(limit, most - value, most)


def _under(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Margin]:
    name = DERIVED_MINIMUM.get(requirement.minimum_from, "minimum preload")
    for judged in state.judged:
        needed = (
            x["requirement.minimum_preload"]
            if requirement.minimum_from == "stated"
            else needed_preload(joint, name, judged)
        )
        yield Margin(Limit(name, judged.name, (UNDER,)), judged.preload - needed, needed)


def needed_preload(joint: Joint, limit: str, judged: JudgedState) -> FloatLike:
    """Return the preload [N] that no "slip" or no "separation" asks in a state."""
    axial = 0.0 if judged.axial is None else judged.axial
    share = 0.0 if judged.load_share is None else judged.load_share
    if limit == "separation":
        return service.preload_for_no_separation(axial, share)
    # A transverse load slips the parts in either direction.
    transverse = 0.0 if judged.transverse is None else np.abs(judged.transverse)
    friction = judged.joint_friction
    assert friction is not None, "the case file asks joint friction for 'no slip'"
    return service.preload_for_no_slip(transverse, friction, joint.slip_faces, axial, share)


def _breaking(state: State) -> Iterator[Margin]:
    """Past its capacity the fastener breaks in tightening: no preload, and far too much force."""
    assembly = state.assembly
    limit = Limit(BREAKING, "assembly", (UNDER, OVER))
    if assembly.plastic_elongation is not None:
        assert assembly.elongation_at_capacity is not None
        yield _less(limit, assembly.plastic_elongation, assembly.elongation_at_capacity)
    elif assembly.capacity is not None:
        yield _less(limit, assembly.peak, assembly.capacity)


def _over(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Margin]:
    later = [judged for judged in state.judged if judged.name != "settled"]
    assembly = state.assembly
    if requirement.maximum_from == "stated":
        most = x["requirement.maximum_preload"]
        limit = "maximum preload"
        yield _less(Limit(limit, "assembly", (OVER,)), assembly.peak, most)
        for judged in later:
            yield _less(Limit(limit, judged.name, (OVER,)), judged.preload, most)
    if "requirement.maximum_plastic_elongation" in x and assembly.plastic_elongation is not None:
        yield _less(
            Limit("plastic elongation", "assembly", (OVER,)),
            assembly.plastic_elongation,
            x["requirement.maximum_plastic_elongation"],
        )
    if assembly.yield_preload is None:
        return
    for fraction in _yield_fractions(joint, requirement):
        limit = "yield" if fraction == 1.0 else f"{100 * fraction:g} % of yield"
        most = fraction * assembly.yield_preload
        yield _less(Limit(limit, "assembly", (OVER,)), assembly.peak, most)
        if assembly.later_yield is not None:
            for judged in later:
                most = fraction * assembly.later_yield
                yield _less(Limit(limit, judged.name, (OVER,)), judged.preload, most)


def _yield_fractions(joint: Joint, requirement: Requirement) -> tuple[float, ...]:
    """Return the shares of yield that are judged: the stated one, and yield itself.

    A stated share up to one holds yield in check; a method that is meant to go past yield is
    judged on a stated share alone.
    """
    share = requirement.yield_fraction
    if requirement.maximum_from == "yield":
        if share <= 1.0 or joint.method.passes_yield:
            return (share,)
        return (share, 1.0)
    return () if joint.method.passes_yield else (1.0,)


def _others(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Margin]:
    """Yield the limits that are no part of the preload window."""
    governs = DERIVED_MINIMUM.get(requirement.minimum_from)
    for judged in state.judged:
        if (
            judged.transverse is not None
            and judged.joint_friction is not None
            and (governs != "slip")
        ):
            needed = needed_preload(joint, "slip", judged)
            yield Margin(Limit("slip", judged.name, ()), judged.preload - needed, needed)
        if judged.axial is not None and governs != "separation":
            needed = needed_preload(joint, "separation", judged)
            yield Margin(Limit("separation", judged.name, ()), judged.preload - needed, needed)
        if (
            joint.securing is not None
            and not joint.securing.missing
            and judged.transverse is not None
            and (judged.joint_friction is not None)
        ):
            values = _held_while_slipping(joint, requirement, x, judged)
            yield Margin(Limit("loosening by transverse slip", judged.name, ()), values, 1.0)
    yield from _stressed(joint, x, state)
    yield from _back_off(joint, x, state)


def _held_while_slipping(
    joint: Joint, requirement: Requirement, x: Inputs, judged: JudgedState
) -> FloatLike:
    """Return how far the joint is from loosening by slip, as a share: below zero it loosens.

    Either the parts do not slip, or the securing element holds by its own rule.
    """
    securing = joint.securing
    assert securing is not None
    needed = needed_preload(joint, "slip", judged)
    no_slip = (judged.preload - needed) / np.maximum(needed, 1.0)
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


def _stressed(joint: Joint, x: Inputs, state: State) -> Iterator[Margin]:
    """Yield in service, pressure under head and nut, stripping of the thread."""
    forces = [("assembly", state.assembly.peak)]
    forces += [(judged.name, judged.fastener_force) for judged in state.judged]
    if "fastener.yield_strength" in x:
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
                limit = Limit("yield in service", judged.name, ())
                yield _less(limit, equivalent, strength)
    for face in joint.bearing_faces:
        for name, force in forces:
            yield _less(Limit(f"pressure under {face.where}", name, ()), force, face.limiting_force)
    if joint.stripping_force is not None:
        for name, force in forces:
            yield _less(Limit("thread stripping", name, ()), force, joint.stripping_force)


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


def _back_off(joint: Joint, x: Inputs, state: State) -> Iterator[Margin]:
    """Spontaneous back-off: the release torque per preload must stay positive."""
    per_preload = state.assembly.per_preload
    if per_preload is None or thread_friction(joint, x) is None:
        return
    pitch = joint.thread.pitch
    yield Margin(
        Limit("spontaneous back-off", joint.judged_states[0], ()),
        per_preload - pitch / math.pi,
        pitch / (2 * math.pi),
    )


def as_columns(found: tuple[Margin, ...], n: int) -> Array:
    """Return margins as columns, shape (n, m); a value that is not finite raises."""
    block = np.empty((len(found), n))
    for row, margin in zip(block, found, strict=True):
        row[:] = margin.values
    with np.errstate(invalid="ignore"):  # infinite margins of both signs
        total = block.sum()
    if not np.isfinite(total):
        names = {
            margin.limit.name
            for margin, row in zip(found, block, strict=True)
            if not np.isfinite(row).all()
        }
        raise NotFiniteError(f"a margin is not a finite number: {', '.join(sorted(names))}")
    return block.T


def on_side(found: tuple[Margin, ...], sides: tuple[str, ...]) -> tuple[Margin, ...]:
    """Return the margins whose miss belongs to any of the given sides."""
    return tuple(margin for margin in found if set(sides) & set(margin.limit.sides))
