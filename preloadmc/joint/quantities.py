"""What follows from the inputs alone: tool, compliance, torque per preload, thread friction."""

from __future__ import annotations

import math

import numpy as np

from preloadmc.joint.facts import Joint
from preloadmc.joint.tightened import Inputs
from preloadmc.mechanics import tightening
from preloadmc.mechanics.reuse import friction_of_reused
from preloadmc.mechanics.tightening import TORQUE_EQUATION
from preloadmc.steps import Step, Value, length, ratio
from preloadmc.units import LENGTH, FloatLike

THREAD_ARM = "({P}/π + {mu_t}·{d_2}/cos 30°)/(1 - {P}·{mu_t}/(π·{d_2}·cos 30°))/2"
"""Torque in the thread per preload by hand: `tightening.thread_torque_per_preload` written out."""


def control_factor(x: Inputs) -> FloatLike:
    """Return what the tool makes of the set value: (1 + bias)(1 + e).

    The input ``tightening.tool`` is the factor ``1 + e``.
    """
    return (1.0 + x["tightening.bias"]) * x["tightening.tool"]


def total_compliance(x: Inputs) -> FloatLike:
    """Return delta_S + delta_P [mm/N]."""
    if "joint.compliance" in x:
        return x["joint.compliance"]
    return x["joint.fastener_compliance"] + x["joint.clamped_compliance"]


def torque_per_preload(joint: Joint, x: Inputs) -> FloatLike | None:
    """Return tightening torque per preload [mm]; None where no friction under the head is known.

    A securing element asks its share of torque on top, taken up at the seat.
    """
    plain = _plain_torque_per_preload(joint, x)
    if plain is None or joint.securing is None:
        return plain
    return plain * joint.securing.torque_ratio


def _plain_torque_per_preload(joint: Joint, x: Inputs) -> FloatLike | None:
    if joint.uses_nut_factor:
        return tightening.torque_per_preload_from_nut_factor(
            friction_now(joint, x, "friction.nut_factor"), joint.thread.diameter
        )
    frictions = _frictions(joint, x)
    if frictions is None or "fastener.bearing_diameter" not in x:
        return None
    thread_friction, bearing_friction = frictions
    return tightening.torque_per_preload(
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        thread_friction,
        bearing_friction * joint.seat_factor,
        x["fastener.bearing_diameter"],
    )


def _frictions(joint: Joint, x: Inputs) -> tuple[FloatLike, FloatLike] | None:
    """Return friction in the thread and under the turned side; None where either is not stated."""
    if "friction.total" in x:
        total = friction_now(joint, x, "friction.total")
        return total, total
    if "friction.bearing" in x:
        return friction_now(joint, x, "friction.thread"), friction_now(joint, x, "friction.bearing")
    return None


def friction_now(joint: Joint, x: Inputs, name: str) -> FloatLike:
    """Return a friction, or the nut factor, of a fastener tightened so many times before."""
    if np.ndim(joint.tightened_before) == 0 and not joint.tightened_before:
        return x[name]
    return friction_of_reused(x[name], x["friction.change_per_tightening"], joint.tightened_before)


def torque_per_preload_step(joint: Joint, x: Inputs) -> Step:
    """Return torque per preload as a step by hand: the bracket of the torque equation."""
    value = torque_per_preload(joint, x)
    assert value is not None, "asked only where it is known"
    thread = joint.thread
    values: list[Value]
    note = ""
    if joint.uses_nut_factor:
        formula = "{K}·{d}"
        values = [
            ratio("K", friction_now(joint, x, "friction.nut_factor")),
            length("d", thread.diameter),
        ]
        source = "Shigley, 9th ed., eq. 8-27"
    else:
        frictions = _frictions(joint, x)
        assert frictions is not None, "asked only where it is known"
        formula = f"{THREAD_ARM} + {{mu_b}}·{{D_b}}/2"
        values = [
            length("P", thread.pitch),
            ratio("mu_t", frictions[0]),
            length("d_2", thread.pitch_diameter),
            ratio("mu_b", frictions[1]),
            length("D_b", x["fastener.bearing_diameter"]),
        ]
        source = TORQUE_EQUATION
        note = "ISO 16047 and VDI 2230 leave out the divisor 1 - ..., so their B is a little lower."
        if joint.seat_factor != 1.0:
            formula = formula.replace("{mu_b}", "{mu_b}·{s}")
            values.append(ratio("s", joint.seat_factor))
    if joint.securing is not None and joint.securing.torque_ratio != 1.0:
        formula = f"({formula})·{{q}}"
        values.append(ratio("q", joint.securing.torque_ratio))
        source += f"; q: {joint.securing.source}"
    return Step(
        "Torque per preload", "B", formula, tuple(values), float(value), LENGTH, source, note
    )


def thread_friction(joint: Joint, x: Inputs) -> FloatLike | None:
    """Return thread friction, solved from the nut factor where none is given (equal frictions)."""
    for name in ("friction.total", "friction.thread"):
        if name in x:
            return friction_now(joint, x, name)
    if "friction.nut_factor" not in x or "fastener.bearing_diameter" not in x:
        return None
    per_preload = tightening.torque_per_preload_from_nut_factor(
        friction_now(joint, x, "friction.nut_factor"), joint.thread.diameter
    )
    return tightening.equal_friction_from_torque_per_preload(
        per_preload,
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        x["fastener.bearing_diameter"] * joint.seat_factor,
    )


def thread_torque_per_preload(joint: Joint, friction: FloatLike) -> FloatLike:
    """Return the torque in the thread for each newton of preload, without prevailing torque [mm].

    ``friction`` is that of the thread.
    """
    thread = joint.thread
    return tightening.thread_torque_per_preload(thread.pitch, thread.pitch_diameter, friction)


def torques_at_rest(
    joint: Joint, x: Inputs, per_preload: FloatLike, breakaway_ratio: FloatLike
) -> tuple[FloatLike, FloatLike]:
    """Return the torques that turn the nut on and back again, for each newton of preload [mm].

    All friction is so many times that of tightening. Where a nut factor does not tell that of the
    thread, the pitch term is added and taken off.
    """
    thread, friction = joint.thread, thread_friction(joint, x)
    if friction is None:
        pitch = thread.pitch / (2 * math.pi)
        rubs = breakaway_ratio * (per_preload - pitch)
        return rubs + pitch, rubs - pitch
    at_rest = breakaway_ratio * friction
    seat = breakaway_ratio * (per_preload - thread_torque_per_preload(joint, friction))
    on = seat + thread_torque_per_preload(joint, at_rest)
    return on, tightening.release_torque_per_preload(
        on, thread.pitch, thread.pitch_diameter, at_rest
    )
