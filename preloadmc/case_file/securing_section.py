"""The sections [securing] and [cost]: what holds the nut, and what a joint costs."""

from __future__ import annotations

import math

from preloadmc.case import Cost
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table
from preloadmc.joint import Securing
from preloadmc.mechanics.securing import securing_element
from preloadmc.units import ANGLE, RATIO, TORQUE


def read_securing(table: Table, draft: Draft) -> Securing | None:
    """Read [securing]; its element is data with a source, used only when asked for by name."""
    name = table.text("element", "the name of a securing element")
    worn = table.quantity("worn_prevailing_torque", TORQUE, low=0.0)
    breakaway = table.quantity("breakaway_torque", TORQUE, low=0.0)
    ramp = table.quantity("ramp_angle", ANGLE, above=0.0, high=math.pi / 4)
    hardness = table.quantity("seat_hardness", RATIO, low=0.0, high=70.0)
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
    _check_needs(table, element.loosening, worn, breakaway, ramp)
    bites = True
    if element.largest_seat_hardness is not None:
        if hardness is None:
            table.missing(
                "seat_hardness",
                f"Rockwell C of the seat: the teeth bite up to {element.largest_seat_hardness:g}",
            )
        elif hardness > element.largest_seat_hardness:
            bites = False
            draft.warnings.append(
                f"The seat ({hardness:g} HRC) is harder than {element.name} can bite into "
                f"({element.largest_seat_hardness:g} HRC at most): nothing holds the nut if the "
                "parts slip."
            )
    words = [f"adds {element.extra_interfaces} interfaces"] if element.extra_interfaces else []
    if element.torque_ratio != 1.0:
        words.append(f"asks {element.torque_ratio:g} times the torque of a plain zinc-plated seat")
    words.append(element.note)
    draft.assume(table.at("element"), f"{element.name}: {'; '.join(words)}", element.source)
    return Securing(element, worn, breakaway, ramp, bites)


def _check_needs(
    table: Table,
    rule: str,
    worn: float | None,
    breakaway: float | None,
    ramp: float | None,
) -> None:
    """Each rule needs its own quantity, and no other."""
    needs = {
        "prevailing torque": (
            "worn_prevailing_torque",
            worn,
            "the prevailing torque that remains in self-loosening, well below a new one",
        ),
        "breakaway torque": ("breakaway_torque", breakaway, "the torque that breaks the bond"),
        "ramp": ("ramp_angle", ramp, "the angle of the ramps"),
    }
    for belongs, (key, value, words) in needs.items():
        if belongs == rule and value is None and key not in table.data:
            table.missing(key, words)
        if belongs != rule and key in table.data:
            table.problem(key, f"nothing: this element holds by '{rule}'")


def read_cost(table: Table, draft: Draft) -> Cost | None:
    """Read [cost]: plain numbers in one currency."""
    values = [table.quantity(key, RATIO, low=0.0) for key in ("per_joint", "per_under", "per_over")]
    currency = table.text("currency", "the currency, for the report")
    table.close()
    if not table.data:
        return None
    return Cost(values[0] or 0.0, values[1] or 0.0, values[2] or 0.0, currency)
