"""The suspects of a case file: [[suspect]] tables, each the case with its own laws merged in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from preloadmc.case import Case, Suspect
from preloadmc.case_file.common_scatter import common_scatter
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table
from preloadmc.case_file.make_case import File, make_case
from preloadmc.case_file.merging import changes_method, merged
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.reading import Stated, read
from preloadmc.case_file.shipped_suspects import (
    ShippedSuspect,
    any_cause,
    library,
    shipped_suspect,
)
from preloadmc.case_file.traces import assume_traces, traces_of
from preloadmc.case_file.word_kinds import LONGEST_NOTE, Named, Text
from preloadmc.chance.tested_law import Tested
from preloadmc.inputs import Default
from preloadmc.units import RATIO

AS_DESIGNED = "as designed"
# Pairs of suspects are cases too, and there are half the square of them.
_MOST_SUSPECTS = 50
# What a suspect cannot change.
_NOT_OF_THE_JOINT = ("alternative", "evidence", "suspect", "requirement", "sampling", "title")
SUSPECT_FIELDS = (
    Field(
        "suspect[]",
        Table(changes_case=True, most=_MOST_SUSPECTS, keeps=_NOT_OF_THE_JOINT),
        "suspected cause: its tables replace those of the case, key by key",
    ),
    Field("suspect[].name", Text("a name for the suspect"), "name of the suspect", '"dry thread"'),
    Field(
        "suspect[].library",
        Named("the name of a shipped suspect", shipped_suspect, library),
        "shipped suspect, whose tables are taken unless stated here",
        '"dry thread"',
    ),
    Field(
        "suspect[].prior",
        Quantity(RATIO, above=0.0),
        "weight beforehand, beside that of the joint as designed",
        "2",
        Default(1.0, "1: as likely beforehand as the joint as designed"),
    ),
    Field(
        "suspect[].source",
        Text("where the suspicion is from", longest=LONGEST_NOTE),
        "where the suspicion is from",
        '"shift book"',
        Default("the case file", "the case file"),
    ),
    Field(
        "suspect[].note", Text("a note", longest=LONGEST_NOTE), "note", '"oil ran out on Monday"'
    ),
)


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


def suspects_of(
    data: Mapping[str, Any], draft: Draft, case: Case | None, file: File
) -> tuple[Suspect, ...]:
    """Return the joint as designed and every suspect.

    Parameters
    ----------
    data : mapping
        The tables of the file.
    draft : Draft
        What the file states. Takes assumptions, and problems with the suspect's path before it.
    case : Case or None
        The joint as designed; None where it has problems.
    file : File
        The file.
    """
    weight = draft.stated.known("investigation.as_designed", float)
    designed = _Change("", AS_DESIGNED, {}, weight, "the case file", "none of the suspects")
    traces = traces_of(draft.stated, file.folder)
    for item in traces.assumptions:
        draft.assume(item.path, item.told, item.source)
    found = [_suspect(designed, case, traces, draft)]
    found += [_changed(data, change, draft, file) for change in _changes(draft)]
    return tuple(suspect for suspect in found if suspect is not None)


def pairs_of(data: Mapping[str, Any], draft: Draft, file: File) -> tuple[Suspect, ...]:
    """Return every pair of suspects that do not contradict each other.

    Two that override the same key cannot both be so. The prior weight of a pair is the product of
    those of the two, which come about independently, up to a factor common to all pairs.
    """
    pairs = []
    for first, second in combinations(tuple(_changes(draft)), 2):
        if first.paths & second.paths:
            continue
        both = _Change(
            f"{first.path} with {second.path}",
            f"{first.name} + {second.name}",
            merged(first.tables, second.tables, draft.stated.fields),
            first.prior * second.prior,
            "; ".join(dict.fromkeys((first.source, second.source))),
            f"{first.note}; {second.note}",
        )
        pairs.append(_changed(data, both, draft, file))
    return tuple(pair for pair in pairs if pair is not None)


def unnamed_of(
    data: Mapping[str, Any], draft: Draft, file: File, *, knows_time: bool
) -> tuple[Suspect, ...]:
    """Return the shipped suspects that a case does not name, as far as they can act in it.

    What creeps shows only where the findings have a time.
    """
    named = {str(each.get("library", each.get("name"))) for each in data.get("suspect", ())}
    found = []
    for name in library():
        if name in named:
            continue
        shipped = shipped_suspect(name)
        if "over_time" in shipped.tables.get("settling", {}) and not knows_time:
            continue
        change = _Change("", name, shipped.tables, 1.0, shipped.source, shipped.note)
        found.append(_as_far_as_possible(data, change, draft, file))
    return tuple(suspect for suspect in found if suspect is not None)


def any_cause_of(data: Mapping[str, Any], draft: Draft, file: File) -> Suspect | None:
    """Return a suspect of laws so wide that few causes lie outside; None where none can act."""
    shipped = any_cause()
    tables = shipped.tables
    while tables:
        change = _Change("", shipped.name, tables, 1.0, shipped.source, shipped.note)
        suspect = _as_far_as_possible(data, change, draft, file)
        if suspect is not None:
            return suspect
        # Sections that this joint cannot have are left out, from the first on.
        tables = {key: value for key, value in tables.items() if key != next(iter(tables))}
    return None


def _as_far_as_possible(
    data: Mapping[str, Any], change: _Change, draft: Draft, file: File
) -> Suspect | None:
    """Return the case with a change that nobody asked for merged in; None where it cannot be."""
    aside = Draft(Stated(draft.stated.fields, Problems()), draft.folder)
    suspect = _changed(data, change, aside, file)
    return None if aside.stated.problems else suspect


def _changes(draft: Draft) -> Iterator[_Change]:
    """Yield what each [[suspect]] changes, with those of the library filled in."""
    stated = draft.stated
    names = {AS_DESIGNED}
    for path in stated.each("suspect"):
        shipped = stated.get(f"{path}.library", ShippedSuspect)
        draft.assume_default(f"{path}.prior")
        own = stated.fields.tables["suspect[]"]
        tables = {key: value for key, value in stated.given(path).items() if key not in own}
        source = stated.known(f"{path}.source", str)
        note = stated.get(f"{path}.note", str) or ""
        name = stated.get(f"{path}.name", str)
        if shipped is not None:
            tables = merged(shipped.tables, tables, stated.fields)
            source = source if f"{path}.source" in stated else shipped.source
            note = note or shipped.note
            name = name or shipped.name
        elif f"{path}.library" in stated:
            continue
        if name is None:
            if f"{path}.name" not in stated:
                stated.missing(f"{path}.name", "a name for the suspect, or a library")
            continue
        if name in names:
            key = "name" if f"{path}.name" in stated else "library"
            stated.problem(f"{path}.{key}", "a unique name")
            continue
        names.add(name)
        for key in _NOT_OF_THE_JOINT:
            if tables.pop(key, None) is not None:
                stated.problems.add(
                    f"{path}.{key}",
                    stated.given(path).get(key),
                    "remove it: a suspect changes the joint, not what is asked of it",
                )
        if not tables:
            words = "tables of the case that it overrides, such as [suspect.friction]"
            stated.problems.add(path, None, words)
            continue
        yield _Change(path, name, tables, stated.known(f"{path}.prior", float), source, note)


def _changed(data: Mapping[str, Any], change: _Change, draft: Draft, file: File) -> Suspect | None:
    """Return the case with a change merged in, or None with the problems noted."""
    fields = draft.stated.fields
    sections = fields.of_suspects
    own = {key: data[key] for key in sections if key in data}
    problems = Problems()
    stated = read(merged(own, change.tables, fields), fields, problems, sections)
    case = make_case(stated, file, changed_method=changes_method(own, change.tables))
    suspect = _suspect(change, case, traces_of(stated, file.folder, change.paths), draft)
    draft.stated.problems.take(problems, change.path, change.name)
    return suspect


def _suspect(change: _Change, case: Case | None, traces: Draft, draft: Draft) -> Suspect | None:
    """Return a suspect, or None where its case has problems."""
    if case is None or traces.stated.problems:
        return None
    assume_traces(case, traces, draft)
    fractions = {}
    scatter = (*case.uncertain, *(n for n, law in traces.laws.items() if law.sd > 0.0))
    for name in scatter:
        shared = case.shared.get(name) or traces.shared.get(name)
        law = case.laws.get(name)
        if isinstance(law, Tested):
            # What the tests leave open is the same for every fastener, and so is what lots share.
            own = 0.0 if shared is None else shared.fraction
            fractions[name] = own + (1.0 - own) * law.knowledge.common_share
            continue
        if shared is not None:
            fractions[name] = shared.fraction
            continue
        _, fractions[name], why = common_scatter(name)
        words = f"{100 * fractions[name]:g} % of the variance in common"
        draft.assume(f"{name} shared", words, why)
    return Suspect(
        change.name,
        case,
        traces.laws,
        fractions,
        traces.stated.get("rotation.time", float),
        change.paths,
        change.prior,
        change.source,
        change.note,
        change.tables,
    )
