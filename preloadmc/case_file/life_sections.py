"""The sections of the joint's life: [friction], [tightening], [settling], [temperature], [load]."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table
from preloadmc.case_file.tool_table import TOOL_KEYS, read_tool
from preloadmc.chance import spreads
from preloadmc.chance.laws import Constant, LogNormal, Normal
from preloadmc.inputs import layer_input, state_input
from preloadmc.joint import METHODS, Method
from preloadmc.mechanics import losses
from preloadmc.mechanics.scatter_table import typical_scatter
from preloadmc.units import FORCE, RATIO, SMALL_LENGTH, format_quantity


@dataclass(frozen=True, slots=True)
class LoadFacts:
    """What [load] says that is not a law."""

    slip_faces: int
    load_introduction: float


def read_friction(table: Table, draft: Draft, method: Method | None) -> bool:
    """Read [friction] with its correlation; return whether a nut factor is used."""
    thread, bearing, factor = "friction.thread", "friction.bearing", "friction.nut_factor"
    uses_nut_factor = "nut_factor" in table
    draft.read(table, "joint", "friction.joint")
    if uses_nut_factor:
        draft.read(table, "nut_factor", factor)
        if "bearing" in table:
            table.problem("bearing", "nothing: the nut factor holds the friction under the head")
        draft.read(table, "thread", thread)
    elif method is None or method.reads_friction:
        draft.require(table, "thread", thread, "thread friction, or a nut_factor for both")
        draft.require(table, "bearing", bearing, "friction under the head, or a nut_factor")
    else:
        draft.read(table, "thread", thread)
        draft.read(table, "bearing", bearing)
        if thread not in draft.laws and method.twists:
            table.missing("thread", "thread friction: it twists the fastener")
        elif thread not in draft.laws and bearing in draft.laws:
            table.missing("thread", "thread friction, which goes with that under the head")
    if method is not None and method.holds_friction:
        _hold_friction(draft)
    _correlation(table, draft, thread, factor if uses_nut_factor else bearing)
    table.close()
    return uses_nut_factor


def _hold_friction(draft: Draft) -> None:
    """A stated scatter already holds friction, which is then not sampled."""
    for name in ("friction.thread", "friction.bearing", "friction.nut_factor"):
        law = draft.laws.get(name)
        if law is not None and not isinstance(law, Constant):
            draft.laws[name] = Constant(law.mean)
            draft.assume(
                name, f"held at its mean, {law.mean:.4g}", "the stated scatter already holds it"
            )


def _correlation(table: Table, draft: Draft, first: str, second: str) -> None:
    laws = [draft.laws.get(name) for name in (first, second)]
    if "correlation" not in table:
        if None not in laws:
            draft.assume(table.at("correlation"), "0: frictions independent")
        return
    rho = table.quantity("correlation", RATIO, low=-0.999, high=0.999)
    if rho is None or draft.problems.has(first, second):
        return
    for name, law in zip((first, second), laws, strict=True):
        if law is None or isinstance(law, Constant):
            table.problem("correlation", f"nothing unless both scatter: {name} does not")
            return
    if rho:
        draft.correlations[first, second] = rho


# A tool this far off its set value on the average is worth a question.
FAR_OFF = 0.2


def read_tightening(table: Table, draft: Draft) -> Method | None:
    """Read [tightening]; return the method."""
    method = METHODS.get(table.choice("method", tuple(METHODS), None) or "")
    controls = () if method is None else method.controls
    for control in controls:
        given = table.raw(control.key)
        if control.typical and isinstance(given, Mapping) and "typical" in given:
            _read_typical(table.table(control.key), draft)
        elif control.default is None:
            draft.require(table, control.key, control.input, control.words)
        else:
            draft.read_or_assume(
                table, control.key, control.input, control.default, control.assumed
            )
    known = {control.key for control in controls}
    others = {control.key: control for each in METHODS.values() for control in each.controls}
    for key, control in others.items():
        if key in known or key not in table:
            continue
        if method is not None:
            table.problem(key, f"nothing: the method '{method.name}' does not control it")
        else:
            # Without a method none is known to belong, but what stands there can be read.
            draft.read(table, key, control.input)
    if method is not None and not method.has_tool:
        for key in ("bias", "tool"):
            if key in table:
                table.problem(key, f"nothing: the method '{method.name}' has no set value")
        draft.laws["tightening.bias"] = Constant(0.0)
        draft.laws["tightening.tool"] = Constant(1.0)
    else:
        draft.read_or_assume(table, "bias", "tightening.bias", 0.0, "0: no tool bias")
        _read_tool(table, draft)
    draft.read_or_assume(table, "prevailing_torque", "tightening.prevailing_torque", 0.0, "0: none")
    table.close()
    return method


def _read_typical(table: Table, draft: Draft) -> None:
    """Read a stated scatter as a row of the shipped table, asked for by name."""
    name = table.text("typical", "a row of the table of typical scatter")
    nominal = table.quantity("nominal", FORCE, above=0.0)
    coverage = table.choice("coverage", spreads.COVERAGES, None)
    end = table.choice("case", ("best", "worst"), "worst")
    if "nominal" not in table:
        table.missing("nominal", "the middle preload")
    table.close()
    try:
        row = typical_scatter(name)
    except ValueError as error:
        table.problem("typical", str(error))
        return
    if nominal is None or coverage is None:
        return
    half = row.high if end == "worst" else row.low
    sd = spreads.sd_from_half_width(half, coverage) * nominal
    draft.laws["tightening.preload"] = Normal(nominal, sd)
    draft.assume(
        table.path,
        f"normal, mean {format_quantity(nominal, FORCE)}, s.d. "
        f"{format_quantity(sd, FORCE, digits=3)}: '{row.name}', "
        f"+-{100 * half:.3g} % at its {end}, read as {coverage}",
        f"{row.source}; it does not say which share of joints the band holds",
    )


def _read_tool(table: Table, draft: Draft) -> None:
    """Read the tool's scatter about the set value, as a law or as it is bought and tested."""
    given = table.raw("tool")
    if isinstance(given, Mapping) and given.keys() & set(TOOL_KEYS):
        law = read_tool(table.table("tool"), draft)
        if law is not None:
            draft.laws["tightening.tool"] = law
    else:
        draft.read_or_assume(
            table, "tool", "tightening.tool", 1.0, "none: the tool repeats exactly", offset=1.0
        )
    law = draft.laws.get("tightening.tool")
    if law is not None and abs(law.mean - 1.0) > FAR_OFF:
        draft.warnings.append(
            f"tightening.tool is off the set value by {100 * (law.mean - 1.0):+.3g} % on the "
            "average; its mean is the share by which the tool is off, not a factor."
        )


def read_settling(
    table: Table, draft: Draft, layers: int, mate: str, extra_interfaces: int
) -> None:
    """Read [settling]."""
    name = "settling.embedding"
    given = table.raw("embedding")
    if isinstance(given, Mapping) and "roughness" in given:
        _embedding_from_roughness(table.table("embedding"), draft, layers, mate, extra_interfaces)
    else:
        draft.read_or_assume(table, "embedding", name, 0.0, "0: nothing embeds")
    draft.read_or_assume(table, "relaxation", "settling.relaxation", 0.0, "0: nothing relaxes")
    law = draft.laws.get("settling.relaxation")
    if law is not None and float(law.sf(1.0)) > NEGLIGIBLE_BELOW_ZERO:
        table.problem(
            "relaxation", "a share of the preload, below 1 (truncated normal stays there)"
        )
    table.close()


def _embedding_from_roughness(
    table: Table, draft: Draft, layers: int, mate: str, extra_interfaces: int
) -> None:
    """Embedding as a guide value: by roughness class, load direction and interfaces."""
    roughness = table.choice("roughness", losses.ROUGHNESS_CLASSES, None)
    direction = table.choice("load_direction", losses.LOAD_DIRECTIONS, None)
    coated = table.whole_number("coated_interfaces", 0, 20) or 0
    coating = table.quantity("per_coated_interface", SMALL_LENGTH, low=0.0)
    cov = table.quantity("cov", RATIO, above=0.0, high=2.0)
    table.close()
    if coated and coating is None:
        table.missing("per_coated_interface", "what each coated interface embeds on top")
    if roughness is None or direction is None:
        return
    if not layers:
        table.problem("roughness", "the [[clamped]] layers, which tell the number of interfaces")
        return
    seats = 2 if mate == "nut" else 1
    # The last interface of a tapped joint lies on the tapped part, which is no layer.
    inner = (layers - 1 if mate == "nut" else layers) + extra_interfaces
    value = losses.embedding_total(roughness, direction, seats, inner) + coated * (coating or 0.0)
    draft.laws["settling.embedding"] = (
        Constant(value) if cov is None else LogNormal(value, cov * value)
    )
    extra = f" and {coated} coated interfaces" if coated else ""
    scatter = "without scatter" if cov is None else f"lognormal with the given cov {100 * cov:g} %"
    draft.assume(
        table.path,
        f"{format_quantity(value, SMALL_LENGTH)}: thread, {seats} seats, {inner} inner "
        f"interfaces{extra}; {scatter}",
        losses.EMBEDDING_SOURCE,
    )


def read_temperature(table: Table, draft: Draft, layers: int) -> tuple[tuple[str, ...], bool]:
    """Read [temperature]; return its states' names, and whether a change is given directly."""
    states = table.tables("state")
    direct = "thermal_change" in table
    if direct:
        draft.read(table, "thermal_change", "temperature.thermal_change")
        draft.warnings.append(
            "temperature.thermal_change defines one service state, judged in place of the settled "
            "joint: a change that raises the preload hides a settled joint that is too loose."
        )
        if states:
            table.problem("state", "either a thermal_change as measured, or states")
    if states:
        draft.require(table, "assembly", "temperature.assembly", "the temperature at assembly")
        if "joint.compliance" in draft.laws:
            table.problems.add(
                "joint.compliance",
                None,
                "fastener_compliance and clamped_compliance apart: each softens with its own "
                "temperature, so their total is not enough",
            )
    else:
        draft.read(table, "assembly", "temperature.assembly")
    names: list[str] = []
    for state in states:
        name = state.text("name", "a name for the state")
        if not name:
            state.missing("name", "a name for the state")
            continue
        if name in (*names, "settled", "assembled", "assembly", "service", "residual"):
            state.problem("name", "a name of its own")
            continue
        if "." in name:
            state.problem("name", "a name without a full stop")
            continue
        names.append(name)
        what = "the temperature of the part"
        draft.require(state, "fastener", state_input(name, "fastener"), what)
        if isinstance(state.raw("clamped"), list):
            _layer_temperatures(state, draft, name, layers)
        else:
            draft.require(state, "clamped", state_input(name, "clamped"), what)
        for key in ("axial", "transverse", "joint_friction"):
            draft.read(state, key, state_input(name, key))
        state.close()
    table.close()
    return tuple(names), direct


def _layer_temperatures(state: Table, draft: Draft, name: str, layers: int) -> None:
    given = state.raw("clamped")
    if len(given) != layers:
        state.problem("clamped", f"one temperature for all, or a list of {layers}, one a layer")
        return
    each = Table(
        {f"{place}": item for place, item in enumerate(given, 1)},
        state.at("clamped"),
        state.problems,
    )
    for place in range(1, layers + 1):
        draft.read(each, f"{place}", layer_input(name, place))


def read_load(table: Table, draft: Draft) -> LoadFacts:
    """Read [load]; loads are per fastener."""
    draft.read(table, "axial", "load.axial")
    draft.read(table, "transverse", "load.transverse")
    faces = table.whole_number("slip_faces", 1, 20)
    introduction = table.quantity("load_introduction", RATIO, above=0.0, high=1.0)
    loads = [name for name in draft.laws if name.endswith((".axial", ".transverse"))]
    if faces is None and any(name.endswith(".transverse") for name in loads):
        draft.assume(table.at("slip_faces"), "1: one interface slips")
    if introduction is None and any(name.endswith(".axial") for name in loads):
        draft.assume(
            table.at("load_introduction"),
            "1: the load enters under head and nut",
            "the largest share for the fastener",
        )
    table.close()
    return LoadFacts(faces or 1, 1.0 if introduction is None else introduction)
