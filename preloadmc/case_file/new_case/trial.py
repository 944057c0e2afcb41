"""A new case read as soon as there is an answer, with the examples for what is still open."""

from __future__ import annotations

from collections.abc import Iterable

from preloadmc.case import Case
from preloadmc.case_file.load import read_case
from preloadmc.case_file.new_case.answers import Answers
from preloadmc.case_file.new_case.questions import Question, filled
from preloadmc.case_file.new_case.text import case_text
from preloadmc.case_file.parsing import tables_of
from preloadmc.errors import CaseError, Problem


def case_from_text(text: str, source: str) -> Case:
    """Return the case of a text that is to be written to a file.

    Raises
    ------
    CaseError
        With every problem of it.
    """
    try:
        tables = tables_of(text)
    except ValueError as error:
        raise CaseError(source, (Problem("file", "", str(error)),)) from error
    return read_case(tables, source, text, "")


def check_answers(answers: Answers, asked: Iterable[Question]) -> None:
    """Raise ValueError where the last answers make no case, in the words of its reader.

    Parameters
    ----------
    answers : Answers
        All so far, with those to be checked.
    asked : iterable of Question
        The questions to which the last answers were given; what was answered before made a case.
    """
    paths = tuple(path for question in asked for path in question.paths)
    try:
        case_from_text(case_text(filled(answers)), "")
    except CaseError as error:
        own = [problem for problem in error.problems if problem.path.startswith(paths)]
        words = [problem.allowed for problem in own] or [str(each) for each in error.problems]
        raise ValueError("; ".join(dict.fromkeys(words))) from None
