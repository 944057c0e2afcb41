"""The suspects of a case file: [[suspect]] tables, each the case with its own laws merged in."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from itertools import combinations
from pathlib import Path
from typing import Any

from preloadmc.case import NEGLIGIBLE_BELOW_ZERO, Case, Suspect
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.merging import merged
from preloadmc.case_file.tables import Problems, Table, nearest
from preloadmc.errors import Problem
from preloadmc.units import RATIO, TIME

AS_DESIGNED = "as designed"
# Sections that a case has for its evidence alone; the joint's own life knows nothing of them.
TRACE_SECTIONS = ("rotation", "missed", "seat")
OWN_SECTIONS = (*TRACE_SECTIONS, "investigation", "evidence", "suspect")
_OF_A_SUSPECT = ("name", "library", "prior", "source", "note")
BREAKAWAY = "investigation.breakaway_ratio"

# How much of the variance the fasteners of one lot, tool and joint have in common unless a law says
# so itself, by the beginning of the input's name.
_COMMON: tuple[tuple[str, float, str], ...] = (
    ("tightening.bias", 1.0, "a bias is common to all by its meaning"),
    ("temperature.", 1.0, "engineering judgement"),
    ("friction.joint", 1.0, "engineering judgement"),
    ("friction.", 0.5, "engineering judgement"),
    ("missed.share", 1.0, "one share for all by its meaning"),
    ("seat.paint", 1.0, "one chance for all by its meaning"),
    (BREAKAWAY, 1.0, "engineering judgement"),
    ("requirement.", 1.0, "one requirement for all"),
)

ReadCase = Callable[[Mapping[str, Any], Problems], Case | None]


def library() -> Mapping[str, Mapping[str, Any]]:
    """Return the shipped suspects by name, as the tables they override."""
    return _library()


@cache
def _library() -> dict[str, Any]:
    text = files("preloadmc.case_file").joinpath("suspects.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@dataclass(frozen=True, slots=True)
class _Change:
    """What one [[suspect]] says before it is merged."""

    path: str
    name: str
    tables: Mapping[str, Any]
    prior: float
    source: str
    note: str

    @property
    def paths(self) -> frozenset[str]:
        """Return the dotted paths that it overrides."""
        return frozenset(
            f"{section}.{key}" if isinstance(value, Mapping) else section
            for section, value in self.tables.items()
            for key in (value if isinstance(value, Mapping) else (section,))
        )


def read_suspects(
    data: Mapping[str, Any], prior: float, draft: Draft, read_case: ReadCase
) -> tuple[Suspect, ...]:
    """Read the joint as designed and every suspect.

    Parameters
    ----------
    data : mapping
        The tables of the file, without alternatives.
    prior : float
        Prior weight of the joint as designed.
    draft : Draft
        Takes problems and assumptions; each suspect's with its own path before it.
    read_case : callable
        Reads the tables of a case, without those of `OWN_SECTIONS`.
    """
    own = _Change("", AS_DESIGNED, {}, prior, "the case file", "none of the suspects")
    designed = _suspect(data, own, draft, read_case)
    found = [] if designed is None else [designed]
    for change in _changes(data, draft):
        suspect = _suspect(data, change, draft, read_case)
        if suspect is not None:
            found.append(suspect)
    return tuple(found)


def read_pairs(
    data: Mapping[str, Any], draft: Draft, designed: Suspect, read_case: ReadCase
) -> tuple[Suspect, ...]:
    """Read every pair of suspects that do not contradict each other.

    Two that override the same key cannot both be so. The prior odds of a pair against the joint as
    designed are the product of the odds of the two: causes that come about independently.
    """
    pairs = []
    for first, second in combinations(tuple(_changes(data, draft)), 2):
        if first.paths & second.paths:
            continue
        both = _Change(
            f"{first.path} with {second.path}",
            f"{first.name} + {second.name}",
            merged(first.tables, second.tables),
            first.prior * second.prior / designed.prior,
            "; ".join(dict.fromkeys((first.source, second.source))),
            f"{first.note}; {second.note}",
        )
        suspect = _suspect(data, both, draft, read_case)
        if suspect is not None:
            pairs.append(suspect)
    return tuple(pairs)


def _changes(data: Mapping[str, Any], draft: Draft) -> Iterator[_Change]:
    """Yield what each [[suspect]] changes, with those of the library filled in."""
    names = {AS_DESIGNED}
    for table in Table(data, "", draft.problems).tables("suspect"):
        shipped = table.text("library", "the name of a shipped suspect")
        name = table.text("name", "a name for the suspect", default=shipped)
        prior = table.quantity("prior", RATIO, above=0.0)
        if "prior" not in table:
            prior = 1.0
            draft.assume(table.at("prior"), "1: as likely beforehand as the joint as designed")
        source = table.text("source", "where the suspicion is from", default="the case file")
        note = table.text("note", "a note")
        tables = {key: value for key, value in table.data.items() if key not in _OF_A_SUSPECT}
        if shipped:
            entry = library().get(shipped)
            if entry is None:
                words = f"a shipped suspect: {', '.join(library())}{nearest(shipped, library())}"
                table.problem("library", words)
                continue
            kept = {key: value for key, value in entry.items() if key not in _OF_A_SUSPECT}
            tables = merged(kept, tables)
            source = table.data.get("source", entry["source"])
            note = note or entry["note"]
        if not name:
            table.missing("name", "a name for the suspect, or a library")
            continue
        if name in names:
            table.problem("name" if "name" in table else "library", "a name of its own")
            continue
        names.add(name)
        for key in ("alternative", "evidence", "suspect", "requirement", "sampling", "title"):
            if key in tables:
                table.problem(key, "nothing: a suspect changes the joint, not what is asked of it")
                tables.pop(key)
        if not tables:
            table.problem("", "tables of the case that it overrides, such as [suspect.friction]")
            continue
        if prior is not None:
            yield _Change(table.path, name, tables, prior, source, note)


def _suspect(
    data: Mapping[str, Any], change: _Change, draft: Draft, read_case: ReadCase
) -> Suspect | None:
    """Return the case with one change merged in, or None with problems noted."""
    whole = merged(data, change.tables)
    problems = Problems()
    case = read_case({k: v for k, v in whole.items() if k not in OWN_SECTIONS}, problems)
    traces = Draft(problems, Path())
    time = _read_traces(Table(whole, "", problems), traces, change)
    if change.path:
        known = set(draft.problems.found)
        for problem in problems.found:
            if problem not in known:
                moved = replace(problem, path=f"{change.path}.{problem.path}")
                draft.problems.found.append(moved)
    else:
        draft.problems.found.extend(_fresh(problems, draft.problems))
        draft.assumptions.extend(traces.assumptions)
    if case is None or problems.found:
        return None
    fractions = {}
    scatter = (*case.uncertain, *(n for n, law in traces.laws.items() if law.sd > 0.0))
    for name in scatter:
        shared = case.shared.get(name) or traces.shared.get(name)
        if shared is not None:
            fractions[name] = shared.fraction
            continue
        fractions[name], why = common_fraction(name)
        path = f"{name} shared"
        if path not in {item.path for item in draft.assumptions}:
            draft.assume(path, f"{100 * fractions[name]:g} % of the variance in common", why)
    return Suspect(
        change.name,
        case,
        traces.laws,
        fractions,
        time,
        change.paths,
        change.prior,
        change.source,
        change.note,
    )


def common_fraction(name: str) -> tuple[float, str]:
    """Return the share of variance that fasteners have in common where no law says so, and why."""
    for beginning, fraction, why in _COMMON:
        if name.startswith(beginning):
            return fraction, why
    return 0.0, "engineering judgement"


def _fresh(problems: Problems, before: Problems) -> list[Problem]:
    return [problem for problem in problems.found if problem not in before.found]


def _read_traces(root: Table, draft: Draft, change: _Change) -> float | None:
    """Read what only evidence shows; return the service time that the rotation goes with [s]."""
    rotation, missed, seat = (root.table(name) for name in TRACE_SECTIONS)
    draft.read(rotation, "angle", "rotation.angle")
    time = rotation.quantity("time", TIME, above=0.0)
    if "time" in rotation.data and "angle" not in rotation.data:
        rotation.missing("angle", "how far the nut turns back in that time")
    draft.read(missed, "share", "missed.share")
    if "share" in missed.data:
        draft.require(missed, "preload_share", "missed.preload_share", "what a missed one holds")
    draft.read(missed, "preload_share", "missed.preload_share")
    draft.read(seat, "hardness", "seat.hardness")
    draft.read(seat, "paint", "seat.paint")
    for table in (rotation, missed, seat):
        table.close()
    settings = root.table("investigation")
    draft.read_or_assume(settings, "breakaway_ratio", BREAKAWAY, 1.0, "1: as in tightening")
    if any(path.startswith("investigation.") and path != BREAKAWAY for path in change.paths):
        settings.problem("", "breakaway_ratio alone, in a suspect")
    for name, table, key in (
        ("missed.share", missed, "share"),
        ("missed.preload_share", missed, "preload_share"),
        ("seat.paint", seat, "paint"),
    ):
        law = draft.laws.get(name)
        if law is not None and float(law.sf(1.0)) > NEGLIGIBLE_BELOW_ZERO:
            table.problem(key, "a share, at most 1 (a beta law from 0 to 1 stays there)")
    return time
