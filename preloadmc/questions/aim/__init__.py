"""What to set, and what scatter the window bears."""

from preloadmc.questions.aim.answer import setting_words
from preloadmc.questions.aim.question import aim, find_setting
from preloadmc.questions.aim.records import AimResult, SettingPoint
from preloadmc.questions.aim.scatter_room import (
    FOLLOWED,
    FOUND,
    FRICTION,
    TOO_LITTLE,
    TOOL,
    Room,
    ScatterRoom,
    Spread,
)

__all__ = [
    "FOLLOWED",
    "FOUND",
    "FRICTION",
    "TOOL",
    "TOO_LITTLE",
    "AimResult",
    "Room",
    "ScatterRoom",
    "SettingPoint",
    "Spread",
    "aim",
    "find_setting",
    "setting_words",
]
