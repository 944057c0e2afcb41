"""Where does each limit lie in terms of preload? The limits as rungs of a ladder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np

from preloadmc.joint import Inputs, Joint, State, evaluate
from preloadmc.joint.assembly import LATER_TORSION
from preloadmc.limits import (
    BREAKING,
    DERIVED_MINIMUM,
    OVER,
    UNDER,
    Limit,
    Margin,
    margins,
    service_strength,
)
from preloadmc.mechanics import stress
from preloadmc.questions.run.question import LimitResult, RunResult
from preloadmc.units import FloatLike

# A rung that differs from joint to joint is described by its median and its middle 98 %.
BAND = (0.01, 0.99)
_SAMPLES = 2**16
# Limits that ask for at least a preload; all others bound it from above.
_LEAST = ("minimum preload", *DERIVED_MINIMUM.values())
# Limits that no preload reaches: lengths, torques, and a slip that a securing element may hold.
NO_PRELOAD = ("plastic elongation", "loosening by transverse slip", "spontaneous back-off")


@dataclass(frozen=True, slots=True)
class Rung:
    """One limit in the state that governs, at the preload [N] of that state that reaches it.

    ``side`` is "under" where the preload must stay above the rung, "over" where below.
    ``median``, ``low`` and ``high``, the 1 % and 99 % quantiles, are over the joints.
    """

    name: str
    state: str
    side: str
    median: float
    low: float
    high: float

    @classmethod
    def at(cls, limit: Limit | LimitResult, side: str, reached: FloatLike) -> Self:
        """Return the rung of a limit from the preload [N], float or (n,), that reaches it."""
        low, median, high = (float(end) for end in np.quantile(reached, (BAND[0], 0.5, BAND[1])))
        return cls(limit.name, limit.state, side, median, low, high)

    @property
    def varies(self) -> bool:
        """Return whether the rung differs from joint to joint."""
        return self.high - self.low > 1e-6 * abs(self.median)


@dataclass(frozen=True, slots=True)
class Ladder:
    """All limits of a case: those that a preload reaches, from low to high, and the ``others``.

    Among the others are the limits that ask for no preload at all, as where no load acts.
    """

    rungs: tuple[Rung, ...]
    others: tuple[LimitResult, ...]


def preload_reached(joint: Joint, x: Inputs, state: State, margin: Margin) -> FloatLike | None:
    """Return the preload [N] at which a limit is reached while all other inputs stay.

    Parameters
    ----------
    joint, x, state : Joint, mapping of str to float or ndarray (n,), State
        As `limits.margins` takes them.
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
    taken off. For yield in service the torsion stays that of tightening. A tensioner pulls harder
    than what it leaves: its limits are on the pump force, and come out as the preload it leaves.
    """
    limit, assembly = margin.limit, state.assembly
    if limit.name in NO_PRELOAD:
        return None
    if limit.state == "assembly":
        most = assembly.capacity if limit.name == BREAKING else margin.reference
        assert most is not None, "what breaks has a capacity"
        left = 1.0 if assembly.peak is assembly.preload else assembly.preload / assembly.peak
        return most * left
    judged = next(judged for judged in state.judged if judged.name == limit.state)
    if limit.name in _LEAST:
        return judged.preload - margin.values
    if limit.name == "yield in service":
        tension = stress.tension_at_surface_stress(
            service_strength(joint, x, state),
            assembly.thread_torque,
            joint.section.area,
            joint.section.diameter,
            LATER_TORSION,
        )
        return tension - (judged.fastener_force - judged.preload)
    return judged.preload + margin.values


def ladder(result: RunResult) -> Ladder:
    """Return each limit of a run, in the state that governs, at the preload that reaches it."""
    case, samples = result.case, result.samples
    x = case.inputs(samples.kept.z[:_SAMPLES], samples.columns)
    state = evaluate(case.joint, x)
    found = {
        (margin.limit.name, margin.limit.state): margin
        for margin in margins(case.joint, case.requirement, x, state, others=True)
    }
    rungs, others = [], []
    for limit in result.limits:
        reached = preload_reached(case.joint, x, state, found[limit.name, limit.state])
        if reached is None or np.median(reached) <= 0.0:
            others.append(limit)
            continue
        rungs.append(Rung.at(limit, UNDER if limit.name in _LEAST else OVER, reached))
    return Ladder(tuple(sorted(rungs, key=lambda rung: rung.median)), tuple(others))
