"""What one fastener of a joint carries, and what its neighbours take: chapters of a derivation."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from preloadmc.case import Case
from preloadmc.joint import ALIKE, INTERACTION, TYPICAL, Inputs, State
from preloadmc.joint.group import AXIAL, BENDING, TORSIONAL, TRANSVERSE
from preloadmc.steps import Step, Value, area, force, length, percent, ratio, torque
from preloadmc.units import FORCE, PERCENT

PLATE_SOURCE = "rigid plate on equal fasteners: equilibrium"
INTERACTION_SOURCE = "elastic interaction coefficients (Bibel and Goddard; from memory)"


def group_load_steps(case: Case, x: Inputs) -> Iterator[Step]:
    """How the loads of the joint come to the governing fastener."""
    group = case.group
    if group is None:
        return
    facts, here = group.facts, group.governing
    of_one = facts.loads(x, here)
    if "load.axial" in of_one:
        parts, values = [], []
        if AXIAL in x:
            parts.append("{s}·{F_g}")
            values += [ratio("s", facts.axial[here]), force("F_g", x[AXIAL])]
        if BENDING in x:
            parts.append("{F_b}")
            values.append(force("F_b", x[BENDING] * facts.bending[here]))
            # The share of each is x/Σx², so that those of all squared add up to 1/Σx².
            squares = 1.0 / float(facts.bending @ facts.bending)
            away = length("x", squares * facts.bending[here])
            yield Step(
                f"Axial force of the bending moment at {group.place}",
                "F_b",
                "{M_b}·{x}/{Σx²}",
                (torque("M_b", x[BENDING]), away, area("Σx²", squares)),
                float(x[BENDING] * facts.bending[here]),
                FORCE,
                PLATE_SOURCE,
                "x: distance of the fasteners from the axis of the moment.",
            )
        yield _sum(f"Axial load on {group.place}", "F_A", parts, values, of_one["load.axial"])
    if "load.transverse" in of_one:
        yield from _across(case, x, float(of_one["load.transverse"]))


def _across(case: Case, x: Inputs, found: float) -> Iterator[Step]:
    group = case.group
    assert group is not None, "asked for where there is one"
    facts, here = group.facts, group.governing
    if TORSIONAL not in x:
        share = float(facts.transverse[here] @ facts.direction)
        values = [ratio("s", share), force("F_t", x[TRANSVERSE])]
        yield _sum(f"Transverse load on {group.place}", "F_Q", ["{s}·{F_t}"], values, found)
        return
    direct = facts.transverse[here] * x.get(TRANSVERSE, 0.0)
    turning = facts.torsional[here] * x[TORSIONAL]
    values = [
        force("F_x", direct[0]),
        force("F_y", direct[1]),
        force("T_x", turning[0]),
        force("T_y", turning[1]),
    ]
    yield Step(
        f"Transverse load on {group.place}",
        "F_Q",
        "√(({F_x} + {T_x})² + ({F_y} + {T_y})²)",
        tuple(values),
        float(np.hypot(*(direct + turning))),
        FORCE,
        "rigid plate: F/n and M r/Σr² (Shigley, eccentric shear)",
        "F: share of the force through the centroid; T: that of the torsional moment.",
    )


def _sum(title: str, symbol: str, parts: list[str], values: list[Value], found: object) -> Step:
    return Step(
        title,
        symbol,
        " + ".join(parts),
        tuple(values),
        float(np.asarray(found)),
        FORCE,
        PLATE_SOURCE,
    )


def interaction_steps(case: Case, x: Inputs, state: State) -> Iterator[Step]:
    """What the neighbours of the governing fastener take, all tightened alike."""
    group = case.group
    if group is None or INTERACTION not in x:
        return
    yield Step(
        f"Share of its preload that {group.place} loses to its neighbours",
        "i",
        "",
        (),
        float(x[INTERACTION]),
        PERCENT,
        INTERACTION_SOURCE,
        f"Order {group.facts.order_name}, {len(group.facts.passes)} passes, all tightened alike.",
    )
    typical = x[TYPICAL] * x[case.joint.method.setting_input]
    yield Step(
        "Preload once all fasteners are tightened",
        "F_N",
        "{F_M} - {i}·({F_t} + {r}·({F_M} - {F_t}))",
        (
            force("F_M", state.assembly.preload),
            percent("i", x[INTERACTION]),
            force("F_t", typical),
            ratio("r", x[ALIKE]),
        ),
        float(state.all_tightened),
        FORCE,
        "what is left",
        "F_t: preload of the others with all inputs at their medians; r: correlation of the "
        "preloads of two fasteners.",
    )
