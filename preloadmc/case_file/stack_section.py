"""The sections [[clamped]] and [joint]: layers, stiffness, and what the seats can carry."""

from __future__ import annotations

import math

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.fastener_section import FastenerFacts, read_material
from preloadmc.case_file.tables import Table
from preloadmc.chance.laws import Constant
from preloadmc.joint import BearingFace, ClampedPart
from preloadmc.joint.geometry import Geometry
from preloadmc.joint.shape import (
    engaged_thread,
    part_compliances,
    pressed_faces,
    terms_of_fastener,
)
from preloadmc.mechanics import compliance, stripping
from preloadmc.mechanics.fastener import LENGTHS_SOURCE
from preloadmc.mechanics.thread import Thread
from preloadmc.mechanics.tolerance import SOURCE as TOLERANCE_SOURCE
from preloadmc.units import ANGLE, FORCE, LENGTH, STRESS, format_quantity

SHIGLEY_CONE = math.radians(30.0)


def read_clamped(tables: list[Table], draft: Draft, hole: float | None) -> tuple[ClampedPart, ...]:
    """Read the [[clamped]] layers from head to nut."""
    parts = []
    for table in tables:
        material = read_material(table, draft, default=None)
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


def read_geometry(table: Table, facts: FastenerFacts, parts: tuple[ClampedPart, ...]) -> Geometry:
    """Return the shape that [fastener] and [[clamped]] describe, with the cone of [joint]."""
    half_angle, source = _cone_half_angle(table, facts, parts)
    return Geometry(
        head=facts.head,
        mate=facts.mate,
        shanks=facts.shanks,
        hole_diameter=facts.hole_diameter,
        head_face=facts.head_face,
        nut_face=(facts.nut_face or facts.head_face) if facts.mate == "nut" else None,
        cone_half_angle=half_angle,
        cone_source=source,
        engagement=facts.engagement,
        mate_tensile_strength=facts.mate_strength,
        width_across_flats=facts.width_across_flats,
    )


def read_stiffness(
    table: Table,
    draft: Draft,
    facts: FastenerFacts,
    parts: tuple[ClampedPart, ...],
    geometry: Geometry,
) -> tuple[float, ...]:
    """Read [joint], or derive its compliances; return each part's share of the clamped one."""
    fastener_name, clamped_name = "joint.fastener_compliance", "joint.clamped_compliance"
    draft.read(table, "fastener_compliance", fastener_name)
    draft.read(table, "clamped_compliance", clamped_name)
    draft.read(table, "compliance", "joint.compliance")
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
    shares = _clamped_from_geometry(table, draft, geometry, parts)
    if "fastener_compliance" not in table.data:
        _fastener_from_geometry(table, draft, facts, geometry, parts)
    return shares


def _cone_half_angle(
    table: Table, facts: FastenerFacts, parts: tuple[ClampedPart, ...]
) -> tuple[float, str]:
    """Return the half-angle of the pressure cones and its source."""
    if table.raw("cone_half_angle") != "VDI":
        angle = table.quantity("cone_half_angle", ANGLE, above=0.0, high=math.pi / 3)
        if angle is None:
            return SHIGLEY_CONE, "Shigley, 9th ed., eq. 8-19 and Sec. 8-5"
        return angle, "half-angle as given; Shigley, 9th ed., eq. 8-19"
    widths = [part.outer_diameter for part in parts if part.outer_diameter is not None]
    if facts.head_face is None or not widths:
        table.problem(
            "cone_half_angle",
            "outer_diameter of the [[clamped]] layers and bearing_outer_diameter of [fastener], "
            "on which the VDI angle depends",
        )
        return SHIGLEY_CONE, ""
    grip = sum(part.thickness for part in parts)
    formula = compliance.cone_angle_through if facts.mate == "nut" else compliance.cone_angle_tapped
    angle = formula(facts.head_face, grip, min(widths))
    return angle, "VDI 2230-1:2003, eqs. 5.1/26 and 5.1/27 (formula from memory)"


def _clamped_from_geometry(
    table: Table, draft: Draft, geometry: Geometry, parts: tuple[ClampedPart, ...]
) -> tuple[float, ...]:
    if geometry.head_face is None:
        if "clamped_compliance" in table.data:
            whole = sum(part.thickness / part.material.modulus for part in parts)
            return tuple(part.thickness / part.material.modulus / whole for part in parts)
        table.problems.add(
            "fastener.bearing_outer_diameter", None, "missing; the face that presses the parts"
        )
        return ()
    try:
        each = part_compliances(geometry, parts)
    except ValueError as error:
        table.problems.add("clamped", None, str(error))
        return ()
    if "clamped_compliance" not in table.data:
        draft.laws["joint.clamped_compliance"] = Constant(sum(each))
        angle = math.degrees(geometry.cone_half_angle)
        draft.assume(
            table.at("clamped_compliance"),
            f"{1e6 * sum(each):.4g} µm/kN from the layers, cones of {angle:.3g} deg",
            geometry.cone_source,
        )
    return tuple(layer / sum(each) for layer in each)


def _fastener_from_geometry(
    table: Table,
    draft: Draft,
    facts: FastenerFacts,
    geometry: Geometry,
    parts: tuple[ClampedPart, ...],
) -> None:
    if facts.thread is None or facts.material is None:
        return
    try:
        terms = terms_of_fastener(geometry, facts.thread, facts.material, parts)
    except ValueError as error:
        table.problems.add("fastener.segment", None, str(error))
        return
    value = sum(float(term.compliance) for term in terms)
    plain = sum(shank.length for shank in facts.shanks)
    draft.laws["joint.fastener_compliance"] = Constant(value)
    draft.assume(
        table.at("fastener_compliance"),
        f"{1e6 * value:.4g} µm/kN: {facts.head} head, {format_quantity(plain, LENGTH)} of plain "
        f"shank, thread over the rest of the grip, {facts.mate}",
        LENGTHS_SOURCE,
    )


def weak_length(facts: FastenerFacts, parts: tuple[ClampedPart, ...]) -> float:
    """Return the length of the weakest section within the grip [mm]; zero where it is unknown."""
    section = facts.section
    if section is None:
        return 0.0
    waists = sum(shank.length for shank in facts.shanks if shank.diameter == section.diameter)
    if waists:
        return waists
    plain = sum(shank.length for shank in facts.shanks)
    return sum(part.thickness for part in parts) - plain


def bearing_faces(
    geometry: Geometry, thread: Thread | None, parts: tuple[ClampedPart, ...], draft: Draft
) -> tuple[BearingFace, ...]:
    """Return the faces whose limiting pressure is known; note those limits not given."""
    if thread is None:
        return ()
    faces = pressed_faces(geometry, thread, parts)
    for face in faces:
        material = face.material
        if face.limiting_pressure == material.limiting_pressure:
            draft.assume(
                f"pressure under {face.where}",
                f"limit {format_quantity(face.limiting_pressure, STRESS)} ({material.name})",
                material.source,
            )
    return faces


def stripping_force(
    geometry: Geometry, thread: Thread | None, draft: Draft, tensile_strength: float | None
) -> float | None:
    """Return the force at which the engaged thread strips [N]; None where it is not described."""
    if geometry.engagement is None or thread is None:
        return None
    if geometry.mate_tensile_strength is None or tensile_strength is None:
        draft.problems.add(
            "fastener.mate_tensile_strength",
            None,
            "missing; with engagement, thread stripping needs the tensile strength of the nut or "
            "tapped part, and that of the fastener",
        )
        return None
    if geometry.mate == "nut" and geometry.width_across_flats is None:
        draft.problems.add(
            "fastener.nut_width_across_flats",
            None,
            "missing; with engagement, thread stripping needs it: a nut spreads under load",
        )
        return None
    if not stripping.effective_engagement(geometry.engagement, thread.pitch) > 0.0:
        draft.problems.add("fastener.engagement", None, "longer than 0.8 of the pitch")
        return None
    engaged = engaged_thread(geometry, thread, tensile_strength)
    draft.assume(
        "thread stripping",
        f"{format_quantity(engaged.stripping_force, FORCE)}: least-material threads, shear "
        f"strength {stripping.STEEL_SHEAR_RATIO:g} of tensile strength, "
        + ("no dilation" if geometry.mate != "nut" else "dilation by the width across flats"),
        f"E. M. Alexander, SAE paper 770420 (1977), from memory; {TOLERANCE_SOURCE}; "
        f"{stripping.STEEL_SHEAR_RATIO_SOURCE}",
    )
    return engaged.stripping_force
