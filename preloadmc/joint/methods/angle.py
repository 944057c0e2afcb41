"""Tightening by a snug torque and a further angle."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint.facts import Control, Joint, Method
from preloadmc.joint.methods import torque
from preloadmc.joint.methods.past_yield import HARDENING_SOURCE, hardening_step, strengths
from preloadmc.joint.quantities import total_compliance
from preloadmc.joint.tightened import Assembly, Basis, Inputs, Tightened
from preloadmc.mechanics import control, hardening
from preloadmc.steps import Step, angle, compliance, force, length, small
from preloadmc.units import FORCE, SMALL_LENGTH


def tighten(joint: Joint, x: Inputs, basis: Basis) -> Tightened:
    """Turn on from the snug torque: elastic, then on the yield curve up to the capacity."""
    yield_preload, capacity = strengths(basis)
    compliance = total_compliance(x)
    elastic = control.preload_after_angle(
        torque.tighten(joint, x, basis).preload,
        x["tightening.angle"] - x["tightening.seating_angle"],
        joint.thread.pitch,
        compliance,
    )
    stretch = hardening.elongation_at_capacity(x["fastener.plastic_strain"], joint.weak_length)
    preload = hardening.preload_past_yield(elastic, yield_preload, capacity, compliance, stretch)
    return Tightened(
        preload,
        plastic_elongation=hardening.plastic_elongation_from_turn(elastic, preload, compliance),
        elongation_at_capacity=stretch,
    )


def steps(joint: Joint, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """Snug preload, what the angle adds, and what yield leaves of it."""
    snug = None
    for snug in torque.steps(joint, x, assembly, "Preload at the snug torque", "F_s"):
        yield snug
    assert snug is not None, "there is a snug torque"
    total = compliance("δ", total_compliance(x))
    turned = x["tightening.angle"] - x["tightening.seating_angle"]
    elastic = float(
        control.preload_after_angle(snug.value, turned, joint.thread.pitch, total.value)
    )
    yield Step(
        "Preload after the angle, were it elastic",
        "F_el",
        "{F_s} + ({θ} - {θ_0})/(360°)·{P}/{δ}",
        (
            force("F_s", snug.value),
            angle("θ", x["tightening.angle"]),
            angle("θ_0", x["tightening.seating_angle"]),
            length("P", joint.thread.pitch),
            total,
        ),
        elastic,
        FORCE,
        "helix of the thread on an elastic joint",
    )
    assert assembly.yield_preload is not None, "the case file asks for strengths"
    assert assembly.capacity is not None, "the case file asks for strengths"
    preload, yields = float(assembly.preload), float(assembly.yield_preload)
    reached = force("F_el", elastic)
    if elastic <= yields:
        yield Step(
            "Assembled preload, below yield", "F_M", "{F_el}", (reached,), preload, FORCE, "elastic"
        )
        return
    yield from hardening_step(joint, x, assembly)
    stretch = float(assembly.elongation_at_capacity or 0.0)
    capacity = float(assembly.capacity)
    values = (
        reached,
        force("F_y", yields),
        force("F_m", capacity),
        small("u_m", stretch),
        total,
    )
    yield Step(
        "Assembled preload past yield, at most F_m",
        "F_M",
        "min({F_y} + ({F_el} - {F_y})/(1 + {u_m}/(({F_m} - {F_y})·{δ})), {F_m})",
        values,
        preload,
        FORCE,
        HARDENING_SOURCE,
    )
    yield Step(
        "Plastic elongation",
        "u_p",
        "({F_el} - {F_M})·{δ}",
        (reached, force("F_M", preload), total),
        float(hardening.plastic_elongation_from_turn(elastic, preload, total.value)),
        SMALL_LENGTH,
        HARDENING_SOURCE,
    )


TORQUE_THEN_ANGLE = Method(
    "torque then angle",
    (
        Control("torque", "the snug torque"),
        Control("angle", "the further angle"),
        Control(
            "seating_angle",
            "the angle that only seats the joint",
            default=0.0,
            assumed="0: the joint seats at once",
            is_set=False,
        ),
    ),
    "angle",
    tighten,
    steps,
    reads_friction=True,
    passes_yield=True,
    # A reading error in degrees stays what it is wherever the setting goes.
    in_proportion=False,
)
