"""Elastic interaction: what tightening one fastener takes from the others of its joint.

Fasteners of compliance ``delta_S`` share parts of compliance ``P``: with turned-in lengths ``u``,
``A F = u`` and ``A = delta_S I + P``. Tightening j alone by ``dF_j`` changes i by ``-c_ij dF_j``,
with ``c_ij = -(A^-1)_ij/(A^-1)_jj``, so that ``A^-1 = (I - C) D`` with a diagonal D: pairwise
coefficients C hold for any tightening of the whole network. Coefficients measured this way are the
elastic interaction coefficients of Bibel and Goddard (1990s; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from preloadmc.mechanics.tightening_order import Order, Pass
from preloadmc.units import Array


def by_neighbour(n: int, shares: Sequence[float], closed: bool) -> Array:
    """Coefficients of interaction that depend on the distance in places alone.

    Parameters
    ----------
    n : int
        Number of fasteners.
    shares : sequence of float
        What tightening takes from the first neighbour, the second, and so on, per force gained.
    closed : bool
        Around a closed circle rather than along a row.

    Returns
    -------
    (n, n) ndarray
        c_ij: what fastener i loses when j is tightened; none on the diagonal. On a small circle one
        fastener may be a neighbour on both sides: its shares add up.

    Raises
    ------
    ValueError
        There are not as many neighbours as shares.

    Examples
    --------
    >>> by_neighbour(4, [0.1, 0.02], closed=True)[0].tolist()
    [0.0, 0.1, 0.04, 0.1]
    >>> by_neighbour(4, [0.1, 0.02], closed=False)[0].tolist()
    [0.0, 0.1, 0.02, 0.0]
    """
    if len(shares) >= n:
        raise ValueError(f"{n} fasteners have no more than {n - 1} neighbours, not {len(shares)}")
    coefficients = np.zeros((n, n))
    for distance, share in enumerate(shares, start=1):
        for i in range(n):
            for j in (i - distance, i + distance):
                if closed or 0 <= j < n:
                    coefficients[i, j % n] += share
    return coefficients


def from_stiffness(
    n: int,
    pitch: float,
    closed: bool,
    fastener_compliance: float,
    clamped_compliance: float,
    bending_stiffness: float,
) -> Array:
    """Coefficients of interaction of equal fasteners, from a beam on an elastic foundation.

    Parameters
    ----------
    n : int
        Number of fasteners.
    pitch : float
        Distance between neighbours along the line of fasteners [mm]; ``pi D/n`` on a bolt circle.
    closed : bool
        A closed ring rather than a row.
    fastener_compliance, clamped_compliance : float
        delta_S, and delta_P of the parts under one fastener alone [mm/N].
    bending_stiffness : float
        E I of the clamped ring or strip [N·mm²]: ``E w t³/12`` for width w and thickness t. Two
        equal flanges that both bend count as one of half of that.

    Returns
    -------
    (n, n) ndarray
        c_ij: what fastener i loses when j is tightened, per force gained; none on the diagonal.
        Below zero, a gain, where the beam lifts between far neighbours.

    Notes
    -----
    A straight beam on a foundation of k per length (Winkler): a force F presses it in by
    ``F b/(2 k) exp(-b x)(cos b x + sin b x)`` at a distance x, with ``b = (k/(4 E I))^(1/4)``
    (Hetényi, Beams on Elastic Foundation, 1946; from memory). On a closed ring all images of the
    force add up. k is the one that presses in the place of the force itself by delta_P per force.

    Left out: curvature and torsion of the ring, the ends of a row (the beam runs on beyond them),
    shear, heads and holes, a gasket's curved or hysteretic characteristic, and parts that open
    between fasteners. An estimate where nothing has been measured.

    Examples
    --------
    >>> c = from_stiffness(8, 60.0, True, 3e-6, 1e-6, 205e3 * 40 * 20**3 / 12)
    >>> c[0, :5].round(4).tolist()
    [0.0, 0.04, -0.0117, 0.0, 0.0006]
    """
    length = n * pitch if closed else None
    foundation = _foundation(clamped_compliance, bending_stiffness, length)
    distance = np.abs(np.subtract.outer(np.arange(n), np.arange(n))) * pitch
    parts = _deflection(distance, foundation, bending_stiffness, length)
    inverse = np.linalg.inv(fastener_compliance * np.eye(n) + parts)
    coefficients: Array = -inverse / np.diag(inverse)
    np.fill_diagonal(coefficients, 0.0)
    return coefficients


def _deflection(
    x: Array | float, foundation: float, bending_stiffness: float, length: float | None
) -> Array:
    """Return the deflection per force [mm/N] at a distance along a beam, or round a closed one."""
    b = (foundation / (4 * bending_stiffness)) ** 0.25
    # exp(-b x)(cos b x + sin b x) is the real part of (1 - i) exp(-z x).
    z = (1 - 1j) * b
    wave = np.exp(-z * np.asarray(x))
    if length is not None:
        wave = (wave + np.exp(-z * (length - np.asarray(x)))) / (1 - np.exp(-z * length))
    per_force: Array = b / (2 * foundation) * np.real((1 - 1j) * wave)
    return per_force


def _foundation(clamped_compliance: float, bending_stiffness: float, length: float | None) -> float:
    """Return the foundation per length [N/mm²] at which one force presses in by that compliance."""

    def of_a_long_beam(compliance: float) -> float:
        return float((2 * compliance * (4 * bending_stiffness) ** 0.25) ** (-4 / 3))

    if length is None:
        return of_a_long_beam(clamped_compliance)
    # By Fourier series, a closed ring gives way by 1/(k L) as a whole and in bending by at most as
    # much as a long beam: that makes the bracket.
    low = 1 / (length * clamped_compliance)
    high = max(2 * low, of_a_long_beam(clamped_compliance / 2))
    for _ in range(60):  # halvings of the logarithm, down to rounding
        middle = float(np.sqrt(low * high))
        softer = _deflection(0.0, middle, bending_stiffness, length) > clamped_compliance
        low, high = (middle, high) if softer else (low, middle)
    return float(np.sqrt(low * high))


def after_each_pass(targets: Array, coefficients: Array, passes: Sequence[Pass]) -> Array:
    """Preloads after each pass over the fasteners of a joint.

    Parameters
    ----------
    targets : (m, n) ndarray
        Preload to which each fastener is tightened at the full share [N].
    coefficients : (n, n) ndarray
        c_ij: what fastener i loses when j is tightened, per force gained.
    passes : sequence of (float, Order)
        Share of the target, and the fasteners in their order, of which some may be tightened at
        once.

    Returns
    -------
    (passes, m, n) ndarray
        Preloads [N], starting from none. At its turn each fastener is brought to its share of the
        target, unless it holds more already, for tightening never loosens.

    Raises
    ------
    ValueError
        Several are tightened at once, and no gains bring them to their goals: see
        `takes_too_much`.

    Notes
    -----
    A set J tightened at once, with deficits d, gains ``s`` of its own, each fastener less what the
    others of the set take: ``(I - C)_JJ s = d``. All others lose ``C_OJ s``. Where some of the set
    hold more already, those are left alone, unless the others take so much that they fall short:
    s and what is held in excess are complementary. No preload falls below zero.

    Coefficients are those while every fastener presses. One that is not tightened yet presses
    nothing: until it is, those of the others are what the same network has without it. One that has
    gone slack since is counted as if it pressed.

    Examples
    --------
    Each of two fasteners takes 10 % of what it gains from the other: the first is left with 900 N.
    On the second pass it gains 100 N, the other one regains the 10 N lost by that, and takes 1 N.

    >>> both = np.array([[1000.0, 1000.0]])
    >>> around = ((0,), (1,))
    >>> C = np.array([[0.0, 0.1], [0.1, 0.0]])
    >>> after_each_pass(both, C, [(1.0, around), (1.0, around)]).round(6).tolist()
    [[[900.0, 1000.0]], [[999.0, 1000.0]]]
    """
    m, n = targets.shape
    # Fasteners first, so that each step runs over whole rows.
    goals = np.ascontiguousarray(targets.T)
    held = np.zeros((n, m))
    history = np.empty((len(passes), m, n))
    stages = iter(_stages(coefficients.tobytes(), n, tuple(passes)))
    for place, (share, order) in enumerate(passes):
        for group in order:
            _tighten(held, share * goals[list(group)], next(stages), group)
        history[place] = held.T
    return history


@lru_cache(maxsize=64)
def _stages(coefficients: bytes, n: int, passes: tuple[Pass, ...]) -> list[Array]:
    """Return the coefficients (n, n) at each step, among the fasteners that are tight by then."""
    whole = np.frombuffer(coefficients).reshape(n, n)
    tight: set[int] = set()
    among, found = whole, []
    for _, order in passes:
        for group in order:
            if not tight.issuperset(group):
                tight.update(group)
                among = _among(whole, sorted(tight))
            found.append(among)
    return found


def _among(coefficients: Array, tight: list[int]) -> Array:
    """Return the coefficients (n, n) while some fasteners alone press the parts.

    With A the flexibility of the whole network, ``(I - C)^-1`` is A but for factors of its rows:
    its part for those fasteners, inverted and divided by its diagonal, is that of theirs.
    """
    n = len(coefficients)
    if len(tight) == n or not coefficients.any():
        return coefficients
    place = np.ix_(tight, tight)
    inverse = np.linalg.inv(np.linalg.inv(np.eye(n) - coefficients)[place])
    found = np.zeros((n, n))
    found[place] = -inverse / np.diag(inverse)
    np.fill_diagonal(found, 0.0)
    return found


def _tighten(held: Array, goal: Array, coefficients: Array, group: tuple[int, ...]) -> None:
    """Bring a group of fasteners to its goal (k, m), and change all others, in place."""
    rows = list(group)
    deficit = goal - held[rows]
    if len(rows) == 1:
        gained = np.maximum(deficit, 0.0)
    else:
        gained = _gained(deficit, np.eye(len(rows)) - coefficients[np.ix_(rows, rows)])
    for j, gain in zip(rows, gained, strict=True):
        near = np.flatnonzero(coefficients[:, j])
        held[near] -= coefficients[near, j, None] * gain
    held[rows] = np.where(gained > 0.0, goal, held[rows])
    np.maximum(held, 0.0, out=held)


# Of the largest deficit: a fastener short of its goal by less is there.
_THERE = 1e-12
# Elastic parts need no more than 2^k for k fasteners at once, mostly fewer than k.
_MOST_PIVOTS = 1000


def _gained(deficit: Array, matrix: Array) -> Array:
    """Return the smallest gains s >= 0 with ``matrix s >= deficit``, both (k, m).

    A linear complementarity problem, by principal pivoting with the least index first: it ends
    since all principal minors of a stiffness matrix are positive.
    """
    k = len(matrix)
    place = 2 ** np.arange(k)
    turned = deficit > 0.0
    # Mostly all of them are tightened.
    gained: Array = np.einsum("ij,jm->im", np.linalg.inv(matrix), deficit)
    left = np.flatnonzero(gained.min(axis=0) < 0.0)
    within = _THERE * np.abs(deficit).max(axis=0)
    for _ in range(_MOST_PIVOTS):
        if not len(left):
            return gained
        for code in np.unique(place @ turned[:, left]):
            tools = np.flatnonzero(code & place)
            samples = left[place @ turned[:, left] == code]
            inverse = np.linalg.inv(matrix[np.ix_(tools, tools)])
            gained[:, samples] = 0.0
            gained[np.ix_(tools, samples)] = np.einsum(
                "ij,jm->im", inverse, deficit[np.ix_(tools, samples)]
            )
        short = deficit[:, left] - np.einsum("ij,jm->im", matrix, gained[:, left])
        wrong = np.where(turned[:, left], gained[:, left] < 0.0, short > within[left])
        again = wrong.any(axis=0)
        first = wrong.argmax(axis=0)[again]
        left = left[again]
        turned[first, left] ^= True
    raise ValueError("coefficients of interaction that no elastic parts can have")


def spread(preloads: Array) -> float:
    """Spread of the preloads of one joint.

    Parameters
    ----------
    preloads : (n,) ndarray
        Preload of each fastener [N].

    Returns
    -------
    float
        Largest less smallest, over the mean; infinite where none holds any.

    Examples
    --------
    >>> round(spread(np.array([900.0, 1000.0])), 4)
    0.1053
    """
    mean = float(preloads.mean())
    return float(np.ptp(preloads)) / mean if mean > 0 else float("inf")


_MOST_PASSES = 50


def passes_until(targets: Array, coefficients: Array, order: Order, share: float) -> int | None:
    """Count the passes at full target until the preloads of a joint are even.

    Parameters
    ----------
    targets : (n,) ndarray
        Preload to which each fastener is tightened [N].
    coefficients : (n, n) ndarray
        c_ij: what fastener i loses when j is tightened, per force gained.
    order : Order
        The fasteners in their order, of which some may be tightened at once.
    share : float
        Spread allowed, of the preloads in relation to their targets.

    Returns
    -------
    int or None
        Number of passes; None where 50 are not enough.

    Examples
    --------
    >>> passes_until(np.full(4, 1e3), by_neighbour(4, [0.1], True), ((0,), (2,), (1,), (3,)), 0.01)
    2
    """
    after = after_each_pass(targets[None], coefficients, [(1.0, order)] * _MOST_PASSES)
    for count, preloads in enumerate(after[:, 0], start=1):
        if spread(preloads / targets) <= share:
            return count
    return None


def takes_too_much(coefficients: Array) -> tuple[int, ...]:
    """Fasteners from which the others can take all of their preload.

    Parameters
    ----------
    coefficients : (n, n) ndarray
        c_ij: what fastener i loses when j is tightened, per force gained.

    Returns
    -------
    tuple of int
        Places from 0, in order, of fasteners that lose all they have, or more, when every other
        one gains as much as they hold (row sum of C at least one). All of them where no row does
        and yet I - C has an eigenvalue that is not above zero, which no elastic parts can have.
        Empty for coefficients that are usable.

    Examples
    --------
    >>> takes_too_much(np.array([[0.0, 0.6, 0.5], [0.1, 0.0, 0.1], [0.1, 0.1, 0.0]]))
    (0,)
    """
    n = len(coefficients)
    rows = np.flatnonzero(coefficients.sum(axis=1) >= 1.0)
    if not len(rows) and np.linalg.eigvals(np.eye(n) - coefficients).real.min() <= 0.0:
        rows = np.arange(n)
    return tuple(int(i) for i in rows)
