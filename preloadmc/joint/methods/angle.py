"""Tightening by a snug torque and a further angle, up to yield or past it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from preloadmc.chance.laws import Uniform
from preloadmc.joint.facts import Control, Joint, Method
from preloadmc.joint.methods import torque
from preloadmc.joint.methods.past_yield import (
    HARDENING_SOURCE,
    hardening_step,
    held_step,
    strengths,
)
from preloadmc.joint.quantities import (
    thread_friction,
    thread_torque_per_preload,
    total_compliance,
)
from preloadmc.joint.shape import segments_of_fastener
from preloadmc.joint.tightened import Assembly, Basis, Inputs, Tightened
from preloadmc.mechanics import control, hardening, torsion
from preloadmc.steps import (
    Step,
    Value,
    angle,
    area,
    compliance,
    force,
    length,
    ratio,
    small,
    stress,
)
from preloadmc.units import COMPLIANCE, FORCE, SMALL_LENGTH, STRESS, FloatLike


def tighten(joint: Joint, x: Inputs, basis: Basis) -> Tightened:
    """Turn on from the snug torque: elastic, then on the yield curve up to the capacity."""
    yield_preload, capacity = strengths(basis)
    compliance = turned_compliance(joint, x)
    elastic = _elastic_preload(joint, x, basis, compliance)
    stretch = hardening.elongation_at_capacity(x["fastener.plastic_strain"], joint.weak_length)
    preload = hardening.preload_past_yield(elastic, yield_preload, capacity, compliance, stretch)
    return Tightened(
        preload,
        plastic_elongation=hardening.plastic_elongation_from_excess(elastic, preload, compliance),
        elongation_at_capacity=stretch,
    )


def tighten_below_yield(joint: Joint, x: Inputs, basis: Basis) -> Tightened:
    """Turn on from the snug torque with a fastener that is meant to stay elastic.

    Nothing is known of it past yield: it is held at yield there, which is a miss.
    """
    assert basis.yield_preload is not None, "the case file asks for a strength"
    elastic = _elastic_preload(joint, x, basis, turned_compliance(joint, x))
    return Tightened(np.minimum(elastic, basis.yield_preload), as_elastic=elastic)


def _elastic_preload(joint: Joint, x: Inputs, basis: Basis, compliance: FloatLike) -> FloatLike:
    return control.preload_after_angle(
        torque.tighten(joint, x, basis).preload,
        x["tightening.angle"] - x["tightening.seating_angle"],
        joint.thread.pitch,
        compliance,
    )


def turned_compliance(joint: Joint, x: Inputs) -> FloatLike:
    """Return what a turn of the nut works against [mm/N].

    Fastener and parts stretch, and the torque in the thread winds up the shank as far as its
    length is known: see `torsion.wind_up_compliance`.
    """
    compliance = total_compliance(x)
    if joint.torsional_compliance is None:
        return compliance
    return compliance + torsion.wind_up_compliance(
        joint.torsional_compliance, _thread_arm(joint, x), joint.thread.pitch
    )


def _thread_arm(joint: Joint, x: Inputs) -> FloatLike:
    friction = thread_friction(joint, x)
    assert friction is not None, "the case file asks for what torque needs"
    return thread_torque_per_preload(joint, friction)


def steps(joint: Joint, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """Snug preload, what the angle adds, and what yield leaves of it."""
    snug = None
    for snug in torque.steps(joint, x, assembly, "Preload at the snug torque", "F_s"):
        yield snug
    assert snug is not None, "there is a snug torque"
    total = compliance("δ", total_compliance(x))
    for step in wind_up_steps(joint, x, total):
        yield step
        total = compliance(step.symbol, step.value)
    turned = x["tightening.angle"] - x["tightening.seating_angle"]
    elastic = float(
        control.preload_after_angle(snug.value, turned, joint.thread.pitch, total.value)
    )
    yield Step(
        "Preload after the angle, were it elastic",
        "F_el",
        f"{{F_s}} + ({{θ}} - {{θ_0}})/(360°)·{{P}}/{{{total.symbol}}}",
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
    preload, yields = float(assembly.preload), float(assembly.yield_preload)
    reached = force("F_el", elastic)
    if elastic <= yields:
        yield Step(
            "Assembled preload, below yield", "F_M", "{F_el}", (reached,), preload, FORCE, "elastic"
        )
        return
    if assembly.plastic_elongation is None:
        yield held_step(reached, assembly)
        return
    yield from hardening_step(joint, x, assembly)
    values = (
        reached,
        force("F_y", yields),
        force("F_m", assembly.capacity),
        small("u_m", assembly.elongation_at_capacity),
        total,
    )
    yield Step(
        "Assembled preload past yield, at most F_m",
        "F_M",
        "min({F_y} + ({F_el} - {F_y})/(1 + {u_m}/(({F_m} - {F_y})·"
        f"{{{total.symbol}}})), {{F_m}})",
        values,
        preload,
        FORCE,
        HARDENING_SOURCE,
    )
    yield Step(
        "Plastic elongation",
        "u_p",
        f"({{F_el}} - {{F_M}})·{{{total.symbol}}}",
        (reached, force("F_M", preload), total),
        float(hardening.plastic_elongation_from_excess(elastic, preload, total.value)),
        SMALL_LENGTH,
        HARDENING_SOURCE,
    )


def wind_up_steps(joint: Joint, x: Inputs, total: Value) -> Iterator[Step]:
    """What the wind-up of the shank adds to the compliance; the last step is their sum."""
    if joint.torsional_compliance is None:
        return
    arm, pitch = length("a", _thread_arm(joint, x)), length("P", joint.thread.pitch)
    modulus, nu = joint.fastener_material.modulus, torsion.POISSON_RATIO
    shear = stress("G", torsion.shear_modulus(modulus, nu))
    yield Step(
        "Shear modulus of the fastener",
        "G",
        "{E}/(2·(1 + {ν}))",
        (stress("E", modulus), ratio("ν", nu)),
        shear.value,
        STRESS,
        torsion.POISSON_SOURCE,
    )
    segments = segments_of_fastener(joint.geometry, joint.thread, joint.parts)
    places = range(1, len(segments) + 1)
    wind_up = compliance(
        "δ_w",
        torsion.wind_up_compliance(joint.torsional_compliance, arm.value, joint.thread.pitch),
    )
    yield Step(
        "Wind-up of the shank, as a compliance",
        "δ_w",
        f"{{a}}·{{P}}/{{G}}·({' + '.join(f'{{l_{n}}}/{{A_{n}}}²' for n in places)})",
        (
            arm,
            pitch,
            shear,
            *(length(f"l_{n}", part.length) for n, part in zip(places, segments, strict=True)),
            *(area(f"A_{n}", part.area) for n, part in zip(places, segments, strict=True)),
        ),
        wind_up.value,
        COMPLIANCE,
        torsion.TWIST_SOURCE,
        "The torque in the thread twists the fastener between head and engaged thread.",
    )
    yield Step(
        "Compliance that the turn works against",
        "δ_t",
        "{δ} + {δ_w}",
        (total, wind_up),
        float(turned_compliance(joint, x)),
        COMPLIANCE,
        "springs in series",
    )


# Faces flatten and close by up to some 15 µm while they are tightened: 360 deg x 15 µm/P is 5.4 deg
# for a pitch of 1 mm, 2.7 deg for 2 mm. The law is uniform since no value within is likelier.
_SEATING = Uniform(0.0, math.radians(5.0))
SEATING = Control(
    "seating_angle",
    "the angle that only seats the joint",
    default=_SEATING,
    assumed="uniform, 0 to 5 deg, a guide: faces that close by up to about 15 µm",
    source="engineering judgement",
    is_set=False,
)
_CONTROLS = (
    Control("torque", "the snug torque"),
    Control("angle", "the further angle"),
    SEATING,
)
_BELOW_YIELD = Method(
    "torque then angle",
    _CONTROLS,
    "angle",
    tighten_below_yield,
    steps,
    scatter_about="torque",
    reads_friction=True,
    stops_at_angle=True,
    monitors=("torque",),
    # A reading error in degrees stays what it is wherever the setting goes.
    in_proportion=False,
)
TORQUE_THEN_ANGLE = replace(_BELOW_YIELD, tighten=tighten, passes_yield=True, elastic=_BELOW_YIELD)
