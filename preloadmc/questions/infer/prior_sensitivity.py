"""How far the answer depends on the priors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preloadmc.units import Array

# What two reasonable people may differ by in a prior weight (engineering judgement).
FACTOR = 3.0


@dataclass(frozen=True, slots=True)
class PriorSensitivity:
    """What other priors would make of the same evidence.

    ``low`` and ``high`` (k,) are each suspect's probability with its own prior weight divided and
    multiplied by three, ``even`` (k,) all probabilities at even priors of the single suspects, NaN
    for two causes at once. ``prior_factor_to_lose_lead`` is the factor by which the leader's prior
    weight has to fall before another leads.
    """

    low: Array
    high: Array
    even: Array
    prior_factor_to_lose_lead: float


def prior_sensitivity(
    probability: Array, prior: Array, single: NDArray[np.bool_]
) -> PriorSensitivity:
    """Return what other priors would make of the evidence.

    Parameters
    ----------
    probability, prior : ndarray (k,)
        Probabilities of the suspects, and the prior weights that they came from.
    single : ndarray of bool (k,)
        False for two causes at once.

    Examples
    --------
    >>> single = np.array([True, True])
    >>> found = prior_sensitivity(np.array([0.75, 0.25]), np.array([1.0, 1.0]), single)
    >>> float(found.low[0]), float(found.high[0])
    (0.5, 0.9)
    >>> found.prior_factor_to_lose_lead
    3.0
    """

    def own_prior_times(factor: float) -> Array:
        scaled = factor * probability
        share: Array = scaled / (1.0 - probability + scaled)
        return share

    even = np.where(single, probability / prior, np.nan)
    first, second = np.sort(probability)[[-1, -2]] if len(probability) > 1 else (1.0, 0.0)
    return PriorSensitivity(
        own_prior_times(1.0 / FACTOR),
        own_prior_times(FACTOR),
        even / np.nansum(even),
        float(first / second) if second > 0.0 else np.inf,
    )
