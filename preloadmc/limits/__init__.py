"""Limits by their records, and the margins of every sample to them."""

from preloadmc.limits.beside import BACK_OFF, LOOSENING
from preloadmc.limits.margins import (
    LIMITS,
    allowed_for,
    as_columns,
    margins,
    minimum_kinds,
    minimum_origins,
    on_side,
    preload_reached,
    unjudged,
)
from preloadmc.limits.records import (
    ABOVE,
    BELOW,
    OVER,
    UNDER,
    Found,
    Limit,
    LimitKind,
    Margin,
    Requirement,
    always,
)
from preloadmc.limits.window import (
    BREAKING,
    MAXIMUM_PRELOAD,
    MINIMUM_CLAMP,
    MINIMUM_CLAMP_INPUT,
    MINIMUM_PRELOAD,
    SLIP,
)

__all__ = [
    "ABOVE",
    "BACK_OFF",
    "BELOW",
    "BREAKING",
    "LIMITS",
    "LOOSENING",
    "MAXIMUM_PRELOAD",
    "MINIMUM_CLAMP",
    "MINIMUM_CLAMP_INPUT",
    "MINIMUM_PRELOAD",
    "OVER",
    "SLIP",
    "UNDER",
    "Found",
    "Limit",
    "LimitKind",
    "Margin",
    "Requirement",
    "allowed_for",
    "always",
    "as_columns",
    "margins",
    "minimum_kinds",
    "minimum_origins",
    "on_side",
    "preload_reached",
    "unjudged",
]
