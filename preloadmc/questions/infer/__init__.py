"""Why did the joints come loose?"""

from preloadmc.questions.infer.answer import (
    chance_words,
    factor_words,
    infer_answer,
    is_likely,
)
from preloadmc.questions.infer.fit import FindingFit
from preloadmc.questions.infer.fit_check import (
    MEAN,
    RARE,
    SIMULATED,
    SPREAD,
    FitCheck,
    Oddity,
)
from preloadmc.questions.infer.next_measurement import Candidate
from preloadmc.questions.infer.prior_sensitivity import FACTOR
from preloadmc.questions.infer.question import infer
from preloadmc.questions.infer.records import InferResult, OtherCause, Unnamed, Verdict

__all__ = [
    "FACTOR",
    "MEAN",
    "RARE",
    "SIMULATED",
    "SPREAD",
    "Candidate",
    "FindingFit",
    "FitCheck",
    "InferResult",
    "Oddity",
    "OtherCause",
    "Unnamed",
    "Verdict",
    "chance_words",
    "factor_words",
    "infer",
    "infer_answer",
    "is_likely",
]
