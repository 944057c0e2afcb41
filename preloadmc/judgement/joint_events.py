"""What is asked of all fasteners of a joint: any of them, so many of them, or all together."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from preloadmc.case import SHARED_BY, Case
from preloadmc.chance.streams import named_rng
from preloadmc.engine import OUTSIDE, event_limits
from preloadmc.estimates.band import Band, band_of
from preloadmc.estimates.conditional import Conditional
from preloadmc.estimates.coupled import coupled_at_least_k
from preloadmc.estimates.equicorrelated import at_least, group_probability
from preloadmc.estimates.group import Kind, at_least_k
from preloadmc.estimates.plain import ENOUGH
from preloadmc.estimates.probability import Probability, from_counts
from preloadmc.estimates.tail import tail_probability
from preloadmc.joint import interaction_loss
from preloadmc.joint.group import TORSIONAL, TRANSVERSE
from preloadmc.joint_samples import JointSamples, sample_joints
from preloadmc.judgement.bands import Bands
from preloadmc.judgement.either import either
from preloadmc.judgement.likeliest_way import LikeliestWay, likeliest_way
from preloadmc.judgement.together import PRECISION, band_of_all, bounded, together
from preloadmc.judgement.verdicts import Judged
from preloadmc.limits import MINIMUM_CLAMP, MINIMUM_CLAMP_INPUT, OVER, SLIP, UNDER
from preloadmc.whole_joint import TOTAL_CLAMP_INPUT, WholeJoint

# How much finer an estimate is made where plain samples straddle what is allowed.
_FINE = 0.25
_UNDER, _OVER = "under_preload", "over_preload"


@dataclass(frozen=True, slots=True)
class JointEvent:
    """One event of a joint: ``event`` of at least ``k`` fasteners, or of all together where None.

    ``sides`` are those of the window that it belongs to: a higher setting helps against UNDER.
    """

    name: str
    event: str | None
    k: int
    sides: tuple[str, ...]


_ANY_UNDER = JointEvent("any_under", _UNDER, 1, (UNDER,))


@dataclass(frozen=True, slots=True, eq=False)
class JudgedEvent:
    """An event of the joint as it is judged.

    ``by_fastener`` (n,) are the probabilities of each fastener, None for what all do together.
    ``independent`` and ``all_common`` are what the probability would be if the fasteners had no
    scatter in common, and if all of it were; ``common_share`` is the share of variance, in the
    direction of the likeliest miss, that they have in common, None where it is not known. ``check``
    is a second estimate.
    """

    event: JointEvent
    judged: Judged
    check: Probability | None
    by_fastener: tuple[Probability, ...] | None
    independent: float | None
    all_common: float | None
    common_share: float | None


@dataclass(frozen=True, slots=True, eq=False)
class JointJudgement:
    """Every event of a joint as it is judged, and the plain samples behind them."""

    events: tuple[JudgedEvent, ...]
    samples: JointSamples

    def __iter__(self) -> Iterator[Judged]:
        """Yield the events that are held against an allowed probability, or may be."""
        for each in self.events:
            yield each.judged

    def named(self, name: str) -> JudgedEvent:
        """Return an event by its name; KeyError if the joint has none such."""
        for each in self.events:
            if each.event.name == name:
                return each
        raise KeyError(name)


def events_of(case: Case) -> tuple[JointEvent, ...]:
    """Return the events that the case says enough of, in the order of tables."""
    group = case.group
    assert group is not None, "a joint of several fasteners has a group"
    found = [
        _ANY_UNDER,
        JointEvent("any_over", _OVER, 1, (OVER,)),
        JointEvent("any_outside", OUTSIDE, 1, (UNDER, OVER)),
    ]
    if group.at_least is not None:
        found.append(JointEvent("fewer_than_k", _UNDER, group.n - group.at_least + 1, (UNDER,)))
    if TOTAL_CLAMP_INPUT in case.laws:
        found.append(JointEvent("total_clamp", None, 0, (UNDER,)))
    if MINIMUM_CLAMP.name in {limit.name for limit in event_limits(case, MINIMUM_CLAMP.name)}:
        found.append(JointEvent("least_clamp", MINIMUM_CLAMP.name, 1, (UNDER,)))
    if case.may_slip:
        found.append(JointEvent("first_slip", SLIP.name, 1, (UNDER,)))
        if TRANSVERSE in case.laws or TORSIONAL in case.laws:
            found.append(JointEvent("slip_capacity", None, 0, (UNDER,)))
    return tuple(found)


def judged_joint(
    case: Case,
    *,
    seed: int,
    bands: Bands | None = None,
    names: Collection[str] | None = None,
    brief: bool = False,
) -> JointJudgement:
    """Judge the joint of a case as a whole.

    Parameters
    ----------
    case : Case
        A case with a group.
    seed : int
        Each event has a stream of its own.
    bands : Bands, optional
        Draws of what is not known of the case.
    names : collection of str, optional
        The events to judge; all unless given, with what is in common looked at besides.
    brief : bool
        Whether plain samples that tell the verdict are enough.
    """
    whole = WholeJoint(case)
    events = [each for each in events_of(case) if names is None or each.name in names]
    judged_as = {each.name: _judged_as(case, each) for each in events}
    of_fasteners = {each.event for each in judged_as.values() if each.event is not None}
    together = [each.name for each in events if each.event is None]
    drawn = sample_joints(whole, seed, sorted(of_fasteners), together)
    found: list[JudgedEvent] = []
    for event in events:
        same = judged_as[event.name]
        alias = next((each for each in found if each.event.name == same.name), None)
        if alias is not None:
            found.append(_renamed(case, event, alias))
        elif event.event is None:
            found.append(_of_all(whole, event, drawn, seed, brief=brief, beside=names is None))
        else:
            # What is predicted sets the scale of a band.
            quick = brief and bands is None
            judged = _of_fasteners(whole, same, drawn, seed, bands, brief=quick)
            found.append(judged if same is event else _renamed(case, event, judged))
    return JointJudgement(tuple(_consistent(found)), drawn)


def _judged_as(case: Case, event: JointEvent) -> JointEvent:
    """Return the event that is the same by another name: one event has one number.

    Slip, or the clamp force, is what too little preload is told by where nothing else is.
    """
    requirement, clamp = case.requirement, MINIMUM_CLAMP_INPUT in case.laws
    only = {
        "first_slip": requirement.minimum_from == SLIP.minimum_from and not clamp,
        "least_clamp": not requirement.minimum_from and clamp,
    }
    return _ANY_UNDER if only.get(event.name) else event


def _renamed(case: Case, event: JointEvent, alias: JudgedEvent) -> JudgedEvent:
    judged = alias.judged
    renamed = _judged(case, event, judged.probability, judged.plain, judged.band)
    return replace(alias, event=event, judged=renamed)


def _consistent(found: Sequence[JudgedEvent]) -> Iterator[JudgedEvent]:
    """Yield the events so that ending outside the window is no less likely than on one side."""
    by_name = {each.event.name: each for each in found}
    for each in found:
        name, judged = each.event.name, each.judged
        if name == "any_outside" and {"any_under", "any_over"} <= by_name.keys():
            sides = [by_name["any_under"], by_name["any_over"]]
            estimates = [side.judged.probability for side in sides]
            yield replace(
                each,
                judged=replace(judged, probability=either(judged.probability, estimates)),
                independent=_most(each.independent, *(side.independent for side in sides)),
                all_common=_most(each.all_common, *(side.all_common for side in sides)),
            )
        else:
            yield each


def _most(*values: float | None) -> float | None:
    """Return the largest of what is known; None where nothing is."""
    return max((value for value in values if value is not None), default=None)


def _judged(
    case: Case,
    event: JointEvent,
    probability: Probability,
    plain: Probability,
    band: Band | None,
) -> Judged:
    assert case.group is not None, "a joint of several fasteners has a group"
    allowed = case.group.allowed.get(event.name)
    return Judged(event.name, event.sides, probability, plain, allowed, band=band)


def _resolved(plain: Probability, allowed: float | None) -> bool:
    """Return whether plain samples are enough: they tell the value, and what is allowed."""
    told = allowed is None or _is_told(plain, allowed)
    return told and plain.relative_half_width <= PRECISION


def _is_told(plain: Probability, allowed: float | None) -> bool:
    """Return whether plain samples tell the verdict."""
    return allowed is not None and not plain.low <= allowed < plain.high


def _of_fasteners(
    whole: WholeJoint,
    event: JointEvent,
    drawn: JointSamples,
    seed: int,
    bands: Bands | None,
    *,
    brief: bool,
) -> JudgedEvent:
    """Judge an event of at least k fasteners."""
    case, group = whole.case, whole.group
    assert event.event is not None, "an event of single fasteners"
    plain = from_counts(int(drawn.by_joint[event.event][event.k]), drawn.joints)
    rng = named_rng(seed, f"joint: {event.name}")
    allowed = group.allowed.get(event.name)
    straddles = allowed is not None and plain.misses and plain.low <= allowed < plain.high
    precision = PRECISION * (_FINE if straddles else 1.0)
    if _resolved(plain, allowed) or (brief and _is_told(plain, allowed)):
        found, check = plain, None
        single = _counted(whole, event.event, drawn, seed, brief=brief)
    elif group.facts.interacts:
        coupled = coupled_at_least_k(
            whole.worst_margins(event.event),
            whole.n,
            whole.shared,
            whole.own,
            event.k,
            rng=rng,
            precision=precision,
            smooth=case.is_smooth,
        )
        found, check, single = coupled.probability, coupled.check, coupled.single
    else:
        stations = whole.stations
        kinds = [
            Kind(len(fasteners), whole.of_station(member, fasteners[0], event.event))
            for member, fasteners in stations
        ]
        estimate = at_least_k(
            kinds,
            whole.shared,
            whole.own,
            event.k,
            rng=rng,
            precision=precision,
            smooth=case.is_smooth,
        )
        found, check = estimate.probability, estimate.check
        of_each = {
            fastener: p
            for (_, fasteners), p in zip(stations, estimate.single, strict=True)
            for fastener in fasteners
        }
        single = tuple(of_each[fastener] for fastener in range(whole.n))
    values = np.array([each.value for each in single])
    counts = [1] * whole.n
    band = None
    way = None if brief else likeliest_way(whole, event.event, rng=rng)
    common = None if way is None else way.common
    if bands is not None:
        given = 0.0 if way is None else _common_given_tests(whole, way)
        band = _band(bands, event, found, whole.n, given)
    return JudgedEvent(
        event,
        _judged(case, event, found, plain, band),
        check,
        single,
        float(at_least(values, counts, event.k)),
        # Where all is common, fasteners miss in the order of their own probabilities.
        float(np.sort(values)[-event.k]),
        common,
    )


def _counted(
    whole: WholeJoint, event: str, drawn: JointSamples, seed: int, *, brief: bool
) -> tuple[Probability, ...]:
    """Return the probability of each fastener by plain samples of joints.

    Of those that hardly miss it is estimated, unless ``brief``, with their neighbours told by their
    own preload.
    """
    single = [from_counts(int(misses), drawn.joints) for misses in drawn.by_fastener[event]]
    if brief:
        return tuple(single)
    known: dict[tuple[int, float], Probability] = {}
    lost = np.round(interaction_loss(whole.group.facts), 9)
    for station, (member, fasteners) in enumerate(whole.stations):
        for fastener in fasteners:
            if drawn.by_fastener[event][fastener] >= ENOUGH:
                continue
            key = station, float(lost[fastener])
            if key not in known:
                known[key] = tail_probability(
                    whole.of_all_numbers(member, fastener, event),
                    whole.shared + whole.own,
                    rng=named_rng(seed, f"fastener {fastener}: {event}"),
                    smooth=whole.case.is_smooth,
                    precision=PRECISION,
                    cross_check=False,
                ).probability
            single[fastener] = known[key]
    return tuple(single)


def _common_given_tests(whole: WholeJoint, way: LikeliestWay) -> float:
    """Return the share of variance in common once what tests leave open is known."""
    of_laws = float(way.squares[whole.places(SHARED_BY)].sum())
    own = float(way.squares[whole.shared :].sum())
    return of_laws / max(of_laws + own, 1e-300)


def _band(bands: Bands, event: JointEvent, found: Probability, n: int, common: float) -> Band:
    """Return the band of an event of fasteners, from that of one fastener draw by draw.

    Each draw of what is not known gives the governing fastener's probability; the equicorrelated
    integral makes that of the joint of it, and what both predict sets the scale.
    """
    assert event.event is not None, "an event of single fasteners"
    given = bands.conditional(event.event)
    of_joint = group_probability(given.p, common, n, event.k)
    mean = float(of_joint.mean())
    scale = found.value / mean if mean > 0.0 and found.reliable else 1.0
    p = np.minimum(of_joint * min(max(scale, 0.1), 10.0), 1.0)
    made = Conditional(
        p, given.relative_error, given.model_calls, given.own_samples, given.plain_points
    )
    return band_of(made, bands.confidence)


def _of_all(
    whole: WholeJoint,
    event: JointEvent,
    drawn: JointSamples,
    seed: int,
    *,
    brief: bool,
    beside: bool,
) -> JudgedEvent:
    """Judge what is asked of all fasteners together."""
    case = whole.case
    plain = from_counts(drawn.of_joint[event.name], drawn.joints)
    allowed = whole.group.allowed.get(event.name)
    found, check = plain, None
    if not (brief and _is_told(plain, allowed)) and not _resolved(plain, allowed):
        found, check = together(whole, event.name, seed)
        if found.bound == "upper" or not found.reliable:
            found = bounded(whole, event.name, plain, allowed, seed)
    others: list[float | None] = [None, None]
    if beside:
        for place, common in enumerate((0.0, 1.0)):
            joint = WholeJoint(case, common=common)
            other, _ = together(joint, event.name, seed, cross_check=False)
            others[place] = other.value if other.reliable and other.bound is None else None
    band = band_of_all(whole, event.name, seed)
    return JudgedEvent(
        event, _judged(case, event, found, plain, band), check, None, others[0], others[1], None
    )
