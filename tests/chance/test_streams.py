"""Streams: the same numbers whatever the order of the work, and designs that fill their cells."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from numpy.random import SFC64, Generator, SeedSequence
from scipy import stats

from preloadmc.chance.streams import (
    CHUNK,
    named_rng,
    normal_chunk,
)


def test_chunk_k_is_the_kth_spawned_child(seed):
    for k, child in enumerate(SeedSequence(seed).spawn(4)):
        expected = Generator(SFC64(child)).standard_normal((3, 50)).T
        assert np.array_equal(normal_chunk(seed, k, 50, 3), expected)


def test_columns_are_contiguous():
    z = normal_chunk(1, 0, CHUNK, 7)
    assert z.shape == (CHUNK, 7)
    assert all(z[:, column].flags.c_contiguous for column in range(7))


def test_same_bits_for_any_order_and_any_number_of_threads(seed):
    in_order = [normal_chunk(seed, k, 1000, 4) for k in range(16)]
    backwards = [normal_chunk(seed, k, 1000, 4) for k in reversed(range(16))][::-1]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda k: normal_chunk(seed, k, 1000, 4), range(16)))
    assert np.array_equal(in_order, backwards)
    assert np.array_equal(in_order, together)


def test_more_columns_leave_the_first_as_they_were(seed):
    few, many = normal_chunk(seed, 0, 100, 3), normal_chunk(seed, 0, 100, 5)
    assert np.array_equal(few, many[:, :3])


def test_streams_differ(seed):
    firsts = [normal_chunk(seed, k, 1, 1)[0, 0] for k in range(100)]
    firsts += [normal_chunk(seed + 1, 0, 1, 1)[0, 0]]
    firsts += [named_rng(seed, name).standard_normal() for name in ("a", "b", "")]
    firsts += [named_rng(seed + 1, "a").standard_normal()]
    assert len(set(firsts)) == 105
    again = named_rng(seed, "a").standard_normal()
    assert again == firsts[101]


@pytest.mark.statistical
def test_numbers_are_standard_normal_and_chunks_independent(seed):
    z = np.concatenate([normal_chunk(seed, k, CHUNK, 1) for k in (0, 1)], axis=1)
    assert stats.kstest(z[:, 0], "norm").pvalue > 1e-4
    assert stats.pearsonr(z[:, 0], z[:, 1]).pvalue > 1e-4
    # The same test notices a mean of a twentieth and a shared stream.
    assert stats.kstest(z[:, 0] + 0.05, "norm").pvalue < 1e-4
    assert stats.pearsonr(z[:, 0] + z[:, 1], z[:, 1]).pvalue < 1e-4
