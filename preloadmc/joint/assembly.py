"""Assembly: the joint tightened by its method, with torsion and the strengths that go with it."""

from __future__ import annotations

import numpy as np

from preloadmc.joint.facts import Joint
from preloadmc.joint.heat import AT_ASSEMBLY, fastener_strength_left
from preloadmc.joint.quantities import thread_friction, torque_per_preload
from preloadmc.joint.tightened import Assembly, Basis, Inputs
from preloadmc.mechanics import stress, tightening
from preloadmc.units import FloatLike

# Share of the thread torque that still twists the fastener after tightening
# (from memory of VDI 2230).
LATER_TORSION = 0.5


def assemble(joint: Joint, x: Inputs) -> Assembly:
    """Tighten the joint by its method.

    Parameters
    ----------
    joint : Joint
        Facts of the joint.
    x : mapping of str to float or ndarray (n,)
        Inputs by name, in N, mm, MPa, K, rad.
    """
    friction = thread_friction(joint, x)
    torsion = 1.0 if joint.method.twists else 0.0
    left = fastener_strength_left(joint, x, AT_ASSEMBLY)
    basis = Basis(
        torque_per_preload(joint, x),
        _preload_at(joint, x, "fastener.yield_strength", friction, torsion, left),
        _preload_at(joint, x, "fastener.tensile_strength", friction, torsion, left),
    )
    made = joint.method.tighten(joint, x, basis)
    may_yield_later = joint.judged_states != ("settled",) or "load.axial" in x
    return Assembly(
        preload=made.preload,
        peak=made.preload if made.peak is None else made.peak,
        yield_preload=basis.yield_preload,
        capacity=basis.capacity,
        later_yield=_preload_at(
            joint, x, "fastener.yield_strength", friction, torsion * LATER_TORSION, 1.0
        )
        if may_yield_later
        else None,
        plastic_elongation=made.plastic_elongation,
        elongation_at_capacity=made.elongation_at_capacity,
        as_elastic=made.as_elastic,
        thread_torque=_twist(joint, x, made.preload, friction)
        if torsion
        else np.zeros_like(made.preload),
        per_preload=basis.per_preload,
    )


def _preload_at(
    joint: Joint,
    x: Inputs,
    strength: str,
    friction: FloatLike | None,
    torsion_share: float,
    left: FloatLike,
) -> FloatLike | None:
    """Return the preload at which tension with torsion reaches a strength, None if not known."""
    if strength not in x or (friction is None and torsion_share > 0.0):
        return None
    return stress.yield_preload(
        joint.section.area,
        joint.section.diameter,
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        0.0 if friction is None else friction,
        x[strength] * left,
        x["tightening.prevailing_torque"],
        torsion_share,
    )


def _twist(joint: Joint, x: Inputs, preload: FloatLike, friction: FloatLike | None) -> FloatLike:
    """Return the torque in the shank [N·mm]; without a known friction, that of the pitch alone."""
    return tightening.thread_torque(
        preload,
        joint.thread.pitch,
        joint.thread.pitch_diameter,
        0.0 if friction is None else friction,
        x["tightening.prevailing_torque"],
    )
