"""The sections [[clamped]] and [joint]: layers, stiffness, and what the seats can carry."""

from __future__ import annotations

import math

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, QuantityOrWord, Table
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.sections.fastener import (
    MATERIAL,
    MODULUS,
    TURNED,
    material_of,
    must_pass,
    shanks,
    turned_hole,
)
from preloadmc.case_file.sections.tightening import GAUGE_LENGTH
from preloadmc.chance.laws import Constant
from preloadmc.inputs import Default
from preloadmc.joint import BearingFace, ClampedPart, Method
from preloadmc.joint.geometry import Geometry
from preloadmc.joint.shape import (
    engaged_thread,
    mean_outer_diameter,
    measured_terms,
    part_compliances,
    pressed_faces,
    terms_of_fastener,
    twist_of_fastener,
)
from preloadmc.mechanics import compliance, stripping
from preloadmc.mechanics.fastener import LENGTHS_SOURCE, Section, fastener_segments
from preloadmc.mechanics.materials import Material
from preloadmc.mechanics.thread import Thread
from preloadmc.mechanics.tolerance import SOURCE as TOLERANCE_SOURCE
from preloadmc.told import Magnitude
from preloadmc.units import ANGLE, COMPLIANCE, EXPANSION, FORCE, LENGTH, STRESS

_LENGTH = Quantity(LENGTH, above=0.0)
# What the tensile strength of the fastener follows from.
_TENSILE_FROM = ("fastener.tensile_strength", "fastener.property_class")
_VDI = "VDI"
_SHIGLEY = math.radians(30.0)
_SHIGLEY_SOURCE = "Shigley, 9th ed., eq. 8-19 and Sec. 8-5"
FIELDS = (
    Field("clamped[]", Table(), "clamped layer, one each, from the head on, washers included"),
    Field(
        "clamped[].material",
        MATERIAL,
        "material of the layer, from which modulus and expansion follow",
        '"steel"',
    ),
    Field("clamped[].modulus", MODULUS, "Young's modulus of the layer", '"205 GPa"'),
    Field(
        "clamped[].expansion", Quantity(EXPANSION), "thermal expansion of the layer", '"11.5 ppm/K"'
    ),
    Field("clamped[].thickness", _LENGTH, "thickness of the layer", '"18 mm"', needed=True),
    Field(
        "clamped[].hole_diameter",
        _LENGTH,
        "diameter of its hole, where it is not that of [fastener]",
        '"13.5 mm"',
    ),
    Field(
        "clamped[].outer_diameter",
        _LENGTH,
        "its outer diameter, where it is so small that it matters",
        '"34 mm"',
    ),
    Field(
        "clamped[].limiting_pressure",
        Quantity(STRESS, above=0.0),
        "pressure that its surface bears, in place of that of its material",
        '"490 MPa"',
    ),
    Field("joint", Table(), "stiffness, as measured or from the shape"),
    Field(
        "joint.cone_half_angle",
        QuantityOrWord(Quantity(ANGLE, above=0.0, high=math.pi / 3), _VDI),
        "half-angle of the pressure cones in the layers, or by the formula of VDI 2230",
        '"30 deg"',
        Default(_SHIGLEY, "30 deg", _SHIGLEY_SOURCE),
    ),
)


def clamped_parts(draft: Draft) -> tuple[ClampedPart, ...]:
    """Return the layers from the head on; those with a problem are left out."""
    stated = draft.stated
    found = []
    for layer in stated.each("clamped"):
        material = material_of(layer, draft)
        thickness = stated.get(f"{layer}.thickness", float)
        hole = stated.get(f"{layer}.hole_diameter", float)
        if hole is None and f"{layer}.hole_diameter" not in stated:
            hole = stated.get("fastener.hole_diameter", float)
            if hole is None and not (
                "fastener.hole_diameter" in stated or stated.problems.at("fastener.hole_diameter")
            ):
                stated.missing(f"{layer}.hole_diameter", "here, or in [fastener] for all layers")
        thread = stated.get("fastener.thread", Thread)
        own = f"{layer}.hole_diameter" in stated
        if own and hole is not None and thread is not None and hole < thread.diameter:
            stated.problem(f"{layer}.hole_diameter", must_pass(thread))
            continue
        outer = stated.get(f"{layer}.outer_diameter", float)
        if outer is not None and hole is not None and outer <= hole:
            stated.problem(f"{layer}.outer_diameter", "a diameter above that of the hole")
            continue
        if material is None or thickness is None or hole is None:
            continue
        pressure = stated.get(f"{layer}.limiting_pressure", float)
        if pressure is None:
            pressure = material.limiting_pressure
        found.append(ClampedPart(material, thickness, hole, outer, pressure))
    return tuple(found)


def check_plain_lengths(stated: Stated, parts: tuple[ClampedPart, ...]) -> None:
    """The plain lengths of the shank lie within the grip, or it would not screw in."""
    found = stated.get("fastener.thread", Thread)
    if found is None or not parts or len(parts) < len(stated.each("clamped")):
        return
    grip = sum(part.thickness for part in parts)
    try:
        fastener_segments(found, shanks(stated), grip, found.core_area)
    except ValueError as error:
        stated.problems.add("fastener.segment", None, str(error))


def geometry_of(stated: Stated, parts: tuple[ClampedPart, ...]) -> Geometry:
    """Return the shape that [fastener] and [[clamped]] describe, with the cone of [joint]."""
    half_angle, source = _cone_half_angle(stated, parts)
    head_face = stated.get("fastener.bearing_outer_diameter", float)
    nut_face = stated.get("fastener.nut_bearing_outer_diameter", float) or head_face
    mate = stated.known("fastener.mate", str)
    return Geometry(
        head=stated.known("fastener.head", str),
        mate=mate,
        mate_material=stated.get("fastener.mate_material", Material),
        shanks=shanks(stated),
        turned=stated.known(TURNED, str),
        turned_hole=turned_hole(stated),
        head_face=head_face,
        nut_face=nut_face if mate == "nut" else None,
        cone_half_angle=half_angle,
        cone_source=source,
        engagement=stated.get("fastener.engagement", float),
        mate_tensile_strength=stated.get("fastener.mate_tensile_strength", float),
        width_across_flats=stated.get("fastener.nut_width_across_flats", float),
    )


def _cone_half_angle(stated: Stated, parts: tuple[ClampedPart, ...]) -> tuple[float, str]:
    """Return the half-angle of the pressure cones and its source."""
    path = "joint.cone_half_angle"
    if stated.given(path) != _VDI:
        source = "half-angle as given; Shigley, 9th ed., eq. 8-19"
        return stated.known(path, float), source if path in stated else _SHIGLEY_SOURCE
    face = stated.get("fastener.bearing_outer_diameter", float)
    thread = stated.get("fastener.thread", Thread)
    if thread is None:
        return _SHIGLEY, ""
    through = stated.known("fastener.mate", str) == "nut"
    outer = mean_outer_diameter(parts, thread.diameter, through)
    if face is None or outer is None:
        stated.problem(
            path,
            "outer_diameter of the [[clamped]] layers, washers apart, and bearing_outer_diameter "
            "of [fastener], on which the VDI angle depends",
        )
        return _SHIGLEY, ""
    grip = sum(part.thickness for part in parts)
    formula = compliance.cone_angle_through if through else compliance.cone_angle_tapped
    equation = "5.1/27" if through else "5.1/26"
    return formula(face, grip, outer), (
        f"VDI 2230-1:2003, eq. {equation} (formula from memory), with the mean outer diameter of "
        "the parts, washers apart"
    )


def take_compliances(
    draft: Draft, geometry: Geometry, parts: tuple[ClampedPart, ...], material: Material | None
) -> tuple[float, ...]:
    """Take the compliances that the file does not state; return each part's share of theirs."""
    stated = draft.stated
    apart = ("joint.fastener_compliance", "joint.clamped_compliance")
    if "joint.compliance" in stated:
        for name in apart:
            if name in stated:
                stated.problem(name, "either the total compliance or its two parts")
        return ()
    if not parts:
        measured = all(name in stated for name in apart)
        if not (measured or stated.each("clamped") or stated.problems.at("clamped", "joint")):
            stated.missing("clamped", "[[clamped]] layers, or [joint] compliance as measured")
        return ()
    shares = _clamped_compliance(draft, geometry, parts)
    if apart[0] not in stated:
        _fastener_compliance(draft, geometry, parts, material)
    return shares


def _clamped_compliance(
    draft: Draft, geometry: Geometry, parts: tuple[ClampedPart, ...]
) -> tuple[float, ...]:
    name = "joint.clamped_compliance"
    if geometry.head_face is None:
        if name in draft.stated:
            whole = sum(part.thickness / part.material.modulus for part in parts)
            return tuple(part.thickness / part.material.modulus / whole for part in parts)
        if "fastener.bearing_outer_diameter" not in draft.stated:
            draft.stated.missing(
                "fastener.bearing_outer_diameter", "the face that presses the parts"
            )
        return ()
    try:
        each = part_compliances(geometry, parts)
    except ValueError as error:
        draft.stated.problems.add("clamped", None, str(error))
        return ()
    if name not in draft.stated:
        draft.laws[name] = Constant(sum(each))
        angle = math.degrees(geometry.cone_half_angle)
        draft.assume(
            name,
            (
                Magnitude(sum(each), COMPLIANCE),
                f" from the layers, cones of {angle:.3g} deg",
            ),
            geometry.cone_source,
        )
    return tuple(layer / sum(each) for layer in each)


def _fastener_compliance(
    draft: Draft, geometry: Geometry, parts: tuple[ClampedPart, ...], material: Material | None
) -> None:
    thread = draft.stated.get("fastener.thread", Thread)
    if thread is None or material is None or len(parts) < len(draft.stated.each("clamped")):
        return
    try:
        terms = terms_of_fastener(geometry, thread, material, parts)
    except ValueError as error:
        draft.stated.problems.add("fastener.segment", None, str(error))
        return
    value = sum(float(term.compliance) for term in terms)
    plain = sum(shank.length for shank in geometry.shanks)
    mate = geometry.mate_material
    if mate is None:
        draft.assume("fastener.mate_material", f"that of the fastener ({material.name})")
    else:
        told = ("modulus ", Magnitude(mate.modulus, STRESS), f" ({mate.name})")
        draft.assume("fastener.mate_material", told, mate.source)
    draft.laws["joint.fastener_compliance"] = Constant(value)
    draft.assume(
        "joint.fastener_compliance",
        (
            Magnitude(value, COMPLIANCE),
            f": {_head_words(geometry)}, ",
            Magnitude(plain, LENGTH),
            f" of plain shank, thread over the rest of the grip, {geometry.mate}",
        ),
        LENGTHS_SOURCE,
    )


def _head_words(geometry: Geometry) -> str:
    return "stud with a nut" if geometry.is_stud else f"{geometry.head} head"


def measured_share(
    draft: Draft,
    geometry: Geometry,
    parts: tuple[ClampedPart, ...],
    material: Material | None,
    method: Method | None,
) -> float:
    """Return the compliance over which an elongation is measured, over that of the fastener."""
    stated = draft.stated
    thread = stated.get("fastener.thread", Thread)
    name = "joint.fastener_compliance"
    whole = draft.laws.get(name)
    if method is None or not method.stretches_fastener or whole is None:
        return 1.0
    gauge_length = stated.get(GAUGE_LENGTH, float)
    if name in stated and gauge_length is None:
        draft.assume(
            GAUGE_LENGTH,
            "none: the stated fastener_compliance is taken as that of what is measured",
            "the case file",
        )
        return 1.0
    if thread is None or material is None or not parts:
        if gauge_length is not None and not stated.problems.at("clamped", "fastener"):
            stated.missing("clamped", "the layers, which say what lies within the gauge_length")
        return 1.0
    try:
        terms = measured_terms(geometry, thread, material, parts, gauge_length)
    except ValueError as error:
        if gauge_length is not None and not stated.problems.at("fastener.segment"):
            stated.problem(GAUGE_LENGTH, f"no longer than the grip: {error}")
        return 1.0
    share = sum(float(term.compliance) for term in terms) / whole.mean
    if gauge_length is None:
        draft.assume(
            GAUGE_LENGTH,
            "measured between the ends of the fastener: half the head, all within the grip and the "
            f"core of the engaged thread, {100 * share:.3g} % of its compliance",
            LENGTHS_SOURCE,
        )
    return share


def torsional_compliance(
    draft: Draft,
    geometry: Geometry,
    parts: tuple[ClampedPart, ...],
    material: Material | None,
    method: Method | None,
) -> float | None:
    """Return the twist of the fastener per torque [rad/(N·mm)]; None where no layers are known."""
    thread = draft.stated.get("fastener.thread", Thread)
    if thread is None or material is None or not parts:
        return None
    if len(parts) < len(draft.stated.each("clamped")):
        return None
    try:
        return twist_of_fastener(geometry, thread, material, parts)
    except ValueError as error:
        if method is not None and method.reads_angle:
            draft.stated.problems.add("fastener.segment", None, str(error))
        return None


def weak_length(section: Section, geometry: Geometry, parts: tuple[ClampedPart, ...]) -> float:
    """Return the length of the weakest section within the grip [mm]."""
    shanks = geometry.shanks
    waists = sum(shank.length for shank in shanks if shank.diameter == section.diameter)
    if waists:
        return waists
    return sum(part.thickness for part in parts) - sum(shank.length for shank in shanks)


def bearing_faces(
    draft: Draft, geometry: Geometry, parts: tuple[ClampedPart, ...]
) -> tuple[BearingFace, ...]:
    """Return the faces whose limiting pressure is known; note those limits not given."""
    faces = pressed_faces(geometry, parts)
    # Head and nut press on the ends, be their limits known or not.
    pressed = {1, *(face.layer for face in faces)}
    if geometry.has_nut:
        pressed.add(len(parts))
    ends = " and ".join(geometry.ends)
    presses = f"{ends}, or a washer there, press"
    for place in range(1, len(parts) + 1):
        path = f"clamped[{place}].limiting_pressure"
        if path in draft.stated and place not in pressed:
            draft.warnings.append(
                f"{path} is not judged: the program judges only what {presses} on, not the "
                "pressure between layers."
            )
    for face in faces:
        material, limit = face.material, face.limiting_pressure
        if limit is not None and limit == material.limiting_pressure:
            draft.assume(
                f"pressure under {face.where}",
                ("limit ", Magnitude(limit, STRESS), f" ({material.name})"),
                material.source,
            )
    return faces


def check_stripping(draft: Draft, geometry: Geometry) -> None:
    """Ask for what the stripping of the engaged thread needs, and say what it is judged by."""
    stated = draft.stated
    thread = stated.get("fastener.thread", Thread)
    tensile = draft.mean("fastener.tensile_strength")
    if geometry.engagement is None or thread is None:
        return
    if geometry.mate_tensile_strength is None or tensile is None:
        if not stated.problems.at("fastener.mate_tensile_strength", *_TENSILE_FROM):
            stated.missing(
                "fastener.mate_tensile_strength",
                "with engagement, thread stripping needs the tensile strength of its "
                "mate, and that of the fastener",
            )
        return
    if stated.problems.at("fastener.mate"):
        return
    if geometry.has_nut and geometry.width_across_flats is None:
        stated.missing(
            "fastener.nut_width_across_flats",
            "with engagement, thread stripping needs it: a nut spreads under load",
        )
        return
    if not stripping.effective_engagement(geometry.engagement, thread.pitch) > 0.0:
        stated.problems.add("fastener.engagement", None, "longer than 0.8 of the pitch")
        return
    engaged = engaged_thread(geometry, thread, tensile)
    draft.assume(
        "thread stripping",
        (
            Magnitude(float(engaged.stripping_force), FORCE),
            f": least-material threads, shear strength {stripping.STEEL_SHEAR_RATIO:g} of tensile "
            "strength, "
            + ("dilation by the width across flats" if geometry.has_nut else "no dilation")
            + "; engaged over ",
            Magnitude(float(engaged.full_engagement), LENGTH),
            " or more, a fastener of ",
            Magnitude(tensile, STRESS),
            " breaks first",
        ),
        f"E. M. Alexander, SAE paper 770420 (1977), from memory; {TOLERANCE_SOURCE}; "
        f"{stripping.STEEL_SHEAR_RATIO_SOURCE}",
    )
