"""The joint as found, as a case file: what the leading suspect makes of the case."""

from __future__ import annotations

import textwrap

from preloadmc.case_file import as_found
from preloadmc.case_file.field import TRACE_SECTIONS
from preloadmc.questions.infer import InferResult, Verdict
from preloadmc.units import format_number

_WIDTH = 98


def as_found_text(result: InferResult, copies: str) -> str:
    """Return the case file; ``copies`` is where its CSV files lie, from its folder."""
    leader = result.suspects[0]
    after = {
        each.name: each.after for each in leader.inputs if each.name in leader.suspect.case.laws
    }
    found = as_found(result.case, leader.suspect, after, copies)
    words = [
        f"The joint as found, if the cause is '{leader.suspect.name}' "
        f"({_per_cent(leader)} among the suspects named): the case without findings and suspects, "
        "with the laws of this suspect, and those after the evidence where it moved them.",
        *_doubts(result),
        *_left_out(leader),
    ]
    if found.kept:
        words.append(
            f"Moved by the evidence, and as before here: {', '.join(found.kept)}. They follow from "
            "other keys, or no law of theirs can be read with the others."
        )
    if not found.has_alternatives:
        words.append("The alternatives of the case are left out: this joint cannot have them.")
    words.append(
        "Run it with `preloadmc run`. `preloadmc compare CASE --from FOLDER` sets the "
        "alternatives of a case file against it; give the folder of this file."
    )
    lines = [line for each in words for line in textwrap.wrap(each, _WIDTH)]
    return "".join(f"# {line}\n" for line in lines) + "\n" + found.text


def _doubts(result: InferResult) -> list[str]:
    """Return that other causes may be at work, where the answer is not sure."""
    _, *others = result.leading
    if result.is_sure and not others:
        return []
    names = [f"'{each.suspect.name}' ({_per_cent(each)})" for each in others]
    names += [
        f"'{each.suspect.name}' (not named in the case)" for each in result.other_cause.as_well
    ]
    also = f": {', '.join(names)}" if names else ""
    return [f"NOT SURE: other causes may be at work{also}. A cure for this one may not cure them."]


def _left_out(leader: Verdict) -> list[str]:
    """Return what a run cannot show of what was found."""
    sections = ", ".join(f"[{section}]" for section in TRACE_SECTIONS)
    words = f"A run does not model what only an inspection shows: {sections} are left out."
    changes = sorted(leader.suspect.changes)
    lost = [path for path in changes if path.partition(".")[0] in TRACE_SECTIONS]
    if lost:
        rest = "the cause is not in this file" if len(lost) == len(changes) else "part of it"
        words += (
            f" Of this suspect that is {', '.join(lost)} ({rest}): the joint that was found is "
            "worse than this one."
        )
    return [words]


def _per_cent(verdict: Verdict) -> str:
    return f"{format_number(100.0 * verdict.probability, 2)} %"
