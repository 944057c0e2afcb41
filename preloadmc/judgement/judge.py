"""Judging a case: from its samples to the verdict on every limit."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

import numpy as np

from preloadmc.case import Case
from preloadmc.chance.streams import named_rng
from preloadmc.engine import OUTCOMES, OUTSIDE, SIDES, cores, margin_function, sample
from preloadmc.estimates.excluded_sphere import excluded_sphere
from preloadmc.estimates.probability import Probability
from preloadmc.estimates.tail import tail_probability
from preloadmc.judgement.acceptance import screening
from preloadmc.judgement.bands import Bands, bands_of
from preloadmc.judgement.either import either
from preloadmc.judgement.estimate import USUAL_PRECISION, limited_by_tables, plain_estimate
from preloadmc.judgement.joint_events import JointJudgement, judged_joint
from preloadmc.judgement.misses import look
from preloadmc.judgement.verdicts import MEETS, Judged, Judgement
from preloadmc.limits import allowed_for, unjudged, unsure_strengths
from preloadmc.samples import Samples
from preloadmc.units import Array

# Plain samples behind a judgement that no run made.
JUDGED_SAMPLES = 2**18
# How much finer an estimate is made that straddles what is allowed: 16 times the draws, which are a
# few thousand for an estimator of small probabilities.
_FINE = 0.25


def judge(case: Case, *, seed: int, threads: int | None = None) -> Judgement:
    """Judge a case on samples of its own.

    Parameters
    ----------
    case : Case
        The case, at the setting to be judged.
    seed : int
        Of the samples.
    threads : int, optional
        As many as there are cores unless given; the result does not depend on it.

    Returns
    -------
    Judgement
        Each limit by plain samples where these resolve it, else by an estimator of small
        probabilities.
    """
    drawn = sample(
        case, seed=seed, samples=JUDGED_SAMPLES, precision=None, threads=threads or cores()
    )
    bands, joint = bands_of(case, seed), None
    if case.group is not None:
        joint = judged_joint(case, seed=seed, bands=bands, names=_asked(case), brief=True)
    return judgement(case, drawn, {}, seed=seed, bands=bands, joint=joint)


def judgement(
    case: Case,
    drawn: Samples,
    estimated: Mapping[str, Probability],
    *,
    seed: int,
    forced: bool = False,
    bands: Bands | None = None,
    joint: JointJudgement | None = None,
) -> Judgement:
    """Judge a case on its plain samples.

    Parameters
    ----------
    case, drawn : Case, Samples
        The case and its plain samples.
    estimated : mapping of str to Probability
        Estimates of events that are there already, by name: of outcomes or limits.
    seed : int
        Each limit has a stream of its own.
    forced : bool
        Whether the estimates stand as they are, even where they do not tell what is allowed.
    bands : Bands, optional
        Draws of what is not known of the case; made here unless given.
    joint : JointJudgement, optional
        All fasteners of the joint as they are judged; made here unless given, of what is allowed.
    """
    requirement = case.requirement
    medians = np.median(drawn.kept.shares, axis=0)

    def plain(event: str) -> Probability:
        return limited_by_tables(case, plain_estimate(case, drawn, event))

    def settled(event: str, allowed: float | None) -> Probability:
        found = estimated.get(event)
        if found is not None and (forced or not _straddles(found, allowed)):
            return found
        other = _resolved(case, drawn, event, allowed, seed)
        return other if found is None or not _straddles(other, allowed) else found

    bands = bands or bands_of(case, seed)
    outcomes: list[Judged] = []
    for name in OUTCOMES:
        found = settled(name, _allowed_of(case, name))
        band = None
        if name == OUTSIDE:
            sides = outcomes[0].probability, outcomes[1].probability
            found = either(found, sides)
            band = None if bands is None else bands.band_of_either(found, sides)
        elif bands is not None:
            band = bands.band(name)
        outcomes.append(replace(judged_outcome(case, name, found, plain(name)), band=band))
    limits = []
    for place in _governing(drawn, medians):
        limit = drawn.limits[place]
        allowed = allowed_for(case.joint, requirement, limit)
        found = settled(limit.name, allowed)
        share = float(medians[place])
        # A limit of the window is missed no oftener than its sides: where these meet, so does it.
        own = [side for side in outcomes[:2] if set(side.sides) & set(limit.sides)]
        met = bool(own) and all(side.verdict == MEETS for side in own)
        band = None if bands is None or met else bands.band(limit.name)
        limits.append(
            Judged(limit.name, limit.sides, found, plain(limit.name), allowed, limit, share, band)
        )
    unknown = dict(unjudged(case.joint, requirement, case.means))
    for side, key in zip(outcomes, ("allowed_under", "allowed_over"), strict=False):
        if side.allowed is None:
            unknown[side.label] = f"state {key} of [requirement]"
    if joint is None and case.group is not None:
        names = {*case.group.allowed} or {"any_outside"}
        if "any_outside" in case.group.allowed:
            # Which of its sides is missed says what closes a setting.
            names |= {"any_under", "any_over"}
        joint = judged_joint(case, seed=seed, bands=bands, names=names)
    return Judgement(
        (outcomes[0], outcomes[1]),
        outcomes[2],
        tuple(limits),
        unknown,
        screening(case.joint.acceptance, drawn),
        () if joint is None else tuple(joint),
        unsure_strengths(case.joint, requirement, case.means),
    )


def _asked(case: Case) -> Collection[str]:
    """Return the events of a joint that something is allowed of; one of them where nothing is."""
    assert case.group is not None, "a joint of several fasteners has a group"
    return case.group.allowed or ("any_outside",)


def judged_outcome(case: Case, name: str, probability: Probability, plain: Probability) -> Judged:
    """Judge a side of the preload window, or both together, for which nothing is allowed.

    Parameters
    ----------
    case : Case
        Says what is allowed of each side.
    name : str
        One of `engine.OUTCOMES`.
    probability, plain : Probability
        The estimate, and what plain samples say.
    """
    return Judged(name, SIDES[name], probability, plain, _allowed_of(case, name))


def _allowed_of(case: Case, name: str) -> float | None:
    """Return what is allowed of an outcome; None of both sides together."""
    return {
        "under_preload": case.requirement.allowed_under,
        "over_preload": case.requirement.allowed_over,
    }.get(name)


def _straddles(found: Probability, allowed: float | None) -> bool:
    """Return whether an estimate leaves open if its probability is within what is allowed."""
    return allowed is not None and found.low <= allowed < found.high


def _governing(drawn: Samples, medians: Array) -> tuple[int, ...]:
    """Return the place of each limit in the state that is missed most, or comes nearest to it."""
    governing: dict[str, int] = {}
    for place, limit in enumerate(drawn.limits):
        best = governing.setdefault(limit.name, place)
        mine = (drawn.margin_misses[place], -medians[place])
        if mine > (drawn.margin_misses[best], -medians[best]):
            governing[limit.name] = place
    return tuple(governing.values())


def _resolved(
    case: Case, drawn: Samples, event: str, allowed: float | None, seed: int
) -> Probability:
    """Return the plain estimate where it resolves what is allowed, else one of a small tail."""
    plain = plain_estimate(case, drawn, event)
    if allowed is None or plain.high <= allowed or plain.low > allowed or not case.uncertain:
        return limited_by_tables(case, plain)
    margins, d = margin_function(case, event), len(case.uncertain)
    rng = named_rng(seed, f"tail of {event}")
    for precision in (USUAL_PRECISION, _FINE * USUAL_PRECISION):
        found = tail_probability(
            margins,
            d,
            rng=rng,
            smooth=case.is_smooth,
            precision=precision,
            look=look(drawn, event),
        ).probability
        if found.bound == "upper" or not _straddles(found, allowed):
            break
    if found.bound != "upper":
        return limited_by_tables(case, found)
    # No way to a miss was found. Plain samples bound the probability, or misses are too far off.
    if plain.misses == 0 and case.is_smooth:
        sphere = excluded_sphere(margins, d, allowed, rng=rng)
        if sphere is not None:
            radius, most = sphere
            plain = replace(plain, high=most).noted(f"no miss found within {radius:.1f} s.d.")
    return limited_by_tables(case, plain)
