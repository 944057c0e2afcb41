"""The joint: its facts, and the mechanics assembled into the states of its life."""

from preloadmc.joint.acceptance import MONITORED, acceptance_steps, accepts
from preloadmc.joint.facts import (
    Acceptance,
    BearingFace,
    ClampedPart,
    Control,
    Joint,
    Method,
    Securing,
)
from preloadmc.joint.geometry import Geometry
from preloadmc.joint.heat import (
    AT_ASSEMBLY,
    fastener_strength_left,
    layer_strength_left,
    mate_strength_left,
    temperature_of_fastener,
    temperature_of_layer,
    temperature_of_mate,
)
from preloadmc.joint.life import (
    JudgedState,
    State,
    evaluate,
    preload_for_no_separation,
    preload_for_no_slip,
)
from preloadmc.joint.methods import METHODS
from preloadmc.joint.methods.angle import SEATING
from preloadmc.joint.quantities import (
    THREAD_ARM,
    control_factor,
    thread_friction,
    thread_torque_per_preload,
    torque_per_preload,
    torque_per_preload_step,
    total_compliance,
)
from preloadmc.joint.tightened import Assembly, Inputs

__all__ = [
    "AT_ASSEMBLY",
    "METHODS",
    "MONITORED",
    "SEATING",
    "THREAD_ARM",
    "Acceptance",
    "Assembly",
    "BearingFace",
    "ClampedPart",
    "Control",
    "Geometry",
    "Inputs",
    "Joint",
    "JudgedState",
    "Method",
    "Securing",
    "State",
    "acceptance_steps",
    "accepts",
    "control_factor",
    "evaluate",
    "fastener_strength_left",
    "layer_strength_left",
    "mate_strength_left",
    "preload_for_no_separation",
    "preload_for_no_slip",
    "temperature_of_fastener",
    "temperature_of_layer",
    "temperature_of_mate",
    "thread_friction",
    "thread_torque_per_preload",
    "torque_per_preload",
    "torque_per_preload_step",
    "total_compliance",
]
