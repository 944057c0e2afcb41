"""The section [fastener]: thread, shape, property class, material."""

from __future__ import annotations

import math

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.word_kinds import Named, Text, Word
from preloadmc.chance.laws import Constant
from preloadmc.inputs import Default
from preloadmc.mechanics import grades, materials, tightening
from preloadmc.mechanics.fastener import HEAD_LENGTHS, MATE_LENGTHS, NO_HEAD, Shank
from preloadmc.mechanics.grades import Grade
from preloadmc.mechanics.materials import Material
from preloadmc.mechanics.softening import Softening
from preloadmc.mechanics.thread import Thread, known_threads, thread
from preloadmc.told import Magnitude
from preloadmc.units import ANGLE, EXPANSION, LENGTH, STRESS, format_quantity

_LENGTH = Quantity(LENGTH, above=0.0)
MATERIAL = Named(
    "the name of a material",
    materials.material,
    materials.known_materials,
    in_other_words=True,
    table="materials",
    own="one of your own is stated by its modulus and expansion in place of material, such as "
    'modulus = "205 GPa" and expansion = "11.5 ppm/K"',
)
MODULUS = Quantity(STRESS, above=0.0)
FIELDS = (
    Field("fastener", Table(), "bolt, screw or stud with its nut or tapped hole"),
    Field(
        "fastener.thread",
        Named(
            "a thread such as M12, M12x1.25 or 1/2-13 UNC",
            thread,
            known_threads,
            in_other_words=True,
            table="threads",
        ),
        "thread by its designation",
        '"M12"',
        needed=True,
    ),
    Field(
        "fastener.property_class",
        Text(
            "a property class or grade such as 10.9, A2-70 or SAE 5",
            or_number=True,
            known=grades.known_grades,
        ),
        "property class or grade, from which the strengths follow",
        '"10.9"',
        replaces=("yield_strength", "tensile_strength"),
    ),
    Field(
        "fastener.strength",
        Word(("minimum", "usual")),
        "whether the strengths are the least of the class or as usually delivered; unstated, "
        "'usual' for a method that tightens each fastener to its own yield",
        '"minimum"',
        Default("minimum", "minimum"),
    ),
    Field(
        "fastener.material",
        MATERIAL,
        "material of the fastener, from which modulus and expansion follow",
        '"steel"',
        Default(materials.material("steel"), "steel"),
        replaces=("modulus", "expansion"),
    ),
    Field("fastener.modulus", MODULUS, "Young's modulus of the fastener", '"205 GPa"'),
    Field(
        "fastener.expansion",
        Quantity(EXPANSION),
        "thermal expansion of the fastener",
        '"11.5 ppm/K"',
    ),
    Field(
        "fastener.head",
        Word((*HEAD_LENGTHS, NO_HEAD)),
        "shape of the head; none for a stud or threaded rod, with a nut in its place",
        '"hexagon"',
        Default("hexagon", "hexagon"),
    ),
    Field(
        "fastener.mate",
        Word(MATE_LENGTHS),
        "what it is screwed into",
        '"nut"',
        Default("nut", "nut"),
        replaces=("nut_bearing_outer_diameter", "nut_width_across_flats"),
    ),
    Field(
        "fastener.mate_material",
        MATERIAL._replace(
            own="of your own, name the row nearest in modulus and in strength when hot"
        ),
        "material of the nut or tapped part, where it is not that of the fastener",
        '"grey cast iron"',
    ),
    Field("fastener.segment[]", Table(), "plain length of the shank, one each, from the head on"),
    Field(
        "fastener.segment[].diameter",
        _LENGTH,
        "its diameter",
        '"12 mm"',
        needed=True,
    ),
    Field(
        "fastener.segment[].length", _LENGTH, "its length along the shank", '"20 mm"', needed=True
    ),
    Field(
        "fastener.bearing_outer_diameter",
        _LENGTH,
        "outer diameter of the face under the head, or under the nut in its place",
        '"16.6 mm"',
        replaces=("bearing_diameter",),
    ),
    Field(
        "fastener.nut_bearing_outer_diameter",
        _LENGTH,
        "outer diameter of the face of the nut, where it is not that of the head",
        '"16.6 mm"',
    ),
    Field("fastener.hole_diameter", _LENGTH, "diameter of the hole", '"13.5 mm"'),
    Field(
        "fastener.seat_half_angle",
        Quantity(ANGLE, above=0.0, high=math.pi / 2),
        "half angle of a countersunk seat of the head, which wedges",
        '"45 deg"',
    ),
    Field("fastener.engagement", _LENGTH, "length of the engaged thread", '"10 mm"'),
    Field(
        "fastener.mate_tensile_strength",
        Quantity(STRESS, above=0.0),
        "tensile strength of the nut or tapped part, for thread stripping",
        '"900 MPa"',
    ),
    Field(
        "fastener.nut_width_across_flats",
        _LENGTH,
        "width across flats of the nut, which spreads under load",
        '"18 mm"',
    ),
)
# Of the section [tightening]: which side is turned, whose face and friction take the torque.
TURNED = "tightening.turned"
# Classes that are a material of their own.
_STAINLESS = {"A2": "stainless steel A2", "A4": "stainless steel A4"}
# A flange or a large washer head is about 2.5 times as wide as the thread: engineering judgement.
_WIDEST_FACE = 3.5
# A diameter in which every property class and grade is defined [mm].
_MIDDLE_SIZE = 10.0


def check_passes(stated: Stated) -> None:
    """The fastener passes the hole, and its head is wider than its thread."""
    found = stated.get("fastener.thread", Thread)
    if found is None:
        return
    hole = stated.get("fastener.hole_diameter", float)
    face = stated.get("fastener.bearing_outer_diameter", float)
    if hole is not None and hole < found.diameter:
        stated.problem("fastener.hole_diameter", must_pass(found))
    if face is not None and face <= found.diameter:
        stated.problem("fastener.bearing_outer_diameter", _wider_than(found))


def doubt_wide_faces(draft: Draft) -> None:
    """Warn of a face under head or nut that is wider than any head, even one with a flange."""
    found = draft.stated.get("fastener.thread", Thread)
    if found is None:
        return
    most = _WIDEST_FACE * found.diameter
    for name in ("fastener.bearing_outer_diameter", "fastener.nut_bearing_outer_diameter"):
        face = draft.stated.get(name, float)
        if face is None or face <= most or name in draft.stated.unusual:
            continue
        system = found.unit_system
        wide, likely = (format_quantity(each, LENGTH, system) for each in (face, face / 10.0))
        meant = f"; is {likely} meant?" if found.diameter < face / 10.0 <= most else "."
        draft.warnings.append(
            f"{name}: {wide}, more than {_WIDEST_FACE:g} times the thread of {found.designation}"
            f"{meant}"
        )


def must_pass(found: Thread) -> str:
    """Return what is said of a hole that the fastener does not pass."""
    return f"{_wider_than(found)}: it must pass"


def _wider_than(found: Thread) -> str:
    size = format_quantity(found.diameter, LENGTH, found.unit_system)
    return f"a diameter above {size}, that of {found.designation}"


def check_mate(stated: Stated) -> None:
    """A tapped hole has no nut to describe."""
    if stated.known("fastener.mate", str) == "tapped hole":
        for name in ("fastener.nut_bearing_outer_diameter", "fastener.nut_width_across_flats"):
            if name in stated:
                stated.problem(name, "remove it: the fastener is screwed into a tapped hole")


def shanks(stated: Stated) -> tuple[Shank, ...]:
    """Return the plain lengths from the head on."""
    found = []
    for segment in stated.each("fastener.segment"):
        diameter = stated.get(f"{segment}.diameter", float)
        length = stated.get(f"{segment}.length", float)
        if diameter is not None and length is not None:
            found.append(Shank(diameter, length))
    return tuple(found)


def seat_factor(stated: Stated) -> float:
    """Return what a countersunk seat makes of the friction under the turned side."""
    angle = stated.get("fastener.seat_half_angle", float)
    if angle is None or stated.known(TURNED, str) == "nut":
        return 1.0
    return float(tightening.countersunk_seat_friction(1.0, angle))


def material_of(table: str, draft: Draft) -> Material | None:
    """Return the material of the fastener or of a layer, as given or from the table by name."""
    stated = draft.stated
    modulus = stated.get(f"{table}.modulus", float)
    expansion = stated.get(f"{table}.expansion", float)
    name = f"{table}.material"
    found = stated.get(name, Material)
    if modulus is not None and expansion is not None and name not in stated:
        if stated.each("temperature.state"):
            draft.assume(f"{table}.modulus at temperature", "constant", "no material is named")
        return Material("as given", modulus, expansion, "case file")
    by_class = _STAINLESS.get(grade_name(stated)[:2]) if table == "fastener" else None
    if by_class is not None and name not in stated:
        found = materials.material(by_class)
        draft.assume(name, f"{found.name}, by its class", found.source)
    else:
        draft.assume_default(name)
    if found is None:
        if name not in stated:
            stated.missing(name, "a material by name, or both modulus and expansion")
        return None
    if modulus is not None and stated.each("temperature.state"):
        draft.assume(
            f"{table}.modulus at temperature",
            f"changes as that of {found.name}" if found.modulus_table is not None else "constant",
            found.source,
        )
    if modulus is None:
        told = (Magnitude(found.modulus, STRESS), f" ({found.name})")
        draft.assume(f"{table}.modulus", told, found.source)
    if expansion is None:
        told = (Magnitude(found.expansion, EXPANSION, 3), f" ({found.name})")
        draft.assume(f"{table}.expansion", told, found.source)
    return Material(
        found.name,
        found.modulus if modulus is None else modulus,
        found.expansion if expansion is None else expansion,
        found.source,
        found.limiting_pressure,
        found.modulus_table,
        found.softening,
    )


def grade_name(stated: Stated) -> str:
    """Return the name of the property class; empty where none is stated."""
    grade = grade_of(stated)
    return "" if grade is None else grade.name


def softening_of(draft: Draft) -> Softening | None:
    """Return how the strength of the fastener falls with temperature, by its class."""
    grade = grade_of(draft.stated)
    if grade is None:
        return None
    if draft.stated.each("temperature.state"):
        name = f"as class {grade.name}" if grade.name[0].isdigit() else grade.name
        draft.assume(
            "strength of the fastener at temperature",
            f"{name}: {grade.softening.words} of that at room temperature",
            grade.softening.source,
        )
    return grade.softening


def grade_of(stated: Stated) -> Grade | None:
    """Return the property class in the size of the thread; None where it is not known."""
    name = stated.get("fastener.property_class", str)
    found = stated.get("fastener.thread", Thread)
    if name is None:
        return None
    try:
        # Without a thread the name alone can be checked, at a size that every class has.
        grade = grades.grade(name, _MIDDLE_SIZE if found is None else found.diameter)
    except ValueError as error:
        stated.problem(
            "fastener.property_class",
            f"{error}; `preloadmc tables grades` lists all, and the strengths of another are "
            "stated by yield_strength and tensile_strength in its place",
        )
        return None
    return None if found is None else grade


def turned_hole(stated: Stated) -> float | None:
    """Return the diameter of the hole under the side that is turned."""
    layers = stated.each("clamped")
    if layers:
        layer = layers[-1 if stated.known(TURNED, str) == "nut" else 0]
        own = stated.get(f"{layer}.hole_diameter", float)
        if own is not None:
            return own
    return stated.get("fastener.hole_diameter", float)


def take_bearing_diameter(draft: Draft) -> None:
    """Take the bearing diameter that the file does not state from the face that is turned."""
    stated = draft.stated
    turned = stated.known(TURNED, str)
    if turned == "nut" and stated.known("fastener.mate", str) != "nut":
        stated.problem(TURNED, "'head': the fastener is screwed into a tapped hole, without a nut")
        return
    name, face = "fastener.bearing_diameter", "fastener.bearing_outer_diameter"
    of_nut = "fastener.nut_bearing_outer_diameter"
    differ = of_nut in stated and stated.get(of_nut, float) != stated.get(face, float)
    if turned == "nut" and of_nut in stated:
        face = of_nut
    outer, hole = stated.get(face, float), turned_hole(stated)
    if name in stated or outer is None or hole is None:
        return
    if outer <= hole:
        stated.problem(face, "an outer diameter above the hole diameter")
        return
    value = float(tightening.bearing_diameter_uniform_wear(outer, hole))
    draft.laws[name] = Constant(value)
    draft.assume(
        name,
        (
            Magnitude(value, LENGTH),
            ", mean of bearing outer diameter and hole diameter"
            + (" under the nut" if turned == "nut" else ""),
        ),
        "ISO 16047:2005, uniform wear",
    )
    if differ and stated.known("fastener.mate", str) == "nut":
        draft.assume_default(TURNED)
