"""Groups that share one normal number, against quadrature, closed forms and another library."""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import betainc, ndtr, ndtri
from scipy.stats import binom

from preloadmc.errors import UsageError
from preloadmc.estimates.equicorrelated import (
    MOST_FASTENERS,
    at_least,
    group_probability,
    single_for_group,
    slopes,
)


def by_quadrature(p, common, n, k):
    """The same integral by adaptive quadrature, told where its integrand turns."""
    beta, root, own = -float(ndtri(p)), math.sqrt(common), math.sqrt(1.0 - common)

    def integrand(u):
        tail = betainc(k, n - k + 1, ndtr((root * u - beta) / own))
        return tail * math.exp(-0.5 * u * u) / math.sqrt(2.0 * math.pi)

    turn = beta / root
    places = [turn + own / root * step for step in (-16, -8, -4, -2, 0, 2, 4, 8)]
    ends = sorted({-9.0, 12.0, *(each for each in places if -9.0 < each < 12.0)})
    return sum(
        quad(integrand, a, b, epsabs=0.0, epsrel=1e-7, limit=200)[0] for a, b in pairwise(ends)
    )


@pytest.mark.parametrize("common", [1e-4, 0.3, 0.6, 0.9, 0.999])
@pytest.mark.parametrize(("n", "k"), [(1, 1), (8, 1), (60, 4), (60, 60)])
def test_one_kind_by_quadrature(n, k, common):
    p = np.array([1e-12, 1e-4, 0.5])
    exact = np.array([by_quadrature(each, common, n, k) for each in p])
    told = exact > 1e-30
    found = group_probability(p, common, n, k)
    assert found[told] == pytest.approx(exact[told], rel=1e-4)
    if n == 1:
        assert found == pytest.approx(p, rel=1e-6)


def test_a_thousand_fasteners():
    for k in (1, 10, 500):
        exact = by_quadrature(1e-3, 0.3, MOST_FASTENERS, k)
        assert group_probability(1e-3, 0.3, MOST_FASTENERS, k) == pytest.approx(exact, rel=1e-4)


def test_correlated_normals_of_another_library():
    ot = pytest.importorskip("openturns")
    n, common, beta = 4, 0.6, 2.0
    matrix = ot.CorrelationMatrix(n)
    for i in range(n):
        for j in range(i):
            matrix[i, j] = common
    law = ot.Normal(ot.Point(n, 0.0), ot.Point(n, 1.0), matrix)
    none = law.computeCDF(ot.Point(n, beta))
    all_ = law.computeCDF(ot.Point(n, -beta))
    p = float(ndtr(-beta))
    assert float(group_probability(p, common, n, 1)) == pytest.approx(1.0 - none, rel=1e-4)
    assert float(group_probability(p, common, n, n)) == pytest.approx(all_, rel=1e-3)


def test_several_kinds_against_sums():
    # Kinds of equal p are one kind; a fastener that never misses adds nothing.
    for common in (0.0, 0.4, 0.8, 1.0):
        one = group_probability(1e-3, common, 8, 2)
        assert group_probability([1e-3, 1e-3], common, [3, 5], 2) == pytest.approx(one, rel=1e-6)
        assert group_probability([1e-3, 0.0], common, [8, 3], 2) == pytest.approx(one, rel=1e-6)
    # One that always misses leaves one less to miss.
    certain = group_probability([1.0, 1e-3], 0.4, [1, 8], 3)
    assert certain == pytest.approx(group_probability(1e-3, 0.4, 8, 2), rel=1e-6)
    # Nearly all common, far apart: the second likeliest kind decides.
    apart = group_probability([1e-2, 1e-6], 1.0 - 1e-8, [1, 9], 2)
    assert apart == pytest.approx(1e-6, rel=0.01)


def test_ends_of_the_common_share_are_limits():
    for p, counts in ((1e-4, 8), ([1e-3, 1e-5], [2, 6])):
        for k in (1, 3):
            for end, near in ((0.0, 1e-9), (1.0, 1.0 - 1e-11)):
                exact = group_probability(p, end, counts, k)
                assert group_probability(p, near, counts, k) == pytest.approx(exact, rel=1e-3)


def test_independent_fasteners():
    assert at_least(0.3, 10, 4) == pytest.approx(binom.sf(3, 10, 0.3), rel=1e-12)
    # 1 - (1 - p)^n, and the first term of the sum where p is tiny
    assert at_least(1e-3, 60, 1) == pytest.approx(-math.expm1(60 * math.log1p(-1e-3)), rel=1e-12)
    assert at_least(1e-12, 60, 4) == pytest.approx(math.comb(60, 4) * 1e-48, rel=1e-9)
    # Three fasteners by hand: all but none, two of three, all.
    a, b, c = 0.1, 0.2, 0.4
    each = [a, b, c]
    assert at_least(each, [1, 1, 1], 1) == pytest.approx(1 - 0.9 * 0.8 * 0.6)
    two = a * b * (1 - c) + a * c * (1 - b) + b * c * (1 - a) + a * b * c
    assert at_least(each, [1, 1, 1], 2) == pytest.approx(two)
    assert at_least(each, [1, 1, 1], 3) == pytest.approx(a * b * c)
    assert at_least(each, [1, 1, 1], 4) == 0.0
    assert group_probability(each, 0.3, [1, 1, 1], 4) == 0.0
    assert group_probability(each, 1.0, [1, 1, 1], 4) == 0.0
    assert group_probability(each, 1.0, [1, 1, 1], 2) == b


def test_slopes_by_differences():
    p = np.array([[0.1, 0.2], [1e-3, 0.3]])
    step = 1e-7
    found = slopes(p, [2, 3], 2)
    for kind in (0, 1):
        moved = p + step * np.eye(2)[kind]
        by_difference = (at_least(moved, [2, 3], 2) - at_least(p, [2, 3], 2)) / step
        assert found[:, kind] == pytest.approx(by_difference, rel=1e-5)


def test_the_inverse():
    allowed = np.array([1e-9, 1e-4, 0.3])
    for common in (0.0, 0.6, 1.0):
        single = single_for_group(allowed, common, 60, 4)
        assert group_probability(single, common, 60, 4) == pytest.approx(allowed, rel=1e-6)
    assert single_for_group(1e-4, 1.0, 60, 4) == pytest.approx(1e-4, rel=1e-9)


def test_rows_and_blocks_do_not_matter(monkeypatch):
    p = 10.0 ** np.linspace(-10.0, -1.0, 64)
    shares = np.linspace(0.0, 1.0, 64)
    together = group_probability(p, shares, 8, 2)
    monkeypatch.setattr("preloadmc.estimates.equicorrelated._MOST_NUMBERS", 2**12)
    alone = [float(group_probability(a, b, 8, 2)) for a, b in zip(p, shares, strict=True)]
    assert together == pytest.approx(alone, rel=1e-6)
    assert group_probability(p, shares, 8, 2) == pytest.approx(together, rel=1e-6)
    assert group_probability(p[:, None], [0.1, 0.2, 0.3], 8, 2).shape == (64, 3)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: group_probability(0.1, 1.5, 8, 1), "common share"),
        (lambda: group_probability(1.5, 0.5, 8, 1), "a probability must lie"),
        (lambda: group_probability(0.1, 0.5, 8, 0), "at least one fastener"),
        (lambda: at_least(0.1, MOST_FASTENERS + 1, 1), "1 to 1000 fasteners"),
        (lambda: at_least([0.1, 0.2, 0.3], [1, 2], 1), "2 kinds need"),
        (lambda: single_for_group(0.0, 0.5, 8, 1), "an allowed probability"),
        (lambda: single_for_group(0.1, 0.5, 8, 9), "between 1 and 8"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(UsageError, match=words):
        call()
