"""What the methods that may pass yield have in common."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint.facts import Joint
from preloadmc.joint.tightened import Assembly, Basis, Inputs
from preloadmc.steps import Step, Value, force, length, percent
from preloadmc.units import FORCE, SMALL_LENGTH, FloatLike

HARDENING_SOURCE = "linear isotropic hardening with the von Mises criterion, an idealisation"
HELD_SOURCE = "no hardening past yield, an idealisation"


def strengths(basis: Basis) -> tuple[FloatLike, FloatLike]:
    """Return the preloads at yield and at the tensile strength [N]."""
    assert basis.yield_preload is not None, "the case file asks for strengths"
    assert basis.capacity is not None, "the case file asks for strengths"
    return basis.yield_preload, basis.capacity


def hardening_step(joint: Joint, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """Plastic elongation at the tensile strength."""
    stretch = assembly.elongation_at_capacity
    assert stretch is not None, "a plastic method"
    yield Step(
        "Plastic elongation at the tensile strength",
        "u_m",
        "{ε}·{l}",
        (percent("ε", x["fastener.plastic_strain"]), length("l", joint.weak_length)),
        float(stretch),
        SMALL_LENGTH,
        "plastic strain as stated, over the weakest length within the grip",
    )


def held_step(elastic: Value, assembly: Assembly) -> Step:
    """Preload of a fastener that is meant to stay elastic, and is held at yield."""
    return Step(
        "Assembled preload, held at yield",
        "F_M",
        f"min({{{elastic.symbol}}}, {{F_y}})",
        (elastic, force("F_y", assembly.yield_preload)),
        float(assembly.preload),
        FORCE,
        HELD_SOURCE,
        "Meant to stay elastic: over-preload.",
    )
