"""Temperatures of a joint in its states, and the strengths that they leave."""

from __future__ import annotations

from preloadmc.inputs import layer_input, state_input
from preloadmc.joint.facts import Joint
from preloadmc.joint.tightened import Inputs
from preloadmc.mechanics.materials import Material
from preloadmc.mechanics.softening import ROOM
from preloadmc.units import FloatLike

AT_ASSEMBLY = "assembly"


def temperature_of_fastener(joint: Joint, x: Inputs, state: str) -> FloatLike:
    """Return the temperature [K] of the fastener in a state; that of assembly in most."""
    state = joint.state_of(state)
    if state not in joint.states:
        return x.get("temperature.assembly", ROOM)
    return x[state_input(state, "fastener")]


def temperature_of_layer(joint: Joint, x: Inputs, state: str, place: int) -> FloatLike:
    """Return the temperature [K] of a layer in a state; layers count from 1."""
    state = joint.state_of(state)
    if state not in joint.states:
        return x.get("temperature.assembly", ROOM)
    common = x.get(state_input(state, "clamped"))
    return x[layer_input(state, place)] if common is None else common


def temperature_of_mate(joint: Joint, x: Inputs, state: str) -> FloatLike:
    """Return the temperature [K] of nut or tapped part: of the fastener, or of the last layer."""
    if joint.geometry.has_nut:
        return temperature_of_fastener(joint, x, state)
    return temperature_of_layer(joint, x, state, len(joint.parts))


def fastener_strength_left(joint: Joint, x: Inputs, state: str) -> FloatLike:
    """Return the fastener's strength in a state over that at 20 °C, as far as it is known."""
    if joint.softening is None:
        return 1.0
    return joint.softening.ratio(temperature_of_fastener(joint, x, state))


def layer_strength_left(
    joint: Joint, x: Inputs, state: str, material: Material, place: int
) -> FloatLike:
    """Return a layer's strength in a state over that at 20 °C, as far as it is known."""
    return material.strength_ratio(temperature_of_layer(joint, x, state, place))


def mate_strength_left(joint: Joint, x: Inputs, state: str) -> FloatLike:
    """Return the strength of nut or tapped part in a state over that at 20 °C, as far as known."""
    return joint.mate_material.strength_ratio(temperature_of_mate(joint, x, state))
