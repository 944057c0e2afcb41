"""How many joints of a register will miss, which ones, and what single change helps most?"""

from preloadmc.questions.survey.batches import in_batches
from preloadmc.questions.survey.question import MemoryStore, survey
from preloadmc.questions.survey.records import RowStore, SurveyResult
from preloadmc.questions.survey.workers import Workers, processes

__all__ = [
    "MemoryStore",
    "RowStore",
    "SurveyResult",
    "Workers",
    "in_batches",
    "processes",
    "survey",
]
