"""Tightening to a measured elongation of the fastener."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from preloadmc.joint.facts import Control, Joint, Method
from preloadmc.joint.methods.controlled import controlled
from preloadmc.joint.methods.past_yield import held_step
from preloadmc.joint.quantities import control_factor
from preloadmc.joint.shape import measured_terms
from preloadmc.joint.tightened import Assembly, Basis, Inputs, Tightened
from preloadmc.mechanics import control
from preloadmc.mechanics.fastener import LENGTHS_SOURCE
from preloadmc.steps import Step, Value, area, compliance, force, length, small, stress
from preloadmc.units import COMPLIANCE, FORCE, FloatLike


def tighten(joint: Joint, x: Inputs, basis: Basis) -> Tightened:
    """Stretch the fastener by the elongation that is reached.

    It is meant to stay elastic: past yield, where nothing is known of it, it is held at yield.
    """
    elongation = x["tightening.elongation"] * control_factor(x)
    elastic = control.preload_from_elongation(elongation, measured_compliance(joint, x))
    if basis.yield_preload is None:
        return Tightened(elastic)
    return Tightened(np.minimum(elastic, basis.yield_preload), as_elastic=elastic)


def measured_compliance(joint: Joint, x: Inputs) -> FloatLike:
    """Return the compliance over which the elongation is measured [mm/N]."""
    return joint.measured_share * x["joint.fastener_compliance"]


def steps(joint: Joint, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """Elongation reached, and the preload that goes with it."""
    given, before = controlled("Elongation reached", "ΔL", small, x["tightening.elongation"], x)
    yield from before
    measured = compliance("δ_S", x["joint.fastener_compliance"])
    if joint.measured_share != 1.0:
        terms = measured_terms(
            joint.geometry, joint.thread, joint.fastener_material, joint.parts, joint.gauge_length
        )
        values: list[Value] = [stress("E", joint.fastener_material.modulus)]
        for place, term in enumerate(terms, 1):
            values += [length(f"l_{place}", term.length), area(f"A_{place}", term.area)]
        places = range(1, len(terms) + 1)
        measured = compliance("δ_m", measured_compliance(joint, x))
        over = "between the ends" if joint.gauge_length is None else "over the gauge length"
        yield Step(
            f"Compliance of the fastener {over}",
            "δ_m",
            f"({' + '.join(f'{{l_{place}}}/{{A_{place}}}' for place in places)})/{{E}}",
            tuple(values),
            measured.value,
            COMPLIANCE,
            LENGTHS_SOURCE,
            "From the head on: " + ", ".join(term.name for term in terms) + ".",
        )
    made = assembly.preload if assembly.as_elastic is None else assembly.as_elastic
    elastic = force("F_M", made)
    past_yield = elastic.value > float(assembly.preload)
    if past_yield:
        elastic = force("F_el", made)
    yield Step(
        "Preload of that elongation, were it elastic" if past_yield else "Assembled preload",
        elastic.symbol,
        f"{{ΔL}}/{{{measured.symbol}}}",
        (given, measured),
        elastic.value,
        FORCE,
        "Shigley, 9th ed., Sec. 8-7",
    )
    if past_yield:
        yield held_step(elastic, assembly)


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
