"""The probability of a miss by the estimator that suits it, checked by another.

Plain sampling where that is cheap enough; else importance sampling around design points; else
subset simulation. A disagreement with the check is said, not averaged away.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.errors import EstimateError, UsageError
from preloadmc.estimates.curvature import Curvature, curvatures
from preloadmc.estimates.design_point import (
    DesignPoint,
    design_points,
    distinct,
    search_from,
)
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.importance import importance_batches
from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.estimates.mixture import Mixture, around, standard_normal
from preloadmc.estimates.plain import FirstLook, first_look, plain_probability
from preloadmc.estimates.probability import METHODS, Probability, from_counts
from preloadmc.estimates.second_estimate import ROUNDS, SAMPLES, SecondEstimate, given_up
from preloadmc.estimates.subset import subset_runs
from preloadmc.estimates.unreached import hardly_drawn, points_from_misses
from preloadmc.units import Array

# Chosen on the benchmark problems.
_REPAIRS = 2  # times that misses with heavy weights start further searches
_SHORTFALL = 1.5  # of precision, beyond which importance sampling gives way


@dataclass(frozen=True, slots=True, eq=False)
class TailEstimate:
    """A probability, what it rests on, and the check it passed or failed.

    `points` are the design points, nearest first, with their `curvatures` (None where not
    computed); both are empty where no search was made. `mixture` is what `sample`, the
    misses seen and their weights, came from; None after subset simulation. `check` is the
    second estimate; `check_calls` are apart from those of `probability`.
    """

    probability: Probability
    points: tuple[DesignPoint, ...]
    curvatures: tuple[Curvature | None, ...]
    mixture: Mixture | None
    sample: FailureSample
    check: Probability | None
    check_calls: int


def tail_probability(
    margins: Margins,
    d: int,
    *,
    rng: np.random.Generator,
    smooth: bool = True,
    precision: float = 0.2,
    confidence: float = 0.95,
    budget: int = 1_000_000,
    method: str | None = None,
    cross_check: bool = True,
    look: FirstLook | None = None,
) -> TailEstimate:
    """Probability that the smallest margin is negative.

    Parameters
    ----------
    margins : callable
        From z, shape (n, d), to margins, shape (n, m).
    smooth : bool
        False where a law has atoms (a constant, a tabulated sample): such margins have
        steps, and no design point.
    precision : float
        Wanted half-width of the interval over the value; 0.2 at 95 % is a coefficient of
        variation of about 10 %.
    budget : int
        Most model calls of the main estimator's sample, and what "cheap enough" means.
    method : {"plain", "importance", "subset"}, optional
        Forces an estimator.
    cross_check : bool
        False saves the second estimate.
    look : FirstLook, optional
        Plain samples seen before, used in place of a first look of its own.

    Returns
    -------
    TailEstimate
        The probability with its interval, what it rests on, and the check.

    Raises
    ------
    NotFiniteError
        A margin came out NaN or infinite.
    EstimateError
        Importance sampling was forced and no design point was found.
    """
    if method is not None and method not in METHODS:
        raise UsageError(f"method must be one of {', '.join(METHODS)}, given {method!r}")
    if budget < 2000:
        raise UsageError(f"the budget must be at least 2000 model calls, given {budget}")
    task = _Task(CountedMargins(margins), d, rng, precision, confidence, budget)
    if look is None:
        look = FirstLook(0, 0)
        if cross_check or method in (None, "plain"):
            look = first_look(task.margins, d, budget=budget, rng=rng)
    wanted = look.wanted(precision, confidence)
    if method == "plain" or (method is None and wanted <= budget):
        return _by_plain(task, math.ceil(min(wanted, budget)))
    # from here on the look belongs to the check
    task.margins.calls = 0
    note = ""
    if method == "importance" or (method is None and smooth):
        points = design_points(task.margins, d, rng=rng)
        if points:
            found = _around_points(task, points)
            enough = found.probability.relative_half_width < _SHORTFALL * precision
            if method == "importance" or (found.probability.reliable and enough):
                forced = method is not None
                if cross_check:
                    found = _cross_checked(task, found, look, forced=forced)
                if smooth:
                    return found
                return _doubted(found, "margins with steps may hide other ways to a miss")
            note = f"importance sampling was given up ({found.probability.note})"
        elif method == "importance":
            raise EstimateError(
                "no design point was found, which importance sampling needs; use subset"
            )
        else:
            note = "no design point was found"
    return _by_subset(task, look, note)


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    margins: CountedMargins
    d: int
    rng: np.random.Generator
    precision: float
    confidence: float
    budget: int


def _by_plain(task: _Task, samples: int) -> TailEstimate:
    probability, sample = plain_probability(
        task.margins, task.d, samples=samples, confidence=task.confidence, rng=task.rng
    )
    probability = _with_precision(probability, task)
    return TailEstimate(probability, (), (), standard_normal(task.d), sample, None, 0)


def _around_points(task: _Task, points: Sequence[DesignPoint]) -> TailEstimate:
    """Importance sampling; where weights are bad, again with the places they point to."""
    found = _sampled(task, points, {})
    for _ in range(_REPAIRS):
        if found.probability.reliable or len(found.sample.z) == 0:
            break
        found = _resampled(task, found)
    return found


def _sampled(
    task: _Task,
    points: Sequence[DesignPoint],
    known: Mapping[DesignPoint, Curvature | None],
) -> TailEstimate:
    """The mixture around design points, with curvatures of those that matter, and its estimate."""
    bends = curvatures(task.margins, points, known)
    batches, mixture = importance_batches(
        task.margins,
        around(points, bends),
        precision=task.precision,
        confidence=task.confidence,
        budget=task.budget,
        rng=task.rng,
    )
    probability = batches.probability(confidence=task.confidence, model_calls=task.margins.calls)
    probability = _with_precision(probability, task)
    sample = batches.samples[0]
    return TailEstimate(probability, tuple(points), tuple(bends), mixture, sample, None, 0)


def _resampled(task: _Task, found: TailEstimate) -> TailEstimate:
    """Once more, with what lies near the heaviest of its misses in the mixture."""
    order = np.argsort(-found.sample.weights, kind="stable")
    heavy = _spread_out(found.sample.z[order])
    points = distinct([*found.points, *search_from(task.margins, heavy, rng=task.rng)])
    if len(points) == len(found.points):
        points = distinct([*found.points, *(DesignPoint.standing_in(row) for row in heavy)])
    return _sampled(task, points, _bends(found))


def _bends(found: TailEstimate) -> dict[DesignPoint, Curvature | None]:
    return dict(zip(found.points, found.curvatures, strict=True))


def _spread_out(z: Array) -> Array:
    """The first row and up to two that follow in clearly other directions."""
    unit = z / np.linalg.norm(z, axis=1, keepdims=True)
    chosen = [0]
    while len(chosen) < 3:
        apart = (unit @ unit[chosen].T).max(axis=1) < 0.7
        if not apart.any():
            break
        chosen.append(int(np.argmax(apart)))
    rows: Array = z[chosen]
    return rows


def _cross_checked(
    task: _Task, found: TailEstimate, look: FirstLook, *, forced: bool
) -> TailEstimate:
    """Hold importance sampling against the second estimate, and go where that sees misses.

    A disagreement deserves a better check before it is believed. What stands after it is the
    estimate that is better founded, unless one is forced.
    """
    value = found.probability.value
    second = SecondEstimate.of(task.margins.margins, task.d, look, value, rng=task.rng)
    found = _reaching(task, found, second)
    doubt = _doubt(found, second)
    if doubt:
        second = second.larger(found.probability.value, task.budget, rng=task.rng)
        found = _reaching(task, found, second)
        doubt = _doubt(found, second)
    if doubt and not forced:
        note = given_up(found.probability, doubt)
        own = found.probability
        # What only the weights say puts the estimate itself in doubt.
        instead = second.better_founded(own if second.doubt(own) else replace(own, reliable=False))
        if instead == "plain":
            found, doubt = _plain_again(task, second.look, note), ""
        elif instead == "subset":
            return _by_subset(task, look, note, second)
    check, calls = second.probability(task.confidence), look.samples + second.calls
    found = replace(found, check=check, check_calls=calls)
    return found if doubt in {"", found.probability.note} else _doubted(found, doubt)


def _reaching(task: _Task, found: TailEstimate, second: SecondEstimate) -> TailEstimate:
    """Importance sampling that reaches the misses of the second estimate, where it can."""
    value = max(found.probability.value, second.value)
    for _ in range(ROUNDS):
        points, bends = list(found.points), list(found.curvatures)
        for sample in second.samples:
            points += points_from_misses(
                task.margins, points, bends, sample, value=value, rng=task.rng
            )
            bends += [None] * (len(points) - len(bends))
        if len(points) == len(found.points):
            break
        found = _sampled(task, points, _bends(found))
        value = max(found.probability.value, second.value)
    return found


def _doubt(found: TailEstimate, second: SecondEstimate) -> str:
    """What speaks against importance sampling, in words; empty where nothing."""
    own = found.probability
    doubt = second.doubt(own) or ("" if own.reliable else own.note)
    if not doubt and found.mixture is not None:
        doubt = hardly_drawn(found.mixture, second.samples, max(own.value, second.value))
    return doubt


def _plain_again(task: _Task, look: FirstLook, note: str) -> TailEstimate:
    """The plain samples that have contradicted another estimate."""
    probability = from_counts(look.misses, look.samples, task.confidence, task.margins.calls)
    probability = _with_precision(probability.noted(note), task)
    seen = np.empty((0, task.d)) if look.seen is None else look.seen
    sample = FailureSample.of(seen, np.ones(len(seen)))
    return TailEstimate(probability, (), (), standard_normal(task.d), sample, None, 0)


def _by_subset(
    task: _Task, look: FirstLook, note: str, second: SecondEstimate | None = None
) -> TailEstimate:
    """A first set of runs plans a second with more samples per level, if it must.

    Adding runs would narrow the interval about a bias that only larger levels reduce. The runs of
    a second estimate, made before, are its check.
    """
    runs = subset_runs(task.margins, task.d, per_level=SAMPLES, rng=task.rng)
    probability = runs.probability(confidence=task.confidence, model_calls=task.margins.calls)
    short = probability.relative_half_width / task.precision
    if 1.0 < short < math.inf:
        larger = min(1.2 * short * short, task.budget / runs.draws)
        if larger > 1.2:
            per_level = 10 * round(larger * SAMPLES / 10)
            runs = subset_runs(task.margins, task.d, per_level=per_level, rng=task.rng)
            probability = runs.probability(
                confidence=task.confidence, model_calls=task.margins.calls
            )
    probability = _with_precision(probability.noted(note), task)
    if second is not None:
        check: Probability | None = second.probability(task.confidence)
        calls, doubt = look.samples + second.calls, second.doubt(probability)
    else:
        check = from_counts(look.misses, look.samples, task.confidence) if look.samples else None
        calls, doubt = look.samples, look.words() if look.contradicts(probability) else ""
    found = TailEstimate(probability, (), (), None, runs.sample, check, calls)
    return _doubted(found, doubt) if doubt else found


def _with_precision(probability: Probability, task: _Task) -> Probability:
    """Say where the precision asked for was not reached."""
    reached = probability.relative_half_width
    if not task.precision * 1.1 < reached < math.inf:
        return probability
    return probability.noted(
        f"half-width {100.0 * reached:.0f} % of the value where "
        f"{100.0 * task.precision:.0f} % was asked",
    )


def _doubted(found: TailEstimate, doubt: str) -> TailEstimate:
    return replace(found, probability=found.probability.noted(doubt, reliable=False))
