"""Where random numbers come from: one stream for each chunk of samples and for each purpose.

A seed becomes a generator here and nowhere else. The bit generator is SFC64; streams are children
of numpy's `SeedSequence`, so they differ from each other and depend on the seed alone, not on
the number of threads or on the order of the work.
"""

from __future__ import annotations

import hashlib

import numpy as np
from numpy.random import SFC64, Generator, SeedSequence
from scipy.special import ndtri

from preloadmc.units import Array

CHUNK = 2**16
"""Samples in one chunk."""

_SOBOL_BITS = 50


def normal_chunk(seed: int, k: int, n: int, d: int, *, out: Array | None = None) -> Array:
    """Return chunk `k` of the standard normal numbers of `seed`, shape (n, d), columns contiguous.

    The stream is the k-th child that `SeedSequence(seed).spawn` gives. Columns are drawn one after
    the other: more columns leave the first ones as they were.

    `out` takes the numbers where given; it is the transpose of a C-contiguous array (d, n).
    """
    rng = Generator(SFC64(SeedSequence(seed, spawn_key=(k,))))
    if out is None:
        return rng.standard_normal((d, n)).T
    rng.standard_normal(out=out.T)
    return out


def named_rng(seed: int, purpose: str) -> Generator:
    """Return the generator of `seed` for one purpose, apart from every chunk and other purpose."""
    digest = hashlib.sha256(purpose.encode()).digest()
    # Four words; the key of a chunk has one.
    key = tuple(int(word) for word in np.frombuffer(digest[:16], dtype="<u4"))
    return Generator(SFC64(SeedSequence(seed, spawn_key=key)))


def sobol_normal(n: int, d: int, seed: int) -> Array:
    """Return a scrambled Sobol' design as standard normal numbers, shape (n, d).

    `n` is a power of two. The points lie in the middle of their cells of width 2^-50, so that none
    falls on 0 or 1. An interval needs several designs with different seeds. (A. B. Owen, J.
    Complexity 14 (1998) 466-489; direction numbers of S. Joe and F. Y. Kuo, SIAM J. Sci. Comput. 30
    (2008) 2635-2654.)
    """
    if n < 1 or n & (n - 1):
        raise ValueError(f"n is {n}: it must be a power of two")
    from scipy.stats.qmc import Sobol

    rng = named_rng(seed, "Sobol' design")
    points = Sobol(d, scramble=True, bits=_SOBOL_BITS, seed=rng).random(n)
    return np.asfortranarray(ndtri(points + 0.5 ** (_SOBOL_BITS + 1)))


def latin_hypercube_normal(n: int, d: int, rng: Generator) -> Array:
    """Return a Latin hypercube design as standard normal numbers, shape (n, d).

    Each column has one number in each of `n` equally likely cells, in random order (M. D. McKay,
    R. J. Beckman and W. J. Conover, Technometrics 21 (1979) 239-245).
    """
    cells = rng.permuted(np.tile(np.arange(n), (d, 1)), axis=1)
    shares = (cells + rng.random((d, n))) / n
    # Rounding may put a share on 0 or 1, which have no normal number.
    z: Array = ndtri(np.clip(shares, 2.0**-53, 1.0 - 2.0**-53)).T
    return z
