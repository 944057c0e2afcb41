"""A commented case file from a few answers."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.mechanics.friction_table import friction_class


@dataclass(frozen=True, slots=True)
class Answers:
    """What `new` asks, as a person writes it: quantities with their units."""

    title: str
    thread: str
    property_class: str
    bearing_outer_diameter: str
    hole_diameter: str
    material: str
    thickness: str
    friction: str
    torque: str
    tool_tolerance: str
    minimum_preload: str
    allowed: str


def case_text(answers: Answers) -> str:
    """Return a case file with comments that say what to replace by tests.

    Raises
    ------
    ValueError
        No such friction class.
    """
    found = friction_class(answers.friction)
    high = found.high if found.high is not None else found.low + 0.1
    law = f'{{ law = "uniform", low = {found.low}, high = {high} }}'
    return f'''# {answers.title}
# Written by `preloadmc new`. Read it with `preloadmc check`, run it with `preloadmc run`.
# Every quantity carries its unit; any of them may be a law, such as
#   {{ law = "normal", mean = "11 um", sd = "2 um" }}      or cov = "10 %" in place of sd
title = "{_quoted(answers.title)}"

[fastener]
thread = "{_quoted(answers.thread)}"
property_class = "{_quoted(answers.property_class)}"
bearing_outer_diameter = "{_quoted(answers.bearing_outer_diameter)}"
hole_diameter = "{_quoted(answers.hole_diameter)}"

# One [[clamped]] table for each layer, from head to nut, washers included.
[[clamped]]
material = "{_quoted(answers.material)}"
thickness = "{_quoted(answers.thickness)}"

# Friction class {found.name} ({found.surfaces}) of {found.source},
# its range read as bounds. Replace it by torque-tension tests on the real joint where failure
# could hurt someone: friction decides most results.
[friction]
thread = {law}
bearing = {law}
correlation = 0.5          # one lubricant on both surfaces; no published value: try 0 as well

[tightening]
method = "torque"
torque = "{_quoted(answers.torque)}"
# The tolerance of the tool, read as +-2 s.d.; coverage = "rectangular" reads it as a bound.
tool = {{ tolerance = "{_quoted(answers.tool_tolerance)}", coverage = "2 sd" }}

# Guide values of VDI 2230 (from memory) for bare steel; scatter is an assumption of yours.
[settling]
embedding = {{ roughness = "10 to 40 um", load_direction = "transverse", cov = "30 %" }}
relaxation = "5 %"

# [temperature]
# assembly = "20 degC"
# [[temperature.state]]
# name = "hot"
# fastener = "90 degC"
# clamped = "95 degC"

[requirement]
minimum_preload = "{_quoted(answers.minimum_preload)}"  # or {{ from = "no slip" }}, with [load]
maximum_preload = {{ from = "yield", fraction = 0.9 }}
allowed_under = "{_quoted(answers.allowed)}"
allowed_over = "{_quoted(answers.allowed)}"

[sampling]
samples = 1_000_000
seed = 1
'''


def _quoted(text: str) -> str:
    """Return text for a TOML string: its own quotes and backslashes escaped."""
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
