"""What do records of vibration tests say of each securing element, and of their difference?"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, stdtrit

from preloadmc.case_file import RecordFile
from preloadmc.chance.censored_lifetimes import LIFETIME_KINDS, LifetimeFit, fitted_lifetimes
from preloadmc.chance.change_point import change_point
from preloadmc.chance.tolerance_limits import distribution_free, normal_limits
from preloadmc.chance.two_means import mean_difference
from preloadmc.errors import UsageError
from preloadmc.questions.decay.answer import decay_answer, decay_warnings, holds_for
from preloadmc.questions.decay.rating import Rating, Threshold, thresholds_of
from preloadmc.questions.decay.reading import vibration_records
from preloadmc.questions.decay.records import (
    LIFE_SHARES,
    DecayQuestion,
    DecayResult,
    ElementDecay,
    ElementDifference,
    ElementLifetime,
    LifeQuantile,
    RemainingLimit,
    RemainingPreload,
    TestPhases,
    remaining_of,
)
from preloadmc.questions.decay.vibration_record import LOST, MOST_REMAINDER, VibrationRecord
from preloadmc.told import percent
from preloadmc.units import Array


def decay(
    files: RecordFile | Sequence[RecordFile], question: DecayQuestion | None = None
) -> DecayResult:
    """Return what records of transverse-vibration tests say of each securing element.

    Parameters
    ----------
    files : RecordFile or sequence of RecordFile
        One file a test, or tables with a column 'test': load cycles, preload (a force, or a share
        of the initial one), perhaps rotation and the securing element.
    question : DecayQuestion, optional
        What is asked; the usual question unless given.

    Returns
    -------
    DecayResult

    Raises
    ------
    CaseError
        With every problem of the first file that has any.
    UsageError
        If an option does not go with the records, or a test stands in two files.
    """
    question = DecayQuestion() if question is None else question
    sources = (files,) if isinstance(files, RecordFile) else tuple(files)
    thresholds = thresholds_of(question.thresholds)
    if question.law is not None and question.law not in LIFETIME_KINDS:
        raise UsageError(f"--law {question.law}: of lifetimes {' or '.join(LIFETIME_KINDS)}")
    if not LOST < question.remainder <= MOST_REMAINDER:
        words = f"above {percent(LOST)} and at most {percent(MOST_REMAINDER)}"
        raise UsageError(f"--remainder {percent(question.remainder)}: {words}")
    if any(each < 1.0 for each in question.at):
        raise UsageError("--at: 1 cycle or more")
    tests, left_out = vibration_records(sources, question.where)
    at = question.at or _usual_cycles(tests, thresholds)
    by_element: dict[str, list[VibrationRecord]] = {}
    for test in tests:
        by_element.setdefault(test.element, []).append(test)
    elements = tuple(
        _element(name, tuple(some), at, thresholds, question) for name, some in by_element.items()
    )
    differences = _differences(elements, at, question.confidence)
    conditions = holds_for(tests)
    return DecayResult(
        sources,
        question,
        at,
        elements,
        differences,
        thresholds,
        conditions,
        decay_answer(elements, differences, thresholds, conditions),
        decay_warnings(elements, at, thresholds, left_out),
    )


def _usual_cycles(
    tests: Sequence[VibrationRecord], thresholds: Sequence[Threshold]
) -> tuple[float, ...]:
    """Return the last cycles that all tests reach, and those of the rating that some reach.

    A test that ended without preload is stopped, and no bound to the others.
    """
    running = [each.last_cycles for each in tests if not each.is_lost]
    common = min(running or [each.last_cycles for each in tests])
    farthest = max(each.last_cycles for each in tests)
    return tuple(sorted({common, *(each.cycles for each in thresholds if each.cycles <= farthest)}))


def _element(
    name: str,
    tests: tuple[VibrationRecord, ...],
    at: Sequence[float],
    thresholds: Sequence[Threshold],
    question: DecayQuestion,
) -> ElementDecay:
    found = {
        cycles: _limit(remaining, question)
        for cycles in dict.fromkeys((*at, *(each.cycles for each in thresholds)))
        if (remaining := _remaining(name, tests, cycles)) is not None
    }
    ratings = (_rated(each, tests, found.get(each.cycles)) for each in thresholds)
    return ElementDecay(
        name,
        tests,
        tuple(found[cycles] for cycles in at if cycles in found),
        _lifetime(tests, question),
        tuple(_phases(each, question.confidence) for each in tests if each.rotation is not None),
        tuple(each for each in ratings if each is not None),
    )


def _rated(
    threshold: Threshold, tests: Sequence[VibrationRecord], there: RemainingLimit | None
) -> Rating | None:
    """Return how the tests stand to a threshold; None where none tells.

    A test that was stopped earlier and was below it already misses it: preload does not grow.
    """
    shares = {} if there is None else there.remaining.shares
    missed = sum(
        each.test not in shares and float(each.share[-1]) < threshold.share for each in tests
    )
    n = len(shares) + missed
    if n == 0:
        return None
    reach = sum(kept >= threshold.share for kept in shares.values())
    return Rating(threshold, reach, n, None if there is None else there.limit)


def _remaining(
    name: str, tests: tuple[VibrationRecord, ...], cycles: float
) -> RemainingPreload | None:
    try:
        return remaining_of(name, tests, cycles)
    except ValueError:  # no test reaches the cycles
        return None


def _limit(remaining: RemainingPreload, question: DecayQuestion) -> RemainingLimit:
    """Return remaining preload with its tolerance limits and the interval of its mean."""
    shares = np.array(list(remaining.shares.values()))
    content, confidence = question.content, question.confidence
    by_count = distribution_free(shares, content, confidence)
    if remaining.sd is None:
        return RemainingLimit(remaining, None, by_count.lower, by_count.tests_one_sided, None, None)
    half = float(stdtrit(remaining.n - 1, 0.5 + 0.5 * confidence)) * remaining.sd
    half /= np.sqrt(remaining.n)
    return RemainingLimit(
        remaining,
        max(normal_limits(shares, content, confidence).lower, 0.0),
        by_count.lower,
        by_count.tests_one_sided,
        max(remaining.mean - half, 0.0),
        remaining.mean + half,
    )


def _lifetime(tests: Sequence[VibrationRecord], question: DecayQuestion) -> ElementLifetime:
    """Return cycles to the remainder as a lifetime; runs that keep more are censored."""
    cycles = {}
    for each in tests:
        fell_at = each.cycles_to(question.remainder)
        cycles[each.test] = (each.last_cycles, False) if fell_at is None else (fell_at, True)
    times = np.array([time for time, _ in cycles.values()])
    fell = np.array([fell for _, fell in cycles.values()], dtype=np.bool_)
    laws = _laws(times, fell)
    chosen = next((each for each in laws if question.law in (None, each.kind)), None)
    quantiles = () if chosen is None else _quantiles(chosen, question.confidence)
    # By these cycles every test says whether it fell.
    counted_at = min(times[~fell], default=float(np.max(times)))
    few = int(np.sum(fell & (times <= counted_at)))
    return ElementLifetime(
        cycles,
        laws,
        chosen,
        quantiles,
        float(counted_at),
        # The one-sided limit of Clopper and Pearson.
        float(betaincinv(few + 1, len(times) - few, question.confidence))
        if few < len(times)
        else 1.0,
    )


def _quantiles(law: LifetimeFit, confidence: float) -> tuple[LifeQuantile, ...]:
    return tuple(
        LifeQuantile(p, law.quantile(p), *law.quantile_interval(p, confidence)) for p in LIFE_SHARES
    )


def _laws(times: Array, fell: NDArray[np.bool_]) -> tuple[LifetimeFit, ...]:
    """Return the laws that the runs allow, the likelier first."""
    fits = []
    for kind in LIFETIME_KINDS:
        try:
            fits.append(fitted_lifetimes(kind, times, fell))
        except ValueError:  # too few ends of life
            continue
    return tuple(sorted(fits, key=lambda each: -each.log_likelihood))


def _phases(test: VibrationRecord, confidence: float) -> TestPhases:
    """Return where rotation begins in one test, up to where its preload is lost."""
    assert test.rotation is not None, "asked of tests with rotation"
    kept = np.isfinite(test.rotation)
    lost = np.flatnonzero(test.share <= LOST)
    if len(lost):
        kept &= np.arange(len(kept)) <= lost[0]
    found = change_point(test.cycles[kept], test.rotation[kept], confidence)
    return TestPhases(
        test.test,
        found,
        None if found is None else test.share_at(found.at),
        float(test.share[-1]),
    )


def _differences(
    elements: Sequence[ElementDecay], at: Sequence[float], confidence: float
) -> tuple[ElementDifference, ...]:
    """Return each pair of elements at each of the cycles that two tests of both reach.

    The intervals of all pairs hold together with the confidence (Bonferroni).
    """
    pairs = list(combinations(elements, 2))
    found = []
    for first, second in pairs:
        for cycles in at:
            shares = [
                np.array(list(remaining.shares.values()))
                for each in (first, second)
                if (remaining := _remaining(each.element, each.tests, cycles)) is not None
                and remaining.n > 1
            ]
            if len(shares) == 2:
                each_confidence = 1.0 - (1.0 - confidence) / len(pairs)
                difference = mean_difference(shares[0], shares[1], each_confidence)
                found.append(ElementDifference(first.name, second.name, cycles, difference))
    return tuple(found)
