"""What an alternative or a suspect changes: its tables merged into those of the case."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

# Keys that say the same thing in two ways: where a change gives one of the first, the others of
# the case fall away unless the change gives them too.
_EXCLUSIVE: dict[str, tuple[tuple[frozenset[str], frozenset[str]], ...]] = {
    "fastener": (
        (frozenset({"property_class"}), frozenset({"yield_strength", "tensile_strength"})),
        (frozenset({"bearing_outer_diameter"}), frozenset({"bearing_diameter"})),
        (frozenset({"material"}), frozenset({"modulus", "expansion"})),
    ),
    "friction": (
        (frozenset({"nut_factor"}), frozenset({"thread", "bearing", "correlation"})),
        (frozenset({"thread", "bearing"}), frozenset({"nut_factor"})),
    ),
    "joint": (
        (
            frozenset({"compliance"}),
            frozenset({"fastener_compliance", "clamped_compliance"}),
        ),
        (
            frozenset({"fastener_compliance", "clamped_compliance"}),
            frozenset({"compliance"}),
        ),
    ),
    "securing": (
        (
            frozenset({"element"}),
            frozenset(
                {
                    "torque_ratio",
                    "worn_prevailing_torque",
                    "breakaway_torque",
                    "ramp_angle",
                    "hardness",
                    "seat_hardness",
                    "source",
                }
            ),
        ),
    ),
    "temperature": (
        (frozenset({"thermal_change"}), frozenset({"state"})),
        (frozenset({"state"}), frozenset({"thermal_change"})),
    ),
    "tightening": (
        (
            frozenset({"method"}),
            frozenset(
                {
                    "torque",
                    "angle",
                    "seating_angle",
                    "detector_ratio",
                    "pump_force",
                    "transfer_ratio",
                    "elongation",
                    "preload",
                    "tool",
                    "bias",
                }
            ),
        ),
    ),
    "sampling": (
        (frozenset({"samples"}), frozenset({"precision"})),
        (frozenset({"precision"}), frozenset({"samples"})),
    ),
}


def merged(case: Mapping[str, Any], change: Mapping[str, Any], path: str = "") -> dict[str, Any]:
    """Return the tables of a case with those of a change merged in.

    Whole tables merge key by key; a quantity, a law or a list replaces what stood there.
    """
    result = dict(case)
    for given, dropped in _EXCLUSIVE.get(path, ()):
        if given & change.keys():
            for key in dropped - change.keys():
                result.pop(key, None)
    for key, value in change.items():
        before = result.get(key)
        if isinstance(before, Mapping) and _is_section(value) and _is_section(before):
            result[key] = merged(before, value, key)
        else:
            result[key] = value
    return result


def _is_section(value: Any) -> bool:
    """Return whether a value is a table of keys, not a law or another quantity."""
    return isinstance(value, Mapping) and not value.keys() & {
        "law",
        "from",
        "roughness",
        "tolerance",
        "rundowns",
        "capability",
        "typical",
    }
