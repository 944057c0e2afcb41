"""The investigation of a case file: its evidence and its suspects, checked against each other."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from preloadmc.case import Case, Investigation, Suspect
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.evidence_section import read_evidence
from preloadmc.case_file.suspect_section import (
    OWN_SECTIONS,
    ReadCase,
    read_suspects,
)
from preloadmc.case_file.tables import Problems, Table
from preloadmc.evidence import Evidence
from preloadmc.joint import torque_per_preload
from preloadmc.units import FORCE, RATIO, format_quantity


def is_investigation(data: Mapping[str, Any]) -> bool:
    """Return whether a file has anything of an investigation."""
    return any(section in data for section in OWN_SECTIONS)


def read_investigation(
    data: Mapping[str, Any],
    problems: Problems,
    folder: Path,
    case: Case | None,
    read_case: ReadCase,
) -> Investigation | None:
    """Read evidence and suspects; None with the problems noted.

    Parameters
    ----------
    data : mapping
        All tables of the file.
    problems : Problems
        Takes what is wrong.
    folder : Path
        Of the case file.
    case : Case or None
        The joint as designed; None where it has problems, and those of the rest are wanted too.
    read_case : callable
        Reads the tables of one case.
    """
    draft = Draft(problems, folder)
    root = Table(data, "", problems)
    settings = root.table("investigation")
    weight = settings.quantity("as_designed", RATIO, above=0.0)
    if "as_designed" not in settings:
        weight = 1.0
        draft.assume(settings.at("as_designed"), "1: prior weight of the joint as designed")
    evidence = read_evidence(root, settings, draft, _state_names(root, case))
    settings.close("breakaway_ratio")
    suspects = read_suspects(data, weight or 1.0, draft, read_case)
    if case is None:
        return None
    evidence = _with_limits(evidence, case, settings, draft)
    if not problems.found:
        _check_evidence(evidence, suspects, problems)
    if problems.found:
        return None
    warnings = []
    if len(suspects) == 1:
        warnings.append("no [[suspect]] is named: the joint as designed has no rival.")
    if evidence.service_time is not None and not any(s.rotation_time for s in suspects):
        warnings.append(
            "The time in service changes nothing here: only a [rotation] that states its own time "
            "(rotation.time, of the case or of a suspect) grows with it."
        )
    return Investigation(evidence, suspects, tuple(draft.assumptions), tuple(warnings))


def _state_names(root: Table, case: Case | None) -> tuple[str, ...]:
    if case is not None:
        return case.joint.states
    return tuple(
        state.text("name", "a name") for state in root.table("temperature").tables("state")
    )


def _with_limits(evidence: Evidence, case: Case, settings: Table, draft: Draft) -> Evidence:
    """Fill in what loose means where the evidence needs it."""
    needed = evidence.selected or any(math.isnan(count.limit) for count in evidence.counts)
    limit = evidence.loose_below
    if limit is None and needed:
        law = case.laws.get("requirement.minimum_preload")
        if law is None or law.mean <= 0.0:
            settings.missing("loose_below", "the preload below which a joint counts as loose")
            return evidence
        limit = law.mean
        draft.assume(
            settings.at("loose_below"),
            f"{format_quantity(limit, FORCE)}: below the minimum preload counts as loose",
        )
    counts = tuple(
        replace(count, limit=limit) if math.isnan(count.limit) and limit is not None else count
        for count in evidence.counts
    )
    return replace(evidence, counts=counts, loose_below=limit)


def _check_evidence(evidence: Evidence, suspects: tuple[Suspect, ...], problems: Problems) -> None:
    """Every suspect must say something of every kind that was found."""
    kinds = {finding.kind for finding in evidence.findings}
    if not evidence.findings and not evidence.counts:
        problems.add("evidence", None, "missing; findings under [[evidence]], or a CSV file")
    turned = bool(kinds & {"tightening torque", "loosening torque"})
    for suspect in suspects:
        if turned and torque_per_preload(suspect.case.joint, suspect.case.means) is None:
            problems.add("friction", None, "missing; a torque was found: state thread and bearing")
        for kind, name in (("hardness", "seat.hardness"), ("paint", "seat.paint")):
            if kind in kinds and name not in suspect.traces:
                problems.add(name, None, f"missing; {kind} was found: state it for the design")
        for finding in evidence.findings:
            name = getattr(finding, "input", "")
            if name and name not in suspect.case.laws:
                problems.add("evidence", name, "a state and part that every suspect has")
