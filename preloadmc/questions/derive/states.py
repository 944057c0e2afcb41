"""Temperature states, loads and the window: the last chapters of a derivation."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from preloadmc.case import Case
from preloadmc.joint import (
    SETTLED,
    Inputs,
    Joint,
    JudgedState,
    State,
    preload_for_no_separation,
    preload_for_no_slip,
    temperature_of_fastener,
    temperature_of_layer,
)
from preloadmc.joint.assembly import LATER_TORSION
from preloadmc.joint.judged_state import warmed
from preloadmc.limits import MINIMUM_CLAMP, MINIMUM_CLAMP_INPUT, LimitKind, minimum_kinds
from preloadmc.mechanics import service, stress
from preloadmc.steps import (
    Step,
    Value,
    area,
    compliance,
    expansion,
    force,
    length,
    percent,
    ratio,
    small,
    temperature,
    torque,
)
from preloadmc.units import COMPLIANCE, FORCE, RATIO, SMALL_LENGTH, STRESS

THERMAL_SOURCE = "VDI 2230-1:2003, Sec. 5.4.2.3 (from memory)"
SERVICE_SOURCE = "Shigley, 9th ed., eqs. 8-24 and 8-25"


def state_steps(case: Case, x: Inputs, state: State, judged: JudgedState) -> Iterator[Step]:
    """From the settled preload to that of one state, and what its loads make of it."""
    joint = case.joint
    before = _before(joint, state, judged)
    if joint.state_of(judged.name) == SETTLED:
        first = before
    else:
        first = force("F" if judged.lost == 0.0 else "F_1", judged.largest)
        if joint.direct_thermal_change:
            yield Step(
                "Preload in service",
                first.symbol,
                f"{{{before.symbol}}} + {{ΔF}}",
                (before, force("ΔF", x["temperature.thermal_change"])),
                first.value,
                FORCE,
                "change with temperature as stated in the case file",
            )
        else:
            yield from _thermal(joint, x, before, judged, first)
    yield from _what_yields(state, judged, first, judged.name in joint.once)
    yield from _loads(joint, x, state, judged, first)


def _what_yields(state: State, judged: JudgedState, first: Value, is_once: bool) -> Iterator[Step]:
    """What yield of the fastener, in this state or in another, takes off the preload."""
    if judged.lost == 0.0:
        return
    if judged.axial is not None and float(judged.preload) < 0.0:
        yield Step(
            "Preload left where the axial load alone is more than the fastener bears",
            "F",
            "",
            (),
            0.0,
            FORCE,
            "equilibrium: it stretches on under the load",
        )
        return
    joint = compliance("δ_T", judged.compliance)
    beyond = force("F_Y", judged.yields_at)
    yield _yields_step(state, judged, beyond)
    if first.value > beyond.value:
        yield Step(
            "Plastic elongation that this state asks for",
            "u",
            "({" + first.symbol + "} - {F_Y})·{δ_T}",
            (first, beyond, joint),
            (first.value - beyond.value) * joint.value,
            SMALL_LENGTH,
            "no hardening beyond the force reached before, an idealisation",
        )
    yield Step(
        "Preload that is left" if is_once else "Preload once the states have come again and again",
        "F",
        "{" + first.symbol + "} - {u_p}/{δ_T}",
        (first, small("u_p", judged.lost), joint),
        float(judged.preload),
        FORCE,
        "elastic unloading after the largest plastic elongation",
        "u_p: plastic elongation in the state that asks for most"
        + (", of those up to this one." if is_once else "."),
    )


def _yields_step(state: State, judged: JudgedState, yields: Value) -> Step:
    """Preload at which the fastener yields in a state."""
    values: list[Value] = [
        force("F_y2", state.assembly.later_yield),
        force("F_t", state.assembly.peak),
        ratio("e_y", judged.strength_left),
    ]
    formula = "max({F_y2}, {F_t})·{e_y}"
    if judged.axial is not None:
        formula += " - {Φ}·max({F_A}, 0)"
        values += [percent("Φ", judged.load_share), force("F_A", judged.axial)]
    return Step(
        "Preload at which the fastener yields in this state",
        "F_Y",
        formula,
        tuple(values),
        yields.value,
        FORCE,
        "yield with half of the torsion, or the force that tightening reached",
        "F_t: largest force of tightening; e_y: strength at temperature over that at 20 °C.",
    )


def _before(joint: Joint, state: State, judged: JudgedState) -> Value:
    """Return the preload at the temperature of assembly that a state comes from."""
    is_later = joint.state_of(judged.name) != judged.name
    return force("F_t", judged.from_) if is_later else force("F_V", state.settled)


def _thermal(
    joint: Joint, x: Inputs, before: Value, judged: JudgedState, first: Value
) -> Iterator[Step]:
    warm = warmed(joint, x, judged.name)
    cold = temperature("t_0", x["temperature.assembly"])
    fastener = temperature("t_S", temperature_of_fastener(joint, x, judged.name))
    material = joint.fastener_material
    yield Step(
        "Free growth of the fastener over the grip",
        "g_S",
        "{α_S}·{l_K}·({t_S} - {t_0})",
        (
            expansion("α_S", material.expansion),
            length("l_K", joint.clamp_length),
            fastener,
            cold,
        ),
        float(warm.stretch),
        SMALL_LENGTH,
        THERMAL_SOURCE,
    )
    grown, soft = [], []
    values: list[Value] = [cold]
    springs: list[Value] = [
        compliance("δ_S", x["joint.fastener_compliance"]),
        ratio("e_S", material.modulus_ratio(cold.value, fastener.value)),
    ]
    for place, (part, share) in enumerate(zip(joint.parts, joint.part_shares, strict=True), 1):
        at = temperature(f"t_{place}", temperature_of_layer(joint, x, judged.name, place))
        grown.append(f"{{α_{place}}}·{{l_{place}}}·({{t_{place}}} - {{t_0}})")
        values += [
            expansion(f"α_{place}", part.material.expansion),
            length(f"l_{place}", part.thickness),
            at,
        ]
        soft.append(f" + {{δ_P{place}}}/{{e_{place}}}")
        springs += [
            compliance(f"δ_P{place}", x["joint.clamped_compliance"] * share),
            ratio(f"e_{place}", part.material.modulus_ratio(cold.value, at.value)),
        ]
    yield Step(
        "Free growth of the parts",
        "g_P",
        " + ".join(grown),
        tuple(values),
        float(warm.growth),
        SMALL_LENGTH,
        THERMAL_SOURCE,
    )
    yield Step(
        "Compliance at temperature",
        "δ_T",
        "{δ_S}/{e_S}" + "".join(soft),
        tuple(springs),
        float(warm.compliance),
        COMPLIANCE,
        "e: modulus at the state's temperature over that at assembly",
    )
    yield Step(
        "Preload in this state" + ("" if judged.lost == 0.0 else ", the first time"),
        first.symbol,
        f"({{{before.symbol}}}·{{δ}} + {{g_P}} - {{g_S}})/{{δ_T}}",
        (
            before,
            compliance("δ", x["joint.fastener_compliance"] + x["joint.clamped_compliance"]),
            small("g_P", warm.growth),
            small("g_S", warm.stretch),
            compliance("δ_T", warm.compliance),
        ),
        first.value,
        FORCE,
        THERMAL_SOURCE,
    )


def _loads(
    joint: Joint, x: Inputs, state: State, judged: JudgedState, first: Value
) -> Iterator[Step]:
    preload = first if judged.lost == 0.0 else force("F", max(float(judged.preload), 0.0))
    share = percent("Φ", 0.0 if judged.load_share is None else judged.load_share)
    axial = force("F_A", 0.0 if judged.axial is None else judged.axial)
    if judged.axial is not None:
        if joint.state_of(judged.name) != SETTLED and not joint.direct_thermal_change:
            yield from _load_share_at_temperature(joint, x, judged, share)
        yield from _axial(joint, x, state, judged, (first, preload), share, axial)
    if judged.transverse is not None and judged.joint_friction is not None:
        needed = float(preload_for_no_slip(joint, judged))
        formula = "{F_Q}/({mu_j}·{n_s})"
        values = [
            force("F_Q", abs(float(judged.transverse))),
            ratio("mu_j", judged.joint_friction),
            ratio("n_s", joint.slip_faces),
        ]
        if judged.axial is not None:
            formula += " + (1 - {Φ})·{F_A}"
            values += [share, axial]
        yield Step(
            "Preload that keeps the parts from slipping",
            "F_slip",
            formula,
            tuple(values),
            needed,
            FORCE,
            "VDI 2230-1:2003, step R2 (from memory)",
        )


def _axial(
    joint: Joint,
    x: Inputs,
    state: State,
    judged: JudgedState,
    preloads: tuple[Value, Value],
    share: Value,
    axial: Value,
) -> Iterator[Step]:
    first, least = preloads
    yield Step(
        "Clamp force left under the axial load",
        "F_K",
        "max({" + least.symbol + "} - (1 - {Φ})·{F_A}, 0, -{F_A})",
        (least, share, axial),
        float(service.clamp_force(least.value, axial.value, share.value)),
        FORCE,
        SERVICE_SOURCE,
    )
    pulled = force("F_S", judged.fastener_force)
    yield Step(
        "Force in the fastener under the axial load",
        "F_S",
        "max({" + first.symbol + "} + {Φ}·{F_A}, {F_A}, 0)",
        (first, share, axial),
        pulled.value,
        FORCE,
        f"{SERVICE_SOURCE}; once the parts have separated, equilibrium",
    )
    yield Step(
        "Preload that keeps the parts together",
        "F_sep",
        "(1 - {Φ})·{F_A}",
        (share, axial),
        float(preload_for_no_separation(judged)),
        FORCE,
        "Shigley, 9th ed., eq. 8-30 with a factor of one",
    )
    if "fastener.yield_strength" in x:
        section, twist = joint.section, state.assembly.thread_torque
        yield Step(
            "Stress of the fastener under the axial load",
            "σ",
            "sqrt(({F_S}/{A_0})² + 3·({k}·16·{T_th}/(π·{d_0}³))²)",
            (
                pulled,
                area("A_0", section.area),
                ratio("k", LATER_TORSION),
                torque("T_th", twist),
                length("d_0", section.diameter),
            ),
            float(
                stress.surface_stress(
                    pulled.value, twist, section.area, section.diameter, LATER_TORSION
                )
            ),
            STRESS,
            "VDI 2230-1:2003, step R8 (from memory)",
            "Half the torque of tightening is left, on the elastic section."
            if joint.method.twists
            else "",
        )


def _load_share_at_temperature(
    joint: Joint, x: Inputs, judged: JudgedState, share: Value
) -> Iterator[Step]:
    """Load factor with the compliances of the state."""
    warm = warmed(joint, x, judged.name)
    yield Step(
        "Load factor at temperature",
        "Φ",
        "{n}·{δ_PT}/({δ_ST} + {δ_PT})",
        (
            ratio("n", joint.load_introduction),
            compliance("δ_PT", warm.clamped_compliance),
            compliance("δ_ST", warm.fastener_compliance),
        ),
        share.value,
        RATIO,
        "as for the settled joint, with the compliances at temperature",
    )


def load_share_steps(joint: Joint, x: Inputs, state: State) -> Iterator[Step]:
    """Load factor, where a load pulls."""
    shares = [judged.load_share for judged in state.judged if judged.load_share is not None]
    if shares:
        parts = compliance("δ_P", x["joint.clamped_compliance"])
        yield Step(
            "Load factor: share of an axial load that the fastener takes",
            "Φ",
            "{n}·{δ_P}/({δ_S} + {δ_P})",
            (
                ratio("n", joint.load_introduction),
                parts,
                compliance("δ_S", x["joint.fastener_compliance"]),
            ),
            float(shares[0]),
            RATIO,
            "VDI 2230-1:2003; with n = 1 Shigley, 9th ed., eq. (f), p. 436",
        )


def window_steps(case: Case, x: Inputs, state: State) -> Iterator[Step]:
    """The smallest and the largest preload that the requirement allows."""
    for kind in minimum_kinds(case.requirement, x):
        yield from _clamp(x, state) if kind is MINIMUM_CLAMP else _minimum(case, x, state, kind)
    yield from _maximum(case, x, state)


def _minimum(case: Case, x: Inputs, state: State, kind: LimitKind) -> Iterator[Step]:
    if kind.needed is None:
        yield Step(
            "Minimum preload",
            "F_min",
            "",
            (),
            float(x["requirement.minimum_preload"]),
            FORCE,
            "as stated in the case file, or as listed among its assumptions",
        )
        return
    needed = tuple(
        force(f"F_{kind.name},{place}", kind.needed(case.joint, judged))
        for place, judged in enumerate(state.judged, 1)
    )
    yield Step(
        f"Minimum preload, from {case.requirement.minimum_from}, in the state that asks most",
        "F_min",
        _largest(needed),
        needed,
        max(value.value for value in needed),
        FORCE,
        "the largest over the states",
        _numbered(state),
    )


def _clamp(x: Inputs, state: State) -> Iterator[Step]:
    """The preload that leaves the minimum clamp force under the axial load."""
    least = force("F_K", x[MINIMUM_CLAMP_INPUT])
    lost = tuple(
        force(f"F_P,{place}", preload_for_no_separation(judged))
        for place, judged in enumerate(state.judged, 1)
    )
    yield Step(
        "Minimum preload, from the minimum clamp force, in the state that asks most",
        "F_min,K",
        f"{{F_K}} + {_largest(lost)}",
        (least, *lost),
        least.value + max(value.value for value in lost),
        FORCE,
        f"F_P: what the parts lose of their clamp force to the axial load; {SERVICE_SOURCE}",
        _numbered(state),
    )


def _largest(values: Sequence[Value]) -> str:
    names = ", ".join(f"{{{value.symbol}}}" for value in values)
    return f"max({names})" if len(values) > 1 else names


def _numbered(state: State) -> str:
    names = ", ".join(f"{place} {judged.name}" for place, judged in enumerate(state.judged, 1))
    return f"States: {names}. Each state is judged on its own need."


def _maximum(case: Case, x: Inputs, state: State) -> Iterator[Step]:
    requirement, assembly = case.requirement, state.assembly
    if requirement.maximum_from == "stated":
        yield Step(
            "Maximum preload",
            "F_max",
            "",
            (),
            float(x["requirement.maximum_preload"]),
            FORCE,
            "as stated in the case file",
        )
    if requirement.maximum_from != "yield" or assembly.yield_preload is None:
        return
    rows = [("while tightening", "F_max", "F_y", assembly.yield_preload)]
    if assembly.later_yield is not None:
        rows.append(("in later states", "F_max2", "F_y2", assembly.later_yield))
    for when, symbol, name, value in rows:
        yields = force(name, value)
        yield Step(
            f"Maximum preload {when}",
            symbol,
            f"{{ν}}·{{{name}}}",
            (percent("ν", requirement.yield_fraction), yields),
            requirement.yield_fraction * yields.value,
            FORCE,
            "share of the yield preload, from [requirement]",
        )
