"""The first chapters of a derivation: the thread, and where the torque goes."""

from __future__ import annotations

import math
from collections.abc import Iterator

from preloadmc.case import Case
from preloadmc.joint import (
    THREAD_ARM,
    Assembly,
    Inputs,
    Joint,
    thread_friction,
    torque_per_preload_step,
)
from preloadmc.joint.quantities import friction_now
from preloadmc.mechanics import tightening
from preloadmc.mechanics.tightening import TORQUE_EQUATION
from preloadmc.steps import Step, Value, area, length, ratio
from preloadmc.units import AREA, LENGTH, PERCENT, RATIO


def thread_steps(joint: Joint) -> Iterator[Step]:
    """Thread geometry and the section that carries the preload."""
    thread = joint.thread
    d, pitch = length("d", thread.diameter), length("P", thread.pitch)
    iso = thread.series.startswith("ISO")
    standard = "ISO 68-1 and ISO 724" if iso else "ASME B1.1"
    yield Step(
        "Pitch diameter",
        "d_2",
        "{d} - 0.649519·{P}",
        (d, pitch),
        thread.pitch_diameter,
        LENGTH,
        standard,
    )
    if iso:
        yield Step(
            "Core diameter",
            "d_3",
            "{d} - 1.226869·{P}",
            (d, pitch),
            thread.core_diameter,
            LENGTH,
            standard,
        )
        values = (length("d_2", thread.pitch_diameter), length("d_3", thread.core_diameter))
        formula, standard = "π/4·(({d_2} + {d_3})/2)²", "ISO 898-1"
    else:
        values, formula = (d, pitch), "π/4·({d} - 0.974279·{P})²"
    yield Step("Stress area", "A_s", formula, values, thread.stress_area, AREA, standard)
    section = joint.section
    if section.area < thread.stress_area:
        yield Step(
            "Smallest section, a plain length",
            "A_0",
            "π/4·{d_0}²",
            (length("d_0", section.diameter),),
            section.area,
            AREA,
            "VDI 2230-1:2003",
        )
    else:
        yield Step(
            "Diameter of the smallest section, the thread (A_0 = A_s)",
            "d_0",
            "sqrt(4·{A_s}/π)",
            (area("A_s", section.area),),
            section.diameter,
            LENGTH,
            "VDI 2230-1:2003",
        )


def torque_steps(case: Case, x: Inputs, assembly: Assembly) -> Iterator[Step]:
    """Torque per preload, its three terms, the nut factor."""
    joint, thread = case.joint, case.joint.thread
    if assembly.per_preload is None:
        return
    assumed = {item.path for item in case.assumptions}
    geometry = joint.geometry
    if "fastener.bearing_diameter" in assumed:
        assert geometry.turned_face is not None, "the mean diameter was made from it"
        yield Step(
            "Effective diameter of bearing friction",
            "D_b",
            "({D_o} + {d_h})/2",
            (length("D_o", geometry.turned_face), length("d_h", geometry.turned_hole)),
            float(x["fastener.bearing_diameter"]),
            LENGTH,
            "ISO 16047:2005, uniform wear",
        )
    per_preload = length("B", assembly.per_preload)
    yield torque_per_preload_step(joint, x)
    friction = thread_friction(joint, x)
    if joint.uses_nut_factor and "friction.thread" not in x and friction is not None:
        yield from _equal_friction_steps(joint, x, float(friction))
    pitch, d_2 = length("P", thread.pitch), length("d_2", thread.pitch_diameter)
    if friction is not None:
        yield from _shares(pitch, d_2, float(friction), per_preload)
    yield Step(
        "Nut factor" if case.joint.geometry.has_nut else "Torque coefficient",
        "K",
        "{B}/{d}",
        (per_preload, length("d", thread.diameter)),
        per_preload.value / thread.diameter,
        RATIO,
        "Shigley, 9th ed., eq. 8-27",
    )


def _equal_friction_steps(joint: Joint, x: Inputs, friction: float) -> Iterator[Step]:
    """Friction, alike in thread and seat: the smaller root of a quadratic equation."""
    thread = joint.thread
    pitch, d_2 = length("P", thread.pitch), length("d_2", thread.pitch_diameter)
    seat = length("D_b", float(x["fastener.bearing_diameter"]) * joint.seat_factor)
    plain = length(
        "B",
        float(
            tightening.torque_per_preload_from_nut_factor(
                friction_now(joint, x, "friction.nut_factor"), thread.diameter
            )
        ),
    )
    cosine = tightening.COS_HALF_FLANK_ANGLE
    steep = pitch.value / (math.pi * d_2.value * cosine)
    known = length("c", plain.value - pitch.value / (2 * math.pi))
    lever = length("b", d_2.value / (2 * cosine) + seat.value / 2 + plain.value * steep)
    yield Step(
        "Torque per preload beyond the pitch term",
        "c",
        "{B} - {P}/(2·π)",
        (plain, pitch),
        known.value,
        LENGTH,
        TORQUE_EQUATION,
    )
    yield Step(
        "Lever of friction in thread and seat",
        "b",
        "{d_2}/(2·cos 30°) + {D_b}/2 + {B}·{P}/(π·{d_2}·cos 30°)",
        (plain, pitch, d_2, seat),
        lever.value,
        LENGTH,
        TORQUE_EQUATION,
    )
    yield Step(
        "Friction that the nut factor stands for, equal in thread and seat",
        "mu_t",
        "2·{c}/({b} + sqrt({b}² - 2·{c}·{D_b}·{P}/(π·{d_2}·cos 30°)))",
        (known, lever, seat, pitch, d_2),
        friction,
        RATIO,
        TORQUE_EQUATION,
        "An assumption: thread and seat alike, which makes the torque equation quadratic.",
    )


def _shares(pitch: Value, d_2: Value, friction: float, per_preload: Value) -> Iterator[Step]:
    found = tightening.torque_shares(per_preload.value, pitch.value, d_2.value, friction)
    yield Step(
        "Share of the torque that stretches the fastener",
        "s_P",
        "{P}/(2·π)/{B}",
        (pitch, per_preload),
        float(found.pitch),
        PERCENT,
        TORQUE_EQUATION,
    )
    yield Step(
        "Share lost to friction in the thread",
        "s_t",
        f"({THREAD_ARM} - {{P}}/(2·π))/{{B}}",
        (pitch, ratio("mu_t", friction), d_2, per_preload),
        float(found.thread),
        PERCENT,
        TORQUE_EQUATION,
    )
    yield Step(
        "Share lost to friction in the seat",
        "s_b",
        "1 - {s_P} - {s_t}",
        (Value("s_P", float(found.pitch), PERCENT), Value("s_t", float(found.thread), PERCENT)),
        float(found.bearing),
        PERCENT,
        TORQUE_EQUATION,
    )
