"""What to set, and what scatter the window tolerates."""

from preloadmc.questions.aim.allowed_scatter import (
    FOLLOWED,
    FOUND,
    FRICTION,
    TOO_LITTLE,
    TOOL,
    AllowedScatter,
    AllowedScatters,
    Spread,
)
from preloadmc.questions.aim.answer import rounding_words, setting_words, sheet_lines
from preloadmc.questions.aim.question import aim, find_setting
from preloadmc.questions.aim.records import AimResult, JudgedSetting, SettingPoint
from preloadmc.questions.aim.setting import Setting, case_at

__all__ = [
    "FOLLOWED",
    "FOUND",
    "FRICTION",
    "TOOL",
    "TOO_LITTLE",
    "AimResult",
    "AllowedScatter",
    "AllowedScatters",
    "JudgedSetting",
    "Setting",
    "SettingPoint",
    "Spread",
    "aim",
    "case_at",
    "find_setting",
    "rounding_words",
    "setting_words",
    "sheet_lines",
]
