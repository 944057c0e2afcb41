"""Fatigue in one state by hand: the load range, its stresses, and what the thread bears."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint import Inputs, Joint, JudgedState, LoadRange, load_range
from preloadmc.mechanics import fatigue
from preloadmc.questions.derive.states import SERVICE_SOURCE
from preloadmc.steps import Step, area, force, percent, ratio, stress
from preloadmc.units import FORCE, STRESS


def fatigue_steps(joint: Joint, x: Inputs, judged: JudgedState) -> Iterator[Step]:
    """Yield the steps from the load range to the amplitude borne; none where no load repeats."""
    found = load_range(joint, x, judged)
    if found is None or joint.fatigue is None:
        return
    share, section = percent("Φ", judged.load_share), area("A_s", joint.thread.stress_area)
    preload = force("F_R", max(float(judged.preload), 0.0))
    forces = []
    for symbol, load, value, where in (
        ("F_So", force("F_A", judged.axial), found.loaded, "at the axial load stated"),
        ("F_Su", force("F_Au", found.axial_relieved), found.relieved, "at the other end"),
    ):
        pulled = force(symbol, value)
        forces.append(pulled)
        yield Step(
            f"Force in the fastener {where} of the range",
            symbol,
            f"max({{F_R}} + {{Φ}}·{{{load.symbol}}}, {{{load.symbol}}}, 0)",
            (preload, share, load),
            pulled.value,
            FORCE,
            f"{SERVICE_SOURCE}; once the parts have separated, equilibrium",
            "F_R: the preload left once the states have come again and again.",
        )
    lower, upper = sorted(forces, key=lambda each: each.value)
    yield Step(
        "Stress amplitude",
        "σ_a",
        f"({{{upper.symbol}}} - {{{lower.symbol}}})/(2·{{A_s}})",
        (*forces, section),
        float(found.amplitude),
        STRESS,
        "Shigley, 9th ed., Sec. 8-11; VDI 2230-1:2003, step R9 (from memory)",
    )
    yield Step(
        "Mean stress",
        "σ_m",
        "({F_So} + {F_Su})/(2·{A_s})",
        (*forces, section),
        float(found.mean),
        STRESS,
        "mean of both ends of the range",
    )
    yield from _borne(joint, x, judged, found)


def _borne(joint: Joint, x: Inputs, judged: JudgedState, found: LoadRange) -> Iterator[Step]:
    assert joint.fatigue is not None, "asked for where a load comes again and again"
    facts = joint.fatigue
    limit, mean = stress("σ_A", found.endurance), stress("σ_m", found.mean)
    yield Step(
        "Endurance limit, for the cycles stated and as hot as the thread is",
        "σ_A",
        "{σ_D}·{k_N}·{k_T}",
        (
            stress("σ_D", x["fatigue.endurance_limit"]),
            ratio("k_N", facts.life_factor),
            ratio("k_T", judged.strength_left),
        ),
        limit.value,
        STRESS,
        "k_N: cycles below 2e6; k_T: strength left with heat",
    )
    values = [limit]
    if facts.yield_force is None and facts.mean_stress == "none":
        return
    if facts.yield_force is not None:
        formula, source = "{σ_A}·(2 - max({σ_m}·{A_s}/{F_0.2min}, 0.3))", fatigue.VDI_SOURCE
        most = force("F_0.2min", facts.yield_force * judged.strength_left)
        values += [mean, area("A_s", joint.thread.stress_area), most]
    else:
        tensile = stress("R_m", x["fastener.tensile_strength"] * judged.strength_left)
        values += [mean, tensile]
        formula = "{σ_A}·(1 - {σ_m}/{R_m})"
        source = "Goodman: Shigley, 9th ed., Sec. 8-11"
        if facts.mean_stress == "Gerber":
            formula = "{σ_A}·(1 - ({σ_m}/{R_m})²)"
            source = "Gerber: Shigley, 9th ed., Sec. 8-11"
    yield Step(
        "Stress amplitude that the thread bears",
        "σ_b",
        formula,
        tuple(values),
        float(found.borne),
        STRESS,
        source,
    )
