"""Tightening by torque: the torque equation holds, up to where the fastener breaks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from preloadmc.joint.facts import Control, Joint, Method
from preloadmc.joint.methods.controlled import controlled
from preloadmc.joint.quantities import control_factor
from preloadmc.joint.tightened import Assembly, Basis, Inputs, Tightened
from preloadmc.mechanics import tightening
from preloadmc.mechanics.tightening import TORQUE_EQUATION
from preloadmc.steps import Step, length, torque
from preloadmc.units import FORCE


def tighten(joint: Joint, x: Inputs, basis: Basis) -> Tightened:
    """Solve the torque equation for the preload, with the torque that the tool really gives."""
    assert basis.per_preload is not None, "the case file asks for what torque needs"
    torque = x["tightening.torque"] * control_factor(x)
    return Tightened(
        tightening.preload_from_torque(torque, basis.per_preload, x["tightening.prevailing_torque"])
    )


def steps(
    joint: Joint,
    x: Inputs,
    assembly: Assembly,
    title: str = "Assembled preload",
    symbol: str = "F_M",
) -> Iterator[Step]:
    """Torque applied, then the preload that it makes."""
    given, before = controlled("Torque applied", "T", torque, x["tightening.torque"], x)
    yield from before
    per_preload = assembly.per_preload
    assert per_preload is not None, "a torque makes preload by it"
    prevailing = x["tightening.prevailing_torque"]
    yield Step(
        title,
        symbol,
        "({T} - {T_p})/{B}",
        (given, torque("T_p", prevailing), length("B", per_preload)),
        float(tightening.preload_from_torque(given.value, per_preload, prevailing)),
        FORCE,
        TORQUE_EQUATION,
    )


_SET_TORQUE = (Control("torque", "the set torque"),)
TORQUE = Method(
    "torque",
    _SET_TORQUE,
    "torque",
    tighten,
    steps,
    scatter_about="torque",
    reads_friction=True,
    monitors=("angle",),
)
PULSE = replace(TORQUE, name="pulse or impact", typical_scatter="impact wrench, VDI 2230-1:2015")
