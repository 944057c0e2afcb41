"""The load at which a group of fasteners slips as a whole."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from preloadmc.units import Array

# Relative gap between the bounds from motion and from equilibrium at which a sample is done.
_GAP = 1e-6
# Ten or so are enough, but for a centre of motion next to a fastener: there the lower bound lags,
# while the factor itself is right to 1e-6 (tests against closed form).
_MOST_ROUNDS = 200
# Parts of a Newton step that are tried: near a fastener the whole of it overshoots.
_STEPS = (1.0, 0.5, 0.25, 0.125, 0.0625, 0.03125)
# Of the largest speed: below it a fastener counts as resting in the weights. It errs by no more
# than that in the factor, and rotation about a fastener itself is tried apart.
_REST = 1e-7
# Of the largest capacity: with less, the 3x3 system is singular where one fastener alone holds.
_LEAST = 1e-8
# Of the dashpots' stiffness, added to the curvature: it has none where a whole range of motions
# takes the same work.
_DAMPING = 1e-9
# Of the trace, added to the diagonal of a 3x3 system: above rounding, so that none is singular, and
# below what matters with weights up to 1 / _REST.
_DIAGONAL = 1e-14
# Of the load: a smaller moment about a fastener is rounding.
_ROUNDING = 1e-12


def slip_load_factor(capacities: Array, positions: Array, force: Array, moment: Array) -> Array:
    """Factor on a transverse load at which the joint slips as a whole.

    Parameters
    ----------
    capacities : (m, n) ndarray
        Friction force that each fastener's clamp force can carry [N], none below zero.
    positions : (n, 2) ndarray
        x and y of the fasteners [mm], about any origin.
    force : (m, 2) ndarray
        Transverse force through the centroid of the fasteners [N].
    moment : (m,) ndarray
        Moment about the axis of the fasteners through that centroid [N·mm], counter-clockwise.

    Returns
    -------
    (m,) ndarray
        Slip where it is below one; infinite without a load. Zero where nothing resists the motion:
        with no capacity at all, or with a moment about the only fastener that has any.

    Notes
    -----
    Limit analysis by the kinematic theorem: each friction force is used in full, against the motion
    of its place, and the factor is the least, over all plane motions on which the load does unit
    work, of ``sum Q_i |v_i|``. That is convex. Equilibrium about the instantaneous centre follows
    from it, also where capacities differ and a centred force turns the plate. Without a moment, and
    with equal capacities, it is ``sum Q/|F|``.

    Each round solves equilibrium with fasteners as dashpots of ``Q_i/|v_i|``. Their motion gives an
    upper bound, their forces, scaled to the capacities, a lower one (static theorem); then a Newton
    step, shortened as needed, improves the motion. Rounds end when the bounds agree to 1e-6, or
    after 200, and the upper one is returned. Friction is taken as rigid and isotropic, and as
    acting at the fastener's axis.

    Examples
    --------
    Four capacities of 5 kN on a circle of 100 mm: against 4 kN, and against 500 N·m.

    >>> square = np.array([[50.0, 0.0], [0.0, 50.0], [-50.0, 0.0], [0.0, -50.0]])
    >>> force, moment = np.array([[4e3, 0.0], [0.0, 0.0]]), np.array([0.0, 500e3])
    >>> slip_load_factor(np.full((2, 4), 5e3), square, force, moment).round(6).tolist()
    [5.0, 2.0]
    """
    x, y = (positions - positions.mean(axis=0)).T
    arm = float(np.sqrt(np.mean(x * x + y * y))) or 1.0
    load = np.vstack((force.T, moment / arm))
    size = np.sqrt(np.einsum("km,km->m", load, load))
    strongest = capacities.max(axis=1)
    factors = np.where(size > 0, 0.0, np.inf)
    held = np.flatnonzero((size > 0) & (strongest > 0))
    # Samples along the last axis, so that sums over fasteners run over whole rows.
    Q = np.ascontiguousarray((capacities[held] / strongest[held, None]).T)
    least = _least_work(Q, x / arm, y / arm, load[:, held] / size[held])
    factors[held] = least * strongest[held] / size[held]
    return factors


def _least_work(Q: Array, x: Array, y: Array, load: Array) -> Array:
    """Return the factor of loads (3, m) of unit size on capacities (n, m), the largest one."""
    best, proven = _about_a_fastener(Q, x, y, load)
    left = np.flatnonzero(~proven)
    Q, load = Q[:, left], load[:, left]
    weights = floored = np.maximum(Q, _LEAST)
    for _ in range(_MOST_ROUNDS):
        motion = _solved(_stiffness(weights, x, y), load)
        reactions = weights * _speeds(_velocities(motion, x, y))
        lower = (floored / np.maximum(reactions, np.finfo(float).tiny)).min(axis=0)
        motion = _at_unit_work(motion, load)
        velocities = _velocities(motion, x, y)
        speeds = _speeds(velocities)
        upper = np.einsum("nm,nm->m", Q, speeds)
        newton = _newton_step(floored, velocities, speeds, x, y, load)
        trying = np.arange(len(left))
        for part in _STEPS:
            ahead = motion[:, trying] + part * newton[:, trying]
            tried = _speeds(_velocities(_at_unit_work(ahead, load[:, trying]), x, y))
            work = np.einsum("nm,nm->m", Q[:, trying], tried)
            less = work < upper[trying]
            speeds[:, trying[less]], upper[trying[less]] = tried[:, less], work[less]
            trying = trying[~less]
        best[left] = np.minimum(best[left], upper)
        on = best[left] > lower * (1 + _GAP)
        if not on.any():
            break
        left, Q, floored, load = left[on], Q[:, on], floored[:, on], load[:, on]
        weights = floored / _no_rest(speeds[:, on])
    return best


def _velocities(motion: Array, x: Array, y: Array) -> Array:
    """Return the velocities (2, n, m) of the fasteners in plane motions (3, m)."""
    vx, vy, turn = motion
    return np.stack((vx - np.multiply.outer(y, turn), vy + np.multiply.outer(x, turn)))


def _speeds(velocities: Array) -> Array:
    vx, vy = velocities
    speeds: Array = np.sqrt(vx * vx + vy * vy)
    return speeds


def _at_unit_work(motion: Array, load: Array) -> Array:
    scaled: Array = motion / np.einsum("km,km->m", motion, load)
    return scaled


def _no_rest(speeds: Array) -> Array:
    moving: Array = np.maximum(speeds, _REST * speeds.max(axis=0))
    return moving


def _stiffness(weights: Array, x: Array, y: Array) -> Array:
    """Return the matrices (m, 3, 3) of dashpots of these weights (n, m) at the fasteners."""
    total, along_x, along_y, polar = np.einsum(
        "kn,nm->km", np.stack((np.ones_like(x), x, y, x * x + y * y)), weights
    )
    matrix = np.zeros((len(total), 3, 3))
    matrix[:, 0, 0] = matrix[:, 1, 1] = total
    matrix[:, 0, 2] = matrix[:, 2, 0] = -along_y
    matrix[:, 1, 2] = matrix[:, 2, 1] = along_x
    matrix[:, 2, 2] = polar
    return matrix


def _solved(matrix: Array, right: Array) -> Array:
    nudge = _DIAGONAL * np.trace(matrix, axis1=1, axis2=2)
    raised: Array = matrix + np.multiply.outer(nudge, np.eye(3))
    solution = np.linalg.solve(raised, right.T[:, :, None])[:, :, 0]
    return np.ascontiguousarray(solution.T, dtype=np.float64)


def _newton_step(
    Q: Array, velocities: Array, speeds: Array, x: Array, y: Array, load: Array
) -> Array:
    """Return the change of motion (3, m) to the least work by its slope and curvature.

    The work is homogeneous in the motion: neither slope nor curvature change along the motion
    itself. So with a term along the load, the step leaves the work of the load as it is.
    """
    weights = Q / _no_rest(speeds)
    ux, uy = velocities * (weights / Q)
    slope = np.stack(
        [np.einsum("nm,nm->m", Q, u) for u in (ux, uy, x[:, None] * uy - y[:, None] * ux)]
    )
    across = np.stack((-uy, ux, x[:, None] * ux + y[:, None] * uy))
    curvature = np.einsum("nm,inm,jnm->mij", weights, across, across)
    scale = np.trace(curvature, axis1=1, axis2=2)
    curvature += np.einsum("m,im,jm->mij", scale, load, load)
    curvature += _DAMPING * _stiffness(weights, x, y)
    work = np.einsum("nm,nm->m", Q, speeds)
    return _solved(curvature, work * load - slope)


def _about_a_fastener(Q: Array, x: Array, y: Array, load: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Return the least factor among rotations about one fastener, and where nothing is less.

    There the work has a kink, at which rounds converge slowly. It is the least where that fastener
    can carry what equilibrium asks of it.
    """
    px, py, turning = load
    best, proven = np.full(Q.shape[1], np.inf), np.zeros(Q.shape[1], dtype=bool)
    for own, x0, y0 in zip(Q, x, y, strict=True):
        dx, dy = x - x0, y - y0
        arms = np.hypot(dx, dy)
        per_arm = 1 / np.where(arms > 0, arms, np.inf)
        about = turning - x0 * py + y0 * px
        turned = np.abs(about) > _ROUNDING
        factor = np.full(Q.shape[1], np.inf)
        np.divide(np.einsum("nm,n->m", Q, arms), np.abs(about), out=factor, where=turned)
        asked = np.where(turned, factor, 0.0)
        asked_x = asked * px + np.sign(about) * np.einsum("nm,n->m", Q, dy * per_arm)
        asked_y = asked * py - np.sign(about) * np.einsum("nm,n->m", Q, dx * per_arm)
        proven |= turned & (asked_x**2 + asked_y**2 <= own**2)
        np.minimum(best, factor, out=best)
    return best, proven
