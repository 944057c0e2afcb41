"""What is allowed of a joint of several fasteners, along the settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from preloadmc.case import Case
from preloadmc.estimates.outside_shares import LEAST_SHARE, ShareCurve
from preloadmc.judgement.bands import bands_of
from preloadmc.judgement.joint_events import events_of, judged_joint
from preloadmc.limits import UNDER
from preloadmc.questions.aim.bounds import Bound
from preloadmc.questions.aim.setting import case_at
from preloadmc.units import Array

# Settings at which joints are judged: between them the distance of a miss hardly bends.
_SETTINGS = 9


@dataclass(frozen=True, slots=True, eq=False)
class JointCurves:
    """Distances (reliability indices) of the events of a joint at some settings.

    ``ends`` holds value, lower and upper end by event, each (settings,).
    """

    bounds: tuple[Bound, ...]
    settings: Array
    ends: Mapping[str, tuple[Array, Array, Array]]

    @classmethod
    def along(cls, case: Case, low: float, high: float, seed: int) -> JointCurves | None:
        """Judge a joint at settings between two; None where nothing is allowed of one."""
        if case.group is None or not case.group.allowed:
            return None
        allowed = _of_sides(case.group.allowed)
        bounds = tuple(
            Bound(event.name, (), UNDER in event.sides, allowed[event.name])
            for event in events_of(case)
            if event.name in allowed
        )
        if not bounds:
            return None
        settings = np.geomspace(low, high, _SETTINGS)
        found: dict[str, list[tuple[float, float, float]]] = {each.name: [] for each in bounds}
        for at in settings:
            moved = case_at(case, float(at))
            judged = judged_joint(moved, seed=seed, bands=bands_of(moved, seed), names=[*found])
            for each in judged:
                known = each.known
                lowest = known.low if each.band is None else min(known.low, each.band.low)
                found[each.name].append((known.value, lowest, each.upper))
        ends = {}
        for name, rows in found.items():
            value, lowest, highest = np.array(rows).T
            ends[name] = _distances(value), _distances(lowest), _distances(highest)
        return cls(bounds, settings, ends)

    def curves(self, levels: Array) -> dict[str, ShareCurve]:
        """Return the share of joints of each event at ascending settings, by its name."""
        from scipy.interpolate import PchipInterpolator

        at = np.log(np.clip(levels, self.settings[0], self.settings[-1]))
        found = {}
        for name, ends in self.ends.items():
            value, low, high = (
                ndtr(-PchipInterpolator(np.log(self.settings), end)(at)) for end in ends
            )
            found[name] = ShareCurve(levels, value, np.minimum(low, value), np.maximum(high, value))
        return found


def _of_sides(allowed: Mapping[str, float]) -> dict[str, float]:
    """Return what is allowed where what holds for either side holds for each.

    Either side is missed at both ends of the settings: its own sides bound it.
    """
    found = dict(allowed)
    outside = found.pop("any_outside", None)
    if outside is not None:
        for side in ("any_under", "any_over"):
            found[side] = min(found.get(side, outside), outside)
    return found


def _distances(shares: Array) -> Array:
    distances: Array = -ndtri(np.clip(shares, LEAST_SHARE, 1.0 - 1e-12))
    return distances
