"""The sections [securing] and [cost]: what holds the nut, and what a joint costs."""

from __future__ import annotations

import math

from preloadmc.case import Cost
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table
from preloadmc.joint import Securing
from preloadmc.mechanics.securing import securing_element
from preloadmc.units import ANGLE, RATIO, TORQUE

# What a product has of its own; where the case states it, it says where it is from.
_OF_A_PRODUCT = ("torque_ratio", "ramp_angle", "hardness", "seat_hardness")
# The keys that each rule asks for or may use, with what they are.
_NEEDS = {
    "prevailing torque": {
        "worn_prevailing_torque": "the prevailing torque that remains in self-loosening, well "
        "below a new one"
    },
    "breakaway torque": {"breakaway_torque": "the torque that breaks the bond"},
}
_OF_A_RULE = {
    "prevailing torque": ("worn_prevailing_torque",),
    "breakaway torque": ("breakaway_torque",),
    "ramp": ("ramp_angle", "hardness", "seat_hardness"),
}


def read_securing(table: Table, draft: Draft) -> Securing | None:
    """Read [securing]; its element is data with a source, used only when asked for by name."""
    name = table.text("element", "the name of a securing element")
    torque_ratio = table.quantity("torque_ratio", RATIO, above=0.0, high=5.0)
    worn = table.quantity("worn_prevailing_torque", TORQUE, low=0.0)
    breakaway = table.quantity("breakaway_torque", TORQUE, low=0.0)
    ramp = table.quantity("ramp_angle", ANGLE, above=0.0, high=math.pi / 4)
    hardness = table.quantity("hardness", RATIO, above=0.0)
    seat_hardness = table.quantity("seat_hardness", RATIO, above=0.0)
    source = table.text("source", "where the values of the element are from")
    table.close()
    if not name:
        if table.data:
            table.missing("element", "the name of a securing element")
        return None
    try:
        element = securing_element(name)
    except ValueError as error:
        table.problem("element", str(error))
        return None
    _check_needs(table, element.loosening)
    if "source" not in table.data and set(_OF_A_PRODUCT) & table.data.keys():
        table.missing(
            "source", "where torque_ratio, ramp_angle and hardness are from: a certificate, a test"
        )
    securing = Securing(
        element,
        1.0 if torque_ratio is None else torque_ratio,
        worn,
        breakaway,
        ramp,
        hardness,
        seat_hardness,
        source,
    )
    _warn(securing, draft)
    interfaces = element.extra_interfaces
    adds = f"adds {interfaces} {'interface' if interfaces == 1 else 'interfaces'}"
    words = [adds, element.note] if interfaces else [element.note]
    draft.assume(table.at("element"), f"{element.name}: {'; '.join(words)}", element.source)
    if element.loosening == "ramp" and "torque_ratio" not in table.data:
        draft.assume(table.at("torque_ratio"), "1: the frictions stated are those of its seats")
    return securing


def _warn(securing: Securing, draft: Draft) -> None:
    """Say where the element's rule cannot be judged, and where its teeth do not bite."""
    name = securing.element.name
    if securing.missing:
        draft.warnings.append(
            f"Loosening by transverse slip is not judged: {name} hold only with ramps steeper than "
            f"the thread and teeth harder than their seat; state {', '.join(securing.missing)}, "
            "with their source."
        )
    if securing.bites is False:
        draft.warnings.append(
            f"The seat (hardness {securing.seat_hardness:g}) is not softer than the teeth of "
            f"{name} ({securing.hardness:g}): nothing holds the nut if the parts slip."
        )


def _check_needs(table: Table, rule: str) -> None:
    """Each rule needs its own quantity, and no other's."""
    for key, words in _NEEDS.get(rule, {}).items():
        if key not in table.data:
            table.missing(key, words)
    for other, keys in _OF_A_RULE.items():
        for key in keys:
            if other != rule and key in table.data:
                table.problem(key, f"nothing: this element holds by '{rule}'")


def read_cost(table: Table, draft: Draft) -> Cost | None:
    """Read [cost]: plain numbers in one currency."""
    values = [table.quantity(key, RATIO, low=0.0) for key in ("per_joint", "per_under", "per_over")]
    currency = table.text("currency", "the currency, for the report")
    table.close()
    if not table.data:
        return None
    return Cost(values[0] or 0.0, values[1] or 0.0, values[2] or 0.0, currency)
