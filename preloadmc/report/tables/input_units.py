"""The unit in which documents state an input."""

from __future__ import annotations

from preloadmc.inputs import input_kind


def unit_of_input(name: str) -> str:
    """Return the unit of an input by its name; empty for a plain number.

    Examples
    --------
    >>> unit_of_input("tightening.torque"), unit_of_input("friction.thread")
    ('N·mm', '')
    """
    return input_kind(name).dimension.internal
