"""How likely is the joint to end outside its preload window?"""

from preloadmc.questions.run.ladder import Ladder, Rung, ladder
from preloadmc.questions.run.question import LimitResult, RunResult, Stage, asked, run
from preloadmc.questions.run.window import StageLimit, case_limits, stage_limits

__all__ = [
    "Ladder",
    "LimitResult",
    "RunResult",
    "Rung",
    "Stage",
    "StageLimit",
    "asked",
    "case_limits",
    "ladder",
    "run",
    "stage_limits",
]
