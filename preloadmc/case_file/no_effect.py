"""Keys that a case states and that nothing in it depends on, as a reader would not expect."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from preloadmc.case import Case
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.sections.group import SPREAD
from preloadmc.case_file.sections.group_loads import DIRECTION_ACROSS, DIRECTION_OPENS
from preloadmc.case_file.sections.group_tightening import SEQUENCE
from preloadmc.inputs import ACROSS, ALONG
from preloadmc.joint import Joint
from preloadmc.joint.group import BENDING, TORSIONAL, TRANSVERSE

_STATES = "temperature.state"
# What only a comparison counts.
_OF_COMPARISONS = ("per_joint", "tool_price", "tool_life", "quantity")


def keys_without_effect(
    case: Case, stated: Stated, *, compares: bool, investigates: bool, surveyed: bool = False
) -> tuple[str, ...]:
    """Return a warning for each key that has no effect in a case.

    Parameters
    ----------
    case : Case
        The case that the file states.
    stated : Stated
        What it states by path.
    compares : bool
        Whether it has alternatives, or is one.
    investigates : bool
        Whether it has findings or suspects, which may need what the joint itself does not.
    surveyed : bool
        Whether it is one of many joints, which have lots and tools in common.
    """
    if investigates:
        return ()
    found = (
        *_shared(case, stated, surveyed),
        *_of_the_fastener(case.joint, stated),
        *_of_loads(case, stated),
        *_of_group(case, stated),
        *_of_costs(case, stated, compares=compares),
        *_of_tests(case, stated),
    )
    return tuple(f"{path} has no effect here: {why}." for path, why in found)


def _shared(case: Case, stated: Stated, surveyed: bool) -> Iterator[tuple[str, str]]:
    """Yield what several fasteners share: the probabilities of a single one do not depend on it."""
    if case.group is not None:
        return
    for name, shared in case.shared.items():
        if surveyed and shared.by != "joint":
            continue
        given = stated.given(name) if name in stated else None
        if isinstance(given, Mapping) and "shared" in given:
            words = "the case is one fastener, without [group] and [[evidence]]"
            if shared.by != "joint":
                words += "; a survey of many joints uses it"
            yield f"{name}.shared", words


def _of_the_fastener(joint: Joint, stated: Stated) -> Iterator[tuple[str, str]]:
    method = joint.method
    if "fastener.plastic_strain" in stated and not method.passes_yield:
        yield "fastener.plastic_strain", f"'{method.name}' is meant to stay elastic"
    breaks = method.reads_friction or method.passes_yield
    tires = joint.fatigue is not None and joint.fatigue.mean_stress != "none"
    read = breaks or tires or joint.geometry.tells_stripping
    if "fastener.tensile_strength" in stated and not read:
        yield (
            "fastener.tensile_strength",
            f"'{method.name}' does not break the fastener, and no engagement is stated for the "
            "stripping of threads",
        )
    if joint.geometry.engagement is None:
        for key in ("mate_tensile_strength", "nut_width_across_flats"):
            if f"fastener.{key}" in stated:
                yield f"fastener.{key}", "no engagement is stated for the stripping of threads"


def _of_loads(case: Case, stated: Stated) -> Iterator[tuple[str, str]]:
    if not _has_load(case, ACROSS):
        for path in ("friction.joint", "load.slip_faces"):
            if path in stated:
                yield path, "no transverse load is stated"
        for state in stated.each(_STATES):
            if f"{state}.joint_friction" in stated:
                yield f"{state}.joint_friction", "no transverse load is stated"
    if not _has_load(case, ALONG):
        if "load.load_introduction" in stated:
            yield "load.load_introduction", "no axial load is stated"
        if case.joint.fatigue is not None:
            yield "fatigue", "no axial load is stated"
    changes = "temperature.thermal_change" in stated
    if "temperature.assembly" in stated and not case.joint.states and not changes:
        yield "temperature.assembly", "no [[temperature.state]] is stated"


def _has_load(case: Case, endings: tuple[str, ...]) -> bool:
    """Return whether a load is stated, on the fastener itself or on its group."""
    return any(name.endswith(endings) for name in case.laws)


def _of_group(case: Case, stated: Stated) -> Iterator[tuple[str, str]]:
    if case.group is None:
        return
    if not case.group.facts.interacts:
        for path in (*SEQUENCE, SPREAD):
            if path in stated:
                yield path, "no [group.interaction] is stated: fasteners take nothing of each other"
    if DIRECTION_ACROSS in stated and not {TRANSVERSE, TORSIONAL} <= {*case.laws}:
        yield (
            DIRECTION_ACROSS,
            f"it counts between {TRANSVERSE} and {TORSIONAL}, and both are not stated",
        )
    if DIRECTION_OPENS in stated and BENDING not in case.laws:
        yield DIRECTION_OPENS, f"no {BENDING} is stated"


def _of_costs(case: Case, stated: Stated, *, compares: bool) -> Iterator[tuple[str, str]]:
    for key in _OF_COMPARISONS:
        if f"cost.{key}" in stated and not compares:
            yield f"cost.{key}", "it counts between alternatives, and no [[alternative]] is stated"
    if "cost.per_reject" in stated and case.joint.acceptance is None:
        yield "cost.per_reject", "no window is stated in [tightening.accept]"
    if "cost.per_loosening" in stated and not _has_load(case, ACROSS):
        yield "cost.per_loosening", "no transverse load is stated"


def _of_tests(case: Case, stated: Stated) -> Iterator[tuple[str, str]]:
    if "requirement.confidence" in stated and not case.tested:
        yield "requirement.confidence", "no law is stated by its tests"
