"""What the seats and the engaged thread carry: a chapter of a derivation."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint import BearingFace, Inputs, Joint
from preloadmc.joint.shape import WASHER_SPREAD, engaged_thread
from preloadmc.mechanics import stripping, tolerance
from preloadmc.steps import Step, Value, area, force, length, ratio, stress
from preloadmc.units import AREA, FORCE, LENGTH

_WASHER_NOTE = (
    "D is the base of the pressure cone below the washer, spread by no more than "
    f"{WASHER_SPREAD:g} of its thickness (VDI 2230-1:2003, from memory) and no wider than the "
    "washer or the layer below."
)


def face_steps(joint: Joint) -> Iterator[Step]:
    """Forces at the limiting pressure of each face."""
    for face in joint.bearing_faces:
        yield Step(
            f"Force at the limiting pressure under {face.where} ({face.material.name})",
            "F_G",
            "{p_G}·π/4·({D}² - {d_h}²)",
            (
                stress("p_G", face.limiting_pressure),
                length("D", face.outer_diameter),
                length("d_h", face.hole_diameter),
            ),
            face.limiting_force,
            FORCE,
            f"VDI 2230-1:2003, step R10; {_limit_source(face)}",
            _WASHER_NOTE if face.under_washer else "",
        )


def _limit_source(face: BearingFace) -> str:
    """Return where a limiting pressure stands: one part of the material's sources."""
    if face.limiting_pressure != face.material.limiting_pressure:
        return "limiting pressure as stated in the case file"
    return "; ".join(part for part in face.material.source.split("; ") if "pressure" in part)


def stripping_steps(joint: Joint, x: Inputs) -> Iterator[Step]:
    """Force at which the engaged thread strips."""
    if not joint.geometry.tells_stripping:
        return
    thread = joint.thread
    engaged = engaged_thread(joint.geometry, thread, float(x["fastener.tensile_strength"]))
    source = "E. M. Alexander, SAE paper 770420 (1977), from memory"
    least = f"{source}; least material by {tolerance.SOURCE}"
    pitch, carried = length("P", thread.pitch), length("L_e", engaged.length)
    yield Step(
        "Engagement that carries",
        "L_e",
        f"{{m}} - {stripping.CHAMFERS:g}·{{P}}",
        (length("m", joint.geometry.engagement), pitch),
        engaged.length,
        LENGTH,
        "VDI 2230-1:2003 (from memory)",
    )
    yield Step(
        "Shear area of the fastener's thread",
        "A_b",
        "π·{D_1}·{L_e}/{P}·({P}/2 + ({d_2} - {D_1})·tan 30°)",
        (
            length("D_1", engaged.least.internal_minor_diameter),
            carried,
            pitch,
            length("d_2", engaged.least.pitch_diameter),
        ),
        engaged.fastener_area,
        AREA,
        least,
        "D_1 the largest, d_2 the smallest allowed.",
    )
    yield Step(
        "Shear area of the mate's thread",
        "A_n",
        "π·{d}·{L_e}/{P}·({P}/2 + ({d} - {D_2})·tan 30°)",
        (
            length("d", engaged.least.diameter),
            carried,
            pitch,
            length("D_2", engaged.least.internal_pitch_diameter),
        ),
        engaged.mate_area,
        AREA,
        least,
        "d the smallest, D_2 the largest allowed.",
    )
    shear = ratio("c", stripping.STEEL_SHEAR_RATIO)
    rows = (
        (
            "fastener",
            "F_b",
            "A_b",
            engaged.fastener_area,
            x["fastener.tensile_strength"],
            "C_2",
            engaged.fastener_bending,
            engaged.fastener_shear_strength,
        ),
        (
            "mate",
            "F_n",
            "A_n",
            engaged.mate_area,
            joint.geometry.mate_tensile_strength,
            "C_3",
            engaged.mate_bending,
            engaged.mate_shear_strength,
        ),
    )
    spreading = (
        "C_1 for the spreading of the nut;"
        if joint.geometry.has_nut
        else "C_1 is 1, since a tapped part does not spread;"
    )
    forces = []
    for who, symbol, place, sheared, strength, bending, factor, shear_strength in rows:
        value = float(engaged.dilation * factor * shear_strength * sheared)
        forces.append(Value(symbol, value, FORCE))
        yield Step(
            f"Force that strips the {who}'s thread",
            symbol,
            f"{{C_1}}·{{{bending}}}·{{c}}·{{R_m}}·{{{place}}}",
            (
                ratio("C_1", engaged.dilation),
                ratio(bending, factor),
                shear,
                stress("R_m", strength),
                area(place, sheared),
            ),
            value,
            FORCE,
            f"{source}; {stripping.STEEL_SHEAR_RATIO_SOURCE}",
            f"{spreading} {bending} for the bending of the threads.",
        )
    yield Step(
        "Stripping of the thread",
        "F_strip",
        "min({F_b}, {F_n})",
        tuple(forces),
        float(engaged.stripping_force),
        FORCE,
        source,
        "At the mean strength of the fastener; in a hot state both are weaker.",
    )
    yield Step(
        "Engagement from which on the fastener breaks first",
        "m_b",
        f"{stripping.CHAMFERS:g}·{{P}} + {{L_e}}·{{R_m}}·{{A_0}}/{{F_strip}}",
        (
            pitch,
            carried,
            stress("R_m", x["fastener.tensile_strength"]),
            area("A_0", engaged.section.area),
            force("F_strip", engaged.stripping_force),
        ),
        float(engaged.full_engagement),
        LENGTH,
        f"stripping force equal to R_m·A_0; {source}",
        "A fastener stronger than R_m asks for more.",
    )
