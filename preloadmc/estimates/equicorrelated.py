"""Probability that at least k of n fasteners miss, which share one normal number.

A fastener of probability p misses where ``sqrt(F) u + sqrt(1 - F) v`` exceeds ``-Phi^-1(p)``: u is
common to all, v is its own, and F is the share of the variance that is common (C. W. Dunnett, M.
Sobel, Biometrika 42 (1955) 258-260, for normal variates equally correlated). Given u the fasteners
are independent, which leaves one integral: exact where every margin is normal, and a quick look
where its limit surface is nearly a plane.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainc, gammaln, ndtr, ndtri, xlog1py, xlogy

from preloadmc.errors import UsageError
from preloadmc.units import Array

MOST_FASTENERS = 1000
"""Larger groups are refused: the nodes are not checked beyond."""

# Gauss' rule on panels: a panel is so many widths of the narrowest normal factor of the integrand,
# whose ten nodes then leave 1e-7 of it.
_NODES = 10
_PANEL = 3.0
_NEGLIGIBLE = 1e-9  # of the value: what the ends of the integral may leave out
_HALVINGS = 24  # that bring those ends near each other where several kinds keep them apart
_MOST_NUMBERS = 2**21  # in one block
_REACH = 38.0  # Phi(-38) = 1e-316: about the smallest probability that a number holds
_BISECTIONS = 60


def at_least(p: ArrayLike, counts: int | Sequence[int], k: int) -> Array:
    """Probability that at least k of independent fasteners miss (Poisson-binomial).

    Only positive terms are added, so that a small probability keeps its digits.

    Parameters
    ----------
    p : array_like
        Probability of a fastener, shape (...) for one kind, else (..., kinds).
    counts : int or sequence of int
        Fasteners of each kind: a number where there is one kind.
    k : int
        At least one.

    Returns
    -------
    ndarray (...)

    Examples
    --------
    >>> print(f"{at_least(1e-9, 8, 2):.4e}")
    2.8000e-17
    >>> print(f"{at_least([0.1, 0.2], [1, 1], 1):.2f}")
    0.28
    """
    rows, kinds = _by_kind(p, counts)
    tail = _tail(rows.reshape(-1, len(kinds)), kinds, _asked(k))[0]
    return tail.reshape(rows.shape[:-1])


def slopes(p: Array, counts: Sequence[int], k: int) -> Array:
    """Derivatives of `at_least` by the probability of each kind, shape (..., kinds) as ``p``.

    A kind of n fasteners has n times the probability that k - 1 of all others miss.
    """
    rows = p.reshape(-1, len(counts))
    parts = []
    for kind, count in enumerate(counts):
        others = list(counts)
        others[kind] -= 1
        parts.append(count * _tail(rows, others, k)[1][:, k - 1])
    return np.stack(parts, axis=1).reshape(p.shape)


def group_probability(
    p: ArrayLike, common: ArrayLike, counts: int | Sequence[int], k: int
) -> Array:
    """Probability that at least k of n fasteners miss, that of a single one being known.

    Parameters
    ----------
    p : array_like
        Probability of a fastener, shape (...) for one kind, else (..., kinds).
    common : array_like
        Share F of the variance that is common to all, from 0 to 1, shape (...) or a number.
    counts : int or sequence of int
        Fasteners of each kind, a number where there is one kind; `MOST_FASTENERS` at most.
    k : int
        At least one.

    Returns
    -------
    ndarray (...)
        To 1e-4 of the value, for p from 1e-12 to 0.5.

    Raises
    ------
    UsageError
        A number is outside its range.

    Examples
    --------
    Two fasteners correlated by F = 1/2: P(both below the median) = 1/4 + asin(F)/(2 pi) = 1/3.

    >>> print(f"{group_probability(0.5, 0.5, 2, 2):.6f}")
    0.333333
    """
    rows, kinds = _by_kind(p, counts)
    k = _asked(k)
    shape = np.broadcast_shapes(rows.shape[:-1], np.shape(common))
    rows = np.broadcast_to(rows, (*shape, len(kinds))).reshape(-1, len(kinds))
    shares = np.broadcast_to(np.asarray(common, dtype=float), shape).reshape(-1)
    if not ((shares >= 0.0) & (shares <= 1.0)).all():
        raise UsageError("the common share of variance must lie between 0 and 1")
    found = np.empty(len(rows))
    none, all_ = shares == 0.0, shares == 1.0
    found[none] = _tail(rows[none], kinds, k)[0]
    found[all_] = _in_step(rows[all_], kinds, k)
    partly = np.flatnonzero(~none & ~all_)
    if k > sum(kinds):
        found[partly] = 0.0
    elif partly.size:
        found[partly] = _integral(-ndtri(rows[partly]), shares[partly], kinds, k)
    return found.reshape(shape)


def single_for_group(allowed: ArrayLike, common: ArrayLike, n: int, k: int) -> Array:
    """Probability of one fastener at which at least k of n miss with an allowed probability.

    Parameters
    ----------
    allowed : array_like
        Probability of the group, above 0 and below 1.
    common : array_like
        Share F of the variance that is common to all, from 0 to 1.
    n, k : int
        Fasteners, all of one kind, and how many of them must miss: 1 to n.

    Returns
    -------
    ndarray
        Of the shape that ``allowed`` and ``common`` have together.

    Examples
    --------
    >>> print(f"{single_for_group(1e-4, 0.0, 10, 1):.4e}")
    1.0000e-05
    """
    wanted = np.asarray(allowed, dtype=float)
    if not ((wanted > 0.0) & (wanted < 1.0)).all():
        raise UsageError("an allowed probability must lie between 0 and 1")
    if not 1 <= k <= n:
        raise UsageError(f"k must lie between 1 and {n}, given {k}")
    shape = np.broadcast_shapes(wanted.shape, np.shape(common))
    never, always = np.full(shape, _REACH), np.full(shape, -_REACH)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (never + always)
        enough = group_probability(ndtr(-middle), common, n, k) >= wanted
        always, never = np.where(enough, middle, always), np.where(enough, never, middle)
    single: Array = ndtr(-0.5 * (never + always))
    return single


def _by_kind(p: ArrayLike, counts: int | Sequence[int]) -> tuple[Array, list[int]]:
    """Probabilities (..., kinds) and the count of each kind, checked."""
    rows = np.asarray(p, dtype=float)
    kinds = [counts] if isinstance(counts, int) else list(counts)
    if isinstance(counts, int):
        rows = rows[..., None]
    if not kinds or min(kinds) < 1 or sum(kinds) > MOST_FASTENERS:
        raise UsageError(f"a group has 1 to {MOST_FASTENERS} fasteners, given {sum(kinds)}")
    if rows.ndim == 0 or rows.shape[-1] != len(kinds):
        raise UsageError(f"{len(kinds)} kinds need as many probabilities in a row")
    if not ((rows >= 0.0) & (rows <= 1.0)).all():
        raise UsageError("a probability must lie between 0 and 1")
    return rows, kinds


def _asked(k: int) -> int:
    if k < 1:
        raise UsageError(f"at least one fastener must be asked for, given {k}")
    return k


def _tail(rows: Array, counts: Sequence[int], k: int) -> tuple[Array, Array]:
    """P(at least k) (m,), and P(exactly 0 to k - 1) (m, k), of independent fasteners.

    Kind after kind: those of it that miss complete what the kinds before lack.
    """
    tail = np.zeros(len(rows))
    exactly = np.zeros((len(rows), k))
    exactly[:, 0] = 1.0
    for p, count in zip(rows.T, counts, strict=True):
        some = range(1, min(count, k) + 1)
        for i in some:
            lacking = exactly[:, k - i]
            # No kind before it: most of these are zero.
            if lacking.any():
                tail += lacking * betainc(i, count - i + 1, p)
        mine = _exactly(p, count, min(count, k - 1))
        before, exactly = exactly, np.zeros_like(exactly)
        for i, share in enumerate(mine):
            exactly[:, i:] += before[:, : k - i] * share[:, None]
    return np.minimum(tail, 1.0), exactly


def _exactly(p: Array, count: int, most: int) -> list[Array]:
    """Binomial probabilities of 0 to ``most`` misses."""
    ways = [gammaln(count + 1) - gammaln(i + 1) - gammaln(count - i + 1) for i in range(most + 1)]
    return [np.exp(ways[i] + xlogy(i, p) + xlog1py(count - i, -p)) for i in range(most + 1)]


def _in_step(rows: Array, counts: Sequence[int], k: int) -> Array:
    """All is common: the k-th likeliest fastener misses together with all likelier ones."""
    if k > sum(counts):
        return np.zeros(len(rows))
    each = np.repeat(rows, counts, axis=1)
    kth: Array = -np.sort(-each, axis=1)[:, k - 1]
    return kth


def _tail_at(x: Array, betas: Array, shares: Array, counts: Sequence[int], k: int) -> Array:
    """P(at least k | the common part x of the sum), x and the result (m, j)."""
    own = np.sqrt(1.0 - shares)[:, None, None]
    p = ndtr((x[:, :, None] - betas[:, None, :]) / own)
    return _tail(p.reshape(-1, len(counts)), counts, k)[0].reshape(x.shape)


def _integral(betas: Array, shares: Array, counts: Sequence[int], k: int) -> Array:
    """Integrate over the common part x, of s.d. sqrt(F), from where a miss of k begins to matter.

    Where the event has become certain, the rest of the integral is a normal tail.
    """
    low, high = _ends(betas, shares, counts, k)
    # Curvatures of the logarithms add: of the normal density, and of the tail, which deep down is
    # the k-th power of a normal one and elsewhere an extreme or a middle one of n.
    n = sum(counts)
    steep = k + math.log(n)
    width = np.sqrt(shares * (1.0 - shares) / (1.0 - shares + steep * shares))
    panels = np.ceil((high - low) / (_PANEL * width)).astype(np.intp)
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    found = np.empty(len(betas))
    order = np.argsort(panels, kind="stable")
    first = 0
    while first < len(order):
        # Rows that need about as many panels go together.
        last = first + 1
        some = int(panels[order[first]])
        size = max(_MOST_NUMBERS // (some * _NODES * (len(counts) + k)), 1)
        last = min(first + size, int(np.searchsorted(panels[order], 1.25 * some, side="right")))
        rows = order[first:last]
        many = int(panels[rows[-1]])
        half = 0.5 * (high[rows] - low[rows]) / many
        middles = 2.0 * np.arange(many) + 1.0
        places = (middles[:, None] + nodes).ravel()
        x = low[rows, None] + half[:, None] * places
        root = np.sqrt(shares[rows])[:, None]
        tail = _tail_at(x, betas[rows], shares[rows], counts, k)
        density = np.exp(-0.5 * (x / root) ** 2) / (math.sqrt(2.0 * math.pi) * root)
        each = (tail * density * np.tile(weights, many)).sum(axis=1) * half
        end = high[rows, None]
        beyond = _tail_at(end, betas[rows], shares[rows], counts, k) * ndtr(-end / root)
        found[rows] = np.minimum(each + beyond[:, 0], 1.0)
        first = last
    return found


def _ends(betas: Array, shares: Array, counts: Sequence[int], k: int) -> tuple[Array, Array]:
    """Common parts x (m,) that the integrand lies between, but for what is negligible."""
    root, own, n = np.sqrt(shares), np.sqrt(1.0 - shares), sum(counts)
    # P(u above) P(at least k | u) is a lower bound of the value, wherever u is.
    u = np.linspace(-2.0, _REACH, 81)
    bounds = _tail_at(u * root[:, None], betas, shares, counts, k) * ndtr(-u)
    small = _NEGLIGIBLE * np.maximum(bounds.max(axis=1), 1e-300)
    # P(at least k of n) is no more than (e n p/k)^k.
    first = betas.min(axis=1) + own * ndtri(small ** (1.0 / k) * k / (math.e * n))
    low = np.clip(first, ndtri(_NEGLIGIBLE) * root, _REACH * root)
    rest = n - k + 1
    last = betas.max(axis=1) - own * ndtri(_NEGLIGIBLE ** (1.0 / rest) * rest / (math.e * n))
    high = np.maximum(np.minimum(-ndtri(small) * root, last), low + 1e-3 * root)
    if len(counts) == 1:
        return low, high
    for limit, above in ((small, False), (np.full(len(betas), 1.0 - _NEGLIGIBLE), True)):
        near, far = low.copy(), high.copy()
        for _ in range(_HALVINGS):
            middle = 0.5 * (near + far)
            over = _tail_at(middle[:, None], betas, shares, counts, k)[:, 0] > limit
            near, far = np.where(over, near, middle), np.where(over, middle, far)
        if above:
            high = far
        else:
            low = near
    return low, high
