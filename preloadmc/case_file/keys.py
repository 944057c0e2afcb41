"""Every key of a case file, in the order of the file: the rows of the sections and the inputs."""

from __future__ import annotations

from collections.abc import Iterator

from preloadmc.case_file import evidence, investigation, suspects, traces
from preloadmc.case_file.field import Field, FieldList, Form
from preloadmc.case_file.law_kind import LawOf
from preloadmc.case_file.sections import (
    acceptance,
    alternatives,
    deterministic,
    fastener,
    fatigue,
    friction,
    group,
    over_time,
    requirement,
    sampling,
    securing,
    service,
    settling,
    stack,
    tightening,
    tool,
)
from preloadmc.inputs import INPUT_KINDS, Default
from preloadmc.joint import METHODS

_FACTS: tuple[Field, ...] = (
    *alternatives.NAME_FIELDS,
    *fastener.FIELDS,
    *stack.FIELDS,
    *friction.FIELDS,
    *tightening.FIELDS,
    *acceptance.FIELDS,
    *securing.FIELDS,
    *settling.FIELDS,
    *service.FIELDS,
    *fatigue.FIELDS,
    *over_time.FIELDS,
    *requirement.FIELDS,
    *group.FIELDS,
    *alternatives.COST_FIELDS,
    *deterministic.FIELDS,
    *sampling.FIELDS,
    *traces.TRACE_FIELDS,
    *investigation.FIELDS,
    *evidence.FIELDS,
    *suspects.SUSPECT_FIELDS,
    *alternatives.ALTERNATIVE_FIELDS,
)
_FORMS: tuple[Form, ...] = (
    *tool.FORMS,
    tightening.TYPICAL_PRELOAD,
    settling.EMBEDDING_BY_ROUGHNESS,
    fatigue.ENDURANCE_BY_GUIDE,
    *requirement.FORMS,
)


def all_fields() -> FieldList:
    """Return every key of a case file, in the order of the file.

    In each section the inputs stand behind what is no input, in the order of their own list.
    """
    return FieldList((*_FACTS, *_input_fields()), _FORMS)


def _input_fields() -> Iterator[Field]:
    """Yield the row of every input; what a tightening method alone has may have its default."""
    of_methods = {
        control.input: Default(control.default, control.assumed, control.source)
        for method in METHODS.values()
        for control in method.controls
        if control.default is not None
    }
    for kind in INPUT_KINDS.values():
        path = kind.name.replace(".*", "[]")
        default = kind.default or of_methods.get(kind.name)
        yield Field(path, LawOf(kind), kind.meaning, kind.example, default, replaces=kind.replaces)
