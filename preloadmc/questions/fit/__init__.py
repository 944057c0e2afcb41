"""The question of test records: which law, how sure, and what do they show?"""

from preloadmc.questions.fit.answer import (
    claim_words,
    far_words,
    has_cov,
    p_words,
    plan_answer,
    share,
    share_below,
    spread_of,
)
from preloadmc.questions.fit.claims import ClaimPlan, plan_claim, share_shown_by_count
from preloadmc.questions.fit.derived import TOOL_ERROR
from preloadmc.questions.fit.for_case import DERIVED, case_lines, file_table, summary_table
from preloadmc.questions.fit.question import USUAL_SEED, fit, usual_law
from preloadmc.questions.fit.records import (
    AICC_APART,
    CONFIDENCE,
    CONTENT,
    FEWEST_TO_TELL,
    ODD,
    POOR_FIT,
    FitQuestion,
    FitResult,
    Measured,
    PairedFrictions,
    QuantityFit,
    ShownClaim,
)

__all__ = [
    "AICC_APART",
    "CONFIDENCE",
    "CONTENT",
    "DERIVED",
    "FEWEST_TO_TELL",
    "ODD",
    "POOR_FIT",
    "TOOL_ERROR",
    "USUAL_SEED",
    "ClaimPlan",
    "FitQuestion",
    "FitResult",
    "Measured",
    "PairedFrictions",
    "QuantityFit",
    "ShownClaim",
    "case_lines",
    "claim_words",
    "far_words",
    "file_table",
    "fit",
    "has_cov",
    "p_words",
    "plan_answer",
    "plan_claim",
    "share",
    "share_below",
    "share_shown_by_count",
    "spread_of",
    "summary_table",
    "usual_law",
]
