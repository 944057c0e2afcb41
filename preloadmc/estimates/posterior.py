"""Posterior of normal numbers that several members share in part: tempered particles.

Every member j has numbers ``z_j = sqrt(f) u + sqrt(1 - f) v_j``: ``u`` is common to all, ``v_j``
its own, ``f`` the share of the variance in common, column by column. Both are standard normal
before anything is known. What is known enters as a log likelihood of each member's ``z_j``, and of
``u``.

The particles go from the prior to the posterior in steps of a temperature (R. M. Neal, Statistics
and Computing 11 (2001) 125-139; P. Del Moral, A. Doucet, A. Jasra, J. R. Statist. Soc. B 68 (2006)
411-436). Each step keeps half of the effective sample size, resamples, and moves the particles:
own numbers member by member, then the common ones twice, once with ``z`` held and once with ``v``
held, since either alone can stick (Y. Yu, X.-L. Meng, J. Comput. Graph. Statist. 20 (2011)
531-570).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from preloadmc.errors import NotFiniteError
from preloadmc.units import Array

MemberLikelihood = Callable[[Array], Array]

# A step to the next temperature keeps this share of the particles effective: the usual half, below
# which resampling leaves too few ancestors.
KEPT_SHARE = 0.5
# More steps than this, or fewer accepted moves, and the particles no longer follow the target.
MOST_STEPS = 120
LEAST_ACCEPTANCE = 0.01
# Between the best shares of moves in one (0.44) and in many dimensions (0.23).
_ASKED_ACCEPTANCE = 0.35
# A fitted reference is drawn this much towards the standard normal, so that it is never singular,
# and its covariances are taken for less than found: in many columns they are mostly noise.
_TOWARDS_PRIOR = 0.05
_LESS_COVARIANCE = 0.2


@dataclass(frozen=True, slots=True)
class CommonLikelihood:
    """Log likelihood of the common numbers u, with its own way from the prior to the posterior.

    ``prepare`` turns u (n, d) into what is kept of each particle, (n, m); ``at`` turns that and a
    heat above 0 and up to 1 into log likelihoods (n,), those of the posterior at heat 1.
    ``is_dear`` tells that ``prepare`` takes much more time than the likelihood of the members.
    """

    prepare: Callable[[Array], Array]
    at: Callable[[Array, float], Array]
    is_dear: bool = False


@dataclass(frozen=True, slots=True)
class Posterior:
    """Particles of equal weight from the posterior.

    ``common`` (n, d) holds u, ``members`` (members, n, d) the z of each member. ``log_evidence`` is
    the log of the mean likelihood over the prior. ``trouble`` says why the particles cannot be
    trusted, or is empty.
    """

    common: Array
    members: Array
    log_evidence: float
    steps: int
    acceptance: float
    trouble: str


def tempered_posterior(
    member_likelihood: MemberLikelihood,
    common_likelihood: CommonLikelihood | None,
    fractions: Array,
    members: int,
    *,
    particles: int,
    sweeps: int,
    rng: Generator,
) -> Posterior:
    """Draw particles from the posterior and estimate the evidence.

    Parameters
    ----------
    member_likelihood : callable
        Log likelihood (members, n) of the members' numbers z (members, n, d).
    common_likelihood : CommonLikelihood or None
        What is known of the common numbers.
    fractions : ndarray (d,)
        Share of the variance in common, from 0 to 1.
    members : int
        How many members; may be zero.
    particles, sweeps : int
        Particles, and rounds of moves at each temperature.
    rng : Generator
        Where the random numbers come from.

    Returns
    -------
    Posterior
        Its ``log_evidence`` has an unbiased exponential.

    Raises
    ------
    NotFiniteError
        If a log likelihood is NaN or plus infinity.
    """
    current = _Particles(member_likelihood, common_likelihood, fractions, members, particles, rng)
    log_evidence, steps = 0.0, 0
    while current.heat < 1.0:
        if not np.isfinite(current.log_ratio(1.0).max(initial=-np.inf)):
            return current.result(-np.inf, steps, "the evidence is impossible for every particle")
        if steps == MOST_STEPS:
            return current.result(log_evidence, steps, f"not done after {MOST_STEPS} temperatures")
        heat = _next_heat(current)
        weights, mean = _weights(current.log_ratio(heat))
        log_evidence += mean
        steps += 1
        current.heat = heat
        current.resample(weights)
        for _ in range(sweeps):
            current.move()
        if current.acceptance < LEAST_ACCEPTANCE:
            return current.result(log_evidence, steps, "hardly any move of a particle is accepted")
    return current.result(log_evidence, steps, "")


def effective_size(log_weights: Array) -> float:
    """Return the effective sample size ``(sum w)^2 / sum w^2`` (A. Kong, 1992).

    Examples
    --------
    >>> effective_size(np.log(np.array([1.0, 1.0, 1.0, 1e-300])))
    3.0
    """
    weights = np.exp(log_weights - log_weights.max())
    return float(weights.sum() ** 2 / (weights**2).sum())


def _next_heat(current: _Particles) -> float:
    """Return the highest heat at which the asked share of the particles is still effective."""
    last = current.log_ratio(1.0)
    # Impossible particles are lost at once, whatever the heat: the rest is asked of the others.
    asked = KEPT_SHARE * float(np.count_nonzero(np.isfinite(last)))
    if effective_size(last) >= asked:
        return 1.0
    low, high = current.heat, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        if effective_size(current.log_ratio(middle)) >= asked:
            low = middle
        else:
            high = middle
    # Where even the smallest step is too far, it is made all the same, or the loop would not end.
    return low if low > current.heat else high


def _weights(log_weights: Array) -> tuple[Array, float]:
    """Return weights that add to one, and the log of their mean before."""
    top = float(log_weights.max())
    weights = np.exp(log_weights - top)
    total = float(weights.sum())
    return weights / total, top + float(np.log(total / len(weights)))


class _Particles:
    """The particles and their moves."""

    def __init__(
        self,
        member_likelihood: MemberLikelihood,
        common_likelihood: CommonLikelihood | None,
        fractions: Array,
        members: int,
        particles: int,
        rng: Generator,
    ) -> None:
        d = len(fractions)
        self.member_likelihood = member_likelihood
        self.common_likelihood = common_likelihood
        self.rng = rng
        self.to_common = np.sqrt(fractions)
        self.to_own = np.sqrt(1.0 - fractions)
        self.mixed = (fractions > 0.0) & (fractions < 1.0)
        self.u = rng.standard_normal((particles, d))
        self.v = rng.standard_normal((members, particles, d))
        self.heat = 0.0
        self.own = self._own(self._z(self.u, self.v))
        self.kept = self._prepared(self.u)
        self.reach_own = np.ones(members)
        self.reach_common = 1.0
        self.accepted: list[float] = []
        self.rounds = 0

    def log_ratio(self, heat: float) -> Array:
        """Return the log ratio (n,) of the target at a higher heat to that at the present one."""
        ratio: Array = (heat - self.heat) * self.own.sum(axis=0)
        ratio += self._common(self.kept, heat) - self._common(self.kept, self.heat)
        return ratio

    @property
    def acceptance(self) -> float:
        """Return the share of the last moves that were accepted."""
        return float(np.mean(self.accepted[-4:])) if self.accepted else 1.0

    def result(self, log_evidence: float, steps: int, trouble: str) -> Posterior:
        """Return the particles as they stand."""
        return Posterior(
            self.u,
            self._z(self.u, self.v),
            log_evidence,
            steps,
            self.acceptance,
            trouble,
        )

    def resample(self, weights: Array) -> None:
        """Draw particles in proportion to their weights, systematically."""
        n = len(weights)
        places = (np.arange(n) + self.rng.random()) / n
        chosen = np.minimum(np.searchsorted(np.cumsum(weights), places), n - 1)
        self.u, self.v = self.u[chosen], self.v[:, chosen]
        self.own, self.kept = self.own[:, chosen], self.kept[chosen]

    def move(self) -> None:
        """Make one round of moves that leave the tempered target as it is."""
        if len(self.v):
            self._move_own()
        if self.to_common.any():
            # What is known of u itself may cost much: then these moves are made every other time.
            due = self.common_likelihood is None or not self.common_likelihood.is_dear
            self.rounds += 1
            if len(self.v) and self.mixed.any() and (due or self.rounds % 2 == 0):
                self._move_common_under_members()
            self._move_common_with_members()

    def _move_own(self) -> None:
        """Move each member's own numbers about a normal law fitted to the particles."""
        fresh, log_ratio = _propose(self.v, self.reach_own, self.rng)
        own = self._own(self._z(self.u, fresh))
        # The target holds the prior of v; the proposal leaves the reference as it is.
        gain = self.heat * _difference(own, self.own) + log_ratio
        accept = np.log(self.rng.random(gain.shape)) < gain
        self.v[accept] = fresh[accept]
        self.own[accept] = own[accept]
        share = accept.mean(axis=1)
        self.reach_own = np.clip(self.reach_own * np.exp(share - _ASKED_ACCEPTANCE), 0.02, 1.0)
        self.accepted.append(float(share.mean()))

    def _move_common_under_members(self) -> None:
        """Draw u given z from its normal law; only what is known of u itself is in the way."""
        z = self._z(self.u, self.v)
        a, b = self.to_common[self.mixed], self.to_own[self.mixed]
        precision = 1.0 + len(z) * (a / b) ** 2
        mean = z[:, :, self.mixed].sum(axis=0) * (a / b**2) / precision
        fresh = self.u.copy()
        noise = self.rng.standard_normal(mean.shape)
        fresh[:, self.mixed] = mean + noise / np.sqrt(precision)
        kept = self._prepared(fresh)
        gain = _difference(self._common(kept, self.heat), self._common(self.kept, self.heat))
        accept = np.log(self.rng.random(len(fresh))) < gain
        self.u[accept], self.kept[accept] = fresh[accept], kept[accept]
        held = (z[:, :, self.mixed] - self.u[:, self.mixed] * a) / b
        self.v[:, :, self.mixed] = np.where(accept[:, None], held, self.v[:, :, self.mixed])

    def _move_common_with_members(self) -> None:
        """Move u about a normal law fitted to the particles, and every z with it."""
        fresh, log_ratio = _propose(self.u[None], np.array([self.reach_common]), self.rng)
        u = fresh[0]
        own = self._own(self._z(u, self.v))
        gain = self.heat * _difference(own.sum(axis=0), self.own.sum(axis=0)) + log_ratio[0]
        # In two stages: what is known of u itself may cost much, and is asked of those alone that
        # the members let pass (J. A. Christen, C. Fox, J. Comput. Graph. Statist. 14 (2005) 795).
        accept = np.log(self.rng.random(len(u))) < gain
        passed = np.flatnonzero(accept)
        kept = self._prepared(u[passed])
        gain = _difference(
            self._common(kept, self.heat), self._common(self.kept[passed], self.heat)
        )
        moved = np.log(self.rng.random(len(passed))) < gain
        accept[passed] = moved
        self.u[accept], self.kept[accept] = u[accept], kept[moved]
        self.own[:, accept] = own[:, accept]
        share = float(accept.mean())
        reach = self.reach_common * np.exp(share - _ASKED_ACCEPTANCE)
        self.reach_common = float(np.clip(reach, 0.02, 1.0))
        self.accepted.append(share)

    def _z(self, u: Array, v: Array) -> Array:
        z: Array = v * self.to_own
        z += u * self.to_common
        return z

    def _own(self, z: Array) -> Array:
        return _checked(self.member_likelihood(z))

    def _prepared(self, u: Array) -> Array:
        if self.common_likelihood is None:
            return np.empty((len(u), 0))
        return self.common_likelihood.prepare(u)

    def _common(self, kept: Array, heat: float) -> Array:
        if self.common_likelihood is None or heat == 0.0:
            return np.zeros(len(kept))
        return _checked(self.common_likelihood.at(kept, heat))


def _checked(log_likelihood: Array) -> Array:
    if np.isnan(log_likelihood).any() or np.isposinf(log_likelihood).any():
        raise NotFiniteError("a likelihood is not a number")
    return log_likelihood


def _difference(fresh: Array, before: Array) -> Array:
    """Return fresh - before; a particle that is impossible is left for any other."""
    gain: Array = fresh - np.where(np.isneginf(before), -1e300, before)
    return gain


def _propose(values: Array, reach: Array, rng: Generator) -> tuple[Array, Array]:
    """Return fresh values (members, n, d) and the log ratio (members, n) to accept them by.

    Each member's particles fall in two halves at random, and a normal law fitted to one half is
    the reference of the other, so that no particle takes part in its own proposal (as in ensemble
    samplers: J. Goodman, J. Weare, Comm. App. Math. Comp. Sci. 5 (2010) 65-80). The proposal
    ``m + sqrt(1 - s^2)(v - m) + s L noise`` leaves the reference as it is; the ratio is that of
    prior over reference, fresh to before.
    """
    order = rng.permutation(values.shape[1])
    half = len(order) // 2
    parts = (order[:half], order[half:])
    fresh, log_ratio = np.empty_like(values), np.empty(values.shape[:2])
    for moved, fitted in (parts, parts[::-1]):
        reference = _Reference.fit(values[:, fitted])
        before = values[:, moved]
        after, ratio = reference.propose(before, reach[:, None, None], rng)
        fresh[:, moved], log_ratio[:, moved] = after, ratio
    return fresh, log_ratio


@dataclass(frozen=True, slots=True)
class _Reference:
    """A normal law for each member: mean (members, 1, d), Cholesky factor and its inverse."""

    mean: Array
    factor: Array
    inverse: Array

    @classmethod
    def fit(cls, values: Array) -> _Reference:
        """Fit to particles (members, n, d), drawn a little towards the standard normal."""
        _, n, d = values.shape
        keep = 1.0 - _TOWARDS_PRIOR
        mean = values.mean(axis=1, keepdims=True)
        centred = values - mean
        covariance = keep / n * np.matmul(np.swapaxes(centred, 1, 2), centred)
        covariance *= 1.0 - _LESS_COVARIANCE * (1.0 - np.eye(d))
        covariance += _TOWARDS_PRIOR * np.eye(d)
        factor = np.linalg.cholesky(covariance)
        return cls(mean, factor, np.linalg.inv(factor))

    def propose(self, values: Array, s: Array, rng: Generator) -> tuple[Array, Array]:
        """Return fresh values (members, n, d) and the log ratio of `_propose` (members, n)."""
        before = np.matmul(values - self.mean, np.swapaxes(self.inverse, 1, 2))
        white = np.sqrt(1.0 - s * s) * before + s * rng.standard_normal(values.shape)
        fresh = np.matmul(white, np.swapaxes(self.factor, 1, 2))
        fresh += self.mean
        log_ratio = 0.5 * (_square(values) - _square(fresh) + _square(white) - _square(before))
        return fresh, log_ratio


def _square(values: Array) -> Array:
    """Return the squared lengths of the last axis."""
    square: Array = np.einsum("jnd,jnd->jn", values, values)
    return square
