"""What a stated spread means: the standard deviation behind a half-width or a scatter ratio."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import NamedTuple

from preloadmc.chance.law import require

RECTANGULAR = "rectangular"

# Sd's per half-width. A share is that of a normal law between both limits; the rectangular law
# is JCGM 100:2008, 4.3.7.
_SDS_PER_HALF_WIDTH: dict[str, float] = {
    "1 sd": 1.0,
    "2 sd": 2.0,
    "3 sd": 3.0,
    RECTANGULAR: math.sqrt(3.0),
    "90 %": -NormalDist().inv_cdf(0.05),
    "95 %": -NormalDist().inv_cdf(0.025),
    "99 %": -NormalDist().inv_cdf(0.005),
}

COVERAGES: tuple[str, ...] = tuple(_SDS_PER_HALF_WIDTH)
"""What a half-width may be said to cover."""


def coverage_factor(coverage: str) -> float:
    """Return how many standard deviations a half-width of this coverage holds.

    A share of 95 % is 1.96 s.d. of a normal law (JCGM 100:2008, Table G.1; from memory):

    >>> round(coverage_factor("95 %"), 2)
    1.96
    """
    for name, factor in _SDS_PER_HALF_WIDTH.items():
        if coverage.replace(" ", "") == name.replace(" ", ""):
            return factor
    raise ValueError(f'coverage is "{coverage}": it must be one of {", ".join(COVERAGES)}')


def sd_from_half_width(half_width: float, coverage: str) -> float:
    """Return the standard deviation behind `half_width`, in its unit.

    A bound of 4 % taken as rectangular is 2.31 % (JCGM 100:2008, 4.3.7: a/√3):

    >>> round(sd_from_half_width(4.0, "rectangular"), 2)
    2.31
    """
    require(half_width > 0.0, "half_width", half_width, "above zero")
    return half_width / coverage_factor(coverage)


class ScatterRatioSpread(NamedTuple):
    """What a scatter ratio says of a lognormal and of a normal law."""

    log_sd: float
    """S.d. of the natural logarithm, lognormal law about its median."""
    relative_sd: float
    """S.d. over mean, normal law about its mean."""


def scatter_ratio_spread(ratio: float, k: float) -> ScatterRatioSpread:
    """Return the spread of a quantity whose largest over smallest value is `ratio`.

    Both limits lie `k` standard deviations from the middle: `ln(ratio)/(2 k)` for a lognormal law,
    `(ratio - 1)/((ratio + 1) k)` for a normal one. The tightening factor of VDI 2230 is such a
    ratio; VDI 2230-1:2001 puts the preload of its methods between ±9 % (ratio 1.2) and ±60 %
    (ratio 4):

    >>> round(100 * scatter_ratio_spread(1.2, 1.0).relative_sd, 1)
    9.1
    >>> round(100 * scatter_ratio_spread(4.0, 1.0).relative_sd, 1)
    60.0
    """
    require(ratio > 1.0, "scatter_ratio", ratio, "above 1")
    require(k > 0.0, "k", k, "above zero")
    return ScatterRatioSpread(math.log(ratio) / (2.0 * k), (ratio - 1.0) / (ratio + 1.0) / k)
