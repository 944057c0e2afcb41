"""Streams: the same numbers whatever the order of the work, and designs that fill their cells."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from numpy.random import SFC64, Generator, SeedSequence
from scipy import stats
from scipy.special import ndtr

from preloadmc.chance.streams import (
    CHUNK,
    latin_hypercube_normal,
    named_rng,
    normal_chunk,
    sobol_normal,
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


def test_into_an_array_at_hand(seed):
    block = np.empty((5, 100)).T
    assert normal_chunk(seed, 2, 100, 5, out=block) is block
    assert np.array_equal(block, normal_chunk(seed, 2, 100, 5))


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


def assert_one_in_each_cell(z):
    n = len(z)
    cells = np.sort(np.floor(ndtr(z) * n), axis=0)
    assert np.array_equal(cells, np.tile(np.arange(n), (z.shape[1], 1)).T)


def test_latin_hypercube_has_one_number_in_each_cell(seed):
    rng = named_rng(seed, "latin hypercube")
    z = latin_hypercube_normal(1000, 6, rng)
    assert z.shape == (1000, 6)
    assert z.flags.f_contiguous
    assert np.all(np.isfinite(z))
    assert_one_in_each_cell(z)
    assert not np.array_equal(z, latin_hypercube_normal(1000, 6, rng))


def test_sobol_points_have_one_number_in_each_cell(seed):
    z = sobol_normal(1024, 6, seed)
    assert z.shape == (1024, 6)
    assert z.flags.f_contiguous
    assert np.all(np.isfinite(z))
    assert_one_in_each_cell(z)
    assert np.array_equal(z, sobol_normal(1024, 6, seed))
    assert not np.array_equal(z, sobol_normal(1024, 6, seed + 1))


def test_sobol_first_two_columns_fill_squares(seed):
    # The first two columns are a (0, m, 2)-net: one of 64 points in each of 8 by 8 squares.
    u = np.floor(8 * ndtr(sobol_normal(64, 2, seed)))
    assert len(set(map(tuple, u))) == 64


@pytest.mark.parametrize("n", [0, 3, 1000])
def test_sobol_takes_a_power_of_two(n):
    with pytest.raises(ValueError, match=f"n is {n}: it must be a power of two"):
        sobol_normal(n, 2, 1)
