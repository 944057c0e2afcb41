"""Rows with margins of closed form, estimated as a register's are."""

from dataclasses import dataclass

import numpy as np

from preloadmc.chance.streams import named_rng
from preloadmc.estimates.row_sampling import RowSampling, row_mixture
from preloadmc.estimates.row_search import Explored, explored


@dataclass
class Estimates:
    value: np.ndarray
    cov: np.ndarray
    finite: np.ndarray
    seen: Explored


def estimates(margins, rows, d, events, *, seed, radius=6.0, streams=None):
    """Search, plan and sample rows; no allowed probability."""
    columns = [np.array(each, dtype=np.intp) for each in events]
    generators = [named_rng(seed, f"row {row}") for row in streams or range(rows)]
    with np.errstate(all="ignore"):
        seen = explored(
            margins, rows, d, columns, radius=np.full(rows, radius), generators=generators
        )
        mixture = row_mixture(seen.points, rows, d, columns)
        sampling = RowSampling(margins, mixture, columns, generators, lambda z: z)
        draws = sampling.plan(0.2, np.full((rows, len(events)), np.nan))
        sampling.draw(np.arange(rows), draws)
        counts = sampling.counts
        return Estimates(counts.value, counts.cov, seen.finite & counts.finite, seen)
