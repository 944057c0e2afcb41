"""A case file of the joint as found: the case under one suspect, with its laws after evidence."""

from __future__ import annotations

import copy
import hashlib
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

from preloadmc.case import Case, Suspect
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.law_kind import LawOf
from preloadmc.case_file.load import load_tables, read_case
from preloadmc.case_file.merging import merged
from preloadmc.case_file.named_tests import TESTS
from preloadmc.case_file.parsing import tables_of
from preloadmc.case_file.problems import Problems
from preloadmc.case_file.sections.tool import RUNDOWNS
from preloadmc.case_file.toml_text import toml_text
from preloadmc.chance.laws import Law, Normal
from preloadmc.errors import CaseError, UsageError
from preloadmc.inputs import InputKind, input_kind
from preloadmc.units import RATIO, TEMPERATURE, TIME, Dimension, format_quantity

AS_FOUND = "as_found.toml"
_NAME = "as found"
_STATE = "temperature.state."
_CREEP = "settling.over_time."
# A law stays as stated where neither end of its range moves by more than this share of the distance
# from its median to that end (engineering judgement).
_MOVED = 0.2
# Standard deviations from the median to 5 and to 95 % of a normal law.
_TO_END = 1.6448536269514722
_DIGITS = 5
_BESIDE = "after the evidence, 5 to 95 %"
_TOP = ("title", "name")
_LONGEST_TITLE = 100


@dataclass(frozen=True, slots=True)
class After:
    """An input after the evidence: its law before, and its 5, 50, 95 %, in N, mm, MPa, K, rad.

    ``common`` is the share of the variance left that the fasteners of the lot have in common.
    """

    law: Law
    low: float
    median: float
    high: float
    common: float

    @property
    def moved(self) -> bool:
        """Return whether an end of the range from 5 to 95 % lies elsewhere than before."""
        low, median, high = (self.law.quantile(p) for p in (0.05, 0.5, 0.95))
        return abs(self.low - low) > _MOVED * (median - low) or abs(self.high - high) > _MOVED * (
            high - median
        )


@dataclass(frozen=True, slots=True)
class AsFound:
    """The text of a case file of the joint as found, without comment at its top.

    ``kept`` are the inputs that moved and whose law stands as before, since they follow from other
    keys or since no such law can be read. ``has_alternatives`` tells whether those of the case are
    in it: they are left out where the joint as found cannot have them.
    """

    text: str
    kept: tuple[str, ...]
    has_alternatives: bool


def as_found(case: Case, suspect: Suspect, after: Mapping[str, After], copies: str) -> AsFound:
    """Return the case under a suspect as a case file of its own.

    Parameters
    ----------
    case : Case
        The case that was investigated.
    suspect : Suspect
        Whose tables are merged in.
    after : mapping of str to After
        Inputs of the suspect after the evidence, by name. Those that moved get a normal law where
        the law was normal and for quantities of either sign, else a lognormal one, with the median
        and the spread after the evidence.
    copies : str
        Where the CSV files of the case lie, from the folder of the new file.
    """
    fields = all_fields()
    data = tables_of(case.text)
    own = {key: data[key] for key in fields.of_cases if key in data}
    tables = merged(own, suspect.tables, fields)
    tables = merged(tables, _service_up_to(case, suspect), fields)
    title = f"{suspect.case.title}, as found"
    tables = {
        "title": title if len(title) <= _LONGEST_TITLE else suspect.case.title,
        "name": _NAME,
        **{key: tables[key] for key in fields.of_cases if key in tables and key not in _TOP},
    }
    alternatives = {"alternative": data["alternative"]} if "alternative" in data else {}
    moved = {name: each for name, each in after.items() if each.moved}
    for laws, more in ((moved, alternatives), (moved, {}), ({}, alternatives), ({}, {})):
        changed, places = _with_laws(tables, laws)
        whole = {**changed, **more}
        try:
            read_case(whole, case.source, "", "")
        except CaseError:
            continue
        break
    kept = tuple(name for name in moved if name not in places)
    notes: dict[str, str] = {}
    for name, path in places.items():  # several layers have one line
        words = _range_words(name, moved[name])
        notes[path] = f"{notes[path]}; {words}" if path in notes else f"{_BESIDE}: {words}"
    text = toml_text(with_tables_in(whole, copies), fields, notes)
    return AsFound(text, kept, bool(more) or not alternatives)


def _service_up_to(case: Case, suspect: Suspect) -> dict[str, Any]:
    """Return the [service] up to the inspection, where creep has acted until then.

    Times of service that are stated stay.
    """
    service, investigation = suspect.case.joint.service, case.investigation
    time = None if investigation is None else investigation.evidence.service_time
    if time is None or service is None or not service.creep or service.times:
        return {}
    return {"service": {"times": [format_quantity(time, TIME, digits=_DIGITS)]}}


def load_as_found(folder: Path, cures: Path, copies: str) -> Case:
    """Return the joint as found with the alternatives of another case file.

    Parameters
    ----------
    folder : Path
        Of the report of an investigation.
    cures : Path
        A file with [[alternative]] tables; nothing else of it is read.
    copies : str
        Where in that folder the CSV files lie that either names.

    Raises
    ------
    CaseError
        If either cannot be read, or the joint as found cannot have an alternative.
    UsageError
        If there are no alternatives.
    """
    path = folder / AS_FOUND
    tables, _ = load_tables(path)
    alternatives = load_tables(cures)[0].get("alternative")
    if not alternatives:
        raise UsageError(f"{cures}: nothing to compare with; add [[alternative]] tables")
    whole = {**tables, **with_tables_in({"alternative": alternatives}, copies)}
    text = toml_text(whole, all_fields(), {})
    return read_case(whole, str(path), text, hashlib.sha256(text.encode()).hexdigest())


def with_tables_in(tables: Any, folder: str) -> Any:
    """Return tables that name each CSV file by its place in a folder."""
    if isinstance(tables, Mapping):
        return {
            key: (PurePath(folder) / value).as_posix()
            if key in (RUNDOWNS, TESTS) and isinstance(value, str)
            else with_tables_in(value, folder)
            for key, value in tables.items()
        }
    return [with_tables_in(item, folder) for item in tables] if isinstance(tables, list) else tables


def _with_laws(
    tables: Mapping[str, Any], laws: Mapping[str, After]
) -> tuple[dict[str, Any], dict[str, str]]:
    """Return the tables with laws put where an input is stated, and the paths by input."""
    changed = copy.deepcopy(dict(tables))
    paths = {}
    for name, after in laws.items():
        found = _place(changed, name)
        if found is None:
            continue
        container, key, path = found
        table = next(_law_tables(input_kind(name), after), None)
        if table is not None:
            if "group" in tables:
                # What fasteners of this lot have in common matters to a joint of several.
                fraction = float(f"{after.common:.2g}")
                table |= {"shared": {"by": _shared_by(container[key]), "fraction": fraction}}
            container[key] = table
            paths[name] = path
    return changed, paths


def _shared_by(stated: Any) -> str:
    """Return what the scatter of an input is shared by, as the case states it; else its lot."""
    shared = stated.get("shared") if isinstance(stated, Mapping) else None
    return str(shared.get("by", "lot")) if isinstance(shared, Mapping) else "lot"


def _place(tables: dict[str, Any], name: str) -> tuple[Any, Any, str] | None:
    """Return the table or list that states an input, its key or index there, and the path."""
    if name.startswith(_STATE):
        states = tables.get("temperature", {}).get("state", [])
        state, key, *layer = name.removeprefix(_STATE).split(".")
        place = next((i for i, each in enumerate(states) if each.get("name") == state), None)
        if place is None or key not in states[place]:
            return None
        path = f"{_STATE[:-1]}[{place + 1}].{key}"
        if not layer:
            return states[place], key, path
        return states[place][key], int(layer[0]) - 1, path
    if name.startswith(_CREEP):
        rows = tables.get("settling", {}).get("over_time", [])
        creep, _, key = name.removeprefix(_CREEP).rpartition(".")
        place = next((i for i, each in enumerate(rows) if each.get("name") == creep), None)
        if place is None or key not in rows[place]:
            return None
        return rows[place], key, f"{_CREEP[:-1]}[{place + 1}].{key}"
    section, _, key = name.rpartition(".")
    table: Any = tables
    for part in section.split("."):
        table = table.get(part) if isinstance(table, Mapping) else None
    return (table, key, name) if isinstance(table, dict) and key in table else None


def _law_tables(kind: InputKind, after: After) -> Iterator[dict[str, Any]]:
    """Yield the tables of laws with a median and a spread that the quantity can have."""
    sd = (after.high - after.low) / (2.0 * _TO_END)
    normal = {"law": "normal", **_moments(kind, after.median, sd)}
    candidates = []
    if isinstance(after.law, Normal) or kind.sign == "any" or kind.dimension is TEMPERATURE:
        candidates.append(normal)
    if after.low > 0.0:
        # ln x is normal: mean/median = exp(s²/2), sd/mean = sqrt(exp(s²) - 1).
        s = math.log(after.high / after.low) / (2.0 * _TO_END)
        mean = after.median * math.exp(0.5 * s * s)
        spread = _moments(kind, mean, mean * math.sqrt(math.expm1(s * s)))
        candidates.append({"law": "lognormal", **spread})
    if kind.sign != "any":
        # A share may reach 1, and a length nothing at all.
        ends = {"low": _words(-kind.about, kind.dimension)}
        if kind.is_share:
            ends["high"] = _words(1.0 - kind.about, kind.dimension)
        candidates.append({**normal, "law": "truncated normal", **ends})
    for table in candidates:
        problems = Problems()
        if LawOf(kind).read(table, kind.name, problems) is not None and not problems:
            yield table


def _moments(kind: InputKind, mean: float, sd: float) -> dict[str, Any]:
    width = kind.dimension.of_difference
    return {"mean": _words(mean - kind.about, kind.dimension), "sd": _words(sd, width)}


def _words(value: float, dimension: Dimension) -> str | float:
    """Return a quantity as it is typed: with its unit, a ratio as a number."""
    if dimension is RATIO:
        return float(f"{value:.{_DIGITS}g}")
    return format_quantity(value, dimension, digits=_DIGITS)


def _range_words(name: str, after: After) -> str:
    kind = input_kind(name)
    low, high = (
        format_quantity(value - kind.about, kind.dimension, digits=3)
        for value in (after.low, after.high)
    )
    return f"{low} to {high}"
