"""The laws a quantity may follow."""

from __future__ import annotations

from preloadmc.chance.bounded_laws import Beta, Triangular, Uniform
from preloadmc.chance.extreme_laws import Gumbel, Weibull
from preloadmc.chance.law import Constant, Law
from preloadmc.chance.normal_laws import LogNormal, Normal, TruncatedNormal
from preloadmc.chance.tabulated_law import Tabulated

__all__ = [
    "LAWS",
    "Beta",
    "Constant",
    "Gumbel",
    "Law",
    "LogNormal",
    "Normal",
    "Tabulated",
    "Triangular",
    "TruncatedNormal",
    "Uniform",
    "Weibull",
]

LAWS: dict[str, type[Law]] = {
    law.kind: law
    for law in (
        Normal,
        LogNormal,
        Uniform,
        Triangular,
        TruncatedNormal,
        Weibull,
        Gumbel,
        Beta,
        Constant,
        Tabulated,
    )
}
"""Every law by the word a case file calls it."""
