"""The limits that a preload window is made of, from the minimum preload to yield."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from preloadmc.joint import (
    AFTER_SLIP,
    Inputs,
    Joint,
    JudgedState,
    State,
    preload_for_no_separation,
    preload_for_no_slip,
    temperature_of_fastener,
)
from preloadmc.limits.records import (
    ABOVE,
    BELOW,
    OVER,
    UNDER,
    Found,
    LimitKind,
    Margin,
    Requirement,
    always,
    has_input,
)
from preloadmc.mechanics.softening import SOFT_FROM
from preloadmc.units import (
    FORCE,
    SMALL_LENGTH,
    TEMPERATURE,
    Dimension,
    FloatLike,
    format_quantity,
)

STATED = "stated"
MINIMUM_CLAMP_INPUT = "requirement.minimum_clamp"


def _minimum(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    if requirement.minimum_from == STATED:
        needed = x["requirement.minimum_preload"]
        for judged in state.judged:
            yield Found(judged.name, judged.preload - needed, needed)


MINIMUM_PRELOAD = LimitKind(
    "minimum preload",
    ABOVE,
    FORCE,
    always(UNDER),
    _minimum,
    edge="minimum",
    asks="the stated minimum",
    remedy="a smaller preload needed",
)


def _clamp(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    """Clamp force left between the parts under the axial load."""
    needed = x.get(MINIMUM_CLAMP_INPUT)
    if needed is None:
        return
    for judged in state.judged:
        clamp = judged.preload - preload_for_no_separation(judged)
        yield Found(judged.name, clamp - needed, needed)


MINIMUM_CLAMP = LimitKind(
    "minimum clamp force",
    ABOVE,
    FORCE,
    always(UNDER),
    _clamp,
    edge="minimum clamp",
    asks="what leaves the stated clamp force between the parts under the axial load",
    remedy="more fasteners or a smaller clamp force needed",
)


def _derived(name: str) -> Callable[[Requirement], tuple[str, ...]]:
    """Return the sides of a limit that is the minimum preload where that is derived from it."""
    return lambda requirement: (UNDER,) if requirement.minimum_from == name else ()


def _slip(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    governs = requirement.minimum_from == "no slip"
    for judged in state.judged:
        if (governs and judged.name != AFTER_SLIP) or judged.may_slip:
            needed = preload_for_no_slip(joint, judged)
            yield Found(judged.name, judged.preload - needed, needed)


def _friction_unknown(
    joint: Joint, requirement: Requirement, x: Inputs
) -> Iterator[tuple[str, str]]:
    stated = "friction.joint" in x or has_input(x, "joint_friction")
    if has_input(x, "transverse") and not stated:
        yield "slip", "state [friction] joint, the friction between the parts"


SLIP = LimitKind(
    "slip",
    ABOVE,
    FORCE,
    _derived("no slip"),
    _slip,
    unjudged=_friction_unknown,
    edge="no slip",
    compared_as="slip of the parts",
    remedy="more friction between the parts, more fasteners or a smaller transverse load",
    minimum_from="no slip",
    asks="what keeps the parts from slipping",
    needed=preload_for_no_slip,
)


def _no_separation(joint: Joint, judged: JudgedState) -> FloatLike:
    return preload_for_no_separation(judged)


def _separation(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    governs = requirement.minimum_from == "no separation"
    for judged in state.judged:
        if governs or judged.axial is not None:
            needed = preload_for_no_separation(judged)
            yield Found(judged.name, judged.preload - needed, needed)


SEPARATION = LimitKind(
    "separation",
    ABOVE,
    FORCE,
    _derived("no separation"),
    _separation,
    edge="no separation",
    remedy="more fasteners or a smaller axial load",
    minimum_from="no separation",
    asks="what keeps the parts together",
    needed=_no_separation,
)


def _breaking(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    """Past its capacity the fastener breaks: no preload, and far too much force.

    How far a turn stretches it past yield is not known of a method that is meant to stay elastic:
    yield is judged there, and breaking is not.
    """
    assembly = state.assembly
    if assembly.as_elastic is not None:
        return
    value: FloatLike = assembly.peak
    most = assembly.capacity
    if assembly.plastic_elongation is not None:
        value, most = assembly.plastic_elongation, assembly.elongation_at_capacity
    if most is not None:
        yield Found("assembly", most - value, most)


def _breaking_dimension(state: State) -> Dimension:
    return FORCE if state.assembly.plastic_elongation is None else SMALL_LENGTH


def _breaks_at(joint: Joint, x: Inputs, state: State, margin: Margin) -> FloatLike:
    assert state.assembly.capacity is not None, "what breaks has a capacity"
    return state.left_of(state.assembly.capacity)


def _ductility_unknown(
    joint: Joint, requirement: Requirement, x: Inputs
) -> Iterator[tuple[str, str]]:
    if joint.method.passes_yield:
        return
    if joint.method.stops_at_angle:
        yield (
            "breaking in tightening",
            "state plastic_strain of [fastener], for what a turn past yield does",
        )
    elif joint.method.stretches_fastener:
        yield (
            "breaking in tightening",
            "the program does not follow an elongation past yield, which is a miss of its own",
        )


BREAKING = LimitKind(
    "breaking in tightening",
    BELOW,
    FORCE,
    always(UNDER, OVER),
    _breaking,
    dimension_in=_breaking_dimension,
    reached=_breaks_at,
    remedy="a stronger fastener",
    unjudged=_ductility_unknown,
)


def _maximum(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    if requirement.maximum_from == STATED:
        most = x["requirement.maximum_preload"]
        name = "maximum preload, on the pump force" if state.assembly.pulls_harder else ""
        yield Found("assembly", most - state.assembly.peak, most, name)
        for each in state.retightened:
            more = np.maximum(each.reached, state.named(each.name).largest)
            yield Found(each.name, most - more, most, name)
        for judged in _later(state):
            yield Found(judged.name, most - judged.largest, most)


def _later(state: State) -> list[JudgedState]:
    """Return the states after the joint has settled, but for those right after a tightening."""
    tightened = {"settled", *(each.name for each in state.retightened)}
    return [judged for judged in state.judged if judged.name not in tightened]


MAXIMUM_PRELOAD = LimitKind(
    "maximum preload",
    BELOW,
    FORCE,
    always(OVER),
    _maximum,
    edge="maximum",
    bounds="the maximum",
    remedy="a larger preload allowed",
)


def _elongation(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    most = x.get("requirement.maximum_plastic_elongation")
    stretched = state.assembly.plastic_elongation
    if most is None or stretched is None:
        return
    yield Found("assembly", most - stretched, most)
    for judged in state.judged:
        if judged.yields_at is not None:
            # A load that alone is more than the fastener bears stretches it without end.
            left = most - stretched - judged.lost
            without_end = np.asarray(judged.yields_at) < 0.0
            yield Found(judged.name, np.where(without_end, np.minimum(left, -most), left), most)


PLASTIC_ELONGATION = LimitKind(
    "plastic elongation",
    BELOW,
    SMALL_LENGTH,
    always(OVER),
    _elongation,
    in_preload=False,
    bounds="the plastic elongation allowed",
    remedy="a longer stretched length",
)


def _yield(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    assembly = state.assembly
    if assembly.yield_preload is None:
        return
    reached = assembly.peak if assembly.as_elastic is None else assembly.as_elastic
    for fraction in _yield_fractions(joint, requirement):
        name = "" if fraction == 1.0 else f"{100 * fraction:g} % of yield"
        most = fraction * assembly.yield_preload
        yield Found("assembly", most - reached, most, name)
        for each in state.retightened:
            judged = state.named(each.name)
            if each.yield_preload is not None and judged.later_yield is not None:
                # What the wrench makes with its torsion, and what a tighter fastener holds.
                most = fraction * each.yield_preload
                held = fraction * judged.later_yield * judged.strength_left - judged.largest
                yield Found(each.name, np.minimum(most - each.reached, held), most, name)
        for judged in _later(state):
            if judged.later_yield is not None:
                most = fraction * judged.later_yield * judged.strength_left
                yield Found(judged.name, most - judged.largest, most, name)


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


def _yield_unsure(joint: Joint, requirement: Requirement, x: Inputs) -> Iterator[tuple[str, str]]:
    """Yield the hot states in which nobody knows how strong the fastener still is."""
    if "fastener.yield_strength" not in x:
        return
    system = joint.thread.unit_system
    for state in joint.states:
        at = float(temperature_of_fastener(joint, x, state))
        words = f"since how strong the fastener is at {format_quantity(at, TEMPERATURE, system)}"
        if joint.softening is None and at > SOFT_FROM:
            yield (
                f"yield in state {state}",
                f"as stated, {words} is not known without its property_class",
            )
        elif joint.softening is not None and at > joint.softening.temperatures[-1]:
            yield (
                f"yield in state {state}",
                f"at the end of its table, {words} is not known: the table ends before",
            )


YIELD = LimitKind(
    "yield",
    BELOW,
    FORCE,
    always(OVER),
    _yield,
    unsure_strength=_yield_unsure,
    remedy="a stronger fastener",
)
