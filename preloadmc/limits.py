"""Limit states by name: margins of every sample, negative where the requirement is missed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from preloadmc.errors import NotFiniteError
from preloadmc.joint import Inputs, Joint, JudgedState, State
from preloadmc.mechanics import service
from preloadmc.units import Array, FloatLike

UNDER, OVER = "under", "over"
BREAKING = "breaking in tightening"


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
    """One limit in one state; ``sides`` are the outcomes that a miss belongs to."""

    name: str
    state: str
    sides: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Margin:
    """A limit with its margins, (n,) or float, in N of preload: negative is a miss."""

    limit: Limit
    values: FloatLike


def margins(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> tuple[Margin, ...]:
    """Return the margins of all limits that the case has, in a fixed order.

    Parameters
    ----------
    joint, requirement : Joint, Requirement
        Facts of the joint and of its window.
    x : mapping of str to float or ndarray (n,)
        Inputs by name.
    state : State
        What `joint.evaluate` returned for them.
    """
    return (
        *_under(joint, requirement, x, state),
        *_breaking(state),
        *_over(joint, requirement, x, state),
    )


def _under(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Margin]:
    for judged in state.judged:
        if requirement.minimum_from == "stated":
            limit, needed = "minimum preload", x["requirement.minimum_preload"]
        else:
            limit, needed = (
                requirement.minimum_from,
                needed_preload(joint, requirement.minimum_from, judged),
            )
        yield Margin(Limit(limit, judged.name, (UNDER,)), judged.preload - needed)


def needed_preload(joint: Joint, limit: str, judged: JudgedState) -> FloatLike:
    """Return the preload [N] that "no slip" or "no separation" asks in a state."""
    axial = 0.0 if judged.axial is None else judged.axial
    share = 0.0 if judged.load_share is None else judged.load_share
    if limit == "no separation":
        return service.preload_for_no_separation(axial, share)
    transverse = 0.0 if judged.transverse is None else judged.transverse
    friction = judged.joint_friction
    assert friction is not None, "the case file asks joint friction for 'no slip'"
    return service.preload_for_no_slip(transverse, friction, joint.slip_faces, axial, share)


def _breaking(state: State) -> Iterator[Margin]:
    """Past its capacity the fastener breaks in tightening: no preload, and far too much torque."""
    if state.capacity is not None:
        values = state.capacity - state.tightened
        yield Margin(Limit(BREAKING, "assembly", (UNDER, OVER)), values)


def _over(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Margin]:
    later = [judged for judged in state.judged if judged.name != "settled"]
    if requirement.maximum_from == "stated":
        most = x["requirement.maximum_preload"]
        yield Margin(Limit("maximum preload", "assembly", (OVER,)), most - state.tightened)
        for judged in later:
            yield Margin(Limit("maximum preload", judged.name, (OVER,)), most - judged.preload)
    if state.yield_preload is None or not joint.stays_elastic:
        return
    # A stated share of yield up to one holds yield itself in check.
    share = requirement.yield_fraction if requirement.maximum_from == "yield" else 1.0
    for fraction in {share, min(share, 1.0)}:
        limit = "yield" if fraction == 1.0 else f"{100 * fraction:g} % of yield"
        values = fraction * state.yield_preload - state.tightened
        yield Margin(Limit(limit, "assembly", (OVER,)), values)
        for judged in later:
            if judged.later_yield is not None:
                values = fraction * judged.later_yield - judged.preload
                yield Margin(Limit(limit, judged.name, (OVER,)), values)


def as_columns(found: tuple[Margin, ...], n: int) -> Array:
    """Return margins as columns, shape (n, m); a value that is not finite raises."""
    block = np.empty((len(found), n))
    for row, margin in zip(block, found, strict=True):
        row[:] = margin.values
    if not np.isfinite(block.sum()):
        names = {
            m.limit.name for m, row in zip(found, block, strict=True) if not np.isfinite(row).all()
        }
        raise NotFiniteError(f"a margin is not a finite number: {', '.join(sorted(names))}")
    return block.T


def on_side(found: tuple[Margin, ...], sides: tuple[str, ...]) -> tuple[Margin, ...]:
    """Return the margins whose miss belongs to any of the given sides."""
    return tuple(margin for margin in found if set(sides) & set(margin.limit.sides))
