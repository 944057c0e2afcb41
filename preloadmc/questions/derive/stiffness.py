"""The stiffness chapter of a derivation: fastener term by term, parts piece by piece."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.case import Case
from preloadmc.joint import Inputs, Joint
from preloadmc.joint.shape import pieces_of_parts, terms_of_fastener
from preloadmc.mechanics.fastener import LENGTHS_SOURCE, Term
from preloadmc.steps import Step, Value, angle, area, compliance, length, stress
from preloadmc.units import COMPLIANCE


def compliance_steps(case: Case, x: Inputs) -> Iterator[Step]:
    """Compliance of the fastener term by term, of the parts piece by piece, and their sum."""
    if "joint.compliance" in x:
        yield _stated("Compliance of fastener and parts", "δ", float(x["joint.compliance"]))
        return
    assumed = {item.path for item in case.assumptions}
    joint = case.joint
    fastener, parts = float(x["joint.fastener_compliance"]), float(x["joint.clamped_compliance"])
    if "joint.fastener_compliance" in assumed:
        terms = terms_of_fastener(
            joint.geometry, joint.thread, joint.fastener_material, joint.parts
        )
        names = _term_names(terms)
        yield from (_term(name, term) for name, term in zip(names, terms, strict=True))
        values = tuple(
            compliance(f"δ_{place}", term.compliance) for place, term in enumerate(terms, 1)
        )
        yield Step(
            "Compliance of the fastener",
            "δ_S",
            _sum(values),
            values,
            fastener,
            COMPLIANCE,
            LENGTHS_SOURCE,
        )
    else:
        yield _stated("Compliance of the fastener", "δ_S", fastener)
    if "joint.clamped_compliance" in assumed:
        yield from _piece_steps(joint, parts)
    else:
        yield _stated("Compliance of the parts", "δ_P", parts)
    yield Step(
        "Compliance of the joint",
        "δ",
        "{δ_S} + {δ_P}",
        (compliance("δ_S", fastener), compliance("δ_P", parts)),
        fastener + parts,
        COMPLIANCE,
        "springs in series",
    )


def _stated(title: str, symbol: str, value: float) -> Step:
    return Step(title, symbol, "", (), value, COMPLIANCE, "as stated in the case file")


def _sum(values: tuple[Value, ...]) -> str:
    return " + ".join(f"{{{value.symbol}}}" for value in values)


def _term_names(terms: tuple[Term, ...]) -> list[str]:
    """Return what each term is in words; the last segment is the free thread."""
    segments = [term.name for term in terms if term.name.startswith("segment")]
    words = {name: f"plain {name}" for name in segments[:-1]} | {segments[-1]: "free thread"}
    return [words.get(term.name, term.name) for term in terms]


def _term(name: str, term: Term) -> Step:
    return Step(
        f"Fastener: {name}",
        "δ_i",
        "{l}/({E}·{A})",
        (length("l", term.length), stress("E", term.modulus), area("A", term.area)),
        float(term.compliance),
        COMPLIANCE,
        LENGTHS_SOURCE,
    )


_CONE = (
    "ln(({D} + 2·{t}·tan({φ}) - {d_h})·({D} + {d_h})"
    "/(({D} + 2·{t}·tan({φ}) + {d_h})·({D} - {d_h})))/(π·{E}·{d_h}·tan({φ}))"
)
_SLEEVE = "4·{t}/(π·{E}·({D}² - {d_h}²))"


def _piece_steps(joint: Joint, whole: float) -> Iterator[Step]:
    pieces = pieces_of_parts(joint.geometry, joint.parts)
    values = []
    for place, piece in enumerate(pieces, 1):
        part = joint.parts[piece.layer]
        shape: list[Value] = [
            length("D", piece.diameter),
            length("t", piece.thickness),
            length("d_h", piece.hole_diameter),
            stress("E", part.material.modulus),
        ]
        if piece.kind == "cone":
            shape.append(angle("φ", joint.geometry.cone_half_angle))
        value = piece.shape / part.material.modulus
        kind = f"{piece.kind} from the {piece.side}" if piece.side else piece.kind
        yield Step(
            f"Layer {piece.layer + 1}, {part.material.name}: {kind}",
            "δ_i",
            _CONE if piece.kind == "cone" else _SLEEVE,
            tuple(shape),
            value,
            COMPLIANCE,
            joint.geometry.cone_source,
        )
        values.append(compliance(f"δ_{place}", value))
    yield Step(
        "Compliance of the parts",
        "δ_P",
        _sum(tuple(values)),
        tuple(values),
        whole,
        COMPLIANCE,
        joint.geometry.cone_source,
        "Cones from head and nut are cut where they cross, and to the layers that they pass."
        if joint.geometry.nut_face is not None
        else "The cone from the head is cut to the layers that it passes.",
    )
