"""What all fasteners of a joint do together: total clamp, slip of the whole joint."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from preloadmc.chance.streams import named_rng
from preloadmc.estimates.band import Band, band_of, unknown_numbers
from preloadmc.estimates.conditional import conditional_probabilities
from preloadmc.estimates.design_point import DesignPoint, design_points
from preloadmc.estimates.probability import Probability
from preloadmc.estimates.subset import subset_runs
from preloadmc.estimates.tail import tail_probability
from preloadmc.units import Array
from preloadmc.whole_joint import WholeJoint

PRECISION = 0.2
"""Wanted half width of the interval of a joint's probability, over its value."""

# The level that subset simulation reached without a miss is itself an estimate: a bound is so many
# times its size.
_CAUTIOUS = 10.0
# Draws of what is not known: each takes a search among the numbers of all fasteners.
_DRAWS = 512
_MOST_POINTS = 2


def together(
    whole: WholeJoint, name: str, seed: int, *, cross_check: bool = True
) -> tuple[Probability, Probability | None]:
    """Return the probability of an event of all fasteners together, and its check.

    Parameters
    ----------
    whole : WholeJoint
        The joint.
    name : {"total_clamp", "slip_capacity"}
        The event.
    seed : int
        Each event has a stream of its own.
    cross_check : bool
        False saves the second estimate.
    """
    found = tail_probability(
        whole.margins_of(name),
        whole.numbers,
        rng=named_rng(seed, f"joint: {name}"),
        smooth=whole.case.is_smooth,
        precision=PRECISION,
        cross_check=cross_check,
    )
    return found.probability, found.check


def bounded(
    whole: WholeJoint, name: str, plain: Probability, allowed: float | None, seed: int
) -> Probability:
    """Return what plain samples say where no way to a miss was found: misses may be too far off."""
    if plain.misses or allowed is None or not whole.case.is_smooth:
        return plain
    rng = named_rng(seed, f"bound of {name}")
    runs = subset_runs(whole.margins_of(name), whole.numbers, rng=rng)
    if runs.below >= plain.high:
        return plain
    words = f"no miss found by {len(runs.estimates)} runs of subset simulation down to"
    return replace(plain, high=_CAUTIOUS * runs.below).noted(f"{words} {runs.below:.0e}")


def band_of_all(whole: WholeJoint, name: str, seed: int) -> Band | None:
    """Return how far the probability may lie off for want of tests; None where no tests are."""
    if not whole.unknowns:
        return None
    margins, numbers = whole.margins_of(name), whole.numbers
    rng = named_rng(seed, f"band of {name}")
    points: tuple[DesignPoint, ...] = ()
    if whole.case.is_smooth:
        points = design_points(margins, numbers, rng=rng)
    e = unknown_numbers(whole.unknowns, rng, _DRAWS)
    unknown = np.arange(whole.shared - whole.unknowns, whole.shared)
    rest = np.setdiff1d(np.arange(numbers), unknown)

    def given(z: Array, draw: NDArray[np.intp]) -> Array:
        whole_z = np.empty((len(z), numbers))
        whole_z[:, unknown] = e[draw]
        whole_z[:, rest] = z
        return margins(whole_z)

    starts = [(np.tile(point.z[rest], (len(e), 1)), point.column) for point in points]
    found = conditional_probabilities(
        given,
        starts[:_MOST_POINTS] if whole.case.is_smooth else None,
        len(e),
        len(rest),
        rng=rng,
    )
    return band_of(found, whole.case.requirement.confidence)
