"""One case from what its file states: section by section, then what belongs together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from preloadmc.case import Case
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.governing_fastener import with_group
from preloadmc.case_file.reading import Stated
from preloadmc.case_file.sections import (
    acceptance,
    checks,
    fastener,
    fatigue,
    friction,
    group,
    over_time,
    service,
    stack,
    strength,
    tightening,
)
from preloadmc.case_file.sections.alternatives import cost_of
from preloadmc.case_file.sections.deterministic import deterministic_of
from preloadmc.case_file.sections.requirement import requirement_of
from preloadmc.case_file.sections.sampling import sampling_of
from preloadmc.case_file.sections.securing import check_decay, securing_of
from preloadmc.inputs import input_order
from preloadmc.joint import Joint
from preloadmc.mechanics.fastener import weakest_section
from preloadmc.mechanics.thread import Thread


@dataclass(frozen=True, slots=True)
class File:
    """A case file as it was given; ``tables`` are the texts of the files of tests it names."""

    source: str
    text: str
    sha256: str
    tables: Mapping[str, str] = field(default_factory=dict)

    @property
    def folder(self) -> Path:
        """Return where the files that it names lie."""
        return Path(self.source).parent


def make_case(stated: Stated, file: File, *, changed_method: bool = False) -> Case | None:
    """Return the case without its alternatives; None with the problems noted.

    Parameters
    ----------
    stated : Stated
        What its tables state.
    file : File
        The file as it was given.
    changed_method : bool
        Whether it is a change of another case, with another tightening method: the scatter of its
        tool must then be stated.
    """
    draft = Draft(stated, file.folder, file.tables)
    draft.warnings += stated.doubts
    for path, words in stated.understood.items():
        draft.assume(path, words, "the comma that was typed stands before the decimals")
    joint = _joint(draft, changed_method)
    requirement = requirement_of(draft, tightening.method_of(stated))
    sampling = sampling_of(draft)
    cost = cost_of(draft)
    deterministic = deterministic_of(draft)
    stated_group = group.group_of(draft)
    if joint is None or stated.problems:
        return None
    common = None if stated_group is None else group.fractions_of(draft)
    case = Case(
        name=stated.known("name", str),
        title=stated.get("title", str) or Path(file.source).stem,
        source=file.source,
        text=file.text,
        sha256=file.sha256,
        joint=joint,
        laws=dict(sorted(draft.laws.items(), key=lambda item: input_order(item[0]))),
        correlations=draft.correlations,
        follows=draft.follows,
        shared=draft.shared,
        requirement=requirement,
        sampling=sampling,
        assumptions=draft.assumptions,
        warnings=tuple(draft.warnings),
        cost=cost,
        deterministic=deterministic,
        alternatives=(),
        tables={**file.tables, **draft.tables},
    )
    if stated_group is None or common is None:
        return case
    return with_group(case, stated_group, *common)


def _joint(draft: Draft, changed_method: bool) -> Joint | None:
    """Take the laws of every input, and return the facts of the joint."""
    stated = draft.stated
    thread = stated.get("fastener.thread", Thread)
    method = tightening.method_of(stated)
    group.check_loads(draft)
    draft.take_laws(tightening.unread_inputs(method) | acceptance.unread_inputs(stated))
    securing = securing_of(draft)
    fastener.check_passes(stated)
    fastener.doubt_wide_faces(draft)
    fastener.check_mate(stated)
    material = fastener.material_of("fastener", draft)
    strength.take_strengths(draft, method)
    strength.check_strengths(draft)
    fastener.take_bearing_diameter(draft)
    tightening.check_controls(draft, method, changed_method)
    uses_nut_factor = friction.relate_frictions(draft, method)
    parts = stack.clamped_parts(draft)
    stack.check_plain_lengths(stated, parts)
    geometry = stack.geometry_of(stated, parts)
    shares = stack.take_compliances(draft, geometry, parts, material)
    states, once = service.take_states(draft)
    slip_faces, load_introduction = service.load_facts(draft)
    decays = check_decay(draft)
    direct = "temperature.thermal_change" in stated
    planned, tightened_before = over_time.take_over_time(draft, states, method, direct=direct)
    faces = stack.bearing_faces(draft, geometry, parts)
    stack.check_stripping(draft, geometry)
    accepted = acceptance.acceptance_of(draft, method)
    tiring = fatigue.fatigue_of(draft)
    section = None if thread is None else weakest_section(thread, geometry.shanks)
    weak_length = None if section is None else stack.weak_length(section, geometry, parts)
    measured_share = stack.measured_share(draft, geometry, parts, material, method)
    twist = stack.torsional_compliance(draft, geometry, parts, material, method)
    checks.check_prevailing_torque(draft, method)
    checks.check_bearing_diameter(draft, method, uses_nut_factor)
    checks.check_past_yield(draft, method, weak_length)
    checks.check_total_compliance(draft, method)
    checks.assume_torsion(draft, method, uses_nut_factor, states)
    checks.assume_wind_up(draft, method, twist)
    checks.doubt_exact_turn(draft, method)
    if (
        thread is None
        or material is None
        or method is None
        or section is None
        or weak_length is None
    ):
        return None
    return Joint(
        thread=thread,
        geometry=geometry,
        section=section,
        weak_length=weak_length,
        torsional_compliance=twist,
        gauge_length=stated.get(tightening.GAUGE_LENGTH, float),
        measured_share=measured_share,
        method=method,
        uses_nut_factor=uses_nut_factor,
        fastener_material=material,
        parts=parts,
        part_shares=shares,
        states=states,
        once=once,
        direct_thermal_change=direct,
        seat_factor=fastener.seat_factor(stated),
        slip_faces=slip_faces,
        load_introduction=load_introduction,
        bearing_faces=faces,
        securing=securing,
        grade=fastener.grade_name(stated),
        softening=fastener.softening_of(draft),
        strength_is_one_figure=strength.is_one_figure(draft),
        acceptance=accepted,
        fatigue=tiring,
        service=planned,
        tightened_before=tightened_before,
        decays=decays,
    )
