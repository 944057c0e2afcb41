"""Acceptance at the tool: what it reads beside what it controls, and which fasteners pass."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from preloadmc.joint.facts import Acceptance, Joint
from preloadmc.joint.methods.angle import turned_compliance, wind_up_steps
from preloadmc.joint.quantities import total_compliance
from preloadmc.joint.tightened import Assembly, Inputs
from preloadmc.mechanics import control, tightening
from preloadmc.steps import Step, Value, angle, compliance, force, length, small, torque
from preloadmc.units import ANGLE, FORCE, TORQUE, Dimension, FloatLike

MONITORED: dict[str, Dimension] = {"angle": ANGLE, "torque": TORQUE}


def accepts(
    acceptance: Acceptance, joint: Joint, x: Inputs, assembly: Assembly
) -> NDArray[np.bool_]:
    """Return whether each fastener is accepted by what the tool reads, shape (n,) or ().

    One that breaks never reaches the end of tightening, which a tool does not miss. The input
    ``tightening.accept.reading`` is the factor between the true and the read quantity.
    """
    if acceptance.monitored == "angle":
        true = final_angle(joint, x, assembly, acceptance.threshold)
    else:
        true = final_torque(x, assembly)
    read = true * x["tightening.accept.reading"]
    passes = (read >= acceptance.low) & (read <= acceptance.high)
    if assembly.capacity is not None:
        passes = passes & (assembly.peak <= assembly.capacity)
    return np.asarray(passes)


def final_angle(joint: Joint, x: Inputs, assembly: Assembly, threshold: float = 0.0) -> FloatLike:
    """Return the angle turned from the threshold torque to the end of tightening [rad].

    Faces that still close take the seating angle; then the turn works against the stiffness, and
    past yield it stretches the fastener by its plastic elongation besides. A method that knows no
    plastic elongation is taken as elastic throughout: its angle past yield comes out too small.
    """
    plastic = 0.0 if assembly.plastic_elongation is None else assembly.plastic_elongation
    turned = control.angle_to_preload(
        assembly.preload - _preload_at_threshold(x, assembly, threshold),
        joint.thread.pitch,
        turned_compliance(joint, x),
    )
    return x["tightening.seating_angle"] + turned + 2.0 * math.pi * plastic / joint.thread.pitch


def _preload_at_threshold(x: Inputs, assembly: Assembly, threshold: float) -> FloatLike:
    if threshold == 0.0:
        return 0.0
    assert assembly.per_preload is not None, "the case file asks for what torque needs"
    preload = tightening.preload_from_torque(
        threshold, assembly.per_preload, x["tightening.prevailing_torque"]
    )
    return np.maximum(preload, 0.0)


def final_torque(x: Inputs, assembly: Assembly) -> FloatLike:
    """Return the torque at the end of tightening [N·mm]."""
    assert assembly.per_preload is not None, "the case file asks for what torque needs"
    return assembly.preload * assembly.per_preload + x["tightening.prevailing_torque"]


def acceptance_steps(joint: Joint, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """What the tool checks, by hand; nothing where it checks nothing."""
    acceptance = joint.acceptance
    if acceptance is None:
        return
    preload = force("F_M", assembly.preload)
    if acceptance.monitored == "torque":
        per_preload = assembly.per_preload
        assert per_preload is not None, "the case file asks for what torque needs"
        yield Step(
            "Torque at the end, which the tool checks",
            "T_end",
            "{F_M}·{B} + {T_p}",
            (
                preload,
                length("B", per_preload),
                torque("T_p", x["tightening.prevailing_torque"]),
            ),
            float(final_torque(x, assembly)),
            TORQUE,
            tightening.TORQUE_EQUATION,
        )
        return
    total = compliance("δ", total_compliance(x))
    for step in wind_up_steps(joint, x, total):
        yield step
        total = compliance(step.symbol, step.value)
    values: list[Value] = [
        angle("θ_0", x["tightening.seating_angle"]),
        preload,
        total,
        length("P", joint.thread.pitch),
    ]
    stretched = "{F_M}"
    start = float(_preload_at_threshold(x, assembly, acceptance.threshold))
    if start > 0.0:
        per_preload = assembly.per_preload
        assert per_preload is not None, "the case file asks for what torque needs"
        yield Step(
            "Preload where the angle starts to count",
            "F_0",
            "({T_0} - {T_p})/{B}",
            (
                torque("T_0", acceptance.threshold),
                torque("T_p", x["tightening.prevailing_torque"]),
                length("B", per_preload),
            ),
            start,
            FORCE,
            tightening.TORQUE_EQUATION,
        )
        values.append(force("F_0", start))
        stretched = "({F_M} - {F_0})"
    plastic = ""
    if assembly.plastic_elongation is not None:
        values.append(small("u_p", assembly.plastic_elongation))
        plastic = " + 360°·{u_p}/{P}"
    yield Step(
        "Angle turned, which the tool checks",
        "θ_end",
        f"{{θ_0}} + 360°·{stretched}·{{{total.symbol}}}/{{P}}{plastic}",
        tuple(values),
        float(final_angle(joint, x, assembly, acceptance.threshold)),
        ANGLE,
        "helix of the thread on an elastic joint",
    )
