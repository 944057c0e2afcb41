"""A commented case file from a few answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from preloadmc.mechanics.friction_table import friction_class
from preloadmc.mechanics.grades import grade
from preloadmc.mechanics.thread import thread
from preloadmc.units import FORCE, LENGTH, TORQUE, Dimension, format_quantity, parse_quantity

_MOST_PARTS = 20


@dataclass(frozen=True, slots=True)
class Answers:
    """What `new` asks, as a person writes it: quantities with their units."""

    title: str
    thread: str
    property_class: str
    bearing_outer_diameter: str
    hole_diameter: str
    material: str
    parts: str
    thickness: str
    friction: str
    torque: str
    tool_tolerance: str
    minimum_preload: str
    allowed: str


def usual_answers(given: Mapping[str, str]) -> dict[str, str]:
    """Return an example for every answer, fitting the thread and class that are given.

    Parameters
    ----------
    given : mapping of str to str
        Answers that are there already, by name.

    Returns
    -------
    dict of str to str
        Head and hole in the usual proportions to the diameter, a torque for about 60 % of yield at
        a nut factor of 0.16, and half of that preload as the smallest needed: examples to be
        replaced, not recommendations.

    Raises
    ------
    ValueError
        No such thread, or no such property class in its size.
    """
    found = thread(given.get("thread", "M12"))
    name = given.get("property_class", "8.8")
    preload = 0.6 * grade(name, found.diameter).yield_strength * found.stress_area
    torque = 0.16 * found.diameter * preload
    inch = found.series.startswith("UN")

    def written(value: float, dimension: Dimension, digits: int) -> str:
        return format_quantity(value, dimension, "inch" if inch else "metric", digits)

    return {
        "title": "My joint",
        "thread": found.designation,
        "property_class": name,
        "bearing_outer_diameter": written(1.4 * found.diameter, LENGTH, 3),
        "hole_diameter": written(1.1 * found.diameter, LENGTH, 3),
        "material": "steel",
        "parts": "2",
        "thickness": written(2.5 * found.diameter, LENGTH, 2),
        "friction": "B",
        "torque": written(torque, TORQUE, 2),
        "tool_tolerance": "6 %",
        "minimum_preload": written(0.5 * preload, FORCE, 2),
        "allowed": "0.1 %",
    } | dict(given)


def case_text(answers: Answers) -> str:
    """Return a case file with comments that say what to replace by tests.

    Raises
    ------
    ValueError
        No such friction class.
    """
    found = friction_class(answers.friction)
    high = found.high if found.high is not None else found.low + 0.1
    open_end = (
        "" if found.high is not None else f"\n# The class has no upper end; {high:g} is yours."
    )
    layers = _layers(answers)
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

# One [[clamped]] table for each layer, from the head on, washers included: each joins the next
# at an interface that embeds. All are written alike; change what differs.
{layers}
# Friction class {found.name} ({found.surfaces}) of {found.source},
# its range read as bounds. Replace it by torque-tension tests on the real joint where failure
# could hurt someone: friction decides most results.{open_end}
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


def _layers(answers: Answers) -> str:
    """Return the [[clamped]] tables: the parts, equally thick.

    Raises
    ------
    ValueError
        The number of parts is not a whole number from 1 to 20, or there is no such thickness.
    """
    words = f"number of parts: a whole number from 1 to {_MOST_PARTS}, not {answers.parts!r}"
    try:
        parts = int(answers.parts)
    except ValueError as error:
        raise ValueError(words) from error
    if not 1 <= parts <= _MOST_PARTS:
        raise ValueError(words)
    each = answers.thickness
    if parts > 1:
        whole = parse_quantity(answers.thickness, LENGTH)
        system = "inch" if thread(answers.thread).series.startswith("UN") else "metric"
        each = format_quantity(whole / parts, LENGTH, system, 4)
    layer = (
        f'[[clamped]]\nmaterial = "{_quoted(answers.material)}"\nthickness = "{_quoted(each)}"\n'
    )
    return "\n".join([layer] * parts)


def _quoted(text: str) -> str:
    """Return text for a TOML string: its own quotes and backslashes escaped."""
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
