"""Why did the joints come loose?"""

from preloadmc.questions.infer.answer import chance_words, factor_words, infer_answer
from preloadmc.questions.infer.fit import FindingFit
from preloadmc.questions.infer.next_measurement import Candidate
from preloadmc.questions.infer.prior_sensitivity import FACTOR
from preloadmc.questions.infer.question import InferResult, Verdict, infer

__all__ = [
    "FACTOR",
    "Candidate",
    "FindingFit",
    "InferResult",
    "Verdict",
    "chance_words",
    "factor_words",
    "infer",
    "infer_answer",
]
