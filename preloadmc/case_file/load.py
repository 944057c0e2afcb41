"""A case file, read whole: text -> tables -> what every row states -> Case."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from preloadmc.case import Case, Suspect
from preloadmc.case_file.content import file_content
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.exceptions import with_exceptions
from preloadmc.case_file.investigation import investigation_of, is_investigation
from preloadmc.case_file.keys import all_fields
from preloadmc.case_file.make_case import File, make_case
from preloadmc.case_file.merging import changes_method, doubts_of_change, merged
from preloadmc.case_file.named_tests import with_named_tests
from preloadmc.case_file.no_effect import keys_without_effect
from preloadmc.case_file.parsing import tables_of
from preloadmc.case_file.problems import UNPRINTABLE, Problems
from preloadmc.case_file.reading import Stated, read
from preloadmc.case_file.sections.alternatives import BEST
from preloadmc.case_file.suspects import any_cause_of, pairs_of, unnamed_of
from preloadmc.errors import CaseError, Problem

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
    data, content = load_tables(Path(path))
    text = content.decode("utf-8-sig")
    return read_case(data, str(path), text, hashlib.sha256(content).hexdigest())


def load_tables(path: Path) -> tuple[dict[str, Any], bytes]:
    """Return the tables of a case file and its content.

    Raises
    ------
    CaseError
        If it cannot be read, or is no TOML within the bounds of a case file.
    """
    content = _content(path)
    try:
        str(path).encode()  # the name stands in every report
    except UnicodeEncodeError as error:
        raise _unusable(path, "a file with a name in UTF-8 is needed") from error
    if UNPRINTABLE.search(path.name):
        raise _unusable(path, "a file with a name of printable characters is needed")
    try:
        data = tables_of(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise _unusable(path, f"text in UTF-8 is needed; byte {error.start} is not") from error
    except ValueError as error:
        raise _unusable(path, str(error)) from error
    if not data:
        raise _unusable(
            path,
            "the file is empty; it needs at least [fastener], [friction], "
            "[tightening] and [requirement]",
        )
    return data, content


def _content(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise _unusable(path, "a folder was given; a case file is needed")
        content = file_content(path, LARGEST_FILE + 1)
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
    data, tables = with_named_tests(data, Path(source).parent, problems)
    file = File(source, text, sha256, tables)
    stated = read(data, all_fields(), problems)
    case = with_exceptions(make_case(stated, file), data, stated, file)
    investigation = None
    investigates = is_investigation(data)
    if investigates:
        investigation = investigation_of(data, stated, case, file)
    unusual = list(stated.doubts)
    alternatives = _alternatives(data, stated, file, unusual)
    if case is None or problems:
        raise CaseError(source, problems.sorted(stated.fields.place), tuple(unusual))
    idle = keys_without_effect(case, stated, compares=bool(alternatives), investigates=investigates)
    others = [
        keys_without_effect(made, tables, compares=True, investigates=investigates)
        for made, tables in alternatives
    ]
    # What has an effect in an alternative is stated for that one; each is warned of once.
    everywhere = tuple(words for words in idle if all(words in each for each in others))
    return replace(
        case,
        warnings=(*case.warnings, *everywhere),
        alternatives=tuple(
            replace(made, warnings=(*made.warnings, *(w for w in own if w not in idle)))
            for (made, _), own in zip(alternatives, others, strict=True)
        ),
        investigation=investigation,
    )


def _alternatives(
    data: Mapping[str, Any], stated: Stated, file: File, unusual: list[str]
) -> list[tuple[Case, Stated]]:
    """Return the alternatives with what each states, without those with problems.

    The problems are noted, and what is unusual in an alternative is added to ``unusual``.
    """
    fields = stated.fields
    sections = fields.of_cases
    own = {key: data[key] for key in sections if key in data}
    names = {stated.known("name", str)}
    found = []
    for path in stated.each("alternative"):
        name = stated.get(f"{path}.name", str)
        if name is None:
            continue
        if name in names:
            stated.problem(
                f"{path}.name",
                "a unique name for the alternative; it is taken already, by the case or an "
                "alternative",
            )
            continue
        names.add(name)
        problems = Problems()
        change = {key: value for key, value in stated.given(path).items() if key != "setting"}
        changed = merged(own, change, fields)
        tables = read(changed, fields, problems, sections)
        unusual += (f"{words} (in '{name}')" for words in tables.doubts if words not in unusual)
        made = make_case(tables, file, changed_method=changes_method(own, change))
        made = with_exceptions(made, changed, tables, file)
        stated.problems.take(problems, path, name)
        if made is not None:
            alternative = replace(
                made,
                at_best=stated.get(f"{path}.setting", str) == BEST,
                warnings=(*made.warnings, *doubts_of_change(own, change)),
            )
            found.append((alternative, tables))
    return found


@dataclass(frozen=True, slots=True)
class Rivals:
    """Suspects that nobody named: each two of those named at once, and the shipped ones left out.

    ``any_cause`` has laws so wide that few causes lie outside, or is None where none can act.
    """

    pairs: tuple[Suspect, ...]
    unnamed: tuple[Suspect, ...]
    any_cause: Suspect | None


def load_rivals(case: Case) -> Rivals:
    """Return the suspects that nobody named, from the text that a case keeps.

    The prior weights of the pairs are what the case says of two causes at work together, shared out
    by the product of the weights of the two.

    Raises
    ------
    CaseError
        With every problem that two suspects make together.
    """
    investigation = case.investigation
    if investigation is None:
        return Rivals((), (), None)
    problems = Problems()
    data, tables = with_named_tests(tables_of(case.text), Path(case.source).parent, problems)
    file = File(case.source, case.text, case.sha256, tables)
    draft = Draft(read(data, all_fields(), problems), file.folder)
    both = investigation.two_causes
    pairs = pairs_of(data, draft, file) if both > 0.0 else ()
    if problems:
        raise CaseError(case.source, problems.sorted(draft.stated.fields.place))
    singles = sum(suspect.prior for suspect in investigation.suspects)
    scale = both / (1.0 - both) * singles / (sum(pair.prior for pair in pairs) or 1.0)
    return Rivals(
        tuple(replace(pair, prior=scale * pair.prior) for pair in pairs),
        unnamed_of(data, draft, file, knows_time=investigation.evidence.service_time is not None),
        any_cause_of(data, draft, file),
    )
