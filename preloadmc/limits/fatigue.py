"""Fatigue of the thread: the stress amplitude of an axial load against what the thread bears."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint import Inputs, Joint, State, load_range
from preloadmc.limits.records import ABOVE, Found, LimitKind, Requirement, always
from preloadmc.units import STRESS


def _fatigue(joint: Joint, requirement: Requirement, x: Inputs, state: State) -> Iterator[Found]:
    """Amplitude that the thread bears, less that which acts, in each state with an axial load."""
    for judged in state.judged:
        found = load_range(joint, x, judged)
        if found is not None:
            yield Found(judged.name, found.borne - found.amplitude, found.endurance)


# More preload keeps the parts closed, so that the fastener takes less of the load.
FATIGUE = LimitKind(
    "fatigue",
    ABOVE,
    STRESS,
    always(),
    _fatigue,
    in_preload=False,
    remedy="a smaller load range, a longer or thinner fastener, or a thread rolled after its heat "
    "treatment",
)
