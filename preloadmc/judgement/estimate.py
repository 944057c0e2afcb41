"""The probability of an outcome by the estimator that suits it, and the likeliest way to miss."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtri

from preloadmc.case import Case
from preloadmc.chance.dependence import Dependence
from preloadmc.chance.laws import Tabulated
from preloadmc.chance.streams import named_rng
from preloadmc.engine import event_limits, margin_function
from preloadmc.estimates.design_point import DesignPoint, design_points
from preloadmc.estimates.margins import CountedMargins
from preloadmc.estimates.mixture import around
from preloadmc.estimates.probability import METHODS, Probability
from preloadmc.estimates.tail import tail_probability
from preloadmc.judgement.misses import (
    RANKED_SIDES,
    Misses,
    MissRanking,
    Unranked,
    gather_misses,
    look,
    nearest_point,
    rank_misses,
)
from preloadmc.samples import Samples
from preloadmc.units import Array

# Half width over value that an interval is to have where no precision is asked: a coefficient of
# variation of about 10 %.
USUAL_PRECISION = 0.2
# Where more than this miss, a miss tells nothing of the inputs: its law is nearly their own.
NEARLY_ALL = 0.99
# How much farther than the reliability index, in s.d., a drawn miss may be told as the likeliest.
MOST_BEYOND = 1.0


@dataclass(frozen=True, slots=True)
class MissedInput:
    """An input at the likeliest miss: its value, its mean, and how many s.d. of its normal off."""

    name: str
    value: float
    mean: float
    z: float


@dataclass(frozen=True, slots=True)
class LikeliestMiss:
    """The likeliest way to miss an outcome, in physical terms: the design point.

    Where no search ended at the nearest miss it is the nearest miss that was drawn. ``inputs`` are
    ordered by how far off they are; ``beta`` is the distance in standard normal space.
    """

    outcome: str
    limit: str
    state: str
    beta: float
    inputs: tuple[MissedInput, ...]


@dataclass(frozen=True, slots=True, eq=False)
class OutcomeEstimate:
    """A probability, the check by a second estimator, the likeliest way to miss, the misses.

    ``check`` and ``likeliest_miss`` are None where there is none. ``check_calls`` are those beside
    the plain samples that were there; ``model_calls`` all of them, those of misses and the way to
    miss too. ``dominates`` says what dominates the ``misses``, or why that cannot be said.
    """

    probability: Probability
    check: Probability | None
    check_calls: int
    likeliest_miss: LikeliestMiss | None
    misses: Misses
    dominates: MissRanking | Unranked
    model_calls: int


def estimate_outcome(
    case: Case, drawn: Samples, outcome: str, *, seed: int, precision: float, method: str | None
) -> OutcomeEstimate:
    """Estimate one outcome, by plain sampling where that has resolved it.

    Parameters
    ----------
    case : Case
        The case.
    drawn : Samples
        Its plain samples.
    outcome : str
        One of `engine.OUTCOMES`.
    seed : int
        Seed; each outcome has a stream of its own.
    precision : float
        Wanted half width of the 95 % interval over the value.
    method : str or None
        "plain", "importance" or "subset" to force one.

    Returns
    -------
    OutcomeEstimate
        The probability with its check, the likeliest way to miss, and what dominates the misses.
    """
    plain = plain_estimate(case, drawn, outcome)
    d = len(case.uncertain)
    margins = CountedMargins(margin_function(case, outcome))
    rng = named_rng(seed, f"tail of {outcome}")
    resolved = plain.relative_half_width <= precision
    if d == 0 and method not in {None, "plain"}:
        plain = plain.noted(f"{METHODS[method]} was asked for, but nothing scatters")
    if d == 0 or method == "plain" or (method is None and resolved):
        points: Sequence[DesignPoint] = ()
        if case.is_smooth and d:
            points = design_points(margins, d, rng=rng)
        mixture = around(points, [None] * len(points)) if points else None
        misses = gather_misses(case, drawn, outcome, seed=seed, points=points, mixture=mixture)
        return _outcome(case, plain, None, 0, points, misses, margins.calls)
    found = tail_probability(
        margins,
        d,
        rng=rng,
        smooth=case.is_smooth,
        precision=precision,
        method=method,
        look=look(drawn, outcome),
    )
    if found.probability.bound == "upper":
        # No way to a miss was found: then the plain samples bound the probability best.
        if method is not None:
            plain = plain.noted(f"{METHODS[method]} was asked for and found no miss")
        misses = gather_misses(case, drawn, outcome, seed=seed)
        return _outcome(case, plain, None, 0, (), misses, margins.calls)
    misses = gather_misses(
        case,
        drawn,
        outcome,
        seed=seed,
        points=found.points,
        mixture=found.mixture,
        sample=found.sample,
    )
    probability = found.probability
    points = found.points
    if not points and probability.method == "plain" and case.is_smooth:
        # Resolved without them; the likeliest way to miss is worth telling all the same.
        points = design_points(margins, d, rng=rng)
    # The plain samples were there anyway.
    checked = found.check_calls - drawn.n if found.check is not None else 0
    return _outcome(case, probability, found.check, checked, points, misses, margins.calls)


def _outcome(
    case: Case,
    probability: Probability,
    check: Probability | None,
    check_calls: int,
    points: Sequence[DesignPoint],
    misses: Misses,
    calls: int,
) -> OutcomeEstimate:
    return OutcomeEstimate(
        limited_by_tables(case, probability),
        check,
        check_calls,
        likeliest_miss(case, points, misses, probability.value),
        misses,
        Unranked(misses.outcome, "nearly every fastener, whatever its inputs")
        if probability.value > NEARLY_ALL
        else rank_misses(case, misses),
        calls + misses.model_calls,
    )


def plain_estimate(case: Case, drawn: Samples, event: str) -> Probability:
    """Return what plain samples say of an outcome, or of missing a limit."""
    plain = drawn.probability(event)
    if not case.uncertain:
        # Nothing scatters: one sample says it all, and there is no sampling error.
        return replace(plain, low=plain.value, high=plain.value, bound=None, note="certain")
    return plain


def least_told(case: Case) -> float:
    """Return the smallest probability that the shortest tabulated law tells: about 1/n; else 0."""
    counts = [law.count for law in case.laws.values() if isinstance(law, Tabulated)]
    return 1.0 / min(counts) if counts else 0.0


def limited_by_tables(case: Case, probability: Probability) -> Probability:
    """Let no interval claim more than a tabulated law can say: nothing below about 1/n."""
    least = least_told(case)
    if probability.value >= least:
        return probability
    count = round(1.0 / least)
    words = f"a table of {count} values says nothing below about 1/{count}"
    return replace(probability.noted(words), low=0.0, high=max(probability.high, least))


def likeliest_miss(
    case: Case, points: Sequence[DesignPoint], misses: Misses, probability: float
) -> LikeliestMiss | None:
    """Return the likeliest way to miss an outcome, in physical terms; None where there is none.

    There is none either where the median joint misses already, since misses are then common, and
    where an input goes in steps, since none of its values has a normal number of its own. A miss
    that was drawn stands in for a design point that no search found, unless it lies much farther
    than the probability says: in many dimensions such a miss is mostly chance.

    Parameters
    ----------
    case : Case
        The case.
    points : sequence of DesignPoint
        Those found for the outcome.
    misses : Misses
        Those drawn.
    probability : float
        Of the outcome.

    Returns
    -------
    LikeliestMiss or None
        The nearest design point, or the nearest of the misses.
    """
    if not case.is_smooth:
        return None
    outcome = misses.outcome
    independent = Dependence.from_pairs(case.uncertain, case.correlations)
    drawn = independent.unmixed(misses.sample.z)
    point = nearest_point(points, drawn)
    if point is not None:
        return _physical(case, outcome, point.z, point.beta, point.column)
    if not len(drawn):
        return None
    distances = np.linalg.norm(drawn, axis=1)
    z, beta = drawn[distances.argmin()], float(distances.min())
    if probability > 0.5 or beta > MOST_BEYOND - float(ndtri(probability)):
        return None
    column = int(margin_function(case, outcome)(z[None, :])[0].argmin())
    return _physical(case, outcome, z, beta, column)


def _physical(case: Case, outcome: str, z: Array, beta: float, column: int) -> LikeliestMiss | None:
    if beta < 0.0:
        return None
    limit = event_limits(case, outcome)[column]
    columns = case.uncertain
    x = case.inputs(z[None, :], columns)
    # Where inputs are correlated, z belongs to the Cholesky columns: take each input's own normal.
    inputs = [
        MissedInput(
            name,
            float(np.asarray(x[name]).item()),
            case.laws[name].mean,
            _own_normal(case, name, float(np.asarray(x[name]).item())),
        )
        for name in columns
    ]
    inputs.sort(key=lambda item: -abs(item.z))
    return LikeliestMiss(outcome, limit.name, limit.state, beta, tuple(inputs))


def likeliest_misses(case: Case, seed: int) -> tuple[LikeliestMiss | None, LikeliestMiss | None]:
    """Return the likeliest ways to too little and to too much preload; None where there is none."""
    found: list[LikeliestMiss | None] = []
    for outcome in RANKED_SIDES:
        point = None
        if case.is_smooth and case.uncertain:
            d = len(case.uncertain)
            rng = named_rng(seed, f"likeliest {outcome}")
            points = design_points(margin_function(case, outcome), d, rng=rng)
            point = nearest_point(points, np.empty((0, d)))
        found.append(
            None if point is None else _physical(case, outcome, point.z, point.beta, point.column)
        )
    return found[0], found[1]


def _own_normal(case: Case, name: str, value: float) -> float:
    return float(np.asarray(case.laws[name].to_normal(value)).item())
