"""Groups of fasteners whose probabilities are known by integrals of one or two dimensions.

All margins are written in sums of normal numbers, so that what a fastener does given the shared
numbers has a closed form; the rest is a sum over a fine grid.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from scipy.special import ndtr, ndtri
from scipy.stats import binom

from preloadmc.estimates.coupled import coupled_at_least_k
from preloadmc.estimates.equicorrelated import group_probability
from preloadmc.estimates.group import Kind, at_least_k

_U = np.linspace(-9.0, 12.0, 42_001)
_DENSITY = np.exp(-0.5 * _U * _U) / math.sqrt(2.0 * math.pi) * (_U[1] - _U[0])


@dataclass(frozen=True)
class GroupProblem:
    """A name, what estimates it from a seed, and its exact probability."""

    name: str
    estimate: Callable[[int], object]
    p: float


def grouped(name, kinds, s, d, k, p):
    def estimate(seed):
        return at_least_k(kinds, s, d, k, rng=np.random.default_rng(seed))

    return GroupProblem(name, estimate, p)


def linear_margins(beta, common):
    """Margins beta - x of one column, x normal: three shared columns and four own ones."""
    shared = np.array([1.0, 2.0, 0.5])
    shared *= math.sqrt(common) / np.linalg.norm(shared)
    own = np.array([1.0, 0.7, 0.3, 2.0])
    own *= math.sqrt(1.0 - common) / np.linalg.norm(own)
    return lambda u, v: (beta - u @ shared - v @ own)[:, None]


def linear(p, common, n, k):
    margins = linear_margins(-float(ndtri(p)), common)
    exact = float(group_probability(p, common, n, k))
    return grouped(f"normal, {common} shared, {k} of {n}", [Kind(n, margins)], 3, 4, k, exact)


def by_grid(p_given_u, n, k):
    return float(binom.sf(k - 1, n, p_given_u) @ _DENSITY)


def window(p, common, n, k):
    """x outside -b - 0.2 to b, two columns."""
    root, own = math.sqrt(common), math.sqrt(1.0 - common)
    beta = -float(ndtri(0.7 * p))

    def margins(u, v):
        x = root * u[:, 0] + own * v[:, 0]
        return np.column_stack([beta - x, beta + 0.2 + x])

    given = ndtr((root * _U - beta) / own) + ndtr((-root * _U - beta - 0.2) / own)
    exact = by_grid(given, n, k)
    return grouped(f"window, {common} shared, {k} of {n}", [Kind(n, margins)], 1, 1, k, exact)


def bent(p, common, n, k):
    """Margin b - x + 0.3 y^2, y another column of the fastener's own."""
    root, own = math.sqrt(common), math.sqrt(1.0 - common)
    beta = -float(ndtri(2.0 * p))

    def margins(u, v):
        return (beta - root * u[:, 0] - own * v[:, 0] + 0.3 * v[:, 1] ** 2)[:, None]

    nodes, weights = hermegauss(80)
    given = np.zeros_like(_U)
    for node, weight in zip(nodes, weights / weights.sum(), strict=True):
        given += weight * ndtr((root * _U - beta - 0.3 * node * node) / own)
    exact = by_grid(given, n, k)
    return grouped(f"bent, {common} shared, {k} of {n}", [Kind(n, margins)], 1, 2, k, exact)


def two_states(p, n, k):
    """Two states, each with a shared and an own number; two kinds, one loaded more than the other.

    The product formula: given u1, u2 a fastener survives with the product of two probabilities.
    """
    root, own = math.sqrt(0.5), math.sqrt(0.5)
    beta = -float(ndtri(p))

    def margins_at(b):
        def margins(u, v):
            return b - root * u + np.array([0.0, 0.3]) - own * v

        return margins

    u = np.linspace(-8.0, 10.0, 601)
    density = np.exp(-0.5 * u * u) / math.sqrt(2.0 * math.pi) * (u[1] - u[0])

    def missing(b):
        one, two = ndtr((root * u - b) / own), ndtr((root * u - b - 0.3) / own)
        return one[:, None] + two[None, :] - one[:, None] * two[None, :]

    more, less = missing(beta), missing(beta + 0.4)
    first = n // 4
    tail = np.zeros_like(more)
    for i in range(first + 1):
        tail += binom.pmf(i, first, more) * binom.sf(k - i - 1, n - first, less)
    exact = float(density @ tail @ density)
    kinds = [Kind(first, margins_at(beta)), Kind(n - first, margins_at(beta + 0.4))]
    return grouped(f"two kinds, two states, {k} of {n}", kinds, 2, 2, k, exact)


def network_factor(n):
    """How fasteners act upon each other: their own number, and less of all of them alike."""
    return np.eye(n) - 0.5 / n * np.ones((n, n))


def network(p, common, n, k):
    """Margins beta - x, x = sqrt(F) u + L v scaled to unit variance.

    L = I - c J/n has equal variances and covariances (J all ones): L L' = I + (c^2 - 2 c) J/n,
    so that the fasteners share a part of variance again, here less than F.
    """
    factor = network_factor(n)
    own = factor @ factor.T
    scale = math.sqrt((1.0 - common) / own[0, 0])
    together = common + scale * scale * own[0, 1]
    beta = -float(ndtri(p))

    def joint(u, v):
        return beta - math.sqrt(common) * u - scale * np.einsum("ij,mj->mi", factor, v[:, :, 0])

    def estimate(seed):
        rng = np.random.default_rng(seed)
        return coupled_at_least_k(joint, n, 1, 1, k, rng=rng, alike=[0] * n)

    exact = float(group_probability(p, together, n, k))
    return GroupProblem(f"network, {common} shared, {k} of {n}", estimate, exact)


@cache
def problems(p):
    """Those of the calibration, at the probability p of a single fastener."""
    return [
        linear(p, 0.3, 8, 1),
        linear(p, 0.6, 60, 4),
        window(p, 0.6, 8, 2),
        bent(p, 0.5, 8, 1),
        two_states(p, 8, 1),
        network(p, 0.5, 8, 1),
        network(p, 0.7, 8, 2),
    ]


@cache
def further_problems(p):
    """Those that only the table shows."""
    return [
        linear(p, common, n, k)
        for common in (0.3, 0.6, 0.9)
        for n, k in ((8, 1), (8, 2), (60, 1), (60, 4))
    ]
