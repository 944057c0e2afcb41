"""A case file, read whole: text -> tables -> sections -> Case."""

from __future__ import annotations

import hashlib
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO, Case, Suspect
from preloadmc.case_file.aim_sections import read_requirement, read_sampling
from preloadmc.case_file.deterministic_section import read_deterministic
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.fastener_section import FastenerFacts, read_fastener
from preloadmc.case_file.investigation_section import is_investigation, read_investigation
from preloadmc.case_file.life_sections import (
    read_friction,
    read_load,
    read_settling,
    read_temperature,
    read_tightening,
)
from preloadmc.case_file.merging import merged
from preloadmc.case_file.securing_section import read_cost, read_securing
from preloadmc.case_file.stack_section import (
    bearing_faces,
    read_clamped,
    read_geometry,
    read_stiffness,
    stripping_force,
    weak_length,
)
from preloadmc.case_file.suspect_section import OWN_SECTIONS, read_pairs
from preloadmc.case_file.tables import Problems, Table
from preloadmc.errors import CaseError, Problem
from preloadmc.inputs import input_order
from preloadmc.joint import ClampedPart, Joint, Method

# What a case is called beside its alternatives, unless it has a name.
AS_IT_IS = "as it is"
# Two strengths this many s.d. apart are so in every sample.
SURELY_APART = 4.75
# A case file is a page of text; anything far larger is another file.
LARGEST_FILE = 1_000_000


def load_case(path: str | Path) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : str or Path
        A TOML file.

    Returns
    -------
    Case
        Everything in N, mm, MPa, K, with every default listed in ``assumptions``.

    Raises
    ------
    CaseError
        With every problem of the file at once, each with its path, what was given and what is
        allowed.
    """
    path = Path(path)
    content = _content(path)
    try:
        text = content.decode("utf-8-sig")
        data = tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise _unusable(path, f"text in UTF-8 is needed; byte {error.start} is not") from error
    except (ValueError, RecursionError) as error:  # ValueError: also a number of endless digits
        raise _unusable(path, f"not TOML: {error}") from error
    if not data:
        raise _unusable(
            path,
            "the file is empty; it needs at least [fastener], [friction], "
            "[tightening] and [requirement]",
        )
    return read_case(data, str(path), text, hashlib.sha256(content).hexdigest())


def _content(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise _unusable(path, "a folder was given; a case file is needed")
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise _unusable(path, f"cannot be read: {error.strerror}") from error
    if len(content) > LARGEST_FILE:
        raise _unusable(path, f"larger than {LARGEST_FILE:,} bytes: not a case file")
    return content


def _unusable(path: Path, words: str) -> CaseError:
    return CaseError(str(path), (Problem("file", "", words),))


def read_case(data: Mapping[str, Any], source: str, text: str, sha256: str) -> Case:
    """Return the case that the tables of a file describe; `load_case` says the rest.

    Each [[alternative]] is the case with its own tables merged in.
    """
    problems = Problems()
    changes = Table(data, "", problems).tables("alternative")
    own = {k: v for k, v in data.items() if k not in ("alternative", *OWN_SECTIONS)}
    file = _File(source, text, sha256)
    case = _read(own, problems, file)
    investigation = None
    if is_investigation(data):
        investigation = read_investigation(
            _without_alternatives(data), problems, Path(source).parent, case, file.read
        )
    alternatives = []
    names = {AS_IT_IS if case is None else case.name}
    for change in changes:
        name = change.text("name", "a name for the alternative")
        if not name or name in names:
            taken = f"; taken already, by the case or an alternative: {', '.join(sorted(names))}"
            words = "a name of its own for the alternative" + (taken if name else "")
            change.problem("name", words)
            continue
        names.add(name)
        found = Problems()
        alternatives.append(_read(merged(own, change.data), found, file))
        for problem in found.found:
            if problem not in problems.found:
                path = f"{change.path}.{problem.path}"
                problems.found.append(replace(problem, path=path))
    if case is None or problems.found:
        raise CaseError(source, tuple(problems.found))
    return replace(
        case,
        alternatives=tuple(each for each in alternatives if each is not None),
        investigation=investigation,
    )


def load_pairs(case: Case) -> tuple[Suspect, ...]:
    """Return every pair of a case's suspects that do not contradict each other.

    They are read from the text that the case keeps.

    Raises
    ------
    CaseError
        With every problem that two suspects make together.
    """
    if case.investigation is None:
        return ()
    problems = Problems()
    file = _File(case.source, case.text, case.sha256)
    data = _without_alternatives(tomllib.loads(case.text))
    designed = case.investigation.suspects[0]
    pairs = read_pairs(data, Draft(problems, Path(case.source).parent), designed, file.read)
    if problems.found:
        raise CaseError(case.source, tuple(problems.found))
    return pairs


def _without_alternatives(data: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key != "alternative"}


@dataclass(frozen=True, slots=True)
class _File:
    source: str
    text: str
    sha256: str

    def read(self, data: Mapping[str, Any], problems: Problems) -> Case | None:
        """Read the tables of one case of this file."""
        return _read(data, problems, self)


def _read(data: Mapping[str, Any], problems: Problems, file: _File) -> Case | None:
    """Return one case without its alternatives, or None with the problems noted."""
    draft = Draft(problems, Path(file.source).parent)
    root = Table(data, "", problems)
    title = root.text("title", "a title", default=Path(file.source).stem)
    name = root.text("name", "what this case is called beside its alternatives", default=AS_IT_IS)
    securing = read_securing(root.table("securing"), draft)
    fastener = read_fastener(root.table("fastener"), draft)
    parts = read_clamped(root.tables("clamped"), draft, fastener.hole_diameter)
    method = read_tightening(root.table("tightening"), draft)
    uses_nut_factor = read_friction(root.table("friction"), draft, method)
    if securing is not None and securing.element.loosening == "prevailing torque":
        tightening = root.table("tightening")
        if "prevailing_torque" not in tightening:
            tightening.missing("prevailing_torque", f"{securing.element.name} has one")
    interfaces = 0 if securing is None else securing.element.extra_interfaces
    read_settling(root.table("settling"), draft, len(parts), fastener.mate, interfaces)
    stiffness = root.table("joint")
    geometry = read_geometry(stiffness, fastener, parts)
    shares = read_stiffness(stiffness, draft, fastener, parts, geometry)
    states, direct = read_temperature(root.table("temperature"), draft, len(parts))
    load = read_load(root.table("load"), draft)
    requirement = read_requirement(root.table("requirement"), draft, fastener, method)
    sampling = read_sampling(root.table("sampling"), draft)
    cost = read_cost(root.table("cost"), draft)
    deterministic = read_deterministic(root.table("deterministic"), draft)
    root.close()
    _check_torsion(draft, method, uses_nut_factor)
    _check_plastic(draft, method, fastener, parts)
    _check_apart(draft, method)
    if states and not parts and not problems.found:
        problems.add(
            "clamped", None, "missing; a temperature state needs the [[clamped]] layers that grow"
        )
    _check_nut_factor(draft, fastener)
    _assume_torsion(draft, method, uses_nut_factor, states)
    faces = bearing_faces(geometry, fastener.thread, parts, draft)
    tensile = draft.laws.get("fastener.tensile_strength")
    stripping = stripping_force(
        geometry, fastener.thread, draft, None if tensile is None else tensile.mean
    )
    if problems.found or not (fastener.thread and fastener.material and fastener.section):
        return None
    assert method is not None, "a missing method is a problem"
    joint = Joint(
        thread=fastener.thread,
        geometry=geometry,
        section=fastener.section,
        weak_length=weak_length(fastener, parts),
        method=method,
        uses_nut_factor=uses_nut_factor,
        fastener_material=fastener.material,
        parts=parts,
        part_shares=shares,
        states=states,
        direct_thermal_change=direct,
        seat_factor=fastener.seat_factor,
        slip_faces=load.slip_faces,
        load_introduction=load.load_introduction,
        bearing_faces=faces,
        stripping_force=stripping,
        securing=securing,
    )
    return Case(
        name=name,
        title=title,
        source=file.source,
        text=file.text,
        sha256=file.sha256,
        joint=joint,
        laws=dict(sorted(draft.laws.items(), key=lambda item: input_order(item[0]))),
        correlations=draft.correlations,
        shared=draft.shared,
        requirement=requirement,
        sampling=sampling,
        assumptions=tuple(draft.assumptions),
        warnings=tuple(draft.warnings),
        cost=cost,
        deterministic=deterministic,
        alternatives=(),
    )


def _assume_torsion(
    draft: Draft, method: Method | None, uses_nut_factor: bool, states: tuple[str, ...]
) -> None:
    """Say what is taken for granted where tension meets torsion."""
    if "fastener.yield_strength" not in draft.laws:
        return
    if uses_nut_factor and "friction.thread" not in draft.laws:
        draft.assume(
            "friction.thread",
            "solved from the nut factor of each sample, equal in thread and under the head",
            "ISO 16047:2005, total friction",
        )
    if states:
        draft.assume(
            "torsion in later states", "half of that of tightening", "VDI 2230 (from memory)"
        )
    if method is not None and method.reads_friction and not method.passes_yield:
        draft.assume(
            "preload past yield",
            "the torque equation holds up to the capacity at the tensile strength, with torsion; "
            "beyond it the fastener breaks",
            "equilibrium; von Mises stress of a fully plastic section as for yield",
        )


def _check_nut_factor(draft: Draft, fastener: FastenerFacts) -> None:
    """Below the part of the pitch, a nut factor would mean negative friction."""
    law = draft.laws.get("friction.nut_factor")
    if law is None or fastener.thread is None:
        return
    least = fastener.thread.pitch / (2 * math.pi * fastener.thread.diameter)
    beyond = float(law.cdf(least))
    if beyond > NEGLIGIBLE_BELOW_ZERO:
        draft.problems.add(
            "friction.nut_factor",
            None,
            f"above {least:.3g}, what the pitch alone asks: friction cannot be negative; this "
            f"one is below it with probability {beyond:.2g}",
        )


def _check_torsion(draft: Draft, method: Method | None, uses_nut_factor: bool) -> None:
    """The bearing diameter enters the torque equation, and splits a nut factor for torsion."""
    if "fastener.bearing_diameter" in draft.laws or draft.problems.found:
        return
    if method is not None and method.reads_friction and not uses_nut_factor:
        draft.problems.add(
            "fastener.bearing_diameter",
            None,
            "missing; give it, or bearing_outer_diameter and hole_diameter",
        )
    elif (
        uses_nut_factor
        and "fastener.yield_strength" in draft.laws
        and "friction.thread" not in draft.laws
    ):
        draft.problems.add(
            "fastener.bearing_diameter",
            None,
            "missing; it splits the nut factor for the torsion that goes with yield: give it, or "
            "bearing_outer_diameter and hole_diameter, or [friction] thread",
        )


def _check_apart(draft: Draft, method: Method | None) -> None:
    """A total compliance is enough only where nothing asks for the fastener's own."""
    if "joint.compliance" not in draft.laws or draft.problems.found:
        return
    words = ""
    if any(name.endswith(".axial") for name in draft.laws):
        words = "does not say what share of an axial load the fastener takes"
    elif method is not None and method.stretches_fastener:
        words = "does not say how far the fastener stretches"
    if words:
        draft.problems.add(
            "joint.compliance",
            None,
            f"fastener_compliance and clamped_compliance: their total {words}",
        )


def _check_plastic(
    draft: Draft, method: Method | None, fastener: FastenerFacts, parts: tuple[ClampedPart, ...]
) -> None:
    """Methods that go past yield need what happens there."""
    if method is None or not method.passes_yield:
        return
    for name, words in (
        ("fastener.yield_strength", "missing; this method needs it, or a property_class"),
        ("fastener.tensile_strength", "missing; this method needs it, or a property_class"),
        (
            "fastener.plastic_strain",
            "missing; the plastic strain at the tensile strength, from a tensile test: this method "
            "goes past yield",
        ),
    ):
        if name not in draft.laws:
            draft.problems.add(name, None, words)
    _check_hardening(draft)
    if not parts:
        draft.problems.add("clamped", None, "missing; this method stretches the free thread")
    elif fastener.thread is not None and not weak_length(fastener, parts) > 0.0:
        draft.problems.add(
            "fastener.segment",
            None,
            "plain lengths shorter than the grip: this method stretches the free thread",
        )


def _check_hardening(draft: Draft) -> None:
    """A fastener past yield needs a tensile strength above its yield strength, in every sample."""
    names = ("fastener.yield_strength", "fastener.tensile_strength")
    yielding, tensile = (draft.laws.get(name) for name in names)
    if yielding is None or tensile is None:
        return
    common = draft.correlations.get(names, 0.0) * yielding.sd * tensile.sd
    spread = math.sqrt(max(yielding.sd**2 + tensile.sd**2 - 2.0 * common, 0.0))
    if tensile.mean - yielding.mean <= SURELY_APART * spread:
        draft.problems.add(
            names[1],
            None,
            "above the yield strength in every sample, as far as sampling goes: with these laws "
            'yield can pass it (strength = "usual" lets both go together)',
        )
