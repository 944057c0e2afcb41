"""What a worker makes of a batch of rows: each judged, as a dict that JSON can hold."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from preloadmc.case import Case
from preloadmc.case_file.register import RegisterRow, Template
from preloadmc.errors import CaseError, PreloadError, Problem
from preloadmc.inputs import input_label
from preloadmc.judgement.misses import RANKED_SIDES
from preloadmc.judgement.rows import judge_cases
from preloadmc.judgement.rows_together import JudgedRow
from preloadmc.judgement.verdicts import MEETS, NOT_JUDGED, Judged
from preloadmc.questions.aim import Setting
from preloadmc.questions.survey.settings import best_settings

Document = dict[str, Any]
# A limit is close where the upper limit of its probability is above this share of what is allowed.
CLOSE = 0.1
# Inputs that are named of what dominates a side.
_NAMED = 3
SHARED_BY = ("lot", "tool")


@dataclass(frozen=True, slots=True)
class Survey:
    """What all batches share: templates by name, the seed, and whether settings are asked for."""

    templates: Mapping[str, Template]
    seed: int
    aimed: bool = False


def judged_batch(survey: Survey, rows: Sequence[RegisterRow]) -> list[Document]:
    """Return what is judged of each row, in their order.

    A row with problems is refused with all of them, one that cannot be computed has failed with
    the reason: the others go on.
    """
    cases: list[Case | Document] = [_case_of(survey, row) for row in rows]
    found: list[Document | None] = [each if isinstance(each, dict) else None for each in cases]
    made = {place: each for place, each in enumerate(cases) if isinstance(each, Case)}
    judged = judge_cases([*made.values()], [rows[place].key for place in made], seed=survey.seed)
    aimed: list[Document | None] = [None] * len(made)
    if survey.aimed:
        aimed = best_settings([*made.values()], [rows[place].key for place in made], survey.seed)
    for (place, case), (row_judged, is_together), best in zip(
        made.items(), judged, aimed, strict=True
    ):
        if isinstance(row_judged, str):
            found[place] = failed_row(rows[place], row_judged)
            continue
        aim = {"best_setting": best} if survey.aimed else {}
        judged_row = _document(case, row_judged, is_together)
        found[place] = {**_head(rows[place]), **judged_row, **aim}
    return [each for each in found if each is not None]


def _case_of(survey: Survey, row: RegisterRow) -> Case | Document:
    problems: Iterable[Problem] = row.problems
    if row.case in survey.templates:
        try:
            return survey.templates[row.case].case_of(row)
        except CaseError as error:
            problems = error.problems
        except PreloadError as error:
            return failed_row(row, str(error))
    told = [{"path": each.path, "given": each.given, "allowed": each.allowed} for each in problems]
    return {**_head(row), "status": "refused", "problems": told}


def failed_row(row: RegisterRow, words: str) -> Document:
    """Return a row that could not be computed, with what happened."""
    problem = {"path": "", "given": "", "allowed": words}
    return {**_head(row), "status": "failed", "problems": [problem]}


def _head(row: RegisterRow) -> Document:
    return {
        "key": row.key,
        "joint": row.joint,
        "line": row.line,
        "case": row.case,
        "lot": row.lot,
        "tool": row.tool,
        "notes": dict(row.notes),
    }


def _document(case: Case, row: JudgedRow, is_together: bool) -> Document:
    judged = row.judgement
    setting = Setting.of(case)
    close = [each for each in judged.limits if _is_close(each)]
    document: Document = {
        "status": "judged",
        "together": is_together,
        "verdict": judged.verdict,
        "setting": {"input": setting.input, "value": setting.present},
        "outcomes": {each.name: event_document(each) for each in judged.outcomes},
        "limits": [
            {"limit": each.name, "state": each.governing_state, **event_document(each)}
            for each in close
        ],
        "dominates": {
            side: [
                {"name": name, "words": input_label(name), "share": share}
                for name, share in sorted(each.share.items(), key=lambda item: -item[1])[:_NAMED]
            ]
            for side, each in row.misses.items()
        },
        "any_limit": dict(zip(("probability", "low", "high"), row.any_limit, strict=True)),
        "unknown": dict(judged.unknown),
        "unsure_strength": dict(judged.unsure_strength),
        "warnings": list(case.warnings),
    }
    if judged.of_joint:
        document["group"] = {
            "fasteners": case.group.n if case.group is not None else 1,
            "outcomes": {each.name: event_document(each) for each in judged.of_joint},
        }
    shared = _shared(case, row)
    if shared:
        document["shared"] = shared
    return document


def event_document(judged: Judged) -> Document:
    """Return an outcome or limit with its probability and verdict, by the keys of a run."""
    found = judged.probability
    document: Document = {
        "probability": found.value,
        "low": found.low,
        "high": found.high,
        "allowed": judged.allowed,
        "verdict": judged.verdict,
        "method": found.method,
        "samples": found.samples,
    }
    if found.bound is not None:
        document["bound"] = found.bound
    if not found.reliable:
        known = judged.known
        document["reliable"] = False
        document["known"] = {"probability": known.value, "low": known.low, "high": known.high}
    if found.note:
        document["note"] = found.note
    if judged.band is not None:
        band = judged.band
        document["band"] = {
            "median": band.median,
            "low": band.low,
            "high": band.high,
            "upper": band.upper,
            "confidence": band.confidence,
        }
    return document


def _is_close(judged: Judged) -> bool:
    """Return whether a limit is missed, or not clearly met."""
    if judged.verdict == NOT_JUDGED:
        return judged.is_worth_saying
    assert judged.allowed is not None, "judged against something"
    return judged.verdict != MEETS or judged.upper > CLOSE * judged.allowed


def _shared(case: Case, row: JudgedRow) -> Document:
    """Return how far misses of a side follow what joints share, by lot or tool and input.

    That is the cosine of the input with the way to a miss, times the root of the shared part.
    """
    found: Document = {}
    for side in RANKED_SIDES:
        missed = row.misses[side]
        length = math.sqrt(sum(mean * mean for mean in missed.mean.values()))
        if length == 0.0:
            continue
        for name, shared in case.shared.items():
            if shared.by not in SHARED_BY or name not in missed.mean:
                continue
            cosine = missed.mean[name] / length * math.sqrt(shared.fraction)
            found.setdefault(side, {}).setdefault(shared.by, {})[name] = cosine
    return found
