"""How likely is the joint to end outside its preload window?"""

from preloadmc.questions.run.question import asked, run
from preloadmc.questions.run.records import Ladder, RunResult, Stage

__all__ = ["Ladder", "RunResult", "Stage", "asked", "run"]
