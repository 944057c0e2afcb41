"""The sections of the joint's life: [friction], [tightening], [settling], [temperature], [load]."""

from __future__ import annotations

from dataclasses import dataclass

from preloadmc.case_file.draft import Draft
from preloadmc.case_file.tables import Table
from preloadmc.chance.laws import Constant
from preloadmc.inputs import state_input
from preloadmc.units import RATIO

METHODS = ("torque",)


@dataclass(frozen=True, slots=True)
class LoadFacts:
    """What [load] says that is not a law."""

    slip_faces: int
    load_introduction: float


def read_friction(table: Table, draft: Draft) -> tuple[bool, dict[tuple[str, str], float]]:
    """Read [friction]; return whether a nut factor is used, and the correlations."""
    thread, bearing, factor = "friction.thread", "friction.bearing", "friction.nut_factor"
    uses_nut_factor = "nut_factor" in table
    draft.read(table, "joint", "friction.joint")
    if uses_nut_factor:
        draft.read(table, "nut_factor", factor)
        if "bearing" in table:
            table.problem("bearing", "nothing: the nut factor holds the friction under the head")
        draft.read(table, "thread", thread)
    else:
        draft.require(table, "thread", thread, "thread friction, or a nut_factor for both")
        draft.require(table, "bearing", bearing, "friction under the head, or a nut_factor")
    correlations = _correlation(table, draft, thread, factor if uses_nut_factor else bearing)
    table.close()
    return uses_nut_factor, correlations


def _correlation(
    table: Table, draft: Draft, first: str, second: str
) -> dict[tuple[str, str], float]:
    if "correlation" not in table:
        if first in draft.laws and second in draft.laws:
            draft.assume(table.at("correlation"), "0: frictions independent")
        return {}
    rho = table.quantity("correlation", RATIO, low=-0.999, high=0.999)
    if rho is None:
        return {}
    for name in (first, second):
        law = draft.laws.get(name)
        if law is None or isinstance(law, Constant):
            table.problem("correlation", f"nothing unless both scatter: {name} does not")
            return {}
    return {(first, second): rho} if rho else {}


def read_tightening(table: Table, draft: Draft) -> str:
    """Read [tightening]; return the method."""
    method = table.choice("method", METHODS, None) or ""
    draft.require(table, "torque", "tightening.torque", "the set torque")
    draft.read_or_assume(table, "bias", "tightening.bias", 0.0, "0: no tool bias")
    draft.read_or_assume(
        table, "tool", "tightening.tool", 1.0, "none: the tool repeats exactly", offset=1.0
    )
    draft.read_or_assume(table, "prevailing_torque", "tightening.prevailing_torque", 0.0, "0: none")
    table.close()
    return method


def read_settling(table: Table, draft: Draft) -> None:
    """Read [settling]."""
    draft.read_or_assume(table, "embedding", "settling.embedding", 0.0, "0: nothing embeds")
    draft.read_or_assume(table, "relaxation", "settling.relaxation", 0.0, "0: nothing relaxes")
    law = draft.laws.get("settling.relaxation")
    if law is not None and float(law.sf(1.0)) > 0.0:
        table.problem(
            "relaxation", "a share of the preload, below 1 (truncated normal stays there)"
        )
    table.close()


def read_temperature(table: Table, draft: Draft) -> tuple[tuple[str, ...], bool]:
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
        for key in ("fastener", "clamped"):
            draft.require(state, key, state_input(name, key), "the temperature of the part")
        for key in ("axial", "transverse", "joint_friction"):
            draft.read(state, key, state_input(name, key))
        state.close()
    table.close()
    return tuple(names), direct


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
