"""Margins as the estimators see them: a callable of standard normals, counted and checked."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from preloadmc.errors import NotFiniteError
from preloadmc.units import Array

Margins = Callable[[Array], Array]
"""From z, shape (n, d), to margins, shape (n, m): one column per limit state and state."""

BLOCK = 2**16
"""Rows evaluated at once: more of them gain no speed and cost memory."""


class CountedMargins:
    """Margins that count their calls (rows of z) and refuse a value that is not finite."""

    def __init__(self, margins: Margins) -> None:
        self.margins = margins
        self.calls = 0

    def __call__(self, z: Array) -> Array:
        """Margins, shape (n, m), evaluated in blocks of at most 2^16 rows."""
        self.calls += len(z)
        blocks = [self.margins(z[start : start + BLOCK]) for start in range(0, len(z), BLOCK)]
        values = blocks[0] if len(blocks) == 1 else np.concatenate(blocks)
        if not np.isfinite(values).all():
            row, column = np.argwhere(~np.isfinite(values))[0]
            raise NotFiniteError(
                f"margin {column} came out {values[row, column]} at standard normals "
                f"{np.array2string(z[row], precision=3)}"
            )
        return values

    def worst(self, z: Array) -> Array:
        """Smallest margin of each row, shape (n,): negative is a miss."""
        smallest: Array = self(z).min(axis=1)
        return smallest
