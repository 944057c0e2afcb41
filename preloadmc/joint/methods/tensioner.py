"""Tightening by a hydraulic tensioner: the fastener is pulled, not twisted."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint.facts import Control, Joint, Method
from preloadmc.joint.methods.controlled import controlled
from preloadmc.joint.quantities import control_factor
from preloadmc.joint.tightened import Assembly, Basis, Inputs, Tightened
from preloadmc.mechanics import control
from preloadmc.steps import Step, force, ratio
from preloadmc.units import FORCE


def tighten(joint: Joint, x: Inputs, basis: Basis) -> Tightened:
    """Pull by the pump force; the nut keeps its share of it."""
    force = x["tightening.pump_force"] * control_factor(x)
    preload = control.preload_from_tensioner(force, x["tightening.transfer_ratio"])
    return Tightened(preload, peak=force)


def steps(joint: Joint, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """Pump force applied, and what the nut keeps of it."""
    given, before = controlled("Pump force applied", "Q", force, x["tightening.pump_force"], x)
    yield from before
    yield Step(
        "Assembled preload, what is kept of the pump force",
        "F_M",
        "{r}·{Q}",
        (ratio("r", x["tightening.transfer_ratio"]), given),
        float(assembly.preload),
        FORCE,
        "transfer ratio as stated in the case file",
    )


HYDRAULIC_TENSIONING = Method(
    "hydraulic tensioning",
    (
        Control("pump_force", "pressure times piston area"),
        Control(
            "transfer_ratio",
            "preload left over force applied, for this grip, with its source",
            is_set=False,
        ),
    ),
    "pump_force",
    tighten,
    steps,
    scatter_about="pump_force",
    twists=False,
)
