"""The probability of a miss by the estimator that suits it, checked by another.

Plain sampling where that is cheap enough; else importance sampling around design points; else
subset simulation. A disagreement with the check is said, not averaged away.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtrit

from preloadmc.errors import EstimateError, UsageError
from preloadmc.estimates.curvature import MOST_INPUTS, Curvature, curvature
from preloadmc.estimates.design_point import (
    DesignPoint,
    design_points,
    distinct,
    search_from,
)
from preloadmc.estimates.failure_sample import FailureSample
from preloadmc.estimates.importance import BATCHES, importance_batches
from preloadmc.estimates.margins import CountedMargins, Margins
from preloadmc.estimates.mixture import Mixture, around, standard_normal
from preloadmc.estimates.plain import ENOUGH, FirstLook, first_look, plain_probability
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.estimates.subset import SubsetRuns, subset_runs
from preloadmc.units import Array

METHODS = ("plain", "importance", "subset")

# Chosen on the benchmark problems, so that a wrong estimate is flagged and a sound one seldom is.
_REPAIRS = 2  # times that misses with heavy weights start further searches
_SHORTFALL = 1.5  # of precision, beyond which importance sampling gives way
_SIGMAS = 3.3  # a check further off than this disagrees: one sound estimate in a thousand
_LEAST_COV = 0.05  # of the check, which has a bias of its own
_CHECK_SAMPLES = 1000  # per level and run of the check by subset simulation


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
                estimate = _cross_checked(task, found, look) if cross_check else found
                if smooth:
                    return estimate
                return _doubted(estimate, "margins with steps may hide other ways to a miss")
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
    found = _sampled(task, points, ())
    for _ in range(_REPAIRS):
        if found.probability.reliable or len(found.sample.z) == 0:
            break
        found = _resampled(task, found, found.sample.z, found.sample.weights)
    return found


def _sampled(
    task: _Task, points: Sequence[DesignPoint], known: Sequence[tuple[DesignPoint, Curvature]]
) -> TailEstimate:
    """Curvatures of the points that matter, the mixture around all, and its estimate."""
    nearest = min(point.beta for point in points)
    bends: list[Curvature | None] = []
    for point in points:
        bend = next((bend for other, bend in known if other is point), None)
        matters = point.converged and 1.0 <= point.beta < nearest + 1.0
        if bend is None and matters and 1 < task.d <= MOST_INPUTS:
            bend = curvature(task.margins, point)
        bends.append(bend)
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


def _resampled(task: _Task, found: TailEstimate, z: Array, weights: Array) -> TailEstimate:
    """Once more, with what lies near the heaviest of these misses in the mixture."""
    heavy = _spread_out(z[np.argsort(-weights, kind="stable")])
    points = distinct([*found.points, *search_from(task.margins, heavy, rng=task.rng)])
    if len(points) == len(found.points):
        points = distinct([*found.points, *(DesignPoint.standing_in(row) for row in heavy)])
    known = [
        (point, bend)
        for point, bend in zip(found.points, found.curvatures, strict=True)
        if bend is not None
    ]
    return _sampled(task, points, known)


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


def _cross_checked(task: _Task, found: TailEstimate, look: FirstLook) -> TailEstimate:
    """Compare with plain samples if they saw misses, else with subset simulation."""
    check = from_counts(look.misses, look.samples, task.confidence)
    calls = look.samples
    doubt = ""
    if look.misses < ENOUGH:
        per_level = _check_samples(found.probability.value)
        runs = _check_runs(task, per_level)
        calls += runs.draws
        doubt = _disagreement(found, runs)
        if doubt and not runs.doubts:
            # a disagreement deserves a better check before it is believed
            runs = _check_runs(task, 3 * per_level)
            calls += runs.draws
            doubt = _disagreement(found, runs)
        check = runs.probability(confidence=task.confidence, model_calls=runs.draws)
        if doubt and len(runs.sample.z) and found.mixture is not None:
            uncovered = found.mixture.weights(runs.sample.z)
            found = _resampled(task, found, runs.sample.z, uncovered)
            doubt = _disagreement(found, runs)
    if not doubt and look.contradicts(found.probability):
        doubt = look.words()
    found = replace(found, check=check, check_calls=calls)
    return _doubted(found, doubt) if doubt else found


def _check_samples(value: float) -> int:
    """Samples per level of the check: scatter and bias grow with the number of levels."""
    levels = -math.log10(value) if value > 0.0 else 0.0
    return 10 * round(0.1 * _CHECK_SAMPLES * max(1.0, levels / 4.5))


def _check_runs(task: _Task, per_level: int) -> SubsetRuns:
    """Subset simulation whose calls are not those of the main estimator."""
    apart = CountedMargins(task.margins.margins)
    return subset_runs(apart, task.d, per_level=per_level, rng=task.rng)


def _disagreement(found: TailEstimate, runs: SubsetRuns) -> str:
    """What subset simulation says against an estimate, in words; empty where nothing."""
    if runs.doubts:
        return f"not confirmed by subset simulation: {'; '.join(runs.doubts)}"
    estimate = found.probability
    if estimate.value == 0.0:
        return f"subset simulation disagrees: {runs.value:.3g}"
    apart = abs(math.log(estimate.value / runs.value))
    quantile = float(stdtrit(BATCHES - 1, 0.5 + estimate.confidence / 2.0))
    own = math.log(estimate.high / estimate.value) / quantile
    if apart > _SIGMAS * math.hypot(own, max(runs.cov, _LEAST_COV)):
        return f"subset simulation disagrees: {runs.value:.3g}"
    return ""


def _by_subset(task: _Task, look: FirstLook, note: str) -> TailEstimate:
    """A first set of runs plans a second with more samples per level, if it must.

    Adding runs would narrow the interval about a bias that only larger levels reduce.
    """
    runs = subset_runs(task.margins, task.d, per_level=_CHECK_SAMPLES, rng=task.rng)
    probability = runs.probability(confidence=task.confidence, model_calls=task.margins.calls)
    short = probability.relative_half_width / task.precision
    if 1.0 < short < math.inf:
        larger = min(1.2 * short * short, task.budget / runs.draws)
        if larger > 1.2:
            per_level = 10 * round(larger * _CHECK_SAMPLES / 10)
            runs = subset_runs(task.margins, task.d, per_level=per_level, rng=task.rng)
            probability = runs.probability(
                confidence=task.confidence, model_calls=task.margins.calls
            )
    probability = _with_precision(probability.noted(note), task)
    check = None
    if look.samples:
        check = from_counts(look.misses, look.samples, task.confidence)
    found = TailEstimate(probability, (), (), None, runs.sample, check, look.samples)
    if look.contradicts(probability):
        return _doubted(found, look.words())
    return found


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
