"""Inspections simulated under a suspect, of the same fasteners in the same ways."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.special import ndtr

from preloadmc.chance.dependence import partly_shared
from preloadmc.evidence import ABOVE, BELOW, MEASURED, Count, Finding, Reading
from preloadmc.questions.infer.likelihood import (
    Inspection,
    SuspectModel,
    as_block,
    looseness,
)
from preloadmc.units import Array

# Measuring error of a value that could not be read, had it been: as a share of the value
# (engineering judgement). Used where no reading of its kind states one.
_USUAL_ERROR = 0.05
# Fasteners of each lot among which those inspected because they were loose are found.
_LOOSE_DRAWS = 256

Inspected = tuple[tuple[Finding, ...], tuple[Count, ...]]


@dataclass(frozen=True, slots=True)
class Reported:
    """How a reading is reported: what it is measured with, and what is too small or large to read.

    ``error`` is the measuring error where it does not depend on the value, None where ``share`` of
    the value is; ``lowest`` and ``highest`` are the ends of what can be read, infinite without.
    ``never_read`` tells that a limit alone was told whatever the value, as in "below 50 kN".
    """

    error: float | None
    share: float
    lowest: float
    highest: float
    never_read: bool

    def of(self, finding: Reading, truth: Array, rng: Generator) -> list[Reading]:
        """Return what is reported of each true value (n,)."""
        if self.never_read:
            below = truth + finding.error * rng.standard_normal(len(truth)) < finding.value
            return [replace(finding, sense=BELOW if each else ABOVE) for each in below]
        error = np.maximum(self.share * np.abs(truth), 1e-9) if self.error is None else self.error
        errors = np.broadcast_to(error, truth.shape)
        values = truth + errors * rng.standard_normal(len(truth))
        return [
            self._as_read(finding, value, error)
            for value, error in zip(values.tolist(), errors.tolist(), strict=True)
        ]

    def _as_read(self, finding: Reading, value: float, error: float) -> Reading:
        if value < self.lowest:
            return replace(finding, sense=BELOW, value=self.lowest, error=error)
        if value > self.highest:
            return replace(finding, sense=ABOVE, value=self.highest, error=error)
        return replace(finding, sense=MEASURED, value=value, error=error)


def how_reported(findings: tuple[Finding, ...]) -> dict[int, Reported]:
    """Return how each reading among findings would be reported, by its place.

    Readings of one kind share what can be read: where the least measured value lies above every
    "below", the largest of these is the end of the scale. Where it does not, that reading only
    told on which side of a limit the value is.
    """
    groups: dict[tuple[str, str], list[tuple[int, Reading]]] = {}
    for place, finding in enumerate(findings):
        if isinstance(finding, Reading):
            groups.setdefault((finding.kind, finding.input), []).append((place, finding))
    reported: dict[int, Reported] = {}
    for group in groups.values():
        read = [finding for _, finding in group if finding.sense == MEASURED]
        values = [finding.value for finding in read]
        lowest = max((f.value for _, f in group if f.sense == BELOW), default=-math.inf)
        highest = min((f.value for _, f in group if f.sense == ABOVE), default=math.inf)
        of_scale = bool(read) and lowest <= min(values) and max(values) <= highest
        shares = [finding.error / abs(finding.value) for finding in read if finding.value]
        share = float(np.median(shares)) if shares else _USUAL_ERROR
        for place, finding in group:
            own = finding.error if finding.sense == MEASURED else None
            never = finding.sense != MEASURED and not of_scale
            ends = (lowest, highest) if of_scale else (-math.inf, math.inf)
            reported[place] = Reported(own, share, *ends, never)
    return reported


def simulated(model: SuspectModel, n: int, rng: Generator) -> list[Inspected]:
    """Return n inspections under a suspect, each of a lot of its own.

    Parameters
    ----------
    model : SuspectModel
        The suspect, and the evidence whose fasteners, kinds and counts are inspected again.
    n : int
        How many.
    rng : Generator
        Draws lots, fasteners and measuring errors.
    """
    evidence = model.evidence
    u = rng.standard_normal((n, len(model.columns)))
    truths = _truths(model, u, rng)
    reported = how_reported(evidence.findings)
    columns: list[list[Finding]] = []
    for place, finding in enumerate(evidence.findings):
        truth = truths[place]
        if isinstance(finding, Reading):
            columns.append(list(reported[place].of(finding, truth, rng)))
        else:
            seen = rng.random(n) < truth
            columns.append([replace(finding, seen=bool(each)) for each in seen])
    counts = _counts(model, u, rng)
    rows = zip(*columns, strict=True) if columns else (() for _ in range(n))
    return list(zip(rows, counts, strict=True))


def _truths(model: SuspectModel, u: Array, rng: Generator) -> list[Array]:
    """Return the quantity behind every finding (n,), for lots with numbers u (n, d)."""
    evidence = model.evidence
    by_fastener: dict[str, tuple[Inspection, NDArray[np.bool_]]] = {}
    # The tool has the bias of its fasteners, and is drawn like one of them.
    for fastener in dict.fromkeys(finding.fastener for finding in evidence.findings):
        v = rng.standard_normal(u.shape)
        if fastener in evidence.selected:
            by_fastener[fastener] = _found_loose(model, u, rng)
            continue
        inspection = model.inspect(partly_shared(u, v, model.fractions))
        by_fastener[fastener] = inspection, inspection.draw_missed(len(u), rng)
    found = []
    for finding in evidence.findings:
        inspection, missed = by_fastener[finding.fastener]
        found.append(inspection.truth(finding, missed))
    return found


def _found_loose(
    model: SuspectModel, u: Array, rng: Generator
) -> tuple[Inspection, NDArray[np.bool_]]:
    """Return a fastener of each lot that was looked at because it was loose."""
    n = len(u)
    v, weights = model.wide_own(rng, _LOOSE_DRAWS)
    z = partly_shared(u[:, None, :], v, model.fractions)
    inspection = model.inspect(z.reshape(-1, u.shape[1]))
    limit, shape = model.loose_below, z.shape[:2]
    tightened = as_block(ndtr(looseness(inspection.tightened.preload, limit)), shape) * weights
    missed = np.zeros(shape)
    if inspection.missed is not None and inspection.missed_share is not None:
        share = inspection.missed_share.reshape(shape)
        missed = (
            share * as_block(ndtr(looseness(inspection.missed.preload, limit)), shape) * weights
        )
        tightened = (1.0 - share) * tightened
    chances = np.concatenate([tightened, missed], axis=1)
    steps = np.cumsum(chances, axis=1)
    # Where no fastener of a lot is loose, the first stands in: such a lot does not count.
    chosen = np.argmax(steps > rng.random((n, 1)) * steps[:, -1:], axis=1)
    place = chosen % _LOOSE_DRAWS
    return model.inspect(z[np.arange(n), place]), chosen >= _LOOSE_DRAWS


def _counts(model: SuspectModel, u: Array, rng: Generator) -> list[tuple[Count, ...]]:
    evidence = model.evidence
    if not evidence.counts:
        return [() for _ in u]
    shares = model.loose_shares(u, [count.limit for count in evidence.counts])
    drawn = [
        rng.binomial(count.inspected, share)
        for count, share in zip(evidence.counts, shares, strict=True)
    ]
    return [
        tuple(
            replace(count, loose=int(loose))
            for count, loose in zip(evidence.counts, row, strict=True)
        )
        for row in zip(*drawn, strict=True)
    ]
