"""How well values keep to their limits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import scipy

from preloadmc.chance.fitting import moments_with_intervals
from preloadmc.chance.law import require
from preloadmc.units import Array


@dataclass(frozen=True, slots=True)
class Capability:
    """Capability indices Cm and Cmk of `n` values with intervals."""

    n: int
    cm: float
    cm_low: float
    cm_high: float
    cmk: float
    cmk_low: float
    cmk_high: float
    confidence: float


def capability(values: Array, low: float, high: float, confidence: float = 0.95) -> Capability:
    """Return Cm = (high - low)/(6 s) and Cmk, the nearer limit's distance from the mean over 3 s.

    For values of a normal law, shape (n,), taken in one series (the indices of a process over time
    have the same form). The interval of Cm is exact (chi-square), that of Cmk approximate:
    Cmk ± z sqrt(1/(9 n) + Cmk²/(2 (n - 1))).

    Source: D. C. Montgomery, Introduction to Statistical Quality Control, Wiley, chapter on process
    capability; A. F. Bissell, Applied Statistics 39 (1990) 331 (both from memory).

    >>> import numpy as np
    >>> round(capability(np.array([9.0, 10.0, 11.0]), 4.0, 13.0).cmk, 6)
    1.0
    """
    if not low < high:
        raise ValueError(f"low is {low:g}: it must be below high, {high:g}")
    moments = moments_with_intervals(values, confidence)
    require(moments.sd > 0.0, "sd", moments.sd, "above zero")
    n, width = moments.n, (high - low) / 6.0
    cmk = min(high - moments.mean, moments.mean - low) / (3.0 * moments.sd)
    z = float(scipy.special.ndtri(0.5 * (1.0 + confidence)))
    half = z * math.sqrt(1.0 / (9.0 * n) + cmk * cmk / (2.0 * (n - 1)))
    return Capability(
        n,
        width / moments.sd,
        width / moments.sd_high,
        width / moments.sd_low,
        cmk,
        cmk - half,
        cmk + half,
        confidence,
    )
