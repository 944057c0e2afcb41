"""How likely is the joint to end outside its preload window?"""

from preloadmc.questions.run.budget import Loss, LossBudget
from preloadmc.questions.run.checks import CheckFound
from preloadmc.questions.run.fatigue import FatigueByPreload
from preloadmc.questions.run.life import LIFE_QUANTILES, LifePoint, LifeResult, Trial
from preloadmc.questions.run.lots import LotShares
from preloadmc.questions.run.question import asked, run
from preloadmc.questions.run.records import Ladder, RunResult, Stage
from preloadmc.questions.run.whole_joint import JOINT_QUANTILES, JointResult, OrderTrial

__all__ = [
    "JOINT_QUANTILES",
    "LIFE_QUANTILES",
    "CheckFound",
    "FatigueByPreload",
    "JointResult",
    "Ladder",
    "LifePoint",
    "LifeResult",
    "Loss",
    "LossBudget",
    "LotShares",
    "OrderTrial",
    "RunResult",
    "Stage",
    "Trial",
    "asked",
    "run",
]
