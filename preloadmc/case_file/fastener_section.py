"""The section [fastener]: thread, shape, strength, material."""

from __future__ import annotations

import math
from dataclasses import dataclass

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table
from preloadmc.chance.laws import Constant, Law, Normal
from preloadmc.mechanics import grades, materials, tightening
from preloadmc.mechanics.fastener import HEAD_LENGTHS, MATE_LENGTHS, Section, Shank, weakest_section
from preloadmc.mechanics.grades import Grade
from preloadmc.mechanics.materials import Material
from preloadmc.mechanics.thread import Thread, thread
from preloadmc.units import (
    ANGLE,
    EXPANSION,
    LENGTH,
    STRESS,
    format_quantity,
)

# A diameter in which every property class and grade is defined [mm].
MIDDLE_SIZE = 10.0


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
    shanks: tuple[Shank, ...]
    seat_factor: float
    grade: Grade | None
    engagement: float | None
    mate_strength: float | None
    width_across_flats: float | None

    @property
    def section(self) -> Section | None:
        """Return the weakest section."""
        return None if self.thread is None else weakest_section(self.thread, self.shanks)


def read_fastener(table: Table, draft: Draft) -> FastenerFacts:
    """Read [fastener]; its strengths and bearing diameter become inputs."""
    found = _thread(table)
    facts = FastenerFacts(
        thread=found,
        material=read_material(table, draft, default="steel"),
        hole_diameter=table.quantity("hole_diameter", LENGTH, above=0.0),
        head_face=table.quantity("bearing_outer_diameter", LENGTH, above=0.0),
        nut_face=table.quantity("nut_bearing_outer_diameter", LENGTH, above=0.0),
        head=table.choice("head", tuple(HEAD_LENGTHS), "hexagon") or "hexagon",
        mate=table.choice("mate", tuple(MATE_LENGTHS), "nut") or "nut",
        shanks=_shanks(table),
        seat_factor=1.0,
        grade=_grade(table, found),
        engagement=table.quantity("engagement", LENGTH, above=0.0),
        mate_strength=table.quantity("mate_tensile_strength", STRESS, above=0.0),
        width_across_flats=table.quantity("nut_width_across_flats", LENGTH, above=0.0),
    )
    _check_passes(table, facts)
    angle = table.quantity("seat_half_angle", ANGLE, above=0.0, high=math.pi / 2)
    if angle is not None:
        facts.seat_factor = float(tightening.countersunk_seat_friction(1.0, angle))
    _read_strength(table, draft, facts.grade)
    draft.read(table, "plastic_strain", "fastener.plastic_strain")
    _read_bearing_diameter(table, draft, facts)
    table.close()
    return facts


def _check_passes(table: Table, facts: FastenerFacts) -> None:
    """The fastener passes the hole, and its head is wider than its thread."""
    if facts.thread is None:
        return
    least = f"above {format_quantity(facts.thread.diameter, LENGTH)}, that of {{}}"
    name = facts.thread.designation
    if facts.hole_diameter is not None and facts.hole_diameter < facts.thread.diameter:
        table.problem("hole_diameter", f"a diameter {least.format(name)}: it must pass")
    if facts.head_face is not None and facts.head_face <= facts.thread.diameter:
        table.problem("bearing_outer_diameter", f"a diameter {least.format(name)}")


def _shanks(table: Table) -> tuple[Shank, ...]:
    """Read the plain lengths, [[fastener.segment]], from the head on."""
    shanks = []
    for segment in table.tables("segment"):
        sizes = []
        for key in ("diameter", "length"):
            sizes.append(segment.quantity(key, LENGTH, above=0.0))
            if key not in segment:
                segment.missing(key, "a length")
        segment.close()
        if sizes[0] is not None and sizes[1] is not None:
            shanks.append(Shank(sizes[0], sizes[1]))
    return tuple(shanks)


def _grade(table: Table, found: Thread | None) -> Grade | None:
    given = table.raw("property_class")
    if given is None:
        return None
    try:
        # Without a thread the name alone can be checked, at a size that every class has.
        grade = grades.grade(str(given), MIDDLE_SIZE if found is None else found.diameter)
    except ValueError as error:
        table.problem("property_class", str(error))
        return None
    return None if found is None else grade


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


def read_material(table: Table, draft: Draft, default: str | None) -> Material | None:
    """Read a material by name, with its modulus and expansion as given or from the table."""
    modulus = table.quantity("modulus", STRESS, above=0.0)
    expansion = table.quantity("expansion", EXPANSION)
    name = table.text("material", "the name of a material")
    if not name and modulus is not None and expansion is not None:
        return Material("as given", modulus, expansion, "case file")
    if not name:
        if "material" in table.data:
            return None
        if default is None:
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


def _read_strength(table: Table, draft: Draft, grade: Grade | None) -> None:
    """Read yield and tensile strength, or take those of the property class."""
    level = table.choice("strength", ("minimum", "usual"), "minimum")
    strengths = (
        ("yield_strength", "fastener.yield_strength"),
        ("tensile_strength", "fastener.tensile_strength"),
    )
    for key, name in strengths:
        draft.read(table, key, name)
    if grade is None:
        if "strength" in table.data and "property_class" not in table.data:
            table.problem("strength", "nothing without a property_class")
        return
    values = (grade.yield_strength, grade.tensile_strength)
    if level == "usual" and not {key for key, _ in strengths} & table.data.keys():
        draft.correlations["fastener.yield_strength", "fastener.tensile_strength"] = 0.95
        draft.assume(
            f"{table.at('yield_strength')} with tensile_strength",
            "correlation 0.95 of the standard normals: a strong heat is strong in both",
            "engineering judgement",
        )
    for (key, name), value in zip(strengths, values, strict=True):
        if key in table.data:
            continue
        law: Law = Constant(value)
        words, source = f"{format_quantity(value, STRESS)}, the minimum of {grade.name}", ""
        if level == "usual":
            excess = grades.USUAL_STRENGTH_EXCESS
            mean = excess.mean_ratio * value
            law = Normal(mean, excess.cov * mean)
            words = (
                f"normal, mean {format_quantity(mean, STRESS)}, cov {100 * excess.cov:g} %: "
                f"{excess.mean_ratio:g} times the minimum of {grade.name}"
            )
            source = f"; {excess.source}"
        draft.laws[name] = law
        draft.assume(table.at(key), words, grade.source + source)


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
