"""Either side of the window: an estimate that is held against those of both sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from preloadmc.estimates.probability import Probability


def either(found: Probability, sides: Sequence[Probability]) -> Probability:
    """Return either side's probability, no less and no better known than that of a side.

    Counts on common samples are as they are.
    """
    if all((each.method, each.samples) == ("plain", found.samples) for each in (found, *sides)):
        return found
    likelier = max(sides, key=lambda side: side.value)
    if found.value < likelier.value and likelier.reliable:
        found = replace(likelier, high=max(likelier.high, found.high))
    sure = [side for side in sides if side.reliable]
    below = max((side.value - side.low for side in sure), default=0.0)
    above = max((side.high - side.value for side in sure), default=0.0)
    return replace(
        found,
        low=min(found.low, max(found.value - below, 0.0)),
        high=max(found.high, min(found.value + above, 1.0)),
    )
