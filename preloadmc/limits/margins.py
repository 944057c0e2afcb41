"""Every limit by its record, and the margins of every sample: negative where it is missed."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from preloadmc.errors import NotFiniteError
from preloadmc.joint import Inputs, Joint, State
from preloadmc.limits.beside import (
    BACK_OFF,
    LOOSENING,
    PRESSURE,
    STRIPPING,
    YIELD_IN_SERVICE,
)
from preloadmc.limits.fatigue import FATIGUE
from preloadmc.limits.records import ABOVE, Limit, LimitKind, Margin, Requirement
from preloadmc.limits.window import (
    BREAKING,
    MAXIMUM_PRELOAD,
    MINIMUM_CLAMP,
    MINIMUM_CLAMP_INPUT,
    MINIMUM_PRELOAD,
    PLASTIC_ELONGATION,
    SEPARATION,
    SLIP,
    YIELD,
)
from preloadmc.units import Array, FloatLike

# In the order of tables. To add a limit, add its record.
LIMITS: list[LimitKind] = [
    MINIMUM_PRELOAD,
    MINIMUM_CLAMP,
    SLIP,
    SEPARATION,
    BREAKING,
    MAXIMUM_PRELOAD,
    PLASTIC_ELONGATION,
    YIELD,
    LOOSENING,
    YIELD_IN_SERVICE,
    PRESSURE,
    STRIPPING,
    BACK_OFF,
    FATIGUE,
]


def margins(
    joint: Joint, requirement: Requirement, x: Inputs, state: State, *, others: bool = False
) -> tuple[Margin, ...]:
    """Return the margins of the limits that the case has, those of the window first.

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

    Returns
    -------
    tuple of Margin
        One for each limit in each state that has it, in a fixed order: limits as in `LIMITS`,
        states in order of life.
    """
    beside = [kind for kind in LIMITS if not kind.sides(requirement)]
    kinds = [kind for kind in LIMITS if kind not in beside]
    if others:
        kinds += beside
    return tuple(margin for kind in kinds for margin in kind.margins(joint, requirement, x, state))


def allowed_for(joint: Joint, requirement: Requirement, limit: Limit) -> float | None:
    """Return the probability that is allowed of missing a limit; None where none is.

    Without a securing element the fastener loosens where the parts slip: slip beside the window is
    then held to what is allowed of loosening as well.
    """
    own = requirement.allowed_for(limit)
    if limit.kind is SLIP and not limit.sides and joint.securing is None:
        loosening = requirement.allowed_for(Limit(LOOSENING, LOOSENING.name, limit.state, ()))
        return min((each for each in (own, loosening) if each is not None), default=None)
    return own


def unjudged(joint: Joint, requirement: Requirement, x: Inputs) -> dict[str, str]:
    """Return the limits that the case does not say enough of: what is missing, by their name."""
    return {
        name: missing
        for kind in LIMITS
        if kind.unjudged is not None
        for name, missing in kind.unjudged(joint, requirement, x)
    }


def unsure_strengths(joint: Joint, requirement: Requirement, x: Inputs) -> dict[str, str]:
    """Return the limits judged with a strength not known to hold there: with which, by name."""
    return {
        name: words
        for kind in LIMITS
        if kind.unsure_strength is not None
        for name, words in kind.unsure_strength(joint, requirement, x)
    }


def minimum_origins() -> tuple[str, ...]:
    """Return what a case file may say to derive the minimum preload from a limit."""
    return tuple(kind.minimum_from for kind in LIMITS if kind.minimum_from)


def minimum_kinds(requirement: Requirement, x: Collection[str]) -> tuple[LimitKind, ...]:
    """Return the limits that ask for a least preload: the minimum, and a minimum clamp force.

    The minimum is the limit that it is derived from, or stands by itself where it is stated. ``x``
    are the inputs, or their names.
    """
    origin = requirement.minimum_from
    derived = [kind for kind in LIMITS if kind.minimum_from and kind.minimum_from == origin]
    found = derived or ([MINIMUM_PRELOAD] if origin else [])
    if MINIMUM_CLAMP_INPUT in x:
        found.append(MINIMUM_CLAMP)
    return tuple(found)


def preload_reached(joint: Joint, x: Inputs, state: State, margin: Margin) -> FloatLike | None:
    """Return the preload [N] at which a limit is reached while all other inputs stay.

    Parameters
    ----------
    joint, x, state : Joint, mapping of str to float or ndarray (n,), State
        As `margins` takes them.
    margin : Margin
        One that it returned.

    Returns
    -------
    float, ndarray (n,) or None
        The assembled preload for a limit at assembly, else that of the limit's state, so that it
        is missed exactly where the preload lies beyond. None where no preload reaches it.

    Notes
    -----
    Under an axial load the fastener carries more than the preload: its share of the load is
    taken off, and no preload at all is left where the load alone reaches the limit. For yield in
    service the torsion stays that of tightening. A tensioner pulls harder than what it leaves: its
    limits are on the pump force, and come out as the preload it leaves.
    """
    limit, kind = margin.limit, margin.limit.kind
    if not kind.in_preload:
        return None
    if kind.reached is not None:
        return kind.reached(joint, x, state, margin)
    if limit.state == "assembly":
        return state.left_of(margin.reference)
    judged = state.named(limit.state)
    if kind.sense == ABOVE:
        return judged.preload - margin.values
    return judged.largest + margin.values


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
