"""Changes of all joints of a register: what each would make of the misses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from preloadmc.case import Case
from preloadmc.case_file.register import RegisterRow, Template
from preloadmc.errors import CaseError
from preloadmc.inputs import by_group
from preloadmc.judgement.rows import judge_cases
from preloadmc.judgement.rows_together import JudgedRow
from preloadmc.judgement.verdicts import MISSES
from preloadmc.questions.aim import Setting, case_at
from preloadmc.questions.control import with_spread
from preloadmc.questions.survey.judged import Survey

# Settings tried for all joints alike: what is done to a whole plant comes in such steps.
SETTINGS = (0.9, 0.95, 1.05, 1.1)
# What a plant can act on: half the scatter of these kinds of inputs.
_HALVED = {
    "tool": "the tool",
    "friction": "thread and bearing friction",
    "faces": "friction between the parts",
    "settling": "settling",
}


@dataclass(frozen=True, slots=True)
class Change:
    """One change of all joints: ``kind`` is "setting", "own setting", "scatter" or "alternative".

    ``factor`` is that of the setting or of the scatter; ``of`` the kind of inputs, or the name of
    the alternative of the template.
    """

    kind: str
    of: str
    factor: float = 1.0

    @property
    def words(self) -> str:
        """Return it as a noun phrase."""
        if self.kind == "own setting":
            return "each joint at the setting that suits it best, where one meets every limit"
        if self.kind == "setting":
            percent = round(100.0 * abs(self.factor - 1.0))
            return f"every setting {percent} % {'higher' if self.factor > 1.0 else 'lower'}"
        if self.kind == "scatter":
            return f"half the scatter of {_HALVED[self.of]}"
        return f"the alternative '{self.of}'"


def changes_of(templates: Sequence[Template]) -> tuple[Change, ...]:
    """Return the changes worth trying: settings, scatter, and alternatives of the templates."""
    named = dict.fromkeys(name for template in templates for name in template.alternatives)
    return (
        *(Change("setting", "", factor) for factor in SETTINGS),
        *(Change("scatter", group, 0.5) for group in _HALVED),
        *(Change("alternative", name) for name in named),
    )


@dataclass(frozen=True, slots=True)
class Trial:
    """A row and the changes to be tried on it."""

    row: RegisterRow
    changes: tuple[Change, ...]


def tried_batch(survey: Survey, trials: Sequence[Trial]) -> list[list[dict[str, Any] | None]]:
    """Return what each change makes of each row: the chance that any limit is missed, the verdict.

    A change that does not act on a row leaves it as it is: None.
    """
    cases: list[Case] = []
    keys: list[str] = []
    places: list[tuple[int, int]] = []
    found: list[list[dict[str, Any] | None]] = []
    for n, trial in enumerate(trials):
        found.append([None] * len(trial.changes))
        template = survey.templates[trial.row.case]
        own = template.case_of(trial.row)
        for m, change in enumerate(trial.changes):
            changed = _changed(own, trial.row, template, change)
            if changed is not None:
                cases.append(changed)
                keys.append(trial.row.key)
                places.append((n, m))
    # The streams are those of the rows as they are: they differ by the change, not by chance.
    for (n, m), (judged, _) in zip(places, judge_cases(cases, keys, seed=survey.seed), strict=True):
        if isinstance(judged, JudgedRow):
            found[n][m] = _document(judged)
    return found


def _document(judged: JudgedRow) -> dict[str, Any]:
    value, low, high = judged.any_limit
    misses = judged.judgement.verdict == MISSES
    return {"probability": value, "low": low, "high": high, "misses": misses}


def _changed(case: Case, row: RegisterRow, template: Template, change: Change) -> Case | None:
    """Return a case with a change; None where that does not act on it."""
    if change.kind == "setting":
        return case_at(case, change.factor * Setting.of(case).present)
    if change.kind == "scatter":
        names = by_group(case.uncertain).get(change.of, ())
        return with_spread(case, dict.fromkeys(names, change.factor)) if names else None
    if change.of not in template.alternatives:
        return None
    try:
        return template.case_of(row, change.of)
    except CaseError:
        return None
