"""Which method, tool, lubricant or securing element? The alternatives of a case on common draws."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.streams import CHUNK, normal_chunk
from preloadmc.engine import OUTCOMES, Progress, cores, sample
from preloadmc.errors import UsageError
from preloadmc.joint import evaluate, preload_path
from preloadmc.judgement.edges import edges, pulled, window_edges
from preloadmc.judgement.estimate import likeliest_misses
from preloadmc.judgement.judge import JUDGED_SAMPLES, judgement
from preloadmc.judgement.paired import PairedOutcomes, compared_limits, paired_outcomes
from preloadmc.judgement.verdicts import Judgement
from preloadmc.questions.aim import Setting, case_at, find_setting
from preloadmc.questions.bounds import bounds
from preloadmc.questions.check import check
from preloadmc.questions.compare.answer import compare_answer
from preloadmc.questions.compare.choice import choose, dominates
from preloadmc.questions.compare.costs import cost_difference, expected_cost
from preloadmc.questions.compare.pairs import is_told, probability_of
from preloadmc.questions.compare.records import Alternative, CompareResult, UsedSetting
from preloadmc.questions.control import (
    RUN_BLOCK,
    RUN_PRECISION,
    RUN_SAMPLES,
    control,
)
from preloadmc.questions.derive import derive
from preloadmc.units import Array

# Half of an interval over its value: twice as fine as that of a run, since differences are asked.
USUAL_PRECISION = 0.1
# Plain samples of each alternative before what remains unresolved is left to importance sampling.
MOST_PLAIN = 2**20


def compare(
    case: Case,
    *,
    seed: int | None = None,
    precision: float | None = None,
    at_best: bool = False,
    threads: int | None = None,
    progress: Progress | None = None,
) -> CompareResult:
    """Compare a case with its alternatives on common draws.

    Parameters
    ----------
    case : Case
        With at least one alternative.
    seed : int, optional
        That of the case unless given.
    precision : float, optional
        Wanted half-width of each interval over its value; that of the case unless given, else
        10 %.
    at_best : bool
        Whether each is used at its own best setting, not only those whose table asks for it.
    threads : int, optional
        As many as there are cores unless given; the result does not depend on it.
    progress : callable, optional
        Told the samples done and the samples planned.

    Returns
    -------
    CompareResult

    Raises
    ------
    UsageError
        If the case has no alternative, or one to be used at its best setting does not scatter.
    NotFiniteError
        If a margin is not a finite number.
    """
    if not case.alternatives:
        raise UsageError(
            f"{case.source}: nothing to compare with; add [[alternative]] tables, each with a "
            "name and what it changes"
        )
    seed, precision = asked(case, seed, precision)
    threads = threads or cores()
    used = [_used(each, at_best, seed) for each in (case, *case.alternatives)]
    cases, settings = [each for each, _ in used], [setting for _, setting in used]
    paired = paired_outcomes(
        cases,
        seed=seed,
        purpose="comparison",
        precision=precision,
        most=MOST_PLAIN,
        outcomes=(*OUTCOMES, *compared_limits()),
        threads=threads,
        progress=progress,
    )
    z = normal_chunk(seed, 0, CHUNK, len(paired.columns))
    judged = [_judged(paired, each, place, seed, threads) for place, each in enumerate(cases)]
    found = tuple(
        _alternative(paired, cases, settings, judged, place, z) for place in range(len(cases))
    )
    choice = choose(paired, found)
    controls = {}
    for chosen in (cases[0], cases[choice.nearest]):
        worth = control(
            chosen,
            seed=seed,
            precision=RUN_PRECISION,
            most=RUN_SAMPLES,
            block=RUN_BLOCK,
            threads=threads,
        )
        if worth is not None:
            controls[chosen.name] = worth
    return CompareResult(
        case=case,
        seed=seed,
        precision=precision,
        at_best=at_best,
        alternatives=found,
        choice=choice,
        control=controls,
        likeliest=likeliest_misses(cases[choice.nearest], seed),
        bounds=bounds(derive(cases[choice.nearest])),
        columns=paired.columns,
        z=z,
        samples=paired.samples,
        model_calls=paired.model_calls,
        answer=compare_answer(found, choice, controls),
    )


def asked(case: Case, seed: int | None, precision: float | None) -> tuple[int, float]:
    """Return seed and precision: as asked, else as the case says, else as usual."""
    return (
        case.sampling.seed if seed is None else seed,
        precision or case.sampling.precision or USUAL_PRECISION,
    )


def _used(case: Case, at_best: bool, seed: int) -> tuple[Case, UsedSetting]:
    """Return an alternative at the setting to use it at: the one typed, or its own best one."""
    setting = Setting.of(case)
    best = at_best or case.at_best
    value = find_setting(case, seed=seed) if best else setting.present
    moved = case_at(case, value) if best else case
    return moved, UsedSetting(setting.input, value, setting.present, best)


def _alternative(
    paired: PairedOutcomes,
    cases: Sequence[Case],
    settings: Sequence[UsedSetting],
    judged: Sequence[Judgement],
    place: int,
    z: Array,
) -> Alternative:
    case = cases[place]
    compared = [name for name in (*OUTCOMES, *compared_limits()) if (name, place) in paired.judged]
    pairs = [
        name
        for name in compared
        if place > 0 and all(is_told(paired, cases[k], k, name) for k in (place, 0))
    ]
    state = evaluate(case.joint, case.inputs(z, paired.columns))
    return Alternative(
        case=case,
        setting=settings[place],
        judged=judged[place],
        securing={
            name: probability_of(paired, case, place, name)
            for name in compared_limits()
            if name in compared
        },
        difference_to_first={name: paired.difference(name, place, 0) for name in pairs},
        narrowing={name: paired.narrowing(name, place, 0) for name in pairs},
        expected_cost=expected_cost(paired, case, place, judged[place].screening),
        cost_difference_to_first=cost_difference(paired, cases, judged, place, 0)
        if place > 0
        else None,
        dominated_by=tuple(
            other.name
            for better, other in enumerate(cases)
            if better != place and dominates(paired, cases, judged, better, place)
        ),
        warnings=check(case).warnings,
        path={
            stage: np.broadcast_to(preload, len(z))
            for stage, preload in preload_path(state).items()
        },
        window=window_edges(edges(case, z, paired.columns, others=False)),
        pulled=pulled(case, z, paired.columns),
    )


def _judged(paired: PairedOutcomes, case: Case, place: int, seed: int, threads: int) -> Judgement:
    """Judge an alternative: by the common draws what they estimate, else by samples of its own."""
    drawn = sample(case, seed=seed, samples=JUDGED_SAMPLES, precision=None, threads=threads)
    beside = {limit.name for limit in drawn.limits if not limit.sides}
    estimated = {
        name: probability_of(paired, case, place, name)
        for name in (*OUTCOMES, *(name for name in compared_limits() if name in beside))
    }
    return judgement(case, drawn, estimated, seed=seed)
