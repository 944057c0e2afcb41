"""The question of vibration tests: what preload is left, for how long, with which element?"""

from preloadmc.questions.decay.answer import count_of, cycles_words, whole_percent
from preloadmc.questions.decay.question import decay
from preloadmc.questions.decay.rating import FROM_MEMORY, Rating, Threshold
from preloadmc.questions.decay.records import (
    CONFIDENCE,
    CONTENT,
    LIFE_SHARES,
    REMAINDER,
    DecayQuestion,
    DecayResult,
    ElementDecay,
    ElementDifference,
    ElementLifetime,
    LifeQuantile,
    RemainingLimit,
    RemainingPreload,
    TestPhases,
)
from preloadmc.questions.decay.vibration_record import VibrationRecord

__all__ = [
    "CONFIDENCE",
    "CONTENT",
    "FROM_MEMORY",
    "LIFE_SHARES",
    "REMAINDER",
    "DecayQuestion",
    "DecayResult",
    "ElementDecay",
    "ElementDifference",
    "ElementLifetime",
    "LifeQuantile",
    "Rating",
    "RemainingLimit",
    "RemainingPreload",
    "TestPhases",
    "Threshold",
    "VibrationRecord",
    "count_of",
    "cycles_words",
    "decay",
    "whole_percent",
]
