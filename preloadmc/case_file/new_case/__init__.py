"""A new case file from answers: what is asked, how answers are read, the text made of them."""

from preloadmc.case_file.new_case.answers import NONE, Answers
from preloadmc.case_file.new_case.investigation import investigation_text
from preloadmc.case_file.new_case.questions import (
    METHOD,
    PROMPTS,
    Prompt,
    Question,
    filled,
    method_of_controls,
    questions,
    resolved,
    said,
    with_answer,
    with_example,
)
from preloadmc.case_file.new_case.shipped import case_like, shipped_cases, to_change
from preloadmc.case_file.new_case.text import case_text
from preloadmc.case_file.new_case.trial import case_from_text, check_answers

__all__ = [
    "METHOD",
    "NONE",
    "PROMPTS",
    "Answers",
    "Prompt",
    "Question",
    "case_from_text",
    "case_like",
    "case_text",
    "check_answers",
    "filled",
    "investigation_text",
    "method_of_controls",
    "questions",
    "resolved",
    "said",
    "shipped_cases",
    "to_change",
    "with_answer",
    "with_example",
]
