"""Strength, tightening and settling: the middle chapters of a derivation."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.joint import (
    THREAD_ARM,
    Inputs,
    Joint,
    State,
    thread_friction,
    thread_torque_per_preload,
    total_compliance,
)
from preloadmc.joint.assembly import LATER_TORSION
from preloadmc.mechanics import losses
from preloadmc.mechanics.tightening import TORQUE_EQUATION
from preloadmc.steps import (
    Step,
    Value,
    area,
    compliance,
    force,
    length,
    percent,
    ratio,
    small,
    stress,
    torque,
)
from preloadmc.units import FORCE, LENGTH, PERCENT, TORQUE, FloatLike

YIELD_SOURCE = "VDI 2230-1:2003, tension with torsion (from memory)"


def strength_steps(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    """Preload at yield, at the tensile strength, and at yield once half the torsion is gone."""
    assembly = state.assembly
    torsion = 1.0 if joint.method.twists else 0.0
    friction = thread_friction(joint, x)
    if torsion and friction is not None:
        yield Step(
            "Torque in the shank per preload",
            "a",
            THREAD_ARM,
            (
                length("P", joint.thread.pitch),
                ratio("mu_t", friction),
                length("d_2", joint.thread.pitch_diameter),
            ),
            float(thread_torque_per_preload(joint, friction)),
            LENGTH,
            TORQUE_EQUATION,
        )
    later = torsion * LATER_TORSION
    rows = (
        ("Preload at yield while tightening", "F_y", assembly.yield_preload, "R_p", torsion),
        ("Preload at which the fastener breaks", "F_m", assembly.capacity, "R_m", torsion),
        ("Preload at yield in later states", "F_y2", assembly.later_yield, "R_p", later),
    )
    for title, symbol, value, strength, share in rows:
        if value is not None:
            name = "yield_strength" if strength == "R_p" else "tensile_strength"
            resists = stress(strength, x[f"fastener.{name}"])
            yield _strength(joint, x, title, symbol, float(value), resists, share, friction)


def _strength(
    joint: Joint,
    x: Inputs,
    title: str,
    symbol: str,
    value: float,
    resists: Value,
    share: float,
    friction: FloatLike | None,
) -> Step:
    carried = area("A_0", joint.section.area)
    values: tuple[Value, ...] = (carried, resists)
    formula, note = f"{{A_0}}·{{{resists.symbol}}}", "No torsion: the fastener is pulled."
    if share > 0.0:
        assert friction is not None, "torsion needs it"
        twist = (
            ratio("k", share),
            length("a", float(thread_torque_per_preload(joint, friction))),
            length("d_0", joint.section.diameter),
        )
        values = (carried, resists, *twist)
        note = f"k = {share:g} of the torque twists the fully plastic section."
        bend = "3·(3·{k}·{a}/{d_0})²"
        prevailing = float(x["tightening.prevailing_torque"])
        if prevailing > 0.0:
            values = (*values, torque("T_p", prevailing))
            still = "3·(3·{k}·{T_p}/{d_0})²"
            formula = (
                f"(sqrt(({formula})²·(1 + {bend}) - {still})"
                f" - 27·{{k}}²·{{a}}·{{T_p}}/{{d_0}}²)/(1 + {bend})"
            )
        else:
            formula = f"{formula}/sqrt(1 + {bend})"
    return Step(title, symbol, formula, values, value, FORCE, YIELD_SOURCE, note)


def settling_steps(x: Inputs, state: State) -> Iterator[Step]:
    """What embedding and relaxation take."""
    symbol = "F_N" if state.has_neighbours else "F_M"
    assembled = force(symbol, state.all_tightened)
    embedding = small("f_Z", x["settling.embedding"])
    total = compliance("δ", total_compliance(x))
    lost = force("F_Z", losses.embedding_force(embedding.value, total.value))
    yield Step(
        "Preload lost as the interfaces embed",
        "F_Z",
        "{f_Z}/{δ}",
        (embedding, total),
        lost.value,
        FORCE,
        "VDI 2230-1:2003 (form from memory)",
    )
    if assembled.value > 0.0:
        yield Step(
            "Share of the preload lost to embedding",
            "z",
            "{F_Z}/{" + symbol + "}",
            (lost, assembled),
            lost.value / assembled.value,
            PERCENT,
            "ratio",
        )
    yield Step(
        "Settled preload",
        "F_V",
        "({" + symbol + "} - {F_Z})·(1 - {r})",
        (assembled, lost, percent("r", x["settling.relaxation"])),
        float(state.settled),
        FORCE,
        "embedding first, then a share that relaxes",
    )


def torsion_step(state: State, joint: Joint, x: Inputs) -> Iterator[Step]:
    """Torque that twisted the fastener in tightening."""
    friction = thread_friction(joint, x)
    if not joint.method.twists or friction is None:
        return
    yield Step(
        "Torque in the shank while tightening",
        "T_th",
        "{F_M}·{a} + {T_p}",
        (
            force("F_M", state.assembly.preload),
            length("a", float(thread_torque_per_preload(joint, friction))),
            torque("T_p", x["tightening.prevailing_torque"]),
        ),
        float(state.assembly.thread_torque),
        TORQUE,
        TORQUE_EQUATION,
    )


def reached_step(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    """Share of the yield preload that tightening uses."""
    yields = state.assembly.yield_preload
    if yields is None:
        return
    peak = force("F", state.assembly.peak)
    yield Step(
        "Use of the yield preload in tightening",
        "ν",
        "{F}/{F_y}",
        (peak, force("F_y", yields)),
        peak.value / float(yields),
        PERCENT,
        "the largest force of tightening over yield",
        "A method that is meant to go past yield." if joint.method.passes_yield else "",
    )
