"""The joint: its facts, and the mechanics assembled into the states of its life."""

from preloadmc.joint.assembly import (
    METHODS,
    PLASTIC_METHODS,
    TORQUE_METHODS,
    Assembly,
    Inputs,
    control_factor,
    thread_friction,
    torque_per_preload,
)
from preloadmc.joint.facts import BearingFace, ClampedPart, Joint, Securing
from preloadmc.joint.geometry import Geometry
from preloadmc.joint.life import JudgedState, State, evaluate

__all__ = [
    "METHODS",
    "PLASTIC_METHODS",
    "TORQUE_METHODS",
    "Assembly",
    "BearingFace",
    "ClampedPart",
    "Geometry",
    "Inputs",
    "Joint",
    "JudgedState",
    "Securing",
    "State",
    "control_factor",
    "evaluate",
    "thread_friction",
    "torque_per_preload",
]
