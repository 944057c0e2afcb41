"""How likely one suspect makes what was found: log likelihoods of the evidence."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import gammaln, log_ndtr, ndtr

from preloadmc.case import Suspect
from preloadmc.chance.dependence import partly_shared
from preloadmc.estimates.posterior import CommonLikelihood
from preloadmc.estimates.sobol_points import sobol_sequence
from preloadmc.evidence import BELOW, MEASURED, TOOL, Count, Evidence, Finding, Reading
from preloadmc.inputs import input_kind, instrument_input
from preloadmc.joint import Joint, State, evaluate
from preloadmc.joint.found import Found, as_found, inputs_as_they_were
from preloadmc.over_time import at
from preloadmc.units import Array, FloatLike

# Looseness is judged with this error as a share of the limit: engineering judgement.
LOOSE_ERROR = 0.02
# Points over the own numbers of a fastener for the share of loose ones, and how far they reach in
# s.d. along the direction in which a joint gets loose: Phi(-8.5) = 1e-17.
_POINTS = 128
REACH = 8.5
# A count of up to so many fasteners is followed fastener by fastener, which costs so many models; a
# larger one by the share, which many fasteners fix well enough.
_MOST_FOLLOWED = 60
# Samples that give the direction in which a joint gets loose: it need only be about right.
_FIT_DRAWS = 2000
# Below these a share is rounding, and a chance has no logarithm.
LEAST_SHARE = 1e-16
_LEAST_CHANCE = 1e-300


@dataclass(frozen=True, slots=True)
class Inspection:
    """What an inspection would find on a block of samples (n,).

    ``values`` holds the inputs and traces by name; ``tightened`` what is found on a fastener that
    was tightened, ``missed`` on one that was missed; ``missed_share`` how likely that is, all None
    where none is missed.
    """

    values: Mapping[str, FloatLike]
    tightened: Found
    missed: Found | None
    missed_share: Array | None

    def draw_missed(self, n: int, rng: Generator) -> NDArray[np.bool_]:
        """Draw which of the n samples are of a fastener that was missed, by their own chances."""
        chance = np.zeros(n) if self.missed_share is None else self.missed_share
        return rng.random(n) < chance

    def truth(self, finding: Finding, is_missed: NDArray[np.bool_]) -> Array:
        """Return the `quantity` behind a finding (n,), the fastener tightened or missed."""
        tightened = np.asarray(quantity(finding, self.values, self.tightened), dtype=float)
        values = np.broadcast_to(tightened, len(is_missed))
        if self.missed is None:
            return values
        return np.where(is_missed, quantity(finding, self.values, self.missed), values)


class SuspectModel:
    """One suspect beside the evidence: functions of standard normal numbers.

    Parameters
    ----------
    suspect : Suspect
        Whose laws are taken.
    evidence : Evidence
        What was found.
    rng : Generator
        For the points behind the share of loose ones.

    Attributes
    ----------
    places : dict of str to int
        Place of each fastener with findings, and of the tool, among those that are followed.
    """

    def __init__(self, suspect: Suspect, evidence: Evidence, rng: Generator) -> None:
        self.suspect = suspect
        self.evidence = evidence
        self.columns = suspect.columns
        self.fractions = np.array([suspect.fractions[name] for name in self.columns])
        self._inputs = len(suspect.case.uncertain)
        self.places = {name: place for place, name in enumerate(evidence.fasteners)}
        followed = [count for count in evidence.counts if count.inspected <= _MOST_FOLLOWED]
        self._shared_counts = [c for c in evidence.counts if c.inspected > _MOST_FOLLOWED]
        # Sign and limit of each fastener of a followed count: +1 loose, -1 not.
        self._counted = [
            (1.0 if place < count.loose else -1.0, count.limit)
            for count in followed
            for place in range(count.inspected)
        ]
        if any(finding.fastener == TOOL for finding in evidence.findings):
            self.places[TOOL] = len(self.places) + len(self._counted)
        self._log_arrangements = math.fsum(_log_arrangements(count) for count in followed)
        self._points: tuple[Array, Array] | None = None
        self._rng = rng
        times = (evidence.service_time, *evidence.other_times)
        self._joints = {time: self._joint_after(time) for time in times}

    @property
    def fasteners(self) -> int:
        """Return how many are followed: fasteners with findings, those counted, then the tool.

        The tool is followed like one of its fasteners, whose bias it has.
        """
        return len(self.places) + len(self._counted)

    def inspect(self, z: Array) -> Inspection:
        """Return what is found for standard normal numbers (n, d)."""
        suspect, n = self.suspect, len(z)
        case = suspect.case
        x: dict[str, FloatLike] = case.inputs(z[:, : self._inputs], case.uncertain)
        for name, law in suspect.traces.items():
            if name in self.columns:
                drawn = law.from_normal(z[:, self.columns.index(name)])
                x[name] = drawn if input_kind(name).sign == "any" else np.maximum(drawn, 0.0)
            else:
                x[name] = law.mean
        x = inputs_as_they_were(case.joint, x)
        states = self._states(x)

        def found_after(
            time: float | None, tightened_share: FloatLike, torque_share: FloatLike
        ) -> Found:
            return as_found(
                case.joint,
                x,
                states[time],
                back_rotation=self._back_rotation(x, time),
                tightened_share=tightened_share,
                torque_share=torque_share,
                breakaway_ratio=x["investigation.breakaway_ratio"],
                prevailing_torque=x.get(
                    "investigation.prevailing_torque", x["tightening.prevailing_torque"]
                ),
            )

        def found(tightened_share: FloatLike, torque_share: FloatLike) -> Found:
            shares = tightened_share, torque_share
            others = {time: found_after(time, *shares) for time in self.evidence.other_times}
            return replace(found_after(self.evidence.service_time, *shares), at_times=others)

        if "missed.share" not in x:
            return Inspection(x, found(1.0, 1.0), None, None)
        share = np.broadcast_to(np.minimum(x["missed.share"], 1.0), n)
        preload = x["missed.preload_share"]
        missed = found(preload, x.get("missed.torque_share", preload))
        return Inspection(x, found(1.0, 1.0), missed, share)

    def _joint_after(self, time: float | None) -> Joint:
        """Return the joint that is judged at a time of service; as settled where it has none."""
        case = self.suspect.case
        if time is None or case.joint.service is None:
            return case.joint
        return at(case, time).joint

    def _states(self, x: Mapping[str, FloatLike]) -> dict[float | None, State]:
        """Return the state at each time of a finding; one where nothing but the time differs."""
        first, *others = self._joints.items()
        states = {first[0]: evaluate(first[1], x)}
        for time, joint in others:
            states[time] = states[first[0]] if joint is first[1] else evaluate(joint, x)
        return states

    def _back_rotation(self, x: Mapping[str, FloatLike], time: float | None) -> FloatLike:
        """Return how far slip has turned a nut back by a time of service [rad].

        The angle goes with the time that [rotation] states, else with that of the inspection.
        """
        angle = x.get("rotation.angle", 0.0)
        if time is None:
            return angle
        of_angle = self.suspect.rotation_time
        if of_angle is None:
            of_angle = self.evidence.service_time
        return angle if of_angle is None or time == of_angle else angle * (time / of_angle)

    def of_fasteners(self, z: Array) -> Array:
        """Return the log likelihood (fasteners, n) of what was found on each fastener.

        ``z`` has shape (fasteners, n, d).
        """
        tightened, missed, inspection = self.by_history(z)
        if missed is None or inspection.missed_share is None:
            return tightened
        share = inspection.missed_share.reshape(z.shape[:2])
        with np.errstate(divide="ignore"):
            both: Array = np.logaddexp(np.log1p(-share) + tightened, np.log(share) + missed)
        return both

    def by_history(self, z: Array) -> tuple[Array, Array | None, Inspection]:
        """Return the log likelihoods (fasteners, n) had each been tightened, or missed."""
        shape = z.shape[:2]
        inspection = self.inspect(z.reshape(math.prod(shape), z.shape[2]))
        tightened = self._of_findings(inspection.values, inspection.tightened, shape)
        if inspection.missed is None:
            return tightened, None, inspection
        return tightened, self._of_findings(inspection.values, inspection.missed, shape), inspection

    def _of_findings(
        self, values: Mapping[str, FloatLike], found: Found, shape: tuple[int, ...]
    ) -> Array:
        """Return the log likelihood (fasteners, n), as found on each fastener in ``found``."""
        total = np.zeros(shape)
        blocks: dict[tuple[str | float, ...], Array] = {}
        for finding in self.evidence.findings:
            key: tuple[str | float, ...] = (finding.kind, finding.error)
            if isinstance(finding, Reading):
                key = (finding.kind, finding.input, finding.instrument)
            elif finding.grade:
                key = (*key, finding.grade)
            if finding.after is not None:
                key = (*key, finding.after)
            if key not in blocks:
                blocks[key] = as_block(quantity(finding, values, found), shape)
            place = self.places[finding.fastener]
            total[place] += finding_log_likelihood(finding, blocks[key][place])
        if self.evidence.selected:
            preload = as_block(found.preload, shape)
            for fastener in self.evidence.selected:
                place = self.places[fastener]
                total[place] += log_ndtr(looseness(preload[place], self.loose_below))
        if self._counted:
            first = len(self.evidence.fasteners)
            counted = slice(first, first + len(self._counted))
            preload = as_block(found.preload, shape)[counted]
            signs, limits = np.array(self._counted).T[:, :, None]
            total[counted] = log_ndtr(signs * looseness(preload, limits))
        return total

    @property
    def loose_below(self) -> float:
        """Return the preload below which a joint is loose [N]."""
        limit = self.evidence.loose_below
        assert limit is not None, "the case file asks for it where it is needed"
        return limit

    @property
    def of_lot(self) -> CommonLikelihood:
        """Return the log likelihood of counts and of the selection, for common numbers u.

        Selection for looseness carries no evidence of it: each divides by the share of
        loose ones in the lot. On the way to the posterior the same holds at every heat: the chance
        of being found loose, raised to the heat, is divided by its own mean.
        """
        return CommonLikelihood(self._lot_terms, self._lot_log_likelihood, is_dear=self.needs_lot)

    def _lot_terms(self, u: Array) -> Array:
        """Return the log likelihood of the counts (n, 1), then the log chance at every point."""
        n = len(u)
        counts = np.full((n, 1), self._log_arrangements)
        if not self.needs_lot:
            return counts
        inspection, count = self._at_points(u)
        for each in self._shared_counts:
            counts[:, 0] += count_log_likelihood(
                each, self._share(inspection, each.limit, n, count)
            )
        if not self.evidence.selected:
            return counts
        loose = self.chance_below(inspection, self.loose_below, n * count).reshape(n, count)
        return np.concatenate([counts, np.log(np.maximum(loose, _LEAST_CHANCE))], axis=1)

    def _lot_log_likelihood(self, kept: Array, heat: float) -> Array:
        total: Array = heat * kept[:, 0]
        if self.evidence.selected:
            share = np.exp(heat * kept[:, 1:]) @ self._own_points()[1]
            total = total - len(self.evidence.selected) * np.log(np.maximum(share, LEAST_SHARE))
        return total

    @property
    def needs_lot(self) -> bool:
        """Return whether the share of loose ones in the lot enters."""
        return bool(self._shared_counts or self.evidence.selected)

    def loose_shares(self, u: Array, limits: list[float]) -> list[Array]:
        """Return the share (n,) of fasteners below each preload [N] in lots with numbers u (n, d).

        A mean over fixed points in the own numbers, spread evenly along the direction in which a
        joint gets loose and weighted back, so that rare looseness has points too.
        """
        inspection, count = self._at_points(u)
        return [self._share(inspection, limit, len(u), count) for limit in limits]

    def _own_points(self) -> tuple[Array, Array]:
        if self._points is None:
            self._points = self.wide_own(self._rng, _POINTS, even=True)
        return self._points

    def _at_points(self, u: Array) -> tuple[Inspection, int]:
        """Return what is found at every own point of every lot, and how many points there are."""
        own = self._own_points()[0]
        z = partly_shared(u[:, None, :], own, self.fractions)
        return self.inspect(z.reshape(len(u) * len(own), u.shape[1])), len(own)

    def _share(self, inspection: Inspection, limit: float, n: int, count: int) -> Array:
        loose = self.chance_below(inspection, limit, n * count).reshape(n, count)
        return np.clip(loose @ self._own_points()[1], LEAST_SHARE, 1.0 - LEAST_SHARE)

    def chance_below(self, inspection: Inspection, limit: float, n: int) -> Array:
        """Return the chance (n,) that each sample is found below a preload [N]."""
        loose = np.broadcast_to(ndtr(looseness(inspection.tightened.preload, limit)), n)
        if inspection.missed is None or inspection.missed_share is None:
            return loose
        missed = np.broadcast_to(ndtr(looseness(inspection.missed.preload, limit)), n)
        both: Array = loose + inspection.missed_share * (missed - loose)
        return both

    def wide_own(self, rng: Generator, n: int, *, even: bool = False) -> tuple[Array, Array]:
        """Return own numbers (n, d) spread wide towards looseness, with weights adding to one.

        One lies in each of n even cells towards looseness: the far tail has as many points as the
        middle. Those wanted ``even`` are evenly spread in the other directions too; n is then a
        power of two.
        """
        if not self.columns:
            return np.zeros((n, 0)), np.full(n, 1.0 / n)
        direction = self._loose_direction(rng)
        if even:
            v = sobol_sequence(len(direction), rng)(n)
            cells = ndtr(v[:, 0])
            v = turned(v, direction)
        else:
            v = rng.standard_normal((n, len(direction)))
            cells = (rng.permutation(n) + rng.random(n)) / n
        along = REACH * (2.0 * cells - 1.0)
        v += (along - v @ direction)[:, None] * direction
        weights = np.exp(-0.5 * along**2)
        return v, weights / weights.sum()

    def _loose_direction(self, rng: Generator) -> Array:
        """Return the unit direction in the own numbers along which preload falls most."""
        d = len(self.columns)
        u, v = rng.standard_normal((2, _FIT_DRAWS, d))
        inspection = self.inspect(partly_shared(u, v, self.fractions))
        preload = np.broadcast_to(np.asarray(inspection.tightened.preload, dtype=float), _FIT_DRAWS)
        slope: Array = -(v * np.sqrt(1.0 - self.fractions)).T @ (preload - preload.mean())
        length = float(np.linalg.norm(slope))
        if length == 0.0:
            slope, length = np.eye(d)[0], 1.0
        return slope / length


def turned(v: Array, direction: Array) -> Array:
    """Return points (n, d) turned so that their first axis comes to lie along a direction."""
    normal = -direction.copy()
    normal[0] += 1.0
    square = float(normal @ normal)
    if square < 1e-20:
        return v
    mirrored: Array = v - np.outer(v @ normal, (2.0 / square) * normal)
    return mirrored


def as_block(values: FloatLike, shape: tuple[int, ...]) -> Array:
    """Return values, one or as many as the shape has places, in that shape."""
    count = math.prod(shape)
    return np.broadcast_to(np.asarray(values, dtype=float), (count,)).reshape(shape)


def looseness(preload: FloatLike, limit: FloatLike) -> FloatLike:
    """Return the normal number whose share below is the chance to be found loose."""
    return (limit - preload) / (LOOSE_ERROR * limit)


def quantity(finding: Finding, values: Mapping[str, FloatLike], found: Found) -> FloatLike:
    """Return what a finding is about: a true value, or the chance that it is seen as "yes"."""
    found = found.after(finding.after)
    if finding.input:
        truth: FloatLike | None = values[finding.input]
    elif isinstance(finding, Reading):
        truth = found.shows(finding.kind)
    else:
        truth = found.shows(finding.kind, finding.grade)
    assert truth is not None, "the case file asks for what the finding needs"
    if isinstance(finding, Reading):
        if finding.instrument:
            return truth * (1.0 + values[instrument_input(finding.instrument)])
        return truth
    return truth * (1.0 - finding.error) + (1.0 - truth) * finding.error


def finding_log_likelihood(finding: Finding, truth: Array) -> Array:
    """Return the log likelihood (n,) of one finding for the `quantity` behind it."""
    found: Array = unitless_log_likelihood(finding, truth) + log_largest(finding)
    return found


def unitless_log_likelihood(finding: Finding, truth: Array) -> Array:
    """Return the log likelihood (n,) of a finding; of a measured value, over its largest."""
    if not isinstance(finding, Reading):
        seen: Array = np.log(truth if finding.seen else 1.0 - truth)
        return seen
    off = (finding.value - truth) / finding.error
    if finding.sense == MEASURED:
        measured: Array = -0.5 * off * off
        return measured
    censored: Array = log_ndtr(off if finding.sense == BELOW else -off)
    return censored


def log_largest(finding: Finding) -> float:
    """Return the largest log likelihood of a measured value, which has a unit; 0 of all else."""
    if not isinstance(finding, Reading) or finding.sense != MEASURED:
        return 0.0
    return -math.log(finding.error * math.sqrt(2.0 * math.pi))


def count_log_likelihood(count: Count, share: Array) -> Array:
    """Return the log likelihood (n,) of a count for the share of loose ones: binomial."""
    k, n = count.loose, count.inspected
    log_likelihood: Array = (
        _log_arrangements(count) + k * np.log(share) + (n - k) * np.log1p(-share)
    )
    return log_likelihood


def _log_arrangements(count: Count) -> float:
    """Return the log of the number of ways to choose the loose ones among those inspected."""
    k, n = count.loose, count.inspected
    return float(gammaln(n + 1.0) - gammaln(k + 1.0) - gammaln(n - k + 1.0))
