"""Strength, tightening and settling: the middle chapters of a derivation."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from preloadmc.joint import PLASTIC_METHODS, Inputs, Joint, State, control_factor, thread_friction
from preloadmc.joint.assembly import LATER_TORSION, total_compliance
from preloadmc.mechanics import control, hardening, losses, tightening
from preloadmc.questions.derive.torque import TORQUE_EQUATION
from preloadmc.steps import (
    Step,
    Value,
    angle,
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
from preloadmc.units import FORCE, LENGTH, PERCENT, SMALL_LENGTH, TORQUE, FloatLike

YIELD_SOURCE = "VDI 2230-1:2003, tension with torsion (from memory)"
HARDENING_SOURCE = "linear isotropic hardening with the von Mises criterion, an idealisation"


def strength_steps(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    """Preload at yield, at the tensile strength, and at yield once half the torsion is gone."""
    assembly = state.assembly
    torsion = 0.0 if joint.method == "hydraulic tensioning" else 1.0
    friction = thread_friction(joint, x)
    if torsion and friction is not None:
        yield Step(
            "Torque in the shank per preload",
            "a",
            "{P}/(2·π) + {mu_t}·{d_2}/(2·cos 30°)",
            (
                length("P", joint.thread.pitch),
                ratio("mu_t", friction),
                length("d_2", joint.thread.pitch_diameter),
            ),
            _arm(joint, friction),
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


def _arm(joint: Joint, friction: FloatLike) -> float:
    thread = joint.thread
    return float(tightening.thread_torque(1.0, thread.pitch, thread.pitch_diameter, friction, 0.0))


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
            length("a", _arm(joint, friction)),
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


def assembly_steps(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    """From what the method controls to the assembled preload F_M."""
    yield from _METHODS[joint.method](joint, x, state)


def _controlled(
    title: str,
    symbol: str,
    made: Callable[[str, FloatLike], Value],
    set_value: FloatLike,
    x: Inputs,
) -> tuple[Value, Iterator[Step]]:
    """Return what the tool really gives, and the step that says so where it is not the set one."""
    factor = float(control_factor(x))
    given = made(f"{symbol}_set", set_value)
    if factor == 1.0:
        return made(symbol, set_value), iter(())
    real = made(symbol, given.value * factor)
    step = Step(
        title,
        symbol,
        f"{{{given.symbol}}}·(1 + {{b}})·{{e}}",
        (given, percent("b", x["tightening.bias"]), ratio("e", x["tightening.tool"])),
        real.value,
        real.dimension,
        "mean of the tool: bias b, scatter about the set value e",
    )
    return real, iter((step,))


def _by_torque(
    joint: Joint, x: Inputs, state: State, title: str = "Assembled preload", symbol: str = "F_M"
) -> Iterator[Step]:
    given, steps = _controlled("Torque applied", "T", torque, x["tightening.torque"], x)
    yield from steps
    per_preload = state.assembly.per_preload
    assert per_preload is not None, "a torque makes preload by it"
    prevailing = x["tightening.prevailing_torque"]
    yield Step(
        title,
        symbol,
        "({T} - {T_p})/{B}",
        (given, torque("T_p", prevailing), length("B", per_preload)),
        float(tightening.preload_from_torque(given.value, per_preload, prevailing)),
        FORCE,
        TORQUE_EQUATION,
    )


def _by_angle(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    snug = None
    for snug in _by_torque(joint, x, state, "Preload at the snug torque", "F_s"):
        yield snug
    assert snug is not None, "there is a snug torque"
    total = compliance("δ", total_compliance(x))
    turned = x["tightening.angle"] - x["tightening.seating_angle"]
    elastic = float(
        control.preload_after_angle(snug.value, turned, joint.thread.pitch, total.value)
    )
    yield Step(
        "Preload after the angle, were it elastic",
        "F_el",
        "{F_s} + ({θ} - {θ_0})/(360°)·{P}/{δ}",
        (
            force("F_s", snug.value),
            angle("θ", x["tightening.angle"]),
            angle("θ_0", x["tightening.seating_angle"]),
            length("P", joint.thread.pitch),
            total,
        ),
        elastic,
        FORCE,
        "helix of the thread on an elastic joint",
    )
    assembly = state.assembly
    assert assembly.yield_preload is not None, "the case file asks for strengths"
    assert assembly.capacity is not None, "the case file asks for strengths"
    preload, yields = float(assembly.preload), float(assembly.yield_preload)
    reached = force("F_el", elastic)
    if elastic <= yields:
        yield Step(
            "Assembled preload, below yield", "F_M", "{F_el}", (reached,), preload, FORCE, "elastic"
        )
        return
    yield from _hardening(joint, x, state)
    stretch = float(assembly.elongation_at_capacity or 0.0)
    capacity = float(assembly.capacity)
    values = (
        reached,
        force("F_y", yields),
        force("F_m", capacity),
        small("u_m", stretch),
        total,
    )
    yield Step(
        "Assembled preload past yield, at most F_m",
        "F_M",
        "min({F_y} + ({F_el} - {F_y})/(1 + {u_m}/(({F_m} - {F_y})·{δ})), {F_m})",
        values,
        preload,
        FORCE,
        HARDENING_SOURCE,
    )
    yield Step(
        "Plastic elongation",
        "u_p",
        "({F_el} - {F_M})·{δ}",
        (reached, force("F_M", preload), total),
        float(hardening.plastic_elongation_from_turn(elastic, preload, total.value)),
        SMALL_LENGTH,
        HARDENING_SOURCE,
    )


def _hardening(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    stretch = state.assembly.elongation_at_capacity
    assert stretch is not None, "a plastic method"
    yield Step(
        "Plastic elongation at the tensile strength",
        "u_m",
        "{ε}·{l}",
        (percent("ε", x["fastener.plastic_strain"]), length("l", joint.weak_length)),
        float(stretch),
        SMALL_LENGTH,
        "plastic strain as stated, over the weakest length within the grip",
    )


def _by_yield_point(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    assembly = state.assembly
    assert assembly.yield_preload is not None, "the case file asks for strengths"
    assert assembly.capacity is not None, "the case file asks for strengths"
    yields, preload = force("F_y", assembly.yield_preload), force("F_M", assembly.preload)
    yield Step(
        "Assembled preload, where the tool stops",
        "F_M",
        "{r}·{F_y}",
        (ratio("r", x["tightening.detector_ratio"]), yields),
        preload.value,
        FORCE,
        "yield in tension with torsion, times the detector's ratio",
    )
    if preload.value <= yields.value or assembly.plastic_elongation is None:
        return
    yield from _hardening(joint, x, state)
    yield Step(
        "Plastic elongation",
        "u_p",
        "{u_m}·({F_M} - {F_y})/({F_m} - {F_y})",
        (
            small("u_m", assembly.elongation_at_capacity),
            preload,
            yields,
            force("F_m", assembly.capacity),
        ),
        float(assembly.plastic_elongation),
        SMALL_LENGTH,
        HARDENING_SOURCE,
    )


def _by_tensioner(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    given, steps = _controlled("Pump force applied", "Q", force, x["tightening.pump_force"], x)
    yield from steps
    yield Step(
        "Assembled preload, what the nut keeps of the pump force",
        "F_M",
        "{r}·{Q}",
        (ratio("r", x["tightening.transfer_ratio"]), given),
        float(state.assembly.preload),
        FORCE,
        "transfer ratio as stated in the case file",
    )


def _by_elongation(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    given, steps = _controlled("Elongation reached", "ΔL", small, x["tightening.elongation"], x)
    yield from steps
    yield Step(
        "Assembled preload",
        "F_M",
        "{ΔL}/{δ_S}",
        (given, compliance("δ_S", x["joint.fastener_compliance"])),
        float(state.assembly.preload),
        FORCE,
        "Shigley, 9th ed., Sec. 8-7",
    )


def _as_stated(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    yield Step(
        "Assembled preload",
        "F_M",
        "",
        (),
        float(state.assembly.preload),
        FORCE,
        "as stated in the case file",
    )


_METHODS: dict[str, Callable[[Joint, Inputs, State], Iterator[Step]]] = {
    "torque": _by_torque,
    "torque then angle": _by_angle,
    "yield point sensed": _by_yield_point,
    "hydraulic tensioning": _by_tensioner,
    "elongation measured": _by_elongation,
    "pulse or impact": _by_torque,
    "stated scatter": _as_stated,
}


def settling_steps(x: Inputs, state: State) -> Iterator[Step]:
    """What embedding and relaxation take."""
    assembled = force("F_M", state.assembly.preload)
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
            "{F_Z}/{F_M}",
            (lost, assembled),
            lost.value / assembled.value,
            PERCENT,
            "ratio",
        )
    yield Step(
        "Settled preload",
        "F_V",
        "({F_M} - {F_Z})·(1 - {r})",
        (assembled, lost, percent("r", x["settling.relaxation"])),
        float(state.settled),
        FORCE,
        "embedding first, then a share that relaxes",
    )


def torsion_step(state: State, joint: Joint, x: Inputs) -> Iterator[Step]:
    """Torque that twisted the fastener in tightening."""
    friction = thread_friction(joint, x)
    if joint.method == "hydraulic tensioning" or friction is None:
        return
    yield Step(
        "Torque in the shank while tightening",
        "T_th",
        "{F_M}·{a} + {T_p}",
        (
            force("F_M", state.assembly.preload),
            length("a", _arm(joint, friction)),
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
        "A method that is meant to go past yield." if joint.method in PLASTIC_METHODS else "",
    )
