"""Judging many cases: those that differ in numbers only at once, the others one by one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.random import Generator

from preloadmc.case import Case
from preloadmc.chance.streams import named_rng
from preloadmc.engine import FEWEST_MISSES, sample
from preloadmc.errors import PreloadError
from preloadmc.estimates.probability import from_counts
from preloadmc.judgement.bands import bands_of
from preloadmc.judgement.estimate import USUAL_PRECISION, OutcomeEstimate, estimate_outcome
from preloadmc.judgement.joint_events import judged_joint
from preloadmc.judgement.judge import JUDGED_SAMPLES, judgement
from preloadmc.judgement.misses import RANKED_SIDES, Unranked
from preloadmc.judgement.rows_together import JudgedRow, MissedInputs, judged_together
from preloadmc.judgement.verdicts import Judgement
from preloadmc.row_margins import together
from preloadmc.samples import Samples

# Events of a joint that are judged of each one, whatever is allowed.
_OF_JOINT = ("any_under", "any_over", "any_outside")


def can_be_together(case: Case) -> bool:
    """Return whether a case can be judged as a row among others.

    Joints of several fasteners, laws known from tests and in steps, and a check at the tool have
    estimators of their own; what is done in service goes in steps too.
    """
    return (
        case.group is None
        and not case.tested
        and bool(case.uncertain)
        and case.is_smooth
        and case.joint.acceptance is None
        and (case.joint.service is None or not case.joint.service.times)
    )


def judge_cases(
    cases: Sequence[Case],
    keys: Sequence[str],
    *,
    seed: int,
    purpose: str = "row",
    alone: bool = True,
) -> list[tuple[JudgedRow | str, bool]]:
    """Judge cases, those that are alike together and the others one by one.

    Parameters
    ----------
    cases : sequence of Case
        Any cases.
    keys : sequence of str
        What names the stream of each.
    seed : int
        Of all streams.
    purpose : str
        What the streams are for.
    alone : bool
        Whether a case that is not resolved among others is judged by itself.

    Returns
    -------
    list of (JudgedRow or str, bool)
        What each is judged as, or why it cannot be; and whether it was judged among others.
    """

    def streams(places: Sequence[int]) -> list[Generator]:
        return [named_rng(seed, f"{purpose} {keys[place]}") for place in places]

    found: list[tuple[JudgedRow | str, bool] | None] = [None] * len(cases)
    for places in together(cases).values():
        if not can_be_together(cases[places[0]]):
            continue
        try:
            judged = judged_together([cases[place] for place in places], streams(places))
        except (TypeError, ValueError):
            # A formula asks more of a fact than arrays can tell: each row has its own numbers then.
            judged = [judged_together([cases[n]], streams([n]))[0] for n in places]
        for place, each in zip(places, judged, strict=True):
            found[place] = None if each is None else (each, True)
    for place, case in enumerate(cases):
        if found[place] is None and not alone:
            found[place] = "not resolved among others", True
        elif found[place] is None:
            try:
                found[place] = judged_alone(case, seed=seed), False
            except (PreloadError, ArithmeticError) as error:
                found[place] = str(error) or type(error).__name__, False
    return [each for each in found if each is not None]


def judged_alone(case: Case, *, seed: int) -> JudgedRow:
    """Judge a case by itself, with the estimators of one case.

    Parameters
    ----------
    case : Case
        Any case; of a joint of several fasteners its events are judged too.
    seed : int
        Of the samples.

    Raises
    ------
    NotFiniteError
        If a margin is not a finite number.
    """
    drawn = sample(case, seed=seed, samples=JUDGED_SAMPLES, precision=None)
    sides = {
        name: estimate_outcome(case, drawn, name, seed=seed, precision=USUAL_PRECISION, method=None)
        for name in RANKED_SIDES
    }
    bands, joint = bands_of(case, seed), None
    if case.group is not None:
        joint = judged_joint(
            case, seed=seed, bands=bands, names={*case.group.allowed, *_OF_JOINT}, brief=True
        )
    estimated = {name: each.probability for name, each in sides.items()}
    judged = judgement(case, drawn, estimated, seed=seed, bands=bands, joint=joint)
    misses = {name: _of_sample(case, each) for name, each in sides.items()}
    return JudgedRow(judged, misses, _any_limit(judged, drawn))


def _any_limit(judged: Judgement, drawn: Samples) -> tuple[float, float, float]:
    """Return how likely any limit is missed: by plain samples, else from that of each limit."""
    missed = int(np.count_nonzero((drawn.kept.margins < 0.0).any(axis=1)))
    if missed >= FEWEST_MISSES and not judged.of_joint:
        found = from_counts(missed, len(drawn.kept.margins))
        return found.value, found.low, found.high
    # Rare misses of several limits are seldom those of the same fastener.
    of_joint = [each for each in judged.of_joint if each.name == "any_outside"]
    events = [each.known for each in (*(of_joint or [judged.outside]), *judged.beside)]
    return (
        min(sum(each.value for each in events), 1.0),
        max(each.low for each in events),
        min(sum(each.high for each in events), 1.0),
    )


def _of_sample(case: Case, estimate: OutcomeEstimate) -> MissedInputs:
    found, shares = estimate.misses.sample, estimate.dominates
    if isinstance(shares, Unranked) or not len(found.z):
        return MissedInputs({}, {})
    mean = np.average(found.z, axis=0, weights=found.weights)
    share = dict(
        zip(
            (each.members[0] for each in shares.ranked),
            shares.shares.share.tolist(),
            strict=True,
        )
    )
    return MissedInputs(share, dict(zip(case.uncertain, mean.tolist(), strict=True)))
