"""Where random numbers come from: one stream for each chunk of samples and for each purpose.

A seed becomes a generator here and nowhere else. The bit generator is SFC64; streams are children
of numpy's `SeedSequence`, so they differ from each other and depend on the seed alone, not on
the number of threads or on the order of the work.
"""

from __future__ import annotations

import hashlib

import numpy as np
from numpy.random import SFC64, Generator, SeedSequence

from preloadmc.units import Array

CHUNK = 2**16
"""Samples in one chunk."""


def normal_chunk(seed: int, k: int, n: int, d: int) -> Array:
    """Return one chunk of the standard normal numbers of a seed.

    Parameters
    ----------
    seed : int
        Seed of all chunks.
    k : int
        Which chunk; its stream is the k-th child that `SeedSequence(seed).spawn` gives.
    n, d : int
        Samples and columns. Columns are drawn one after the other: more of them leave the first
        ones as they were.

    Returns
    -------
    ndarray (n, d)
        Columns contiguous.
    """
    rng = Generator(SFC64(SeedSequence(seed, spawn_key=(k,))))
    return rng.standard_normal((d, n)).T


def named_rng(seed: int, purpose: str) -> Generator:
    """Return the generator of `seed` for one purpose, apart from every chunk and other purpose.

    Parameters
    ----------
    seed : int
        Seed of the case or the command.
    purpose : str
        What the numbers are for; another purpose, another stream.

    Returns
    -------
    numpy.random.Generator
        SFC64; the same seed and purpose give the same numbers.
    """
    digest = hashlib.sha256(purpose.encode()).digest()
    # Four words; the key of a chunk has one.
    key = tuple(int(word) for word in np.frombuffer(digest[:16], dtype="<u4"))
    return Generator(SFC64(SeedSequence(seed, spawn_key=key)))
