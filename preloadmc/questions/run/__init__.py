"""How likely is the joint to end outside its preload window?"""

from preloadmc.questions.run.budget import Loss, LossBudget
from preloadmc.questions.run.question import asked, run
from preloadmc.questions.run.records import Ladder, RunResult, Stage

__all__ = ["Ladder", "Loss", "LossBudget", "RunResult", "Stage", "asked", "run"]
