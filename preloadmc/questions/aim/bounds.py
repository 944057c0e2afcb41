"""What holds a setting from below and from above: the sides of the window, and limits beside it."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.case import Case
from preloadmc.limits import LOOSENING, OVER, SLIP, UNDER, Limit


@dataclass(frozen=True, slots=True)
class Bound:
    """What is missed at too low a setting, or at too high a one.

    ``name`` is that of a side of the window, of breaking, or of a limit beside the window;
    ``sides`` are empty for the latter. ``from_below`` tells that its margins rise with the
    setting. ``allowed`` is the allowed probability, None where none is.
    """

    name: str
    sides: tuple[str, ...]
    from_below: bool
    allowed: float | None

    def holds(self, limit: Limit) -> bool:
        """Return whether a limit is part of this bound."""
        return limit.sides == self.sides if self.sides else limit.name == self.name


# Breaking counts in both sides: it has a bound of its own, to which the sides are added.
BREAKS = Bound("breaking", (UNDER, OVER), False, None)


def under_bound(allowed: float | None) -> Bound:
    """Return the bound of too little preload."""
    return Bound("under_preload", (UNDER,), True, allowed)


def over_bound(allowed: float | None) -> Bound:
    """Return the bound of too much preload."""
    return Bound("over_preload", (OVER,), False, allowed)


def costs_of_misses(case: Case) -> dict[str, float]:
    """Return what a miss of each bound costs, by its name; empty where the case states no costs.

    Without a securing element a joint that slips loosens.
    """
    cost = case.cost
    if cost is None or cost.per_under + cost.per_over == 0.0:
        return {}
    found = {"under_preload": cost.per_under, "over_preload": cost.per_over}
    if cost.per_loosening > 0.0:
        plain = case.joint.securing is None
        if plain and case.requirement.minimum_from == SLIP.minimum_from:
            found["under_preload"] += cost.per_loosening
        else:
            found[SLIP.name if plain else LOOSENING.name] = cost.per_loosening
    return found
