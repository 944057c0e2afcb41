"""The probability that at least k of a group of fasteners miss, which share some numbers.

Shared numbers are drawn where the event comes about, and weighted. Given them the fasteners are
independent, each with a probability given the draw: that of the event is a sum of products. A
second estimate draws all fasteners themselves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.errors import UsageError
from preloadmc.estimates.conditional import Draws, conditional_probabilities
from preloadmc.estimates.design_point import design_points
from preloadmc.estimates.equicorrelated import at_least, group_probability, slopes
from preloadmc.estimates.excluded_sphere import excluded_sphere
from preloadmc.estimates.group_check import LARGER, disagreement, joint_estimate
from preloadmc.estimates.importance import UNSTEADY, weighted_probability
from preloadmc.estimates.margins import Margins
from preloadmc.estimates.plain import ENOUGH, FirstLook
from preloadmc.estimates.probability import Probability, from_counts, multiplied_interval
from preloadmc.estimates.shared_draws import SharedMixture, Way
from preloadmc.estimates.sobol_points import REPLICATES, sobol_sequence
from preloadmc.estimates.tail import TailEstimate, tail_probability
from preloadmc.units import Array

FastenerMargins = Callable[[Array, Array], Array]
"""From shared numbers (m, s) and own ones (m, d) to margins (m, c) of one fastener."""

# Fewer calls than where the single fastener is the answer: it is searched and checked.
_SINGLE_BUDGET = 2**18
_PLAIN_CALLS = 200_000  # about what the other estimators take: plain samples are kept below
_DRAWS = (2048, 8192)  # of what is shared; the second where the first leave the value too uncertain
_WITHIN = 1.5  # reliability indices by which a design point is farther than the nearest of its kind
_MOST_POINTS = 4  # of a kind, where searches start
# Part of the value by which the scatter of sampled draws may shift it, after what was taken off.
_MOST_SHIFT = 0.2
_NOTHING = 0.01  # of the value: what fasteners that are taken never to miss may add to it
_NUMBERS = 2**20  # in one block


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """``count`` fasteners of equal margins: positions that are loaded alike."""

    count: int
    margins: FastenerMargins

    def joint(self, s: int) -> Margins:
        """Margins of one fastener from all its numbers, the s shared ones first."""

        def margins(z: Array) -> Array:
            return self.margins(z[:, :s], z[:, s:])

        return margins


@dataclass(frozen=True, slots=True, eq=False)
class GroupEstimate:
    """A probability of the group, its check, and what it comes from.

    ``single`` are the probabilities of one fastener of each kind; ``common`` is the share of
    variance, along the likeliest way to the event, that fasteners share.
    """

    probability: Probability
    check: Probability | None
    single: tuple[Probability, ...]
    common: float


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    kinds: Sequence[Kind]
    s: int
    d: int
    k: int
    rng: np.random.Generator
    precision: float
    confidence: float

    @property
    def counts(self) -> list[int]:
        return [kind.count for kind in self.kinds]


def at_least_k(
    kinds: Sequence[Kind],
    s: int,
    d: int,
    k: int,
    *,
    rng: np.random.Generator,
    precision: float = 0.2,
    confidence: float = 0.95,
    smooth: bool = True,
) -> GroupEstimate:
    """Probability that at least k fasteners of a group miss.

    Parameters
    ----------
    kinds : sequence of Kind
        Fasteners and their margins.
    s, d : int
        Columns that all fasteners share, and columns of each fastener's own.
    k : int
        1 to the number of fasteners.
    rng : numpy.random.Generator
        For everything drawn.
    precision, confidence : float
        Wanted half-width of the interval over the value, and the interval's confidence.
    smooth : bool
        False where margins have steps: then all fasteners are sampled together.

    Returns
    -------
    GroupEstimate

    Raises
    ------
    UsageError
        There is no such group.
    """
    task = _Task(kinds, s, d, k, rng, precision, confidence)
    if not kinds or not 1 <= k <= sum(task.counts) or min(task.counts) < 1:
        raise UsageError(f"k must lie between 1 and the {sum(task.counts)} fasteners, given {k}")
    tails = [
        tail_probability(
            kind.joint(s),
            s + d,
            rng=rng,
            smooth=smooth,
            precision=precision,
            confidence=confidence,
            budget=_SINGLE_BUDGET,
        )
        for kind in kinds
    ]
    if s == 0:
        return _independent(task, tails)
    ways = _ways(task, tails) if smooth else []
    common = 0.0
    if ways:
        common = max(ways, key=lambda way: way.of_group(sum(task.counts), k)).common
    single = tuple(tail.probability for tail in tails)
    found, check = _estimated(task, single, ways, min(common, 1.0))
    if found.method == "shared":
        # Their searches are part of it.
        calls = found.model_calls + sum(p.model_calls for p in single)
        found = replace(found, model_calls=calls)
        doubtful = [
            p.note
            for kind, p in zip(kinds, single, strict=True)
            if not p.reliable and not _never_misses(task, kind, p, found.value)
        ]
        if doubtful:
            found = found.noted(f"a single fastener is in doubt: {doubtful[0]}", reliable=False)
    return GroupEstimate(found, check, single, common)


def _estimated(
    task: _Task, single: Sequence[Probability], ways: Sequence[Way], common: float
) -> tuple[Probability, Probability | None]:
    """By plain samples where they resolve it, else by what is shared, else in the whole space."""
    n = sum(task.counts)
    quick = float(group_probability([p.value for p in single], common, task.counts, task.k))
    look = FirstLook(round(quick * 1e6), 1_000_000)
    wanted = look.wanted(task.precision, task.confidence)
    if wanted * n <= _PLAIN_CALLS:
        plain = _by_plain(task, math.ceil(wanted))
        if plain.misses is not None and plain.misses >= ENOUGH:
            return plain, None
    reached = {way.kind for way in ways}
    possible = [kind for kind, p in enumerate(single) if p.value > 0.0 or kind in reached]
    if task.d == 0 or not reached.issuperset(possible) or not ways:
        return _in_whole_space(task)
    mixture = SharedMixture.of(ways, task.counts, task.k)
    found = _given_shared(task, ways, mixture)
    for larger in (1, LARGER):
        check = joint_estimate(
            [(kind.count, kind.joint(task.s)) for kind in task.kinds],
            ways,
            mixture,
            task.d,
            task.k,
            confidence=task.confidence,
            rng=task.rng,
            larger=larger,
        )
        doubt = disagreement(found, check)
        if check.reliable and not doubt:
            break
    return (found.noted(doubt, reliable=False) if doubt else found), check


def _independent(task: _Task, tails: Sequence[TailEstimate]) -> GroupEstimate:
    """Nothing is shared: the probabilities of single fasteners tell that of the group."""
    single = tuple(tail.probability for tail in tails)

    def together(parts: Sequence[Probability]) -> Probability:
        value, low, high = (
            float(at_least([getattr(p, name) for p in parts], task.counts, task.k))
            for name in ("value", "low", "high")
        )
        main = max(range(len(parts)), key=lambda kind: task.counts[kind] * parts[kind].value)
        return Probability(
            value,
            low,
            high,
            task.confidence,
            parts[main].method,
            sum(p.samples for p in parts),
            sum(p.model_calls for p in parts),
            bound=None if value > 0.0 else "upper",
            reliable=all(p.reliable for p in parts),
            note="; ".join(dict.fromkeys(p.note for p in parts if p.note)),
        )

    checks = [tail.check for tail in tails if tail.check is not None]
    check = together(checks) if len(checks) == len(tails) else None
    return GroupEstimate(together(single), check, single, 0.0)


def _ways(task: _Task, tails: Sequence[TailEstimate]) -> list[Way]:
    """Design points of each kind that matter; sought where plain samples told the single one."""
    ways = []
    for i, (kind, tail) in enumerate(zip(task.kinds, tails, strict=True)):
        points = tail.points
        if not points and tail.probability.method == "plain":
            points = design_points(kind.joint(task.s), task.s + task.d, rng=task.rng)
        near = [point for point in points if point.beta < points[0].beta + _WITHIN]
        ways += [Way(i, point, task.s) for point in near[:_MOST_POINTS]]
    return ways


def _never_misses(task: _Task, kind: Kind, single: Probability, value: float) -> bool:
    """Whether a kind of which no miss is known can change nothing: a sphere without misses."""
    if single.value > 0.0 or value == 0.0:
        return False
    asked = _NOTHING * value / kind.count
    return excluded_sphere(kind.joint(task.s), task.s + task.d, asked, rng=task.rng) is not None


def _missed_of_each(task: _Task, u: Array) -> Array:
    """How many fasteners miss in joints of shared numbers (m, s), own ones drawn, shape (m,)."""
    missed = np.zeros(len(u))
    for kind in task.kinds:
        v = task.rng.standard_normal((len(u) * kind.count, task.d))
        worst = kind.margins(np.repeat(u, kind.count, axis=0), v).min(axis=1)
        missed += (worst < 0.0).reshape(len(u), kind.count).sum(axis=1)
    return missed


def _by_plain(task: _Task, samples: int) -> Probability:
    n = sum(task.counts)
    block = max(_NUMBERS // (n * (task.s + task.d)), 1)
    misses = 0
    for first in range(0, samples, block):
        u = task.rng.standard_normal((min(block, samples - first), task.s))
        misses += int(np.count_nonzero(_missed_of_each(task, u) >= task.k))
    return from_counts(misses, samples, task.confidence, n * samples)


def _in_whole_space(task: _Task) -> tuple[Probability, Probability | None]:
    """The k-th smallest margin of all fasteners as one margin of all their numbers."""
    n, s, d = sum(task.counts), task.s, task.d

    def kth(z: Array) -> Array:
        u, v = z[:, :s], z[:, s:].reshape(len(z), n, d)
        worst, first = [], 0
        for kind in task.kinds:
            # Without numbers of their own, fasteners of a kind miss together.
            each = 1 if d == 0 else kind.count
            own = v[:, first : first + each].reshape(len(z) * each, d)
            smallest = kind.margins(np.repeat(u, each, axis=0), own).min(axis=1)
            worst.append(np.repeat(smallest.reshape(-1, each), kind.count // each, axis=1))
            first += kind.count
        every = np.partition(np.concatenate(worst, axis=1), task.k - 1, axis=1)
        kth_smallest: Array = every[:, task.k - 1 : task.k]
        return kth_smallest

    tail = tail_probability(
        kth,
        s + n * d,
        rng=task.rng,
        smooth=d == 0,
        precision=task.precision,
        confidence=task.confidence,
        budget=max(2**20 // (1 if d == 0 else n), 2**14),
    )
    calls = tail.probability.model_calls * (len(task.kinds) if d == 0 else n)
    return replace(tail.probability, model_calls=calls), tail.check


def _given_shared(task: _Task, ways: Sequence[Way], mixture: SharedMixture) -> Probability:
    """Mean, over weighted draws of what is shared, of the probability given each."""
    calls = 0
    for draws in _DRAWS:
        each = draws // REPLICATES
        z = [sobol_sequence(task.s + 1, task.rng)(each) for _ in range(REPLICATES)]
        u = mixture.place(np.concatenate(z))
        inner = _inner(task, ways, u)
        calls += inner.calls
        found = _averaged(task, mixture.weights(u), inner, calls)
        if found.relative_half_width <= task.precision:
            break
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Inner:
    """Probabilities ``p`` (draws, kinds) given what is shared, and errors common to all draws.

    ``again`` are others, where each draw has a scatter of its own.
    """

    p: Array
    errors: Array
    again: Array | None
    calls: int


def _inner(task: _Task, ways: Sequence[Way], u: Array) -> _Inner:
    p, errors, calls = np.zeros((len(u), len(task.kinds))), np.zeros(len(task.kinds)), 0
    again = p.copy()
    scattered = False
    for i, kind in enumerate(task.kinds):
        starts = [(way.own_point(u), way.point.column) for way in ways if way.kind == i]
        # A stand-in for a point has no column; misses are those of the smallest margin anyway.
        starts = [(start, max(column, 0)) for start, column in starts]
        if not starts:
            continue

        def margins(v: Array, draw: Draws, kind: Kind = kind) -> Array:
            return kind.margins(u[draw], v)

        found = conditional_probabilities(margins, starts, len(u), task.d, rng=task.rng)
        p[:, i], errors[i], calls = found.p, found.relative_error, calls + found.model_calls
        again[:, i] = found.p
        if found.own_samples:
            other = conditional_probabilities(margins, starts, len(u), task.d, rng=task.rng)
            again[:, i], calls, scattered = other.p, calls + other.model_calls, True
    return _Inner(p, errors, again if scattered else None, calls)


def _averaged(task: _Task, weights: Array, inner: _Inner, calls: int) -> Probability:
    counts, k, p = task.counts, task.k, inner.p
    if inner.again is not None:
        p = 0.5 * (inner.p + inner.again)
    tail = at_least(p, counts, k)
    steep = (weights[:, None] * slopes(p, counts, k) * p).sum(axis=0)
    shift = 0.0
    if inner.again is not None:
        # The mean of a bent function of scattered p is off by half its bend times their variance:
        # twice what it is at half the scatter, which the difference takes off.
        apart = 0.5 * (at_least(inner.p, counts, k) + at_least(inner.again, counts, k))
        shift = float((weights * (tail - apart)).sum() / max((weights * tail).sum(), 1e-300))
        tail = 2.0 * tail - apart
    parts = weights * tail
    total = float(parts.sum())
    value = min(max(float(parts.mean()), 0.0), 1.0)
    if value == 0.0:
        return Probability(
            0.0, 0.0, 1.0, task.confidence, "shared", len(parts), calls, bound="upper"
        )
    scatter = float(parts.reshape(REPLICATES, -1).mean(axis=1).std(ddof=1))
    cov = math.hypot(
        scatter / math.sqrt(REPLICATES) / value,
        float(np.sqrt(np.sum((inner.errors * steep / total) ** 2))),
    )
    low, high = multiplied_interval(value, cov, REPLICATES - 1, task.confidence)
    found = weighted_probability(
        value,
        low,
        high,
        confidence=task.confidence,
        samples=len(parts),
        model_calls=calls,
        effective=1.0 / float((parts / total) @ (parts / total)),
        largest=float(np.abs(parts).max()) / total,
        unsteady=cov > UNSTEADY,
    )
    found = replace(found, method="shared")
    if abs(shift) > _MOST_SHIFT:
        words = "probabilities given what is shared scatter too much"
        found = found.noted(words, reliable=False)
    return found
