"""What is each source of scatter worth, and half of each loss?"""

from preloadmc.questions.control.answer import NO_HELP, bias_words, control_words, leading_source
from preloadmc.questions.control.question import (
    RUN_BLOCK,
    RUN_INPUTS,
    RUN_PRECISION,
    RUN_SAMPLES,
    Changed,
    ControlResult,
    Lever,
    control,
    with_spread,
    without_bias,
)

__all__ = [
    "NO_HELP",
    "RUN_BLOCK",
    "RUN_INPUTS",
    "RUN_PRECISION",
    "RUN_SAMPLES",
    "Changed",
    "ControlResult",
    "Lever",
    "bias_words",
    "control",
    "control_words",
    "leading_source",
    "with_spread",
    "without_bias",
]
