"""Whose scatter makes the scatter of preload? Sobol' indices of the residual preload."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.dependence import Dependence
from preloadmc.errors import UsageError
from preloadmc.estimates.sobol import SobolIndices, sobol_indices
from preloadmc.inputs import input_label
from preloadmc.joint import evaluate
from preloadmc.units import Array

BASE_SAMPLES = 4096


@dataclass(frozen=True, slots=True)
class RankResult:
    """Sobol' indices of the residual preload.

    ``members`` are the inputs of each ranked name: one, or all of a group of correlated ones.
    """

    case: Case
    seed: int
    indices: SobolIndices
    members: tuple[tuple[str, ...], ...]

    @property
    def order(self) -> tuple[int, ...]:
        """Return the places of the ranked names, largest total index first."""
        return tuple(int(place) for place in np.argsort(-self.indices.total, kind="stable"))


def rank(case: Case, *, seed: int | None = None, base_samples: int = BASE_SAMPLES) -> RankResult:
    """Rank the inputs of a case by their share in the variance of the residual preload.

    Parameters
    ----------
    case : Case
        At least one input must scatter.
    seed : int, optional
        That of the case unless given.
    base_samples : int
        A power of two; the model is called ``base_samples (k + 2)`` times for k ranked names.

    Returns
    -------
    RankResult
        Correlated inputs are ranked together as one group: a share of the variance belongs to
        none of them alone.

    Raises
    ------
    UsageError
        If nothing scatters.
    """
    columns = case.uncertain
    if not columns:
        raise UsageError("nothing in this case scatters, so there is nothing to rank")
    groups = _groups(case, columns)
    seed = case.sampling.seed if seed is None else seed

    def residual(z: Array) -> Array:
        state = evaluate(case.joint, case.inputs(z, columns))
        return np.broadcast_to(np.asarray(state.residual, dtype=float), len(z))

    indices = sobol_indices(
        residual,
        [" with ".join(input_label(name) for name in group) for group in groups],
        seed=seed,
        base_samples=base_samples,
        groups=[[columns.index(name) for name in group] for group in groups],
    )
    return RankResult(case, seed, indices, groups)


def _groups(case: Case, columns: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """Return the inputs that are ranked together, in the order of the columns."""
    together = {
        name: group
        for group in Dependence.from_pairs(columns, case.correlations).groups
        for name in group
    }
    return tuple(dict.fromkeys(together.get(name, (name,)) for name in columns))
