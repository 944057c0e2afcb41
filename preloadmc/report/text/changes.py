"""What an alternative changes, in words: laws, facts of the joint, requirement, costs."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from preloadmc.case import Case, Group
from preloadmc.inputs import input_label
from preloadmc.joint import Joint, Securing
from preloadmc.report.text.acceptance import window_words
from preloadmc.report.text.laws import law_words
from preloadmc.units import LENGTH, TORQUE, format_quantity

# Facts that follow from others which are named themselves.
_DERIVED = (
    "part_shares",
    "section",
    "weak_length",
    "bearing_faces",
    "strength_is_one_figure",
)


def change_lines(first: Case, other: Case, system: str) -> list[str]:
    """Return what ``other`` changes against ``first``, a line for each change."""
    return [
        *_facts(first.joint, other.joint, system),
        *_group(first, other),
        *_laws(first, other, system),
        *_requirement(first, other),
        *_cost(first, other),
    ]


def _facts(first: Joint, other: Joint, system: str) -> Iterator[str]:
    if first.thread != other.thread:
        yield f"thread: {other.thread.designation} instead of {first.thread.designation}"
    if first.method.name != other.method.name:
        yield f"tightening: {other.method.name} instead of {first.method.name}"
    if first.uses_nut_factor != other.uses_nut_factor:
        yield f"torque equation: by {_equation(other)} instead of {_equation(first)}"
    if first.securing != other.securing:
        after, before = (_securing(joint.securing, system) for joint in (other, first))
        yield f"securing: {after} instead of {before}"
    if first.acceptance != other.acceptance:
        after, before = (
            "nothing" if joint.acceptance is None else window_words(joint.acceptance, system)
            for joint in (other, first)
        )
        yield f"checked at the tool: {after} instead of {before}"
    if first.parts != other.parts:
        yield f"clamped parts: {_parts(other, system)} instead of {_parts(first, system)}"
    named = {"thread", "method", "uses_nut_factor", "securing", "parts", "acceptance"}
    rest = [
        name.replace("_", " ")
        for name in Joint.__dataclass_fields__
        if name not in named
        and name not in _DERIVED
        and getattr(first, name) != getattr(other, name)
    ]
    if rest:
        yield f"facts of the joint: {', '.join(rest)}"


def _group(first: Case, other: Case) -> Iterator[str]:
    """Yield what changes in how the fasteners of a joint are tightened, and what they share."""
    before, after = first.group, other.group
    if before is None or after is None:
        if before is not after:
            yield "group: stated in one of the two alone"
        return
    for words, old, new in (
        ("number of fasteners", before.n, after.n),
        ("order of tightening", before.facts.order_name, after.facts.order_name),
        ("tools at once", before.facts.tools, after.facts.tools),
        ("passes", _passes(before), _passes(after)),
        ("fasteners that must hold", before.at_least, after.at_least),
    ):
        if old != new:
            yield f"{words}: {new} instead of {old}"
    if not np.array_equal(before.facts.coefficients, after.facts.coefficients):
        yield "elastic interaction"
    places = [
        None if each.facts.positions is None else each.facts.positions.tolist()
        for each in (before, after)
    ]
    if places[0] != places[1]:
        yield "places of the fasteners"
    if any(
        not np.array_equal(getattr(before.facts, name), getattr(after.facts, name))
        for name in ("direction", "axial", "bending", "transverse", "torsional")
    ):
        yield "share of the load that each fastener takes"
    if _exceptions(before) != _exceptions(after):
        yield "fasteners that differ from the others"
    shared = {
        name
        for name in {*before.fractions, *after.fractions}
        if before.fractions.get(name) != after.fractions.get(name)
    }
    if shared:
        names = ", ".join(sorted(input_label(name) for name in shared))
        yield f"what the fasteners have in common: {names}"
    for name in dict.fromkeys([*before.allowed, *after.allowed]):
        was, now = (each.allowed.get(name) for each in (before, after))
        if was != now:
            yield f"allowed of the joint, {name}: {_allowed(now)} instead of {_allowed(was)}"


def _exceptions(group: Group) -> list[tuple[object, ...]]:
    return [(fasteners, other.laws, other.joint) for fasteners, other in group.exceptions]


def _passes(group: Group) -> str:
    return ", ".join(f"{100 * share:g} %" for share, _ in group.facts.passes)


def _equation(joint: Joint) -> str:
    return "nut factor" if joint.uses_nut_factor else "frictions of thread and bearing"


def _parts(joint: Joint, system: str) -> str:
    words = (
        f"{format_quantity(part.thickness, LENGTH, system)} {part.material.name}"
        for part in joint.parts
    )
    return " + ".join(words) or "-"


def _securing(securing: Securing | None, system: str) -> str:
    if securing is None:
        return "none"
    words = securing.element.name
    if securing.torque_ratio != 1.0:
        words += f" ({securing.torque_ratio:g} times the torque for the same preload)"
    if securing.worn_torque is not None:
        words += f" (worn {format_quantity(securing.worn_torque, TORQUE, system, 3)})"
    if securing.breakaway_torque is not None:
        words += (
            f" (breaks away at {format_quantity(securing.breakaway_torque, TORQUE, system, 3)})"
        )
    return f"{words} that cannot bite the seat" if securing.bites is False else words


def _laws(first: Case, other: Case, system: str) -> Iterator[str]:
    for name in dict.fromkeys([*first.laws, *first.follows, *other.laws, *other.follows]):
        old, new = (_input_words(name, case, system) for case in (first, other))
        if first.laws.get(name) == other.laws.get(name) and old == new:
            continue
        label = input_label(name)
        if new is None:
            yield f"{label}: no longer used (was {old})"
        elif old is None:
            yield f"{label}: {new}, not used before"
        elif old != new:
            yield f"{label}: {new} instead of {old}"
    if first.correlations != other.correlations:
        pairs = {
            pair: other.correlations.get(pair, 0.0)
            for pair in dict.fromkeys([*first.correlations, *other.correlations])
            if first.correlations.get(pair) != other.correlations.get(pair)
            and set(pair) <= other.laws.keys()
        }
        for pair, rho in pairs.items():
            labels = " and ".join(input_label(name) for name in pair)
            yield f"correlation of {labels}: {rho:g}"


def _input_words(name: str, case: Case, system: str) -> str | None:
    """Return the law of an input, or what it follows; None where the case has no such input."""
    if name in case.follows:
        follows = case.follows[name]
        return f"{follows.factor:.4g} times the {input_label(follows.leader)}"
    law = case.laws.get(name)
    return None if law is None else law_words(name, law, system)


def _requirement(first: Case, other: Case) -> Iterator[str]:
    before, after = first.requirement, other.requirement
    for name, label in (
        ("minimum_from", "minimum preload from"),
        ("maximum_from", "maximum preload from"),
        ("yield_fraction", "share of yield allowed"),
    ):
        old, new = getattr(before, name), getattr(after, name)
        if old != new:
            yield f"{label}: {_stated(new)} instead of {_stated(old)}"
    for name, label in (
        ("allowed_under", "allowed too little preload"),
        ("allowed_over", "allowed too much preload"),
        ("allowed_other", "allowed of limits beside the window"),
    ):
        old, new = getattr(before, name), getattr(after, name)
        if old != new:
            yield f"{label}: {_allowed(new)} instead of {_allowed(old)}"
    for name in dict.fromkeys([*before.allowed, *after.allowed]):
        old, new = (each.allowed.get(name) for each in (before, after))
        if old != new:
            yield f"allowed of {name}: {_allowed(new)} instead of {_allowed(old)}"


def _stated(value: str | float | None) -> str:
    if value is None or value == "":
        return "none of its own"
    return value if isinstance(value, str) else f"{value:g}"


def _allowed(share: float | None) -> str:
    return _stated(None if share is None else f"{100 * share:g} %")


def _cost(first: Case, other: Case) -> Iterator[str]:
    if first.cost == other.cost:
        return
    if first.cost is None or other.cost is None:
        yield "cost: stated in one of the two alone"
        return
    for name, label in (
        ("per_joint", "cost per fastener"),
        ("per_under", "cost of too little preload"),
        ("per_over", "cost of too much preload"),
        ("per_loosening", "cost of loosening by slip"),
        ("per_reject", "cost of a rejected tightening"),
        ("tool_per_joint", "tool per fastener"),
    ):
        before, after = getattr(first.cost, name), getattr(other.cost, name)
        if before != after:
            yield f"{label}: {after:.4g} instead of {before:.4g} {other.cost.currency}".rstrip()
