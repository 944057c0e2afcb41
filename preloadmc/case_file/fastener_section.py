"""The sections [fastener], [[clamped]] and [joint]: geometry, strength, stiffness."""

from __future__ import annotations

import math
from dataclasses import dataclass

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table
from preloadmc.chance.laws import Constant
from preloadmc.joint import ClampedPart
from preloadmc.mechanics import compliance, grades, materials, tightening
from preloadmc.mechanics.materials import Material
from preloadmc.mechanics.thread import Thread, thread
from preloadmc.units import (
    ANGLE,
    EXPANSION,
    LENGTH,
    STRESS,
    format_quantity,
)

SHIGLEY_CONE = math.radians(30.0)


@dataclass(slots=True)
class FastenerFacts:
    """What [fastener] says that is not a law; None where absent or a problem."""

    thread: Thread | None
    material: Material | None
    hole_diameter: float | None
    head_face: float | None
    nut_face: float | None
    head: str
    mate: str
    shank_length: float
    seat_factor: float


def read_fastener(table: Table, draft: Draft) -> FastenerFacts:
    """Read [fastener]; its strengths and bearing diameter become inputs."""
    facts = FastenerFacts(
        thread=_thread(table),
        material=_material(table, draft, default="steel"),
        hole_diameter=table.quantity("hole_diameter", LENGTH, above=0.0),
        head_face=table.quantity("bearing_outer_diameter", LENGTH, above=0.0),
        nut_face=table.quantity("nut_bearing_outer_diameter", LENGTH, above=0.0),
        head=table.choice("head", tuple(compliance.HEAD_LENGTHS), "hexagon") or "hexagon",
        mate=table.choice("mate", tuple(compliance.MATE_LENGTHS), "nut") or "nut",
        shank_length=table.quantity("shank_length", LENGTH, low=0.0) or 0.0,
        seat_factor=1.0,
    )
    angle = table.quantity("seat_half_angle", ANGLE, above=0.0, high=math.pi / 2)
    if angle is not None:
        facts.seat_factor = float(tightening.countersunk_seat_friction(1.0, angle))
    _read_strength(table, draft, facts.thread)
    _read_bearing_diameter(table, draft, facts)
    table.close()
    return facts


def _thread(table: Table) -> Thread | None:
    designation = table.text("thread", "a thread such as M12, M12x1.25 or 1/2-13 UNC")
    if not designation:
        if "thread" not in table.data:
            table.missing("thread", "a thread such as M12, M12x1.25 or 1/2-13 UNC")
        return None
    try:
        return thread(designation)
    except ValueError as error:
        table.problem("thread", str(error))
        return None


def _material(table: Table, draft: Draft, default: str | None) -> Material | None:
    modulus = table.quantity("modulus", STRESS, above=0.0)
    expansion = table.quantity("expansion", EXPANSION)
    name = table.text("material", "the name of a material")
    if not name and modulus is not None and expansion is not None:
        return Material("as given", modulus, expansion, "case file")
    if not name:
        if default is None or "material" in table.data:
            table.missing("material", "a material by name, or both modulus and expansion")
            return None
        name = default
        draft.assume(table.at("material"), name)
    try:
        found = materials.material(name)
    except ValueError as error:
        table.problem("material", str(error))
        return None
    if modulus is None:
        text = format_quantity(found.modulus, STRESS)
        draft.assume(table.at("modulus"), f"{text} ({found.name})", found.source)
    if expansion is None:
        text = format_quantity(found.expansion, EXPANSION, digits=3)
        draft.assume(table.at("expansion"), f"{text} ({found.name})", found.source)
    return Material(
        found.name,
        found.modulus if modulus is None else modulus,
        found.expansion if expansion is None else expansion,
        found.source,
        found.limiting_pressure,
        found.modulus_table,
    )


def _read_strength(table: Table, draft: Draft, found: Thread | None) -> None:
    class_given = table.raw("property_class")
    strengths = (
        ("yield_strength", "fastener.yield_strength"),
        ("tensile_strength", "fastener.tensile_strength"),
    )
    for key, name in strengths:
        draft.read(table, key, name)
    if class_given is None or found is None:
        return
    try:
        grade = grades.grade(str(class_given), found.diameter)
    except ValueError as error:
        table.problem("property_class", str(error))
        return
    for (key, name), value in zip(
        strengths, (grade.yield_strength, grade.tensile_strength), strict=True
    ):
        if key not in table.data:
            draft.laws[name] = Constant(value)
            words = f"{format_quantity(value, STRESS)}, the minimum of {grade.name}"
            draft.assume(table.at(key), words, grade.source)


def _read_bearing_diameter(table: Table, draft: Draft, facts: FastenerFacts) -> None:
    name = "fastener.bearing_diameter"
    if "bearing_diameter" in table:
        draft.read(table, "bearing_diameter", name)
        return
    outer, hole = facts.head_face, facts.hole_diameter
    if outer is None or hole is None:
        return
    if outer <= hole:
        table.problem("bearing_outer_diameter", "an outer diameter above the hole diameter")
        return
    value = float(tightening.bearing_diameter_uniform_wear(outer, hole))
    draft.laws[name] = Constant(value)
    draft.assume(
        table.at("bearing_diameter"),
        f"{format_quantity(value, LENGTH)}, mean of bearing outer diameter and hole diameter",
        "ISO 16047:2005, uniform wear",
    )


def read_clamped(tables: list[Table], draft: Draft, hole: float | None) -> tuple[ClampedPart, ...]:
    """Read the [[clamped]] layers from head to nut."""
    parts = []
    for table in tables:
        material = _material(table, draft, default=None)
        thickness = table.quantity("thickness", LENGTH, above=0.0)
        if "thickness" not in table:
            table.missing("thickness", "a length")
        own_hole = table.quantity("hole_diameter", LENGTH, above=0.0) or hole
        outer = table.quantity("outer_diameter", LENGTH, above=0.0)
        pressure = table.quantity("limiting_pressure", STRESS, above=0.0)
        table.close()
        if own_hole is None and "hole_diameter" not in table:
            table.missing("hole_diameter", "here, or in [fastener] for all layers")
        if outer is not None and own_hole is not None and outer <= own_hole:
            table.problem("outer_diameter", "a diameter above that of the hole")
            continue
        if material is None or thickness is None or own_hole is None:
            continue
        if pressure is None:
            pressure = material.limiting_pressure
        parts.append(ClampedPart(material, thickness, own_hole, outer, pressure))
    return tuple(parts)


def read_stiffness(
    table: Table, draft: Draft, facts: FastenerFacts, parts: tuple[ClampedPart, ...]
) -> tuple[float, ...]:
    """Read [joint], or derive its compliances; return each part's share of the clamped one."""
    fastener_name, clamped_name = "joint.fastener_compliance", "joint.clamped_compliance"
    draft.read(table, "fastener_compliance", fastener_name)
    draft.read(table, "clamped_compliance", clamped_name)
    draft.read(table, "compliance", "joint.compliance")
    half_angle = table.quantity("cone_half_angle", ANGLE, above=0.0, high=math.pi / 3)
    table.close()
    if "compliance" in table.data:
        for key in ("fastener_compliance", "clamped_compliance"):
            if key in table.data:
                table.problem(key, "either the total compliance or its two parts")
        return ()
    if fastener_name in draft.laws and clamped_name in draft.laws and not parts:
        return ()
    if not parts:
        if not draft.problems.found:
            table.problems.add(
                "clamped", None, "missing; [[clamped]] layers, or [joint] compliance as measured"
            )
        return ()
    shares = _clamped_from_geometry(table, draft, facts, parts, half_angle)
    if "fastener_compliance" not in table.data:
        _fastener_from_geometry(table, draft, facts, parts)
    return shares


def _clamped_from_geometry(
    table: Table,
    draft: Draft,
    facts: FastenerFacts,
    parts: tuple[ClampedPart, ...],
    half_angle: float | None,
) -> tuple[float, ...]:
    if facts.head_face is None:
        if "clamped_compliance" in table.data:
            whole = sum(part.thickness / part.material.modulus for part in parts)
            return tuple(part.thickness / part.material.modulus / whole for part in parts)
        table.problems.add(
            "fastener.bearing_outer_diameter", None, "missing; the face that presses the parts"
        )
        return ()
    through = facts.mate == "nut"
    nut_face = (facts.nut_face or facts.head_face) if through else None
    layers = [
        compliance.Layer(
            part.thickness, part.material.modulus, part.hole_diameter, part.outer_diameter
        )
        for part in parts
    ]
    angle = SHIGLEY_CONE if half_angle is None else half_angle
    try:
        each = [
            float(layer)
            for layer in compliance.layer_compliances(layers, facts.head_face, nut_face, angle)
        ]
    except ValueError as error:
        table.problems.add("clamped", None, str(error))
        return ()
    if "clamped_compliance" not in table.data:
        draft.laws["joint.clamped_compliance"] = Constant(sum(each))
        cone = "" if half_angle is None else "half-angle as given; "
        draft.assume(
            table.at("clamped_compliance"),
            f"{1e6 * sum(each):.4g} µm/kN from the layers, cones of {math.degrees(angle):.3g} deg",
            f"{cone}Shigley, 9th ed., eq. 8-19 and Sec. 8-5",
        )
    return tuple(layer / sum(each) for layer in each)


def _fastener_from_geometry(
    table: Table, draft: Draft, facts: FastenerFacts, parts: tuple[ClampedPart, ...]
) -> None:
    if facts.thread is None or facts.material is None:
        return
    grip = sum(part.thickness for part in parts)
    if facts.shank_length > grip:
        table.problems.add(
            "fastener.shank_length",
            format_quantity(facts.shank_length, LENGTH),
            f"at most the clamped thickness of {format_quantity(grip, LENGTH)}",
        )
        return
    shank = math.pi / 4 * facts.thread.diameter**2
    value = float(
        compliance.fastener_compliance(
            [
                compliance.Segment(facts.shank_length, shank),
                compliance.Segment(grip - facts.shank_length, facts.thread.core_area),
            ],
            facts.thread.diameter,
            facts.thread.core_area,
            facts.material.modulus,
            facts.head,
            facts.mate,
            parts[-1].material.modulus if facts.mate == "tapped hole" else facts.material.modulus,
        )
    )
    draft.laws["joint.fastener_compliance"] = Constant(value)
    draft.assume(
        table.at("fastener_compliance"),
        f"{1e6 * value:.4g} µm/kN: {facts.head} head, {format_quantity(facts.shank_length, LENGTH)}"
        f" of shank, thread over the rest of the grip, {facts.mate}",
        compliance.LENGTHS_SOURCE,
    )
