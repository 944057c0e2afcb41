"""The joint: its facts, and the mechanics assembled into the states of its life."""

from preloadmc.joint.acceptance import MONITORED, acceptance_steps, accepts
from preloadmc.joint.assembly import assemble
from preloadmc.joint.facts import (
    Acceptance,
    BearingFace,
    ClampedPart,
    Control,
    Fatigue,
    Joint,
    Method,
    Securing,
)
from preloadmc.joint.fatigue import ENDURANCE_INPUT, LoadRange, load_range
from preloadmc.joint.geometry import Geometry
from preloadmc.joint.group import (
    ALIKE,
    GROUP_LOADS,
    INTERACTION,
    TAKEN,
    TYPICAL,
    FastenerGroup,
    after_all_passes,
    after_each_pass,
    interaction_loss,
)
from preloadmc.joint.heat import (
    AT_ASSEMBLY,
    fastener_strength_left,
    layer_strength_left,
    mate_strength_left,
    temperature_of_fastener,
    temperature_of_layer,
    temperature_of_mate,
)
from preloadmc.joint.in_service import Checked, age_of
from preloadmc.joint.judged_state import (
    JudgedState,
    preload_for_no_separation,
    preload_for_no_slip,
)
from preloadmc.joint.life import State, evaluate
from preloadmc.joint.methods import METHODS
from preloadmc.joint.methods.angle import SEATING
from preloadmc.joint.path import ALL_TIGHTENED, preload_path
from preloadmc.joint.plan import (
    ACTIONS,
    AFTER_SLIP,
    CHECK,
    REPLACE,
    RETIGHTEN,
    SETTLED,
    Action,
    Creep,
    Instant,
    Service,
    Spell,
)
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
    "ACTIONS",
    "AFTER_SLIP",
    "ALIKE",
    "ALL_TIGHTENED",
    "AT_ASSEMBLY",
    "CHECK",
    "ENDURANCE_INPUT",
    "GROUP_LOADS",
    "INTERACTION",
    "METHODS",
    "MONITORED",
    "REPLACE",
    "RETIGHTEN",
    "SEATING",
    "SETTLED",
    "TAKEN",
    "THREAD_ARM",
    "TYPICAL",
    "Acceptance",
    "Action",
    "Assembly",
    "BearingFace",
    "Checked",
    "ClampedPart",
    "Control",
    "Creep",
    "FastenerGroup",
    "Fatigue",
    "Geometry",
    "Inputs",
    "Instant",
    "Joint",
    "JudgedState",
    "LoadRange",
    "Method",
    "Securing",
    "Service",
    "Spell",
    "State",
    "acceptance_steps",
    "accepts",
    "after_all_passes",
    "after_each_pass",
    "age_of",
    "assemble",
    "control_factor",
    "evaluate",
    "fastener_strength_left",
    "interaction_loss",
    "layer_strength_left",
    "load_range",
    "mate_strength_left",
    "preload_for_no_separation",
    "preload_for_no_slip",
    "preload_path",
    "temperature_of_fastener",
    "temperature_of_layer",
    "temperature_of_mate",
    "thread_friction",
    "thread_torque_per_preload",
    "torque_per_preload",
    "torque_per_preload_step",
    "total_compliance",
]
