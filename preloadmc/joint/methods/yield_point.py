"""Tightening until the tool senses the yield of the fastener."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint.facts import Control, Joint, Method
from preloadmc.joint.methods.past_yield import HARDENING_SOURCE, hardening_step, strengths
from preloadmc.joint.tightened import Assembly, Basis, Inputs, Tightened
from preloadmc.mechanics import control, hardening
from preloadmc.steps import Step, force, ratio, small
from preloadmc.units import FORCE, SMALL_LENGTH


def tighten(joint: Joint, x: Inputs, basis: Basis) -> Tightened:
    """Stop where the tool senses yield: at its ratio of the yield preload."""
    yield_preload, capacity = strengths(basis)
    preload = control.preload_at_sensed_yield(yield_preload, x["tightening.detector_ratio"])
    stretch = hardening.elongation_at_capacity(x["fastener.plastic_strain"], joint.weak_length)
    return Tightened(
        preload,
        plastic_elongation=hardening.plastic_elongation_from_preload(
            preload, yield_preload, capacity, stretch
        ),
        elongation_at_capacity=stretch,
    )


def steps(joint: Joint, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """Preload where the tool stops, and how far the fastener has yielded there."""
    assert assembly.yield_preload is not None, "the case file asks for strengths"
    assert assembly.capacity is not None, "the case file asks for strengths"
    yields, preload = force("F_y", assembly.yield_preload), force("F_M", assembly.preload)
    yield Step(
        "Assembled preload, where the tool stops",
        "F_M",
        "{r}·{F_y}",
        (ratio("r", x["tightening.detector_ratio"]), yields),
        preload.value,
        FORCE,
        "yield in tension with torsion, times the detector's ratio",
    )
    if preload.value <= yields.value or assembly.plastic_elongation is None:
        return
    yield from hardening_step(joint, x, assembly)
    yield Step(
        "Plastic elongation",
        "u_p",
        "{u_m}·({F_M} - {F_y})/({F_m} - {F_y})",
        (
            small("u_m", assembly.elongation_at_capacity),
            preload,
            yields,
            force("F_m", assembly.capacity),
        ),
        float(assembly.plastic_elongation),
        SMALL_LENGTH,
        HARDENING_SOURCE,
    )


YIELD_POINT = Method(
    "yield point sensed",
    (Control("detector_ratio", "where the tool stops, over the true yield preload", is_set=False),),
    "detector_ratio",
    tighten,
    steps,
    passes_yield=True,
    monitors=("torque", "angle"),
)
