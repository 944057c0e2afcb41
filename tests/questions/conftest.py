"""What tests of the hand calculation share: a step's formula, worked out."""

from __future__ import annotations

import math

import pytest


def _worked_out(step):
    """What the step's formula gives with its values put in, all in N, mm, MPa, K, rad."""
    text = step.formula
    for value in step.values:
        text = text.replace(f"{{{value.symbol}}}", f"({value.value!r})")
    for written, python in (
        ("360°", "(2*pi)"),
        ("cos 30°", "cos(pi/6)"),
        ("tan 30°", "tan(pi/6)"),
        ("·", "*"),
        ("²", "**2"),
        ("³", "**3"),
        ("π", "pi"),
        ("√(", "sqrt("),
        ("ln(", "log("),
    ):
        text = text.replace(written, python)
    names = {name: getattr(math, name) for name in ("pi", "cos", "tan", "log", "log10", "sqrt")}
    return eval(text, {"__builtins__": {"min": min, "max": max}}, names)


@pytest.fixture(scope="session")
def worked_out():
    """A function that works out the formula of a step as it is shown."""
    return _worked_out
