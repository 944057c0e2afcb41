"""What would it be worth to control one source of scatter?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.laws import Constant
from preloadmc.engine import margin_function
from preloadmc.estimates.probability import Difference, Probability, from_counts, paired_difference
from preloadmc.units import Array


@dataclass(frozen=True, slots=True)
class Control:
    """The probability of an outcome if some scatter were gone, and the difference it makes."""

    names: tuple[str, ...]
    probability: Probability
    difference: Difference


def without_scatter(case: Case, names: Iterable[str]) -> Case:
    """Return the case with the named inputs held at their means, all else unchanged."""
    held = {name: Constant(case.laws[name].mean) for name in names}
    correlations = {
        pair: rho for pair, rho in case.correlations.items() if not held.keys() & set(pair)
    }
    return replace(case, laws={**case.laws, **held}, correlations=correlations)


def control(case: Case, names: tuple[str, ...], outcome: str, z: Array) -> Control:
    """Return what removing the scatter of the named inputs does, on common samples.

    Parameters
    ----------
    case : Case
        As it is.
    names : tuple of str
        Inputs to hold at their means.
    outcome : str
        "under_preload", "over_preload" or "outside_window".
    z : ndarray (n, d)
        Standard normal numbers of the case's uncertain inputs.
    """
    columns = case.uncertain
    before = (margin_function(case, outcome)(z) < 0.0).any(axis=1)
    changed = without_scatter(case, names)
    after = (margin_function(changed, outcome, columns)(z) < 0.0).any(axis=1)
    both = int(np.count_nonzero(before & after))
    only_after = int(np.count_nonzero(after)) - both
    only_before = int(np.count_nonzero(before)) - both
    neither = len(z) - both - only_after - only_before
    return Control(
        names,
        from_counts(both + only_after, len(z)),
        paired_difference(both, only_after, only_before, neither),
    )
