"""What follows from the inputs alone: tool, compliance, torque per preload, thread friction."""

from __future__ import annotations

from preloadmc.joint.facts import Joint
from preloadmc.joint.tightened import Inputs
from preloadmc.mechanics import tightening
from preloadmc.units import FloatLike


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
            x["friction.nut_factor"], joint.thread.diameter
        )
    if "friction.bearing" not in x or "fastener.bearing_diameter" not in x:
        return None
    return tightening.torque_per_preload(
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        x["friction.thread"],
        x["friction.bearing"] * joint.seat_factor,
        x["fastener.bearing_diameter"],
    )


def thread_friction(joint: Joint, x: Inputs) -> FloatLike | None:
    """Return thread friction, solved from the nut factor where none is given (equal frictions)."""
    if "friction.thread" in x:
        return x["friction.thread"]
    if "friction.nut_factor" not in x or "fastener.bearing_diameter" not in x:
        return None
    per_preload = tightening.torque_per_preload_from_nut_factor(
        x["friction.nut_factor"], joint.thread.diameter
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
    return tightening.thread_torque(1.0, thread.pitch, thread.pitch_diameter, friction, 0.0)
