"""Where do the preload and its window come from?"""

from preloadmc.questions.derive.question import derive
from preloadmc.questions.derive.records import Derivation, NominalMargin

__all__ = ["Derivation", "NominalMargin", "derive"]
