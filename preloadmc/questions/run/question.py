"""How likely is the joint to end outside its preload window?"""

from __future__ import annotations

import math

import numpy as np

from preloadmc.case import MOST_SAMPLES, Case
from preloadmc.engine import OUTCOMES, Progress, cores, sample
from preloadmc.errors import UsageError
from preloadmc.estimates.moments import quantile_with_interval
from preloadmc.joint import evaluate, preload_path
from preloadmc.judgement.acceptance import screening_warnings
from preloadmc.judgement.bands import Bands, bands_of
from preloadmc.judgement.edges import Edge, edges, pulled, window_edges
from preloadmc.judgement.estimate import USUAL_PRECISION, estimate_outcome
from preloadmc.judgement.joint_events import judged_joint
from preloadmc.judgement.judge import judge, judgement
from preloadmc.judgement.misses import RANKED_SIDES
from preloadmc.judgement.next_tests import worth_testing
from preloadmc.judgement.verdicts import MEETS, MISSES, Judgement
from preloadmc.limits import BREAKING, OVER, UNDER
from preloadmc.questions.bounds import bounds, sampled_bounds
from preloadmc.questions.check import check
from preloadmc.questions.control import (
    RUN_BLOCK,
    RUN_INPUTS,
    RUN_PRECISION,
    RUN_SAMPLES,
    bias_words,
    control,
    leading_source,
    with_spread,
    without_bias,
)
from preloadmc.questions.derive import derive
from preloadmc.questions.rank import rank
from preloadmc.questions.run.answer import answer
from preloadmc.questions.run.budget import loss_budget
from preloadmc.questions.run.fatigue import fatigue_by_preload
from preloadmc.questions.run.life import life, with_times
from preloadmc.questions.run.records import Ladder, RunResult, Stage
from preloadmc.questions.run.whole_joint import (
    JointResult,
    OrderTrial,
    best_order,
    joint_result,
    with_order,
)
from preloadmc.samples import Kept, Samples
from preloadmc.units import Array

# Medians, quartiles and the ends that figures and tables show.
QUANTILES = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99)
# Plain samples for a precision, before an outcome is left to an estimator of small probabilities:
# well under a second on an ordinary machine.
FEW_SAMPLES = 2**20
# Draws of what is not known, and fasteners, behind the band of a histogram: it is then even to the
# eye.
_GIVEN_DRAWS, _GIVEN_FASTENERS = 64, 8192
# A spread below this share of the mean is that of rounding.
ROUNDING = 1e-12


def asked(
    case: Case, seed: int | None, samples: int | None, precision: float | None
) -> tuple[int, int | None, float | None]:
    """Return seed, samples and precision: as asked, else as the case says."""
    if samples is not None and precision is not None:
        raise UsageError("samples and precision: give one of them")
    if samples is None and precision is None:
        samples, precision = case.sampling.samples, case.sampling.precision
    return case.sampling.seed if seed is None else seed, samples, precision


def run(
    case: Case,
    *,
    seed: int | None = None,
    samples: int | None = None,
    precision: float | None = None,
    method: str | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
    ranking: bool = False,
    until: float | None = None,
) -> RunResult:
    """Estimate how likely the joint ends outside its preload window, and what dominates.

    Parameters
    ----------
    case : Case
        As `load_case` returned it.
    seed, samples, precision : int, int, float, optional
        Those of the case unless given; at most one of ``samples`` and ``precision``.
    method : {"plain", "importance", "subset"}, optional
        Forces an estimator of the probabilities. Unless given, plain sampling is kept for each
        outcome that it resolves, then importance sampling, then subset simulation.
    threads : int, optional
        As many as there are cores unless given; the result does not depend on it.
    progress : callable, optional
        Told the samples done and the samples planned.
    ranking : bool
        Whether to rank the inputs by the variance of the residual preload too, as `rank` does.
    until : float, optional
        Time of service up to which the joint is judged [s]; the last of [service] times unless
        given.

    Returns
    -------
    RunResult

    Raises
    ------
    UsageError
        If the number of samples is out of bounds.
    NotFiniteError
        If a margin is not a finite number.
    """
    seed, samples, precision = asked(case, seed, samples, precision)
    case = with_times(case, until)
    drawn = sample(
        case,
        seed=seed,
        samples=samples,
        precision=precision,
        most=MOST_SAMPLES if method == "plain" else FEW_SAMPLES,
        threads=threads or cores(),
        progress=progress,
    )
    checked = check(case)
    estimates = {
        name: estimate_outcome(
            case,
            drawn,
            name,
            seed=seed,
            precision=USUAL_PRECISION if precision is None else precision,
            method=method,
        )
        for name in OUTCOMES
    }
    bands = bands_of(case, seed)
    of_joint = None if case.group is None else judged_joint(case, seed=seed, bands=bands)
    judged = judgement(
        case,
        drawn,
        {name: each.probability for name, each in estimates.items()},
        seed=seed,
        forced=method is not None,
        bands=bands,
        joint=of_joint,
    )
    in_service = life(case, drawn, judged, seed=seed)
    to_test = () if bands is None else worth_testing(bands, judged)
    residual = drawn.moments["residual"]
    # Not by the variance: rounding of the mean gives equal values one above zero.
    varies = bool(case.uncertain) and residual.minimum < residual.maximum
    ranked = rank(case, seed=seed, estimates=estimates) if ranking and varies else None
    worth = control(
        case,
        seed=seed,
        precision=RUN_PRECISION,
        most=RUN_SAMPLES,
        block=RUN_BLOCK,
        single=len(case.uncertain) <= RUN_INPUTS,
        threads=threads,
    )
    source = None if worth is None else leading_source(judged, worth)
    halved_meets = source is not None and (
        judge(with_spread(case, dict.fromkeys(source.inputs, 0.5)), seed=seed).verdict == MEETS
    )
    helps = worth is not None and judged.verdict != MEETS and bias_words(judged, worth) != ""
    unbiased = without_bias(case) if helps else None
    unbiased_meets = unbiased is not None and judge(unbiased, seed=seed).verdict == MEETS
    joint = None if of_joint is None else joint_result(case, of_joint, seed)
    better = None if joint is None else _better_order(case, judged, joint, seed)
    lying = edges(case, drawn.kept.z, drawn.columns, others=True)
    derivation = derive(case)
    return RunResult(
        checked=checked,
        seed=seed,
        asked_samples=samples,
        asked_precision=precision,
        asked_method=method,
        asked_until=until,
        samples=drawn,
        judgement=judged,
        estimates=estimates,
        preload=tuple(_stage(drawn, name) for name in drawn.moments),
        loss_budget=loss_budget(case, drawn),
        fatigue_by_preload=fatigue_by_preload(case, drawn, seed=seed, method=method),
        capability=_capability(drawn),
        window=window_edges(lying),
        pulled=pulled(case, drawn.kept.z, drawn.columns),
        ladder=_ladder(judged, lying),
        derivation=derivation,
        deterministic=sampled_bounds(bounds(derivation), drawn.kept),
        ranking=ranked,
        control=worth,
        bands=bands,
        residual_given=None if bands is None else _residual_given(bands, drawn.kept),
        tests_worth_doing=to_test,
        group=joint,
        life=in_service,
        answer=answer(
            case,
            judged,
            {side: estimates[side].dominates for side in RANKED_SIDES},
            worth,
            halved_meets=halved_meets,
            unbiased_meets=unbiased_meets,
            to_test=to_test,
            order=better,
            life=in_service,
        ),
        warnings=(
            *checked.warnings,
            *screening_warnings(judged.screening),
        ),
    )


def _better_order(
    case: Case, judged: Judgement, joint: JointResult, seed: int
) -> OrderTrial | None:
    """Return the order with which the joint meets every limit, where it does not as stated."""
    trial = best_order(joint.orders)
    missed = any(each.verdict == MISSES for each in judged.of_joint)
    if trial is None or not missed:
        return None
    return trial if judge(with_order(case, trial), seed=seed).verdict == MEETS else None


def _residual_given(bands: Bands, kept: Kept) -> Array:
    """Return the residual preload (draws, n) of the same fasteners given what is not known."""
    case = bands.case
    z = kept.z[:_GIVEN_FASTENERS]
    apart = len(bands.e) // _GIVEN_DRAWS
    found = np.empty((_GIVEN_DRAWS, len(z)))
    for draw, row in enumerate(found):
        one = slice(draw * apart, draw * apart + 1)
        given = {name: (at[one], scale[one]) for name, (at, scale) in bands.parameters.items()}
        state = evaluate(case.joint, case.inputs(z, case.uncertain, given=given))
        row[:] = preload_path(state)["residual"]
    return found


def _stage(drawn: Samples, name: str) -> Stage:
    moments = drawn.moments[name]
    ordered = np.sort(drawn.kept.path[name])
    return Stage(
        name,
        moments.mean,
        moments.sd,
        tuple(quantile_with_interval(ordered, p) for p in QUANTILES),
    )


def _ladder(judged: Judgement, lying: tuple[Edge, ...]) -> Ladder:
    """Return each limit in the state that governs at the preload that reaches it."""
    by_place = {(edge.name, edge.state): edge for edge in lying}
    reached: list[Edge] = []
    others = []
    for limit in judged.limits:
        edge = by_place.get((limit.name, limit.governing_state))
        if edge is None or edge.median <= 0.0:
            others.append(limit)
        else:
            reached.append(edge)
    return Ladder(tuple(sorted(reached, key=lambda edge: edge.median)), tuple(others))


def _capability(drawn: Samples) -> dict[str, float]:
    """Return the least mean margin over three standard deviations among a side's limits."""
    means, sds = drawn.kept.margins.mean(axis=0), drawn.kept.margins.std(axis=0)
    found = {}
    for side in (UNDER, OVER):
        found[side] = min(
            float(mean / (3.0 * sd)) if sd > ROUNDING * abs(mean) else math.copysign(math.inf, mean)
            for limit, mean, sd in zip(drawn.limits, means, sds, strict=True)
            if side in limit.sides and limit.kind is not BREAKING
        )
    return found
