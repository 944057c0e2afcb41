"""How many joints of a register will miss, which ones, and what single change helps most?"""

from preloadmc.judgement.rows_together import ANY_LIMIT
from preloadmc.questions.survey.answer import number_words, spread_words
from preloadmc.questions.survey.batches import in_batches
from preloadmc.questions.survey.cluster import cluster_at
from preloadmc.questions.survey.question import DEFAULT_SEED, WORST, MemoryStore, survey
from preloadmc.questions.survey.records import (
    Document,
    Expected,
    Part,
    RowStore,
    Spread,
    SurveyResult,
    TriedChange,
)
from preloadmc.questions.survey.totals import EVENTS, miss_numbers
from preloadmc.questions.survey.workers import Workers, processes

__all__ = [
    "ANY_LIMIT",
    "DEFAULT_SEED",
    "EVENTS",
    "WORST",
    "Document",
    "Expected",
    "MemoryStore",
    "Part",
    "RowStore",
    "Spread",
    "SurveyResult",
    "TriedChange",
    "Workers",
    "cluster_at",
    "in_batches",
    "miss_numbers",
    "number_words",
    "processes",
    "spread_words",
    "survey",
]
