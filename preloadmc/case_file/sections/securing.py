"""The section [securing]: what holds the fastener when the parts slip."""

from __future__ import annotations

import math

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.word_kinds import LONGEST_NOTE, Named, Text
from preloadmc.inputs import ACROSS, Default
from preloadmc.joint import Securing
from preloadmc.mechanics.securing import (
    POSITIVE_LOCK,
    VIBRATION_TEST,
    SecuringElement,
    known_securing_elements,
    securing_element,
)
from preloadmc.units import ANGLE, RATIO, TORQUE

_ELEMENT, _SOURCE = "securing.element", "securing.source"
_TORQUE_RATIO, _RAMP = "securing.torque_ratio", "securing.ramp_angle"
_HARDNESS, _SEAT_HARDNESS = "securing.hardness", "securing.seat_hardness"
_PLAY = "securing.play"
_REMAINING = "securing.remaining"
_WORN, _BREAKAWAY = "securing.worn_prevailing_torque", "securing.breakaway_torque"
FIELDS = (
    Field(
        "securing",
        Table(),
        'what holds the fastener when the parts slip; "none" in an alternative takes it away',
    ),
    Field(
        _ELEMENT,
        Named(
            "the name of a securing element",
            securing_element,
            known_securing_elements,
            table="securing",
        ),
        "securing element",
        '"wedge-locking washers"',
    ),
    Field(
        _TORQUE_RATIO,
        Quantity(RATIO, above=0.0, high=5.0),
        "tightening torque over that on the seat whose friction is stated",
        "1.3",
        Default(1.0, "1: the frictions stated are those of its seats"),
    ),
    Field(
        _WORN,
        Quantity(TORQUE, low=0.0),
        "prevailing torque that remains in self-loosening, well below a new one",
        '"4 N·m"',
    ),
    Field(_BREAKAWAY, Quantity(TORQUE, low=0.0), "torque that breaks the bond", '"12 N·m"'),
    Field(
        _RAMP,
        Quantity(ANGLE, above=0.0, high=math.pi / 4),
        "angle of the ramps of wedge-locking washers",
        '"8 deg"',
    ),
    Field(
        _PLAY,
        Quantity(ANGLE, low=0.0, high=2 * math.pi),
        "angle by which a positive lock lets the fastener turn back",
        '"10 deg"',
        Default(math.radians(10.0), "10 deg: play of wire, tab or pin", "engineering judgement"),
    ),
    Field(_HARDNESS, Quantity(RATIO, above=0.0), "hardness of its teeth", "540"),
    Field(
        _SEAT_HARDNESS,
        Quantity(RATIO, above=0.0),
        "hardness of the seat of its teeth, on the same scale",
        "310",
    ),
    Field(
        _SOURCE,
        Text("where the values of the element are from", longest=LONGEST_NOTE),
        "where its values are from: a certificate, a test",
        '"certificate 17"',
        Default("", "not stated"),
    ),
)
# What a product has of its own; where the case states it, it says where it is from.
_OF_A_PRODUCT = (_TORQUE_RATIO, _RAMP, _HARDNESS, _SEAT_HARDNESS)
# The keys that each rule asks for, and those that it may use.
_NEEDS = {"prevailing torque": _WORN, "breakaway torque": _BREAKAWAY}
_OF_A_RULE = {
    "prevailing torque": (_WORN,),
    "breakaway torque": (_BREAKAWAY,),
    "ramp": (_RAMP, _HARDNESS, _SEAT_HARDNESS),
    POSITIVE_LOCK: (_PLAY,),
}


def securing_of(draft: Draft) -> Securing | None:
    """Return the element with what the file says of it; None where it names none.

    An element is data with a source, used only when asked for by name.
    """
    stated = draft.stated
    element = stated.get(_ELEMENT, SecuringElement)
    if element is None:
        if stated.has_table("securing") and _ELEMENT not in stated:
            stated.missing(_ELEMENT, "the name of a securing element")
        return None
    _check_needs(stated, element)
    securing = Securing(
        element,
        stated.known(_TORQUE_RATIO, float),
        stated.get(_WORN, float),
        stated.get(_BREAKAWAY, float),
        stated.get(_RAMP, float),
        stated.get(_HARDNESS, float),
        stated.get(_SEAT_HARDNESS, float),
        stated.known(_SOURCE, str),
        stated.known(_PLAY, float) if element.loosening == POSITIVE_LOCK else None,
    )
    _warn(securing, draft)
    words = [*_interface_words(draft, element), element.note]
    draft.assume(_ELEMENT, f"{element.name}: {'; '.join(words)}", element.source)
    if element.loosening == "ramp":
        draft.assume_default(_TORQUE_RATIO)
    if element.loosening == POSITIVE_LOCK:
        draft.assume_default(_PLAY)
    return securing


def _interface_words(draft: Draft, element: SecuringElement) -> list[str]:
    """Return what becomes of the interfaces that an element adds; nothing where it adds none."""
    interfaces = element.extra_interfaces
    if not interfaces:
        return []
    added = f"the {interfaces} {'interface' if interfaces == 1 else 'interfaces'} that it adds "
    if draft.stated.form("settling.embedding"):
        return [added + "count in the guide value of embedding"]
    if "settling.embedding" in draft.stated:
        return [added + "are taken to be within the stated embedding"]
    return [added + "are taken not to embed, since no embedding is stated"]


def _check_needs(stated: Stated, element: SecuringElement) -> None:
    """Each rule needs its own quantity and no other's; a product's values need their source."""
    needed = _NEEDS.get(element.loosening)
    if needed is not None and needed not in stated:
        stated.missing(needed, f"the {stated.field(needed).meaning}")
    for rule, paths in _OF_A_RULE.items():
        for path in paths:
            if rule != element.loosening and path in stated:
                stated.problem(path, f"remove it: this element holds by '{element.loosening}'")
    if element.loosening == "prevailing torque" and "tightening.prevailing_torque" not in stated:
        stated.missing("tightening.prevailing_torque", f"{element.name} has one")
    if _SOURCE not in stated and any(path in stated for path in _OF_A_PRODUCT):
        stated.missing(
            _SOURCE, "where torque_ratio, ramp_angle and hardness are from: a certificate, a test"
        )


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
            f"{name} ({securing.hardness:g}): nothing holds the fastener if the parts slip."
        )


def check_decay(draft: Draft) -> bool:
    """Return whether tests say what is left once the parts slip; they must be able to slip."""
    stated = draft.stated
    if _REMAINING not in stated:
        return False
    if not draft.has_law(*ACROSS) or not draft.has_law("friction.joint", ".joint_friction"):
        stated.problem(
            _REMAINING,
            "a transverse load and the friction between the parts beside it, which say whether the "
            "parts slip",
        )
        return False
    draft.assume(
        _REMAINING,
        "holds for the joint, the amplitude, the clamp length and the cycles that were tested; a "
        "fastener whose parts do not slip keeps all",
        VIBRATION_TEST,
    )
    return True
