"""A law's values at standard normal numbers, read from a table: quick enough for plain sampling.

Drawing a million numbers costs a few ms a column; the exact transforms of most laws cost several
times that. A cubic through four neighbouring points of a fine table is as good for counting.
Searches, rankings and estimates of rare misses keep the exact transforms.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from preloadmc.chance.law import Law
from preloadmc.units import Array

# The table reaches to a normal number that occurs once in 1e19 draws; beyond it the law is asked.
_REACH = 9.0
# Pieces of the table: it then takes 256 kB, and a smooth law is met to 1e-10 of its s.d.
_PIECES = 8192
_KEPT = 64


@dataclass(frozen=True, slots=True)
class _Table:
    """Coefficients (4, pieces) of a cubic in the place within each piece, the constant first."""

    coefficients: Array

    @classmethod
    def of(cls, law: Law) -> _Table:
        """Return the cubics through a law's exact values at four neighbouring points."""
        step = 2.0 * _REACH / _PIECES
        points = np.linspace(-_REACH - step, _REACH + step, _PIECES + 3)
        values = law.from_normal(points)
        before, start, end, after = values[:-3], values[1:-2], values[2:-1], values[3:]
        # Newton's form of the cubic through the points -1, 0, 1 and 2, sorted by powers.
        second = 0.5 * (before + end) - start
        third = (after - before) / 6.0 - 0.5 * (end - start)
        first = end - start - second - third
        return cls(np.stack([start, first, second, third]))

    def read(self, z: Array) -> Array:
        """Return the values (n,) at normal numbers (n,), all within the table."""
        place = (z + _REACH) * (_PIECES / (2.0 * _REACH))
        piece = place.astype(np.intp)
        place -= piece
        constant, first, second, third = self.coefficients
        x: Array = third[piece]
        for coefficient in (second, first, constant):
            x *= place
            x += coefficient[piece]
        return x


@lru_cache(maxsize=_KEPT)
def _table(law: Law) -> _Table:
    return _Table.of(law)


def sampled(law: Law, z: Array) -> Array:
    """Return a law's values at standard normal numbers, as good as counting needs.

    Parameters
    ----------
    law : Law
        Its exact transform is read from a table where that is slower than the table.
    z : ndarray (n,)
        Standard normal numbers.

    Returns
    -------
    ndarray (n,)
        Within 1e-7 s.d. of ``law.from_normal(z)``, next to the kink of a triangular law and for
        the most skewed Weibull laws; otherwise within 1e-11 s.d.
    """
    if law.is_quick or not law.is_smooth or max(z.max(), -z.min()) >= _REACH:
        return law.from_normal(z)
    x = _table(law).read(z)
    return np.clip(x, *law.support, out=x)
