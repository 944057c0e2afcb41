"""What follows from the shape of a joint: compliances, twist, pressed faces, stripping."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from preloadmc.joint.facts import BearingFace, ClampedPart
from preloadmc.joint.geometry import Geometry
from preloadmc.mechanics import compliance, stripping, torsion
from preloadmc.mechanics.fastener import (
    Section,
    Segment,
    Term,
    fastener_segments,
    fastener_terms,
    terms_between_ends,
    terms_over_gauge_length,
    weakest_section,
)
from preloadmc.mechanics.materials import Material
from preloadmc.mechanics.thread import Thread
from preloadmc.mechanics.tolerance import LeastMaterial, least_material
from preloadmc.units import FloatLike

# Of the nominal diameter: plain washers are 0.15 to 0.3 thick (ISO 7089), thick ones up to half
# (DIN 7349, from memory); anything thicker is a part of its own.
THICKEST_WASHER = 0.5
# Diameter that a washer adds for each of its thickness, VDI 2230-1:2003, step R10 (from memory).
WASHER_SPREAD = 1.6


def segments_of_fastener(
    geometry: Geometry, thread: Thread, parts: Sequence[ClampedPart]
) -> tuple[Segment, ...]:
    """Return the fastener's lengths between head and mate: plain shanks, then free thread.

    Raises
    ------
    ValueError
        The plain lengths exceed the grip.
    """
    grip = sum(part.thickness for part in parts)
    return fastener_segments(thread, geometry.shanks, grip, thread.core_area)


def twist_of_fastener(
    geometry: Geometry, thread: Thread, material: Material, parts: Sequence[ClampedPart]
) -> float:
    """Return the twist between head and engaged thread per torque [rad/(N·mm)].

    Raises
    ------
    ValueError
        The plain lengths exceed the grip.
    """
    shear_modulus = torsion.shear_modulus(material.modulus, torsion.POISSON_RATIO)
    segments = segments_of_fastener(geometry, thread, parts)
    return float(torsion.torsional_compliance(segments, shear_modulus))


def terms_of_fastener(
    geometry: Geometry, thread: Thread, material: Material, parts: Sequence[ClampedPart]
) -> tuple[Term, ...]:
    """Return the terms of the fastener's compliance; "free thread" is the last within the grip.

    Raises
    ------
    ValueError
        The plain lengths exceed the grip.
    """
    mate = geometry.mate_material or material
    return fastener_terms(
        segments_of_fastener(geometry, thread, parts),
        thread.diameter,
        thread.core_area,
        material.modulus,
        geometry.head,
        geometry.mate,
        mate.modulus,
    )


def measured_terms(
    geometry: Geometry,
    thread: Thread,
    material: Material,
    parts: Sequence[ClampedPart],
    gauge_length: float | None,
) -> tuple[Term, ...]:
    """Return the terms of the compliance over which an elongation is measured.

    Between the ends of the fastener, or over a gauge length [mm].

    Raises
    ------
    ValueError
        Plain or gauge lengths exceed the grip.
    """
    terms = terms_of_fastener(geometry, thread, material, parts)
    if gauge_length is None:
        return terms_between_ends(terms)
    return terms_over_gauge_length(terms, gauge_length)


def pieces_of_parts(
    geometry: Geometry, parts: Sequence[ClampedPart]
) -> tuple[compliance.Piece, ...]:
    """Return the cones and sleeves that stand for the clamped parts.

    Raises
    ------
    ValueError
        A pressed face is no larger than the hole it lies on.
    """
    assert geometry.head_face is not None, "the case file asks for the face under the head"
    layers = [
        compliance.Layer(
            part.thickness, part.material.modulus, part.hole_diameter, part.outer_diameter
        )
        for part in parts
    ]
    return compliance.pressed_pieces(
        layers, geometry.head_face, geometry.nut_face, geometry.cone_half_angle
    )


def part_compliances(geometry: Geometry, parts: Sequence[ClampedPart]) -> tuple[float, ...]:
    """Return the compliance of each clamped part [mm/N]: the sum of its pieces."""
    each = [0.0] * len(parts)
    for piece in pieces_of_parts(geometry, parts):
        each[piece.layer] += piece.shape / parts[piece.layer].material.modulus
    return tuple(each)


def mean_outer_diameter(
    parts: Sequence[ClampedPart], diameter: float, has_nut: bool
) -> float | None:
    """Return the outer diameter D_A of the clamped parts that the angle of VDI 2230 depends on.

    Parameters
    ----------
    parts : sequence of ClampedPart
        From the head on.
    diameter : float
        Nominal diameter of the fastener [mm].
    has_nut : bool
        Whether a nut presses the last layer.

    Returns
    -------
    float or None
        Mean over the grip, each layer by its thickness, of all layers but washers [mm]; None where
        one of them has no stated outer diameter.

    Notes
    -----
    D_A says how far the material around the fastener supports the pressed zone, which a washer
    does not: its own diameter is close to that of the head and would take the place of the parts'.
    VDI 2230-1:2003 asks for an average where the outer diameter changes over the grip (from
    memory). A washer is an end layer under head or nut, narrower than the next and no thicker than
    `THICKEST_WASHER` diameters.
    """
    thickest = THICKEST_WASHER * diameter
    ends = [(0, 1), (len(parts) - 1, len(parts) - 2)] if has_nut else [(0, 1)]
    washers = set()
    for end, inner in ends:
        if len(parts) < 2 or parts[end].thickness > thickest:
            continue
        own, next_one = parts[end].outer_diameter, parts[inner].outer_diameter
        if own is not None and (next_one is None or own < next_one):
            washers.add(end)
    weighted = length = 0.0
    for place, part in enumerate(parts):
        if place in washers:
            continue
        if part.outer_diameter is None:
            return None
        weighted += part.thickness * part.outer_diameter
        length += part.thickness
    return weighted / length if length else None


def pressed_faces(geometry: Geometry, parts: Sequence[ClampedPart]) -> tuple[BearingFace, ...]:
    """Return the faces whose limiting pressure is known: under head and nut, and under washers.

    Notes
    -----
    A first or last layer of stated outer diameter, of any thickness, is a washer where the layer
    below it is as wide or wider, of no stated outer diameter, or bears less pressure; so is the
    next one below a washer. Each presses the layer below over the base of the pressure cone:
    d_W + 2 h tan phi, no wider than either layer. Any other contact down to mid-grip is
    judged by its own area and its weaker side where it may give way first.

    VDI 2230-1:2003, step R10, lets a washer spread the face to d_W + 1.6 h (from memory), a cone
    of 38.7°. The cone of the case is narrower as a rule: at 30° it spreads the face by 1.15 h, and
    the force at the limiting pressure is then 20 % below that of the guideline for an M12 on a
    washer of 3 mm. The smaller spread of the two holds, as the safer.
    """
    return tuple(face for face in _faces(geometry, parts) if face.limiting_pressure is not None)


def faces_without_limit(
    geometry: Geometry, parts: Sequence[ClampedPart]
) -> tuple[BearingFace, ...]:
    """Return the faces that press a layer of unknown limiting pressure."""
    return tuple(face for face in _faces(geometry, parts) if face.limiting_pressure is None)


def _faces(geometry: Geometry, parts: Sequence[ClampedPart]) -> Iterator[BearingFace]:
    """Yield each pressed face, of known limiting pressure or not."""
    if not parts or geometry.head_face is None:
        return
    spread = min(2 * math.tan(geometry.cone_half_angle), WASHER_SPREAD)
    numbered = tuple(enumerate(parts, 1))
    # From mid-grip on the other end presses the harder.
    deepest = sum(part.thickness for part in parts) / (2 if geometry.has_nut else 1)
    yield from _from_end(geometry.ends[0], False, geometry.head_face, spread, deepest, numbered)
    if geometry.nut_face is not None:
        yield from _from_end(
            geometry.ends[1], True, geometry.nut_face, spread, deepest, numbered[::-1]
        )


def _from_end(
    where: str,
    at_mate: bool,
    face: float,
    spread: float,
    deepest: float,
    parts: Sequence[tuple[int, ClampedPart]],
) -> Iterator[BearingFace]:
    def ring(
        name: str, hole: float, given_way: tuple[int, ClampedPart], washer: bool
    ) -> BearingFace:
        place, part = given_way
        limit = part.limiting_pressure
        return BearingFace(name, pressed, hole, limit, part.material, place, washer, at_mate)

    first = parts[0][1]
    pressed = face if first.outer_diameter is None else min(face, first.outer_diameter)
    least = math.inf
    if pressed > first.hole_diameter:
        end = ring(where, first.hole_diameter, parts[0], washer=False)
        least = end.limiting_force
        yield end
    spreading, depth, washers = True, 0.0, 0
    for above, below in itertools.pairwise(parts):
        upper, lower = above[1], below[1]
        outer = [part.outer_diameter for part in (upper, lower) if part.outer_diameter is not None]
        depth += upper.thickness
        if depth > deepest:
            return
        pressed = min([pressed + spread * upper.thickness, *outer])
        hole = max(upper.hole_diameter, lower.hole_diameter)
        spreading = spreading and _spreads(upper, lower)
        if pressed <= hole:
            continue
        softer = _is_softer(lower, upper)
        is_washer = spreading and (softer or _is_wider(lower, upper))
        name = f"layer {above[0]}"
        if is_washer:
            name = f"the {where}'s washer" + (f" {washers + 1}" if washers else "")
        lower_gives_way = is_washer or softer or lower.limiting_pressure is None
        contact = ring(name, hole, below if lower_gives_way else above, is_washer)
        if is_washer or _may_give_way(contact, first, least):
            washers += is_washer
            least = min(least, contact.limiting_force)
            yield contact


# What every metal that is clamped bears [MPa], and how far a hot layer of another material may
# soften against the one at the end: engineering judgement.
_ALL_BEAR = 100.0
_SOFTENED = 0.5


def _may_give_way(contact: BearingFace, first: ClampedPart, least: float) -> bool:
    """Return whether a contact may give way before all that lie between it and the end.

    ``least`` is the smallest force that those bear [N]; a part of unknown limit may unless the
    pressure is small.
    """
    if contact.limiting_pressure is None:
        return first.limiting_pressure is not None and least / contact.area > _ALL_BEAR
    left = 1.0 if contact.material.name == first.material.name else _SOFTENED
    return left * contact.limiting_force < least


def _spreads(layer: ClampedPart, below: ClampedPart) -> bool:
    """Return whether a layer within those at an end acts as a washer on the one below it."""
    if layer.outer_diameter is None:
        return False
    narrower = below.outer_diameter is not None and below.outer_diameter < layer.outer_diameter
    return not narrower or _is_softer(below, layer)


def _is_wider(layer: ClampedPart, other: ClampedPart) -> bool:
    assert other.outer_diameter is not None, "a washer has a stated outer diameter"
    return layer.outer_diameter is None or layer.outer_diameter > other.outer_diameter


def _is_softer(layer: ClampedPart, other: ClampedPart) -> bool:
    """Return whether a layer is known to bear less pressure than another."""
    limits = layer.limiting_pressure, other.limiting_pressure
    return limits[0] is not None and (limits[1] is None or limits[0] < limits[1])


@dataclass(frozen=True, slots=True)
class EngagedThread:
    """The engaged thread and the fastener force at which it strips; mm, mm², MPa, N.

    ``length`` is the engagement that carries; areas and shear strengths of fastener and mate;
    ``dilation`` C1, ``fastener_bending`` C2 and ``mate_bending`` C3 reduce them.
    ``full_engagement`` is the length from which on the fastener breaks first, at the
    ``breaking_force`` of its ``section``.
    """

    least: LeastMaterial
    length: float
    fastener_area: float
    mate_area: float
    fastener_shear_strength: FloatLike
    mate_shear_strength: FloatLike
    dilation: float
    fastener_bending: FloatLike
    mate_bending: FloatLike
    stripping_force: FloatLike
    section: Section
    breaking_force: FloatLike
    full_engagement: FloatLike


def engaged_thread(
    geometry: Geometry,
    thread: Thread,
    tensile_strength: FloatLike,
    mate_left: FloatLike = 1.0,
) -> EngagedThread:
    """Return the engaged thread that the case describes.

    Parameters
    ----------
    geometry : Geometry
        With engagement and tensile strength of the mate.
    thread : Thread
        Nominal thread; its least-material limits carry.
    tensile_strength : float or ndarray (n,)
        R_m of the fastener [MPa].
    mate_left : float or ndarray (n,)
        Strength of the mate over that at room temperature.
    """
    assert geometry.engagement is not None, "asked only where the case gives it"
    assert geometry.mate_tensile_strength is not None, "the case file asks for it"
    least = least_material(thread)
    length = float(stripping.effective_engagement(geometry.engagement, thread.pitch))
    fastener_area = float(
        stripping.external_shear_area(
            length, thread.pitch, least.internal_minor_diameter, least.pitch_diameter
        )
    )
    mate_area = float(
        stripping.internal_shear_area(
            length, thread.pitch, least.diameter, least.internal_pitch_diameter
        )
    )
    fastener_shear = stripping.STEEL_SHEAR_RATIO * tensile_strength
    mate_shear = stripping.STEEL_SHEAR_RATIO * geometry.mate_tensile_strength * mate_left
    section = weakest_section(thread, geometry.shanks)
    across = geometry.width_across_flats
    dilation = 1.0 if across is None else float(stripping.dilation_factor(across, thread.diameter))
    bending = stripping.bending_factors(mate_area * mate_shear / (fastener_area * fastener_shear))
    stripping_force = stripping.stripping_force(
        fastener_area, mate_area, fastener_shear, mate_shear, dilation
    )
    breaking_force = tensile_strength * section.area
    return EngagedThread(
        least,
        length,
        fastener_area,
        mate_area,
        fastener_shear,
        mate_shear,
        dilation,
        *bending,
        stripping_force,
        section,
        breaking_force,
        stripping.full_engagement(breaking_force, stripping_force, length, thread.pitch),
    )
