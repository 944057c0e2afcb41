"""Which measurement, not yet made, would tell the leading suspects apart best?"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import bdtr

from preloadmc.chance.dependence import partly_shared
from preloadmc.estimates.information import information_of_outcome, information_of_reading
from preloadmc.evidence import (
    COUNT,
    MEASURED,
    OBSERVATIONS,
    READINGS,
    TOOL,
    UNDOING,
    Effort,
    Evidence,
    Finding,
    Observation,
    Reading,
)
from preloadmc.inputs import state_input
from preloadmc.questions.infer.likelihood import Inspection, SuspectModel
from preloadmc.questions.infer.particles import Pool
from preloadmc.units import Array

ANOTHER = "another of the lot"
# A suspect below this probability is left out: it holds hardly anything of what is open.
LEFT_OUT = 1e-3
# Fasteners with the same kinds of findings of which a further one is thought.
_ALIKE = 24
# A count to come is of so many fasteners: what can be looked at in an hour.
COUNTED = 10
# Parts of the particles, whose scatter gives the error of the bits.
_BATCHES = 4
# Where neither a finding nor its kind states a measuring error: as a share of the predicted value
# (engineering judgement).
_SHARE_ERROR = 0.05
_SEEING_ERROR = 0.05


@dataclass(frozen=True, slots=True)
class Candidate:
    """A measurement that could be made.

    ``bits`` is what it is expected to tell, ``bits_error`` the Monte Carlo error of that,
    ``share_of_what_is_open`` the part of what is still unknown about the suspects. ``accuracy`` is
    the measuring error assumed, in the kind's own unit, or the chance of seeing wrongly. ``effort``
    is what it takes, where stated.
    """

    kind: str
    fastener: str
    accuracy: float
    bits: float
    bits_error: float
    share_of_what_is_open: float
    effort: Effort | None = None


def rank_measurements(
    pools: list[Pool],
    probability: Array,
    evidence: Evidence,
    efforts: Mapping[str, Effort],
    rng: Generator,
) -> tuple[Candidate, ...]:
    """Rank the kinds of evidence by their expected information about which suspect is true.

    Each kind on each inspected fastener that lacks it and on another of the lot; for a
    kind the best of these is kept. Readings are simulated from every suspect's posterior and their
    mutual information with the suspect is taken in bits; where ``efforts`` by kind state a price,
    or else a time, the order is that of the bits for each unit of it.
    """
    keep = probability >= LEFT_OUT
    chosen = [pool for pool, kept in zip(pools, keep, strict=True) if kept]
    weights = probability[keep] / probability[keep].sum()
    unknown = -float((weights * np.log2(weights)).sum())
    if len(chosen) < 2:
        return ()
    fasteners = {ANOTHER: [_another(pool, rng) for pool in chosen]}
    fasteners[TOOL] = fasteners[ANOTHER]
    inspected = _inspected(chosen, evidence, rng)
    fasteners.update(inspected)
    best: dict[str, Candidate] = {}
    made = {(f.kind, f.fastener) for f in evidence.findings}
    undone = {f.fastener for f in evidence.findings if f.kind in UNDOING}
    for finding in _candidates(evidence, inspected, chosen):
        if finding.fastener in undone or (finding.kind, finding.fastener) in made:
            continue
        candidate = _weigh(finding, fasteners[finding.fastener], weights, unknown, evidence)
        if finding.kind not in best or candidate.bits > best[finding.kind].bits:
            best[finding.kind] = candidate
    if evidence.loose_below is not None and not evidence.is_whole_lot:
        best[COUNT] = _weigh_count(chosen, weights, unknown, evidence.loose_below)
    return _sorted([replace(each, effort=efforts.get(each.kind)) for each in best.values()])


def _sorted(candidates: list[Candidate]) -> tuple[Candidate, ...]:
    """Sort by bits for each unit of price or time where any is stated, else by bits.

    Those without a price, among others that have one, come last.
    """
    for unit in ("price", "time"):
        known = {each.kind: getattr(each.effort, unit, None) for each in candidates}
        if any(known.values()):
            with_one = [each for each in candidates if known[each.kind]]
            rest = [each for each in candidates if not known[each.kind]]
            by_unit = sorted(with_one, key=lambda each: -each.bits / float(known[each.kind] or 1.0))
            return (*by_unit, *sorted(rest, key=lambda each: -each.bits))
    return tuple(sorted(candidates, key=lambda each: -each.bits))


@dataclass(frozen=True, slots=True)
class _Fastener:
    """What would be found on one fastener under one suspect, on particles (n,)."""

    inspection: Inspection
    is_missed: NDArray[np.bool_]

    def truth(self, finding: Finding) -> Array:
        """Return the quantity behind a finding (n,)."""
        return self.inspection.truth(finding, self.is_missed)


def _another(pool: Pool, rng: Generator) -> _Fastener:
    model, n = pool.model, len(pool.common)
    v = rng.standard_normal(pool.common.shape)
    inspection = model.inspect(partly_shared(pool.common, v, model.fractions))
    return _Fastener(inspection, inspection.draw_missed(n, rng))


def _inspected(pools: list[Pool], evidence: Evidence, rng: Generator) -> dict[str, list[_Fastener]]:
    """Return fasteners with findings of their own: they tell too whether each was missed."""
    names = _asked_of(evidence)
    drawn = [pool.many.draw(names, pool.common, rng) for pool in pools]
    histories = [pool.followed.by_history(pool.members)[:2] for pool in pools]
    found: dict[str, list[_Fastener]] = {}
    for name in names:
        found[name] = [
            _Fastener(pool.model.inspect(of_many[name].z), of_many[name].is_missed)
            if name in of_many
            else _followed(pool, name, history, rng)
            for pool, of_many, history in zip(pools, drawn, histories, strict=True)
        ]
    return found


def _followed(
    pool: Pool, name: str, history: tuple[Array, Array | None], rng: Generator
) -> _Fastener:
    """Return a fastener that the particles follow; ``history`` as of `SuspectModel.by_history`."""
    place = pool.followed.places[name]
    inspection = pool.model.inspect(pool.members[place])
    tightened, missed = history
    if missed is None or inspection.missed_share is None:
        return _Fastener(inspection, np.zeros(len(pool.common), dtype=bool))
    with np.errstate(divide="ignore"):
        odds = np.log(inspection.missed_share) - np.log1p(-inspection.missed_share)
    chance = 1.0 / (1.0 + np.exp(np.clip(tightened[place] - missed[place] - odds, -500, 500)))
    return _Fastener(inspection, rng.random(len(chance)) < chance)


def _asked_of(evidence: Evidence) -> list[str]:
    """Return the fasteners of which a further finding is thought: all, or enough of their like.

    Of many with the same kinds of findings those are kept whose readings are spread evenly, the
    outermost among them: what one would tell hardly differs from what its neighbour would.
    """
    findings: dict[str, list[Finding]] = {name: [] for name in evidence.fasteners}
    for finding in evidence.findings:
        if finding.fastener in findings:
            findings[finding.fastener].append(finding)
    alike: dict[tuple[tuple[object, ...], ...], list[str]] = {}
    for name, own in findings.items():
        kinds = sorted(
            (f.kind, f.input, f.sense if isinstance(f, Reading) else f.seen) for f in own
        )
        alike.setdefault(tuple(kinds), []).append(name)
    kept: set[str] = set()
    for names in alike.values():
        ordered = sorted(
            names, key=lambda name: [f.value for f in findings[name] if isinstance(f, Reading)]
        )
        places = np.unique(np.linspace(0, len(names) - 1, min(len(names), _ALIKE)).round())
        kept.update(ordered[int(place)] for place in places)
    return [name for name in findings if name in kept]


def _candidates(evidence: Evidence, asked_of: Iterable[str], pools: list[Pool]) -> list[Finding]:
    """Return a finding yet to be made for each kind that every suspect can predict."""
    models = [pool.model for pool in pools]
    joint = models[0].suspect.case.joint
    states = joint.states
    found: list[Finding] = []
    others = () if evidence.is_whole_lot else (ANOTHER,)
    for fastener in (*others, TOOL, *asked_of):
        for kind in READINGS:
            if READINGS[kind].of_tool != (fastener == TOOL):
                continue
            inputs = [READINGS[kind].input]
            if kind == "temperature":
                inputs = [state_input(state, "fastener") for state in states]
            found += [Reading(kind, fastener, MEASURED, 0.0, 1.0, name, "") for name in inputs]
        if fastener != TOOL:
            found += [_seen(kind, fastener, joint.grade) for kind in OBSERVATIONS]
    predicted = [_predicted(model) for model in models]
    return [each for each in found if all(predicts(each) for predicts in predicted)]


def _seen(kind: str, fastener: str, grade: str) -> Observation:
    grade = grade if OBSERVATIONS[kind].is_grade else ""
    return Observation(kind, fastener, True, _SEEING_ERROR, "", grade)


def _predicted(model: SuspectModel) -> Callable[[Finding], bool]:
    """Return whether a suspect can predict a finding, as a function of the finding."""
    typical = model.inspect(np.zeros((1, len(model.columns))))

    def predicts(finding: Finding) -> bool:
        if finding.input:
            return finding.input in typical.values
        return typical.tightened.shows(finding.kind) is not None

    return predicts


def _weigh(
    finding: Finding, fasteners: list[_Fastener], weights: Array, unknown: float, evidence: Evidence
) -> Candidate:
    truths = [fastener.truth(finding) for fastener in fasteners]
    if isinstance(finding, Reading):
        accuracy = _accuracy(finding, truths, weights, evidence)

        def bits_of(values: list[Array]) -> float:
            return information_of_reading(values, accuracy, weights)

    else:
        accuracy = finding.error

        def bits_of(values: list[Array]) -> float:
            seen = np.array([each.mean() for each in values])
            return information_of_outcome(np.stack([seen, 1.0 - seen], axis=1), weights)

    return _candidate(finding.kind, finding.fastener, accuracy, bits_of, truths, unknown)


def _candidate(
    kind: str,
    fastener: str,
    accuracy: float,
    bits_of: Callable[[list[Array]], float],
    truths: list[Array],
    unknown: float,
) -> Candidate:
    bits = min(bits_of(truths), unknown)
    batches = [bits_of([each[k::_BATCHES] for each in truths]) for k in range(_BATCHES)]
    error = float(np.std(batches, ddof=1)) / math.sqrt(_BATCHES)
    return Candidate(kind, fastener, accuracy, bits, error, bits / unknown if unknown else 0.0)


def _accuracy(finding: Reading, truths: list[Array], weights: Array, evidence: Evidence) -> float:
    """Return the error of a reading to come: as in the evidence, or by judgement."""
    stated = [
        other.error
        for other in evidence.findings
        if isinstance(other, Reading) and other.kind == finding.kind and other.sense == MEASURED
    ]
    if stated:
        return float(np.median(stated))
    usual = READINGS[finding.kind].usual_error
    if usual is not None:
        return usual
    mean = float(weights @ np.array([truth.mean() for truth in truths]))
    return _SHARE_ERROR * max(mean, 1e-9)


def _weigh_count(pools: list[Pool], weights: Array, unknown: float, limit: float) -> Candidate:
    shares = [pool.model.loose_shares(pool.common[:256], [limit])[0] for pool in pools]
    upto = np.arange(COUNTED + 1.0)

    def bits_of(values: list[Array]) -> float:
        below = np.array([bdtr(upto[:, None], COUNTED, each).mean(axis=1) for each in values])
        chances = np.diff(below, axis=1, prepend=0.0)
        return information_of_outcome(np.clip(chances, 0.0, 1.0), weights)

    return _candidate(COUNT, f"{COUNTED} others of the lot", 0.0, bits_of, shares, unknown)
