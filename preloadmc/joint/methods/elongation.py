"""Tightening to a measured elongation of the fastener."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint.facts import Control, Joint, Method
from preloadmc.joint.methods.controlled import controlled
from preloadmc.joint.quantities import control_factor
from preloadmc.joint.tightened import Assembly, Basis, Inputs, Tightened
from preloadmc.mechanics import control
from preloadmc.steps import Step, compliance, small
from preloadmc.units import FORCE


def tighten(joint: Joint, x: Inputs, basis: Basis) -> Tightened:
    """Stretch the fastener by the elongation that is reached."""
    elongation = x["tightening.elongation"] * control_factor(x)
    return Tightened(control.preload_from_elongation(elongation, x["joint.fastener_compliance"]))


def steps(joint: Joint, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """Elongation reached, and the preload that goes with it."""
    given, before = controlled("Elongation reached", "ΔL", small, x["tightening.elongation"], x)
    yield from before
    yield Step(
        "Assembled preload",
        "F_M",
        "{ΔL}/{δ_S}",
        (given, compliance("δ_S", x["joint.fastener_compliance"])),
        float(assembly.preload),
        FORCE,
        "Shigley, 9th ed., Sec. 8-7",
    )


ELONGATION_MEASURED = Method(
    "elongation measured",
    (Control("elongation", "the elongation to be reached"),),
    "elongation",
    tighten,
    steps,
    scatter_about="elongation",
    stretches_fastener=True,
    monitors=("torque",),
    # A reading error in micrometres stays what it is wherever the setting goes.
    in_proportion=False,
)
