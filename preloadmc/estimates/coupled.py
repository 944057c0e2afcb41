"""The probability that at least k of a group of fasteners miss where each acts upon the others.

Given what they share, such fasteners are not independent: all are evaluated together. Draws lie
near the design points of one fastener after another in the space of all numbers; a joint in which S
fasteners miss is found by each of them, so each counts for 1/S.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.special import stdtrit

from preloadmc.errors import UsageError
from preloadmc.estimates.design_point import design_points
from preloadmc.estimates.importance import BATCHES, UNSTEADY, weighted_probability
from preloadmc.estimates.margins import CountedMargins
from preloadmc.estimates.mixture import Mixture, around
from preloadmc.estimates.plain import ENOUGH, FirstLook
from preloadmc.estimates.probability import Probability, from_counts, multiplied_interval
from preloadmc.estimates.second_estimate import SecondEstimate, given_up
from preloadmc.estimates.tail import tail_probability
from preloadmc.units import Array

JointMargins = Callable[[Array, Array], Array]
"""From shared numbers (m, s) and own ones (m, n, d) to the smallest margin of each fastener (m, n).
"""

_BUDGET = 2**18  # joints, over their fasteners, that plain samples may take, and draws of a class
_FEWEST = 2**14
_LOOK = 2**13  # joints of the first look
_FIRST = 32  # draws of a class and batch to begin with
_FEWEST_DRAWS = 2**12  # of a class, which others may be many beside
_GROWTH = 4.0  # of the draws in one step, since the scatter of few is hardly known
_NUMBERS = 2**21  # in one block


@dataclass(frozen=True, slots=True, eq=False)
class CoupledEstimate:
    """A probability of the group, its check, and that of each fastener to miss, in their order.

    Model calls are those of whole joints.
    """

    probability: Probability
    check: Probability | None
    single: tuple[Probability, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    joint: JointMargins
    n: int
    s: int
    d: int
    k: int
    classes: tuple[tuple[int, ...], ...]
    rng: np.random.Generator
    precision: float
    confidence: float
    budget: int

    @property
    def columns(self) -> int:
        return self.s + self.n * self.d

    def margins(self, z: Array) -> Array:
        """Margins (m, n) of all fasteners from all numbers (m, s + n d), in blocks."""
        block = max(_NUMBERS // max(self.columns, 1), 1)
        parts = []
        for first in range(0, len(z), block):
            part = z[first : first + block]
            v = part[:, self.s :].reshape(len(part), self.n, self.d)
            parts.append(self.joint(part[:, : self.s], v))
        return np.concatenate(parts)

    def kth(self, z: Array) -> Array:
        """The k-th smallest margin, shape (m, 1): negative where at least k miss."""
        margins: Array = np.partition(self.margins(z), self.k - 1, axis=1)
        return margins[:, self.k - 1 : self.k]

    def one(self, z: Array, fastener: int) -> Array:
        """The margin of one fastener, shape (m, 1)."""
        return self.margins(z)[:, fastener : fastener + 1]


def coupled_at_least_k(
    joint: JointMargins,
    n: int,
    s: int,
    d: int,
    k: int,
    *,
    rng: np.random.Generator,
    alike: Sequence[int] | None = None,
    precision: float = 0.2,
    confidence: float = 0.95,
    smooth: bool = True,
) -> CoupledEstimate:
    """Probability that at least k of n fasteners miss, all evaluated together.

    Parameters
    ----------
    joint : callable
        From shared numbers (m, s) and own ones (m, n, d) to the smallest margin of each fastener,
        shape (m, n).
    n, s, d : int
        Fasteners, shared columns, and own columns of each fastener.
    k : int
        1 to n.
    rng : numpy.random.Generator
        For everything drawn.
    alike : sequence of int, optional
        A number for each fastener, equal where the joint looks the same from both: one search and
        one sample serve them all. Unless given, every fastener differs.
    precision, confidence : float
        Wanted half-width of the interval over the value, and the interval's confidence.
    smooth : bool
        False where margins have steps: then there is no design point.

    Returns
    -------
    CoupledEstimate

    Raises
    ------
    UsageError
        There is no such group.
    """
    if not 1 <= k <= n:
        raise UsageError(f"k must lie between 1 and the {n} fasteners, given {k}")
    labels = list(range(n)) if alike is None else list(alike)
    if len(labels) != n:
        raise UsageError(f"{n} fasteners need as many labels, given {len(labels)}")
    classes = tuple(
        tuple(i for i, label in enumerate(labels) if label == each)
        for each in dict.fromkeys(labels)
    )
    budget = max(_BUDGET // n, _FEWEST)
    task = _Task(joint, n, s, d, k, classes, rng, precision, confidence, budget)
    look, each = _look(task, min(_LOOK, budget))
    wanted = look.wanted(precision, confidence)
    if wanted <= budget:
        look, each = _look(task, math.ceil(wanted))
        found = from_counts(look.misses, look.samples, confidence)
        return CoupledEstimate(found, None, _singles_by_plain(task, look.samples, each, smooth))
    if not smooth:
        found, check = _as_one_margin(task, look)
        each_class = [_single(task, first, smooth=False) for first, *_ in classes]
        return CoupledEstimate(found, check, _spread(task, each_class))
    return _by_fasteners(task, look)


def _look(task: _Task, samples: int) -> tuple[FirstLook, Array]:
    """Plain joints: how many miss, and how often each fastener does, shape (n,)."""
    block = max(_NUMBERS // max(task.columns, 1), 1)
    misses, each = 0, np.zeros(task.n, dtype=np.intp)
    for first in range(0, samples, block):
        z = task.rng.standard_normal((min(block, samples - first), task.columns))
        missed = CountedMargins(task.margins)(z) < 0.0
        each += missed.sum(axis=0)
        misses += int(np.count_nonzero(missed.sum(axis=1) >= task.k))
    return FirstLook(misses, samples), each.astype(float)


def _spread(task: _Task, of_class: Sequence[Probability]) -> tuple[Probability, ...]:
    """What holds for the first of a class, for all of it."""
    single = {
        fastener: found
        for members, found in zip(task.classes, of_class, strict=True)
        for fastener in members
    }
    return tuple(single[fastener] for fastener in range(task.n))


def _singles_by_plain(
    task: _Task, samples: int, each: Array, smooth: bool
) -> tuple[Probability, ...]:
    # Those of one joint are not independent: the count of one fastener alone has an exact interval.
    found = [
        from_counts(int(each[first]), samples, task.confidence)
        if each[first] >= ENOUGH
        else _single(task, first, smooth=smooth)
        for first, *_ in task.classes
    ]
    return _spread(task, found)


def _single(task: _Task, fastener: int, *, smooth: bool) -> Probability:
    return tail_probability(
        lambda z: task.one(z, fastener),
        task.columns,
        rng=task.rng,
        smooth=smooth,
        precision=task.precision,
        confidence=task.confidence,
        budget=task.budget,
    ).probability


def _as_one_margin(
    task: _Task, look: FirstLook, note: str = ""
) -> tuple[Probability, Probability | None]:
    tail = tail_probability(
        task.kth,
        task.columns,
        rng=task.rng,
        smooth=False,
        precision=task.precision,
        confidence=task.confidence,
        budget=task.budget,
        look=look,
    )
    return tail.probability.noted(note), tail.check


class _Tally:
    """Weights of events among draws in batches: sums (batches,), and what tells their scatter."""

    def __init__(self) -> None:
        self.sums = np.zeros(BATCHES)
        self.squares = 0.0
        self.largest = 0.0

    def add(self, weights: Array) -> None:
        """Add weights (batches, draws), zero where the event is not."""
        self.sums += weights.sum(axis=1)
        self.squares += float(np.sum(weights * weights))
        self.largest = max(self.largest, float(weights.max()))

    def cov(self) -> float:
        """Coefficient of variation of the mean, by batches."""
        mean = float(self.sums.mean())
        if mean == 0.0:
            return math.inf
        return float(self.sums.std(ddof=1)) / math.sqrt(BATCHES) / mean

    def probability(self, draws: int, samples: int, calls: int, confidence: float) -> Probability:
        """Estimate from so many draws of each batch."""
        total = float(self.sums.sum())
        value = min(total / (BATCHES * draws), 1.0)
        low, high = multiplied_interval(value, self.cov(), BATCHES - 1, confidence)
        return weighted_probability(
            value,
            low,
            high,
            confidence=confidence,
            samples=samples,
            model_calls=calls,
            effective=total * total / self.squares if total > 0.0 else 0.0,
            largest=self.largest / total if total > 0.0 else 1.0,
            unsteady=self.cov() > UNSTEADY,
        )


def _by_fasteners(task: _Task, look: FirstLook) -> CoupledEstimate:
    """Importance sampling about the design points of each class, held against another estimate."""
    mixtures, calls = _mixtures(task)
    group, each = _Tally(), [_Tally() for _ in task.classes]
    most = max(task.budget // len(task.classes), _FEWEST_DRAWS) // BATCHES
    quantile = float(stdtrit(BATCHES - 1, 0.5 + task.confidence / 2.0))
    drawn, more = 0, _FIRST if any(mixture is not None for mixture in mixtures) else 0
    sampled: list[_Tally] = []
    while more > 0:
        for members, mixture, tally in zip(task.classes, mixtures, each, strict=True):
            if mixture is not None:
                _draw(task, members, mixture, more, group, tally)
        drawn += more
        sampled = [tally for tally, m in zip(each, mixtures, strict=True) if m is not None]
        worst = max(group.cov(), _scatter(sampled))
        growth = min((1.1 * quantile * min(worst, 2.0) / task.precision) ** 2, _GROWTH)
        enough = quantile * worst <= task.precision
        more = 0 if enough else min(math.ceil(max(growth - 1.0, 0.5) * drawn), most - drawn)
    samples = drawn * BATCHES
    calls += samples * len(sampled)
    single = [
        _single(task, members[0], smooth=False)
        if mixture is None
        else tally.probability(drawn, samples, calls, task.confidence)
        for members, mixture, tally in zip(task.classes, mixtures, each, strict=True)
    ]
    # No way to a miss: such a fastener may be one that never misses.
    left_out = any(
        mixture is None and p.value > 0.0 for mixture, p in zip(mixtures, single, strict=True)
    )
    if left_out or not sampled:
        found, check = _as_one_margin(task, look, "no design point was found")
    else:
        found = group.probability(drawn, samples * len(sampled), calls, task.confidence)
        found, check = _checked(task, look, found)
    return CoupledEstimate(found, check, _spread(task, single))


def _scatter(tallies: Sequence[_Tally]) -> float:
    """Return the largest scatter of a class, over the mean of that which misses most.

    Classes that hardly miss need not be known as well as the others.
    """
    most = max(float(tally.sums.sum()) for tally in tallies)
    if most == 0.0:
        return math.inf
    return max(
        tally.cov() * float(tally.sums.sum()) / most if tally.sums.any() else 0.0
        for tally in tallies
    )


def _mixtures(task: _Task) -> tuple[list[Mixture | None], int]:
    """What draws misses of each class, None where no point is found; calls of the search."""
    mixtures: list[Mixture | None] = []
    calls = 0
    for first, *_ in task.classes:
        counted = CountedMargins(partial(task.one, fastener=first))
        points = design_points(counted, task.columns, rng=task.rng)
        calls += counted.calls
        mixtures.append(around(points, [None] * len(points)) if points else None)
    return mixtures, calls


def _draw(
    task: _Task,
    members: Sequence[int],
    mixture: Mixture,
    more: int,
    group: _Tally,
    single: _Tally,
) -> None:
    """Add draws about one fastener of a class, which stands for all of it, to both tallies."""
    own, together = np.zeros((BATCHES, more)), np.zeros((BATCHES, more))
    for batch in range(BATCHES):
        block = max(_NUMBERS // task.columns, 1)
        for first in range(0, more, block):
            z = mixture.sample(min(block, more - first), task.rng)
            missed = CountedMargins(task.margins)(z) < 0.0
            weights = np.where(missed[:, members[0]], mixture.weights(z), 0.0)
            total = missed.sum(axis=1)
            rows = slice(first, first + len(z))
            own[batch, rows] = weights
            counted = np.where(total >= task.k, len(members) / np.maximum(total, 1), 0.0)
            together[batch, rows] = weights * counted
    single.add(own)
    group.add(together)


def _checked(
    task: _Task, look: FirstLook, found: Probability
) -> tuple[Probability, Probability | None]:
    """Hold an estimate against the second one; where it sees too few, another takes its place."""
    if not found.reliable:
        return _as_one_margin(task, look, given_up(found, found.note))
    second = SecondEstimate.of(task.kth, task.columns, look, found.value, rng=task.rng)
    doubt = second.doubt(found)
    if doubt:
        second = second.larger(found.value, task.budget, rng=task.rng)
        doubt = second.doubt(found)
    check = second.probability(task.confidence)
    return (second.settled(found, doubt) if doubt else found), check
