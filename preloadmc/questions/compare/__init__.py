"""Which method, tool, lubricant or securing element?"""

from preloadmc.questions.compare.answer import amount_words, decision_words
from preloadmc.questions.compare.question import asked, compare
from preloadmc.questions.compare.records import Alternative, Amount, CompareResult

__all__ = [
    "Alternative",
    "Amount",
    "CompareResult",
    "amount_words",
    "asked",
    "compare",
    "decision_words",
]
