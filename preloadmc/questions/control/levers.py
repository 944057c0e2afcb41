"""The losses of preload that a case could have less of: each halved, mean and scatter alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from preloadmc.case import Case
from preloadmc.chance.laws import Constant, Law
from preloadmc.inputs import input_label, state_input

HALF = 0.5
_EMBEDDING, _RELAXATION = "settling.embedding", "settling.relaxation"
_CHANGE, _ASSEMBLY = "temperature.thermal_change", "temperature.assembly"
# Each lever costs a model on all draws; with more states than these they are halved together.
_MOST_STATES = 3


def halved_losses(case: Case) -> dict[str, Case]:
    """Return the case with each of its losses halved, by what is halved.

    A law is halved with its mean and its scatter; a temperature state by its distance from the mean
    temperature at assembly, fastener and parts together.
    """
    return {
        label: replace(case.with_laws(changed), alternatives=())
        for label, changed in _changes(case)
        if changed
    }


def _changes(case: Case) -> Iterator[tuple[str, Mapping[str, Law]]]:
    for name in (_EMBEDDING, _RELAXATION, _CHANGE):
        law = case.laws.get(name)
        if law is not None and law != Constant(0.0):
            yield input_label(name), {name: law.scaled(HALF)}
    states = {state: _nearer(case, state) for state in case.joint.states}
    if len(states) > _MOST_STATES:
        together = {name: law for laws in states.values() for name, law in laws.items()}
        yield "temperature differences", together
        return
    for state, laws in states.items():
        yield f"temperature difference in '{state}'", laws


def _nearer(case: Case, state: str) -> dict[str, Law]:
    """Return the temperatures of a state half as far from that of assembly, where any are."""
    at_assembly = case.laws[_ASSEMBLY].mean
    beginnings = tuple(state_input(state, part) for part in ("fastener", "clamped"))
    return {
        name: law.scaled(HALF).shifted(HALF * at_assembly)
        for name, law in case.laws.items()
        if name in beginnings or name.startswith(f"{beginnings[1]}.")
        if law != Constant(at_assembly)
    }
